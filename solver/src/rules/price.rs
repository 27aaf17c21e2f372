//! Stations, track and carriers cost no more than allowed (model section 8).

use super::{Breach, Rule, breach};
use crate::cell::Cell;
use crate::plan::Numbers;
use crate::units::Money;

/// Rounding that the sum of prices is allowed, relative.
const SLACK: f64 = 1e-9;

pub(super) fn verdict(cell: &Cell, numbers: &Numbers) -> Vec<Breach> {
    let most = cell.parts().requirements.max_price.map(Money::units);
    let over = most.filter(|most| numbers.price.units() > most * (1.0 + SLACK));
    let says = |most: f64| format!("price {:.2}; at most {most:.2} is allowed", numbers.price.units());
    over.map(|most| breach(Rule::Price, says(most))).into_iter().collect()
}

/// What the limit leaves for stations and carriers beside two straights of so many modules and two ends; none without a
/// limit. Below 0 where the track alone costs more.
#[must_use]
pub fn money_left(cell: &Cell, modules: u32) -> Option<Money> {
    let track = &cell.parts().circuit.track;
    // Half of what the verdict lets pass, since these sums are taken in another order.
    let most = cell.parts().requirements.max_price?.units() * (1.0 + 0.5 * SLACK);
    let of_track = 2.0 * f64::from(modules) * track.module_price.units() + 2.0 * track.curve_price.units();
    Some(Money::from_units(most - of_track))
}

/// The most carriers that the limit allows with so many modules in a straight, beside stations of such a price.
#[must_use]
pub fn affordable(cell: &Cell, modules: u32, stations: Money) -> u32 {
    let Some(left) = money_left(cell, modules).map(|left| left.units() - stations.units()) else { return u32::MAX };
    let each = cell.parts().circuit.carrier.price.units();
    if left < 0.0 {
        0
    } else if each <= 0.0 {
        u32::MAX
    } else {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // Not below 0, and cut to what fits.
        let most = (left / each).floor().min(f64::from(u32::MAX)) as u32;
        most
    }
}
