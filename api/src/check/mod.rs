//! From the text of a cell document to a checked cell, or to every finding at once.
//!
//! In reading order: [`crate::read`] makes a tree with places; `decode` and the files above it make the published
//! document of [`crate::wire`] out of it, noting what is wrong by itself; `refs` notes what does not fit together;
//! `convert` makes the engine's quantities, and is the only place where numbers of a document become quantities.

mod adjust;
mod chance;
mod changes;
mod convert;
mod coupled;
mod decode;
mod document;
mod feed;
mod index;
mod nearest;
mod pair;
mod range;
mod refs;
mod sink;
mod site;
mod station;

pub(crate) use changes::allowed_availability;
pub use index::{Coupled, Document, DocumentIndex};
pub use sink::MAX_FINDINGS;

use crate::codes::Code;
use crate::finding::Finding;
use crate::read::{Read, read};
use sink::Sink;

/// Most entries of each list in a document.
pub mod most {
    /// Stations.
    pub const STATIONS: usize = 200;
    /// SKUs.
    pub const SKUS: usize = 500;
    /// Forms of end of a circuit.
    pub const FORMS: usize = 20;
    /// Circuits that are looked at; one is planned.
    pub const CIRCUITS: usize = 20;
    /// Places on the floor that must be missed.
    pub const KEEP_OUT: usize = 100;
    /// Limits on sections.
    pub const SEGMENTS: usize = 400;
    /// Times over several stations.
    pub const WINDOWS: usize = 400;
    /// Adjustments of a station or circuit, and steps of one of them.
    pub const ADJUSTMENTS: usize = 50;
    /// Belts of a feed.
    pub const BELTS: usize = 20;
    /// Steps by hand of the whole cell.
    pub const STEPS: usize = 200;
}

/// Reads and checks a cell document in YAML or JSON that has one circuit.
///
/// # Errors
/// Every finding at once, in the order of the text, warnings among them; at most [`MAX_FINDINGS`] and one that says so. A
/// document of several circuits is one for [`read_any_cell`].
pub fn read_cell(bytes: &[u8]) -> Result<Document, Vec<Finding>> {
    let document = read_any_cell(bytes)?;
    match &document.coupled {
        None => Ok(document),
        Some(coupled) => {
            let message = format!("the document has {} circuits", coupled.sources.len());
            Err(vec![Finding::new(Code::NotYet, "/circuits/1", message)])
        }
    }
}

/// Reads and checks a cell document in YAML or JSON, also one of several circuits.
///
/// # Errors
/// As [`read_cell`].
pub fn read_any_cell(bytes: &[u8]) -> Result<Document, Vec<Finding>> {
    let Read { root, duplicates } = read(bytes).map_err(|finding| vec![finding])?;
    let (checked, findings) = {
        let sink = Sink::new(&root);
        duplicates.into_iter().for_each(|finding| sink.report(finding));
        let checked = document::decode(&root, &sink).and_then(|wire| {
            refs::check(&wire, &sink);
            pair::check(&wire, &sink);
            changes::check(&wire, &sink);
            if sink.has_errors() {
                None
            } else if wire.circuits.len() > 1 {
                let coupled = coupled::convert(&wire, &sink)?;
                Some((coupled.cells()[0].clone(), Some(coupled), wire))
            } else {
                convert::convert(&wire, &sink).map(|cell| (cell, None, wire))
            }
        });
        // An efficiency that is worked out is only a limit.
        if let Some((cell, _, wire)) = checked.as_ref().filter(|(.., wire)| wire.requirements.reach_net_rate.is_none())
        {
            chance::efficiency(wire.requirements.efficiency, cell, &sink);
        }
        if let Some((cell, coupled, wire)) = &checked {
            let of = match coupled {
                Some(coupled) => coupled.feed().map(|feed| (feed, coupled.demands())),
                None => cell.parts().feed.as_ref().map(|feed| (feed, cell.demands())),
            };
            of.into_iter().for_each(|(of, demands)| feed::surplus(wire, of, &demands, &sink));
        }
        (checked, sink.into_findings())
    };
    match checked {
        Some((cell, coupled, wire)) if !findings.iter().any(Finding::is_error) => {
            let coupled = coupled.map(|cell| {
                let sources = (0..wire.circuits.len()).map(|c| DocumentIndex::new(root.clone(), &wire, c)).collect();
                Box::new(Coupled { cell, sources })
            });
            let source = DocumentIndex::new(root, &wire, 0);
            Ok(Document { cell, wire, source, warnings: findings, coupled })
        }
        _ => Err(findings),
    }
}

#[cfg(test)]
mod tests;
