//! A plan in operation: what is simulated for one SKU, from the cell and the plan's numbers.

use crate::cell::{Cell, Since};
use crate::chance::Law;
use crate::option::{Mode, SkuOption};
use crate::plan::Numbers;
use crate::sim::{Post, Scenario, Span, WindowWatch};
use crate::station::{Process, Station};
use crate::units::{Micros, Seconds};

/// The ring of one SKU with what chance does at its stations; as fast as it can, or no faster than its design rate. None when
/// the carriers do not fit.
#[must_use]
pub fn scenario(cell: &Cell, numbers: &Numbers, sku: usize, carriers: u32, paced: bool) -> Option<Scenario> {
    let parts = cell.parts();
    let mut scenario = Scenario::certain(&numbers.ring(sku, carriers))?;
    behaves(cell, numbers, sku, &mut scenario.posts);
    scenario.pace = if paced { numbers.pace(cell, sku) } else { None };
    let asked = parts.requirements;
    scenario.net_rate = cell.rides()[sku].phi() * asked.efficiency / asked.headroom;
    (scenario.most, scenario.windows) = watched(cell);
    Some(scenario)
}

/// What chance does at the stations of a circuit, and which part of their times varies.
pub(crate) fn behaves(cell: &Cell, numbers: &Numbers, sku: usize, posts: &mut [Post]) {
    for (post, (station, option)) in posts.iter_mut().zip(cell.parts().stations.iter().zip(&numbers.options)) {
        post.behaviour = station.behaviour;
        vary(post, station, option.mode, &option.skus[sku], sku);
    }
}

/// Longest times of the sections of a circuit, and its windows with theirs.
#[allow(clippy::type_complexity)]
pub(crate) fn watched(cell: &Cell) -> (Vec<Option<Micros>>, Vec<(WindowWatch, Option<Micros>)>) {
    let parts = cell.parts();
    let micros = |time: Option<Seconds>| time.map(Micros::nearest);
    let watch = |window: &crate::cell::Window| {
        let taken_in = window.since == Since::TakenIn;
        (WindowWatch { from: window.from, to: window.to, taken_in }, micros(window.max))
    };
    (parts.sections.iter().map(|s| micros(s.max_time)).collect(), parts.windows.iter().map(watch).collect())
}

/// Which part of the station's times varies: the work, not the driving or settling.
fn vary(post: &mut Post, station: &Station, mode: Mode, option: &SkuOption, sku: usize) {
    match mode {
        Mode::Intermittent => {
            let Some(work) = station.intermittent.as_ref().and_then(|mode| mode.work.get(sku)) else { return };
            // A hand-off counts cases.
            let per_case = station.hand_off.as_ref().and_then(|h| h.per_case.get(sku).copied()).unwrap_or(1).max(1);
            let units = (option.batch / per_case).max(1);
            let work = Micros::nearest_s(work.base.s() + work.per_extra.s() * f64::from(units - 1));
            let cycle = Micros::nearest(option.cycle);
            post.cycle = Span { least: Micros::ZERO, base: Micros::from_us(cycle.us() - work.us()), work };
            post.residence = post.cycle;
        }
        Mode::Continuous => {
            let process = station.continuous.as_ref().and_then(|mode| mode.work.get(sku)).map(|work| work.process);
            let Some(Process::Time { process, back }) = process else {
                // Its times follow from a length and a speed.
                post.behaviour.work = Law::Constant;
                return;
            };
            // A tool that is late takes the next batch later; one without a way back keeps the carriers at the zone's end.
            let tool = back.map_or(0.0, |back| process.s() + back.s());
            let varying = |least: Seconds, work: f64| Span {
                least: Micros::nearest(least),
                base: Micros::ZERO,
                work: Micros::nearest_s(work),
            };
            post.cycle = varying(option.move_in, tool);
            post.residence = varying(option.residence, process.s());
        }
    }
}
