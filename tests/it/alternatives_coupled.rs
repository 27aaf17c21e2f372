//! Alternatives of several circuits: compared, swept, explained.

use loopwright_api::alternatives::{Doing, Nobody, changed, compare, explain, sweep};
use loopwright_api::wire::alternatives::{Axis, Change, Ended, Explained, ReliefKind, SweepTarget, Variant};
use loopwright_api::wire::plan::{Answer, Planned};
use loopwright_api::wire::simulation::SimulationRun;
use loopwright_api::{Document, PlanAnswer, plan_document, read_any_cell};
use std::sync::atomic::AtomicBool;
use std::time::Duration;

static RUNNING: AtomicBool = AtomicBool::new(false);

fn doing() -> Doing<'static> {
    Doing::new(Duration::from_secs(300), &RUNNING, &Nobody)
}

fn text() -> String {
    std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/examples/two-loops.yaml")).unwrap()
}

fn cell(text: &str) -> Document {
    read_any_cell(text.as_bytes()).unwrap()
}

fn answer(document: &Document) -> Answer {
    match plan_document(document, Duration::from_secs(60), &RUNNING) {
        PlanAnswer::Answer(plan) => plan.answer,
        PlanAnswer::Fault(finding) => panic!("{finding:?}"),
    }
}

fn planned(document: &Document) -> Planned {
    let Answer::Planned(plan) = answer(document) else { panic!("no plan") };
    *plan
}

fn times(at: &str, times: f64) -> Change {
    Change { at: at.to_owned(), times: Some(times), ..Change::default() }
}

/// Each variant is what its changed document is planned to be by itself, and differences add up.
#[test]
fn variants_are_planned_as_if_alone() {
    let document = cell(&text());
    let own = [Variant { name: "a quarter faster".to_owned(), changes: vec![times("rate", 1.25)] }];
    let done = compare(&document, &own, true, None, &doing()).unwrap();
    let names: Vec<&str> = done.variants.iter().map(|v| v.name.as_str()).collect();
    assert!(names.contains(&"all intermittent") && names.contains(&"load continuous"), "{names:?}");
    let mut plans = Vec::new();
    for v in &done.variants {
        let alone = planned(&changed(&document, &v.changes).unwrap());
        let carriers: u32 = alone.circuits.iter().map(|c| c.carriers).sum();
        assert_eq!(v.plan.carriers, Some(carriers), "{}", v.name);
        assert_eq!(v.plan.footprint.unwrap().area_m2, alone.footprint.area_m2, "{}", v.name);
        assert_eq!(v.plan.price, Some(alone.price), "{}", v.name);
        // The hand-off is one station of seven.
        assert_eq!(v.plan.stations.len(), 6, "{}", v.name);
        plans.push(alone);
    }
    for d in &done.differences {
        let (a, b) = (&plans[d.of as usize], &plans[d.than as usize]);
        let f = &d.floor_m2;
        let sum = f.zones + f.queues + f.unused_straight + f.ends + f.depth;
        assert!((sum - f.total).abs() < 1e-9 && (f.total - (a.footprint.area_m2 - b.footprint.area_m2)).abs() < 1e-9);
        let c = &d.carriers;
        assert!((c.in_stations + c.on_the_way + c.waiting - c.total).abs() < 1e-9);
        let all = |p: &Planned| p.circuits.iter().map(|c| f64::from(c.carriers)).sum::<f64>();
        assert!((c.total - (all(a) - all(b))).abs() < 1e-9);
    }
    assert!(done.differences.iter().any(|d| d.floor_m2.total.abs() > 0.5), "nothing differs");
}

/// More rate never takes less floor, and nothing is planned beyond what is possible.
#[test]
fn floor_over_rate() {
    let document = cell(&text());
    let axes = [Axis { at: "rate".to_owned(), of: SweepTarget::Times, from: 0.6, to: 9.0, points: 8 }];
    let done = sweep(&document, &axes, 0.0, &doing()).unwrap();
    let areas: Vec<f64> = done.points.iter().map(|p| p.plan.footprint.map_or(f64::INFINITY, |f| f.area_m2)).collect();
    let proven = done.points.iter().all(|p| p.plan.proven || p.plan.status == Ended::Impossible);
    assert!(proven && areas.windows(2).all(|w| w[0] <= w[1] + 1e-9), "{areas:?}");
    assert!(areas[0].is_finite() && areas[7].is_infinite(), "{areas:?}");
    assert!(!done.front.is_empty());
}

/// With a plan: what each limit gains is what planning anew gains, and the largest rate on its floor holds it.
#[test]
fn what_would_help() {
    let document = cell(&text());
    let done = explain(&document, 0.1, 0.02, &doing()).unwrap();
    let Explained::Helped(helped) = &done.explained else { panic!("no plan") };
    let base = planned(&document);
    assert!(helped.levers.len() > 20);
    for lever in helped.levers.iter().step_by(7) {
        let alone = planned(&changed(&document, &lever.changes).unwrap());
        let saved = base.footprint.area_m2 - alone.footprint.area_m2;
        assert!((lever.floor_saved_m2.unwrap() - saved).abs() < 1e-9, "{}", lever.says);
    }
    let says: Vec<&str> = helped.levers.iter().map(|l| l.says.as_str()).collect();
    assert!(says.iter().any(|s| s.starts_with("loop stacks: ")) && says.iter().any(|s| s.starts_with("loop cases: ")));
    // On the plan's own floor: what does can be planned, what is too much cannot.
    let floor = Change {
        at: "requirements/floor".to_owned(),
        to: Some(serde_json::json!({
            "length_mm": base.footprint.length_m * 1e3 * (1.0 + 1e-9),
            "width_mm": base.footprint.width_m * 1e3 * (1.0 + 1e-9),
        })),
        ..Change::default()
    };
    let at = |rate: f64| answer(&changed(&document, &[floor.clone(), times("rate", rate)]).unwrap());
    assert!(matches!(at(helped.rates.does), Answer::Planned(_)));
    assert!(matches!(at(helped.rates.too_much.unwrap()), Answer::Impossible(_)));
}

/// Without a plan: each requirement of the conflict is needed, and its least change is bracketed by planning anew.
#[test]
fn the_least_change_of_an_impossible_cell() {
    let document = cell(&text().replace("length_mm: 9000, width_mm: 6000", "length_mm: 9000, width_mm: 3600"));
    let done = explain(&document, 0.1, 0.01, &doing()).unwrap();
    assert_eq!(done.plan.status, Ended::Impossible);
    let Explained::Conflict { relaxed, minimal } = &done.explained else { panic!("a plan") };
    assert!(*minimal);
    let floor = relaxed.iter().find(|r| r.pointer == "/requirements/floor").expect("the floor");
    assert_eq!(floor.relief, ReliefKind::Changed);
    let at = |by: f64| answer(&changed(&document, &[times("requirements/floor/*", by)]).unwrap());
    let (does, too_little) = (floor.does.unwrap(), floor.too_little.unwrap());
    assert!(too_little < does && does - too_little <= 0.01 + 1e-9);
    assert!(matches!(at(does), Answer::Planned(_)) && matches!(at(too_little), Answer::Impossible(_)));
}

/// Simulated beside each other, a plan makes what it makes when it is simulated by itself.
#[test]
fn efficiencies_side_by_side() {
    use loopwright_api::simulate::simulate;
    let failing = text().replace(
        "  - id: tape\n",
        "  - id: tape\n    failures: { mean_time_between_s: 900, mean_time_to_repair_s: 60 }\n",
    );
    let document = cell(&failing);
    let run = SimulationRun { hours: 1.0, least_replications: 10, most_replications: 10, ..SimulationRun::default() };
    let own = [Variant {
        name: "tape fails more".to_owned(),
        changes: vec![times("stations/tape/failures/mean_time_between_s", 0.25)],
    }];
    let done = compare(&document, &own, false, Some(&run), &doing()).unwrap();
    let least = |at: usize| {
        let of = done.variants[at].simulated.as_ref().unwrap();
        of.skus.iter().find(|s| s.id == of.least_sku).unwrap().efficiency.mean
    };
    assert!(least(1) < least(0) - 0.02, "{} and {}", least(1), least(0));
    let PlanAnswer::Answer(plan) = plan_document(&document, Duration::from_secs(60), &RUNNING) else {
        panic!("a fault")
    };
    let alone = simulate(&document, &serde_json::to_vec(&plan).unwrap(), &run, &doing()).unwrap();
    for sku in &done.variants[0].simulated.as_ref().unwrap().skus {
        let there = alone.skus.iter().find(|s| s.id == sku.id).unwrap();
        assert_eq!(sku.efficiency, there.efficiency, "{}", sku.id);
    }
}
