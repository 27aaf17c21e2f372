//! Changes on a plan: against the timed run, against cells in which a remedy was carried out, and each finding provoked.

use std::sync::atomic::AtomicBool;
use std::time::Duration;

use serde_json::{Value, json};

use super::*;
use crate::codes::Code;
use crate::judge::read_plan;
use crate::read_cell;
use crate::wire::changeover::ChangeoverDocument;
use loopwright_solver::changeover::{Changeover, Remedy, flows, last_loaded};
use loopwright_solver::sim::{Moved, Watch, log};
use loopwright_solver::units::Micros;

const POUCHES: (&str, &str) =
    (include_str!("../../../examples/pouch-changes.yaml"), include_str!("../../../examples/pouch-changes.plan.json"));
const TEA: (&str, &str) =
    (include_str!("../../../examples/short-changes.yaml"), include_str!("../../../examples/short-changes.plan.json"));
const GLUE: (&str, &str) = (
    include_str!("../../../examples/wraparound-glue.yaml"),
    include_str!("../../../examples/wraparound-glue.plan.json"),
);

fn document(text: &str) -> Document {
    read_cell(text.as_bytes()).unwrap_or_else(|findings| panic!("{findings:#?}"))
}

fn changes(cell: &str, plan: Option<&str>) -> ChangeoverDocument {
    let (plan, limit) = (plan.map(str::as_bytes), Duration::from_secs(60));
    let answer = changeover(&document(cell), plan, None, limit, &AtomicBool::new(false));
    answer.unwrap_or_else(|findings| panic!("{findings:#?}")).changeover.unwrap()
}

fn edited(text: &str, from: &str, to: &str) -> String {
    assert_eq!(text.matches(from).count(), 1, "`{from}` must be there once");
    text.replace(from, to)
}

fn of_code(document: &ChangeoverDocument, code: Code) -> Vec<&str> {
    document.findings.iter().filter(|f| f.code == code).map(|f| f.message.as_str()).collect()
}

/// Running empty is the longest way of any carrier through the cell in the timed run, event by event.
#[test]
fn running_empty_is_what_the_timed_run_shows() {
    for (cell, plan) in [POUCHES, TEA, GLUE] {
        let document = document(cell);
        let plan = read_plan(&document, plan.as_bytes()).unwrap().unwrap();
        let cell = &document.cell;
        let numbers = plan.numbers(cell).unwrap();
        let last = last_loaded(cell);
        for (sku, flow) in flows(cell, &plan, &numbers).iter().enumerate() {
            let Some(pace) = numbers.pace(cell, sku) else { continue };
            let ring = numbers.ring(sku, plan.carriers);
            let watch = Watch { pace: Some(pace), most_starts: 20_000, ..Watch::default() };
            let laps = 40 * i64::from(plan.carriers);
            let Some(log) = log(&ring, &watch, Micros::from_us(pace.us() * laps)) else { panic!("nothing moves") };
            assert!(log.recurs);
            let mut begun = vec![None; plan.carriers as usize];
            let mut longest = 0;
            for step in log.moves.iter().filter(|m| m.moved == Moved::TakenIn) {
                for &carrier in &step.carriers {
                    if step.station == 0 {
                        begun[carrier as usize] = Some(step.time.us());
                    } else if step.station == last {
                        let through = begun[carrier as usize].take().map_or(0, |from| step.time.us() - from);
                        longest = longest.max(through);
                    }
                }
            }
            let residence = ring.stations[last].residence.us();
            assert!(longest > 0);
            assert_eq!(flow.run_out.us(), longest + residence, "SKU {sku}");
            // Nothing overtakes, and nobody waits for a case that left before: a first case is not slower than the longest.
            assert!(flow.refill.us() > residence && flow.refill <= flow.run_out, "SKU {sku}: {flow:?}");
        }
    }
}

/// The document with one remedy carried out.
fn carried_out(document: &Document, remedy: Remedy) -> String {
    let mut cell = serde_json::to_value(&document.wire).unwrap();
    let order: Vec<String> = document.cell.parts().stations.iter().map(|s| s.id.clone()).collect();
    if let Remedy::Operators(people) = remedy {
        cell["changeover"]["operators"] = people.into();
        return cell.to_string();
    }
    let (mut adjustment, mut step) = (0, 0);
    let stations = cell["stations"].as_array_mut().unwrap();
    for id in &order {
        let station = stations.iter_mut().find(|s| s["id"] == *id.as_str()).unwrap();
        let Some(all) = station.get_mut("adjustments").and_then(Value::as_array_mut) else { continue };
        for one in all {
            if remedy == Remedy::Automatic(adjustment) {
                one.as_object_mut().unwrap().remove("by_hand");
                one["automatic"] = json!({});
            }
            adjustment += 1;
            for by_hand in one.get_mut("by_hand").and_then(Value::as_array_mut).into_iter().flatten() {
                if remedy == Remedy::Outside(step) {
                    by_hand["stop"] = "outside".into();
                }
                step += 1;
            }
        }
    }
    cell.to_string()
}

/// A cell in which the remedy was carried out takes as long as was said.
#[test]
fn remedies_do_what_they_say() {
    let mut tried = [0; 3];
    for (cell, plan) in [POUCHES, TEA] {
        let before = document(cell);
        let chosen = read_plan(&before, plan.as_bytes()).unwrap().unwrap();
        let changeover = Changeover::of(&before.cell, &chosen).unwrap();
        let n = before.cell.parts().skus.len();
        for (from, to) in (1..n).map(|to| (0, to)) {
            for mended in changeover.remedies(&changeover.change(from, to)) {
                let after = document(&carried_out(&before, mended.remedy));
                let chosen = read_plan(&after, plan.as_bytes()).unwrap().unwrap();
                let total = Changeover::of(&after.cell, &chosen).unwrap().total(from, to);
                assert_eq!(total, mended.total, "{from} to {to}: {mended:?}");
                assert!(total < changeover.total(from, to));
                tried[match mended.remedy {
                    Remedy::Operators(_) => 0,
                    Remedy::Outside(_) => 1,
                    Remedy::Automatic(_) => 2,
                }] += 1;
            }
        }
    }
    assert!(tried.iter().all(|&n| n > 2), "{tried:?}");
}

#[test]
fn changes_over_the_limit_are_findings() {
    let whole = changes(&edited(POUCHES.0, "limit_min: 15", "limit_min: 5"), Some(POUCHES.1));
    let over: usize = whole.matrix_s.iter().flatten().filter(|&&s| s > 300.0).count();
    assert!(over > 0 && over < whole.count.all);
    assert_eq!(whole.count.over_limit, over);
    let said = of_code(&whole, Code::OverLimit);
    assert_eq!(said.len(), over.min(20));
    assert!(said[0].contains("5.0 min are allowed") && said[0].contains("fill/grippers/exchange"), "{said:?}");
    let loose = changes(&edited(POUCHES.0, "limit_min: 15", "limit_min: 60"), Some(POUCHES.1));
    assert!(of_code(&loose, Code::OverLimit).is_empty() && loose.count.over_limit == 0);
}

#[test]
fn a_week_too_short_is_a_finding() {
    let good = changes(POUCHES.0, Some(POUCHES.1));
    assert!(of_code(&good, Code::WeekTooShort).is_empty());
    let week = good.week.unwrap();
    assert!((week.availability - (week.available_min - week.change_min) / week.available_min).abs() < 1e-12);
    let left = week.available_min - week.run_min.unwrap() - week.change_min;
    assert!((week.left_min.unwrap() - left).abs() < 1e-9 && left > 0.0);
    let short = changes(&edited(POUCHES.0, "planned_min: 2400", "planned_min: 1800"), Some(POUCHES.1));
    assert_eq!(of_code(&short, Code::WeekTooShort).len(), 1);
    assert!(short.week.unwrap().left_min.unwrap() < 0.0);
}

#[test]
fn no_time_for_steps_outside_is_a_finding() {
    assert!(of_code(&changes(POUCHES.0, Some(POUCHES.1)), Code::NoTimeOutside).is_empty());
    let few = changes(&edited(POUCHES.0, "week: { cases: 4000 }", "week: { cases: 5 }"), Some(POUCHES.1));
    let said = of_code(&few, Code::NoTimeOutside);
    assert!(said.len() == 1 && said[0].contains("`low-400`"), "{said:?}");
}

/// Some 46 sizes on one cell, each change within 20 minutes by one operator: common practice, no source.
#[test]
fn forty_six_sizes_within_twenty_minutes_by_one() {
    let mut cell = serde_json::to_value(&document(POUCHES.0).wire).unwrap();
    cell["changeover"] = json!({ "operators": 1, "limit_min": 20 });
    let patterns = cell["skus"].as_array().unwrap().clone();
    let sizes: Vec<Value> = (0..46)
        .map(|k| {
            let mut sku = patterns[k % 6].clone();
            sku["id"] = format!("size-{k}").into();
            sku["measures_mm"]["rail_mm"] = json!(190 + k);
            sku["loads"]["trays"]["extent_mm"] = json!(250 + 10 * (k % 8));
            sku
        })
        .collect();
    cell["skus"] = sizes.into();
    let whole = changes(&cell.to_string(), None);
    assert_eq!((whole.count.all, whole.count.over_limit), (46 * 45, 0));
    let longest = whole.matrix_s.iter().flatten().copied().fold(0.0, f64::max);
    assert!(longest > 600.0 && longest <= 1200.0, "{longest}");
    assert!(whole.count.automatic > 0 && whole.count.automatic < whole.count.all);
    let order = whole.order.unwrap();
    assert_eq!(order.lots.len(), 46);
    assert!(order.proven_bound_s <= order.total_s && order.total_s <= order.as_listed_s.unwrap());
}
