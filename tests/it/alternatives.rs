//! Alternatives against planning anew: causes add up, looser is never worse, crossovers and conflicts hold on both sides.

use super::cells::{TEA, impossible, with};
use loopwright_api::alternatives::{Doing, Nobody, changed, check_axes, compare, explain, parse_change, sweep};
use loopwright_api::wire::alternatives::{Axis, Change, Ended, Explained, ReliefKind, SweepTarget, Variant};
use loopwright_api::wire::plan::PlannedMode;
use loopwright_api::{Document, read_cell};
use loopwright_solver::cell::Cell;
use loopwright_solver::explain::{Requirement, conflict, keeping_only, requirements};
use loopwright_solver::relief::{Relief, at_rates, at_times, relief};
use loopwright_solver::study::{Clock, Found, Outcome, study};
use loopwright_solver::units::Metres;
use serde_json::Value;
use std::path::PathBuf;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

const LIMIT: Duration = Duration::from_secs(120);

static NEVER: AtomicBool = AtomicBool::new(false);

fn doing() -> Doing<'static> {
    Doing::new(LIMIT, &NEVER, &Nobody)
}

fn tea() -> Document {
    read_cell(TEA.as_bytes()).unwrap()
}

fn plan(cell: &Cell) -> Option<Box<Found>> {
    match study(cell, &Clock::new(LIMIT, &NEVER)) {
        Outcome::Planned(found) => Some(found),
        Outcome::Impossible(_) => None,
        other => panic!("{other:?}"),
    }
}

/// The small cells of `tests/data/optima`.
fn small_cells() -> Vec<(String, Document)> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/data/optima");
    let mut paths: Vec<PathBuf> = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.retain(|path| path.extension().is_some_and(|ending| ending == "json"));
    paths.sort();
    let read = |path: &PathBuf| {
        let data: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
        (path.display().to_string(), read_cell(data["cell"].to_string().as_bytes()).unwrap())
    };
    paths.iter().map(read).collect()
}

#[test]
fn causes_add_up_to_the_difference() {
    let own =
        |name: &str, change: &str| Variant { name: name.to_owned(), changes: vec![parse_change(change).unwrap()] };
    let variants = [
        own("faster", "rate*1.15"),
        own("deep", "stations/fill/depth_mm=2000"),
        own("wide", "requirements/clearance_mm=900"),
    ];
    let done = compare(&tea(), &variants, true, None, &doing()).unwrap();
    let names: Vec<&str> = done.variants.iter().map(|v| v.name.as_str()).collect();
    assert_eq!(names, ["as asked", "faster", "deep", "wide", "all intermittent", "all continuous", "fill continuous"]);
    assert_eq!(done.differences.len(), 21);
    let mut moved = 0;
    for d in &done.differences {
        let (f, c) = (&d.floor_m2, &d.carriers);
        let plan = |at: u32| &done.variants[at as usize].plan;
        let total = plan(d.of).footprint.unwrap().area_m2 - plan(d.than).footprint.unwrap().area_m2;
        assert!((f.zones + f.queues + f.unused_straight + f.ends + f.depth - total).abs() < 1e-9, "{d:?}");
        assert!((f.total - total).abs() < 1e-12, "{d:?}");
        let more = f64::from(plan(d.of).carriers.unwrap()) - f64::from(plan(d.than).carriers.unwrap());
        assert!((c.in_stations + c.on_the_way + c.waiting - more).abs() < 1e-9, "{d:?}");
        moved += usize::from(total.abs() > 0.01);
        assert!(d.says.contains("floor"), "{}", d.says);
    }
    assert!(moved > 5, "{moved}");
    let deep = done.differences.iter().find(|d| (d.of, d.than) == (2, 0)).unwrap();
    // Only the depth differs: 800 mm more of it along the whole length.
    let length = done.variants[0].plan.footprint.unwrap().length_m;
    assert!((deep.floor_m2.depth - 0.8 * length).abs() < 1e-9 && deep.floor_m2.zones == 0.0, "{deep:?}");
}

/// A document that refuses a variant says so in its row; the others are planned.
#[test]
fn a_refused_variant_is_told_in_its_row() {
    let changes = vec![Change { at: "stations/fill/depth_mm".to_owned(), to: Some((-3).into()), ..Change::default() }];
    let done = compare(&tea(), &[Variant { name: "odd".to_owned(), changes }], false, None, &doing()).unwrap();
    let ended: Vec<Ended> = done.variants.iter().map(|v| v.plan.status).collect();
    assert_eq!(ended, [Ended::Planned, Ended::Refused]);
    assert!(done.variants[1].plan.reasons[0].contains("/stations/1/depth_mm"), "{:?}", done.variants[1].plan.reasons);
}

/// On both sides of a crossover another way of working is best, found by planning there alone.
#[test]
fn a_crossover_holds_on_both_sides() {
    let at = "stations/fill/intermittent/base_s";
    let axis = Axis { at: at.to_owned(), of: SweepTarget::Value, from: 1.0, to: 2.4, points: 3 };
    let done = sweep(&tea(), &[axis], 0.005, &doing()).unwrap();
    assert_eq!(done.crossovers.len(), 1, "{:?}", done.crossovers);
    let c = &done.crossovers[0];
    assert!(c.proven && c.station == "fill" && c.to - c.from <= 0.005 * 1.4 + 1e-12, "{c:?}");
    assert_eq!((c.below, c.above), (PlannedMode::Intermittent, PlannedMode::Continuous));
    for (value, mode, other) in [(c.from, "intermittent", "continuous"), (c.to, "continuous", "intermittent")] {
        let fixed = |mode: &str| {
            let changes = [format!("{at}={value}"), format!("stations/fill/fixed/mode={mode}")];
            let changes: Vec<Change> = changes.iter().map(|c| parse_change(c).unwrap()).collect();
            plan(&changed(&tea(), &changes).unwrap().cell).map(|found| worth(&found))
        };
        let (best, second) = (fixed(mode).unwrap(), fixed(other));
        assert!(second.is_none_or(|second| best <= second), "{value}: {mode} {best:?} {second:?}");
    }
}

fn worth(found: &Found) -> (i64, u32, i64) {
    #[allow(clippy::cast_possible_truncation)]
    let rounded = |x: f64| (x * 1e6).round() as i64;
    (rounded(found.area.bound.m2()), found.plan.carriers, rounded(found.price.bound.units()))
}

/// What the plan takes; its bound may be less where the search ended before the proof.
fn area(cell: &Cell, found: &Found) -> f64 {
    found.plan.numbers(cell).unwrap().footprint.area().m2()
}

/// A sweep's points learn from each other; each is what planning it alone gives in floor, carriers and price. Over all rates,
/// one rate, and a number that is no rate.
#[test]
fn points_of_a_sweep_are_what_planning_alone_gives() {
    let (mut compared, mut planned) = (0, 0);
    let all = small_cells().into_iter().chain([("tea".to_owned(), tea())]);
    for (at, (name, document)) in all.enumerate() {
        let first = &document.wire.skus[0].id;
        let one = ["cases_per_min", "products_per_min"].map(|key| format!("skus/{first}/net_rate/{key}"));
        let over = [("rate", 5), (one[0].as_str(), 3), (one[1].as_str(), 3), ("requirements/efficiency", 3)];
        // Other numbers than all rates on every fourth cell: they take the same way.
        for (at, points) in over.into_iter().take(if at % 4 == 0 { 4 } else { 1 }) {
            // What takes long to prove is for the bench.
            let to = if name == "tea" { 1.2 } else { 1.4 };
            let axis = Axis { at: at.to_owned(), of: SweepTarget::Times, from: 0.7, to, points };
            let Ok(done) = check_axes(&document, std::slice::from_ref(&axis), 0.0, 100)
                .and_then(|()| sweep(&document, &[axis], 0.0, &doing()).map_err(|finding| vec![finding]))
            else {
                continue;
            };
            for point in &done.points {
                let change = parse_change(&format!("{at}*{}", point.value)).unwrap();
                let Ok(changed) = changed(&document, &[change]) else {
                    assert_eq!(point.plan.status, Ended::Refused, "{name}: {at} x {}", point.value);
                    continue;
                };
                let what = format!("{name}: {at} x {}", point.value);
                compared += 1;
                let Some(alone) = plan(&changed.cell) else {
                    assert_eq!(point.plan.status, Ended::Impossible, "{what}");
                    continue;
                };
                assert_eq!(point.plan.status, Ended::Planned, "{what}");
                let proven = alone.area.proven && alone.carriers.proven && alone.price.proven;
                if proven && point.plan.proven {
                    planned += 1;
                    let area = point.plan.footprint.unwrap().area_m2;
                    assert!((area - alone.area.bound.m2()).abs() < 1e-9, "{what}: {area} and {:?}", alone.area);
                    assert_eq!(point.plan.carriers, Some(alone.plan.carriers), "{what}");
                    let (price, least) = (point.plan.price.unwrap(), alone.price.bound.units());
                    assert!((price - least).abs() <= 1e-6 * least.abs().max(1.0), "{what}: {price} and {least}");
                }
            }
        }
    }
    assert!(compared > 200 && planned * 10 > compared * 3, "{compared}, {planned} planned");
}

/// Every requirement looser, and every rate lower, on every small cell: never more floor; and more rate never less. Cells
/// with a longest time are left out for rates: a slower pace keeps carriers waiting.
#[test]
fn looser_is_never_worse() {
    let mut compared = 0;
    for (name, document) in small_cells() {
        let cell = &document.cell;
        let Some(base) = plan(cell).map(|found| area(cell, &found)) else { continue };
        for requirement in requirements(cell) {
            let times = match requirement {
                Requirement::MaxTime(_) | Requirement::WindowMax(_) | Requirement::MaxCarriers | Requirement::Floor => {
                    1.25
                }
                Requirement::RideThrough(_) | Requirement::MinLength(_) | Requirement::MinTime(_) => 0.75,
                _ => continue,
            };
            let looser = plan(&at_times(cell, requirement, times).unwrap()).expect("looser, and no plan");
            assert!(looser.area.bound.m2() <= base + 1e-9, "{name}: {requirement:?}");
            compared += 1;
        }
        let timed = cell.parts().sections.iter().any(|s| s.max_time.is_some())
            || cell.parts().windows.iter().any(|w| w.max.is_some());
        if timed {
            continue;
        }
        let mut last = 0.0;
        for times in [0.7, 0.85, 1.0, 1.1, 1.25] {
            let changed = at_rates(cell, times).unwrap();
            let Some(found) = plan(&changed) else {
                last = f64::INFINITY;
                continue;
            };
            assert!(area(&changed, &found) >= last - 1e-9, "{name}: rates x {times}");
            last = found.area.bound.m2();
            compared += 1;
        }
    }
    assert!(compared > 100, "{compared}");
}

/// Small cells asked for too much in several ways; each answer is planned again without the code that found it.
#[test]
fn conflicts_are_minimal_and_least_changes_do() {
    let (mut conflicts, mut undecided, mut sizes, mut changes) = (0, 0, [0usize; 4], 0);
    for (name, document) in small_cells() {
        for (rates, floor, carriers) in
            [(1.6, 0.0, 0), (2.5, 0.0, 0), (1.0, 0.8, 0), (1.3, 0.9, 0), (1.0, 0.0, 3), (1.0, 0.95, 4), (0.6, 0.6, 2)]
        {
            let mut parts = document.cell.parts().clone();
            if floor > 0.0 {
                let Some(found) = plan(&document.cell) else { continue };
                let size = found.plan.numbers(&document.cell).unwrap().footprint;
                let shrunk = |side: Metres| Metres::from_m(side.m() * floor);
                parts.requirements.floor = Some((shrunk(size.length), shrunk(size.width)));
            }
            if carriers > 0 {
                parts.circuit.max_carriers = Some(carriers);
            }
            let Some(cell) = Cell::new(parts).ok().and_then(|cell| at_rates(&cell, rates)) else { continue };
            if plan(&cell).is_some() {
                continue;
            }
            conflicts += 1;
            let found = conflict(&cell, &Clock::new(LIMIT, &NEVER));
            let set = &found.requirements;
            if !found.minimal {
                undecided += 1;
                continue;
            }
            sizes[set.len().min(3)] += 1;
            assert!(plan(&keeping_only(&cell, set).unwrap()).is_none(), "{name}: {set:?} can hold together");
            for left_out in set {
                let rest: Vec<Requirement> = set.iter().filter(|r| *r != left_out).copied().collect();
                assert!(plan(&keeping_only(&cell, &rest).unwrap()).is_some(), "{name}: {left_out:?} is not needed");
            }
            for &requirement in set {
                match relief(&cell, requirement, 0.1, &Clock::new(LIMIT, &NEVER)) {
                    Relief::Times { does, too_little } => {
                        changes += 1;
                        if does > 0.0 {
                            assert!(
                                plan(&at_times(&cell, requirement, does).unwrap()).is_some(),
                                "{name}: {requirement:?}"
                            );
                        }
                        assert!(
                            plan(&at_times(&cell, requirement, too_little).unwrap()).is_none(),
                            "{name}: {requirement:?}"
                        );
                    }
                    Relief::Unknown => undecided += 1,
                    Relief::NotAlone | Relief::GivenUp => {}
                }
            }
        }
    }
    // What a search leaves open is said to be open.
    assert!(conflicts - undecided >= 200 && undecided * 50 <= conflicts, "{conflicts}, {undecided} undecided");
    assert!(sizes[1] > 0 && sizes[2] > 0 && changes > 100, "{sizes:?}, {changes}");
}

#[test]
fn explained_with_a_plan() {
    let done = explain(&tea(), 0.1, 0.01, &doing()).unwrap();
    assert!(done.complete);
    let Explained::Helped(helped) = &done.explained else { panic!("{:?}", done.explained) };
    let (does, too_much) = (helped.rates.does, helped.rates.too_much.unwrap());
    assert!(too_much - does <= 0.01 + 1e-9);
    let floor = done.plan.footprint.unwrap();
    let on_floor = |times: f64| {
        let size = format!(
            r#"requirements/floor={{"length_mm": {}, "width_mm": {}}}"#,
            floor.length_m * 1e3 + 1e-3,
            floor.width_m * 1e3 + 1e-3
        );
        let changes = [parse_change(&size).unwrap(), parse_change(&format!("rate*{times}")).unwrap()];
        plan(&changed(&tea(), &changes).unwrap().cell).is_some()
    };
    assert!(on_floor(does) && !on_floor(too_much));
    // The first lever saves most, and planning its changes anew says the same.
    let first = &helped.levers[0];
    let area = plan(&changed(&tea(), &first.changes).unwrap().cell).unwrap().area.bound.m2();
    assert!((floor.area_m2 - area - first.floor_saved_m2.unwrap()).abs() < 1e-9 && first.floor_saved_m2.unwrap() > 0.0);
    assert!(helped.levers.windows(2).all(|w| w[0].floor_saved_m2.unwrap() >= w[1].floor_saved_m2.unwrap() - 0.01));
}

#[test]
fn explained_without_a_plan() {
    let document = read_cell(impossible().as_bytes()).unwrap();
    let done = explain(&document, 0.1, 0.01, &doing()).unwrap();
    let Explained::Conflict { relaxed, minimal } = &done.explained else { panic!("{:?}", done.explained) };
    assert!(done.complete && *minimal && relaxed.len() == 1);
    assert_eq!(
        (relaxed[0].relief, relaxed[0].pointer.as_str()),
        (ReliefKind::Changed, "/skus/0/net_rate/cases_per_min")
    );
    let slower = with(TEA, "cases_per_min: 32", &format!("cases_per_min: {}", 320.0 * relaxed[0].does.unwrap()));
    assert!(plan(&read_cell(slower.as_bytes()).unwrap().cell).is_some());
}
