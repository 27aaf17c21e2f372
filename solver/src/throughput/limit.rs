//! What a critical cycle says, in the words of the trade.

use super::graph::{EventGraph, Link, Meaning};
use super::howard::Critical;
use crate::ring::Ring;

/// What sets the rate of a ring. Stations and sections by index; a section follows its station.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Limit {
    /// A station's own cycle.
    Station(usize),
    /// Too few carriers for the way round.
    Carriers,
    /// Too few slots in this section.
    Slots(usize),
    /// Too few free slots on the whole way round: the holes do not come back fast enough.
    Holes,
    /// The way to the next section's slots through several stations: these stations, with their sections.
    Chain(Vec<usize>),
    /// The carriers do not fit the slots.
    DoNotFit,
    /// Nothing can ever move.
    Stuck,
    /// Not known: the rate was timed, not read from a critical cycle.
    Unknown,
}

/// Reads the critical cycle.
#[must_use]
pub fn limit_of(ring: &Ring, graph: &EventGraph, critical: &Critical) -> Limit {
    limit_by(ring, critical.cycle.iter().map(|&edge| graph.inner()[edge]))
}

/// Reads the links of a critical cycle.
pub(super) fn limit_by(ring: &Ring, cycle: impl Iterator<Item = Link>) -> Limit {
    let stations = ring.stations.len();
    let mut driven = vec![false; stations];
    let mut slotted = vec![false; stations];
    let mut worked = vec![false; stations];
    for link in cycle {
        match link.meaning {
            Meaning::Work(i) => worked[i] = true,
            Meaning::Drive(i) => driven[i] = true,
            Meaning::Slot(i) => slotted[i] = true,
            Meaning::Free(_) | Meaning::Other => {}
        }
    }
    let forward = driven.iter().any(|&d| d);
    let backward = slotted.iter().any(|&s| s);
    match (forward, backward) {
        (false, false) => worked.iter().position(|&w| w).map_or(Limit::Stuck, Limit::Station),
        (true, false) => Limit::Carriers,
        (false, true) => Limit::Holes,
        (true, true) => {
            let sections: Vec<usize> = (0..stations).filter(|&i| slotted[i]).collect();
            match sections.as_slice() {
                [one] => Limit::Slots(*one),
                _ if sections.len() == stations => Limit::Holes,
                _ => Limit::Chain(sections),
            }
        }
    }
}

/// Why a ring whose carriers fit never moves: too few carriers for some batch, or too few slots for it.
pub(super) fn stuck(ring: &Ring) -> Limit {
    for (i, section) in ring.sections.iter().enumerate() {
        let (b, d) = (ring.stations[i].batch, ring.stations[ring.next(i)].batch);
        if section.slots < b + d - crate::units::gcd(b, d) {
            return Limit::Slots(i);
        }
    }
    if u64::from(ring.carriers) < ring.slots() / 2 { Limit::Carriers } else { Limit::Holes }
}
