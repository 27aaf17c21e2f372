//! The exact long-run rate of a ring (model section 7).
//!
//! The rules are a synchronous-dataflow graph (E. A. Lee, D. G. Messerschmitt, *Synchronous data flow*, Proc. IEEE
//! 75(9), 1987, 1235-1245). Unfolded over one iteration it is a timed event graph whose rate is one over its largest
//! cycle ratio (R. M. Karp, *A characterization of the minimum cycle mean in a digraph*, Discrete Math. 23, 1978,
//! 309-311, for the mean; F. Baccelli, G. Cohen, G. J. Olsder, J.-P. Quadrat, *Synchronization and Linearity*, 1992, for
//! the ratio). All times are whole microseconds, so the answer is a fraction without error.

mod graph;
mod howard;
mod limit;
mod steady;

pub use graph::{EventGraph, Firing, Link, Meaning};
pub use howard::{Critical, Ratio, largest_ratio};
pub use limit::{Limit, limit_of};
pub use steady::Steady;

use crate::ring::Ring;
use crate::units::ExactRate;

/// The exact rate, and the cycle that sets it. `None` when the unfolded graph would be larger than
/// [`graph::MOST_FIRINGS`] (batches with a huge common multiple).
#[must_use]
pub fn rate(ring: &Ring) -> Option<(ExactRate, Limit)> {
    let graph = match EventGraph::of(ring) {
        Ok(graph) => graph,
        Err(graph::NoGraph::DoNotFit) => return Some((ExactRate::STUCK, Limit::DoNotFit)),
        Err(graph::NoGraph::TooLarge) => return None,
    };
    match largest_ratio(&graph) {
        Some(critical) => {
            let rate = ExactRate::new(i64::from(graph.iteration()) * critical.ratio.tokens, critical.ratio.time);
            Some((rate, limit_of(ring, &graph, &critical)))
        }
        None => Some((ExactRate::STUCK, limit::stuck(ring))),
    }
}

#[cfg(test)]
mod tests;
