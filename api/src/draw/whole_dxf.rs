//! The plan of several circuits as DXF: all loops at their places on the floor.

use super::dxf::{STEP, Sheet};
use super::geometry::Layout;
use super::whole::{floor, lines, numbers, placed};
use super::{Drawable, Job, Titles};

/// The plan of all circuits for one SKU as a DXF document. Stations are numbered through; carriers and slots of the second circuit on
/// have its number behind their names.
#[must_use]
pub fn whole_dxf(plan: &Drawable<'_>, sku: usize) -> String {
    let planned = plan.planned;
    let Some(first) = planned.circuits.first() else { return String::new() };
    let titles = Titles::default();
    let job = |layout, numbers| Job {
        layout,
        cell: plan.cell,
        name: &plan.document.name,
        sku,
        titles: &titles,
        hash: plan.short_hash(),
        prefix: "",
        numbers,
        letters: 0,
    };
    let all = placed(planned);
    let whole = job(floor(planned, first), None);
    let (body, outer) = (whole.layout.body, whole.layout.outer);
    let mut sheet = Sheet::default();
    sheet.ground(&whole);
    let mut above = outer.y1;
    for (i, ((layout, at), numbers)) in all.iter().zip(numbers(&all)).enumerate() {
        let mut layout: Layout<'_> = layout.clone();
        if layout.upright() {
            // Front views stand behind the floor of all, one above the other.
            layout.outer.y1 = above - at.y;
            above += 1.0 + layout.span() + layout.circuit.track_width_m;
        }
        let own = job(layout, Some(numbers));
        let ending = if i == 0 { String::new() } else { format!("_{}", i + 1) };
        sheet.go_to(Some(*at), &ending);
        sheet.blocks(&own);
        sheet.stations(&own);
        sheet.track(&own);
        sheet.bodies(&own);
    }
    sheet.go_to(None, "");
    let row = |i: f64| i * STEP / 1000.0;
    let (straights, middles) = lines(body, &all);
    for pair in straights.windows(2) {
        sheet.dimension(true, (pair[0], pair[1]), outer.y0 - row(1.0), outer.y0);
    }
    for pair in middles.windows(2) {
        sheet.dimension(false, (pair[0], pair[1]), outer.x0 - row(1.0), outer.x0);
    }
    for (i, of) in [body, outer].into_iter().enumerate() {
        sheet.dimension(true, (of.x0, of.x1), outer.y0 - row(2.0 + i as f64), outer.y0);
        sheet.dimension(false, (of.y0, of.y1), outer.x1 + row(1.0 + i as f64), outer.x1);
    }
    sheet.notes(&whole, &format!("{} loops", all.len()), 4.0);
    sheet.written(outer)
}
