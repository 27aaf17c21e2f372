//! The carriers fit the slots of every SKU and are no more than allowed (model sections 2 and 7).

use super::{Breach, Rule, breach};
use crate::cell::Cell;
use crate::plan::{Numbers, Plan};

pub(super) fn verdict(cell: &Cell, plan: &Plan, numbers: &Numbers) -> Vec<Breach> {
    let parts = cell.parts();
    let mut found = Vec::new();
    if let Some(most) = parts.circuit.max_carriers
        && plan.carriers > most
    {
        found.push(breach(Rule::Carriers, format!("{} carriers; at most {most} are allowed", plan.carriers)));
    }
    for (k, sku) in parts.skus.iter().enumerate() {
        let fit: u64 = numbers.slots.iter().map(|s| u64::from(s[k])).sum();
        if u64::from(plan.carriers) > fit {
            found.push(breach(
                Rule::Carriers,
                format!("SKU {}: {} carriers do not fit the {fit} slots of all sections", sku.id, plan.carriers),
            ));
        }
    }
    found
}
