//! What the search knows about the places that it looks at.

use super::fold::Kept;
use super::known::Laid;
use super::program::Cut;
use crate::plan::Plan;
use std::cmp::Ordering;

/// A fold with so many modules, by floor area.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Place {
    pub(super) area: f64,
    pub(super) fold: usize,
    pub(super) modules: u32,
}

impl Eq for Place {}

impl Ord for Place {
    /// The least area comes first out of the heap; then the order of folds, so that runs repeat.
    fn cmp(&self, other: &Self) -> Ordering {
        other.area.total_cmp(&self.area).then(other.fold.cmp(&self.fold)).then(other.modules.cmp(&self.modules))
    }
}

impl PartialOrd for Place {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

/// A place with what is known about it.
pub(super) struct Site {
    pub(super) place: Place,
    pub(super) kept: Kept,
    pub(super) cuts: Vec<Cut>,
    /// Choices that could not be decided.
    pub(super) doubts: Vec<Doubt>,
    /// The program counts whole slots.
    pub(super) whole_slots: bool,
    /// Candidates that may still be cut off in this visit.
    pub(super) tries: u32,
    /// How long candidates are looked at.
    pub(super) effort: u32,
    /// Plans with at most so many carriers were looked for and are not there (beside doubts).
    pub(super) excluded: u32,
}

impl Site {
    /// Nothing known yet, but what its straights can hold.
    pub(super) fn new(place: Place, kept: Kept, tries: u32) -> Self {
        Self { place, kept, cuts: Vec::new(), doubts: Vec::new(), whole_slots: false, tries, effort: 0, excluded: 0 }
    }
}

/// A choice that could not be decided.
pub(super) struct Doubt {
    pub(super) choice: Vec<usize>,
    /// Fewest carriers that are in doubt.
    pub(super) carriers: u32,
    /// Whether more work might decide it.
    pub(super) open: bool,
}

pub(super) struct Best {
    pub(super) plan: Plan,
    pub(super) area: f64,
    pub(super) site: Place,
    pub(super) carriers: u32,
    pub(super) price: f64,
    pub(super) laid: Laid,
}

/// What the exact check said of a choice.
pub(super) struct Tried {
    pub(super) found: bool,
    /// Carriers that it needs at least; none when no number works.
    pub(super) needs: Option<u32>,
    /// Fewest carriers with which it could not be decided, and whether more work might.
    pub(super) unsure: Option<(u32, bool)>,
}
