//! How Loopwright is told things and how it answers: documents, checks and findings.
//!
//! What is true lives in `loopwright-solver`; this crate reads and writes it. [`read_cell`] is the door:
//! behind it stands a checked [`Document`], in front of it every [`Finding`] at once.

#![cfg_attr(test, allow(clippy::unwrap_used, clippy::expect_used))]

pub mod alternatives;
pub mod check;
pub mod codes;
pub mod draw;
pub mod finding;
#[cfg(feature = "serve")]
pub mod http;
#[cfg(feature = "serve")]
pub mod jobs;
pub mod judge;
#[cfg(feature = "pdf")]
pub mod pdf;
pub mod print;
pub mod read;
pub mod render;
pub mod report;
pub mod show;
pub mod simulate;
#[cfg(test)]
mod testing;
pub mod wire;

pub use check::{Coupled, Document, DocumentIndex, read_any_cell, read_cell};
pub use codes::Code;
pub use finding::{Finding, Severity};
pub use judge::judge;
pub use show::{
    PlanAnswer, carriers_document, changeover, plan_document, plan_document_watched, trace_day, trace_document,
    usual_trace,
};
pub use simulate::simulate;
