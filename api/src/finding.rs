//! One thing to report about a document: what, where, and what to do.

use crate::codes::Code;
use crate::read::Place;

/// Whether a finding stands in the way of planning.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Serialize, serde::Deserialize, utoipa::ToSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// It must be corrected first.
    Error,
    /// It can be planned nevertheless.
    Warning,
}

/// One thing to report about a document.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize, utoipa::ToSchema)]
pub struct Finding {
    /// Which kind of thing.
    pub code: Code,
    /// Whether it stands in the way.
    pub severity: Severity,
    /// Where, as a JSON pointer (RFC 6901) that leads to something in the document: the value in question, or for
    /// a missing key the object that lacks it. Empty means the whole document.
    pub pointer: String,
    /// Line in the text, counted from 1.
    pub line: Option<u32>,
    /// Column in that line, in characters, counted from 1.
    pub column: Option<u32>,
    /// What is wrong, with the names and numbers of the case.
    pub message: String,
    /// What to do about it.
    pub what_to_do: String,
}

impl Finding {
    /// A finding without a line, with the advice of the table.
    #[must_use]
    pub fn new(code: Code, pointer: impl Into<String>, message: impl Into<String>) -> Self {
        let entry = code.entry();
        Self {
            code,
            severity: entry.kind.severity,
            pointer: pointer.into(),
            line: None,
            column: None,
            message: message.into(),
            what_to_do: entry.what_to_do.to_owned(),
        }
    }

    /// With advice for this case.
    #[must_use]
    pub fn advise(mut self, what_to_do: impl Into<String>) -> Self {
        self.what_to_do = what_to_do.into();
        self
    }

    /// With its place in the text.
    #[must_use]
    pub fn at(mut self, place: Place) -> Self {
        self.line = Some(place.line);
        self.column = Some(place.column);
        self
    }

    /// Whether it stands in the way.
    #[must_use]
    pub fn is_error(&self) -> bool {
        self.severity == Severity::Error
    }
}

impl std::fmt::Display for Finding {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let word = if self.is_error() { "error" } else { "warning" };
        writeln!(f, "{word} {}: {}", self.code, self.message)?;
        let pointer = if self.pointer.is_empty() { "the whole document" } else { &self.pointer };
        match (self.line, self.column) {
            (Some(line), Some(column)) => writeln!(f, "  where: line {line}, column {column} ({pointer})")?,
            _ => writeln!(f, "  where: {pointer}")?,
        }
        write!(f, "  what to do: {}", self.what_to_do)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn prints_as_one_block() {
        let finding = Finding::new(Code::NotWhole, "/circuits/0/max_carriers", "`max_carriers` is 2.5")
            .at(Place { line: 7, column: 3 });
        assert_eq!(
            finding.to_string(),
            "error LW-NOT-WHOLE: `max_carriers` is 2.5\n  where: line 7, column 3 (/circuits/0/max_carriers)\n  \
             what to do: Write a whole number."
        );
        let json = serde_json::to_value(&finding).unwrap();
        assert_eq!(json["code"], "LW-NOT-WHOLE");
        assert_eq!(json["severity"], "error");
    }
}
