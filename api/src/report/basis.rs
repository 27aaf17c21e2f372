//! The basis of design: every input, what it is, where it comes from.

use std::collections::BTreeMap;

use serde_json::Value;

use crate::check::Document;
use crate::codes::Code;
use crate::finding::Finding;
use crate::read::escape;

/// Where an input comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Status {
    /// It stands in the cell document.
    Given,
    /// It was measured, says its author.
    Measured,
    /// It was assumed, says its author.
    Assumed,
    /// It was left out, and the default holds.
    Default,
}

impl Status {
    /// How it is printed.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Given => "given",
            Self::Measured => "measured",
            Self::Assumed => "assumed",
            Self::Default => "default",
        }
    }

    /// Whether the customer is to be asked about it.
    #[must_use]
    pub fn open(self) -> bool {
        matches!(self, Self::Assumed | Self::Default)
    }
}

/// One input.
#[derive(Clone, Debug, PartialEq)]
pub struct Input {
    /// JSON pointer into the cell document.
    pub pointer: String,
    /// The same for people, with ids in place of numbers.
    pub name: String,
    /// The value as it is written in the document.
    pub value: Value,
    /// Unit, from the key's ending.
    pub unit: &'static str,
    /// Where it comes from.
    pub status: Status,
    /// What its author says about it.
    pub source: String,
}

/// Sources by JSON pointer; one that leads to a mapping or list holds for all in it. A text that begins with `measured` or
/// `assumed` says so of its inputs.
pub type Sources = BTreeMap<String, String>;

/// Reads sources in YAML or JSON, and refuses pointers that lead nowhere in the cell.
///
/// # Errors
/// Every finding about them.
pub fn read_sources(bytes: &[u8], document: &Document) -> Result<Sources, Vec<Finding>> {
    let read = crate::read::read(bytes).map_err(|finding| vec![finding])?;
    let Value::Object(keys) = read.root.to_json() else {
        return Err(vec![Finding::new(Code::WrongType, "", "sources are a mapping from JSON pointers to texts")]);
    };
    let (mut sources, mut findings) = (Sources::new(), read.duplicates);
    for (pointer, value) in keys {
        match value {
            Value::String(text) => {
                sources.insert(pointer, text);
            }
            _ => findings.push(Finding::new(Code::WrongType, format!("/{}", escape(&pointer)), "a source is a text")),
        }
    }
    findings.extend(astray(&sources, document));
    if findings.is_empty() { Ok(sources) } else { Err(findings) }
}

/// Sources whose pointers lead nowhere in the cell.
#[must_use]
pub fn astray(sources: &Sources, document: &Document) -> Vec<Finding> {
    // Plain records always can be written.
    let root = serde_json::to_value(&document.wire).unwrap_or_default();
    let lost = sources.keys().filter(|pointer| root.pointer(pointer).is_none());
    let finding = |pointer: &String| {
        let message = format!("{} leads to nothing in the cell document", crate::read::quoted(pointer));
        Finding::new(Code::UnknownId, format!("/sources/{}", escape(pointer)), message)
            .advise("Write a JSON pointer into the cell document, as /stations/0/intermittent/base_s.")
    };
    lost.map(finding).collect()
}

/// Keys whose values are names and ids.
const NAMES: &[&str] = &["format", "name", "id", "order", "from", "to"];

const UNITS: &[(&str, &str)] = &[
    ("_cases_per_min", "1/min"),
    ("_per_min", "1/min"),
    ("_m_s3", "m/s³"),
    ("_m_s2", "m/s²"),
    ("_m_s", "m/s"),
    ("_m2", "m²"),
    ("_mm", "mm"),
    ("_kg", "kg"),
    ("_s", "s"),
    ("_n", "N"),
];

/// Unit in which a key ends.
#[must_use]
pub fn unit(key: &str) -> &'static str {
    UNITS.iter().find(|(ending, _)| key.ends_with(ending)).map_or("", |(_, unit)| unit)
}

/// Every number, word and choice of the cell, in the order of the published document; names and ids are none.
#[must_use]
pub fn inputs(document: &Document, sources: &Sources) -> Vec<Input> {
    let mut all = Vec::new();
    // Plain records always can be written.
    let root = serde_json::to_value(&document.wire).unwrap_or_default();
    walk(document, sources, &root, "", "", &mut all);
    all
}

fn walk(document: &Document, sources: &Sources, value: &Value, pointer: &str, name: &str, all: &mut Vec<Input>) {
    let under = |step: &str| if name.is_empty() { step.to_owned() } else { format!("{name} / {step}") };
    match value {
        Value::Object(keys) => {
            for (key, inner) in keys.iter().filter(|(key, _)| !NAMES.contains(&key.as_str())) {
                walk(document, sources, inner, &format!("{pointer}/{}", escape(key)), &under(key), all);
            }
        }
        Value::Array(items) => {
            for (i, inner) in items.iter().enumerate() {
                let id = inner["id"].as_str().map(str::to_owned);
                let ends = || Some(format!("{} to {}", inner["from"].as_str()?, inner["to"].as_str()?));
                let step = id.or_else(ends).unwrap_or_else(|| (i + 1).to_string());
                walk(document, sources, inner, &format!("{pointer}/{i}"), &under(&step), all);
            }
        }
        Value::Null => {}
        leaf => {
            let source = source(sources, pointer);
            let says = source.to_lowercase();
            let status = if document.value_at(pointer).is_none_or(|v| v.is_null()) {
                Status::Default
            } else if says.starts_with("measured") {
                Status::Measured
            } else if says.starts_with("assumed") {
                Status::Assumed
            } else {
                Status::Given
            };
            let source = match (status, source.is_empty()) {
                (Status::Default, true) => "left out; default of the planning model".to_owned(),
                (_, true) => "cell document".to_owned(),
                _ => source.to_owned(),
            };
            let unit = unit(pointer.rsplit('/').next().unwrap_or_default());
            all.push(Input {
                pointer: pointer.to_owned(),
                name: name.to_owned(),
                value: leaf.clone(),
                unit,
                status,
                source,
            });
        }
    }
}

/// What is said about the closest place above.
fn source<'a>(sources: &'a Sources, pointer: &str) -> &'a str {
    let mut here = pointer;
    loop {
        if let Some(text) = sources.get(here) {
            return text;
        }
        match here.rfind('/') {
            Some(at) => here = &here[..at],
            None => return "",
        }
    }
}

/// A value for people.
#[must_use]
pub fn shown(value: &Value) -> String {
    match value {
        Value::String(text) => text.clone(),
        Value::Bool(yes) => if *yes { "yes" } else { "no" }.to_owned(),
        Value::Number(number) => number.as_f64().map_or_else(|| number.to_string(), crate::read::short),
        other => other.to_string(),
    }
}

/// Limits and properties that the document leaves out, so that nothing was held against them.
#[must_use]
pub fn missing(document: &Document) -> Vec<(String, &'static str)> {
    let mut all = Vec::new();
    let mut ask = |absent: bool, pointer: String, about: &'static str| {
        if absent {
            all.push((pointer, about));
        }
    };
    let cell = &document.wire;
    ask(cell.requirements.floor.is_none(), "/requirements/floor".to_owned(), "Which floor is there for the cell?");
    for (i, circuit) in cell.circuits.iter().enumerate() {
        let at = |key: &str| format!("/circuits/{i}/carrier/{key}");
        let c = &circuit.carrier;
        ask(c.max_jerk_m_s3.is_none(), at("max_jerk_m_s3"), "Is there a limit of jerk? None was kept.");
        ask(c.peak_force_n.is_none(), at("peak_force_n"), "What is the peak force of a mover? None was held against.");
        ask(
            c.continuous_force_n.is_none(),
            at("continuous_force_n"),
            "What is the continuous force of a mover? Heat was not checked.",
        );
        for (k, sku) in cell.skus.iter().enumerate() {
            let at = |key: &str| format!("/skus/{k}/loads/{}/{key}", escape(&circuit.id));
            match sku.loads.get(&circuit.id) {
                None => ask(true, at("").trim_end_matches('/').to_owned(), "What does a carrier carry of this SKU?"),
                Some(load) if !load.held => {
                    ask(
                        load.friction.is_none(),
                        at("friction"),
                        "Which friction has the load? Sliding was not checked.",
                    );
                    ask(
                        load.cg_height_mm.is_none() || load.base_mm.is_none(),
                        at("cg_height_mm"),
                        "How high is its centre of gravity? Tipping was not checked.",
                    );
                }
                Some(_) => {}
            }
        }
    }
    for (i, station) in cell.stations.iter().enumerate() {
        ask(
            station.failures.is_none(),
            format!("/stations/{i}/failures"),
            "How often does the station stop, and for how long?",
        );
    }
    all
}
