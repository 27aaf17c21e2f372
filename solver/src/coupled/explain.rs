//! Which requirements of a coupled cell cannot hold together, across its circuits.

use super::search::{CoupledOutcome, any_plan};
use super::{CoupledCell, CoupledParts, Stand};
use crate::explain::{self, PROBE_SHARE, Probe, Requirement, deletion, relax};
use crate::study::Clock;

/// Something that was asked and could be given up.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Asked {
    /// Of the cell as a whole: a rate, the floor, the price.
    Whole(Requirement),
    /// Of one circuit, by its index; stations, sections and windows are counted on it.
    Of(usize, Requirement),
}

/// Requirements that cannot hold together.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Conflict {
    /// The set; empty when physics and geometry alone leave no plan.
    pub requirements: Vec<Asked>,
    /// Whether leaving out any one of them was shown to help. False when time ran out on the way.
    pub minimal: bool,
}

/// Every requirement that a coupled cell states, those first that explain least.
#[must_use]
pub fn requirements(coupled: &CoupledCell) -> Vec<Asked> {
    let mut all = Vec::new();
    for (circuit, cell) in coupled.cells().iter().enumerate() {
        let own = explain::requirements(cell).into_iter().filter(|requirement| {
            let joint = |station: usize| coupled.joint_at(Stand { circuit, station });
            match *requirement {
                Requirement::Rate(_) | Requirement::Hand => false,
                // Where a hand-off stands follows from where its circuits lie.
                Requirement::Side(i) => joint(i).is_none(),
                // One station, so one wish.
                Requirement::FixedMode(i) | Requirement::FixedHeads(i) => {
                    joint(i).is_none_or(|joint| joint.first.circuit == circuit)
                }
                _ => true,
            }
        });
        all.extend(own.map(|requirement| Asked::Of(circuit, requirement)));
    }
    let openings = coupled.cells().iter().map(|cell| cell.parts().openings);
    let turned = openings.clone().any(|o| o.hand.is_some()) && openings.clone().any(|o| o.ends());
    all.extend(turned.then_some(Asked::Whole(Requirement::Hand)));
    let asked = &coupled.parts().requirements;
    all.extend(asked.max_price.map(|_| Asked::Whole(Requirement::MaxPrice)));
    let places = coupled.keep_out().iter().enumerate().filter(|(_, place)| place.asked);
    all.extend(places.map(|(i, _)| Asked::Whole(Requirement::KeepOut(i))));
    all.extend(asked.floor.map(|_| Asked::Whole(Requirement::Floor)));
    let skus = coupled.cells().first().map_or(&[][..], |cell| &cell.parts().skus);
    let rates = skus.iter().enumerate().filter(|(_, sku)| sku.demanded);
    all.extend(rates.map(|(k, _)| Asked::Whole(Requirement::Rate(k))));
    all
}

fn give_up(parts: &mut CoupledParts, asked: Asked) {
    match asked {
        Asked::Whole(Requirement::MaxPrice) => parts.requirements.max_price = None,
        Asked::Whole(Requirement::Floor) => parts.requirements.floor = None,
        Asked::Whole(Requirement::KeepOut(i)) => parts.circuits[0].parts.keep_out[i].asked = false,
        Asked::Whole(requirement) => parts.circuits.iter_mut().for_each(|c| relax(&mut c.parts, requirement)),
        Asked::Of(circuit, requirement) => {
            relax(&mut parts.circuits[circuit].parts, requirement);
            if let Requirement::FixedMode(i) | Requirement::FixedHeads(i) = requirement {
                let here = Stand { circuit, station: i };
                let fixed = parts.circuits[circuit].parts.stations[i].fixed;
                let other = parts.joints.iter().find(|j| j.first == here).map(|j| j.second);
                if let Some(other) = other {
                    parts.circuits[other.circuit].parts.stations[other.station].fixed = fixed;
                }
            }
        }
    }
}

/// The cell with only these requirements; all others relaxed. None only if the parts no longer make a cell.
#[must_use]
pub fn keeping_only(coupled: &CoupledCell, kept: &[Asked]) -> Option<CoupledCell> {
    let mut parts = coupled.parts().clone();
    for asked in requirements(coupled) {
        if !kept.contains(&asked) {
            give_up(&mut parts, asked);
        }
    }
    CoupledCell::new(parts).ok()
}

/// Finds a smallest set by leaving out requirements as long as the rest still cannot be planned.
#[must_use]
pub fn conflict(coupled: &CoupledCell, clock: &Clock<'_>) -> Conflict {
    let (requirements, minimal) = deletion(requirements(coupled), |rest| {
        match keeping_only(coupled, rest).map(|relaxed| any_plan(&relaxed, &clock.share(PROBE_SHARE))) {
            Some(CoupledOutcome::Impossible(_)) => Probe::Impossible,
            Some(CoupledOutcome::Planned(_)) | None => Probe::Possible,
            Some(CoupledOutcome::Stopped(..) | CoupledOutcome::Broken(..)) => Probe::Unknown,
        }
    });
    Conflict { requirements, minimal }
}
