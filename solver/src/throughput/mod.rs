//! The exact long-run rate of a ring (model section 7).
//!
//! The rules are a synchronous-dataflow graph (E. A. Lee, D. G. Messerschmitt, *Synchronous data flow*, Proc. IEEE
//! 75(9), 1987, 1235-1245). Unfolded over one iteration it is a timed event graph whose rate is one over its largest
//! cycle ratio (R. M. Karp, *A characterization of the minimum cycle mean in a digraph*, Discrete Math. 23, 1978,
//! 309-311, for the mean; F. Baccelli, G. Cohen, G. J. Olsder, J.-P. Quadrat, *Synchronization and Linearity*, 1992, for
//! the ratio). All times are whole microseconds, so the answer is a fraction without error.

mod graph;
mod holding;
mod howard;
mod limit;
mod net;
mod pace;
mod steady;

pub use graph::{EventGraph, Firing, Link, Meaning};
pub use holding::{Hold, can_hold};
pub use howard::{Critical, Ratio, largest_ratio, ratio_above};
pub use limit::{Limit, limit_of};
pub use net::{NetLimit, net_rate, net_rate_or_miss};
pub use pace::Times;
pub use steady::Steady;

use crate::ring::Ring;
use crate::units::{CarrierRate, ExactRate, RATE_TOLERANCE};
use graph::Unfolded;
use pace::Sweeps;

/// The exact rate, and the cycle that sets it. `None` when the unfolded graph would be larger than
/// 400,000 firings (batches with a huge common multiple).
#[must_use]
pub fn rate(ring: &Ring) -> Option<(ExactRate, Limit)> {
    rate_or_miss(ring, None, &mut Times::default())
}

/// A target as an exact rate, to the microsecond in a thousand seconds.
fn target_rate(target: CarrierRate) -> ExactRate {
    const MICROS: i64 = 1_000_000_000_000;
    #[allow(clippy::cast_possible_truncation, clippy::cast_precision_loss)]
    let carriers = (target.as_per_second() * (MICROS as f64 * 1e-6)).ceil() as i64;
    ExactRate::new(carriers, MICROS)
}

/// As [`rate`], for a comparison with `target` only: a ring that keeps it is said to make just that; of one that does not,
/// the first cycle met that is slower is given. `times` are those of a like ring that kept its target, and become this one's
/// when it does.
#[must_use]
pub fn rate_or_miss(ring: &Ring, target: Option<CarrierRate>, times: &mut Times) -> Option<(ExactRate, Limit)> {
    match ring.start() {
        Some(start) => rate_or_miss_from(ring, &start, target, times),
        None => Some((ExactRate::STUCK, Limit::DoNotFit)),
    }
}

/// As [`rate_or_miss`] when so many carriers start in each section.
#[must_use]
pub fn rate_or_miss_from(
    ring: &Ring,
    start: &[u32],
    target: Option<CarrierRate>,
    times: &mut Times,
) -> Option<(ExactRate, Limit)> {
    let unfolded = Unfolded::from_start(ring, start).ok()?;
    let iteration = i64::from(unfolded.iteration);
    let rate = |ratio: Ratio| ExactRate::new(iteration * ratio.tokens, ratio.time);
    let mut limit = f64::INFINITY;
    if let Some(target) = target {
        // A hair above what still counts, so that the caller's comparison decides.
        limit = f64::from(unfolded.iteration) / (target.as_per_second() * (1.0 - RATE_TOLERANCE)) * 1e6 * (1.0 + 1e-9);
        match pace::sweeps(&unfolded, limit, times) {
            Sweeps::Kept => return Some((target_rate(target), Limit::Unknown)),
            Sweeps::Slower(ratio, cycle) => {
                let links = cycle.iter().map(|&link| unfolded.links[link].2);
                return Some((rate(ratio), limit::limit_by(ring, links)));
            }
            Sweeps::Unknown => {}
        }
    }
    let graph = unfolded.graph(ring);
    match ratio_above(&graph, limit) {
        Some(critical) => Some((rate(critical.ratio), limit_of(ring, &graph, &critical))),
        None => Some((ExactRate::STUCK, limit::stuck(ring))),
    }
}

#[cfg(test)]
mod tests;
