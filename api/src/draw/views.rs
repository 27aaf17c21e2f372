//! The views of a loop: from above, and for an upright loop from the front too.

use maud::{Markup, html};

use super::geometry::{Layout, Rect};
use super::paper::{Area, Label, Paper, SMALL, Spot, View, num, rect};
use super::{Job, text};
use crate::wire::plan::{PlannedMode, PlannedSide, PlannedStation, PlannedStraight};

/// More slots or carriers than this in one section or zone would only be a grey band.
const MOST_BODIES: usize = 400;
/// Radius of a station's number.
const BALLOON: f64 = 3.0;

/// Floor from above: clearance, stations, and the loop where it lies flat, or its top straight.
pub(super) fn from_above(paper: &mut Paper, job: &Job<'_>, view: &View) {
    let layout = &job.layout;
    paper.put(html! {
        rect id=(job.id("clearance")) class="lw-clearance" data-length-m=(layout.outer.length())
            data-width-m=(layout.outer.width()) x=(num(view.x(layout.outer.x0))) y=(num(view.y(layout.outer.y1)))
            width=(num(layout.outer.length() * view.per_m)) height=(num(layout.outer.width() * view.per_m)) {}
    });
    feed(paper, job, view);
    seen_from_above(paper, job, view);
}

/// Floor of what feeds the cell.
pub(super) fn feed(paper: &mut Paper, job: &Job<'_>, view: &View) {
    let Some(floor) = job.layout.feed else { return };
    let a = view.rect(floor);
    paper.block(a);
    paper.put(html! {
        rect id=(job.id("feed")) class="lw-frame lw-feed" data-length-m=(floor.length()) data-width-m=(floor.width())
            x=(num(a.x)) y=(num(a.y)) width=(num(a.w)) height=(num(a.h)) {}
    });
}

/// What feeds the cell, in words: in the middle of its floor, else along it, else beside it.
pub(super) fn feed_name(paper: &mut Paper, job: &Job<'_>, view: &View) {
    let Some(floor) = job.layout.feed else { return };
    let a = view.rect(floor);
    let size = format!("Feed {} × {}", text::mm(floor.length()), text::mm(floor.width()));
    let (x, y) = (a.x + a.w / 2.0, a.y + a.h / 2.0);
    let places = [size, "Feed".to_owned()].into_iter().flat_map(|words| {
        let level = Label::new(words.clone(), (x, y + SMALL * 0.36)).class("lw-text lw-number");
        let turned = Label::new(words, (x + SMALL * 0.36, y)).turned().class("lw-text lw-number");
        [level, turned]
    });
    let inside: Vec<Label> = places.filter(|label| label.area().within(&a)).collect();
    paper.label_where_free(inside);
}

/// One circuit from above: its stations, and the loop where it lies flat, or its top straight.
pub(super) fn seen_from_above(paper: &mut Paper, job: &Job<'_>, view: &View) {
    let layout = &job.layout;
    frames(paper, job, view);
    if layout.upright() {
        let c = layout.circuit;
        let (half, over) = (c.track_width_m / 2.0, c.radius_m + c.track_width_m / 2.0);
        let track = Rect { x0: -over, y0: -half, x1: c.straight_m + over, y1: half };
        let area = view.rect(track);
        paper.rect("lw-band", area);
        zones(paper, job, view, false);
        paper.rect("lw-edge", area);
        let middle = view.y(0.0);
        paper.line("lw-path", (area.x - 2.0, middle), (area.x + area.w + 2.0, middle));
        bodies(paper, job, view, "top");
        let (end, heading) =
            if layout.mirrored { (view.x(0.0) - 1.0, 180.0) } else { (view.x(c.straight_m) + 1.0, 0.0) };
        chevron(paper, (end, middle), heading);
    } else {
        loop_view(paper, job, view);
    }
}

/// The loop itself: track, zones, sections, carriers. The one view with a path to travel along.
pub(super) fn loop_view(paper: &mut Paper, job: &Job<'_>, view: &View) {
    let layout = &job.layout;
    let (c, left) = (layout.circuit, layout.turns_left());
    let half = c.track_width_m / 2.0;
    let (outer, inner) = (view.path(&layout.ring(half), left, true), view.path(&layout.ring(-half), left, true));
    paper.path("lw-band", &format!("{outer}{inner}"));
    joints(paper, job, view);
    zones(paper, job, view, true);
    paper.path("lw-edge", &outer);
    paper.path("lw-edge", &inner);
    paper.put(html! {
        path id=(job.id("path")) class="lw-path" data-circuit=(c.id) data-loop-m=(c.loop_length_m)
            data-plane=(if layout.upright() { "upright" } else { "flat" }) data-carriers=(c.carriers)
            data-carrier-m=(c.carrier_length_m) data-mm-per-m=(num(view.per_m))
            d=(view.path(&layout.ring(0.0), left, true)) {}
    });
    for i in 0..c.sections.len() {
        section(paper, job, view, i);
    }
    bodies(paper, job, view, "loop");
}

/// Joints of the modules.
fn joints(paper: &mut Paper, job: &Job<'_>, view: &View) {
    let c = job.layout.circuit;
    let half = c.track_width_m / 2.0;
    let far = if job.layout.upright() { -job.layout.span() } else { job.layout.span() };
    for i in 0..=c.modules_per_straight.min(1000) {
        let x = view.x(f64::from(i) * c.module_m);
        for y in [0.0, far] {
            paper.line("lw-joint", (x, view.y(y - half)), (x, view.y(y + half)));
        }
    }
}

/// A direction of travel, the angle counted clockwise on the sheet.
pub(super) fn chevron(paper: &mut Paper, (x, y): (f64, f64), degrees: f64) {
    let turned = format!("translate({} {}) rotate({})", num(x), num(y), num(degrees));
    paper.put(html! { path class="lw-chevron" transform=(turned) d="M-1 -1.6L1 0L-1 1.6" {} });
}

/// Zones as bands over the track: hatched where carriers stop, with arrows where work is done moving.
fn zones(paper: &mut Paper, job: &Job<'_>, view: &View, main: bool) {
    let layout = &job.layout;
    for (i, station) in layout.circuit.stations.iter().enumerate() {
        let area = view.rect(zone_band(layout, station, main));
        let (class, mode) = match station.mode {
            PlannedMode::Intermittent => ("lw-zone lw-zone-stops", "stops"),
            PlannedMode::Continuous => ("lw-zone lw-zone-moves", "moves"),
        };
        let id = main.then(|| job.id(&format!("zone-{}", i + 1)));
        paper.put(html! {
            rect id=[id] class=(class) data-station=(station.id) data-mode=(mode) data-start-m=(station.start_m)
                data-zone-m=(station.zone_m) x=(num(area.x)) y=(num(area.y)) width=(num(area.w)) height=(num(area.h)) {}
        });
        if station.mode == PlannedMode::Intermittent {
            paper.path("lw-hatch", &hatch(area));
        }
    }
}

fn zone_band(layout: &Layout<'_>, station: &PlannedStation, main: bool) -> Rect {
    let half = layout.circuit.track_width_m / 2.0;
    let (x0, x1) = layout.zone(station);
    let y = if main && station.straight == PlannedStraight::Back { layout.span() } else { 0.0 };
    Rect { x0, y0: y - half, x1, y1: y + half }
}

/// Strokes at 45 degrees across an area.
pub(super) fn hatch(a: Area) -> String {
    const EVERY: f64 = 2.2;
    let mut d = String::new();
    let mut from = EVERY;
    while from < a.w + a.h && d.len() < 20_000 {
        let (x1, y1) = if from <= a.h { (a.x, a.y + from) } else { (a.x + from - a.h, a.y + a.h) };
        let (x2, y2) = if from <= a.w { (a.x + from, a.y) } else { (a.x + a.w, a.y + from - a.w) };
        d += &format!("M{} {}L{} {}", num(x1), num(y1), num(x2), num(y2));
        from += EVERY;
    }
    d
}

/// Floor of the stations, their numbers, names where they find room, and depths.
fn frames(paper: &mut Paper, job: &Job<'_>, view: &View) {
    let layout = &job.layout;
    for (i, station) in layout.circuit.stations.iter().enumerate() {
        let Some(free) = layout.access(station) else { continue };
        let a = view.rect(free);
        paper.put(html! {
            rect id=(job.id(&format!("access-{}", i + 1))) class="lw-access" data-station=(station.id)
                data-access-m=(free.width()) x=(num(a.x)) y=(num(a.y)) width=(num(a.w)) height=(num(a.h)) {}
        });
    }
    for (i, (station, frame)) in layout.circuit.stations.iter().zip(&layout.frames).enumerate() {
        let Some(frame) = frame else { continue };
        let a = view.rect(*frame);
        paper.block(a);
        paper.put(html! {
            rect id=(job.id(&format!("station-{}", i + 1))) class="lw-frame" data-station=(station.id)
                data-number=(job.number(i).unwrap_or(i + 1)) data-depth-m=(station.depth_m) data-frame-m=(station.frame_m)
                data-stands=(if station.stands == PlannedSide::Front { "front" } else { "back" })
                x=(num(a.x)) y=(num(a.y)) width=(num(a.w)) height=(num(a.h)) {}
        });
    }
}

/// Arrows where product comes in and leaves.
pub(super) fn flows(paper: &mut Paper, job: &Job<'_>, view: &View) {
    const LONG: f64 = 8.0;
    for flow in &job.layout.flows {
        let (x, y) = view.spot(flow.at);
        let turned = format!("translate({} {}) rotate({})", num(x), num(y), num(-flow.heading.to_degrees()));
        // It leads to the edge, or away from it.
        let (name, words, from) =
            if flow.infeed { ("infeed", "Infeed", -LONG) } else { ("discharge", "Discharge", 0.0) };
        let d = format!(
            "M{} 0L{} 0M{} -2.2L{} 0L{} 2.2",
            num(from),
            num(from + LONG),
            num(from + LONG - 3.0),
            num(from + LONG),
            num(from + LONG - 3.0)
        );
        paper.put(html! { path id=(job.id(name)) class="lw-chevron" transform=(turned) d=(d) {} });
        let (dx, dy) = (flow.heading.cos(), -flow.heading.sin());
        let away = if flow.infeed { -1.0 } else { 1.0 };
        let (mx, my) = (x + dx * (from + LONG / 2.0), y + dy * (from + LONG / 2.0));
        let half = text::width(words, SMALL) / 2.0;
        let beside = [
            (mx, my - 3.4),
            (mx, my + 5.4),
            (mx + away * dx * (LONG / 2.0 + half + 1.5), my + away * dy * (LONG / 2.0 + 2.5) + SMALL * 0.36),
            (mx + half + 3.6, my + SMALL * 0.36),
            (mx - half - 3.6, my + SMALL * 0.36),
        ];
        // The first that is upright to the arrow's own line lies beside it only where the arrow is level.
        let level = dy.abs() < 0.5;
        let places = beside.into_iter().enumerate().filter(|(i, _)| level || *i > 1).map(|(_, at)| at);
        paper.label_where_free(places.map(|at| Label::new(words, at).class("lw-text lw-strong")));
    }
}

/// Numbers, names and depths of the stations; after the dimensions' extension lines, so that they stay legible.
pub(super) fn names(paper: &mut Paper, job: &Job<'_>, view: &View) {
    let layout = &job.layout;
    for (i, (station, frame)) in layout.circuit.stations.iter().zip(&layout.frames).enumerate() {
        let (x0, x1) = layout.zone(station);
        let (x, front) = (view.x(f64::midpoint(x0, x1)), station.stands == PlannedSide::Front);
        let out = if front { 1.0 } else { -1.0 };
        let band = view.rect(zone_band(layout, station, true));
        let track = if front { band.y + band.h } else { band.y };
        let area = frame.map_or(Area { x, y: track, w: 0.0, h: 0.0 }, |f| view.rect(f));
        let far = if front { area.y + area.h } else { area.y };
        let inside = area.h >= 2.0 * BALLOON + 0.6 && area.w >= 2.0 * BALLOON + 0.6;
        let Some(number) = job.number(i) else { continue };
        let (spot, leader) = if inside {
            ((x, track + out * (BALLOON + 0.8).max(area.h * 0.32)), None)
        } else {
            let (spot, leader) = outside(paper, &area, (x, far, track), out);
            (spot, Some(leader))
        };
        balloon(paper, spot, &number.to_string());
        if let Some((from, to)) = leader {
            paper.line("lw-leader", from, to);
        }
        let (x, y) = spot;
        let base = y + out * (BALLOON + 1.2) + if front { 2.6 } else { 0.0 };
        let label = Label::new(station.id.clone(), (x, base));
        if area.h > 0.0 && label.area().within(&area) {
            paper.label_where_free([label]);
        }
        if frame.is_some() {
            depth(paper, area, out, station.depth_m);
        }
        if let Some(free) = layout.access(station) {
            let a = view.rect(free);
            let (x, y) = (a.x + a.w / 2.0, a.y + a.h / 2.0 + SMALL * 0.36);
            let words = [format!("free {}", text::mm(free.width())), text::mm(free.width())];
            paper.label_where_free(words.map(|words| Label::new(words, (x, y)).class("lw-text lw-number")));
        }
    }
}

/// Where the number of a station stands that is too small for it, and its leader: beyond its floor, else to either side of it,
/// where neither another station's floor nor a text lies.
fn outside(paper: &Paper, floor: &Area, (x, far, track): (f64, f64, f64), out: f64) -> (Spot, (Spot, Spot)) {
    let y = far + out * (BALLOON + 1.2);
    let beyond = ((x, y), ((x, y - out * BALLOON), (x, track)));
    let (aside, middle) = (BALLOON + 1.2, floor.y + floor.h / 2.0);
    let beside = [(floor.x + floor.w, 1.0), (floor.x, -1.0)].map(|(edge, to)| {
        let at = (edge + to * aside, middle + if floor.h > 0.0 { 0.0 } else { out * aside });
        (at, ((at.0 - to * BALLOON, at.1), (edge, middle)))
    });
    let free = |(x, y): Spot| {
        let square = Area { x: x - BALLOON, y: y - BALLOON, w: 2.0 * BALLOON, h: 2.0 * BALLOON };
        !paper.is_blocked(&square) && paper.is_free(&square)
    };
    [beyond].into_iter().chain(beside).find(|(spot, _)| free(*spot)).unwrap_or(beyond)
}

/// Numbers of the stations over their zones, where their floor is not seen.
pub(super) fn numbers(paper: &mut Paper, job: &Job<'_>, view: &View) {
    let layout = &job.layout;
    let y = view.y(layout.circuit.track_width_m / 2.0) - BALLOON - 1.2;
    for (i, station) in layout.circuit.stations.iter().enumerate() {
        let (x0, x1) = layout.zone(station);
        balloon(paper, (view.x(f64::midpoint(x0, x1)), y), &(i + 1).to_string());
    }
}

/// The depth of a station's floor: beside it, or inside where nothing is free.
fn depth(paper: &mut Paper, a: Area, out: f64, metres: f64) {
    let words = text::mm(metres);
    let middle = a.y + a.h / 2.0;
    let long = text::width(&words, SMALL);
    let low = if out > 0.0 { a.y + a.h - long / 2.0 - 1.0 } else { a.y + long / 2.0 + 1.0 };
    let places = [(a.x + a.w + 2.6, true), (a.x - 2.6, true), (a.x + a.w - 1.8, false), (a.x + 4.4, false)];
    for (x, outside) in places {
        for y in [middle, low] {
            let label = Label::new(words.clone(), (x - 0.9, y)).turned().class("lw-text lw-number");
            let area = label.area();
            let room = Area { x: area.x, y: area.y, w: area.w + 1.8, h: area.h };
            if long + 1.0 > a.h || !paper.is_free(&room) || (outside && paper.is_blocked(&room)) {
                continue;
            }
            paper.label(&label);
            if outside {
                let side = if x > a.x { a.x + a.w } else { a.x };
                for end in [a.y, a.y + a.h] {
                    paper.line("lw-extension", (side, end), (x + if x > a.x { 1.4 } else { -1.4 }, end));
                }
            }
            paper.line("lw-dimension", (x, a.y), (x, a.y + a.h));
            for end in [a.y, a.y + a.h] {
                paper.line("lw-tick", (x - 1.1, end + 1.1), (x + 1.1, end - 1.1));
            }
            return;
        }
    }
}

pub(super) fn balloon(paper: &mut Paper, (x, y): (f64, f64), number: &str) {
    paper.put(html! { circle class="lw-balloon" cx=(num(x)) cy=(num(y)) r=(num(BALLOON)) {} });
    let label = Label::new(number, (x, y + SMALL * 0.36)).class("lw-plain lw-strong");
    paper.label(&label);
    paper.take(Area { x: x - BALLOON, y: y - BALLOON, w: 2.0 * BALLOON, h: 2.0 * BALLOON });
}

/// A section: its middle line to travel along, and its slots.
fn section(paper: &mut Paper, job: &Job<'_>, view: &View, i: usize) {
    let layout = &job.layout;
    let (Some((from, to)), Some(section)) = (layout.section(i), layout.circuit.sections.get(i)) else { return };
    let stretch = layout.stretch(from, to);
    let slots = layout.slots(i, job.sku);
    let shown: Vec<Markup> = slots
        .iter()
        .take(MOST_BODIES)
        .map(|&s| {
            let (long, wide) = job.carrier_size();
            body("lw-slot", layout, view, s, (long, wide))
        })
        .collect();
    paper.put(html! {
        g id=(job.id(&format!("section-{}", i + 1))) class="lw-section" data-from=(section.from) data-to=(section.to)
            data-start-m=(from) data-length-m=(section.length_m) data-slots=(slots.len()) {
            path class="lw-section-path" d=(view.path(&stretch, layout.turns_left(), false)) {}
            @for slot in shown { (slot) }
        }
    });
    let middle = layout.pose(f64::midpoint(from, to));
    if section.length_m * view.per_m > 3.0 {
        chevron(paper, view.spot(middle.at), -middle.heading.to_degrees());
    }
}

/// Letters of the sections, beside the track.
pub(super) fn letters(paper: &mut Paper, job: &Job<'_>, view: &View) {
    let layout = &job.layout;
    let turn = if layout.turns_left() { 1.0 } else { -1.0 };
    for i in 0..layout.circuit.sections.len() {
        let Some((from, to)) = layout.section(i) else { continue };
        let aside = layout.circuit.track_width_m / 2.0 + 3.2 / view.per_m;
        // Inside of the loop first, at its middle, then along it, then outside.
        let places = [1.0, -1.0].into_iter().flat_map(|inward| {
            [0.5, 0.42, 0.58, 0.34, 0.66, 0.25, 0.75, 0.15, 0.85].map(|share| {
                let pose = layout.pose(from + share * (to - from));
                let normal = pose.heading + turn * inward * std::f64::consts::FRAC_PI_2;
                let p =
                    super::geometry::Point { x: pose.at.x + aside * normal.cos(), y: pose.at.y + aside * normal.sin() };
                let (x, y) = view.spot(p);
                Label::new(text::letter(job.letters + i), (x, y + SMALL * 0.36)).class("lw-plain lw-strong")
            })
        });
        let free = places.into_iter().find(|label| {
            let area = tag(label);
            paper.is_free(&area) && !paper.is_blocked(&area)
        });
        if let Some(label) = free {
            let area = tag(&label);
            paper.put(html! {
                rect class="lw-tag" x=(num(area.x)) y=(num(area.y)) width=(num(area.w)) height=(num(area.h)) rx="1" {}
            });
            paper.label(&label);
            paper.take(area);
        }
    }
}

fn tag(label: &Label) -> Area {
    let wide = text::width(&label.text, SMALL).max(3.0) + 1.8;
    Area { x: label.at.0 - wide / 2.0, y: label.at.1 - SMALL * 0.36 - 2.3, w: wide, h: 4.6 }
}

/// Carriers in working position, with their loads.
fn bodies(paper: &mut Paper, job: &Job<'_>, view: &View, of: &str) {
    let layout = &job.layout;
    let parts = job.carrier_parts();
    let load = job.load_size();
    let mut group = Vec::new();
    for (i, station) in layout.circuit.stations.iter().enumerate() {
        for s in layout.at_work(i, job.sku).into_iter().take(MOST_BODIES) {
            // From above, an upright loop shows its top straight only, which all stations stand on.
            group.push(html! {
                g data-station=(station.id) data-at-m=(s) {
                    @for &(ahead, size) in &parts { (body("lw-carrier", layout, view, s + ahead, size)) }
                    @if let Some(load) = load { (body("lw-load", layout, view, s, load)) }
                }
            });
        }
    }
    paper.put(html! { g id=(job.id(&format!("carriers-{of}"))) class="lw-carriers" { @for g in group { (g) } } });
}

/// A body of this length and width with its middle on the loop.
fn body(class: &str, layout: &Layout<'_>, view: &View, along: f64, (long, wide): (f64, f64)) -> Markup {
    let pose = layout.pose(along);
    let (x, y) = view.spot(pose.at);
    let (w, h) = (long * view.per_m, wide * view.per_m);
    let degrees = -pose.heading.to_degrees();
    let area = Area { x: x - w / 2.0, y: y - h / 2.0, w, h };
    if (degrees.rem_euclid(180.0)).abs() < 1e-9 {
        return rect(class, area);
    }
    let turned = format!("rotate({} {} {})", num(degrees), num(x), num(y));
    html! {
        rect class=(class) x=(num(area.x)) y=(num(area.y)) width=(num(area.w)) height=(num(area.h)) transform=(turned) {}
    }
}
