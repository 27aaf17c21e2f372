//! The plan drawing of several circuits: all loops on the floor, with the hand-offs between them.

use maud::html;

use super::dims::{Along, FIRST, STEP, chain};
use super::geometry::{Layout, OnFloor, Point, Rect};
use super::measures::{self, along_x, along_y};
use super::paper::{Area, Paper, View, num};
use super::sheet::Sheet;
use super::{Drawable, Job, Lies, Titles, svg, tables, text, views};
use crate::wire::plan::{Planned, PlannedCircuit, PlannedPlane};

/// Every circuit laid out, and where its own origin lies from the corner of all of them without clearance.
pub(super) fn placed(planned: &Planned) -> Vec<(Layout<'_>, Point)> {
    let shift = |c: &PlannedCircuit| {
        let (x, middle) = c.place.as_ref().map_or((0.0, 0.0), |place| (place.offset_m, place.middle_m));
        let half = if c.plane == PlannedPlane::Flat { c.radius_m + c.cross_m / 2.0 } else { 0.0 };
        Point { x, y: middle - half }
    };
    let mut all: Vec<(Layout<'_>, Point)> =
        planned.circuits.iter().map(|c| (Layout::of(planned, c), shift(c))).collect();
    // Laid out as the plan counts, from left to right, and turned over as a whole.
    all.iter_mut().filter(|(layout, _)| layout.mirrored).for_each(|(layout, _)| layout.mirror());
    for i in 0..all.len() {
        for s in 0..all[i].0.circuit.stations.len() {
            let station = &all[i].0.circuit.stations[s];
            let Some(other) = station.hands_to.as_ref() else { continue };
            let Some(there) = planned.circuits.iter().position(|c| c.id == *other) else { continue };
            let over = |a: usize, b: usize| {
                planned.circuits[a].place.as_ref().and_then(|p| p.above.as_ref()) == Some(&planned.circuits[b].id)
            };
            if over(i, there) || over(there, i) {
                // It is drawn with the loop below.
                if over(i, there) {
                    all[i].0.frames[s] = None;
                }
                continue;
            }
            all[i].0.frames[s] = if there > i { between(&all, (i, s), there) } else { None };
        }
    }
    let end = |(layout, at): &(Layout<'_>, Point)| {
        let own = layout.circuit.straight_m + layout.circuit.corner_reach_m;
        at.x + layout.frames.iter().flatten().map(|frame| frame.x1).fold(own, f64::max)
    };
    let right = all.iter().map(end).fold(0.0, f64::max);
    for (layout, at) in &mut all {
        if planned.is_mirrored() {
            layout.mirror();
            at.x = right - at.x - layout.circuit.straight_m;
        }
        layout.flows = layout.flows(planned, (-at.x, right - at.x));
    }
    all
}

/// Floor of a hand-off: the gap between its two loops, over its frame or its longer zone.
fn between(all: &[(Layout<'_>, Point)], (one, s): (usize, usize), two: usize) -> Option<Rect> {
    let (layout, at) = &all[one];
    let (next, there) = &all[two];
    let station = &layout.circuit.stations[s];
    let other = next.circuit.stations.iter().find(|o| o.id == station.id)?;
    let (x0, x1) = layout.zone(station);
    let plain = station.frame_m <= station.zone_m + 1e-9;
    let long = if plain { station.zone_m.max(other.zone_m) } else { station.frame_m };
    let middle = f64::midpoint(x0, x1);
    let far = if layout.upright() { 0.0 } else { layout.span() };
    let y0 = far + layout.circuit.track_width_m / 2.0;
    let y1 = there.y - next.circuit.track_width_m / 2.0 - at.y;
    Some(Rect { x0: middle - long / 2.0, y0, x1: middle + long / 2.0, y1 })
}

/// The floor of all circuits with what feeds them, without their stations.
pub(super) fn floor<'a>(planned: &Planned, first: &'a PlannedCircuit) -> Layout<'a> {
    let (clearance, f) = (planned.asked.sides(), &planned.footprint);
    // From the front left corner of loops and stations, beyond which what feeds them may lie.
    let feed = super::geometry::feed(planned, (0.0, 0.0));
    let (x0, y0) = feed.map_or((0.0, 0.0), |feed| (feed.x0.min(0.0), feed.y0.min(0.0)));
    let (along, across) = (clearance.left_m + clearance.right_m, clearance.front_m + clearance.back_m);
    let body = Rect { x0, y0, x1: x0 + f.length_m - along, y1: y0 + f.width_m - across };
    let outer = body.with_clearance(&clearance);
    let (site, keep_out) = OnFloor::of(planned, outer);
    let mirrored = planned.is_mirrored();
    Layout { circuit: first, body, feed, outer, frames: Vec::new(), flows: Vec::new(), mirrored, site, keep_out }
}

/// Numbers of the stations of each circuit, counted through; none for the second place of a hand-off.
pub(super) fn numbers(all: &[(Layout<'_>, Point)]) -> Vec<Vec<Option<usize>>> {
    let mut known: Vec<&str> = Vec::new();
    let mut number = |id| {
        (!known.contains(&id)).then(|| {
            known.push(id);
            known.len()
        })
    };
    all.iter().map(|(layout, _)| layout.circuit.stations.iter().map(|s| number(s.id.as_str())).collect()).collect()
}

/// Where straights begin and end along the floor, and where middle lines lie across it, with the edges of all of it.
pub(super) fn lines(body: Rect, all: &[(Layout<'_>, Point)]) -> (Vec<f64>, Vec<f64>) {
    let sorted = |mut places: Vec<f64>| {
        places.sort_by(f64::total_cmp);
        places.dedup_by(|a, b| (*a - *b).abs() < 5e-4);
        places
    };
    let mut along = vec![body.x0];
    along.extend(all.iter().flat_map(|(layout, at)| [at.x, at.x + layout.circuit.straight_m]));
    along.push(body.x1);
    let mut across = vec![body.y0, body.y1];
    for (layout, at) in all {
        across.push(at.y);
        if !layout.upright() {
            across.push(at.y + layout.span());
        }
    }
    (sorted(along), sorted(across))
}

/// The plan drawing of all circuits for one SKU as an SVG document. `prefix` begins every id in it; those of the second circuit
/// on have its number behind it.
#[must_use]
pub fn whole_svg(plan: &Drawable<'_>, sku: usize, titles: &Titles, prefix: &str) -> String {
    let planned = plan.planned;
    let Some(first) = planned.circuits.first() else { return String::new() };
    let f = &planned.footprint;
    let hash = plan.short_hash();
    let job = |layout, prefix, numbers, letters| Job {
        layout,
        cell: plan.cell,
        name: &plan.document.name,
        sku,
        titles,
        hash: hash.clone(),
        prefix,
        numbers,
        letters,
    };
    let all = placed(planned);
    let numbers = numbers(&all);
    let prefixes: Vec<String> =
        (0..all.len()).map(|i| if i == 0 { prefix.to_owned() } else { format!("{prefix}{}-", i + 1) }).collect();
    let mut jobs = Vec::with_capacity(all.len());
    let mut letters = 0;
    for (((layout, _), prefix), numbers) in all.iter().zip(&prefixes).zip(numbers) {
        jobs.push(job(layout.clone(), prefix, Some(numbers), letters));
        letters += layout.circuit.sections.len();
    }
    let whole = job(floor(planned, first), prefix, None, 0);
    let outer = whole.layout.outer;
    let sheet = Sheet::for_lines(tables::lines_of_all(&jobs));
    let mut paper = Paper::default();
    paper.rect("lw-paper", Area { x: 0.0, y: 0.0, w: sheet.w, h: sheet.h });
    let lies = Lies::of(&whole, &sheet, measures::ROUND.1, 0.0);
    let (field, per_m) = (sheet.field(), lies.per_m());
    let (left, top, right, bottom) = lies.round;
    let room = (field.w - left - right, field.h - top - bottom);
    let x = field.x + left + (room.0 - outer.length() * per_m) / 2.0 - outer.x0 * per_m;
    let y = field.y + top + (room.1 - outer.width() * per_m) / 2.0 + outer.y1 * per_m;
    let view = View { origin: (x, y), per_m };
    let views: Vec<View> = all.iter().map(|(_, at)| View { origin: (view.x(at.x), view.y(at.y)), per_m }).collect();
    if lies.site {
        measures::site(&mut paper, &whole.layout, &view, &whole.id("site"));
    }
    paper.put(html! {
        rect id=(whole.id("clearance")) class="lw-clearance" data-length-m=(outer.length()) data-width-m=(outer.width())
            x=(num(view.x(outer.x0))) y=(num(view.y(outer.y1))) width=(num(outer.length() * per_m))
            height=(num(outer.width() * per_m)) {}
    });
    views::feed(&mut paper, &whole, &view);
    for (job, view) in jobs.iter().zip(&views) {
        views::seen_from_above(&mut paper, job, view);
    }
    sizes(&mut paper, &whole.layout, &view, &all);
    if lies.site {
        measures::site_sizes(&mut paper, &whole.layout, &view);
    }
    for (job, view) in jobs.iter().zip(&views) {
        let c = job.layout.circuit;
        let straight = along_x(view, &[0.0, c.straight_m]);
        // Where a loop is too small for it, the chain below the cell has it.
        let high = (2.0 * c.radius_m + c.cross_m - c.track_width_m) * per_m;
        let inside = view.y(if job.layout.upright() { -c.track_width_m } else { c.radius_m + c.cross_m / 2.0 });
        if high >= 9.0 && c.straight_m * per_m >= 36.0 {
            chain(&mut paper, Along::Below, inside, &straight, |_| inside);
        }
        if !job.layout.upright() {
            measures::radius(&mut paper, &job.layout, view);
        }
        views::names(&mut paper, job, view);
        views::flows(&mut paper, job, view);
    }
    views::feed_name(&mut paper, &whole, &view);
    for (job, view) in jobs.iter().zip(&views) {
        views::letters(&mut paper, job, view);
    }
    tables::strip(&mut paper, &whole, &sheet, per_m, lies.site);
    tables::tables_of_all(&mut paper, &jobs, &sheet);
    let id = first.skus.get(sku).map_or("", |s| &s.id);
    let carriers = planned.circuits.iter().map(|c| c.carriers).sum();
    let round: Vec<String> = planned.circuits.iter().map(|c| text::mm(c.loop_length_m)).collect();
    let says = tables::Says {
        scale: lies.scale,
        of: format!("Plan of {} loops, SKU {id}", planned.circuits.len()),
        round: format!("Loops {} round", round.join(" + ")),
        carriers,
    };
    tables::title(&mut paper, &whole, planned, &sheet, &says);
    paper.rect("lw-border", sheet.border());
    let column = sheet.column();
    paper.line("lw-rule", (column.x, column.y), (column.x, column.y + column.h));
    let name = format!("{}: plan of {} loops", plan.document.name, planned.circuits.len());
    let about = format!(
        "Scale 1:{}. Footprint {} by {} mm, {carriers} carriers, SKU {id}.",
        lies.scale,
        text::mm(f.length_m),
        text::mm(f.width_m)
    );
    svg(&sheet, lies.scale, &whole.id("plan"), &name, &about, paper)
}

/// What all loops take without and with the clearance, and where their middle lines lie.
fn sizes(paper: &mut Paper, whole: &Layout<'_>, view: &View, all: &[(Layout<'_>, Point)]) {
    let (body, outer) = (whole.body, whole.outer);
    let (bottom, left, right) = (view.y(outer.y0), view.x(outer.x0), view.x(outer.x1));
    let mut row = bottom + FIRST;
    let (places, middles) = lines(body, all);
    let straights = along_x(view, &places);
    chain(paper, Along::Below, row, &straights, |_| bottom);
    row += super::dims::reach(&straights) + STEP;
    if outer.x0 < body.x0 {
        chain(paper, Along::Below, row, &along_x(view, &[outer.x0, body.x0, body.x1, outer.x1]), |_| bottom);
        row += STEP;
    }
    chain(paper, Along::Below, row, &along_x(view, &[outer.x0, outer.x1]), |_| bottom);
    chain(paper, Along::Left, left - FIRST, &along_y(view, &middles), |_| left);
    let mut row = right + FIRST;
    if outer.y0 < body.y0 {
        chain(paper, Along::Right, row, &along_y(view, &[outer.y0, body.y0, body.y1, outer.y1]), |_| right);
        row += STEP;
    }
    chain(paper, Along::Right, row, &along_y(view, &[outer.y0, outer.y1]), |_| right);
}
