//! Small cells whose optimum a brute force found, by another reading of the model in another language.
//!
//! Each file of `tests/data/optima` says how it was made. `python3 tests/reference/optima.py 3 500 tests/data/optima` makes
//! them anew.

use loopwright_api::read_cell;
use loopwright_solver::study::{Clock, Found, Outcome, study};
use serde_json::Value;
use std::path::PathBuf;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

/// Relative, of areas and prices.
const SAME: f64 = 1e-6;

/// So many at least, or the folder is not what it should be.
const LEAST_FILES: usize = 50;

/// For one cell; they take a fraction of a second.
const LIMIT: Duration = Duration::from_secs(60);

#[test]
fn the_planner_finds_and_proves_each() {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/data/optima");
    let mut paths: Vec<PathBuf> = std::fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.retain(|path| path.extension().is_some_and(|ending| ending == "json"));
    paths.sort();
    assert!(paths.len() >= LEAST_FILES, "{} files in {}", paths.len(), folder.display());
    let (mut impossible, mut wrong) = (0, Vec::new());
    for path in &paths {
        let data: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
        let document = read_cell(data["cell"].to_string().as_bytes())
            .unwrap_or_else(|findings| panic!("{}: {findings:?}", path.display()));
        let cancel = AtomicBool::new(false);
        let outcome = study(&document.cell, &Clock::new(LIMIT, &cancel));
        impossible += usize::from(data["optimum"].is_null());
        if let Err(said) = agrees(&outcome, &data["optimum"]) {
            wrong.push(format!("{}: {said}", path.display()));
        }
    }
    assert!(impossible > 0 && impossible < paths.len() / 2, "{impossible} of {} without a plan", paths.len());
    assert!(wrong.is_empty(), "{} of {}:\n{}", wrong.len(), paths.len(), wrong.join("\n"));
}

fn agrees(outcome: &Outcome, optimum: &Value) -> Result<(), String> {
    match outcome {
        Outcome::Planned(found) if !optimum.is_null() => planned_agrees(found, optimum),
        Outcome::Impossible(_) if optimum.is_null() => Ok(()),
        Outcome::Planned(found) => Err(format!("planned on {} m², but there is no plan", found.area.bound.m2())),
        other => Err(format!("{other:?} instead of {optimum}")),
    }
}

fn planned_agrees(found: &Found, optimum: &Value) -> Result<(), String> {
    let number = |key: &str| optimum[key].as_f64().unwrap_or_else(|| panic!("{key} in {optimum}"));
    let same = |a: f64, b: f64| (a - b).abs() <= SAME * b.abs().max(1.0);
    // What is proven is what the plan has.
    let (area, price) = (found.area.bound.m2(), found.price.bound.units());
    let said = (area, found.plan.carriers, price);
    let proven = found.area.proven && found.carriers.proven && found.price.proven;
    if !proven {
        Err(format!("{said:?} not proven: {:?}", (found.area, found.carriers, found.price)))
    } else if !same(area, number("area_m2"))
        || f64::from(found.plan.carriers) != number("carriers")
        || !same(price, number("price"))
    {
        Err(format!("{said:?} instead of {optimum}"))
    } else {
        Ok(())
    }
}

/// A wrong optimum is seen.
#[test]
fn a_wrong_optimum_is_told() {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/data/optima");
    let mut paths: Vec<PathBuf> = std::fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    let data: Vec<Value> =
        paths.iter().map(|path| serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()).collect();
    let planned = data.iter().find(|data| data["optimum"].is_object()).unwrap();
    let document = read_cell(planned["cell"].to_string().as_bytes()).unwrap();
    let cancel = AtomicBool::new(false);
    let outcome = study(&document.cell, &Clock::new(LIMIT, &cancel));
    for (key, factor) in [("area_m2", 0.999), ("area_m2", 1.001), ("carriers", 2.0), ("price", 1.01)] {
        let mut wrong = planned["optimum"].clone();
        wrong[key] = (wrong[key].as_f64().unwrap() * factor).into();
        assert!(agrees(&outcome, &wrong).is_err(), "{key} times {factor} passes");
    }
    assert!(agrees(&outcome, &Value::Null).is_err());
}

/// Ten stations and 48 SKUs, where places are decided by listing choices: proven, and the order of SKUs changes nothing.
#[test]
fn ten_stations_are_decided_in_any_order_of_skus() {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("benches/cells");
    for file in ["s10-k48-h8-both-1.json", "s10-k48-h8-upright-1.json"] {
        let mut cell: Value = serde_json::from_str(&std::fs::read_to_string(folder.join(file)).unwrap()).unwrap();
        let ordered = proven(&cell, file);
        cell["skus"].as_array_mut().unwrap().reverse();
        let reversed = proven(&cell, file);
        assert_eq!(ordered.plan.carriers, reversed.plan.carriers, "{file}");
        assert!((ordered.area.bound.m2() - reversed.area.bound.m2()).abs() < SAME, "{file}");
        assert!((ordered.price.bound.units() / reversed.price.bound.units() - 1.0).abs() < SAME, "{file}");
    }
}

fn proven(cell: &Value, file: &str) -> Box<Found> {
    let document = read_cell(cell.to_string().as_bytes()).unwrap_or_else(|findings| panic!("{file}: {findings:?}"));
    let cancel = AtomicBool::new(false);
    match study(&document.cell, &Clock::new(LIMIT, &cancel)) {
        Outcome::Planned(found) => {
            assert!(found.area.proven && found.carriers.proven && found.price.proven, "{file}: {found:?}");
            found
        }
        other => panic!("{file}: {other:?}"),
    }
}
