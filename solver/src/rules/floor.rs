//! The footprint fits the floor and holds what feeds the cell, and straights have no more modules than allowed (model
//! sections 6 and 9c).

use super::{Breach, Rule, breach};
use crate::cell::Cell;
use crate::plan::{Numbers, Plan};
use crate::track::{Clearance, Footprint};
use crate::units::Metres;

/// Lengths in a plan are good to this many metres.
const TOLERANCE_M: f64 = 1e-6;

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
    if let (Some(feed), Some(corner)) = (&parts.feed, plan.feed_corner(cell, numbers)) {
        let clearance = parts.requirements.clearance;
        found.extend(beside((&numbers.own_footprint, &numbers.footprint), feed.size(), corner, &clearance));
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

/// What feeds a cell lies beside it, and the footprint (the second of the two; the first is the cell's own) is the rectangle
/// round both, with clearance: from where the two lie, and not from how much a feed adds.
pub(crate) fn beside(
    (own, whole): (&Footprint, &Footprint),
    (long, wide): (Metres, Metres),
    (x, y): (Metres, Metres),
    clearance: &Clearance,
) -> Vec<Breach> {
    let bare = clearance.off(own);
    let (length, width) = (bare.length.m(), bare.width.m());
    let mut found = Vec::new();
    // How deep one reaches into the other along each way.
    let along = |from: f64, size: f64, there: f64| (from + size).min(there) - from.max(0.0);
    let inside = along(x.m(), long.m(), length).min(along(y.m(), wide.m(), width));
    if inside > TOLERANCE_M {
        found.push(breach(
            Rule::Floor,
            format!("the floor of the product stream reaches {:.1} mm into that of the cell", inside * 1e3),
        ));
    }
    let round = |from: f64, size: f64, there: f64| (from + size).max(there) - from.min(0.0);
    let needs = round(x.m(), long.m(), length) + clearance.along();
    let across = round(y.m(), wide.m(), width) + clearance.across();
    if (needs - whole.length.m()).abs().max((across - whole.width.m()).abs()) > TOLERANCE_M {
        found.push(breach(
            Rule::Floor,
            format!(
                "cell and product stream take {needs:.3} x {across:.3} m; the footprint is {:.3} x {:.3} m",
                whole.length.m(),
                whole.width.m()
            ),
        ));
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn m(x: f64) -> Metres {
        Metres::from_m(x)
    }

    /// A cell of 4 x 3 m with half a metre round it, and a feed of 2 x 1 m at its left.
    #[test]
    fn a_feed_lies_beside_and_in_the_footprint() {
        let own = Footprint { length: m(5.0), width: m(4.0) };
        let whole = |length: f64, width: f64| Footprint { length: m(length), width: m(width) };
        let judged = |whole: &Footprint, at: (f64, f64)| {
            beside((&own, whole), (m(2.0), m(1.0)), (m(at.0), m(at.1)), &Clearance::even(m(0.5))).len()
        };
        assert_eq!(judged(&whole(7.0, 4.0), (-2.0, 1.0)), 0);
        assert_eq!(judged(&whole(5.0, 5.0), (1.0, -1.0)), 0);
        assert_eq!(judged(&whole(6.9, 4.0), (-2.0, 1.0)), 1, "a footprint without all of it");
        assert_eq!(judged(&whole(6.9, 4.0), (-1.9, 1.0)), 1, "it reaches into the cell");
        assert_eq!(judged(&whole(5.0, 4.0), (-1.0, 1.0)), 2);
    }
}
