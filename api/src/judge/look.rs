//! A value of a plan document and the pointer that leads to it, with readers that note what is wrong.

use serde_json::Value;

use crate::codes::Code;
use crate::finding::Finding;
use crate::read::{escape, quoted};

/// A value and the way to it.
#[derive(Clone, Debug)]
pub(super) struct Look<'a> {
    pub(super) value: &'a Value,
    pub(super) pointer: String,
}

/// What is wrong so far.
pub(super) type Findings = Vec<Finding>;

impl<'a> Look<'a> {
    pub(super) fn root(value: &'a Value) -> Self {
        Self { value, pointer: String::new() }
    }

    /// A key's value, unless it is not there or null.
    pub(super) fn key(&self, key: &str) -> Option<Self> {
        let value = self.value.get(key).filter(|v| !v.is_null())?;
        Some(Self { value, pointer: format!("{}/{}", self.pointer, escape(key)) })
    }

    /// The entries of a list; none of anything else.
    pub(super) fn items(&self) -> Vec<Self> {
        let items = self.value.as_array().map_or(&[][..], Vec::as_slice);
        items.iter().enumerate().map(|(i, value)| Self { value, pointer: format!("{}/{i}", self.pointer) }).collect()
    }

    fn wrong(&self, code: Code, says: &str, findings: &mut Findings) {
        let name = self.pointer.rsplit('/').next().unwrap_or_default();
        findings.push(Finding::new(code, self.pointer.clone(), format!("{} {says}", quoted(name))));
    }

    fn needed(&self, key: &str, findings: &mut Findings) -> Option<Self> {
        let found = self.key(key);
        if found.is_none() {
            let message = format!("{} is missing; a plan cannot be judged without it", quoted(key));
            findings.push(Finding::new(Code::MissingKey, self.pointer.clone(), message));
        }
        found
    }

    pub(super) fn list_needed(&self, key: &str, findings: &mut Findings) -> Option<Vec<Self>> {
        let list = self.needed(key, findings)?;
        if !list.value.is_array() {
            list.wrong(Code::WrongType, "is not a list", findings);
            return None;
        }
        Some(list.items())
    }

    pub(super) fn text_needed(&self, key: &str, findings: &mut Findings) -> Option<&'a str> {
        let text = self.needed(key, findings)?;
        let found = text.value.as_str();
        if found.is_none() {
            text.wrong(Code::WrongType, "is not a text", findings);
        }
        found
    }

    pub(super) fn number_needed(&self, key: &str, least: f64, most: f64, findings: &mut Findings) -> Option<f64> {
        self.needed(key, findings)?.number(least, most, findings)
    }

    pub(super) fn number(&self, least: f64, most: f64, findings: &mut Findings) -> Option<f64> {
        let Some(number) = self.value.as_f64() else {
            self.wrong(Code::WrongType, "is not a number", findings);
            return None;
        };
        if (least..=most).contains(&number) {
            return Some(number);
        }
        self.wrong(Code::OutOfRange, &format!("is {number}; it must lie from {least} to {most}"), findings);
        None
    }

    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    pub(super) fn count_needed(&self, key: &str, most: u32, findings: &mut Findings) -> Option<u32> {
        let count = self.needed(key, findings)?;
        let number = count.number(0.0, f64::from(most), findings)?;
        if number.fract() != 0.0 {
            count.wrong(Code::NotWhole, &format!("is {number}"), findings);
            return None;
        }
        Some(number as u32)
    }

    pub(super) fn choice_needed<T: Copy>(
        &self,
        key: &str,
        choices: &[(&str, T)],
        findings: &mut Findings,
    ) -> Option<T> {
        let word = self.text_needed(key, findings)?;
        let found = choices.iter().find(|c| c.0 == word).map(|c| c.1);
        if found.is_none() {
            let known: Vec<&str> = choices.iter().map(|c| c.0).collect();
            let message = format!("{} is {}; it must be one of: {}", quoted(key), quoted(word), known.join(", "));
            findings.push(Finding::new(Code::UnknownChoice, format!("{}/{}", self.pointer, escape(key)), message));
        }
        found
    }
}
