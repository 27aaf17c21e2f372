//! The job that plans a cell.

use std::sync::atomic::AtomicBool;
use std::time::Duration;

use super::kind::{Done, Kind, Progress, Sink, json};
use crate::finding::Finding;
use crate::show::{PlanAnswer, plan_document_watched};
use loopwright_solver::study::{Progress as Search, Watch};

/// Plans a cell document.
pub struct Plan;

/// Hands the news of the search on.
pub(super) struct Ear<'a>(pub(super) &'a dyn Sink);

impl Watch for Ear<'_> {
    fn progress(&self, search: &Search) {
        let (best, bound) = (search.best.map(|(area, _)| area.m2()), search.bound.m2());
        self.0.tell(Progress {
            round: search.effort.programs as u64,
            rounds: None,
            best_footprint_m2: best,
            best_carriers: search.best.map(|(_, carriers)| carriers),
            proven_bound_m2: Some(bound).filter(|b| b.is_finite()),
            gap: best.map(|best| crate::show::gap(best, bound)),
        });
    }
}

impl Kind for Plan {
    fn name(&self) -> &'static str {
        "plan"
    }

    fn check(&self, request: &[u8]) -> Result<(), Vec<Finding>> {
        crate::read_any_cell(request).map(|_| ())
    }

    fn run(&self, request: &[u8], limit: Duration, cancel: &AtomicBool, sink: &dyn Sink) -> Result<Done, Finding> {
        // It was checked at the door, maybe by an older version of the program.
        let document = crate::read_any_cell(request).map_err(|mut findings| findings.swap_remove(0))?;
        match plan_document_watched(&document, limit, cancel, &Ear(sink)) {
            PlanAnswer::Answer(plan) => Ok(Done { result: json(&plan)? }),
            PlanAnswer::Fault(finding) => Err(*finding),
        }
    }
}
