//! A circuit reduced to what moves: batches, slots and whole microseconds, for one SKU.
//!
//! Both judges of a rate, the event graph and the timed run, start from this record and share nothing else.

use crate::option::{Flow, SkuOption};
use crate::units::{Micros, Seconds};

/// A station on the ring.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RingStation {
    /// Carriers in a batch, at least 1.
    pub batch: u32,
    /// Least time between batches.
    pub cycle: Micros,
    /// Until the slots before the station are free.
    pub move_in: Micros,
    /// From being taken in to being ready to leave.
    pub residence: Micros,
    /// What happens inside.
    pub flow: Flow,
}

impl RingStation {
    /// From an option, times rounded to whole microseconds.
    #[must_use]
    pub fn of(option: &SkuOption) -> Self {
        Self {
            batch: option.batch,
            cycle: Micros::nearest(option.cycle),
            move_in: Micros::nearest(option.move_in),
            residence: Micros::nearest(option.residence),
            flow: option.flow,
        }
    }
}

/// The section after the station of the same index.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct RingSection {
    /// Carriers that it holds.
    pub slots: u32,
    /// From leaving the station before to being ready at the next.
    pub lag: Micros,
}

impl RingSection {
    /// With the lag rounded to whole microseconds.
    #[must_use]
    pub fn new(slots: u32, lag: Seconds) -> Self {
        Self { slots, lag: Micros::nearest(lag) }
    }
}

/// One SKU's circuit. `sections[i]` lies between station `i` and the next; station 0 is `order[0]`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ring {
    /// In travel order, at least one.
    pub stations: Vec<RingStation>,
    /// As many as stations.
    pub sections: Vec<RingSection>,
    /// Carriers on the circuit.
    pub carriers: u32,
}

impl Ring {
    /// All slots together.
    #[must_use]
    pub fn slots(&self) -> u64 {
        self.sections.iter().map(|s| u64::from(s.slots)).sum()
    }

    /// Where the carriers start: in the section before station 0, then (when that is full) the one before it, and so
    /// on backwards. None when they do not fit.
    #[must_use]
    pub fn start(&self) -> Option<Vec<u32>> {
        let mut left = self.carriers;
        let mut start = vec![0; self.sections.len()];
        for (place, section) in start.iter_mut().zip(&self.sections).rev() {
            *place = left.min(section.slots);
            left -= *place;
        }
        (left == 0).then_some(start)
    }

    /// Index of the station after `i`.
    #[must_use]
    pub fn next(&self, i: usize) -> usize {
        (i + 1) % self.stations.len()
    }
}
