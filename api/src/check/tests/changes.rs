//! What the door lets in and refuses of changing over.

use super::*;
use loopwright_solver::adjust::{At, CountsFrom, Setting, Way};

const TEA: &str = include_str!("../../../../examples/short-changes.yaml");
const POUCHES: &str = include_str!("../../../../examples/pouch-changes.yaml");

/// `changeover` of a document, and the one finding that it makes.
const CHANGEOVERS: &[(Code, &str, &str)] = &[
    (Code::OutOfRange, "{ operators: 0 }", "/changeover/operators"),
    (Code::NotWhole, "{ operators: 1.5 }", "/changeover/operators"),
    (Code::OutOfRange, "{ limit_min: 0 }", "/changeover/limit_min"),
    (Code::UnknownKey, "{ limit_mins: 5 }", "/changeover/limit_mins"),
    (Code::UnknownChoice, "{ counts_from: first }", "/changeover/counts_from"),
    (Code::WrongType, "{ moves_wait: 1 }", "/changeover/moves_wait"),
    (Code::MissingKey, "{ week: {} }", "/changeover/week"),
    (Code::LimitsCross, "{ week: { planned_min: 10, breaks_min: 10 } }", "/changeover/week/breaks_min"),
    (Code::UnknownChoice, "{ week: { planned_min: 10, order: round } }", "/changeover/week/order"),
    (Code::UnknownChoice, "{ week: { planned_min: 10, changes: within } }", "/changeover/week/changes"),
    (Code::KeysClash, "{ week: { planned_min: 10, changes: inside } }", "/changeover/week"),
    // Two lots of five minutes leave nothing of ten.
    (Code::OutOfRange, "{ limit_min: 5, week: { planned_min: 10, changes: inside } }", "/changeover/week/planned_min"),
];

/// `adjustments` of the second station, and the one finding that they make.
const ADJUSTMENTS: &[(Code, &str, &str)] = &[
    (Code::OneOf, "[{ id: a, follows: id, automatic: {}, by_hand: [{ id: x }] }]", "/0"),
    (Code::DuplicateId, "[{ id: a, follows: id, automatic: {} }, { id: a, follows: id, automatic: {} }]", "/1/id"),
    (Code::DuplicateId, "[{ id: a, follows: id, by_hand: [{ id: x }, { id: x }] }]", "/0/by_hand/1/id"),
    (
        Code::KeysClash,
        "[{ id: a, follows: id, by_hand: [{ id: x }, { id: y, stop: outside, after: [x] }, { id: z, after: [y] }] }]",
        "/0/by_hand/1/stop",
    ),
    (
        Code::Circular,
        "[{ id: a, follows: id, by_hand: [{ id: x, after: [lid/b/y] }] }, { id: b, follows: id, by_hand: [{ id: y, after: [lid/a/x] }] }]",
        "/0/by_hand/0/after",
    ),
    (Code::OutOfRange, "[{ id: a, follows: id, by_hand: [{ id: x, minutes: -1 }] }]", "/0/by_hand/0/minutes"),
    (Code::UnknownChoice, "[{ id: a, follows: id, by_hand: [{ id: x, stop: beside }] }]", "/0/by_hand/0/stop"),
    (Code::UnknownChoice, "[{ id: a, mode: both, follows: id, automatic: {} }]", "/0/mode"),
    (Code::OutOfRange, "[{ id: a, follows: extent_mm, automatic: { speed_mm_s: 0 } }]", "/0/automatic/speed_mm_s"),
    (Code::OutOfRange, "[{ id: a, follows: extent_mm, tolerance_mm: -1, automatic: {} }]", "/0/tolerance_mm"),
    (Code::MissingKey, "[{ follows: id, automatic: {} }]", "/0"),
];

#[test]
fn each_fault_of_changing_over_is_one_finding() {
    for &(code, asked, pointer) in CHANGEOVERS {
        let text = changed("name: Jars in trays", &format!("name: Jars in trays\nchangeover: {asked}"));
        assert_eq!(codes(&text), [(code, pointer.to_owned())], "{asked}\n{:#?}", findings(&text));
    }
    let order = json_of(JARS)["stations"][1]["id"].clone();
    for &(code, asked, pointer) in ADJUSTMENTS {
        let asked = asked.replace("lid/", &format!("{}/", order.as_str().unwrap()));
        let to = format!("    intermittent: {{ base_s: 1.2 }}\n    adjustments: {asked}");
        let text = changed("    intermittent: { base_s: 1.2 }", &to);
        let expected = format!("/stations/1/adjustments{pointer}");
        assert_eq!(codes(&text), [(code, expected)], "{asked}\n{:#?}", findings(&text));
    }
    // A circuit works in no mode.
    let circuit = "max_carriers: 30\n    adjustments: [{ id: a, mode: continuous, follows: id, automatic: {} }]";
    assert_eq!(
        codes(&changed("max_carriers: 30", circuit)),
        [(Code::UnknownKey, "/circuits/0/adjustments/0/mode".to_owned())]
    );
    // A measure that one SKU does not give.
    let some = POUCHES.replacen("measures_mm: { rail_mm: 210 }", "measures_mm: {}", 1);
    assert_eq!(codes(&some), [(Code::MissingKey, "/skus/1".to_owned())]);
}

#[test]
fn changing_over_in_si() {
    let document = read_cell(TEA.as_bytes()).unwrap();
    let changes = &document.cell.parts().changes;
    assert_eq!((changes.operators, changes.limit.unwrap().s()), (2, 600.0));
    assert_eq!((changes.counts_from, changes.moves_wait), (CountsFrom::LastCase, false));
    let ids: Vec<&str> = changes.adjustments.iter().map(|a| a.id.as_str()).collect();
    assert_eq!(ids, ["mandrel", "grippers", "height", "pattern", "guides", "folders"]);
    assert_eq!(changes.adjustments[1].at, At::Station(1));
    let Way::ByHand(steps) = &changes.adjustments[1].way else { panic!() };
    // Steps are numbered over all adjustments: three of the mandrel come before.
    assert_eq!((steps[1].time.s(), steps[1].each.s(), steps[1].after.as_slice()), (90.0, 96.0, &[3][..]));
    assert_eq!((steps[2].people, steps[0].outside, steps[1].outside), (2, true, false));
    let guides = &changes.adjustments[4];
    assert!((guides.tolerance.mm() - 1.0).abs() < 1e-12);
    let Way::Automatic { base, seconds_per_m } = guides.way else { panic!() };
    assert!((base.s() - 2.0).abs() < 1e-12 && (seconds_per_m - 1000.0 / 12.0).abs() < 1e-9);
    let Setting::Measure(first) = guides.settings[0] else { panic!() };
    assert!((first.mm() - 140.0).abs() < 1e-9);
    // The same bags are one group, and SKUs are all apart.
    assert!(changes.adjustments[1].travel(0, 2).is_none() && changes.adjustments[1].travel(0, 3).is_some());
    assert!((0..8).all(|i| (0..8).all(|j| (i == j) == changes.adjustments[3].travel(i, j).is_none())));
    // Nothing asked: one person, no limit.
    let plain = read_cell(JARS.as_bytes()).unwrap();
    let plain = &plain.cell.parts().changes;
    assert_eq!((plain.operators, plain.limit, plain.adjustments.len()), (1, None, 0));
}

/// Three changes of 12 minutes in 480 minutes leave .925, and .920 after 30 minutes of breaks (common practice, no source;
/// recomputed). Outside the planned time they leave all of it.
#[test]
fn efficiency_follows_the_switch() {
    let with = |changes: &str, breaks: u32| {
        let mut cell = json_of(POUCHES);
        cell["changeover"]["limit_min"] = 12.into();
        cell["changeover"]["week"] =
            serde_json::json!({ "planned_min": 480, "breaks_min": breaks, "changes": changes, "order": "cyclic" });
        for k in 0..6 {
            cell["skus"][k]["week"] = serde_json::json!({ "lots": u32::from(k < 3) });
        }
        let document = read_cell(cell.to_string().as_bytes()).unwrap();
        document.cell.parts().requirements.efficiency
    };
    assert!((with("inside", 0) - 0.9 * 0.925).abs() < 1e-12);
    assert!((with("inside", 30) - 0.9 * 0.920).abs() < 1e-12);
    assert!((with("outside", 30) - 0.9).abs() < 1e-12);
}
