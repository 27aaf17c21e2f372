//! Plans that must keep the limit of changes: against every choice fixed and judged by itself, and told where there is none.

use super::cells::{TEA, with};
use loopwright_api::alternatives::{Doing, Nobody, compare, explain};
use loopwright_api::wire::alternatives::{Ended, Explained, ReliefKind};
use loopwright_api::wire::judgement::JudgementStatus;
use loopwright_api::{PlanAnswer, judge, plan_document, read_cell};
use loopwright_solver::adjust::{Adjustment, At, Setting, Step, Way};
use loopwright_solver::cell::{Cell, Parts};
use loopwright_solver::changeover::{Changeover, Longest};
use loopwright_solver::option::Mode;
use loopwright_solver::rules::{Rule, verdicts};
use loopwright_solver::study::{Clock, Found, Outcome, study};
use loopwright_solver::units::{Metres, Seconds};
use serde_json::Value;
use std::path::PathBuf;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

static NEVER: AtomicBool = AtomicBool::new(false);

fn plan(cell: &Cell) -> Option<Box<Found>> {
    match study(cell, &Clock::new(Duration::from_secs(60), &NEVER)) {
        Outcome::Planned(found) => Some(found),
        Outcome::Impossible(_) => None,
        other => panic!("{other:?}"),
    }
}

fn longest(cell: &Cell, found: &Found) -> Longest {
    Changeover::of(cell, &found.plan).unwrap().longest().unwrap()
}

/// Least floor, then carriers, then price, for comparisons that rounding does not upset.
fn worth(found: &Found) -> (i64, u32, i64) {
    #[allow(clippy::cast_possible_truncation)]
    let rounded = |x: f64| (x * 1e6).round() as i64;
    (rounded(found.area.bound.m2()), found.plan.carriers, rounded(found.price.bound.units()))
}

fn changed(parts: &Parts, change: impl FnOnce(&mut Parts)) -> Cell {
    let mut parts = parts.clone();
    change(&mut parts);
    Cell::new(parts).unwrap()
}

/// Small cells of `tests/data/optima` with several SKUs.
fn small_cells() -> Vec<(String, Cell)> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/data/optima");
    let mut paths: Vec<PathBuf> = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.retain(|path| path.extension().is_some_and(|ending| ending == "json"));
    paths.sort();
    let read = |path: &PathBuf| {
        let data: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
        (path.display().to_string(), read_cell(data["cell"].to_string().as_bytes()).unwrap().cell)
    };
    paths.iter().map(read).filter(|(_, cell)| cell.rides().len() > 1).collect()
}

/// Work by hand at every station: heads carry minutes, the later stations more of them; continuous work at odd ones is set
/// by itself.
fn by_hand(parts: &mut Parts, operators: u32) {
    let skus = parts.skus.len();
    let adjustment = |i: usize| {
        #[allow(clippy::cast_precision_loss)]
        let time = |minutes: f64| Seconds::from_s(60.0 * (minutes + i as f64));
        let step = |id: &str, minutes: f64, each: f64, outside: bool, after: Vec<usize>| Step {
            id: id.to_owned(),
            time: time(minutes),
            each: time(each),
            people: 1,
            outside,
            after,
        };
        Adjustment {
            id: "tools".to_owned(),
            at: At::Station(i),
            follows: "id".to_owned(),
            mode: (i % 2 == 1).then_some(Mode::Intermittent),
            settings: (0..skus).map(Setting::Group).collect(),
            tolerance: Metres::ZERO,
            way: Way::ByHand(vec![
                step("fetch", 5.0, 0.0, true, vec![]),
                step("exchange", 2.0, 3.0, false, vec![3 * i]),
                step("teach", 1.0, 0.0, false, vec![3 * i + 1]),
            ]),
        }
    };
    parts.changes.adjustments = (0..parts.stations.len()).map(adjustment).collect();
    parts.changes.operators = operators;
}

/// Every way of fixing all stations, by index of the option.
fn choices(cell: &Cell) -> Vec<Vec<(Mode, u32)>> {
    let mut all = vec![Vec::new()];
    for station in &cell.parts().stations {
        let options: Vec<_> =
            station.allowed_options(cell.rides(), 1.0).into_iter().filter(|o| o.makes(cell.rides())).collect();
        let longer = |row: &Vec<(Mode, u32)>| -> Vec<Vec<(Mode, u32)>> {
            options.iter().map(|o| [row.clone(), vec![(o.mode, o.heads)]].concat()).collect()
        };
        all = all.iter().flat_map(longer).collect();
    }
    all
}

/// The plan that keeps the limit is the best of all choices whose own best plan keeps it. Refilling takes seconds and hands
/// take minutes, so a choice that does not keep it in its best plan keeps it in none; that is asserted.
#[test]
fn the_plan_within_the_limit_is_the_best_of_all_choices_within_it() {
    let (mut compared, mut larger, mut impossible) = (0, 0, 0);
    for (name, cell) in small_cells() {
        for operators in [1, 2] {
            let prepared = changed(cell.parts(), |parts| by_hand(parts, operators));
            let all = choices(&prepared);
            if all.len() > 40 {
                continue;
            }
            let Some(free) = plan(&prepared) else { continue };
            let mut each = Vec::new();
            for choice in &all {
                let fixed = changed(prepared.parts(), |parts| {
                    for (station, &(mode, heads)) in parts.stations.iter_mut().zip(choice) {
                        (station.fixed.mode, station.fixed.heads) = (Some(mode), Some(heads));
                    }
                });
                each.extend(plan(&fixed).map(|found| (longest(&fixed, &found).total.seconds(), worth(&found))));
            }
            let mut times: Vec<f64> = each.iter().map(|(time, _)| *time).collect();
            times.sort_by(f64::total_cmp);
            // Between two choices that are at least half a minute apart, and below all of them.
            let between = times.windows(2).filter(|w| w[1] - w[0] > 30.0).map(|w| f64::midpoint(w[0], w[1]));
            for limit in between.chain([times[0] - 30.0]).filter(|limit| *limit > 0.0) {
                let kept = changed(prepared.parts(), |parts| {
                    parts.changes.limit = Some(Seconds::from_s(limit));
                    parts.changes.keep_limit = true;
                });
                let best = each.iter().filter(|(time, _)| *time <= limit).map(|(_, worth)| *worth).min();
                let found = plan(&kept);
                assert_eq!(found.as_deref().map(worth), best, "{name}, {operators} operators, {limit} s");
                compared += 1;
                impossible += usize::from(best.is_none());
                if let Some(found) = found {
                    assert!(longest(&kept, &found).total.seconds() <= limit);
                    larger += usize::from(worth(&found) > worth(&free));
                }
            }
        }
    }
    assert!(compared > 60 && larger > 5 && impossible > 10, "{compared} {larger} {impossible}");
}

/// With nothing by hand only refilling and the carriers' own moves are left, which hang on lengths. A limit a little below
/// what the free plan takes is kept, or no plan of a fixed choice with fewer or more carriers or modules keeps it either.
#[test]
fn limits_of_seconds_are_kept_too() {
    let (mut kept, mut none) = (0, 0);
    for (name, cell) in small_cells().into_iter().take(16) {
        let Some(free) = plan(&cell) else { continue };
        let limit = longest(&cell, &free).total.seconds() * 0.97;
        let asked = changed(cell.parts(), |parts| {
            parts.changes.limit = Some(Seconds::from_s(limit));
            parts.changes.keep_limit = true;
        });
        let outcome = study(&asked, &Clock::new(Duration::from_secs(20), &NEVER));
        let bound = match &outcome {
            Outcome::Planned(found) => {
                assert!(verdicts(&asked, &found.plan).is_empty());
                assert!(longest(&asked, found).total.seconds() <= limit && worth(found) >= worth(&free));
                kept += 1;
                found.area.bound.m2()
            }
            Outcome::Impossible(_) => {
                none += 1;
                f64::INFINITY
            }
            Outcome::Stopped(bound, _) => bound.m2(),
            Outcome::Broken(..) => panic!("{name}: {outcome:?}"),
        };
        for (modules, carriers) in (0..3).flat_map(|m| (0..4).map(move |c| (m, c))) {
            if free.plan.modules + modules > cell.parts().circuit.track.max_modules {
                continue;
            }
            let fixed = changed(cell.parts(), |parts| {
                parts.circuit.fixed.modules = Some(free.plan.modules + modules);
                parts.circuit.fixed.carriers = Some((free.plan.carriers + carriers).saturating_sub(1).max(1));
            });
            let Some(other) = plan(&fixed) else { continue };
            if longest(&fixed, &other).total.seconds() <= limit {
                assert!(other.area.bound.m2() >= bound - 1e-9, "{name}: {modules} {carriers}");
            }
        }
    }
    assert!(kept > 3 && kept + none > 8, "{kept} {none}");
}

/// The filler's grippers take minutes for each head, when it works intermittently or (`always`) either way.
fn tea(changeover: &str, always: bool) -> String {
    let side = "    side: front\n";
    let mode = if always { "" } else { "        mode: intermittent\n" };
    let grippers = format!(
        "    adjustments:\n      - id: grippers\n        follows: id\n{mode}        by_hand: [ {{ id: exchange, minutes: 2, minutes_each: 3 }} ]\n"
    );
    with(TEA, side, &format!("{side}{grippers}")) + &format!("changeover: {{ {changeover} }}\n")
}

#[test]
fn a_plan_over_the_limit_breaks_the_rule() {
    let (free, kept) = (tea("limit_min: 7", false), tea("limit_min: 7, keep_limit: true", false));
    let planned = |cell: &str| {
        let document = read_cell(cell.as_bytes()).unwrap();
        match plan_document(&document, Duration::from_secs(60), &NEVER) {
            PlanAnswer::Answer(answer) => serde_json::to_string(&answer).unwrap(),
            PlanAnswer::Fault(finding) => panic!("{finding}"),
        }
    };
    let judged = |cell: &str, plan: &str| judge(&read_cell(cell.as_bytes()).unwrap(), plan.as_bytes()).unwrap();
    let (over, within) = (planned(&free), planned(&kept));
    assert_eq!(judged(&kept, &within).lines, []);
    assert_eq!(judged(&free, &over).status, JudgementStatus::Holds);
    let judgement = judged(&kept, &over);
    let rules: Vec<&str> = judgement.lines.iter().map(|l| l.rule.as_str()).collect();
    assert_eq!(rules, [Rule::Change.word()], "{:?}", judgement.lines);
    assert!(judgement.lines[0].says.contains("at most 7.00 are allowed"), "{:?}", judgement.lines[0]);
}

#[test]
fn the_usual_comparison_shows_what_the_limit_costs() {
    let document = read_cell(tea("limit_min: 7", false).as_bytes()).unwrap();
    let doing = Doing::new(Duration::from_secs(120), &NEVER, &Nobody);
    let done = compare(&document, &[], true, None, &doing).unwrap();
    let within = done.variants.iter().find(|v| v.name == "every change within the limit").unwrap();
    assert_eq!(within.plan.status, Ended::Planned);
    let cost = |at: &loopwright_api::wire::alternatives::Compared| {
        (at.plan.footprint.unwrap().area_m2, at.plan.price.unwrap())
    };
    assert!(cost(within) > cost(&done.variants[0]), "{:?}", done.variants);
}

/// A limit that nothing keeps is named, with the least one that would do; nothing below it does.
#[test]
fn a_limit_that_nothing_keeps_is_named() {
    let document = read_cell(tea("limit_min: 4.5, keep_limit: true", true).as_bytes()).unwrap();
    assert!(plan(&document.cell).is_none());
    let done = explain(&document, 0.1, 0.1, &Doing::new(Duration::from_secs(120), &NEVER, &Nobody)).unwrap();
    let Explained::Conflict { relaxed, minimal } = &done.explained else { panic!("{:?}", done.explained) };
    assert!(*minimal && done.complete);
    let row = relaxed.iter().find(|r| r.pointer == "/changeover/limit_min").expect("the limit");
    assert_eq!((row.relief, row.value.as_f64()), (ReliefKind::Changed, Some(4.5)));
    for (times, does) in [(row.does.unwrap(), true), (row.too_little.unwrap(), false)] {
        let cell = tea(&format!("limit_min: {}, keep_limit: true", 4.5 * times), true);
        assert_eq!(plan(&read_cell(cell.as_bytes()).unwrap().cell).is_some(), does, "{times}");
    }
}
