//! The jobs that simulate a plan, and plans over a range of accumulation.

use std::sync::atomic::AtomicBool;
use std::time::Duration;

use super::alternatives::{Ear, first};
use super::kind::{Done, Kind, Sink, json};
use crate::alternatives::{Doing, read_request, read_request_with};
use crate::check::Document;
use crate::finding::Finding;
use crate::simulate::{accumulate, check_accumulation};
use crate::wire::accumulation::AccumulateRequest;
use crate::wire::simulation::SimulateRequest;

/// Simulates a plan of a cell.
pub struct Simulate;

impl Kind for Simulate {
    fn name(&self) -> &'static str {
        "simulate"
    }

    fn check(&self, request: &[u8]) -> Result<(), Vec<Finding>> {
        let (asked, document): (SimulateRequest, Document) = read_request_with(request, crate::read_any_cell)?;
        let mut findings = crate::simulate::check_run(&document, &asked.run, "/run");
        let plan = asked.plan.to_string();
        let plan = match &document.coupled {
            Some(several) => crate::judge::coupled_plan_of(several, plan.as_bytes()).map(|_| ()),
            None => crate::judge::plan_of(&document, plan.as_bytes()).map(|_| ()),
        };
        let moved = |f: Finding| Finding { pointer: format!("/plan{}", f.pointer), line: None, column: None, ..f };
        findings.extend(plan.err().unwrap_or_default().into_iter().map(moved));
        if findings.is_empty() { Ok(()) } else { Err(findings) }
    }

    fn run(&self, request: &[u8], limit: Duration, cancel: &AtomicBool, sink: &dyn Sink) -> Result<Done, Finding> {
        let (asked, document): (SimulateRequest, Document) =
            read_request_with(request, crate::read_any_cell).map_err(first)?;
        let ear = Ear(sink);
        let doing = Doing::new(limit, cancel, &ear);
        let plan = asked.plan.to_string();
        let done = crate::simulate::simulate(&document, plan.as_bytes(), &asked.run, &doing).map_err(first)?;
        Ok(Done { result: json(&done)? })
    }
}

/// Plans and simulates a cell for one ride-through after another.
pub struct Accumulate;

impl Kind for Accumulate {
    fn name(&self) -> &'static str {
        "accumulate"
    }

    fn check(&self, request: &[u8]) -> Result<(), Vec<Finding>> {
        let (asked, document): (AccumulateRequest, Document) = read_request(request)?;
        check_accumulation(&document, &asked.asked)
    }

    fn run(&self, request: &[u8], limit: Duration, cancel: &AtomicBool, sink: &dyn Sink) -> Result<Done, Finding> {
        let (asked, document): (AccumulateRequest, Document) = read_request(request).map_err(first)?;
        let ear = Ear(sink);
        let doing = Doing::new(limit, cancel, &ear);
        Ok(Done { result: json(&accumulate(&document, &asked.asked, &doing)?)? })
    }
}
