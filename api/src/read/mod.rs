//! From bytes to a small tree in which every value knows its place in the text.
//!
//! JSON is read by the same reader, since YAML 1.2 holds it, but for two things that are rewritten first. Anything that could grow while it is read is refused early.

mod build;
mod json;
mod tree;

pub use tree::{Entry, Node, Place, Value, escape, quoted, short};

use crate::codes::Code;
use crate::finding::Finding;

/// Largest document in bytes (4 MiB).
pub const MAX_BYTES: usize = 4 << 20;

/// Most levels of lists and mappings inside one another; a cell document needs seven.
pub const MAX_DEPTH: usize = 40;

/// Most values in a document, counting lists and mappings.
pub const MAX_NODES: usize = 500_000;

/// A document that could be read.
#[derive(Clone, Debug, PartialEq)]
pub struct Read {
    /// All of it.
    pub root: Node,
    /// A finding for every key that is given a second time in the same mapping; the first one counts.
    pub duplicates: Vec<Finding>,
}

/// Reads the text of one document.
///
/// # Errors
/// A finding with its place when the text cannot be read, or is refused for its size or make.
pub fn read(bytes: &[u8]) -> Result<Read, Finding> {
    if bytes.len() > MAX_BYTES {
        let message = format!("the document has {} bytes; at most {MAX_BYTES} are read", bytes.len());
        return Err(Finding::new(Code::TooLarge, "", message));
    }
    let text = text(bytes)?;
    let (text, shifts) = json::rewrite(text);
    build::build(&text, &shifts)
}

/// The bytes as text without a byte order mark and without control characters, at which the reader would stop early.
fn text(bytes: &[u8]) -> Result<&str, Finding> {
    let text = std::str::from_utf8(bytes).map_err(|error| {
        let message = format!("the document is not UTF-8 text: byte {} begins no character", error.valid_up_to() + 1);
        Finding::new(Code::NotText, "", message).at(place_of(&bytes[..error.valid_up_to()]))
    })?;
    let control = |c: char| c.is_ascii_control() && !matches!(c, '\t' | '\n' | '\r' | '\u{7f}');
    if let Some((at, c)) = text.char_indices().find(|&(_, c)| control(c)) {
        let message = format!("the document holds the control character U+{:04X}", u32::from(c));
        return Err(Finding::new(Code::NotText, "", message).at(place_of(&bytes[..at])));
    }
    Ok(text.strip_prefix('\u{feff}').unwrap_or(text))
}

/// The place after so many bytes.
fn place_of(before: &[u8]) -> Place {
    let line = before.iter().filter(|&&b| b == b'\n').count();
    let last = before.rsplit(|&b| b == b'\n').next().unwrap_or_default();
    let column = String::from_utf8_lossy(last).trim_start_matches('\u{feff}').chars().count();
    Place::from_zero(line, column)
}

#[cfg(test)]
mod tests;
