//! What a plan must hold to be judged, and what its claims are held against. Rules are tested where the program is.

use serde_json::{Value, json};

use super::*;
use crate::show::tests::{JARS, answer, document};

fn our_plan() -> Value {
    serde_json::to_value(answer(JARS)).unwrap()
}

fn judged(plan: &Value) -> Result<Judgement, Vec<Finding>> {
    judge(&document(JARS), plan.to_string().as_bytes())
}

fn at<'a>(plan: &'a mut Value, pointer: &str) -> &'a mut Value {
    plan.pointer_mut(pointer).unwrap_or_else(|| panic!("{pointer}"))
}

#[test]
fn our_own_plan_holds() {
    let judgement = judged(&our_plan()).unwrap();
    assert_eq!(judgement.lines, []);
    assert_eq!((judgement.status, judgement.exit()), (JudgementStatus::Holds, 0));
    // All but those of hand-offs.
    assert_eq!(judgement.rules.len(), Rule::ALL.len() - 2);
    for key in ["zone_m", "slots", "longest_s", "rate_per_min", "area_m2", "gap", "motor_rms_n", "rms_n"] {
        assert!(judgement.claims.iter().any(|c| c.key == key && c.checked > 0 && c.wrong == 0), "{key}");
    }
}

/// Only what a plan cannot do without, under foreign keys, with sections and stations in another order.
#[test]
fn a_bare_plan_holds_too() {
    let full = our_plan();
    let of = &full["circuits"][0];
    let pick = |list: &str, keys: &[&str]| -> Vec<Value> {
        let items = of[list].as_array().unwrap();
        items.iter().rev().map(|i| keys.iter().map(|k| ((*k).to_owned(), i[*k].clone())).collect()).collect()
    };
    let bare = json!({ "author": "by hand", "circuits": [{
        "form": of["form"], "modules_per_straight": of["modules_per_straight"], "carriers": of["carriers"],
        "stations": pick("stations", &["id", "mode", "heads", "start_m", "straight", "stands"]),
        "sections": pick("sections", &["from", "length_m"]),
    }]});
    let judgement = judged(&bare).unwrap();
    assert_eq!(judgement.lines, []);
}

#[test]
fn answers_without_a_plan_hold_nothing_to_judge() {
    for status in ["impossible", "stopped"] {
        let judgement = judged(&json!({ "status": status })).unwrap();
        assert_eq!((judgement.status, judgement.exit()), (JudgementStatus::Nothing, 1));
    }
}

/// Each in turn: what is done to the plan, the code and the pointer.
#[test]
fn what_cannot_be_judged_is_found() {
    type Spoil = fn(&mut Value);
    let cases: &[(Spoil, Code, &str)] = &[
        (|p| *p = json!([1]), Code::WrongType, ""),
        (|p| p["format"] = json!(2), Code::UnsupportedFormat, "/format"),
        (|p| p["status"] = json!("perfect"), Code::UnknownChoice, "/status"),
        (|p| p["circuits"] = json!(null), Code::MissingKey, ""),
        (|p| p["circuits"] = json!({}), Code::WrongType, "/circuits"),
        (|p| p["circuits"] = json!([]), Code::UnknownId, "/circuits"),
        (|p| p["circuits"][0]["id"] = json!("other"), Code::UnknownId, "/circuits/0/id"),
        (|p| p["circuits"][0]["form"] = json!("round"), Code::UnknownChoice, "/circuits/0/form"),
        (|p| p["circuits"][0]["carriers"] = json!(null), Code::MissingKey, "/circuits/0"),
        (|p| p["circuits"][0]["carriers"] = json!(7.5), Code::NotWhole, "/circuits/0/carriers"),
        (|p| p["circuits"][0]["carriers"] = json!(-1), Code::OutOfRange, "/circuits/0/carriers"),
        (|p| p["circuits"][0]["acceleration_share"] = json!(0), Code::OutOfRange, "/circuits/0/acceleration_share"),
        (
            |p| p["circuits"][0]["modules_per_straight"] = json!("3"),
            Code::WrongType,
            "/circuits/0/modules_per_straight",
        ),
        (
            |p| p["circuits"][0]["stations"][1]["mode"] = json!("idle"),
            Code::UnknownChoice,
            "/circuits/0/stations/1/mode",
        ),
        (|p| p["circuits"][0]["stations"][1]["id"] = json!("lids"), Code::UnknownId, "/circuits/0/stations/1/id"),
        (|p| p["circuits"][0]["stations"][1]["id"] = json!("out"), Code::DuplicateId, "/circuits/0/stations/2/id"),
        (|p| p["circuits"][0]["stations"] = json!([]), Code::MissingKey, "/circuits/0/stations"),
        (|p| p["circuits"][0]["stations"][0]["start_m"] = json!(null), Code::MissingKey, "/circuits/0/stations/0"),
        (
            |p| p["circuits"][0]["sections"][0]["length_m"] = json!(-0.1),
            Code::OutOfRange,
            "/circuits/0/sections/0/length_m",
        ),
        (
            |p| p["circuits"][0]["sections"][0]["length_m"] = json!(1e6),
            Code::OutOfRange,
            "/circuits/0/sections/0/length_m",
        ),
        (|p| p["circuits"][0]["sections"][0]["to"] = json!("out"), Code::NotNeighbours, "/circuits/0/sections/0/to"),
    ];
    for (spoil, code, pointer) in cases {
        let mut plan = our_plan();
        spoil(&mut plan);
        let findings = judged(&plan).unwrap_err();
        assert!(findings.iter().any(|f| f.code == *code && f.pointer == *pointer), "{code} {pointer}: {findings:#?}");
        assert!(findings.iter().all(|f| f.code.entry().kind.exit == 2));
        let root = (pointer.is_empty() || plan.pointer(pointer).is_some()).then_some(());
        assert!(root.is_some(), "{pointer} leads nowhere");
    }
}

#[test]
fn what_is_no_json_is_found_with_its_place() {
    let findings = judge(&document(JARS), b"{ \"circuits\": [\n  nonsense ] }").unwrap_err();
    let [finding] = &findings[..] else { panic!("{findings:?}") };
    assert_eq!((finding.code, finding.line), (Code::Syntax, Some(2)));
    let deep = "[".repeat(100_000);
    assert!(judge(&document(JARS), deep.as_bytes()).is_err());
}

/// A number that is shifted is found at its place, by its key's tolerance.
#[test]
fn claims_are_recomputed() {
    for (pointer, shift) in [
        ("/footprint/area_m2", 1e-4),
        ("/footprint/length_m", 1e-4),
        ("/price", 1.0),
        ("/circuits/0/loop_length_m", 1e-3),
        ("/circuits/0/stations/1/zone_m", 1e-4),
        ("/circuits/0/stations/1/skus/0/cycle_s", 1e-4),
        ("/circuits/0/stations/1/skus/1/capacity_per_min", 0.1),
        ("/circuits/0/stations/0/skus/1/batch", 1.0),
        ("/circuits/0/stations/0/price", 100.0),
        ("/circuits/0/sections/0/curve_m", 1e-4),
        ("/circuits/0/sections/0/skus/0/slots", 1.0),
        ("/circuits/0/sections/2/skus/1/lag_s", 1e-4),
        ("/circuits/0/sections/1/skus/1/longest_s", 1e-4),
        ("/circuits/0/windows/0/skus/0/longest_s", 1e-4),
        ("/circuits/0/skus/0/rate_per_min", 0.1),
        ("/circuits/0/skus/0/design_rate_per_min", 0.1),
        ("/circuits/0/skus/1/motor_rms_n", 0.1),
        ("/circuits/0/skus/1/margin", 0.001),
        ("/circuits/0/module_loads/modules/3/rms_n", 0.1),
        ("/proven_bound_m2", 0.1),
        ("/gap", 0.01),
        ("/proof/carriers/bound", 1.0),
        ("/proof/price/bound", -100.0),
    ] {
        let mut plan = our_plan();
        let value = at(&mut plan, pointer);
        let number = value.as_f64().unwrap() + shift;
        *value = if value.is_u64() { json!(number as u64) } else { json!(number) };
        let judgement = judged(&plan).unwrap();
        let place = pointer.strip_suffix("/bound").filter(|_| shift < 0.0).unwrap_or(pointer);
        assert!(judgement.lines.iter().any(|l| l.rule == "claim" && l.pointer == place), "{pointer}: {judgement:#?}");
        assert!(judgement.lines.iter().all(|l| l.rule == "claim"), "{judgement:#?}");
        assert_eq!(judgement.exit(), 1);
    }
}

/// Rounding within the tolerances is no fault.
#[test]
fn claims_may_be_rounded() {
    let mut plan = our_plan();
    for (pointer, scale) in [
        ("/circuits/0/stations/1/zone_m", 1.0 + 5e-7),
        ("/circuits/0/sections/1/skus/1/longest_s", 1.0 + 5e-7),
        ("/circuits/0/skus/0/rate_per_min", 1.0 + 5e-5),
    ] {
        let value = at(&mut plan, pointer);
        *value = json!(value.as_f64().unwrap() * scale);
    }
    assert_eq!(judged(&plan).unwrap().lines, []);
}

#[test]
fn words_instead_of_numbers_and_unknown_skus_are_claims_that_do_not_hold() {
    let mut plan = our_plan();
    *at(&mut plan, "/circuits/0/stations/1/zone_m") = json!("wide");
    *at(&mut plan, "/circuits/0/skus/0/id") = json!("tiny");
    *at(&mut plan, "/gap") = json!("none");
    let judgement = judged(&plan).unwrap();
    let pointers: Vec<&str> = judgement.lines.iter().map(|l| &*l.pointer).collect();
    assert_eq!(pointers, ["/circuits/0/stations/1/zone_m", "/circuits/0/skus/0", "/gap"], "{judgement:#?}");
}

/// Whatever stands in a plan, it is judged or refused.
#[test]
fn no_plan_brings_the_judge_down() {
    let document = document(JARS);
    let good = our_plan();
    let mut places = Vec::new();
    walk(&good["circuits"], "/circuits", &mut places);
    let mut random = crate::testing::Random(11);
    let numbers = [0.0, -0.0, 1.0, -1.0, 0.5, 1e-300, 1e300, -1e300, 2.0, 3.0, 64.0, 1000.0, 10_000.0, 1e-3, 4.9, 1e7];
    let (mut refused, mut fails) = (0, 0);
    for _ in 0..600 {
        let mut plan = good.clone();
        for _ in 0..=random.below(2) {
            let Some(place) = plan.pointer_mut(&random.of(&places)) else { continue };
            *place = match random.below(4) {
                0 => random.json(1),
                1 => json!(random.below(12)),
                _ => json!(random.of(&numbers)),
            };
        }
        match judge(&document, plan.to_string().as_bytes()) {
            Ok(judgement) if judgement.status == JudgementStatus::Fails => fails += 1,
            Ok(_) => {}
            Err(findings) => {
                assert!(!findings.is_empty());
                refused += 1;
            }
        }
    }
    assert!(refused > 20 && fails > 100, "{refused} {fails}");
}

fn walk(value: &Value, pointer: &str, places: &mut Vec<String>) {
    places.push(pointer.to_owned());
    match value {
        Value::Object(map) => map.iter().for_each(|(key, v)| walk(v, &format!("{pointer}/{key}"), places)),
        Value::Array(items) => items.iter().enumerate().for_each(|(i, v)| walk(v, &format!("{pointer}/{i}"), places)),
        _ => {}
    }
}
