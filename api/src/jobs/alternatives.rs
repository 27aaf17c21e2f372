//! The jobs that compare, sweep, explain and find the plans that no other beats.

use std::sync::atomic::AtomicBool;
use std::time::Duration;

use super::kind::{Done, Kind, Progress, Sink, json};
use crate::alternatives::{
    Doing, Report, changed, check_front, compare, explain, front, read_any_request, read_request, sweep,
};
use crate::codes::Code;
use crate::finding::Finding;
use crate::simulate::check_run;
use crate::wire::alternatives::{CompareRequest, ExplainRequest, FrontRequest, SweepRequest};

/// Hands the news of the parts on.
pub(super) struct Ear<'a>(pub(super) &'a dyn Sink);

impl Report for Ear<'_> {
    fn done(&self, parts: usize, of: usize) {
        self.0.tell(Progress { round: parts as u64, rounds: Some(of as u64), ..Progress::default() });
    }
}

pub(super) fn first(mut findings: Vec<Finding>) -> Finding {
    findings.swap_remove(0)
}

/// Plans variants of a cell side by side.
pub struct Compare;

/// Most variants of one request.
const MOST_VARIANTS: usize = 200;

impl Kind for Compare {
    fn name(&self) -> &'static str {
        "compare"
    }

    fn check(&self, request: &[u8]) -> Result<(), Vec<Finding>> {
        let (asked, document): (CompareRequest, _) = read_any_request(request)?;
        if asked.variants.len() > MOST_VARIANTS {
            let message = format!("there are {} variants; at most {MOST_VARIANTS} go", asked.variants.len());
            return Err(vec![Finding::new(Code::TooMany, "/variants", message)]);
        }
        let mut found = asked.simulate.as_ref().map_or_else(Vec::new, |run| check_run(&document, run, "/simulate"));
        // What is refused in a variant is told in its row; what leads nowhere is told at the door.
        for (i, variant) in asked.variants.iter().enumerate() {
            if let Err(findings) = changed(&document, &variant.changes) {
                let wrong = findings.into_iter().filter(|f| f.code == Code::BadChange);
                found.extend(wrong.map(|f| Finding { pointer: format!("/variants/{i}/changes"), ..f }));
            }
        }
        if found.is_empty() { Ok(()) } else { Err(found) }
    }

    fn run(&self, request: &[u8], limit: Duration, cancel: &AtomicBool, sink: &dyn Sink) -> Result<Done, Finding> {
        let (asked, document): (CompareRequest, _) = read_any_request(request).map_err(first)?;
        let ear = Ear(sink);
        let doing = Doing::new(limit, cancel, &ear);
        let done = compare(&document, &asked.variants, asked.usual, asked.simulate.as_ref(), &doing)?;
        Ok(Done { result: json(&done)? })
    }
}

/// Plans a cell over ranges of one or two of its numbers.
pub struct Sweep;

/// Most points of one request.
const MOST_POINTS: u64 = 2000;

impl Kind for Sweep {
    fn name(&self) -> &'static str {
        "sweep"
    }

    fn check(&self, request: &[u8]) -> Result<(), Vec<Finding>> {
        let (asked, document): (SweepRequest, _) = read_any_request(request)?;
        crate::alternatives::check_axes(&document, &asked.axes, asked.crossover_accuracy, MOST_POINTS)
    }

    fn run(&self, request: &[u8], limit: Duration, cancel: &AtomicBool, sink: &dyn Sink) -> Result<Done, Finding> {
        let (asked, document): (SweepRequest, _) = read_any_request(request).map_err(first)?;
        let ear = Ear(sink);
        let doing = Doing::new(limit, cancel, &ear);
        let done = sweep(&document, &asked.axes, asked.crossover_accuracy, &doing)?;
        Ok(Done { result: json(&done)? })
    }
}

/// Says what would help, or what stands in the way.
pub struct Explain;

impl Kind for Explain {
    fn name(&self) -> &'static str {
        "explain"
    }

    fn check(&self, request: &[u8]) -> Result<(), Vec<Finding>> {
        let (asked, _): (ExplainRequest, _) = read_any_request(request)?;
        let bad = |key: &str, says: String| Err(vec![Finding::new(Code::OutOfRange, format!("/{key}"), says)]);
        if !(asked.step > 0.0 && asked.step < 1.0) {
            return bad("step", format!("it must lie between 0 and 1, and is {}", asked.step));
        }
        if !(1e-4..=0.5).contains(&asked.accuracy) {
            return bad("accuracy", format!("it must be from 0.0001 to 0.5, and is {}", asked.accuracy));
        }
        Ok(())
    }

    fn run(&self, request: &[u8], limit: Duration, cancel: &AtomicBool, sink: &dyn Sink) -> Result<Done, Finding> {
        let (asked, document): (ExplainRequest, _) = read_any_request(request).map_err(first)?;
        let ear = Ear(sink);
        let doing = Doing::new(limit, cancel, &ear);
        Ok(Done { result: json(&explain(&document, asked.step, asked.accuracy, &doing)?)? })
    }
}

/// Finds the plans that no other beats in floor, carriers and price together.
pub struct Front;

impl Kind for Front {
    fn name(&self) -> &'static str {
        "front"
    }

    fn check(&self, request: &[u8]) -> Result<(), Vec<Finding>> {
        let (_, document): (FrontRequest, _) = read_request(request)?;
        check_front(&document).map_err(|finding| vec![finding])
    }

    fn run(&self, request: &[u8], limit: Duration, cancel: &AtomicBool, sink: &dyn Sink) -> Result<Done, Finding> {
        let (_, document): (FrontRequest, _) = read_request(request).map_err(first)?;
        let ear = Ear(sink);
        let doing = Doing::new(limit, cancel, &ear);
        Ok(Done { result: json(&front(&document, &doing)?)? })
    }
}
