//! From the study to the plan document: the only way back from quantities to numbers.

mod carriers;
mod cautions;
mod changeover;
mod changes_said;
mod conflict;
mod coupled;
mod feed;
mod limited;
mod planned;
mod reach;
mod site;
mod trace;

pub use cautions::CAUTIONS;
pub use changeover::{CHANGE_CAUTIONS, changeover, changeover_document};
pub(crate) use changeover::{Listener, changeover_watched, pair_of};
pub(crate) use conflict::told;
pub(crate) use coupled::{asked_of, recomputed_coupled};
pub(crate) use planned::{gap, recomputed};
pub(crate) use trace::trace_of;
pub use trace::{trace_day, trace_document, usual_trace};

pub use carriers::carriers_document;

use std::sync::atomic::AtomicBool;
use std::time::Duration;

use crate::check::Document;
use crate::codes::Code;
use crate::finding::Finding;
use crate::wire::plan::{Answer, FORMAT, PlanDocument, SearchEffort, Stopped};
use loopwright_solver::rules::Breach;
use loopwright_solver::study::{Clock, Effort, Outcome, Progress, Shown, Watch, study, study_beside};

/// How long the reasons of an impossible cell are searched for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Reasons {
    /// Not at all: the conflict stays empty.
    None,
    /// As long as the search for a plan may take.
    Short,
    /// Three times as long.
    Full,
}

impl Reasons {
    fn times(self) -> u32 {
        match self {
            Self::None => 0,
            Self::Short => 1,
            Self::Full => 3,
        }
    }
}

/// Longest time limit, a year: clocks do not count much further.
const LONGEST: Duration = Duration::from_secs(365 * 86_400);

/// What planning a document gives.
#[derive(Clone, Debug, PartialEq)]
pub enum PlanAnswer {
    /// An answer to print.
    Answer(Box<PlanDocument>),
    /// The planner contradicts itself; there is nothing to build from.
    Fault(Box<Finding>),
}

impl PlanAnswer {
    /// What an answer comes to beside a plan that is proven to be the best: none of that, or a code of the table.
    #[must_use]
    pub fn code(&self) -> Option<Code> {
        match self {
            Self::Fault(finding) => Some(finding.code),
            Self::Answer(document) => match &document.answer {
                Answer::Impossible(_) => Some(Code::Impossible),
                Answer::Stopped(_) => Some(Code::NotProven),
                Answer::Planned(planned) => {
                    let proof = &planned.proof;
                    let proven = proof.footprint.proven && proof.carriers.proven && proof.price.proven;
                    (!proven).then_some(Code::NotProven)
                }
            },
        }
    }

    /// Exit code of the program.
    #[must_use]
    pub fn exit(&self) -> u8 {
        self.code().map_or(0, |code| code.entry().kind.exit)
    }
}

/// Plans a document. Stops after `limit`, or soon after `cancel` is set, with the best plan so far. When there is no plan,
/// looks for the reasons, for at most three times as long again.
#[must_use]
pub fn plan_document(document: &Document, limit: Duration, cancel: &AtomicBool) -> PlanAnswer {
    plan_document_watched(document, limit, cancel, &Nobody)
}

struct Nobody;

impl Watch for Nobody {
    fn progress(&self, _: &Progress) {}
}

/// [`plan_document`], telling `watch` how far the search has come.
#[must_use]
pub fn plan_document_watched(
    document: &Document,
    limit: Duration,
    cancel: &AtomicBool,
    watch: &dyn Watch,
) -> PlanAnswer {
    plan_as(document, limit, cancel, Reasons::Full, watch)
}

/// [`plan_document`] that looks for reasons only so long. Of one circuit the times of the paced run, which only a whole plan
/// document tells, may be left out; limits on them are judged all the same.
pub(crate) fn plan_within(document: &Document, limit: Duration, cancel: &AtomicBool, reasons: Reasons) -> PlanAnswer {
    if document.coupled.is_none() && document.wire.requirements.reach_net_rate.is_none() {
        return plan_given(document, limit.min(LONGEST), cancel, (reasons, false), &Nobody);
    }
    plan_as(document, limit, cancel, reasons, &Nobody)
}

fn plan_as(
    document: &Document,
    limit: Duration,
    cancel: &AtomicBool,
    reasons: Reasons,
    watch: &dyn Watch,
) -> PlanAnswer {
    let limit = limit.min(LONGEST);
    if let Some(coupled) = &document.coupled {
        return coupled::answer(document, coupled, limit, cancel, reasons, watch);
    }
    if let Some(asked) = &document.wire.requirements.reach_net_rate {
        return reach::answer(document, asked, limit, cancel, reasons, watch);
    }
    plan_given(document, limit, cancel, (reasons, true), watch)
}

/// Plans a document of one circuit for the efficiency that it gives; whether to tell the times of the paced run too.
fn plan_given(
    document: &Document,
    limit: Duration,
    cancel: &AtomicBool,
    (reasons, paced_too): (Reasons, bool),
    watch: &dyn Watch,
) -> PlanAnswer {
    let outcome = study(&document.cell, &Clock::new(limit, cancel).watched(watch));
    answered(document, outcome, limit, cancel, (reasons, paced_too))
}

/// As [`plan_within`] without reasons, with what plans of the same cell at other rates have shown; and what this one shows.
pub(crate) fn plan_beside(
    document: &Document,
    others: &[&Shown],
    limit: Duration,
    cancel: &AtomicBool,
) -> (PlanAnswer, Option<Shown>) {
    if document.coupled.is_some() || document.wire.requirements.reach_net_rate.is_some() {
        return (plan_within(document, limit, cancel, Reasons::None), None);
    }
    let limit = limit.min(LONGEST);
    let (outcome, shown) = study_beside(&document.cell, others, &Clock::new(limit, cancel));
    (answered(document, outcome, limit, cancel, (Reasons::None, false)), Some(shown))
}

fn answered(
    document: &Document,
    outcome: Outcome,
    limit: Duration,
    cancel: &AtomicBool,
    (reasons, paced_too): (Reasons, bool),
) -> PlanAnswer {
    let cell = &document.cell;
    let answer = match outcome {
        Outcome::Planned(found) => match planned::planned(document, &found, paced_too) {
            Ok(planned) => Answer::Planned(Box::new(planned)),
            Err(finding) => return PlanAnswer::Fault(Box::new(finding)),
        },
        Outcome::Impossible(spent) if reasons == Reasons::None => {
            let conflict = crate::wire::plan::Conflict { requirements: Vec::new(), minimal: false };
            let impossible = crate::wire::plan::Impossible { conflict, reasons: Vec::new(), effort: effort(spent) };
            Answer::Impossible(impossible)
        }
        Outcome::Impossible(spent) => {
            let clock = Clock::new(limit * reasons.times(), cancel);
            Answer::Impossible(conflict::impossible(document, effort(spent), &clock))
        }
        Outcome::Stopped(bound, spent) => {
            Answer::Stopped(Stopped { proven_bound_m2: bound.m2(), effort: effort(spent) })
        }
        Outcome::Broken(_, breaches) => return PlanAnswer::Fault(Box::new(broken(&cell.parts().name, &breaches))),
    };
    PlanAnswer::Answer(Box::new(PlanDocument { format: FORMAT, name: cell.parts().name.clone(), answer }))
}

/// Metres rounded up to whole millimetres: a floor of the size that is printed must be large enough.
pub(crate) fn up_to_mm(metres: f64) -> f64 {
    (metres * 1e3 - 1e-6).ceil() / 1e3
}

fn effort(spent: Effort) -> SearchEffort {
    SearchEffort {
        programs: spent.programs,
        candidates: spent.candidates,
        cuts: spent.cuts,
        time_limit_reached: spent.timed_out,
    }
}

fn broken(name: &str, breaches: &[Breach]) -> Finding {
    let says: Vec<String> = breaches.iter().map(|b| format!("{}: {}", b.rule.word(), b.says)).collect();
    let message = format!("the plan found for {} breaks rules: {}", crate::read::quoted(name), says.join("; "));
    Finding::new(Code::OwnFault, "", message)
}

#[cfg(test)]
pub(crate) mod tests;

#[cfg(test)]
mod changes_tests;
