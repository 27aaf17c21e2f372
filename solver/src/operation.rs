//! A plan in operation: what is simulated for one SKU, from the cell and the plan's numbers.

use crate::cell::{Cell, Since};
use crate::plan::Numbers;
use crate::sim::{Scenario, WindowWatch};
use crate::units::{Micros, Seconds};

/// The ring of one SKU with what chance does at its stations; as fast as it can, or no faster than its design rate. None when
/// the carriers do not fit.
#[must_use]
pub fn scenario(cell: &Cell, numbers: &Numbers, sku: usize, carriers: u32, paced: bool) -> Option<Scenario> {
    let parts = cell.parts();
    let mut scenario = Scenario::certain(&numbers.ring(sku, carriers))?;
    for (post, station) in scenario.posts.iter_mut().zip(&parts.stations) {
        post.behaviour = station.behaviour;
    }
    scenario.pace = if paced { numbers.pace(cell, sku) } else { None };
    let micros = |time: Option<Seconds>| time.map(Micros::nearest);
    scenario.most = parts.sections.iter().map(|section| micros(section.max_time)).collect();
    let watch = |window: &crate::cell::Window| {
        let taken_in = window.since == Since::TakenIn;
        (WindowWatch { from: window.from, to: window.to, taken_in }, micros(window.max))
    };
    scenario.windows = parts.windows.iter().map(watch).collect();
    Some(scenario)
}
