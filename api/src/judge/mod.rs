//! Anybody's plan of a cell, put to every rule of the model, and every number in it recomputed.
//!
//! What a plan cannot do without is read in `plan`; what else it claims is compared in `claims`. Bounds that others have
//! proven cannot be proven again here: they are only held against the plan itself.

mod claims;
mod look;
mod plan;

use serde_json::Value;

use crate::check::Document;
use crate::codes::Code;
use crate::finding::Finding;
use crate::read::Place;
use crate::show;
use crate::wire::judgement::{ClaimCount, Judgement, JudgementLine, JudgementStatus, RuleCount};
use claims::Claims;
use look::Look;
use loopwright_solver::cell::Requirements;
use loopwright_solver::coupled::{self, JointBreach};
use loopwright_solver::ground::{KeepOut, Spot};
use loopwright_solver::plan::Plan;
use loopwright_solver::rules::{Breach, Rule, verdicts};
use loopwright_solver::track::Footprint;
use loopwright_solver::units::Metres;
use plan::{Read, ReadCoupled};

/// Largest plan document in bytes (64 MiB).
pub const MAX_PLAN_BYTES: usize = 64 << 20;

/// The format that is read.
const FORMAT: u32 = 1;

/// Judges a plan document in JSON. Keys that are not known are let pass, and so are claims that are not made.
///
/// # Errors
/// Every finding about what a plan cannot do without, with pointers into the plan document.
pub fn judge(document: &Document, plan: &[u8]) -> Result<Judgement, Vec<Finding>> {
    let document = &document.settled(plan);
    let root = parse(plan).map_err(|finding| vec![finding])?;
    let top = Look::root(&root);
    let mut findings = Vec::new();
    if let Some(coupled) = &document.coupled {
        let Some(read) = ReadCoupled::of(&coupled.cell, &top, &mut findings) else {
            return if findings.is_empty() { Ok(nothing(document)) } else { Err(findings) };
        };
        let breaches = coupled::verdicts(&coupled.cell, &read.plan);
        let of = |b: &JointBreach| b.circuit.map_or("", |c| &read.pointers[c]);
        let mut lines: Vec<JudgementLine> = breaches.iter().map(|b| line(&b.breach, of(b))).collect();
        let broken: Vec<Rule> = breaches.iter().map(|b| b.breach.rule).collect();
        let truth = show::recomputed_coupled(&coupled.cell, &read.plan, claims::asks_for_runs(&root));
        let rules = Rule::ALL.iter().filter(|rule| **rule != Rule::Change);
        lines.extend(placing(&coupled.cell.parts().requirements, coupled.cell.keep_out(), &top, truth.as_ref()));
        return Ok(judgement(document, &top, (lines, &broken, rules), &read.pointers, truth.as_ref()));
    }
    let Some(read) = Read::of(document, &top, &mut findings) else {
        return if findings.is_empty() { Ok(nothing(document)) } else { Err(findings) };
    };
    let breaches = verdicts(&document.cell, &read.plan);
    let mut lines: Vec<JudgementLine> = breaches.iter().map(|b| line(b, &read.pointer)).collect();
    let broken: Vec<Rule> = breaches.iter().map(|b| b.rule).collect();
    let truth = show::recomputed(&document.cell, &read.plan, claims::asks_for_runs(&root));
    let rules = Rule::ALL.iter().filter(|rule| !matches!(rule, Rule::Joint | Rule::Placing));
    let parts = document.cell.parts();
    lines.extend(placing(&parts.requirements, &parts.keep_out, &top, truth.as_ref()));
    Ok(judgement(document, &top, (lines, &broken, rules), &[read.pointer], truth.as_ref()))
}

/// Where a plan says that it lies on the floor: there it must fit, and miss what is to be missed. A plan that does not say is
/// only asked whether there is such a place.
fn placing(asked: &Requirements, keep_out: &[KeepOut], top: &Look<'_>, truth: Option<&Value>) -> Option<JudgementLine> {
    let (given, floor) = (top.key("placing").filter(|given| given.value.is_object())?, asked.floor?);
    let size = |key: &str| truth?.pointer(&format!("/footprint/{key}"))?.as_f64().map(Metres::from_m);
    let footprint = Footprint { length: size("length_m")?, width: size("width_m")? };
    let at = |key: &str| given.key(key)?.value.as_f64().map(Metres::from_m);
    let turned = given.key("turned").and_then(|t| t.value.as_bool()).unwrap_or(false);
    let spot = at("x_m").zip(at("y_m")).map(|(x, y)| Spot { x, y, turned });
    let says = match spot {
        None => "`x_m` and `y_m` are not both numbers".to_owned(),
        Some(spot) if spot.is_free(&footprint, floor, keep_out) => return None,
        Some(spot) => format!(
            "at {:.3} and {:.3} m the cell does not lie within the floor, or lies over a place to be kept out of",
            spot.x.m(),
            spot.y.m()
        ),
    };
    Some(JudgementLine { rule: Rule::Floor.word().to_owned(), pointer: given.pointer, says })
}

/// What the rules found, and every number of the document held against the recomputed ones.
fn judgement<'r>(
    document: &Document,
    top: &Look<'_>,
    (mut lines, broken, rules): (Vec<JudgementLine>, &[Rule], impl Iterator<Item = &'r Rule>),
    pointers: &[String],
    truth: Option<&Value>,
) -> Judgement {
    let mut claims = Claims::default();
    if let Some(truth) = truth {
        claims.compare(top, pointers, truth);
        claims.bounds(top, truth, document.cell.parts().requirements.footprint_tolerance.m2());
    }
    lines.extend(claims.lines);
    Judgement {
        format: FORMAT,
        name: document.cell.parts().name.clone(),
        status: if lines.is_empty() { JudgementStatus::Holds } else { JudgementStatus::Fails },
        lines,
        rules: rules
            .map(|rule| RuleCount {
                rule: rule.word().to_owned(),
                broken: broken.iter().filter(|b| *b == rule).count(),
            })
            .collect(),
        claims: claims.counts.into_iter().map(|(key, (checked, wrong))| ClaimCount { key, checked, wrong }).collect(),
    }
}

/// The engine's plan out of a plan document; none where the document holds none. The plan is not judged.
///
/// # Errors
/// Every finding about what a plan cannot do without, with pointers into the plan document.
pub(crate) fn read_plan(document: &Document, plan: &[u8]) -> Result<Option<Plan>, Vec<Finding>> {
    let root = parse(plan).map_err(|finding| vec![finding])?;
    let mut findings = Vec::new();
    let read = Read::of(document, &Look::root(&root), &mut findings);
    if read.is_none() && !findings.is_empty() { Err(findings) } else { Ok(read.map(|read| read.plan)) }
}

/// The plan in a plan document that must hold one.
///
/// # Errors
/// Every finding about what a plan cannot do without, with pointers into the plan document.
pub(crate) fn plan_of(document: &Document, plan: &[u8]) -> Result<Plan, Vec<Finding>> {
    let nothing = || vec![Finding::new(Code::CannotDraw, "/status", "the document holds no plan")];
    read_plan(document, plan)?.ok_or_else(nothing)
}

/// As [`plan_of`], of several circuits.
///
/// # Errors
/// As [`plan_of`].
pub(crate) fn coupled_plan_of(
    coupled: &crate::check::Coupled,
    plan: &[u8],
) -> Result<coupled::CoupledPlan, Vec<Finding>> {
    let root = parse(plan).map_err(|finding| vec![finding])?;
    let mut findings = Vec::new();
    let read = ReadCoupled::of(&coupled.cell, &Look::root(&root), &mut findings);
    if findings.is_empty() {
        findings.push(Finding::new(Code::CannotDraw, "/status", "the document holds no plan"));
    }
    read.map(|read| read.plan).ok_or(findings)
}

impl Judgement {
    /// The code of the table that goes with it; none when nothing is wrong.
    #[must_use]
    pub fn code(&self) -> Option<Code> {
        (self.status != JudgementStatus::Holds).then_some(Code::DoesNotHold)
    }

    /// Exit code of the program.
    #[must_use]
    pub fn exit(&self) -> u8 {
        self.code().map_or(0, |code| code.entry().kind.exit)
    }
}

fn parse(bytes: &[u8]) -> Result<Value, Finding> {
    if bytes.len() > MAX_PLAN_BYTES {
        let message = format!("the plan has more than {MAX_PLAN_BYTES} bytes");
        return Err(Finding::new(Code::TooLarge, "", message).advise("Give the plan document only."));
    }
    serde_json::from_slice(bytes).map_err(|error| {
        let number = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        Finding::new(Code::Syntax, "", format!("the plan cannot be read as JSON: {error}"))
            .at(Place { line: number(error.line()), column: number(error.column()) })
            .advise("Give the plan document as `plan --json` prints it, or correct the text at this place.")
    })
}

fn nothing(document: &Document) -> Judgement {
    Judgement {
        format: FORMAT,
        name: document.cell.parts().name.clone(),
        status: JudgementStatus::Nothing,
        lines: Vec::new(),
        rules: Vec::new(),
        claims: Vec::new(),
    }
}

fn line(breach: &Breach, circuit: &str) -> JudgementLine {
    // What the rule looks at.
    let place = match breach.rule {
        Rule::Names => "",
        Rule::Geometry | Rule::Slots | Rule::Dwell | Rule::Window => "/sections",
        Rule::Stands | Rule::Capacity => "/stations",
        Rule::Upright => "/form",
        Rule::Floor => "/modules_per_straight",
        Rule::Carriers | Rule::Rate => "/carriers",
        Rule::Duty => "/acceleration_share",
        Rule::Fixed | Rule::Change | Rule::Price | Rule::Joint | Rule::Placing => "",
    };
    JudgementLine {
        rule: breach.rule.word().to_owned(),
        pointer: format!("{circuit}{place}"),
        says: breach.says.clone(),
    }
}

#[cfg(test)]
mod tests;
