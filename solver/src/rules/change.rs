//! Changes from SKU to SKU keep their limit, where that is asked (section 9a of the planning model).

use super::{Breach, Rule, breach};
use crate::cell::Cell;
use crate::changeover::Changeover;
use crate::plan::{Numbers, Plan};
use crate::units::Micros;

pub(super) fn verdict(cell: &Cell, plan: &Plan, numbers: &Numbers) -> Vec<Breach> {
    let parts = cell.parts();
    let Some(limit) = parts.changes.kept_limit().map(Micros::nearest) else { return Vec::new() };
    let changeover = Changeover::with(cell, plan, numbers);
    let Some(worst) = changeover.longest().filter(|worst| worst.total > limit) else { return Vec::new() };
    let minutes = |time: Micros| time.seconds() / 60.0;
    vec![breach(
        Rule::Change,
        format!(
            "from {} to {} a change takes {:.2} minutes; at most {:.2} are allowed",
            parts.skus[worst.from].id,
            parts.skus[worst.to].id,
            minutes(worst.total),
            minutes(limit)
        ),
    )]
}
