//! Changes, causes and fronts. What is planned is checked in `tests/it/alternatives.rs` of the program.

use super::edit::{apply, changed, parse_change, places, worded};
use super::levers::levers;
use super::sweep::front;
use super::usual::usual;
use super::{Doing, Nobody, compare};
use crate::check::Document;
use crate::codes::Code;
use crate::testing::Random;
use crate::wire::alternatives::{Change, Ended, Short, SweepPoint, Variant};
use crate::wire::plan::PlannedFootprint;
use crate::wire::simulation::SimulationRun;
use serde_json::json;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

const CELL: &str = "
format: 1
name: Bars
skus:
  - { id: A, net_rate: { cases_per_min: 20 } }
  - { id: B/2, net_rate: { products_per_min: 90 }, products_per_stack: 3 }
circuits:
  - id: ring
    carries: case
    carrier: { length_mm: 150, max_speed_m_s: 2, max_accel_m_s2: 8 }
    track: { module_mm: 400, width_mm: 300, forms: [ { id: f, plane: flat, radius_mm: 300 }, { id: u, plane: upright, radius_mm: 300 } ] }
    max_carriers: 20
    order: [in, out]
segments:
  - { from: in, to: out, max_s: 9 }
  - { from: out, to: in, loaded: false }
stations:
  - id: in
    side: front
    intermittent: { base_s: 1.0, max_batch: 2 }
    continuous: { process_s: 1.0, max_batch: 2 }
    per_sku: { A: { base_s: 1.5 } }
  - { id: out, intermittent: { base_s: 0.8 } }
";

fn cell() -> Document {
    crate::read_cell(CELL.as_bytes()).unwrap()
}

fn change(text: &str) -> Change {
    parse_change(text).unwrap()
}

#[test]
fn changes_reach_what_they_name() {
    let cases = [
        ("stations/in/intermittent/base_s=2.5", "/stations/0/intermittent/base_s", json!(2.5)),
        ("/stations/0/intermittent/base_s*2", "/stations/0/intermittent/base_s", json!(2.0)),
        ("rate*1.5", "/skus/0/net_rate/cases_per_min", json!(30.0)),
        ("rate*1.5", "/skus/1/net_rate/products_per_min", json!(135.0)),
        ("skus/B~12/net_rate/products_per_min=60", "/skus/1/net_rate/products_per_min", json!(60.0)),
        ("segments/in/max_s+1", "/segments/0/max_s", json!(10.0)),
        ("segments/*/min_s=1", "/segments/1/min_s", json!(1.0)),
        ("circuits/ring/max_carriers+2", "/circuits/0/max_carriers", json!(22)),
        ("circuits/ring/max_carriers=", "/circuits/0/max_carriers", json!(null)),
        ("circuits/ring/track/forms/f=", "/circuits/0/track/forms/0/id", json!("u")),
        ("stations/in/fixed/mode=continuous", "/stations/0/fixed/mode", json!("continuous")),
        ("requirements/floor={\"length_mm\": 9000, \"width_mm\": 5000}", "/requirements/floor/width_mm", json!(5000.0)),
    ];
    for (text, pointer, expected) in cases {
        let document = changed(&cell(), &[change(text)]).unwrap_or_else(|f| panic!("{text}: {f:?}"));
        let value = serde_json::to_value(&document.wire).unwrap();
        assert_eq!(value.pointer(pointer).cloned().unwrap_or_default(), expected, "{text}");
    }
    // Nothing else has changed: the way there and back gives the same cell.
    assert_eq!(changed(&cell(), &[]).unwrap().cell, cell().cell);
    let there = [change("rate*2"), change("rate*0.5")];
    assert_eq!(changed(&cell(), &there).unwrap().cell, cell().cell);
}

#[test]
fn changes_that_lead_nowhere_are_told() {
    for text in ["stations/lid/depth_mm=3", "stations/7/depth_mm=3", "name/first=3", "stations/in/depth=*3", "=3"] {
        let found = parse_change(text).map(|c| changed(&cell(), &[c]));
        match found {
            Ok(Err(findings)) => assert!(findings.iter().all(crate::Finding::is_error), "{text}"),
            Err(_) => {}
            Ok(Ok(_)) => panic!("{text} was taken"),
        }
    }
    let code = |text: &str| changed(&cell(), &[change(text)]).unwrap_err()[0].code;
    assert_eq!(code("stations/lid/depth_mm=3"), Code::BadChange);
    assert_eq!(code("stations/in/frame_length_mm*2"), Code::BadChange);
    assert_eq!(code("stations/in/colour=3"), Code::UnknownKey);
    assert_eq!(code("stations/in/depth_mm=-3"), Code::OutOfRange);
    for text in ["", "rate", "rate*fast", "rate+"] {
        assert!(parse_change(text).is_err(), "{text}");
    }
    let two = Change { at: "rate".to_owned(), times: Some(1.0), plus: Some(1.0), ..Change::default() };
    assert!(apply(&mut json!({"skus": []}), &two).is_err());
}

#[test]
fn a_change_is_worded_as_it_is_read() {
    for text in ["rate*1.1", "a/b=3", "a/b=\"x\"", "a/*/b+2", "a/b="] {
        assert_eq!(worded(&change(text)), text);
    }
    let all = places(&json!({"a": [{"id": "x"}, {"id": "y"}]}), "a/*/n").unwrap();
    assert_eq!(all, [["a", "0", "n"], ["a", "1", "n"]]);
}

#[test]
fn the_usual_variants_are_those_that_can_be() {
    let document = cell();
    let names: Vec<String> = usual(&document, None).into_iter().map(|v| v.name).collect();
    assert_eq!(names, ["all intermittent", "all continuous", "only form f", "only form u"]);
    for variant in usual(&document, None) {
        assert!(changed(&document, &variant.changes).is_ok(), "{}", variant.name);
    }
    let one = changed(&document, &[change("stations/in/continuous="), change("circuits/ring/track/forms/u=")]).unwrap();
    assert!(usual(&one, None).is_empty());
}

#[test]
fn every_lever_makes_a_document() {
    let document = cell();
    let all = levers(&document, 0.1);
    for lever in &all {
        let moved = changed(&document, &lever.changes).unwrap_or_else(|f| panic!("{}: {f:?}", lever.says));
        assert_ne!(moved.cell, document.cell, "{}", lever.says);
    }
    let times = all.iter().find(|l| l.says == "in: time for a standing batch -10 %").unwrap();
    let places: Vec<&str> = times.changes.iter().map(|c| c.at.as_str()).collect();
    assert_eq!(places, ["stations/0/intermittent/base_s", "stations/0/per_sku/A/base_s"]);
    assert!(all.iter().any(|l| l.says == "in: on either side"));
}

fn point(area: f64, carriers: u32, price: f64) -> SweepPoint {
    let plan = Short {
        status: Ended::Planned,
        footprint: Some(PlannedFootprint { length_m: area, width_m: 1.0, area_m2: area }),
        proven_bound_m2: None,
        proven: true,
        loop_length_m: None,
        form: None,
        modules_per_straight: None,
        carriers: Some(carriers),
        price: Some(price),
        stations: Vec::new(),
        skus: Vec::new(),
        reasons: Vec::new(),
    };
    SweepPoint { value: 1.0, second: None, plan }
}

/// Against the definition, written out: on the front stands who is beaten by nobody; of equals the first.
#[test]
fn the_front_is_that_of_enumeration() {
    let mut random = Random(7);
    for _ in 0..500 {
        let n = 1 + random.below(30);
        let triples: Vec<(usize, usize, usize)> =
            (0..n).map(|_| (random.below(5), random.below(5), random.below(5))).collect();
        #[allow(clippy::cast_precision_loss, clippy::cast_possible_truncation)]
        let points: Vec<SweepPoint> = triples.iter().map(|t| point(t.0 as f64 + 1.0, t.1 as u32, t.2 as f64)).collect();
        let mut expected = Vec::new();
        for (i, t) in triples.iter().enumerate() {
            let better = |o: &(usize, usize, usize)| o.0 <= t.0 && o.1 <= t.1 && o.2 <= t.2 && o != t;
            if !triples.iter().any(better) && !triples[..i].contains(t) {
                expected.push(i);
            }
        }
        let found: Vec<usize> = front(&points).iter().map(|f| f.point as usize).collect();
        assert_eq!(found, expected, "{triples:?}");
    }
}

/// The same seed gives the same numbers on one thread and on several, also where a plan is alone and has all threads for itself.
#[test]
fn threads_do_not_count() {
    let document = crate::read_cell(include_bytes!("../../../examples/short-changes.yaml")).unwrap();
    let often = change("stations/open/failures/mean_time_between_s*0.3");
    let variants = [Variant { name: "often".to_owned(), changes: vec![often] }];
    let sku = Some("green-20".to_owned());
    let short = SimulationRun { hours: 0.5, least_replications: 6, most_replications: 6, ..SimulationRun::default() };
    let (never, listener) = (AtomicBool::new(false), Nobody);
    let on = |threads: usize, own: &[Variant], run: &SimulationRun| {
        let doing = Doing::new(Duration::from_secs(300), &never, &listener).on(threads);
        serde_json::to_value(compare(&document, own, false, Some(run), &doing).unwrap()).unwrap()
    };
    let one = on(1, &variants, &short);
    assert_eq!((&one, &one), (&on(2, &variants, &short), &on(3, &variants, &short)));
    let alone = SimulationRun { sku, ..short.clone() };
    assert_eq!(on(1, &[], &alone), on(4, &[], &alone));
    // Another seed is other luck, so that equal numbers say something.
    let other = on(2, &variants, &SimulationRun { seed: 2, ..short });
    let mean = |of: &serde_json::Value| of["variants"][1]["simulated"]["skus"][0]["efficiency"]["mean"].clone();
    assert_ne!(mean(&one), mean(&other));
}
