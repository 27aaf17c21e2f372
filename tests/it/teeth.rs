//! Rules have teeth: left out, each makes some plan break it; and what is asked in addition never helps.

use crate::cells::TEA;
use loopwright_api::read_cell;
use loopwright_solver::cell::{Cell, Parts};
use loopwright_solver::explain::{Requirement, keeping_only, requirements};
use loopwright_solver::rules::{Rule, verdicts};
use loopwright_solver::study::{Clock, Found, Outcome, study};
use std::collections::BTreeSet;
use std::path::PathBuf;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

fn plan(cell: &Cell) -> Option<Found> {
    let cancel = AtomicBool::new(false);
    match study(cell, &Clock::new(Duration::from_secs(60), &cancel)) {
        Outcome::Planned(found) => Some(*found),
        _ => None,
    }
}

fn cells() -> Vec<Cell> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/data/optima");
    let mut paths: Vec<PathBuf> = std::fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
    paths.sort();
    let mut all: Vec<Cell> = paths
        .iter()
        .map(|path| {
            let data: serde_json::Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
            read_cell(data["cell"].to_string().as_bytes()).unwrap().cell
        })
        .collect();
    all.push(read_cell(TEA.as_bytes()).unwrap().cell);
    all
}

/// Each requirement left out in turn: some plan then breaks the rule that held it, and no plan gets larger.
#[test]
fn each_rule_left_out_is_broken_somewhere_and_never_costs_floor() {
    let mut broken = BTreeSet::new();
    let mut compared = 0;
    for cell in cells() {
        let all = requirements(&cell);
        let with = plan(&cell);
        for left_out in &all {
            // A SKU without its rate keeps its geometry only; nothing to compare for time limits of others.
            let kept: Vec<Requirement> = all.iter().copied().filter(|r| r != left_out).collect();
            let relaxed = keeping_only(&cell, &kept).unwrap();
            let Some(without) = plan(&relaxed) else { continue };
            broken.extend(verdicts(&cell, &without.plan).into_iter().map(|b| b.rule));
            if let Some(with) = &with {
                let (a, b) = (without.area.bound.m2(), with.area.bound.m2());
                assert!(a <= b + 1e-9, "{}: without {left_out:?} {a} m², with it {b} m²", cell.parts().name);
                compared += 1;
            }
        }
    }
    for rule in [Rule::Rate, Rule::Floor, Rule::Slots, Rule::Carriers, Rule::Dwell, Rule::Window, Rule::Stands] {
        assert!(broken.contains(&rule), "nothing broke {rule:?} when it was left out: {broken:?}");
    }
    assert!(compared > 100, "{compared}");
}

/// The order of SKUs means nothing.
#[test]
fn the_order_of_skus_changes_nothing() {
    let mut several = 0;
    for cell in cells() {
        let Parts { skus, stations, .. } = cell.parts().clone();
        if skus.len() < 2 {
            continue;
        }
        several += 1;
        let mut parts = Parts { skus: skus.into_iter().rev().collect(), ..cell.parts().clone() };
        parts.stations = stations;
        parts.changes.adjustments.iter_mut().for_each(|a| a.settings.reverse());
        parts.feed.iter_mut().for_each(|feed| feed.products.reverse());
        for station in &mut parts.stations {
            if let Some(mode) = &mut station.intermittent {
                mode.work.reverse();
            }
            if let Some(mode) = &mut station.continuous {
                mode.work.reverse();
            }
        }
        let (one, other) = (plan(&cell), plan(&Cell::new(parts).unwrap()));
        let said = |f: &Option<Found>| f.as_ref().map(|f| (f.area.bound.m2(), f.plan.carriers, f.price.bound.units()));
        match (said(&one), said(&other)) {
            (None, None) => {}
            (Some(a), Some(b)) => {
                assert!(
                    (a.0 - b.0).abs() < 1e-9 && a.1 == b.1 && (a.2 - b.2).abs() < 1e-6,
                    "{}: {a:?} {b:?}",
                    cell.parts().name
                );
            }
            (a, b) => panic!("{}: {a:?} {b:?}", cell.parts().name),
        }
    }
    assert!(several > 5, "{several}");
}

/// A search that is cancelled before it starts says that it stopped, and proves nothing wrong.
#[test]
fn cancelled_is_stopped() {
    let cell = read_cell(TEA.as_bytes()).unwrap().cell;
    let cancel = AtomicBool::new(true);
    match study(&cell, &Clock::new(Duration::from_secs(60), &cancel)) {
        Outcome::Stopped(bound, effort) => {
            assert!(effort.timed_out && bound.m2() <= plan(&cell).unwrap().area.bound.m2())
        }
        other => panic!("{other:?}"),
    }
}

/// A station whose cycle is exactly the pace: what carriers wait then depends on where they start, and the planner must not
/// contradict its own judge.
#[test]
fn a_cycle_that_is_exactly_the_pace() {
    let mut planned = 0;
    for longest in ["2.75", "2.8", "3", "4", "5", "8"] {
        let text = format!(
            "{{format: 1, name: tie, skus: [{{id: k, net_rate: {{cases_per_min: 30}}, loads: {{c: {{extent_mm: 200}}}}}}], \
             circuits: [{{id: c, carries: case, carrier: {{length_mm: 200, max_speed_m_s: 1, max_accel_m_s2: 5}}, track: \
             {{module_mm: 100, max_modules: 20, width_mm: 200, forms: [{{id: f, plane: flat, radius_mm: 200}}]}}, order: [a, b]}}], \
             segments: [{{from: a, to: b, min_length_mm: 2500, max_s: {longest}}}], \
             stations: [{{id: a, intermittent: {{base_s: 0.5}}}}, {{id: b, intermittent: {{base_s: 1.6}}}}]}}"
        );
        let cell = read_cell(text.as_bytes()).unwrap().cell;
        let cancel = AtomicBool::new(false);
        match study(&cell, &Clock::new(Duration::from_secs(2), &cancel)) {
            Outcome::Planned(_) => planned += 1,
            Outcome::Broken(_, breaches) => panic!("{longest}: {breaches:?}"),
            Outcome::Impossible(_) | Outcome::Stopped(..) => {}
        }
    }
    assert!(planned > 0);
}
