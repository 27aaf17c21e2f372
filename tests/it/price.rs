//! The limit on the price: kept, proven, and never anything but a limit.

use super::cells::{TEA, with};
use loopwright_api::wire::plan::Answer;
use loopwright_api::{PlanAnswer, plan_document, read_cell};
use loopwright_solver::cell::Cell;
use loopwright_solver::explain::{Requirement, conflict, keeping_only};
use loopwright_solver::relief::{Relief, relief};
use loopwright_solver::study::{Clock, Found, Outcome, study};
use loopwright_solver::units::Money;
use std::path::PathBuf;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

static NEVER: AtomicBool = AtomicBool::new(false);

fn clock() -> Clock<'static> {
    Clock::new(Duration::from_secs(120), &NEVER)
}

fn plan(cell: &Cell) -> Option<Box<Found>> {
    match study(cell, &clock()) {
        Outcome::Planned(found) => Some(found),
        Outcome::Impossible(_) => None,
        other => panic!("{other:?}"),
    }
}

/// The small cells of `tests/data/optima` that cost something.
fn small_cells() -> Vec<Cell> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/data/optima");
    let mut paths: Vec<PathBuf> = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    let read = |path: &PathBuf| {
        let data: serde_json::Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
        read_cell(data["cell"].to_string().as_bytes()).unwrap().cell
    };
    paths.iter().map(read).collect()
}

fn limited(cell: &Cell, most: f64) -> Cell {
    let mut parts = cell.parts().clone();
    parts.requirements.max_price = Some(Money::from_units(most));
    Cell::new(parts).unwrap()
}

fn price(cell: &Cell, found: &Found) -> f64 {
    found.plan.numbers(cell).unwrap().price.units()
}

fn area(cell: &Cell, found: &Found) -> f64 {
    found.plan.numbers(cell).unwrap().footprint.area().m2()
}

/// A limit at the plan's own price or above changes nothing, not even the plan. One below it never takes less floor, and
/// where there is no plan any longer, the limit stands in the conflict, whose least change does.
#[test]
fn less_money_never_saves_floor() {
    let (mut compared, mut impossible, mut dearer_in_floor) = (0, 0, 0);
    for cell in small_cells() {
        let Some(free) = plan(&cell) else { continue };
        let costs = price(&cell, &free);
        if costs <= 0.0 || !(free.area.proven && free.carriers.proven && free.price.proven) {
            continue;
        }
        let name = &cell.parts().name;
        for times in [1.0, 1.3] {
            let same = plan(&limited(&cell, costs * times)).unwrap_or_else(|| panic!("{name} x {times}"));
            assert_eq!((same.area, same.carriers), (free.area, free.carriers), "{name} x {times}");
            assert!((price(&cell, &same) - costs).abs() <= 1e-9 * costs, "{name} x {times}");
        }
        let mut last = (area(&cell, &free), true);
        for times in [1.0 - 1e-7, 0.98, 0.9, 0.8, 0.5] {
            let less = limited(&cell, costs * times);
            compared += 1;
            let Some(found) = plan(&less) else {
                last.1 = false;
                impossible += 1;
                let why = conflict(&less, &clock());
                if why.minimal {
                    assert!(why.requirements.contains(&Requirement::MaxPrice), "{name}: {why:?}");
                    assert!(plan(&keeping_only(&less, &why.requirements).unwrap()).is_none(), "{name}");
                }
                if let Relief::Times { does, too_little } = relief(&less, Requirement::MaxPrice, 0.05, &clock()) {
                    assert!(plan(&limited(&cell, costs * times * does)).is_some(), "{name}: {does}");
                    assert!(plan(&limited(&cell, costs * times * too_little)).is_none(), "{name}: {too_little}");
                }
                continue;
            };
            assert!(last.1, "{name}: a plan for less money than there was none for");
            assert!(price(&less, &found) <= costs * times * (1.0 + 1e-9), "{name} x {times}");
            assert!(area(&less, &found) >= last.0 - 1e-9, "{name} x {times}");
            dearer_in_floor += usize::from(area(&less, &found) > last.0 + 1e-6);
            last.0 = found.area.bound.m2();
        }
    }
    assert!(compared > 60 && impossible > 20 && dearer_in_floor > 3, "{compared} {impossible} {dearer_in_floor}");
}

/// From the document to the conflict that names the key.
#[test]
fn too_little_money_is_told() {
    let text = with(TEA, "clearance_mm: 600", "clearance_mm: 600, max_price: 100000");
    let document = read_cell(text.as_bytes()).unwrap();
    match plan_document(&document, Duration::from_secs(60), &NEVER) {
        PlanAnswer::Answer(answer) => match answer.answer {
            Answer::Impossible(said) => {
                let price = said.conflict.requirements.iter().find(|r| r.pointer == "/requirements/max_price").unwrap();
                assert_eq!((price.value.as_f64(), &*price.says), (Some(1e5), "a price of at most 100000"));
                assert!(said.conflict.minimal);
                assert!(said.reasons.iter().any(|r| r.starts_with("without the limit on the price ")), "{said:?}");
            }
            other => panic!("{other:?}"),
        },
        PlanAnswer::Fault(finding) => panic!("{finding}"),
    }
}
