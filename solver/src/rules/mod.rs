//! The rules of the model, one file each: what a finished plan must keep to.
//!
//! A verdict takes only the cell, the plan and their arithmetic. It cannot see a row or a variable of the optimiser, so
//! it can disagree with it. Where the optimiser needs the same rule as a bound, that bound stands in the same file, apart.

mod carriers;
mod change;
mod duty;
mod dwell;
mod fixed;
mod floor;
mod geometry;
mod price;
mod rate;
mod slots;
mod stands;
mod upright;

pub use duty::{Lap, ModuleLoad, module_loads, motor_rms};
pub(crate) use dwell::window_breach;
pub use dwell::{MOST_STARTS, Paced, longest_allowed, paced, windows_hold};
pub(crate) use floor::beside;
pub use price::{affordable, money_left};
pub use rate::{exact, exact_or_miss};
pub use slots::{PairNeeds, least_slots};
pub(crate) use stands::frames_apart;
pub use upright::{force_lifts, may_stand_upright};

use crate::cell::Cell;
use crate::plan::{Misfit, Plan};

/// Something that does not hold.
#[derive(Clone, Debug, PartialEq)]
pub struct Breach {
    /// Which rule.
    pub rule: Rule,
    /// Said with both numbers.
    pub says: String,
}

/// The rules.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Rule {
    /// The plan names what the cell does not have.
    Names,
    /// Zones and sections lie whole, in order, and add up to the loop.
    Geometry,
    /// Stations stand where they may, frames do not overlap.
    Stands,
    /// Upright loops: what is below travels empty or held, and the force lifts it.
    Upright,
    /// Footprint on the floor, modules within the limit.
    Floor,
    /// Capacity of every option.
    Capacity,
    /// Slots and least lengths of sections.
    Slots,
    /// Carriers fit, and are not too many.
    Carriers,
    /// Every SKU makes its rate.
    Rate,
    /// Longest times in sections.
    Dwell,
    /// Times across several stations.
    Window,
    /// Motors are not overloaded.
    Duty,
    /// What was decided beforehand is kept.
    Fixed,
    /// Changes from SKU to SKU keep their limit, where that is asked.
    Change,
    /// The price is within its limit.
    Price,
    /// Both sides of a hand-off work alike.
    Joint,
    /// Hand-offs lie at the same place along the floor on both circuits.
    Placing,
}

impl Rule {
    /// Every rule.
    pub const ALL: [Self; 17] = [
        Self::Names,
        Self::Geometry,
        Self::Stands,
        Self::Upright,
        Self::Floor,
        Self::Capacity,
        Self::Slots,
        Self::Carriers,
        Self::Rate,
        Self::Dwell,
        Self::Window,
        Self::Duty,
        Self::Fixed,
        Self::Change,
        Self::Price,
        Self::Joint,
        Self::Placing,
    ];

    /// One word for it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Names => "names",
            Self::Geometry => "geometry",
            Self::Stands => "stands",
            Self::Upright => "upright",
            Self::Floor => "floor",
            Self::Capacity => "capacity",
            Self::Slots => "slots",
            Self::Carriers => "carriers",
            Self::Rate => "rate",
            Self::Dwell => "dwell",
            Self::Window => "window",
            Self::Duty => "duty",
            Self::Fixed => "fixed",
            Self::Change => "change",
            Self::Price => "price",
            Self::Joint => "joint",
            Self::Placing => "placing",
        }
    }
}

pub(crate) fn breach(rule: Rule, says: String) -> Breach {
    Breach { rule, says }
}

/// Everything about a plan that does not hold; empty when it is good.
#[must_use]
pub fn verdicts(cell: &Cell, plan: &Plan) -> Vec<Breach> {
    judged(cell, plan, true)
}

/// The same without long-run rates and times: what a circuit must keep to by itself, whatever the circuits beside it do.
#[must_use]
pub(crate) fn alone(cell: &Cell, plan: &Plan) -> Vec<Breach> {
    judged(cell, plan, false)
}

fn judged(cell: &Cell, plan: &Plan, moving: bool) -> Vec<Breach> {
    let numbers = match plan.numbers(cell) {
        Ok(numbers) => numbers,
        Err(misfit) => return vec![breach(Rule::Names, misfit_says(cell, plan, &misfit))],
    };
    let mut all = geometry::verdict(cell, plan, &numbers);
    all.extend(stands::verdict(cell, plan, &numbers));
    all.extend(upright::verdict(cell, plan, &numbers));
    all.extend(floor::verdict(cell, plan, &numbers));
    all.extend(slots::verdict(cell, plan, &numbers));
    all.extend(carriers::verdict(cell, plan, &numbers));
    all.extend(rate::capacities(cell, &numbers));
    if moving {
        all.extend(rate::verdict(cell, plan, &numbers));
        all.extend(dwell::verdict(cell, plan, &numbers));
    }
    all.extend(duty::verdict(cell, plan, &numbers));
    all.extend(fixed::verdict(cell, plan));
    all.extend(change::verdict(cell, plan, &numbers));
    all.extend(price::verdict(cell, &numbers));
    all
}

fn misfit_says(cell: &Cell, plan: &Plan, misfit: &Misfit) -> String {
    let parts = cell.parts();
    match *misfit {
        Misfit::Count => format!(
            "the plan has {} stations and {} sections; the cell has {} of each",
            plan.stations.len(),
            plan.sections.len(),
            cell.len()
        ),
        Misfit::Form => "the plan's form is none of the cell's".to_string(),
        Misfit::Option(i) => format!(
            "station {}: {} with {} heads is not one of its options",
            parts.stations[i].id,
            plan.stations[i].mode.word(),
            plan.stations[i].heads
        ),
    }
}

/// The name of the section after station `i`.
#[must_use]
pub fn section_name(cell: &Cell, i: usize) -> String {
    let stations = &cell.parts().stations;
    format!("{} to {}", stations[i].id, stations[(i + 1) % stations.len()].id)
}
