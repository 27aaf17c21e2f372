//! A plan in short.

use std::time::Duration;

use super::Doing;
use crate::check::Document;
use crate::finding::Finding;
use crate::show::{PlanAnswer, Reasons, plan_beside, plan_within};
use crate::wire::alternatives::{Ended, Short, ShortSku, ShortStation};
use crate::wire::plan::{Answer, Planned};
use loopwright_solver::study::Shown;

/// A plan in short, and whole where there is one.
pub(super) struct Told {
    pub(super) short: Short,
    pub(super) planned: Option<Box<Planned>>,
}

/// Plans a document, or tells why it is refused.
pub(super) fn told(
    document: Result<&Document, &[Finding]>,
    reasons: Reasons,
    limit: Duration,
    doing: &Doing<'_>,
) -> Result<Told, Finding> {
    let document = match document {
        Ok(document) => document,
        Err(findings) => return Ok(refused(findings)),
    };
    told_of(plan_within(document, limit, doing.cancel, reasons))
}

/// The same with what plans of the same cell at other rates have shown; and what this one shows.
pub(super) fn told_beside(
    document: Result<&Document, &[Finding]>,
    others: &[&Shown],
    limit: Duration,
    doing: &Doing<'_>,
) -> Result<(Told, Option<Shown>), Finding> {
    let document = match document {
        Ok(document) => document,
        Err(findings) => return Ok((refused(findings), None)),
    };
    let (answer, shown) = plan_beside(document, others, limit, doing.cancel);
    Ok((told_of(answer)?, shown))
}

fn refused(findings: &[Finding]) -> Told {
    let says = findings.iter().map(|f| format!("{}: {}", f.pointer, f.message)).collect();
    Told { short: empty(Ended::Refused, None, says), planned: None }
}

fn told_of(answer: PlanAnswer) -> Result<Told, Finding> {
    match answer {
        PlanAnswer::Fault(finding) => Err(*finding),
        PlanAnswer::Answer(answer) => Ok(match answer.answer {
            Answer::Planned(planned) => Told { short: short(&planned), planned: Some(planned) },
            Answer::Impossible(impossible) => {
                let asked = impossible.conflict.requirements.into_iter().map(|r| r.says);
                let says = impossible.reasons.into_iter().chain(asked).collect();
                Told { short: empty(Ended::Impossible, None, says), planned: None }
            }
            Answer::Stopped(stopped) => {
                Told { short: empty(Ended::Stopped, Some(stopped.proven_bound_m2), Vec::new()), planned: None }
            }
        }),
    }
}

fn empty(status: Ended, bound: Option<f64>, reasons: Vec<String>) -> Short {
    Short {
        status,
        footprint: None,
        proven_bound_m2: bound,
        proven: status == Ended::Impossible,
        loop_length_m: None,
        form: None,
        modules_per_straight: None,
        carriers: None,
        price: None,
        stations: Vec::new(),
        skus: Vec::new(),
        reasons,
    }
}

/// A plan in short.
fn short(planned: &Planned) -> Short {
    let proof = &planned.proof;
    let circuits = &planned.circuits;
    let only = circuits.first().filter(|_| circuits.len() == 1);
    let mut stations: Vec<ShortStation> = Vec::new();
    for s in circuits.iter().flat_map(|c| &c.stations) {
        // A hand-off is one station.
        if stations.iter().all(|known| known.id != s.id) {
            stations.push(ShortStation { id: s.id.clone(), mode: s.mode, heads: s.heads });
        }
    }
    // Several circuits make the same rate of cases, so that each SKU has the same margin on all of them.
    let skus = circuits.first().map(|c| {
        let of = |s: &crate::wire::plan::PlannedSku| ShortSku {
            id: s.id.clone(),
            margin: s.margin,
            limited_by: s.limited_by.says.clone(),
        };
        c.skus.iter().map(of).collect()
    });
    let forms: Vec<String> = circuits.iter().map(|c| format!("{} {}", c.id, c.form)).collect();
    Short {
        status: Ended::Planned,
        footprint: Some(planned.footprint),
        proven_bound_m2: Some(planned.proven_bound_m2),
        proven: proof.footprint.proven && proof.carriers.proven && proof.price.proven,
        loop_length_m: Some(circuits.iter().map(|c| c.loop_length_m).sum()),
        form: Some(only.map_or_else(|| forms.join(", "), |c| c.form.clone())),
        modules_per_straight: only.map(|c| c.modules_per_straight),
        carriers: Some(circuits.iter().map(|c| c.carriers).sum()),
        price: Some(planned.price),
        stations,
        skus: skus.unwrap_or_default(),
        reasons: Vec::new(),
    }
}
