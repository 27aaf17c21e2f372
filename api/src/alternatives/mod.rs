//! Alternatives: one document changed in many ways, each planned anew.
//!
//! `edit` changes documents, `planning` plans many at once, `short` tells a plan in short; on these stand `compare` (with
//! `usual` variants, `difference` by cause, and `operation`: their plans simulated), `sweep` (with crossovers and the front) and `explain` (with `levers`).

mod compare;
mod difference;
mod edit;
mod explain;
mod front;
mod levers;
mod operation;
mod planning;
mod short;
mod sweep;
#[cfg(test)]
mod tests;
mod usual;

pub use compare::compare;
pub use difference::difference;
pub use edit::{changed, parse_change, worded};
pub use explain::explain;
pub use front::{check_front, front};
pub use planning::{Doing, Nobody, Report};
pub use sweep::{check_axes, sweep};
pub use usual::usual;

use crate::check::Document;
use crate::finding::Finding;
use crate::read::read;
use serde::de::DeserializeOwned;

/// A request about a cell document of one circuit: its keys, and the checked cell under the key `cell`.
///
/// # Errors
/// Every finding at once; pointers lead from the request.
pub fn read_request<T: DeserializeOwned>(bytes: &[u8]) -> Result<(T, Document), Vec<Finding>> {
    read_request_with(bytes, crate::read_cell)
}

/// As [`read_request`], also of several circuits.
///
/// # Errors
/// As [`read_request`].
pub fn read_any_request<T: DeserializeOwned>(bytes: &[u8]) -> Result<(T, Document), Vec<Finding>> {
    read_request_with(bytes, crate::read_any_cell)
}

/// As [`read_request`], with another way to read the cell.
pub(crate) fn read_request_with<T: DeserializeOwned>(
    bytes: &[u8],
    cell_of: impl Fn(&[u8]) -> Result<Document, Vec<Finding>>,
) -> Result<(T, Document), Vec<Finding>> {
    use crate::codes::Code;
    let tree = read(bytes).map_err(|finding| vec![finding])?;
    if !tree.duplicates.is_empty() {
        return Err(tree.duplicates);
    }
    let value = tree.root.to_json();
    let request: T = serde_json::from_value(value.clone())
        .map_err(|error| vec![Finding::new(Code::WrongType, "", format!("the request: {error}"))])?;
    let cell = value.get("cell").cloned().unwrap_or_default();
    let moved = |f: Finding| Finding { pointer: format!("/cell{}", f.pointer), line: None, column: None, ..f };
    let document =
        cell_of(cell.to_string().as_bytes()).map_err(|findings| findings.into_iter().map(moved).collect::<Vec<_>>())?;
    Ok((request, document))
}
