//! The plan document against the model's section 10, and against the plan itself.

use std::collections::BTreeSet;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

use serde_json::Value;

use super::*;
use crate::read_cell;
use crate::wire::plan::{Planned, PlannedPlane};

/// A small cell that has a plan.
pub(crate) const JARS: &str = include_str!("jars.yaml");

pub(crate) fn document(text: &str) -> Document {
    read_cell(text.as_bytes()).unwrap_or_else(|findings| panic!("{findings:#?}"))
}

pub(crate) fn answer(text: &str) -> PlanDocument {
    match plan_document(&document(text), Duration::from_secs(60), &AtomicBool::new(false)) {
        PlanAnswer::Answer(document) => *document,
        PlanAnswer::Fault(finding) => panic!("{finding}"),
    }
}

pub(crate) fn planned(text: &str) -> Planned {
    match answer(text).answer {
        Answer::Planned(planned) => *planned,
        other => panic!("{other:#?}"),
    }
}

/// JARS on an upright loop.
pub(crate) fn upright() -> String {
    JARS.replace("id: wide, plane: flat", "id: tall, plane: upright")
}

/// JARS on a floor that is too small.
pub(crate) fn crowded() -> String {
    JARS.replace("clearance_mm: 500", "clearance_mm: 500, floor: { length_mm: 3500, width_mm: 3000 }")
}

/// The keys of the example in section 10 of the model.
#[test]
fn it_has_the_keys_of_the_model() {
    let value = serde_json::to_value(answer(JARS)).unwrap();
    for pointer in [
        "/format",
        "/status",
        "/footprint/length_m",
        "/footprint/width_m",
        "/footprint/area_m2",
        "/proven_bound_m2",
        "/gap",
        "/price",
        "/circuits/0/id",
        "/circuits/0/form",
        "/circuits/0/modules_per_straight",
        "/circuits/0/loop_length_m",
        "/circuits/0/carriers",
        "/circuits/0/acceleration_share",
        "/circuits/0/stations/0/id",
        "/circuits/0/stations/0/mode",
        "/circuits/0/stations/0/heads",
        "/circuits/0/stations/0/zone_m",
        "/circuits/0/stations/0/start_m",
        "/circuits/0/stations/0/straight",
        "/circuits/0/stations/0/stands",
        "/circuits/0/stations/0/skus/0/id",
        "/circuits/0/stations/0/skus/0/batch",
        "/circuits/0/stations/0/skus/0/cycle_s",
        "/circuits/0/stations/0/skus/0/capacity_per_min",
        "/circuits/0/sections/0/from",
        "/circuits/0/sections/0/to",
        "/circuits/0/sections/0/length_m",
        "/circuits/0/sections/0/curve_m",
        "/circuits/0/sections/0/skus/0/id",
        "/circuits/0/sections/0/skus/0/slots",
        "/circuits/0/sections/0/skus/0/lag_s",
        "/circuits/0/sections/0/skus/0/longest_s",
        "/circuits/0/skus/0/id",
        "/circuits/0/skus/0/design_rate_per_min",
        "/circuits/0/skus/0/rate_per_min",
        "/circuits/0/skus/0/limited_by/kind",
        "/circuits/0/skus/0/motor_rms_n",
    ] {
        assert!(value.pointer(pointer).is_some_and(|v| !v.is_null()), "{pointer}");
    }
    assert_eq!(value["format"], 1);
    assert_eq!(value["status"], "planned");
    assert_eq!(value["name"], "Jar trays");
}

#[test]
fn the_same_document_gives_the_same_bytes_and_reads_back() {
    let (one, two) = (answer(JARS), answer(JARS));
    let text = serde_json::to_string_pretty(&one).unwrap();
    assert_eq!(text, serde_json::to_string_pretty(&two).unwrap());
    assert_eq!(serde_json::from_str::<PlanDocument>(&text).unwrap(), one);
}

#[test]
fn lengths_add_up_to_the_loop_and_the_order_is_that_of_travel() {
    for (text, plane) in [(JARS.to_owned(), PlannedPlane::Flat), (upright(), PlannedPlane::Upright)] {
        let planned = planned(&text);
        let [circuit] = &planned.circuits[..] else { panic!() };
        assert_eq!(circuit.plane, plane);
        let ids: Vec<&str> = circuit.stations.iter().map(|s| &*s.id).collect();
        assert_eq!(ids, ["set", "lid", "out"]);
        for (i, section) in circuit.sections.iter().enumerate() {
            assert_eq!((&*section.from, &*section.to), (ids[i], ids[(i + 1) % 3]));
        }
        let zones: f64 = circuit.stations.iter().map(|s| s.zone_m).sum();
        let sections: f64 = circuit.sections.iter().map(|s| s.length_m).sum();
        assert!((zones + sections - circuit.loop_length_m).abs() < 1e-6);
        assert!((2.0 * (circuit.straight_m + circuit.end_m) - circuit.loop_length_m).abs() < 1e-9);
        let curves: f64 = circuit.sections.iter().map(|s| s.curve_m).sum();
        assert!((curves - 2.0 * circuit.end_m).abs() < 1e-9);
        assert!(planned.gap >= 0.0 && planned.proven_bound_m2 <= planned.footprint.area_m2);
        let loads = circuit.module_loads.as_ref().unwrap();
        assert_eq!(loads.modules.len(), 2 * circuit.modules_per_straight as usize + 2);
    }
}

#[test]
fn what_limits_is_said_in_words() {
    let planned = planned(JARS);
    for sku in &planned.circuits[0].skus {
        assert!(sku.margin >= -1e-4 && !sku.limited_by.says.is_empty(), "{sku:#?}");
        assert!(sku.rate_per_min >= sku.design_rate_per_min * (1.0 - 1e-4));
        let exact = sku.rate_exact.carriers as f64 / sku.rate_exact.micros as f64 * 60e6;
        assert!((exact - sku.rate_per_min).abs() < 1e-9 * exact);
        assert_eq!(sku.paced_run_recurs, Some(true));
    }
}

/// Every kind of limit names what it is about.
#[test]
fn every_limit_has_words() {
    use loopwright_solver::study::{Clock, Outcome, study};
    use loopwright_solver::throughput::Limit;
    let document = document(JARS);
    let cancel = AtomicBool::new(false);
    let outcome = study(&document.cell, &Clock::new(Duration::from_secs(60), &cancel));
    let Outcome::Planned(found) = outcome else { panic!() };
    let numbers = found.plan.numbers(&document.cell).unwrap();
    let said = |limit: Limit| {
        let limited = limited::limited_by(&document.cell, &found.plan, &numbers, 0, &limit);
        serde_json::to_value(limited).unwrap()
    };
    let station = said(Limit::Station(1));
    assert_eq!((&station["kind"], &station["station"]), (&"station".into(), &"lid".into()));
    assert!(station["says"].as_str().unwrap().starts_with("lid: "), "{station}");
    let slots = said(Limit::Slots(2));
    assert_eq!((&slots["kind"], &slots["from"], &slots["to"]), (&"slots".into(), &"out".into(), &"set".into()));
    assert!(slots["says"].as_str().unwrap().ends_with("slots before set are too few for more"), "{slots}");
    let chain = said(Limit::Chain(vec![0, 1]));
    assert_eq!((&chain["kind"], &chain["stations"]), (&"chain".into(), &serde_json::json!(["lid", "out"])));
    assert_eq!(chain["says"], "slots before lid and out together are too few for more");
    for (limit, kind) in [
        (Limit::Carriers, "carriers"),
        (Limit::Holes, "holes"),
        (Limit::DoNotFit, "do_not_fit"),
        (Limit::Stuck, "stuck"),
    ] {
        assert_eq!(said(limit)["kind"], kind);
    }
}

/// No mass and no friction: nothing to compute duty from.
#[test]
fn without_masses_there_is_no_duty() {
    let text = JARS
        .replace("mass_kg: 2.2, ", "")
        .replace("mass_kg: 3.4, ", "")
        .replace("mass_kg: 2, ", "")
        .replace(", peak_force_n: 90, continuous_force_n: 28, friction_force_n: 3", "");
    let planned = planned(&text);
    assert!(planned.circuits[0].skus.iter().all(|s| s.motor_rms_n.is_none()));
    assert_eq!(planned.circuits[0].module_loads, None);
}

#[test]
fn a_conflict_points_into_the_document() {
    let text = crowded();
    let answer = answer(&text);
    let Answer::Impossible(impossible) = &answer.answer else { panic!("{answer:#?}") };
    assert!(impossible.conflict.minimal);
    let pointers: Vec<&str> = impossible.conflict.requirements.iter().map(|r| &*r.pointer).collect();
    assert!(pointers.contains(&"/requirements/floor"), "{pointers:?}");
    let document = document(&text);
    for requirement in &impossible.conflict.requirements {
        assert_eq!(document.value_at(&requirement.pointer), Some(requirement.value.clone()));
    }
    assert!(impossible.reasons.iter().any(|r| r.contains("without the limit of the floor")), "{impossible:#?}");
    assert_eq!(PlanAnswer::Answer(Box::new(answer)).exit(), 1);
}

#[test]
fn a_station_that_is_too_slow_is_named() {
    let text = JARS.replace("base_s: 0.8, per_extra_s: 0.1, max_batch: 3", "base_s: 8, per_extra_s: 3, max_batch: 2");
    let answer = answer(&text);
    let Answer::Impossible(impossible) = &answer.answer else { panic!("{answer:#?}") };
    assert!(impossible.reasons.iter().any(|r| r.starts_with("station out: the best option")), "{impossible:#?}");
    let [requirement] = &impossible.conflict.requirements[..] else { panic!("{impossible:#?}") };
    assert!(requirement.pointer.starts_with("/skus/") && requirement.pointer.contains("/net_rate/"), "{requirement:?}");
}

/// Every kind of requirement, where it is stated, has a pointer that leads to its value.
#[test]
fn every_requirement_has_its_place() {
    let text = crowded()
        .replace("ride_through_s: 2, max_s: 8", "ride_through_s: 2, max_s: 8, min_s: 0.5, min_length_mm: 100")
        .replace("since: taken_in, max_s: 25", "since: taken_in, max_s: 25, min_s: 1")
        + "\nchangeover: { limit_min: 12, keep_limit: true }\n";
    let column = "floor: { length_mm: 3500, width_mm: 3000 }, keep_out: [ { name: pillar, x_mm: 0, y_mm: 20, length_mm: 300, width_mm: 250 } ]";
    let text = text.replace("floor: { length_mm: 3500, width_mm: 3000 }", column);
    let document = document(&text);
    let mut seen = BTreeSet::new();
    for requirement in loopwright_solver::explain::requirements(&document.cell) {
        let told = conflict::told(&document, requirement);
        assert_eq!(document.value_at(&told.pointer), Some(told.value.clone()), "{told:?}");
        assert!(!told.says.is_empty());
        assert!(seen.insert(told.pointer.clone()), "{} twice", told.pointer);
    }
    assert_eq!(seen.len(), 15, "{seen:?}");
}

#[test]
fn what_is_not_given_has_its_default() {
    let document = document(&JARS.replace("max_modules: 18, ", ""));
    let told = conflict::told(&document, loopwright_solver::explain::Requirement::MaxModules);
    assert_eq!((&*told.pointer, told.value), ("/circuits/0/track/max_modules", Value::from(40)));
}

#[test]
fn stopped_at_once_or_cancelled() {
    let document = document(JARS);
    for (limit, cancelled) in [(Duration::ZERO, false), (Duration::MAX, true)] {
        let answer = plan_document(&document, limit, &AtomicBool::new(cancelled));
        let PlanAnswer::Answer(plan) = &answer else { panic!("{answer:#?}") };
        let Answer::Stopped(stopped) = &plan.answer else { panic!("{plan:#?}") };
        assert!(stopped.proven_bound_m2 >= 0.0);
        assert_eq!((answer.exit(), answer.code()), (0, Some(Code::NotProven)));
        assert_eq!(serde_json::to_value(plan).unwrap()["status"], "stopped");
    }
}

/// A customer who reserves just the printed floor still gets the plan.
#[test]
fn the_printed_floor_is_enough() {
    let free = planned(JARS);
    let (length, width) = (up_to_mm(free.footprint.length_m) * 1e3, up_to_mm(free.footprint.width_m) * 1e3);
    let asked = format!("requirements: {{ floor: {{ length_mm: {length:.0}, width_mm: {width:.0} }}");
    let text = JARS.replacen("requirements: {", &format!("{asked},"), 1);
    assert_ne!(text, JARS);
    assert!((planned(&text).footprint.area_m2 - free.footprint.area_m2).abs() < 1e-9);
}

#[derive(Default)]
struct Heard(std::sync::Mutex<Vec<Progress>>);

impl Watch for Heard {
    fn progress(&self, progress: &Progress) {
        self.0.lock().unwrap().push(*progress);
    }
}

#[test]
fn progress_closes_in_on_the_plan() {
    let heard = Heard::default();
    let limit = Duration::from_secs(60);
    let answer = plan_document_watched(&document(JARS), limit, &AtomicBool::new(false), &heard);
    let PlanAnswer::Answer(plan) = answer else { panic!() };
    let Answer::Planned(planned) = plan.answer else { panic!() };
    let heard = heard.0.into_inner().unwrap();
    assert!(heard.len() > 2, "{heard:?}");
    for pair in heard.windows(2) {
        assert!(pair[0].bound <= pair[1].bound && pair[0].effort.programs <= pair[1].effort.programs, "{pair:?}");
        let (Some(before), Some(after)) = (pair[0].best, pair[1].best) else { continue };
        assert!(after.0 <= before.0, "{pair:?}");
    }
    let last = heard.last().unwrap();
    let (area, carriers) = last.best.unwrap();
    assert!(last.bound <= area);
    assert!((area.m2() - planned.footprint.area_m2).abs() < 1e-6, "{area:?} {}", planned.footprint.area_m2);
    let total: u32 = planned.circuits.iter().map(|circuit| circuit.carriers).sum();
    assert_eq!(carriers, total);
}

#[test]
fn a_fault_of_our_own() {
    let breach = Breach { rule: loopwright_solver::rules::Rule::Rate, says: "too slow".into() };
    let answer = PlanAnswer::Fault(Box::new(broken("Jar trays", &[breach])));
    assert_eq!(answer.exit(), 70);
    let PlanAnswer::Fault(finding) = answer else { panic!() };
    assert!(finding.message.contains("Jar trays") && finding.message.contains("rate: too slow"), "{finding}");
    assert!(finding.what_to_do.contains("report"), "{finding}");
}

/// One name, one schema: the cell document's and the plan document's types meet in one API document.
#[test]
fn schemas_have_names_of_their_own() {
    use utoipa::ToSchema;
    let mut cell = Vec::new();
    crate::wire::cell::CellDocument::schemas(&mut cell);
    let mut plan = vec![(PlanDocument::name().into_owned(), <PlanDocument as utoipa::PartialSchema>::schema())];
    PlanDocument::schemas(&mut plan);
    crate::wire::judgement::Judgement::schemas(&mut plan);
    crate::wire::findings::FindingsDocument::schemas(&mut plan);
    let names = |list: &[(String, _)]| list.iter().map(|s| s.0.clone()).collect::<BTreeSet<_>>();
    let (cell, plan) = (names(&cell), names(&plan));
    assert!(plan.len() > 20 && cell.len() > 10);
    assert!(cell.is_disjoint(&plan), "{:?}", cell.intersection(&plan).collect::<Vec<_>>());
}
