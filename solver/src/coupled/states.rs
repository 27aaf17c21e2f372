//! What a search of several circuits decides, state by state.

use super::search::SAME_AREA;
use crate::option::Mode;
use std::cmp::Ordering;

/// Outline and modules of every circuit.
pub(super) type Loops = Vec<(usize, u32)>;

/// Way of working and heads of a joint.
pub(super) type Chosen = (Mode, u32);

/// What is decided: outline and modules of every circuit, and the work of every joint or none.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct State {
    pub(super) area: f64,
    pub(super) loops: Loops,
    pub(super) work: Option<Vec<Chosen>>,
}

impl Eq for State {}

impl Ord for State {
    /// The least area comes first out of the heap, then fewer modules, then what is further decided; then any order that
    /// stays the same, so that runs repeat.
    fn cmp(&self, other: &Self) -> Ordering {
        let modules = |s: &Self| s.loops.iter().map(|l| l.1).sum::<u32>();
        // In steps of the areas that count as equal, so that the order is one.
        let steps = |s: &Self| (s.area / SAME_AREA).round();
        steps(other)
            .total_cmp(&steps(self))
            .then(modules(other).cmp(&modules(self)))
            .then(self.work.is_some().cmp(&other.work.is_some()))
            .then_with(|| other.loops.cmp(&self.loops))
            .then_with(|| other.work.cmp(&self.work))
    }
}

impl PartialOrd for State {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

/// A state that was not settled at the first look.
#[derive(Clone, Debug)]
pub(super) struct Aside {
    pub(super) state: State,
    /// How often it was looked at.
    pub(super) looks: usize,
}
