//! The tree of a document.

/// A place in the text.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// Counted from 1.
    pub line: u32,
    /// In characters, counted from 1.
    pub column: u32,
}

impl Place {
    /// From a line and a column that are both counted from zero.
    pub(super) fn from_zero(line: usize, column: usize) -> Self {
        let one_more = |n: usize| u32::try_from(n).unwrap_or(u32::MAX).saturating_add(1);
        Self { line: one_more(line), column: one_more(column) }
    }
}

/// A value and its place.
#[derive(Clone, Debug, PartialEq)]
pub struct Node {
    /// Where it begins.
    pub place: Place,
    /// What it is.
    pub value: Value,
}

/// What can stand in a document.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// Nothing.
    Null,
    /// True or false.
    Flag(bool),
    /// A number written without a point or power of ten.
    Whole(i64),
    /// Any other number.
    Number(f64),
    /// Text.
    Text(String),
    /// A list.
    List(Vec<Node>),
    /// A mapping, in the order of the text.
    Map(Vec<Entry>),
}

/// One key of a mapping and its value.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// The key.
    pub key: String,
    /// Where it begins.
    pub place: Place,
    /// Its value.
    pub node: Node,
}

impl Node {
    /// What a JSON pointer leads to, with the place of the last key where that is a key of a mapping.
    #[must_use]
    pub fn find(&self, pointer: &str) -> Option<(&Node, Place)> {
        let mut here = (self, self.place);
        if pointer.is_empty() {
            return Some(here);
        }
        for step in pointer.strip_prefix('/')?.split('/') {
            here = match &here.0.value {
                Value::Map(entries) => {
                    let step = step.replace("~1", "/").replace("~0", "~");
                    entries.iter().find(|e| e.key == step).map(|e| (&e.node, e.place))?
                }
                Value::List(items) => items.get(step.parse::<usize>().ok()?).map(|node| (node, node.place))?,
                _ => return None,
            };
        }
        Some(here)
    }

    /// As plain JSON; a number that is not finite becomes null.
    #[must_use]
    pub fn to_json(&self) -> serde_json::Value {
        match &self.value {
            Value::Null => serde_json::Value::Null,
            Value::Flag(flag) => (*flag).into(),
            Value::Whole(number) => (*number).into(),
            Value::Number(number) => (*number).into(),
            Value::Text(text) => text.as_str().into(),
            Value::List(items) => items.iter().map(Node::to_json).collect(),
            Value::Map(entries) => entries.iter().map(|e| (e.key.clone(), e.node.to_json())).collect(),
        }
    }
}

impl Value {
    /// What it is, for a message.
    #[must_use]
    pub fn describe(&self) -> String {
        match self {
            Self::Null => "nothing".to_owned(),
            Self::Flag(flag) => flag.to_string(),
            Self::Whole(number) => number.to_string(),
            Self::Number(number) => short(*number),
            Self::Text(text) => format!("the text {}", quoted(text)),
            Self::List(_) => "a list".to_owned(),
            Self::Map(_) => "a mapping".to_owned(),
        }
    }
}

/// A number as a person writes it: far from one with a power of ten.
#[must_use]
pub fn short(number: f64) -> String {
    if number == 0.0 || !number.is_finite() || (1e-6..1e15).contains(&number.abs()) {
        number.to_string()
    } else {
        format!("{number:e}")
    }
}

/// Text in backticks, cut short and without control characters, so that a message stays one readable line.
#[must_use]
pub fn quoted(text: &str) -> String {
    const MOST: usize = 60;
    let mut short: String = text.chars().take(MOST).map(|c| if c.is_control() { '\u{fffd}' } else { c }).collect();
    if text.chars().nth(MOST).is_some() {
        short.push('…');
    }
    format!("`{short}`")
}

/// A key as a step of a JSON pointer (RFC 6901 section 3).
#[must_use]
pub fn escape(key: &str) -> String {
    key.replace('~', "~0").replace('/', "~1")
}
