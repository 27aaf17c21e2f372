//! Every option's capacity and every SKU's exact long-run rate reach the design rate (model sections 4 and 7).

use super::{Breach, Rule, breach};
use crate::cell::Cell;
use crate::plan::{Numbers, Plan};
use crate::ring::Ring;
use crate::sim::{Watch, run};
use crate::throughput::{Limit, Times, rate_or_miss};
use crate::units::{CarrierRate, ExactRate};

/// Options whose own capacity is too low.
pub(super) fn capacities(cell: &Cell, numbers: &Numbers) -> Vec<Breach> {
    let parts = cell.parts();
    let mut found = Vec::new();
    for (station, option) in parts.stations.iter().zip(&numbers.options) {
        for ((sku, ride), of) in parts.skus.iter().zip(cell.rides()).zip(&option.skus) {
            if of.capacity.as_per_second() < ride.phi() * (1.0 - 1e-9) {
                found.push(breach(
                    Rule::Capacity,
                    format!(
                        "station {}, SKU {}: capacity {:.3} a minute is below the design rate {:.3}",
                        station.id,
                        sku.id,
                        of.capacity.as_per_minute(),
                        ride.rate.as_per_minute()
                    ),
                ));
            }
        }
    }
    found
}

/// Long-run rates that are too low.
pub(super) fn verdict(cell: &Cell, plan: &Plan, numbers: &Numbers) -> Vec<Breach> {
    let parts = cell.parts();
    let mut found = Vec::new();
    for (k, (sku, ride)) in parts.skus.iter().zip(cell.rides()).enumerate() {
        if !ride.demanded {
            continue;
        }
        let (rate, _) = exact(&numbers.ring(k, plan.carriers));
        if !rate.makes(ride.rate) {
            found.push(breach(
                Rule::Rate,
                format!(
                    "SKU {}: {:.4} carriers a minute are below the design rate {:.4}",
                    sku.id,
                    rate.rate().as_per_minute(),
                    ride.rate.as_per_minute()
                ),
            ));
        }
    }
    found
}

/// Exact rate and what limits it. Batches with a huge common multiple, whose event graph would be too large, are timed
/// instead (slope, good to 1e-4).
#[must_use]
pub fn exact(ring: &Ring) -> (ExactRate, Limit) {
    exact_or_miss(ring, None, &mut Times::default())
}

/// As [`exact`]; but a rate below `target` is only said to be below it. `times` as for [`rate_or_miss`].
#[must_use]
pub fn exact_or_miss(ring: &Ring, target: Option<CarrierRate>, times: &mut Times) -> (ExactRate, Limit) {
    rate_or_miss(ring, target, times).unwrap_or_else(|| {
        let timed = run(ring, &Watch { most_starts: 100_000, ..Watch::default() });
        (timed.rate, Limit::Unknown)
    })
}
