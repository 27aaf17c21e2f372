//! Running empty and refilling, from the timed run that also judges rates (model section 7).

use crate::cell::Cell;
use crate::plan::{Numbers, Plan};
use crate::ring::Ring;
use crate::sim::{Watch, WindowWatch, first_through, run};
use crate::throughput::Steady;
use crate::units::Micros;

/// A run gives up looking for a recurring state after so many batches of the first station.
const MOST_STARTS: u64 = 20_000;

/// How a SKU leaves and fills the cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Flow {
    /// From the last case begun at the first station to the last good case: the longest way through, in the steady state
    /// of the paced run.
    pub run_out: Micros,
    /// From the first case begun to the first good case, in the paced run from its start.
    pub refill: Micros,
}

/// Index of the station at which cases leave the cell: the last one before the track that is travelled empty to the first
/// station; the last of all where none is.
#[must_use]
pub fn last_loaded(cell: &Cell) -> usize {
    let sections = &cell.parts().sections;
    let empty = sections.iter().rev().take_while(|s| !s.loaded).count();
    (sections.len() - 1).saturating_sub(empty.saturating_sub(1))
}

/// Longest time of a carrier from being taken in at the first station to being taken in at `last`: in closed form where
/// there is one, otherwise from the timed run.
fn longest_way(ring: &Ring, pace: Micros, last: usize) -> Micros {
    if let Some(steady) = Steady::of(ring, pace) {
        return Micros::from_us(steady.times(0, last, true, &steady).1);
    }
    let windows = vec![WindowWatch { from: 0, to: last, taken_in: true }];
    let watch = Watch { pace: Some(pace), windows, most_starts: MOST_STARTS };
    run(ring, &watch).windows.first().map_or(Micros::ZERO, |times| times.longest)
}

/// By SKU; nothing for one without a demand.
#[must_use]
pub fn flows(cell: &Cell, plan: &Plan, numbers: &Numbers) -> Vec<Flow> {
    let last = last_loaded(cell);
    let flow = |sku: usize| {
        let none = Flow { run_out: Micros::ZERO, refill: Micros::ZERO };
        let Some(pace) = numbers.pace(cell, sku) else { return none };
        let ring = numbers.ring(sku, plan.carriers);
        let residence = ring.stations[last].residence;
        let through = if last == 0 { Micros::ZERO } else { longest_way(&ring, pace, last) };
        Flow {
            run_out: Micros::from_us(through.us() + residence.us()),
            refill: first_through(&ring, pace, last).unwrap_or(Micros::ZERO),
        }
    };
    (0..cell.rides().len()).map(flow).collect()
}
