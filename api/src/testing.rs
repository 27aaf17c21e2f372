//! Chance for the tests, the same on every run.

use serde_json::Value;

/// A small generator (xorshift64*, Vigna 2016); the seed must not be zero.
pub struct Random(pub u64);

impl Random {
    /// The next number.
    pub fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D)
    }

    /// A number below `end`.
    pub fn below(&mut self, end: usize) -> usize {
        (self.next() >> 33) as usize % end
    }

    /// One of these.
    pub fn of<T: Clone>(&mut self, choices: &[T]) -> T {
        choices[self.below(choices.len())].clone()
    }

    fn text(&mut self) -> String {
        let parts = [
            "a", " ", "#", ": ", "- ", "é", "\"", "\\", "\n", "😀", "{", "]", ",", "'", "&", "*", "!", "~", "\t",
            "\u{1}",
        ];
        (0..self.below(6)).map(|_| self.of(&parts)).collect()
    }

    /// Any JSON value.
    pub fn json(&mut self, depth: usize) -> Value {
        match self.below(if depth == 0 { 6 } else { 8 }) {
            0 => Value::Null,
            1 => self.of(&[true, false]).into(),
            2 => (self.below(2_000_000) as i64 - 1_000_000).into(),
            3 => (self.below(1_000_000) as f64 * 1.1e-3 - 50.0).into(),
            4 | 5 => self.text().into(),
            6 => (0..self.below(4)).map(|_| self.json(depth - 1)).collect(),
            _ => (0..self.below(4)).map(|_| (self.text(), self.json(depth - 1))).collect(),
        }
    }

    fn space(&mut self) -> &'static str {
        self.of(&["", "", "", " ", "\t", "\n", "\r\n", " \t", "\n\t"])
    }

    fn quoted(&mut self, text: &str) -> String {
        if self.below(2) == 0 {
            return Value::from(text).to_string();
        }
        // As writers do that keep to ASCII.
        let escaped = text.encode_utf16().map(|unit| match char::from_u32(u32::from(unit)) {
            Some(c) if c.is_ascii_alphanumeric() => c.to_string(),
            _ => format!("\\u{unit:04x}"),
        });
        format!("\"{}\"", escaped.collect::<String>())
    }

    /// The value as JSON with space wherever it may be.
    pub fn spaced(&mut self, value: &Value) -> String {
        let inner = match value {
            Value::String(text) => self.quoted(text),
            Value::Array(items) => {
                let items: Vec<_> = items.iter().map(|item| self.spaced(item)).collect();
                format!("[{}{}]", items.join(","), self.space())
            }
            Value::Object(map) => {
                let entries: Vec<_> = map
                    .iter()
                    .map(|(key, item)| {
                        format!("{}{}{}:{}", self.space(), self.quoted(key), self.space(), self.spaced(item))
                    })
                    .collect();
                format!("{{{}{}}}", entries.join(","), self.space())
            }
            other => other.to_string(),
        };
        format!("{}{inner}{}", self.space(), self.space())
    }
}
