//! The footprint fits the floor, and straights have no more modules than allowed (model section 6).

use super::{Breach, Rule, breach};
use crate::cell::Cell;
use crate::plan::{Numbers, Plan};

pub(super) fn verdict(cell: &Cell, plan: &Plan, numbers: &Numbers) -> Vec<Breach> {
    let parts = cell.parts();
    let mut found = Vec::new();
    if let Some(floor) = parts.requirements.floor
        && !cell.has_room(&numbers.footprint)
    {
        let around = parts.keep_out.iter().filter(|k| k.asked).count();
        let around = match around {
            0 => String::new(),
            1 => ", round what must be kept out of".to_owned(),
            n => format!(", round {n} places that must be kept out of"),
        };
        found.push(breach(
            Rule::Floor,
            format!(
                "footprint {:.3} x {:.3} m does not fit the floor of {:.3} x {:.3} m{around}",
                numbers.footprint.length.m(),
                numbers.footprint.width.m(),
                floor.0.m(),
                floor.1.m()
            ),
        ));
    }
    let most = parts.circuit.track.max_modules;
    if plan.modules > most || plan.modules == 0 {
        found.push(breach(
            Rule::Floor,
            format!("{} modules in a straight; between 1 and {most} are allowed", plan.modules),
        ));
    }
    found
}
