//! Two things that JSON allows and the YAML reader refuses, rewritten so that places in the text are kept.
//!
//! JSON writes a character beyond U+FFFF as two escapes (RFC 8259 section 7), YAML as one; writers that keep to ASCII
//! do so for every such character. And in JSON a tab is as good as a space between any two words.

use std::borrow::Cow;

use super::Place;

/// An escape of twelve characters became one of ten.
const SHORTER_BY: u32 = 2;

/// Where the text became shorter, in the order of the text.
#[derive(Debug, Default)]
pub(super) struct Shifts(Vec<Place>);

impl Shifts {
    /// The place in the original text.
    pub(super) fn undo(&self, place: Place) -> Place {
        let line = Place { column: 0, ..place };
        let before = self.0.partition_point(|p| *p < place) - self.0.partition_point(|p| *p < line);
        let count = u32::try_from(before).unwrap_or(u32::MAX);
        Place { line: place.line, column: place.column.saturating_add(count.saturating_mul(SHORTER_BY)) }
    }
}

/// Rewrites tabs and pairs of surrogates when the text is JSON; other text is left alone.
pub(super) fn rewrite(text: &str) -> (Cow<'_, str>, Shifts) {
    let unchanged = (Cow::Borrowed(text), Shifts::default());
    if !["\t", "\\ud", "\\uD"].iter().any(|trigger| text.contains(trigger)) {
        return unchanged;
    }
    // Only in strict JSON is every backslash an escape and every tab a space (RFC 8259 keeps them out of strings).
    if serde_json::from_str::<serde::de::IgnoredAny>(text).is_err() {
        return unchanged;
    }
    let mut out = String::with_capacity(text.len());
    let mut shifts = Shifts::default();
    let (mut line, mut column) = (0, 0);
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        let (taken, put): (usize, Cow<'_, str>) = if c == '\\' {
            match pair(rest) {
                Some(character) => (12, format!("\\U{:08X}", u32::from(character)).into()),
                // The character after a backslash is its own, or `\\ud83d` would be misread.
                None => (2, rest.get(..2).unwrap_or(rest).into()),
            }
        } else if c == '\t' {
            (1, " ".into())
        } else {
            (c.len_utf8(), rest.get(..c.len_utf8()).unwrap_or(rest).into())
        };
        if taken == 12 {
            shifts.0.push(Place::from_zero(line, column));
        }
        out.push_str(&put);
        (line, column) = if c == '\n' { (line + 1, 0) } else { (line, column + put.chars().count()) };
        rest = rest.get(taken..).unwrap_or_default();
    }
    (Cow::Owned(out), shifts)
}

/// The character that the text begins with, written as `\uXXXX\uXXXX`.
fn pair(text: &str) -> Option<char> {
    let unit = |from: usize| {
        let escape = text.get(from..from + 6)?.strip_prefix("\\u")?;
        u16::from_str_radix(escape, 16).ok()
    };
    let units = [unit(0)?, unit(6)?];
    if !(0xD800..0xDC00).contains(&units[0]) {
        return None;
    }
    char::decode_utf16(units).next()?.ok()
}
