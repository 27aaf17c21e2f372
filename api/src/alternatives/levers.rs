//! Every limit of a document that can be relaxed, as changes.

use serde_json::Value;

use super::edit::{as_json, places, pointer_of};
use super::usual::escaped;
use crate::check::Document;
use crate::read::short;
use crate::wire::alternatives::Change;

/// A limit and its relaxation.
pub(super) struct Limit {
    pub(super) says: String,
    pub(super) changes: Vec<Change>,
}

/// Numbers of the whole document: place, words, and whether more of it is easier.
const WHOLE: &[(&str, &str, bool)] = &[
    ("rate", "all rates", false),
    ("requirements/efficiency", "efficiency", true),
    ("requirements/clearance_mm", "clearance", false),
    ("requirements/floor/*", "floor", true),
    ("requirements/keep_out/*/length_mm", "length of the places kept out of", false),
    ("requirements/keep_out/*/width_mm", "width of the places kept out of", false),
    ("requirements/max_price", "limit on the price", true),
    ("skus/*/loads/*/max_accel_m_s2", "tested accelerations of the loads", true),
    ("skus/*/loads/*/friction", "friction under the loads", true),
];

/// Numbers of the loop.
const LOOP: &[(&str, &str, bool)] = &[
    ("max_carriers", "most carriers", true),
    ("carrier/length_mm", "length of the carriers", false),
    ("carrier/gap_mm", "gap between carriers", false),
    ("carrier/mass_kg", "mass of the carriers", false),
    ("carrier/max_speed_m_s", "speed of the carriers", true),
    ("carrier/max_accel_m_s2", "acceleration of the carriers", true),
    ("carrier/max_jerk_m_s3", "jerk of the carriers", true),
    ("carrier/peak_force_n", "peak force", true),
    ("carrier/continuous_force_n", "continuous force", true),
    ("track/module_mm", "length of a module", false),
    ("track/max_modules", "most modules in a straight", true),
    ("track/width_mm", "width of track and load", false),
    ("track/forms/*/radius_mm", "radius of the ends", false),
];

/// Numbers of a section or window.
const SECTION: &[(&str, &str, bool)] = &[
    ("ride_through_s", "ride-through", false),
    ("min_length_mm", "least length", false),
    ("min_s", "least time", false),
    ("max_s", "longest time", true),
];

/// Numbers of a station; times of a SKU of its own change with them.
const STATION: &[(&str, &str, bool)] = &[
    ("depth_mm", "depth", false),
    ("margin_mm", "margin", false),
    ("frame_length_mm", "length of the frame", false),
    ("intermittent/base_s", "time for a standing batch", false),
    ("intermittent/per_extra_s", "time for each further carrier", false),
    ("intermittent/settle_s", "time to settle", false),
    ("continuous/process_s", "time of moving work", false),
    ("continuous/process_length_mm", "length of moving work", false),
    ("continuous/return_s", "time of the return", false),
    ("continuous/max_speed_m_s", "speed of moving work", true),
];

/// Every limit that the document states, relaxed by a share of itself; counts by one at least, decisions and sides left
/// free.
pub(super) fn levers(document: &Document, step: f64) -> Vec<Limit> {
    let base = as_json(document);
    let mut all = Vec::new();
    let mut table = |at: &str, called: &str, rows: &[(&str, &str, bool)]| {
        for (key, words, more) in rows {
            let place = if at.is_empty() { (*key).to_owned() } else { format!("{at}/{key}") };
            let mut changes = numbers(&base, &place, *more, step);
            if let Some(own) = key.split('/').nth(1).filter(|_| at.starts_with("stations/")) {
                changes.extend(numbers(&base, &format!("{at}/per_sku/*/{own}"), *more, step));
            }
            if !changes.is_empty() {
                let sign = if *more { '+' } else { '-' };
                let says = format!("{called}{words} {sign}{} %", short(step * 100.0));
                all.push(Limit { says, changes });
            }
        }
    };
    table("", "", WHOLE);
    let wire = &document.wire;
    for circuit in &wire.circuits {
        let called = if wire.circuits.len() > 1 { format!("loop {}: ", circuit.id) } else { String::new() };
        table(&format!("circuits/{}", escaped(&circuit.id)), &called, LOOP);
    }
    for (i, s) in wire.segments.iter().enumerate() {
        table(&format!("segments/{i}"), &format!("{} to {}: ", s.from, s.to), SECTION);
    }
    for (i, w) in wire.windows.iter().enumerate() {
        table(&format!("windows/{i}"), &format!("window {} to {}: ", w.from, w.to), SECTION);
    }
    for s in &wire.stations {
        table(&format!("stations/{}", escaped(&s.id)), &format!("{}: ", s.id), STATION);
    }
    all.extend(headroom(&base, step));
    if wire.changeover.as_ref().is_some_and(|c| c.keep_limit) {
        let changes = numbers(&base, "changeover/limit_min", true, step);
        if !changes.is_empty() {
            all.push(Limit { says: format!("longest change +{} %", short(step * 100.0)), changes });
        }
    }
    for s in &wire.stations {
        all.extend(free(&base, &s.id));
    }
    for circuit in &wire.circuits {
        let at = format!("circuits/{}/fixed", escaped(&circuit.id));
        if circuit.fixed.is_some() {
            let called = if wire.circuits.len() > 1 { format!("loop {}", circuit.id) } else { "loop".to_owned() };
            all.push(Limit { says: format!("{called}: nothing fixed"), changes: vec![left_out(at)] });
        }
    }
    all
}

fn left_out(at: String) -> Change {
    Change { at, leave_out: true, ..Change::default() }
}

/// Relaxations of all numbers that a place names and that are not 0.
fn numbers(base: &Value, place: &str, more: bool, step: f64) -> Vec<Change> {
    let Ok(found) = places(base, place) else { return Vec::new() };
    let of = |steps: Vec<String>| {
        let old = pointer_of(base, &steps)?;
        let number = old.as_f64().filter(|n| *n > 0.0)?;
        let at = steps.iter().map(|s| escaped(s)).collect::<Vec<_>>().join("/");
        let new = if more { number * (1.0 + step) } else { number * (1.0 - step) };
        let new = if at == "requirements/efficiency" { new.min(1.0) } else { new };
        if new == number {
            return None;
        }
        let to: Value = if old.is_u64() || old.is_i64() {
            #[allow(clippy::cast_possible_truncation)] // Counts of a document are small.
            let whole = if more { new.ceil() as i64 } else { (new.floor() as i64).max(1) };
            whole.into()
        } else {
            new.into()
        };
        Some(Change { at, to: Some(to), ..Change::default() })
    };
    found.into_iter().filter_map(of).collect()
}

/// Headroom counts from 1.
fn headroom(base: &Value, step: f64) -> Option<Limit> {
    let asked = base.pointer("/requirements/headroom")?.as_f64().filter(|h| *h > 1.0)?;
    let to = Some((1.0 + (asked - 1.0) * (1.0 - step)).into());
    let change = Change { at: "requirements/headroom".to_owned(), to, ..Change::default() };
    Some(Limit { says: format!("headroom -{} % of what is over 1", short(step * 100.0)), changes: vec![change] })
}

/// What of a station has no size.
fn free(base: &Value, id: &str) -> Vec<Limit> {
    let at = |key: &str| format!("stations/{}/{key}", escaped(id));
    let value = |key: &str| {
        let steps = places(base, &at(key)).ok()?;
        pointer_of(base, steps.first()?).filter(|v| !v.is_null())
    };
    let mut all = Vec::new();
    if value("side").and_then(Value::as_str).is_some_and(|side| side != "either") {
        let change = Change { at: at("side"), to: Some("either".into()), ..Change::default() };
        all.push(Limit { says: format!("{id}: on either side"), changes: vec![change] });
    }
    if value("fixed").is_some() {
        all.push(Limit { says: format!("{id}: nothing fixed"), changes: vec![left_out(at("fixed"))] });
    }
    if value("continuous/may_wait").and_then(Value::as_bool) == Some(false) {
        let change = Change { at: at("continuous/may_wait"), to: Some(true.into()), ..Change::default() };
        all.push(Limit { says: format!("{id}: carriers may wait inside"), changes: vec![change] });
    }
    for mode in ["intermittent", "continuous"] {
        let key = format!("{mode}/max_batch");
        if value(&key).is_some() {
            let mut changes = vec![Change { at: at(&key), plus: Some(1.0), ..Change::default() }];
            if let Ok(own) = places(base, &at("per_sku/*/max_batch")) {
                let there = own.into_iter().filter(|steps| pointer_of(base, steps).is_some_and(Value::is_number));
                changes.extend(there.map(|steps| {
                    let at = steps.iter().map(|s| escaped(s)).collect::<Vec<_>>().join("/");
                    Change { at, plus: Some(1.0), ..Change::default() }
                }));
            }
            all.push(Limit { says: format!("{id}: one more {mode} head allowed"), changes });
        }
    }
    all
}
