//! The same of several circuits: a value belongs to one of them, or to all.

use super::{LargestRate, Relief, largest, least_change, set, size};
use crate::coupled::{Asked, CoupledCell, CoupledOutcome, CoupledParts, any_plan, keeping_only, requirements};
use crate::explain::Requirement;
use crate::study::Clock;
use crate::units::Metres;

/// The cell with one requirement at a multiple of what is asked. None where that makes no cell.
#[must_use]
pub fn at_times(cell: &CoupledCell, asked: Asked, times: f64) -> Option<CoupledCell> {
    let mut parts = cell.parts().clone();
    match asked {
        Asked::Of(circuit, requirement) => set(&mut parts.circuits[circuit].parts, requirement, times),
        Asked::Whole(requirement @ (Requirement::Floor | Requirement::MaxPrice)) => {
            // What is asked of the whole stands beside the circuits.
            let mut whole = parts.circuits.first()?.parts.clone();
            whole.requirements = parts.requirements;
            set(&mut whole, requirement, times);
            parts.requirements = whole.requirements;
        }
        Asked::Whole(requirement) => parts.circuits.iter_mut().for_each(|c| set(&mut c.parts, requirement, times)),
    }
    CoupledCell::new(parts).ok()
}

/// Whether there is a plan; none when time ran out.
fn possible(cell: Option<&CoupledCell>, clock: &Clock<'_>) -> Option<bool> {
    match any_plan(cell?, &clock.share(0.5)) {
        CoupledOutcome::Planned(_) => Some(true),
        CoupledOutcome::Impossible(_) => Some(false),
        CoupledOutcome::Stopped(..) | CoupledOutcome::Broken(..) => None,
    }
}

/// As [`super::relief`], of several circuits.
#[must_use]
pub fn relief(cell: &CoupledCell, asked: Asked, accuracy: f64, clock: &Clock<'_>) -> Relief {
    let kept: Vec<Asked> = requirements(cell).into_iter().filter(|r| *r != asked).collect();
    match possible(keeping_only(cell, &kept).as_ref(), clock) {
        Some(true) => {}
        Some(false) => return Relief::NotAlone,
        None => return Relief::Unknown,
    }
    let (circuit, requirement) = match asked {
        Asked::Of(circuit, requirement) => (circuit, requirement),
        Asked::Whole(requirement) => (0, requirement),
    };
    let Some(own) = cell.cells().get(circuit) else { return Relief::Unknown };
    least_change(size(own, requirement), accuracy, |times| possible(at_times(cell, asked, times).as_ref(), clock))
}

fn at_rates(parts: &CoupledParts, times: f64) -> Option<CoupledCell> {
    let mut parts = parts.clone();
    for circuit in &mut parts.circuits {
        for k in 0..circuit.parts.skus.len() {
            set(&mut circuit.parts, Requirement::Rate(k), times);
        }
    }
    CoupledCell::new(parts).ok()
}

/// As [`super::largest_rate`], of several circuits on a floor of this size.
#[must_use]
pub fn largest_rate(
    cell: &CoupledCell,
    floor: (Metres, Metres),
    from: f64,
    accuracy: f64,
    clock: &Clock<'_>,
) -> LargestRate {
    let mut parts = cell.parts().clone();
    parts.requirements.floor = Some(floor);
    largest(from, accuracy, |times| possible(at_rates(&parts, times).as_ref(), clock))
}
