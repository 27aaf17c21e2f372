//! Infeed and discharge side of a cell, and its hand.

use loopwright_api::draw::{Drawable, Titles, plan_svg};
use loopwright_api::wire::plan::{Answer, PlanDocument, Planned, PlannedHand, PlannedSide, PlannedStraight};
use loopwright_api::{Document, PlanAnswer, judge, plan_document, read_any_cell};
use std::collections::BTreeMap;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

const SIDES: [&str; 4] = ["front", "back", "left", "right"];
const HANDS: [&str; 2] = ["left_to_right", "right_to_left"];

fn example(name: &str) -> String {
    std::fs::read_to_string(format!("{}/examples/{name}.yaml", env!("CARGO_MANIFEST_DIR"))).unwrap()
}

fn answer(document: &Document) -> PlanDocument {
    match plan_document(document, Duration::from_secs(60), &AtomicBool::new(false)) {
        PlanAnswer::Answer(plan) => *plan,
        PlanAnswer::Fault(finding) => panic!("{finding:?}"),
    }
}

fn planned(text: &str) -> Option<Planned> {
    match answer(&read_any_cell(text.as_bytes()).unwrap()).answer {
        Answer::Planned(plan) => Some(*plan),
        Answer::Impossible(_) => None,
        Answer::Stopped(_) => panic!("stopped: {text}"),
    }
}

/// The example of packs, with these keys among its requirements. Its erector may stand anywhere.
fn asking(keys: &str) -> String {
    let text = example("stream-of-packs").replace("    side: back\n", "").replace("    side: front\n", "");
    text.replace("{ clearance_mm: 600 }", &format!("{{ clearance_mm: 600{keys} }}"))
}

/// The stations of a side of the loop from left to right, seen from the front: read off the plan document alone.
fn row(plan: &Planned, stands: PlannedSide) -> Vec<String> {
    let circuit = &plan.circuits[0];
    let mut row: Vec<_> = circuit.stations.iter().filter(|s| s.stands == stands).collect();
    row.sort_by(|a, b| a.start_m.total_cmp(&b.start_m));
    let rightward = (row.first().is_none_or(|s| s.straight != PlannedStraight::Back)) != plan.is_mirrored();
    if !rightward {
        row.reverse();
    }
    row.into_iter().map(|s| s.id.clone()).collect()
}

fn is_open(plan: &Planned, station: &str, side: &str) -> bool {
    let (front, back) = (row(plan, PlannedSide::Front), row(plan, PlannedSide::Back));
    let own = if front.iter().any(|id| id == station) { &front } else { &back };
    match side {
        "front" => std::ptr::eq(own, &front),
        "back" => std::ptr::eq(own, &back),
        "left" => own.first().is_some_and(|id| id == station),
        _ => own.last().is_some_and(|id| id == station),
    }
}

/// All pairs of sides with and without a hand: what is planned is open as asked, no wish makes the floor less, what does not ask
/// for a hand has the better of both, and mirroring sides and hand together changes nothing but the hand.
#[test]
fn every_pair_of_sides() {
    let free = planned(&asking("")).unwrap();
    assert_eq!(free.hand, None);
    // Infinite where no layout has both.
    let mut areas: BTreeMap<(usize, usize, Option<usize>), f64> = BTreeMap::new();
    for (i, infeed) in SIDES.iter().enumerate() {
        for (d, discharge) in SIDES.iter().enumerate() {
            for hand in [None, Some(0), Some(1)] {
                let mut keys = format!(
                    ", infeed: {{ station: stack-in, side: {infeed} }}, discharge: {{ station: push-off, side: {discharge} }}"
                );
                keys += &hand.map_or_else(String::new, |h: usize| format!(", hand: {}", HANDS[h]));
                let Some(plan) = planned(&asking(&keys)) else {
                    areas.insert((i, d, hand), f64::INFINITY);
                    continue;
                };
                assert!(plan.proof.footprint.proven, "{keys}");
                assert!(is_open(&plan, "stack-in", infeed) && is_open(&plan, "push-off", discharge), "{keys}");
                let told = if plan.hand == Some(PlannedHand::LeftToRight) { 0 } else { 1 };
                assert!(plan.hand.is_some() && hand.is_none_or(|hand| hand == told), "{keys}");
                assert!(plan.footprint.area_m2 >= free.footprint.area_m2 - 1e-9, "{keys}");
                areas.insert((i, d, hand), plan.footprint.area_m2);
            }
        }
    }
    let near = |a: f64, b: f64| a == b || (a - b).abs() < 1e-9;
    let mirrored = |side: usize| [0, 1, 3, 2][side];
    for (&(i, d, hand), &area) in &areas {
        match hand {
            None => assert!(near(area, areas[&(i, d, Some(0))].min(areas[&(i, d, Some(1))])), "{i} {d}"),
            Some(hand) => assert!(near(area, areas[&(mirrored(i), mirrored(d), Some(1 - hand))]), "{i} {d} {hand}"),
        }
    }
    // Every plan has both stations at the front or at the back: one of these four costs nothing.
    let least = (0..4).map(|n| areas[&(n / 2, n % 2, None)]).fold(f64::INFINITY, f64::min);
    assert!(near(least, free.footprint.area_m2));
    assert!(
        areas.values().any(|&area| area.is_finite() && area > free.footprint.area_m2 + 0.1),
        "no wish costs anything"
    );
    // Between the two stands the erector, which cannot be on both sides of each: not both at the same end.
    let never: Vec<_> = areas.iter().filter(|(_, area)| area.is_infinite()).map(|(&(i, d, _), _)| (i, d)).collect();
    assert!(!never.is_empty() && never.iter().all(|&(i, d)| i > 1 && d > 1), "{never:?}");
}

/// Stations that must stand elsewhere, or wishes that no layout has: the conflict names what is needed for it, and no more.
#[test]
fn a_conflict_names_the_sides() {
    let pointers = |text: &str| -> Vec<String> {
        let Answer::Impossible(of) = answer(&read_any_cell(text.as_bytes()).unwrap()).answer else { panic!("{text}") };
        assert!(of.conflict.minimal);
        of.conflict.requirements.into_iter().map(|r| r.pointer).collect()
    };
    let text = example("stream-of-packs");
    let asked = |keys: &str| text.replace("{ clearance_mm: 600 }", &format!("{{ clearance_mm: 600{keys} }}"));
    assert_eq!(
        pointers(&asked(", infeed: { station: erect, side: front }")),
        ["/stations/0/side", "/requirements/infeed"]
    );
    // On an upright loop all stations stand on one straight: with all of them at the front, the two ends are two stations.
    let upright = text
        .replace("plane: flat", "plane: upright")
        .replace("    side: back\n", "    side: front\n")
        .replace("max_modules: 18", "max_modules: 30");
    let upright = ["fold", "tape", "push-off"].iter().fold(upright, |text, id| {
        text.replace(&format!("  - id: {id}\n"), &format!("  - id: {id}\n    side: front\n"))
    });
    let both = upright.replace(
        "{ clearance_mm: 600 }",
        "{ infeed: { station: erect, side: left }, discharge: { station: push-off, side: left } }",
    );
    let found = pointers(&both);
    assert!(found.contains(&"/requirements/infeed".to_owned()), "{found:?}");
    assert!(found.contains(&"/requirements/discharge".to_owned()), "{found:?}");
    assert!(planned(&both.replace("discharge: { station: push-off, side: left }", "hand: right_to_left")).is_none());
    let right = both.replace("push-off, side: left", "push-off, side: right");
    assert_eq!(planned(&right).unwrap().hand, Some(PlannedHand::LeftToRight));
    // Carriers come back to the erector below, so that it is the first on top: the hand is needed too.
    let turned = right.replace("side: right }", "side: right }, hand: right_to_left");
    let found = pointers(&turned);
    assert!(found.contains(&"/requirements/hand".to_owned()), "{found:?}");
}

/// On an upright loop a station in the middle is open to an end when it alone stands on its side.
#[test]
fn an_upright_loop_opens_by_its_sides() {
    let text = example("stream-of-packs")
        .replace("plane: flat", "plane: upright")
        .replace("    side: back\n", "")
        .replace("    side: front\n", "");
    let asked = text.replace(
        "{ clearance_mm: 600 }",
        "{ infeed: { station: erect, side: left }, discharge: { station: tape, side: left }, hand: left_to_right }",
    );
    let plan = planned(&asked).unwrap();
    assert!(is_open(&plan, "erect", "left") && is_open(&plan, "tape", "left"));
    assert!(plan.proof.footprint.proven);
}

/// A plan of the wrong hand, or that says another one, does not hold.
#[test]
fn the_hand_is_judged() {
    let text = example("left-hand-twin");
    let document = read_any_cell(text.as_bytes()).unwrap();
    let plan = serde_json::to_value(answer(&document)).unwrap();
    let lines = |document: &Document, plan: &serde_json::Value| {
        judge(document, plan.to_string().as_bytes()).unwrap().lines.into_iter().map(|l| l.rule).collect::<Vec<_>>()
    };
    assert_eq!(lines(&document, &plan), Vec::<String>::new());
    let mut said = plan.clone();
    said["hand"] = "left_to_right".into();
    assert_eq!(lines(&document, &said), ["claim"]);
    let other = read_any_cell(text.replace("hand: right_to_left", "hand: left_to_right").as_bytes()).unwrap();
    let found = lines(&other, &plan);
    assert_eq!(found.iter().filter(|rule| *rule == "stands").count(), 2, "{found:?}");
    // Without a hand the plan is as good: the hand follows from where its stations stand.
    let open = read_any_cell(text.replace("  hand: right_to_left\n", "").as_bytes()).unwrap();
    assert_eq!(lines(&open, &plan), Vec::<String>::new());
    said["hand"] = "right_to_left".into();
    assert_eq!(lines(&open, &said), Vec::<String>::new());
    said["hand"] = "left_to_right".into();
    assert_eq!(lines(&open, &said), ["claim"]);
}

/// Left ends of everything with this class in a drawing, and its widths.
fn spans(svg: &str, class: &str) -> Vec<(f64, f64)> {
    let number = |tag: &str, key: &str| -> f64 {
        let from = tag.find(&format!(" {key}=\"")).unwrap() + key.len() + 3;
        tag[from..].split('"').next().unwrap().parse().unwrap()
    };
    // What stands in the legend has no sizes of its own.
    let tags = svg.split("<rect").map(|tag| tag.split('>').next().unwrap());
    let tags = tags.filter(|tag| tag.contains(&format!("class=\"{class}")) && tag.contains(" data-"));
    tags.map(|tag| (number(tag, "x"), number(tag, "width"))).collect()
}

fn drawn(text: &str) -> String {
    let document = read_any_cell(text.as_bytes()).unwrap();
    let plan = answer(&document);
    let of = Drawable::new(&document.wire, &plan).unwrap();
    plan_svg(&of, &of.planned.circuits[0], 0, &Titles::default(), "")
}

/// A mirrored cell is drawn as the mirror image: what stood on the left stands on the right, and carriers travel the other way.
#[test]
fn a_mirrored_cell_is_drawn_mirrored() {
    let text = asking("");
    let (one, other) = (drawn(&text), drawn(&asking(", hand: right_to_left")));
    for class in ["lw-frame\"", "lw-zone ", "lw-clearance"] {
        let class = class.trim_end_matches('"');
        let (a, b) = (spans(&one, class), spans(&other, class));
        assert_eq!(a.len(), b.len());
        let cell = spans(&one, "lw-clearance")[0];
        for (p, q) in a.iter().zip(&b) {
            assert!((p.0 + p.1 - (2.0 * cell.0 + cell.1 - q.0)).abs() < 2e-3, "{class}: {p:?} and {q:?}");
        }
        assert!(!a.is_empty(), "{class}");
    }
    let path = |svg: &str| {
        svg.split("class=\"lw-path\" data-circuit").nth(1).unwrap().split(" d=\"").nth(1).unwrap()[..60].to_owned()
    };
    let sweeps = |svg: &str| (path(svg).contains(" 0 0 0 "), path(svg).contains(" 0 0 1 "));
    assert_eq!((sweeps(&one), sweeps(&other)), ((true, false), (false, true)));
    assert!(!one.contains("Mirrored") && other.contains("Mirrored"));
    let twin = drawn(&example("left-hand-twin"));
    assert!(twin.contains("id=\"infeed\"") && twin.contains("id=\"discharge\""));
    assert!(twin.contains(">Infeed<") && twin.contains(">Discharge<"));
}

/// Among several circuits: the whole is mirrored, hand-offs are open to no side, and another loop closes a side.
#[test]
fn several_circuits_open_to_their_sides() {
    let base = example("two-loops");
    let asked = |keys: &str| base.replace("clearance_mm: 500,", &format!("clearance_mm: 500, {keys},"));
    let free = planned(&base).unwrap();
    let mut areas = Vec::new();
    for (hand, [near, far]) in HANDS.into_iter().zip([["left", "right"], ["right", "left"]]) {
        let keys = format!(
            "infeed: {{ station: stack, side: {near} }}, discharge: {{ station: push-off, side: {far} }}, hand: {hand}"
        );
        let plan = planned(&asked(&keys)).unwrap();
        areas.push(plan.footprint.area_m2);
        assert!(plan.footprint.area_m2 >= free.footprint.area_m2 - 1e-9);
        for (circuit, id, side) in [(0, "stack", near), (1, "push-off", far)] {
            let of = Planned { circuits: vec![plan.circuits[circuit].clone()], ..plan.clone() };
            assert!(is_open(&of, id, side), "{hand}: {id}");
        }
        assert_eq!(plan.is_mirrored(), hand == "right_to_left");
    }
    assert!((areas[0] - areas[1]).abs() < 1e-9, "{areas:?}");
    // Asked for both at one end, the planner finds a hand that has both, or shows that there is none.
    let both = planned(&asked("infeed: { station: stack, side: left }, discharge: { station: push-off, side: left }"));
    let open = |plan: &Planned, circuit: usize, id: &str| {
        is_open(&Planned { circuits: vec![plan.circuits[circuit].clone()], ..plan.clone() }, id, "left")
    };
    assert!(both.is_none_or(|plan| open(&plan, 0, "stack") && open(&plan, 1, "push-off")));
    let refused = |keys: &str| {
        let found = read_any_cell(asked(keys).as_bytes()).unwrap_err();
        assert_eq!(found.len(), 1, "{found:?}");
        (found[0].code.name(), found[0].pointer.clone())
    };
    assert_eq!(
        refused("infeed: { station: load, side: left }"),
        ("LW-SIDE-CLOSED", "/requirements/infeed/station".to_owned())
    );
    assert_eq!(
        refused("discharge: { station: push-off, side: front }"),
        ("LW-SIDE-CLOSED", "/requirements/discharge/side".to_owned())
    );
}
