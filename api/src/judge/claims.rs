//! Every number that a plan document gives, held against the recomputed one.
//!
//! The recomputed plan document is walked together with the given one: a key that both have must hold the same, within a
//! tolerance by its unit. Lists are matched by the ids in them.

use std::collections::BTreeMap;

use serde_json::Value;

use super::look::Look;
use crate::read::quoted;
use crate::show::gap;
use crate::wire::judgement::JudgementLine;

/// Lengths, times and money may differ by this share.
const CLOSE: f64 = 1e-6;
/// Rates and forces by this one.
const CLOSE_RATE: f64 = 1e-4;
/// Sums of times in whole microseconds may differ by some roundings, in seconds.
const ROUNDED_S: f64 = 5e-6;
/// Lengths near nothing, in metres.
const NOTHING_M: f64 = 1e-9;
/// Money near nothing: half of a hundredth.
const NOTHING_MONEY: f64 = 5e-3;

/// Not compared: what others may say in other words or find on another way.
const FREE: &[&str] = &["limited_by", "rate_exact", "paced_run_recurs", "offset_m"];

/// By these the entries of lists are matched, so that they are the same already.
const NAMES: [&str; 4] = ["id", "from", "to", "since"];

/// Keys whose numbers come out of the paced run, which takes time.
const RUNS: &[&str] = &["longest_s", "least_s", "paced_rate_per_min"];

/// What was compared, and what differs.
#[derive(Debug, Default)]
pub(super) struct Claims {
    pub(super) lines: Vec<JudgementLine>,
    /// By key: compared, and wrong.
    pub(super) counts: BTreeMap<String, (usize, usize)>,
}

/// Whether any number is given that the paced run must be played for.
pub(super) fn asks_for_runs(value: &Value) -> bool {
    match value {
        Value::Object(map) => map.iter().any(|(key, v)| RUNS.contains(&key.as_str()) || asks_for_runs(v)),
        Value::Array(items) => items.iter().any(asks_for_runs),
        _ => false,
    }
}

impl Claims {
    /// The whole document. `pointers` are those of its circuits, in the order of the circuits in `truth`, which is a plan
    /// document.
    pub(super) fn compare(&mut self, top: &Look<'_>, pointers: &[String], truth: &Value) {
        for key in ["footprint", "price", "asked", "feed", "hand"] {
            if let (Some(given), Some(truth)) = (top.key(key), truth.get(key)) {
                self.walk(key, &given, truth);
            }
        }
        for (i, pointer) in pointers.iter().enumerate() {
            let circuit = top.value.pointer(pointer).map(|value| Look { value, pointer: pointer.clone() });
            if let (Some(circuit), Some(truth)) = (circuit, truth.pointer(&format!("/circuits/{i}"))) {
                self.walk("circuits", &circuit, truth);
            }
        }
    }

    fn walk(&mut self, key: &str, given: &Look<'_>, truth: &Value) {
        match truth {
            Value::Null => {}
            Value::Object(map) => {
                let numbers = map.iter().filter(|(key, _)| !FREE.contains(&&***key) && !NAMES.contains(&&***key));
                for (key, truth) in numbers {
                    if let Some(given) = given.key(key) {
                        self.walk(key, &given, truth);
                    }
                }
            }
            Value::Array(items) => self.list(key, given, items),
            Value::Number(number) => self.number(key, given, number),
            plain => {
                let same = given.value == plain;
                self.count(key, same, given, || {
                    format!("{} is {}; recomputed it is {plain}", quoted(key), given.value)
                });
            }
        }
    }

    /// Entries with an `id`, or with `from` and perhaps `to` and `since`, are matched by those; others by their place.
    fn list(&mut self, key: &str, given: &Look<'_>, truth: &[Value]) {
        for (i, item) in given.items().iter().enumerate() {
            let names: Vec<&str> = NAMES.into_iter().filter(|name| item.key(name).is_some()).collect();
            let found = if names.is_empty() {
                truth.get(i).filter(|t| t.get("id").is_none() && t.get("from").is_none())
            } else {
                // Two windows may span the same stations: the one in the same place goes first.
                let same = |t: &&Value| names.iter().all(|name| t.get(name) == item.value.get(name));
                truth.get(i).filter(same).or_else(|| truth.iter().find(same))
            };
            match found {
                Some(truth) => self.walk(key, item, truth),
                None => {
                    self.count(key, false, item, || format!("an entry of {} is nothing of the cell's", quoted(key)))
                }
            }
        }
    }

    fn number(&mut self, key: &str, given: &Look<'_>, truth: &serde_json::Number) {
        let (Some(claimed), Some(number)) = (given.value.as_f64(), truth.as_f64()) else {
            let says = || format!("{} is {}, not a number", quoted(key), given.value);
            return self.count(key, false, given, says);
        };
        let slack = if truth.is_f64() { slack(key, claimed.abs().max(number.abs())) } else { 0.0 };
        let same = (claimed - number).abs() <= slack;
        self.count(key, same, given, || format!("{} is {claimed}; recomputed it is {number}", quoted(key)));
    }

    fn count(&mut self, key: &str, same: bool, given: &Look<'_>, says: impl FnOnce() -> String) {
        let count = self.counts.entry(key.to_owned()).or_default();
        count.0 += 1;
        if !same {
            count.1 += 1;
            self.lines.push(JudgementLine { rule: "claim".to_owned(), pointer: given.pointer.clone(), says: says() });
        }
    }

    /// Proven bounds against the plan itself. `tolerance_m2` is the floor by which plans count as equal.
    pub(super) fn bounds(&mut self, top: &Look<'_>, truth: &Value, tolerance_m2: f64) {
        let number = |pointer: &str| truth.pointer(pointer).and_then(Value::as_f64);
        let circuits = truth.get("circuits").and_then(Value::as_array).map_or(&[][..], Vec::as_slice);
        let carriers: f64 = circuits.iter().filter_map(|c| c.get("carriers").and_then(Value::as_f64)).sum();
        let (Some(area), Some(price)) = (number("/footprint/area_m2"), number("/price")) else { return };
        let bound = top.key("proven_bound_m2");
        if let Some(bound) = &bound {
            self.bound("proven_bound_m2", bound, area, "the footprint");
        }
        if let Some(given) = top.key("gap") {
            let truth = bound.as_ref().and_then(|b| b.value.as_f64()).map(|bound| gap(area, bound));
            match (given.value.as_f64(), truth) {
                (Some(claimed), Some(truth)) => {
                    let same = (claimed - truth).abs() <= CLOSE;
                    self.count("gap", same, &given, || format!("`gap` is {claimed}; by its bound it is {truth}"));
                }
                (Some(claimed), None) if claimed >= 0.0 => {}
                _ => self.count("gap", false, &given, || format!("`gap` is {}, not a share", given.value)),
            }
        }
        let Some(proof) = top.key("proof") else { return };
        let each = [
            ("footprint", area, "the footprint", tolerance_m2),
            ("carriers", carriers, "the plan's carriers", 0.0),
            ("price", price, "the price", 0.0),
        ];
        for (key, value, what, tolerance) in each {
            let Some(of) = proof.key(key) else { continue };
            let Some(bound) = of.key("bound") else { continue };
            self.bound("bound", &bound, value, what);
            let proven = of.key("proven").and_then(|p| p.value.as_bool()).unwrap_or(false);
            if proven && let Some(number) = bound.value.as_f64() {
                let same = number >= value - value.abs() * CLOSE - tolerance - NOTHING_M;
                let says = || format!("{what} of {value} is said to be proven least, but the bound is {number}");
                self.count("proven", same, &of, says);
            }
        }
    }

    fn bound(&mut self, key: &str, given: &Look<'_>, value: f64, what: &str) {
        match given.value.as_f64() {
            Some(bound) => {
                let same = bound <= value + value.abs() * CLOSE;
                let says = || format!("{} is {bound}, which is above {what} of this plan, {value}", quoted(key));
                self.count(key, same, given, says);
            }
            None => self.count(key, false, given, || format!("{} is {}, not a number", quoted(key), given.value)),
        }
    }
}

/// By how much two numbers of a key may differ, the larger of them being so large.
fn slack(key: &str, size: f64) -> f64 {
    let ends = |unit: &str| key.ends_with(unit);
    if ends("_per_min") || ends("_n") || key == "share_of_rate" {
        size * CLOSE_RATE
    } else if key == "margin" {
        // A share of the rate already.
        CLOSE_RATE
    } else if key == "price" {
        size * CLOSE + NOTHING_MONEY
    } else if ends("_s") && !ends("_m_s") {
        size * CLOSE + ROUNDED_S
    } else {
        size * CLOSE + NOTHING_M
    }
}
