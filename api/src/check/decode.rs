//! Reading one mapping of a document, key by key.
//!
//! A value that is faulty is reported once and stands in as something that no later check trips over: a number as NaN
//! (no comparison with it holds), an id as empty text, a mapping as one whose keys are not missed.

use super::nearest::nearest;
use super::range::{Counts, Range};
use super::sink::Sink;
use crate::codes::Code;
use crate::finding::Finding;
use crate::read::{Entry, Node, Value, escape, quoted, short};

/// Longest name or id, in characters.
const LONGEST_TEXT: usize = 200;

/// A mapping that is being read.
pub(super) struct Object<'t, 's> {
    sink: &'s Sink<'t>,
    entries: &'t [Entry],
    pointer: String,
    known: Vec<&'static str>,
    /// Not a mapping, or not there; reported already.
    broken: bool,
}

/// An entry of a list or of a mapping with free keys.
pub(super) struct Item<'t> {
    pub(super) node: &'t Node,
    pub(super) pointer: String,
    /// The free key; empty in a list.
    pub(super) key: &'t str,
}

impl<'t, 's> Object<'t, 's> {
    /// Begins to read a value as a mapping.
    pub(super) fn open(node: &'t Node, pointer: String, sink: &'s Sink<'t>) -> Self {
        let mut object = Self { sink, entries: &[], pointer, known: Vec::new(), broken: false };
        if let Value::Map(entries) = &node.value {
            object.entries = entries;
        } else {
            object.broken = true;
            sink.report(wrong_type(&object.pointer, "this", "a mapping of keys to values", node));
        }
        object
    }

    /// The numbers of a mapping with free keys that need not be there.
    pub(super) fn numbers(&mut self, key: &'static str, range: &Range) -> Vec<(String, f64)> {
        let Some(object) = self.object(key) else { return Vec::new() };
        let given = object.entries.iter().filter(|e| e.node.value != Value::Null);
        given.map(|e| (e.key.clone(), object.as_number(&e.key, range, &e.node))).collect()
    }

    /// The texts of a mapping with free keys that need not be there.
    pub(super) fn texts(&mut self, key: &'static str) -> Vec<(String, String)> {
        let items = self.map(key);
        let read = |item: &Item<'t>| {
            (item.key.to_owned(), text(item.node, &item.pointer, &format!("`{}`", item.key), self.sink))
        };
        items.iter().map(read).collect()
    }

    /// Begins to read an entry as a mapping.
    pub(super) fn item(item: &Item<'t>, sink: &'s Sink<'t>) -> Self {
        Self::open(item.node, item.pointer.clone(), sink)
    }

    /// Reports every key that was not asked for.
    pub(super) fn close(self) {
        for entry in self.entries.iter().filter(|e| !self.known.contains(&e.key.as_str())) {
            let key = quoted(&entry.key);
            let finding =
                Finding::new(Code::UnknownKey, self.path(&entry.key), format!("the key {key} is not known here"));
            let meant = if self.sink.full() { None } else { nearest(&entry.key, self.known.iter().copied()) };
            self.sink.report_key(match meant {
                Some(meant) => finding.advise(format!("Did you mean `{meant}`? Correct the key, or leave it out.")),
                None => finding.advise(format!("Leave it out; known here are {}.", list(&self.known))),
            });
        }
    }

    /// Pointer of one of its keys.
    pub(super) fn path(&self, key: &str) -> String {
        format!("{}/{}", self.pointer, escape(key))
    }

    /// Reports something about one of its keys, which must be there.
    pub(super) fn fault(&self, code: Code, key: &str, message: impl Into<String>) {
        self.sink.report_key(Finding::new(code, self.path(key), message));
    }

    /// Reports something about the mapping, unless that was found faulty already.
    pub(super) fn fault_here(&self, code: Code, message: impl Into<String>) {
        if !self.broken {
            self.sink.report(Finding::new(code, self.pointer.clone(), message));
        }
    }

    /// Whether the key is there, and not empty.
    pub(super) fn has(&mut self, key: &'static str) -> bool {
        self.value(key).is_some()
    }

    fn value(&mut self, key: &'static str) -> Option<&'t Node> {
        if !self.known.contains(&key) {
            self.known.push(key);
        }
        let entry = self.entries.iter().find(|e| e.key == key)?;
        if entry.node.value == Value::Null { None } else { Some(&entry.node) }
    }

    fn needed(&mut self, key: &'static str) -> Option<&'t Node> {
        let value = self.value(key);
        if value.is_none() && !self.broken {
            let message = format!("the key `{key}` is missing");
            let finding = Finding::new(Code::MissingKey, self.pointer.clone(), message);
            self.sink.report(finding.advise(format!("Add `{key}`.")));
        }
        value
    }

    fn wrong_type(&self, key: &str, wanted: &str, node: &Node) {
        self.sink.report(wrong_type(&self.path(key), &format!("`{key}`"), wanted, node));
    }

    /// A number that need not be there.
    pub(super) fn number(&mut self, key: &'static str, range: &Range) -> Option<f64> {
        let node = self.value(key)?;
        Some(self.as_number(key, range, node))
    }

    /// A number with a default.
    pub(super) fn number_or(&mut self, key: &'static str, range: &Range, default: f64) -> f64 {
        self.number(key, range).unwrap_or(default)
    }

    /// A number that must be there.
    pub(super) fn number_needed(&mut self, key: &'static str, range: &Range) -> f64 {
        self.needed(key).map_or(f64::NAN, |node| self.as_number(key, range, node))
    }

    fn as_number(&self, key: &str, range: &Range, node: &Node) -> f64 {
        let number = match node.value {
            // Exact up to 2^53, which is beyond every range.
            #[allow(clippy::cast_precision_loss)]
            Value::Whole(number) => number as f64,
            Value::Number(number) => number,
            _ => {
                self.wrong_type(key, "a number", node);
                return f64::NAN;
            }
        };
        if !number.is_finite() {
            let message = format!("`{key}` is {}, which is no finite number", short(number));
            self.sink.report(Finding::new(Code::NotFinite, self.path(key), message));
            return f64::NAN;
        }
        if !range.holds(number) {
            let message = format!("`{key}` is {}; it must be {range}", short(number));
            self.sink.report(Finding::new(Code::OutOfRange, self.path(key), message));
            return f64::NAN;
        }
        number
    }

    /// A count that need not be there; the least allowed when it is faulty.
    pub(super) fn count(&mut self, key: &'static str, counts: &Counts) -> Option<u32> {
        let node = self.value(key)?;
        Some(self.as_count(key, counts, node))
    }

    /// A count that must be there.
    pub(super) fn count_needed(&mut self, key: &'static str, counts: &Counts) -> u32 {
        self.needed(key).map_or(counts.0, |node| self.as_count(key, counts, node))
    }

    fn as_count(&self, key: &'static str, counts: &Counts, node: &Node) -> u32 {
        let Counts(least, most) = *counts;
        let whole = match node.value {
            Value::Whole(number) => Some(number),
            // The cast saturates far outside of every range.
            #[allow(clippy::cast_possible_truncation)]
            Value::Number(number) if number.is_finite() && number.fract() == 0.0 => Some(number as i64),
            Value::Number(number) => {
                let (code, what) = if number.is_finite() {
                    (Code::NotWhole, "no whole number")
                } else {
                    (Code::NotFinite, "no finite number")
                };
                self.sink.report(Finding::new(
                    code,
                    self.path(key),
                    format!("`{key}` is {}, which is {what}", short(number)),
                ));
                None
            }
            _ => {
                self.wrong_type(key, "a whole number", node);
                None
            }
        };
        let count = whole.and_then(|whole| {
            let count = u32::try_from(whole).ok().filter(|count| (least..=most).contains(count));
            if count.is_none() {
                let message = format!("`{key}` is {whole}; it must be a whole number from {least} to {most}");
                self.sink.report(Finding::new(Code::OutOfRange, self.path(key), message));
            }
            count
        });
        count.unwrap_or(least)
    }

    /// A count with a default.
    pub(super) fn count_or(&mut self, key: &'static str, counts: &Counts, default: u32) -> u32 {
        self.count(key, counts).unwrap_or(default)
    }

    /// Yes or no, with a default.
    pub(super) fn flag_or(&mut self, key: &'static str, default: bool) -> bool {
        match self.value(key) {
            None => default,
            Some(Node { value: Value::Flag(flag), .. }) => *flag,
            Some(node) => {
                self.wrong_type(key, "true or false", node);
                default
            }
        }
    }

    /// A name or id that must be there; empty when it is faulty.
    pub(super) fn text(&mut self, key: &'static str) -> String {
        let Some(node) = self.needed(key) else { return String::new() };
        text(node, &self.path(key), &format!("`{key}`"), self.sink)
    }

    /// One of several words; the default when it is not there, the first when it is faulty.
    pub(super) fn choice<T: Copy>(&mut self, key: &'static str, words: &[(&str, T)], default: T) -> T {
        let Some(node) = self.value(key) else { return default };
        let names: Vec<&str> = words.iter().map(|&(name, _)| name).collect();
        let Value::Text(word) = &node.value else {
            self.wrong_type(key, &format!("one of {}", list(&names)), node);
            return default;
        };
        if let Some(&(_, choice)) = words.iter().find(|(name, _)| name == word) {
            return choice;
        }
        let message = format!("`{key}` is {}; it must be one of {}", quoted(word), list(&names));
        let finding = Finding::new(Code::UnknownChoice, self.path(key), message);
        self.sink.report(match nearest(word, names) {
            Some(meant) => finding.advise(format!("Did you mean `{meant}`?")),
            None => finding,
        });
        default
    }

    /// One of several words that must be there; the default only stands in for a faulty one.
    pub(super) fn choice_needed<T: Copy>(&mut self, key: &'static str, words: &[(&str, T)], stand_in: T) -> T {
        if self.needed(key).is_none() {
            return stand_in;
        }
        self.choice(key, words, stand_in)
    }

    /// A mapping that need not be there.
    pub(super) fn object(&mut self, key: &'static str) -> Option<Self> {
        let node = self.value(key)?;
        Some(Self::open(node, self.path(key), self.sink))
    }

    /// A mapping that must be there.
    pub(super) fn object_needed(&mut self, key: &'static str) -> Self {
        match self.needed(key) {
            Some(node) => Self::open(node, self.path(key), self.sink),
            None => Self { sink: self.sink, entries: &[], pointer: self.path(key), known: Vec::new(), broken: true },
        }
    }

    /// A list that need not be there.
    pub(super) fn list(&mut self, key: &'static str, most: usize) -> Vec<Item<'t>> {
        let Some(node) = self.value(key) else { return Vec::new() };
        let pointer = self.path(key);
        let Value::List(items) = &node.value else {
            self.wrong_type(key, "a list", node);
            return Vec::new();
        };
        if items.len() > most {
            let message = format!("`{key}` has {} entries; at most {most} are allowed", items.len());
            self.sink.report(Finding::new(Code::TooMany, pointer.clone(), message));
        }
        let item = |(index, node)| Item { node, pointer: format!("{pointer}/{index}"), key: "" };
        items.iter().take(most).enumerate().map(item).collect()
    }

    /// A list that must be there and hold something.
    pub(super) fn list_needed(&mut self, key: &'static str, most: usize) -> Vec<Item<'t>> {
        let Some(node) = self.needed(key) else { return Vec::new() };
        if matches!(&node.value, Value::List(items) if items.is_empty()) {
            self.sink.report(Finding::new(Code::EmptyList, self.path(key), format!("`{key}` is empty")));
        }
        self.list(key, most)
    }

    /// The entries of a mapping with free keys that need not be there. Entries without a value are left out.
    pub(super) fn map(&mut self, key: &'static str) -> Vec<Item<'t>> {
        let Some(object) = self.object(key) else { return Vec::new() };
        let given = object.entries.iter().filter(|e| e.node.value != Value::Null);
        given.map(|e| Item { node: &e.node, pointer: object.path(&e.key), key: &e.key }).collect()
    }
}

/// A name or id; empty when it is faulty.
pub(super) fn text(node: &Node, pointer: &str, what: &str, sink: &Sink<'_>) -> String {
    let Value::Text(text) = &node.value else {
        sink.report(wrong_type(pointer, what, "text", node));
        return String::new();
    };
    let fault = if text.trim().is_empty() {
        "is empty"
    } else if text.chars().count() > LONGEST_TEXT {
        "is longer than 200 characters"
    } else if text.chars().any(char::is_control) {
        "holds control characters"
    } else {
        return text.clone();
    };
    sink.report(Finding::new(Code::BadText, pointer, format!("{what} {fault}")));
    String::new()
}

fn wrong_type(pointer: &str, what: &str, wanted: &str, node: &Node) -> Finding {
    let message = format!("{what} must be {wanted}, but is {}", node.value.describe());
    let finding = Finding::new(Code::WrongType, pointer, message);
    match &node.value {
        Value::Text(text) if wanted.ends_with("number") && text.trim().parse::<f64>().is_ok() => {
            finding.advise("Write the number without quotes.")
        }
        Value::Text(text) if wanted.ends_with("number") && text.contains(',') => {
            finding.advise("Write a number with a decimal point and without separators.")
        }
        Value::Text(_) if wanted.ends_with("number") => finding.advise("Write a plain number; its unit is in the key."),
        Value::Flag(_) | Value::Whole(_) | Value::Number(_) if wanted == "text" => {
            finding.advise("Put it in quotes, or begin with a letter.")
        }
        _ => finding,
    }
}

/// Words in backticks, with commas.
fn list(words: &[&str]) -> String {
    words.iter().map(|word| format!("`{word}`")).collect::<Vec<_>>().join(", ")
}
