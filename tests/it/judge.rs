//! The judge against every rule: our own plan holds, and each way of spoiling it breaks the rule that it should.

use super::cells::{TEA, upright, with};
use loopwright_api::wire::judgement::{Judgement, JudgementStatus};
use loopwright_api::{PlanAnswer, judge, plan_document, read_cell};
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

/// Our own plan of a cell.
fn plan(cell: &str) -> Value {
    let document = read_cell(cell.as_bytes()).unwrap();
    match plan_document(&document, Duration::from_secs(60), &AtomicBool::new(false)) {
        PlanAnswer::Answer(answer) => serde_json::to_value(answer).unwrap(),
        PlanAnswer::Fault(finding) => panic!("{finding}"),
    }
}

fn judged(cell: &str, plan: &Value) -> Judgement {
    let document = read_cell(cell.as_bytes()).unwrap();
    judge(&document, plan.to_string().as_bytes()).unwrap_or_else(|findings| panic!("{findings:#?}"))
}

fn broken(judgement: &Judgement) -> BTreeSet<String> {
    judgement.lines.iter().map(|l| l.rule.clone()).collect()
}

/// The rule is broken, and is counted.
fn breaks(cell: &str, plan: &Value, rule: &str) {
    let judgement = judged(cell, plan);
    assert_eq!(judgement.status, JudgementStatus::Fails);
    assert!(broken(&judgement).contains(rule), "{rule}: {:#?}", judgement.lines);
    assert!(judgement.rules.iter().any(|r| r.rule == rule && r.broken > 0));
}

fn number(plan: &Value, pointer: &str) -> f64 {
    plan.pointer(pointer).and_then(Value::as_f64).unwrap_or_else(|| panic!("{pointer}"))
}

fn shift(plan: &mut Value, pointer: &str, by: f64) {
    let value = number(plan, pointer) + by;
    *plan.pointer_mut(pointer).unwrap() = json!(value);
}

#[test]
fn our_own_plans_hold() {
    for cell in [TEA.to_owned(), upright()] {
        let judgement = judged(&cell, &plan(&cell));
        assert_eq!(judgement.lines, []);
        assert_eq!(judgement.status, JudgementStatus::Holds);
    }
}

#[test]
fn names() {
    let mut plan = plan(TEA);
    plan["circuits"][0]["stations"][1]["heads"] = json!(9);
    breaks(TEA, &plan, "names");
}

#[test]
fn geometry() {
    let good = plan(TEA);
    let mut shifted = good.clone();
    shift(&mut shifted, "/circuits/0/stations/1/start_m", 0.01);
    breaks(TEA, &shifted, "geometry");

    let mut longer = good.clone();
    shift(&mut longer, "/circuits/0/sections/1/length_m", 0.01);
    breaks(TEA, &longer, "geometry");

    let mut turned = good;
    turned["circuits"][0]["stations"][1]["straight"] = json!("top");
    breaks(TEA, &turned, "geometry");
}

#[test]
fn stands() {
    let mut plan = plan(TEA);
    plan["circuits"][0]["stations"][1]["stands"] = json!("back");
    breaks(TEA, &plan, "stands");
}

/// Frames that grew until they overlap: of five stations, at least three stand on one side.
#[test]
fn frames() {
    let plan = plan(TEA);
    let cell = with(TEA, "    frame_length_mm: 800\n", "");
    let cell = with(&cell, "depth_mm:", "frame_length_mm: 4000\n    depth_mm:");
    breaks(&cell, &plan, "stands");
}

/// Loads that are not held hang upside down.
#[test]
fn upright_return() {
    let cell = upright();
    let plan = plan(&cell);
    breaks(&with(&cell, "loaded: false", "loaded: true"), &plan, "upright");
    // Nor is there enough force to climb any more.
    breaks(&with(&cell, "peak_force_n: 80", "peak_force_n: 15"), &plan, "upright");
}

#[test]
fn floor() {
    let plan = plan(TEA);
    let floor = "clearance_mm: 600, floor: { length_mm: 3000, width_mm: 3000 }";
    breaks(&with(TEA, "clearance_mm: 600", floor), &plan, "floor");
    breaks(&with(TEA, "max_modules: 20", "max_modules: 2"), &plan, "floor");
}

#[test]
fn capacity() {
    let plan = plan(TEA);
    breaks(&with(TEA, "base_s: 0.7", "base_s: 7"), &plan, "capacity");
}

/// A station moved along until the section before it is too short.
#[test]
fn slots() {
    let mut plan = plan(TEA);
    let by = number(&plan, "/circuits/0/sections/0/length_m") - 0.1;
    shift(&mut plan, "/circuits/0/stations/1/start_m", -by);
    shift(&mut plan, "/circuits/0/sections/0/length_m", -by);
    shift(&mut plan, "/circuits/0/sections/1/length_m", by);
    breaks(TEA, &plan, "slots");
    let min_length = "ride_through_s: 2, min_length_mm: 5000";
    breaks(&with(TEA, "ride_through_s: 2", min_length), &plan, "slots");
}

#[test]
fn carriers() {
    let good = plan(TEA);
    let mut many = good.clone();
    many["circuits"][0]["carriers"] = json!(300);
    breaks(TEA, &many, "carriers");
    breaks(&with(TEA, "max_carriers: 40", "max_carriers: 3"), &good, "carriers");
}

#[test]
fn price() {
    let good = plan(TEA);
    let price = number(&good, "/price");
    let limited = |most: f64| with(TEA, "clearance_mm: 600", &format!("clearance_mm: 600, max_price: {most}"));
    assert_eq!(judged(&limited(price), &good).lines, []);
    breaks(&limited(price - 0.01), &good, "price");
    // More of it costs more, whatever the plan says that it costs.
    let mut more = good.clone();
    shift(&mut more, "/circuits/0/carriers", 1.0);
    breaks(&limited(price), &more, "price");
}

/// The plan has the fewest carriers: one fewer does not make the rate.
#[test]
fn rate() {
    let mut plan = plan(TEA);
    assert_eq!(plan["proof"]["carriers"]["proven"], true);
    shift(&mut plan, "/circuits/0/carriers", -1.0);
    breaks(TEA, &plan, "rate");
}

#[test]
fn dwell() {
    let plan = plan(TEA);
    let longest = |k: usize| number(&plan, &format!("/circuits/0/sections/2/skus/{k}/longest_s"));
    let most = longest(0).max(longest(1));
    breaks(&with(TEA, "max_s: 6 ", &format!("max_s: {} ", most - 0.01)), &plan, "dwell");
}

#[test]
fn window() {
    let plan = plan(TEA);
    let time = |k: usize, key: &str| number(&plan, &format!("/circuits/0/windows/0/skus/{k}/{key}"));
    let most = time(0, "longest_s").max(time(1, "longest_s"));
    breaks(&with(TEA, "max_s: 20 ", &format!("max_s: {} ", most - 0.01)), &plan, "window");
    let least = time(0, "least_s").min(time(1, "least_s"));
    breaks(&with(TEA, "max_s: 20 ", &format!("min_s: {} ", least + 0.01)), &plan, "window");
}

#[test]
fn duty() {
    let plan = plan(TEA);
    breaks(&with(TEA, "continuous_force_n: 25", "continuous_force_n: 3.5"), &plan, "duty");
}

/// Numbers that do not follow from the plan, while every rule holds.
#[test]
fn claims() {
    let good = plan(TEA);
    for (pointer, by) in [
        ("/circuits/0/sections/0/skus/0/slots", 1.0),
        ("/circuits/0/sections/1/skus/1/lag_s", 0.1),
        ("/circuits/0/sections/1/skus/1/longest_s", -0.1),
        ("/circuits/0/stations/3/zone_m", 0.02),
        ("/circuits/0/stations/3/skus/0/cycle_s", -0.1),
        ("/circuits/0/stations/3/skus/0/capacity_per_min", 5.0),
        ("/circuits/0/skus/1/rate_per_min", 1.0),
        ("/circuits/0/skus/1/motor_rms_n", -1.0),
        ("/circuits/0/loop_length_m", 0.4),
        ("/footprint/area_m2", -0.5),
        ("/footprint/width_m", 0.01),
        ("/price", -1000.0),
        ("/proven_bound_m2", 0.5),
        ("/gap", 0.01),
    ] {
        let mut plan = good.clone();
        shift(&mut plan, pointer, by);
        let judgement = judged(TEA, &plan);
        assert_eq!(broken(&judgement), BTreeSet::from(["claim".to_owned()]), "{pointer}: {:#?}", judgement.lines);
        assert!(judgement.lines.iter().any(|l| l.pointer == pointer), "{pointer}: {:#?}", judgement.lines);
    }
}
