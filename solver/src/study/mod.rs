//! The pipeline, in reading order: options and needs, folds, candidates by ascending floor area, exact check, cut,
//! re-solve. The loop of cut and re-solve lives in `search` and nowhere else.

mod chain;
mod exact;
mod fit;
mod fold;
mod keeping;
mod known;
mod leap;
mod listing;
mod part;
mod price;
mod program;
mod search;
mod shapes;
mod site;
mod space;
mod waits;

pub use known::Shown;
pub(crate) use part::{Part, Terms, part};
pub use shapes::{Lay, Shape, shapes};

use fold::Folds;
use program::Builder;
use space::Space;

use crate::cell::Cell;
use crate::milp::Program;
use crate::plan::Plan;
use crate::rules::{Breach, verdicts};
use crate::units::{Area, Money};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// How far a search has come.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Progress {
    /// Floor area of the best plan so far, and its carriers.
    pub best: Option<(Area, u32)>,
    /// No plan has less floor area.
    pub bound: Area,
    /// Effort so far.
    pub effort: Effort,
}

/// Somebody who wants to know how far a search has come. Called from the searching thread: be quick.
pub trait Watch: Sync {
    /// Called at each round of the search. Bounds never fall; the floor area of the best plan rises at most by the footprint
    /// tolerance that was asked for, when a plan with fewer carriers is found within it.
    fn progress(&self, progress: &Progress);
}

/// The engine's one clock: a time limit and a cancel flag, both handed in, and who watches.
#[derive(Clone, Copy)]
pub struct Clock<'a> {
    end: Instant,
    cancel: &'a AtomicBool,
    watch: Option<&'a dyn Watch>,
}

impl std::fmt::Debug for Clock<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Clock").field("end", &self.end).field("cancel", self.cancel).finish_non_exhaustive()
    }
}

impl<'a> Clock<'a> {
    /// Starts now.
    #[must_use]
    pub fn new(limit: Duration, cancel: &'a AtomicBool) -> Self {
        Self { end: Instant::now() + limit, cancel, watch: None }
    }

    /// The same clock with somebody who is told of progress.
    #[must_use]
    pub fn watched(self, watch: &'a dyn Watch) -> Self {
        Self { watch: Some(watch), ..self }
    }

    pub(crate) fn tell(&self, progress: &Progress) {
        if let Some(watch) = self.watch {
            watch.progress(progress);
        }
    }

    /// A clock that ends after a part of the time left, with the same cancel flag; nobody watches it.
    #[must_use]
    pub fn share(&self, part: f64) -> Self {
        let left = self.end.saturating_duration_since(Instant::now());
        Self { end: Instant::now() + left.mul_f64(part.clamp(0.0, 1.0)), cancel: self.cancel, watch: None }
    }

    /// Whether to stop.
    #[must_use]
    pub fn over(&self) -> bool {
        self.cancel.load(Ordering::Relaxed) || Instant::now() >= self.end
    }

    /// Seconds left.
    #[must_use]
    pub fn left(&self) -> f64 {
        if self.over() { 0.0 } else { (self.end - Instant::now()).as_secs_f64() }
    }
}

/// A quantity with the least value that any plan could have.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Proof<T> {
    /// No plan has less.
    pub bound: T,
    /// Whether the plan has exactly that.
    pub proven: bool,
}

/// How the search went.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Effort {
    /// Mixed-integer programs solved.
    pub programs: u32,
    /// Candidates put to the exact check.
    pub candidates: u32,
    /// Candidates that it cut off.
    pub cuts: u32,
    /// Whether the time limit (or a cancellation) ended the search.
    pub timed_out: bool,
}

/// A plan and its proof.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// The plan.
    pub plan: Plan,
    /// Footprint.
    pub area: Proof<Area>,
    /// Carriers, among plans of the least footprint (within the tolerance asked for).
    pub carriers: Proof<u32>,
    /// Price, among those with the fewest carriers.
    pub price: Proof<Money>,
    /// Effort.
    pub effort: Effort,
}

/// What a study says.
#[derive(Clone, Debug, PartialEq)]
pub enum Outcome {
    /// A plan that every verdict accepts.
    Planned(Box<Found>),
    /// Proven: there is no plan.
    Impossible(Effort),
    /// Stopped before a plan was found: at least this floor area would be needed, if there is a plan at all.
    Stopped(Area, Effort),
    /// A plan of our own breaks a rule: a fault of the engine.
    Broken(Box<Plan>, Vec<Breach>),
}

/// Plans a cell.
#[must_use]
pub fn study(cell: &Cell, clock: &Clock<'_>) -> Outcome {
    let outcome = search::run(cell, clock, Depth::Best, None);
    judge(cell, outcome)
}

/// Plans a cell with what studies of the same cell at other rates have shown, and says what this one shows. Floor, carriers and
/// price are those of [`study`] where both are proven.
#[must_use]
pub fn study_beside(cell: &Cell, others: &[&Shown], clock: &Clock<'_>) -> (Outcome, Shown) {
    let (outcome, shown) = search::run_beside(cell, clock, others);
    (judge(cell, outcome), shown)
}

/// Only whether there is a plan at all (the first one found, whatever its footprint).
#[must_use]
pub fn any_plan(cell: &Cell, clock: &Clock<'_>) -> Outcome {
    let outcome = search::run(cell, clock, Depth::Any, None);
    judge(cell, outcome)
}

/// How far a search goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Depth {
    /// A few candidates: a plan, or a proof that there is none, where either is soon found; else it counts as stopped.
    Quick,
    /// The first plan, or the proof.
    Any,
    /// The best plan.
    Best,
}

/// The same among plans that are laid out so.
#[must_use]
pub(crate) fn laid_out(cell: &Cell, lay: &Lay, depth: Depth, clock: &Clock<'_>) -> Outcome {
    let outcome = search::run(cell, clock, depth, Some(lay));
    judge(cell, outcome)
}

fn judge(cell: &Cell, outcome: Outcome) -> Outcome {
    if let Outcome::Planned(found) = &outcome {
        let breaches = verdicts(cell, &found.plan);
        if !breaches.is_empty() {
            return Outcome::Broken(Box::new(found.plan.clone()), breaches);
        }
    }
    outcome
}

/// Programs as the search would first solve them, one a fold, for checks by another solver.
#[must_use]
pub fn first_programs(cell: &Cell, most: usize) -> Vec<Program> {
    let never = AtomicBool::new(false);
    let clock = Clock::new(Duration::from_secs(3600), &never);
    let space = Space::new(cell, &clock);
    if space.options.iter().any(Vec::is_empty) {
        return Vec::new();
    }
    let folds = Folds::of(&space);
    let mut programs = Vec::new();
    for fold in &folds.all {
        if programs.len() >= most {
            break;
        }
        let Some(modules) = fold.least_modules(&space) else { continue };
        if let Some(kept) = fold.prune(&space, modules) {
            programs.push(Builder::new(&space, fold, modules, &kept, false).first_program(200));
        }
    }
    programs
}
