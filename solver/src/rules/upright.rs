//! Upright loops: the bottom straight is a return, upside down (model section 6).

use super::{Breach, Rule, breach, section_name};
use crate::cell::Cell;
use crate::plan::{Numbers, Plan};
use crate::section::Ends;
use crate::units::GRAVITY_M_S2;

pub(super) fn verdict(cell: &Cell, plan: &Plan, numbers: &Numbers) -> Vec<Breach> {
    if !plan.upright(cell) {
        return Vec::new();
    }
    let mut found = Vec::new();
    let Some(below) = numbers.ends.iter().position(|e| *e == Ends::Both) else {
        return vec![breach(Rule::Upright, "no section holds the return straight".to_string())];
    };
    if !cell.may_return_below(below) {
        found.push(breach(
            Rule::Upright,
            format!(
                "section {}: loads that are not held would hang upside down on the return",
                section_name(cell, below)
            ),
        ));
    }
    for (k, sku) in cell.parts().skus.iter().enumerate() {
        if let Some((force, needed)) = lift(cell, below, k)
            && force < needed
        {
            found.push(breach(
                Rule::Upright,
                format!("SKU {}: {force:.1} N do not lift a carrier up the ends, which takes {needed:.1} N", sku.id),
            ));
        }
    }
    found
}

/// Force at hand and force needed up the ends, where a peak force is given.
fn lift(cell: &Cell, below: usize, sku: usize) -> Option<(f64, f64)> {
    let carrier = &cell.parts().circuit.carrier;
    let peak = carrier.peak_force?.n() * f64::from(carrier.movers);
    let there = cell.mass_there(below, sku).kg();
    Some((peak, carrier.friction_force.n() + there * GRAVITY_M_S2))
}

/// Whether the force lifts every SKU up the ends when the section after station `below` is the return.
#[must_use]
pub fn force_lifts(cell: &Cell, below: usize) -> bool {
    (0..cell.parts().skus.len()).all(|k| lift(cell, below, k).is_none_or(|(force, needed)| force >= needed))
}

/// Whether the section after station `below` may be the return of an upright loop.
#[must_use]
pub fn may_stand_upright(cell: &Cell, below: usize) -> bool {
    cell.may_return_below(below) && force_lifts(cell, below)
}
