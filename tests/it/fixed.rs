//! Decisions made beforehand: kept, never better than the free choice, and none of them hides the best plan.

use super::cells::{TEA, with};
use loopwright_api::wire::plan::{Answer, Planned};
use loopwright_api::{PlanAnswer, plan_document, read_cell};
use loopwright_solver::cell::{Cell, Parts};
use loopwright_solver::option::Mode;
use loopwright_solver::rules::{Rule, verdicts};
use loopwright_solver::study::{Clock, Found, Outcome, study};
use std::sync::atomic::AtomicBool;
use std::time::Duration;

fn plan(cell: &Cell) -> Option<Box<Found>> {
    let cancel = AtomicBool::new(false);
    match study(cell, &Clock::new(Duration::from_secs(60), &cancel)) {
        Outcome::Planned(found) => {
            assert!(found.area.proven && found.carriers.proven && found.price.proven);
            Some(found)
        }
        Outcome::Impossible(_) => None,
        other => panic!("{other:?}"),
    }
}

fn tea() -> Cell {
    read_cell(TEA.as_bytes()).unwrap().cell
}

fn changed(cell: &Cell, change: impl FnOnce(&mut Parts)) -> Cell {
    let mut parts = cell.parts().clone();
    change(&mut parts);
    Cell::new(parts).unwrap()
}

/// Least floor, then carriers, then price, for comparisons that rounding does not upset.
fn worth(found: &Found) -> (i64, u32, i64) {
    #[allow(clippy::cast_possible_truncation)]
    let rounded = |x: f64| (x * 1e6).round() as i64;
    (rounded(found.area.bound.m2()), found.plan.carriers, rounded(found.price.bound.units()))
}

/// The best of all ways to fix one station is the best plan, and each is kept.
#[test]
fn the_best_of_all_fixed_ways_of_a_station_is_the_best() {
    let cell = tea();
    let free = worth(&plan(&cell).unwrap());
    for station in 0..cell.len() {
        let mut best = None;
        for option in cell.parts().stations[station].options(cell.rides(), 1.0) {
            let fixed = changed(&cell, |parts| {
                let fixed = &mut parts.stations[station].fixed;
                (fixed.mode, fixed.heads) = (Some(option.mode), Some(option.heads));
            });
            let Some(found) = plan(&fixed) else { continue };
            let placed = &found.plan.stations[station];
            assert_eq!((placed.mode, placed.heads), (option.mode, option.heads));
            let worth = worth(&found);
            assert!(worth >= free, "{station} {option:?}: {worth:?} {free:?}");
            best = Some(best.map_or(worth, |best: (i64, u32, i64)| best.min(worth)));
        }
        assert_eq!(best, Some(free), "station {station}");
    }
}

/// Likewise modules and carriers; what the free plan has, fixed, gives the free plan's floor, carriers and price.
#[test]
fn the_best_of_all_fixed_loops_is_the_best() {
    let cell = tea();
    let found = plan(&cell).unwrap();
    let free = worth(&found);
    for modules in [found.plan.modules - 1, found.plan.modules, found.plan.modules + 1] {
        let fixed = changed(&cell, |parts| parts.circuit.fixed.modules = Some(modules));
        let Some(other) = plan(&fixed) else { continue };
        assert_eq!(other.plan.modules, modules);
        assert!(worth(&other) >= free && (modules != found.plan.modules || worth(&other) == free));
    }
    let mut planned = 0;
    for carriers in found.plan.carriers - 1..=found.plan.carriers + 2 {
        let fixed = changed(&cell, |parts| parts.circuit.fixed.carriers = Some(carriers));
        let Some(other) = plan(&fixed) else { continue };
        planned += 1;
        assert_eq!(other.plan.carriers, carriers);
        assert!(worth(&other) >= free && (carriers != found.plan.carriers || worth(&other) == free));
    }
    assert!(planned >= 2, "{planned}");
}

/// The verdict sees each decision that a plan goes against.
#[test]
fn a_plan_against_a_decision_is_told() {
    let cell = tea();
    let plan = plan(&cell).unwrap().plan;
    let other = |mode: Mode| if mode == Mode::Intermittent { Mode::Continuous } else { Mode::Intermittent };
    let changes: [&dyn Fn(&mut Parts); 4] = [
        &|parts| parts.circuit.fixed.modules = Some(plan.modules + 1),
        &|parts| parts.circuit.fixed.carriers = Some(plan.carriers + 1),
        &|parts| parts.stations[1].fixed.mode = Some(other(plan.stations[1].mode)),
        &|parts| parts.stations[1].fixed.heads = Some(plan.stations[1].heads + 1),
    ];
    for change in changes {
        let broken: Vec<Rule> = verdicts(&changed(&cell, change), &plan).into_iter().map(|b| b.rule).collect();
        assert_eq!(broken, [Rule::Fixed]);
    }
    assert!(verdicts(&cell, &plan).is_empty());
}

fn answer(text: &str) -> Answer {
    let document = read_cell(text.as_bytes()).unwrap_or_else(|findings| panic!("{findings:#?}"));
    match plan_document(&document, Duration::from_secs(60), &AtomicBool::new(false)) {
        PlanAnswer::Answer(document) => document.answer,
        PlanAnswer::Fault(finding) => panic!("{finding}"),
    }
}

fn planned(text: &str) -> Planned {
    match answer(text) {
        Answer::Planned(planned) => *planned,
        other => panic!("{other:#?}"),
    }
}

/// From the document to the plan, and to the conflict that names the decision.
#[test]
fn decisions_of_a_document() {
    let text = with(TEA, "depth_mm: 1200", "depth_mm: 1200\n    fixed: { mode: continuous }");
    let stations = &planned(&text).circuits[0].stations;
    let fill = stations.iter().find(|s| s.id == "fill").unwrap();
    assert_eq!(serde_json::to_value(fill.mode).unwrap(), "continuous");
    let text = with(TEA, "max_carriers: 40", "max_carriers: 40\n    fixed: { form: ring, carriers: 3 }");
    let Answer::Impossible(impossible) = answer(&text) else { panic!("three carriers are enough") };
    let pointers: Vec<&str> = impossible.conflict.requirements.iter().map(|r| &*r.pointer).collect();
    assert!(pointers.contains(&"/circuits/0/fixed/carriers"), "{pointers:?}");
    assert!(!pointers.contains(&"/circuits/0/fixed/form"), "{pointers:?}");
}
