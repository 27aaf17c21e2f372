//! From the parser's events to the tree.

use std::collections::HashSet;

use saphyr_parser::{Event, Marker, Parser, ScalarStyle, ScanError};

use super::json::Shifts;
use super::tree::{Entry, Node, Place, Value, quoted};
use super::{MAX_DEPTH, MAX_NODES, Read};
use crate::codes::Code;
use crate::finding::Finding;

/// A list or mapping that is still open.
enum Open {
    List { place: Place, items: Vec<Node> },
    Map { place: Place, entries: Vec<Entry>, keys: HashSet<String>, key: Option<(String, Place)> },
}

struct Builder<'s> {
    shifts: &'s Shifts,
    open: Vec<Open>,
    root: Option<Node>,
    nodes: usize,
    duplicates: Vec<Finding>,
}

/// Builds the tree of the one document in the text.
pub(super) fn build(text: &str, shifts: &Shifts) -> Result<Read, Finding> {
    let mut builder = Builder { shifts, open: Vec::new(), root: None, nodes: 0, duplicates: Vec::new() };
    let mut parser = Parser::new_from_str(text);
    while let Some(event) = parser.next_event() {
        let (event, span) = event.map_err(|error| builder.unreadable(&error))?;
        builder.take(event, builder.place(&span.start))?;
    }
    match builder.root {
        Some(Node { value: Value::Null, .. }) | None => Err(Finding::new(Code::Empty, "", "the document is empty")),
        Some(root) => Ok(Read { root, duplicates: builder.duplicates }),
    }
}

impl Builder<'_> {
    fn place(&self, mark: &Marker) -> Place {
        self.shifts.undo(Place::from_zero(mark.line().saturating_sub(1), mark.col()))
    }

    fn unreadable(&self, error: &ScanError) -> Finding {
        let place = self.place(error.marker());
        // The parser has a limit of its own for brackets, and reads ahead of its events.
        if error.info().contains("recursion limit") {
            return self.too_deep(place);
        }
        let message = format!("the document cannot be read as YAML or JSON: {}", error.info());
        Finding::new(Code::Syntax, self.pointer(), message).at(place)
    }

    fn too_deep(&self, place: Place) -> Finding {
        let message = format!("lists and mappings lie more than {MAX_DEPTH} deep in one another");
        Finding::new(Code::TooDeep, "", message).at(place)
    }

    fn take(&mut self, event: Event<'_>, place: Place) -> Result<(), Finding> {
        let reference = |what: &str| {
            let message = format!("{what} are not used in cell documents");
            Err(Finding::new(Code::Reference, self.pointer(), message).at(place))
        };
        match event {
            Event::Nothing | Event::StreamStart | Event::StreamEnd | Event::DocumentEnd => Ok(()),
            Event::DocumentStart(_) if self.root.is_some() => {
                let message = "a second document begins here";
                Err(Finding::new(Code::SeveralDocuments, "", message).at(place))
            }
            Event::DocumentStart(_) => Ok(()),
            Event::Alias(_) => reference("aliases (`*name`)"),
            Event::Scalar(_, _, anchor, _) | Event::SequenceStart(anchor, _) | Event::MappingStart(anchor, _)
                if anchor != 0 =>
            {
                reference("anchors (`&name`)")
            }
            Event::Scalar(_, _, _, Some(_)) | Event::SequenceStart(_, Some(_)) | Event::MappingStart(_, Some(_)) => {
                reference("tags (`!name`)")
            }
            Event::Scalar(text, style, _, None) => self.scalar(text.into_owned(), style == ScalarStyle::Plain, place),
            Event::SequenceStart(..) => self.begin(Open::List { place, items: Vec::new() }, place),
            Event::MappingStart(..) => {
                self.begin(Open::Map { place, entries: Vec::new(), keys: HashSet::new(), key: None }, place)
            }
            Event::SequenceEnd | Event::MappingEnd => {
                match self.open.pop() {
                    Some(Open::List { place, items }) => self.add(Node { place, value: Value::List(items) }),
                    Some(Open::Map { place, entries, .. }) => self.add(Node { place, value: Value::Map(entries) }),
                    None => {}
                }
                Ok(())
            }
        }
    }

    fn count(&mut self, place: Place) -> Result<(), Finding> {
        self.nodes += 1;
        if self.nodes > MAX_NODES {
            let message = format!("the document holds more than {MAX_NODES} values");
            return Err(Finding::new(Code::TooLarge, "", message).at(place));
        }
        Ok(())
    }

    fn begin(&mut self, open: Open, place: Place) -> Result<(), Finding> {
        self.count(place)?;
        if self.open.len() >= MAX_DEPTH {
            return Err(self.too_deep(place));
        }
        if let Some(Open::Map { key: None, .. }) = self.open.last() {
            let message = "a list or mapping stands here as a key";
            return Err(Finding::new(Code::Syntax, self.pointer(), message)
                .at(place)
                .advise("Write a plain word as key; text with braces needs quotes."));
        }
        self.open.push(open);
        Ok(())
    }

    fn scalar(&mut self, text: String, plain: bool, place: Place) -> Result<(), Finding> {
        self.count(place)?;
        if let Some(Open::Map { key: key @ None, .. }) = self.open.last_mut() {
            *key = Some((text, place));
            return Ok(());
        }
        let value = if plain { plain_value(text) } else { Value::Text(text) };
        self.add(Node { place, value });
        Ok(())
    }

    fn add(&mut self, node: Node) {
        match self.open.last_mut() {
            None => self.root = Some(node),
            Some(Open::List { items, .. }) => items.push(node),
            Some(Open::Map { entries, keys, key, .. }) => {
                let Some((key, place)) = key.take() else { return };
                if keys.insert(key.clone()) {
                    entries.push(Entry { key, place, node });
                } else {
                    let pointer = format!("{}/{}", self.pointer(), super::escape(&key));
                    let message = format!("the key {} is given a second time", quoted(&key));
                    self.duplicates.push(Finding::new(Code::DuplicateKey, pointer, message).at(place));
                }
            }
        }
    }

    /// The innermost list or mapping that is open.
    fn pointer(&self) -> String {
        let mut pointer = String::new();
        // The last one that is open is where the pointer leads; only those before it give a step.
        for open in &self.open[..self.open.len().saturating_sub(1)] {
            let step = match open {
                Open::List { items, .. } => items.len().to_string(),
                Open::Map { key: Some((key, _)), .. } => super::escape(key),
                Open::Map { key: None, .. } => continue,
            };
            pointer.push('/');
            pointer.push_str(&step);
        }
        pointer
    }
}

/// An unquoted scalar by the core schema (YAML 1.2.2 section 10.3.2), less its octal and hexadecimal numbers, which
/// nobody means in a cell document.
fn plain_value(text: String) -> Value {
    match text.as_str() {
        "" | "~" | "null" | "Null" | "NULL" => return Value::Null,
        "true" | "True" | "TRUE" => return Value::Flag(true),
        "false" | "False" | "FALSE" => return Value::Flag(false),
        ".nan" | ".NaN" | ".NAN" => return Value::Number(f64::NAN),
        _ => {}
    }
    let (negative, bare) = match text.strip_prefix('-') {
        Some(bare) => (true, bare),
        None => (false, text.strip_prefix('+').unwrap_or(&text)),
    };
    if matches!(bare, ".inf" | ".Inf" | ".INF") {
        return Value::Number(if negative { f64::NEG_INFINITY } else { f64::INFINITY });
    }
    // Rust also reads `inf`, `infinity` and `nan`, which are words here.
    let numeric = bare.starts_with(|c: char| c.is_ascii_digit() || c == '.')
        && bare.bytes().all(|b| b.is_ascii_digit() || matches!(b, b'.' | b'e' | b'E' | b'+' | b'-'));
    if !numeric {
        return Value::Text(text);
    }
    if let Ok(whole) = text.parse::<i64>() {
        return Value::Whole(whole);
    }
    text.parse::<f64>().map_or(Value::Text(text), Value::Number)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn core_schema() {
        let of = |text: &str| plain_value(text.to_owned());
        for (text, value) in [("12", 12), ("-3", -3), ("+5", 5), ("0", 0), ("007", 7)] {
            assert_eq!(of(text), Value::Whole(value), "{text}");
        }
        for (text, value) in [("1.0", 1.0), ("1e3", 1e3), (".5", 0.5), ("-2.5E-1", -0.25), ("4.", 4.0)] {
            assert_eq!(of(text), Value::Number(value), "{text}");
        }
        assert_eq!(of("99999999999999999999"), Value::Number(1e20));
        assert_eq!(of("1e400"), Value::Number(f64::INFINITY));
        assert_eq!(of("-.inf"), Value::Number(f64::NEG_INFINITY));
        assert!(matches!(of(".nan"), Value::Number(n) if n.is_nan()));
        for text in ["inf", "nan", "1_000", "12:30", "1,5", "0x1F", "yes", "-", ".", "1e", "e5", "+-1", "--1"] {
            assert_eq!(of(text), Value::Text(text.to_owned()), "{text}");
        }
        assert_eq!(of("~"), Value::Null);
        assert_eq!(of("True"), Value::Flag(true));
    }
}
