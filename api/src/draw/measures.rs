//! What is measured on the views, and where the numbers stand.

use maud::html;

use super::dims::{Along, FIRST, Piece, STEP, chain, reach};
use super::geometry::{Layout, Point, Rect};
use super::paper::{Area, Label, Paper, SMALL, View, num};
use super::text;
use crate::wire::plan::PlannedStraight;

/// Paper round the floor that the dimensions need: left, top, right, bottom.
pub(super) const ROUND: (f64, f64, f64, f64) = (16.0, 27.0, 23.0, 46.0);

/// The same with the floor that is allowed drawn round the cell and measured: as [`ROUND`], where it does not reach out
/// farther than that.
pub(super) fn round_site(layout: &Layout<'_>, per_m: f64) -> (f64, f64, f64, f64) {
    let (left, top, right, bottom) = ROUND;
    let Some(site) = layout.site else { return ROUND };
    let out = |by: f64| (by * per_m).max(0.0) + AIR;
    let outer = layout.outer;
    let (before, after) = (out(outer.x0 - site.x0), out(site.x1 - outer.x1));
    let (below, above) = (out(outer.y0 - site.y0), out(site.y1 - outer.y1));
    (left.max(before) + SITE_LEFT, top.max(above), right.max(after), bottom.max(below) + SITE_BELOW)
}

/// Paper between an outline and what lies next to it.
const AIR: f64 = 3.0;
/// Paper for the dimension at the left of the floor that is allowed.
const SITE_LEFT: f64 = 8.0;
/// Paper for the dimension below it.
const SITE_BELOW: f64 = 7.0;

/// The outline of the floor that is allowed, under all else.
pub(super) fn site(paper: &mut Paper, layout: &Layout<'_>, view: &View, id: &str) {
    let Some(site) = layout.site else { return };
    let a = view.rect(site);
    paper.put(html! {
        rect id=(id) class="lw-site" data-length-m=(site.length()) data-width-m=(site.width()) data-to-scale="yes"
            x=(num(a.x)) y=(num(a.y)) width=(num(a.w)) height=(num(a.h)) {}
    });
    for (i, (place, _)) in layout.keep_out.iter().enumerate() {
        missed(paper, view.rect(*place), &format!("{id}-out-{}", i + 1), (place.length(), place.width()));
    }
}

/// A place that the cell misses: its outline, crossed.
pub(super) fn missed(paper: &mut Paper, a: Area, id: &str, (length, width): (f64, f64)) {
    paper.put(html! {
        rect id=(id) class="lw-missed" data-length-m=(length) data-width-m=(width) x=(num(a.x)) y=(num(a.y))
            width=(num(a.w)) height=(num(a.h)) {}
    });
    paper.line("lw-hair", (a.x, a.y), (a.x + a.w, a.y + a.h));
    paper.line("lw-hair", (a.x, a.y + a.h), (a.x + a.w, a.y));
    paper.block(a);
}

/// What is missed and how large it is, and how far it lies from the floor's edges.
fn missed_sizes(paper: &mut Paper, layout: &Layout<'_>, view: &View, site: Rect) {
    for (place, name) in &layout.keep_out {
        let a = view.rect(*place);
        let size = format!("{} × {}", text::mm(place.length()), text::mm(place.width()));
        let words = match name {
            Some(name) => format!("{name} {size}"),
            None => size,
        };
        let at = |x: f64, y: f64| Label::new(words.clone(), (x, y)).class("lw-text lw-number");
        let (middle, half) = (a.x + a.w / 2.0, text::width(&words, SMALL) / 2.0);
        let level = a.y + a.h / 2.0 + SMALL * 0.36;
        let beside = [a.x + a.w + 1.5 + half, a.x - 1.5 - half].map(|x| at(x, level));
        let near = [a.y - 1.5, a.y + a.h + 4.0].map(|y| at(middle, y));
        // Inside where it fits, else next to it; farther away where that is taken.
        let inside = (2.0 * half + 2.0 < a.w && a.h > 5.0).then(|| at(middle, level));
        let farther = [-6.5, 9.0].map(|dy| at(middle, if dy < 0.0 { a.y + dy } else { a.y + a.h + dy }));
        paper.label_where_free(inside.into_iter().chain(near).chain(beside).chain(farther));
        // From the floor's nearer edges, level with the near edges of the place.
        let from_left = place.x0 - site.x0 <= site.x1 - place.x1;
        let along = if from_left { [site.x0, place.x0] } else { [place.x1, site.x1] };
        chain(paper, Along::Above, a.y + a.h * 0.25, &along_x(view, &along), |_| a.y + a.h * 0.25);
        let from_front = place.y0 - site.y0 <= site.y1 - place.y1;
        let across = if from_front { [site.y0, place.y0] } else { [place.y1, site.y1] };
        let at = a.x + a.w * 0.25;
        chain(paper, Along::Left, at, &along_y(view, &across), |_| at);
    }
}

/// Its dimensions, outside of all others.
pub(super) fn site_sizes(paper: &mut Paper, layout: &Layout<'_>, view: &View) {
    let Some(site) = layout.site else { return };
    let (a, cell) = (view.rect(site), view.rect(layout.outer));
    let named = |mut pieces: Vec<Piece>| {
        pieces.iter_mut().for_each(|p| p.text = format!("floor {}", p.text));
        pieces
    };
    let below = (cell.y + cell.h + ROUND.3).max(a.y + a.h + AIR) + SITE_BELOW - 2.0;
    chain(paper, Along::Below, below, &named(along_x(view, &[site.x0, site.x1])), |_| a.y + a.h);
    let left = (cell.x - ROUND.0).min(a.x - AIR) - SITE_LEFT + 5.0;
    chain(paper, Along::Left, left, &named(along_y(view, &[site.y0, site.y1])), |_| a.x);
    missed_sizes(paper, layout, view, site);
}

/// Pieces between places along x, the texts made of their lengths.
pub(super) fn along_x(view: &View, places: &[f64]) -> Vec<Piece> {
    let mut all = Vec::new();
    for pair in places.windows(2) {
        if let [a, b] = pair {
            all.push(Piece { from: view.x(*a), to: view.x(*b), text: text::mm(b - a) });
        }
    }
    all
}

pub(super) fn along_y(view: &View, places: &[f64]) -> Vec<Piece> {
    let mut all = Vec::new();
    for pair in places.windows(2) {
        if let [a, b] = pair {
            all.push(Piece { from: view.y(*a), to: view.y(*b), text: text::mm(b - a) });
        }
    }
    all
}

/// Where zones and sections meet on a straight, with its ends.
fn places(layout: &Layout<'_>, straight: &[PlannedStraight]) -> Vec<f64> {
    let mut zones: Vec<(f64, f64)> =
        layout.circuit.stations.iter().filter(|s| straight.contains(&s.straight)).map(|s| layout.zone(s)).collect();
    zones.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut all = vec![0.0];
    all.extend(zones.into_iter().flat_map(|(a, b)| [a, b]));
    all.push(layout.circuit.straight_m);
    all
}

/// Dimensions of the floor seen from above: chains of zones and sections next to their straights, then straight and ends,
/// then what the cell takes without and with its clearance.
pub(super) fn floor(paper: &mut Paper, layout: &Layout<'_>, view: &View) {
    let (c, body, outer) = (layout.circuit, layout.body, layout.outer);
    let half = c.track_width_m / 2.0;
    let far = if layout.upright() { 0.0 } else { layout.span() };
    let (bottom, top) = (view.y(outer.y0), view.y(outer.y1));
    let edge = |x: f64, front: bool| {
        let frames = layout.frames.iter().flatten().filter(|f| (f.y1 <= half) == front);
        let mut at = frames.filter(|f| view.x(f.x0) - 0.05 <= x && x <= view.x(f.x1) + 0.05);
        match at.next() {
            Some(frame) => view.y(if front { frame.y0 } else { frame.y1 }),
            None => view.y(if front { -half } else { far + half }),
        }
    };
    // Floor that is longer or shorter than its zone.
    for (station, frame) in c.stations.iter().zip(&layout.frames) {
        let Some(frame) = frame.filter(|f| (f.length() - station.zone_m).abs() > 5e-4) else { continue };
        let (along, y, out) =
            if frame.y1 <= half { (Along::Below, frame.y0, 5.0) } else { (Along::Above, frame.y1, -5.0) };
        chain(paper, along, view.y(y) + out, &along_x(view, &[frame.x0, frame.x1]), |_| view.y(y));
    }
    let front = along_x(view, &places(layout, &[PlannedStraight::Front, PlannedStraight::Top]));
    let mut row = bottom + FIRST;
    chain(paper, Along::Below, row, &front, |x| edge(x, true));
    row += reach(&front) + STEP;
    if !layout.upright() {
        let back = along_x(view, &places(layout, &[PlannedStraight::Back]));
        chain(paper, Along::Above, top - FIRST, &back, |x| edge(x, false));
    }
    let mut straight = along_x(view, &[body.x0, 0.0, c.straight_m, body.x1]);
    if let Some(middle) = straight.get_mut(1) {
        let modules = format!("{} × {} = {}", c.modules_per_straight, text::mm(c.module_m), text::mm(c.straight_m));
        if text::width(&modules, SMALL) + 2.0 < c.straight_m * view.per_m {
            middle.text = modules;
        }
    }
    chain(paper, Along::Below, row, &straight, |_| bottom);
    row += STEP;
    if outer.x0 < body.x0 || outer.x1 > body.x1 {
        chain(paper, Along::Below, row, &along_x(view, &apart([outer.x0, body.x0, body.x1, outer.x1])), |_| bottom);
        row += STEP;
    }
    chain(paper, Along::Below, row, &along_x(view, &[outer.x0, outer.x1]), |_| bottom);

    let (left, right) = (view.x(outer.x0), view.x(outer.x1));
    let middles = if layout.upright() { vec![body.y0, 0.0, body.y1] } else { vec![body.y0, 0.0, far, body.y1] };
    chain(paper, Along::Left, left - FIRST, &along_y(view, &middles), |_| left);
    let mut row = right + FIRST;
    if outer.y0 < body.y0 || outer.y1 > body.y1 {
        chain(paper, Along::Right, row, &along_y(view, &apart([outer.y0, body.y0, body.y1, outer.y1])), |_| right);
        row += STEP;
    }
    chain(paper, Along::Right, row, &along_y(view, &[outer.y0, outer.y1]), |_| right);
}

/// Places in order, those at the same place once.
fn apart(places: [f64; 4]) -> Vec<f64> {
    let mut all = places.to_vec();
    all.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
    all
}

/// The radius of an end, measured on the middle line.
pub(super) fn radius(paper: &mut Paper, layout: &Layout<'_>, view: &View) {
    let c = layout.circuit;
    let turn = if layout.upright() { -1.0 } else { 1.0 };
    let centre = Point { x: c.straight_m, y: turn * c.radius_m };
    let angle = -turn * 0.6_f64;
    let tip = Point { x: centre.x + c.radius_m * angle.cos(), y: centre.y + c.radius_m * angle.sin() };
    let ((cx, cy), (tx, ty)) = (view.spot(centre), view.spot(tip));
    paper.line("lw-rule", (cx - 1.5, cy), (cx + 1.5, cy));
    paper.line("lw-rule", (cx, cy - 1.5), (cx, cy + 1.5));
    paper.line("lw-leader", (cx, cy), (tx, ty));
    let degrees = (ty - cy).atan2(tx - cx).to_degrees();
    let turned = format!("translate({} {}) rotate({})", num(tx), num(ty), num(degrees));
    paper.put(html! { path class="lw-arrowhead" transform=(turned) d="M0 0L-2.6 -.45L-2.6 .45Z" {} });
    let words = format!("R{}", text::mm(c.radius_m));
    // Beside the centre; where another loop's stands there, above or below it.
    let label =
        |up: f64| Label::new(words.clone(), (cx - 2.0, cy + SMALL * 0.36 + up)).end().class("lw-text lw-number");
    if paper.label_where_free([0.0, -4.0, 4.0, -8.0, 8.0, -12.0, 12.0].map(label)).is_none() {
        paper.label(&label(0.0));
    }
}

/// Heights of an upright loop, seen from the front.
pub(super) fn heights(paper: &mut Paper, layout: &Layout<'_>, view: &View) {
    let half = layout.circuit.track_width_m / 2.0;
    let over = layout.circuit.radius_m + half;
    let (left, right) = (view.x(-over), view.x(layout.circuit.straight_m + over));
    let span = layout.span();
    chain(paper, Along::Left, left - FIRST, &along_y(view, &[-span, 0.0]), |_| left);
    chain(paper, Along::Right, right + FIRST, &along_y(view, &[-span - half, half]), |_| right);
}
