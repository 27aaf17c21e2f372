//! What the door lets in, and what it says otherwise.

mod accepted;
mod changes;
mod feed;
mod pairs;
mod refused;

use super::*;
use crate::codes::Code;

/// A document that uses every key, its stations listed in another order than they are travelled.
const JARS: &str = include_str!("jars.yaml");

/// The document with one change.
fn changed(from: &str, to: &str) -> String {
    assert_eq!(JARS.matches(from).count(), 1, "`{from}` must be there once");
    JARS.replace(from, to)
}

fn json_of(yaml: &str) -> serde_json::Value {
    read(yaml.as_bytes()).unwrap().root.to_json()
}

/// All findings, whether they stand in the way or not.
fn findings(text: &str) -> Vec<Finding> {
    match read_cell(text.as_bytes()) {
        Ok(document) => document.warnings,
        Err(findings) => findings,
    }
}

fn codes(text: &str) -> Vec<(Code, String)> {
    findings(text).into_iter().map(|f| (f.code, f.pointer)).collect()
}
