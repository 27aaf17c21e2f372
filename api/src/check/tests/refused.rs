//! Documents that are refused or warned of.

use super::*;
use crate::codes::TABLE;
use crate::testing::Random;

/// One change to the document, and the one finding that it makes.
const CASES: &[(Code, &str, &str, &str)] = &[
    (Code::KeysClash, "      movers_per_carrier: 2", "      pair: { play_mm: 8 }", "/circuits/0/carrier/pair"),
    (
        Code::Squeeze,
        "      peak_force_n: 70",
        "      peak_force_n: 70\n      pair: { squeeze_n: 69 }",
        "/skus/1/loads/trays",
    ),
    (
        Code::KeysClash,
        "  floor: { length_mm: 15000, width_mm: 6400 }",
        "  keep_out: [ { length_mm: 400, width_mm: 400 } ]",
        "/requirements/keep_out",
    ),
    (
        Code::OutOfRange,
        "  max_price: 640000.5",
        "  keep_out: [ { x_mm: 15000, length_mm: 400, width_mm: 400 } ]",
        "/requirements/keep_out/0/x_mm",
    ),
    (
        Code::Circular,
        "    intermittent: { base_s: 1.2 }",
        "    intermittent: { base_s: 1.2 }\n    adjustments: [{ id: a, follows: id, by_hand: [{ id: x, after: [x] }] }]",
        "/stations/1/adjustments/0/by_hand/0/after",
    ),
    (
        Code::UnknownId,
        "    intermittent: { base_s: 1.2 }",
        "    intermittent: { base_s: 1.2 }\n    adjustments: [{ id: a, follows: ix, automatic: {} }]",
        "/stations/1/adjustments/0/follows",
    ),
    (
        Code::UnknownId,
        "    intermittent: { base_s: 1.2 }",
        "    intermittent: { base_s: 1.2 }\n    adjustments: [{ id: a, follows: id, by_hand: [{ id: x, after: [y] }] }]",
        "/stations/1/adjustments/0/by_hand/0/after/0",
    ),
    (
        Code::OneOf,
        "    intermittent: { base_s: 1.2 }",
        "    intermittent: { base_s: 1.2 }\n    adjustments: [{ id: a, follows: id }]",
        "/stations/1/adjustments/0",
    ),
    (
        Code::OutOfRange,
        "    intermittent: { base_s: 1.2 }",
        "    intermittent: { base_s: 1.2 }\n    adjustments: [{ id: a, follows: id, by_hand: [{ id: x, people: 2 }] }]",
        "/stations/1/adjustments/0/by_hand/0/people",
    ),
    (
        Code::KeysClash,
        "    intermittent: { base_s: 1.2 }",
        "    intermittent: { base_s: 1.2 }\n    adjustments: [{ id: a, follows: id, automatic: { speed_mm_s: 5 } }]",
        "/stations/1/adjustments/0/automatic/speed_mm_s",
    ),
    (
        Code::KeysClash,
        "name: Jars in trays",
        "name: Jars in trays\nchangeover: { keep_limit: true }",
        "/changeover/keep_limit",
    ),
    (Code::UnknownKey, "gap_mm: 12", "gap_mn: 12", "/circuits/0/carrier/gap_mn"),
    (Code::UnknownKey, "name: Jars in trays", "name: Jars\ncolour/~: red", "/colour~1~0"),
    (
        Code::UnknownKey,
        "floor: { length_mm: 15000",
        "floor: { height_mm: 9, length_mm: 15000",
        "/requirements/floor/height_mm",
    ),
    (Code::DuplicateKey, "gap_mm: 12", "gap_mm: 12\n      gap_mm: 13", "/circuits/0/carrier/gap_mm"),
    (Code::MissingKey, "format: 1\n", "", ""),
    (Code::MissingKey, "name: Jars in trays", "name:", ""),
    (Code::MissingKey, "      length_mm: 180\n", "", "/circuits/0/carrier"),
    (Code::MissingKey, "net_rate: { products_per_min: 160 }", "net_rate: ~", "/skus/1"),
    (Code::MissingKey, "plane: flat, ", "", "/circuits/0/track/forms/0"),
    (Code::MissingKey, "{ base_s: 1.2 }", "{}", "/stations/1/intermittent"),
    (Code::MissingKey, "{ from: eject, ", "{ ", "/segments/1"),
    (Code::MissingKey, ", mean_time_to_repair_s: 120", "", "/stations/2/failures"),
    (
        Code::EfficiencyAbove,
        "mean_time_between_s: 5400, mean_time_to_repair_s: 120",
        "mean_time_between_s: 5400, mean_time_to_repair_s: 700",
        "/requirements/efficiency",
    ),
    (
        Code::EfficiencyHigh,
        "failures: { mean_time_between_s: 5400, mean_time_to_repair_s: 120 }\n  - id: fill\n",
        "failures: { mean_time_between_s: 5400, mean_time_to_repair_s: 400 }\n  - id: fill\n    short_stops: \
         { mean_time_between_s: 600, mean_time_to_repair_s: 40 }\n",
        "/requirements/efficiency",
    ),
    (
        Code::MissingKey,
        "mean_time_to_repair_s: 120",
        "mean_time_to_repair_s: 120, repair: { distribution: gamma }",
        "/stations/2/failures/repair",
    ),
    (
        Code::KeysClash,
        "mean_time_to_repair_s: 120",
        "mean_time_to_repair_s: 120, between: { distribution: exponential, variation: 0.5 }",
        "/stations/2/failures/between/variation",
    ),
    (
        Code::OutOfRange,
        "mean_time_to_repair_s: 120",
        "mean_time_to_repair_s: 120, repair: { distribution: uniform, variation: 0.6 }",
        "/stations/2/failures/repair/variation",
    ),
    (
        Code::UnknownChoice,
        "mean_time_to_repair_s: 120",
        "mean_time_to_repair_s: 120, counts: work",
        "/stations/2/failures/counts",
    ),
    (
        Code::KeysClash,
        "    intermittent: { base_s: 1.2 }",
        "    intermittent: { base_s: 1.2 }\n    supply: { over_net_rate: 1.2, outages: \
         { mean_time_between_s: 900, mean_time_to_repair_s: 30, counts: calendar } }",
        "/stations/1/supply/outages/counts",
    ),
    (
        Code::LimitsCross,
        "    intermittent: { base_s: 1.2 }",
        "    intermittent: { base_s: 1.2 }\n    supply: { over_net_rate: 1.2, surge: { factor: 2, every_s: 60, lasts_s: 60 } }",
        "/stations/1/supply/surge/lasts_s",
    ),
    (Code::WrongType, "efficiency: 0.9", "efficiency: '0.9'", "/requirements/efficiency"),
    (Code::WrongType, "efficiency: 0.9", "efficiency: 90 %", "/requirements/efficiency"),
    (Code::WrongType, "max_modules: 24", "max_modules: [24]", "/circuits/0/track/max_modules"),
    (Code::WrongType, "held: true", "held: yes", "/skus/1/loads/trays/held"),
    (Code::WrongType, "name: Jars in trays", "name: 2024", "/name"),
    (Code::WrongType, "- id: J4", "- id: 4", "/skus/0/id"),
    (Code::WrongType, "net_rate: { cases_per_min: 24 }", "net_rate: 24", "/skus/0/net_rate"),
    (Code::WrongType, "{ base_s: 1.2 }", "1.2", "/stations/1/intermittent"),
    (Code::WrongType, "plane: flat", "plane: 1", "/circuits/0/track/forms/0/plane"),
    (Code::WrongType, "[raise, fill, lid, bead, clamp, eject]", "raise", "/circuits/0/order"),
    (Code::WrongType, "[raise, fill,", "[raise, [fill],", "/circuits/0/order/1"),
    (Code::WrongType, "format: 1\n", "format: one\n", "/format"),
    (Code::UnknownChoice, "plane: flat", "plane: flta", "/circuits/0/track/forms/0/plane"),
    (Code::UnknownChoice, "carries: case", "carries: bottle", "/circuits/0/carries"),
    (Code::UnknownChoice, "side: front", "side: left", "/stations/2/side"),
    (Code::UnknownChoice, "since: taken_in", "since: taken", "/windows/1/since"),
    (Code::BadText, "name: Jars in trays", "name: '  '", "/name"),
    (Code::BadText, "name: Jars in trays", "name: \"a\\0b\"", "/name"),
    (Code::NotFinite, "mass_kg: 3.1", "mass_kg: .inf", "/circuits/0/carrier/mass_kg"),
    (Code::NotFinite, "mass_kg: 3.1", "mass_kg: .nan", "/circuits/0/carrier/mass_kg"),
    (Code::NotFinite, "mass_kg: 3.1", "mass_kg: 1e999", "/circuits/0/carrier/mass_kg"),
    (Code::NotFinite, "max_carriers: 30", "max_carriers: .inf", "/circuits/0/max_carriers"),
    (Code::NotWhole, "max_carriers: 30", "max_carriers: 30.5", "/circuits/0/max_carriers"),
    (Code::NotWhole, "stacks_per_case: 2", "stacks_per_case: 2.5", "/skus/1/stacks_per_case"),
    (Code::OutOfRange, "efficiency: 0.9", "efficiency: 0", "/requirements/efficiency"),
    (Code::OutOfRange, "efficiency: 0.9", "efficiency: 90", "/requirements/efficiency"),
    (Code::OutOfRange, "headroom: 1.05", "headroom: 0.95", "/requirements/headroom"),
    (Code::OutOfRange, "clearance_mm: 650", "clearance_mm: -1", "/requirements/clearance_mm"),
    (
        Code::OutOfRange,
        "footprint_tolerance_m2: 0.25",
        "footprint_tolerance_m2: -0.1",
        "/requirements/footprint_tolerance_m2",
    ),
    (Code::OutOfRange, "max_price: 640000.5", "max_price: -1", "/requirements/max_price"),
    (Code::NotFinite, "max_price: 640000.5", "max_price: .inf", "/requirements/max_price"),
    (Code::WrongType, "max_price: 640000.5", "max_price: much", "/requirements/max_price"),
    (Code::OutOfRange, "stability_factor: 0.5", "stability_factor: 1.5", "/skus/1/loads/trays/stability_factor"),
    (Code::OutOfRange, "cases_per_min: 24", "cases_per_min: 0", "/skus/0/net_rate/cases_per_min"),
    (Code::OutOfRange, "movers_per_carrier: 2", "movers_per_carrier: 3", "/circuits/0/carrier/movers_per_carrier"),
    (Code::OutOfRange, "max_modules: 24", "max_modules: 1001", "/circuits/0/track/max_modules"),
    (Code::OutOfRange, "max_modules: 24", "max_modules: -24", "/circuits/0/track/max_modules"),
    (Code::OutOfRange, "base_s: 1.4, max_batch: 4", "base_s: 1.4, max_batch: 65", "/stations/3/intermittent/max_batch"),
    (Code::OutOfRange, "process_s: 1.8", "process_s: 0", "/stations/3/continuous/process_s"),
    (Code::OutOfRange, "products_per_stack: 4", "products_per_stack: 0", "/skus/1/products_per_stack"),
    (Code::OutOfRange, "radius_mm: 450", "radius_mm: 0", "/circuits/0/track/forms/0/radius_mm"),
    (Code::OutOfRange, "length_mm: 180", "length_mm: 0.18", "/circuits/0/carrier/length_mm"),
    (Code::OutOfRange, "module_mm: 480", "module_mm: 1e9", "/circuits/0/track/module_mm"),
    (Code::OutOfRange, "max_speed_m_s: 1.8", "max_speed_m_s: 1800", "/circuits/0/carrier/max_speed_m_s"),
    (Code::UnsupportedFormat, "format: 1\n", "format: 2\n", "/format"),
    (Code::UnsupportedFormat, "format: 1\n", "format: 1.5\n", "/format"),
    (Code::EmptyList, "[raise, fill, lid, bead, clamp, eject]", "[]", "/circuits/0/order"),
    (Code::DuplicateId, "id: tall", "id: wide", "/circuits/0/track/forms/1/id"),
    (Code::UnknownId, "clamp, eject]", "clamp, eject, raize]", "/circuits/0/order/6"),
    (Code::UnknownId, "from: fill, to: lid", "from: fill, to: lidd", "/segments/0/to"),
    (Code::UnknownId, "from: bead, to: clamp", "from: beat, to: clamp", "/windows/0/from"),
    (Code::UnknownId, "J8: { process_length_mm: 520 }", "J9: { process_length_mm: 520 }", "/stations/5/per_sku/J9"),
    (Code::UnknownId, "trays: { extent_mm: 310,", "boxes: { extent_mm: 310,", "/skus/0/loads/boxes"),
    (Code::GivenTwice, "clamp, eject]", "clamp, eject, fill]", "/circuits/0/order/6"),
    (Code::NotNeighbours, "from: fill, to: lid", "from: fill, to: bead", "/segments/0"),
    (Code::NotNeighbours, "from: fill, to: lid", "from: lid, to: fill", "/segments/0"),
    (Code::LimitsCross, "min_s: 0.5, max_s: 9", "min_s: 9.5, max_s: 9", "/segments/0/max_s"),
    (Code::LimitsCross, "max_s: 5, min_s: 1", "max_s: 0.5, min_s: 1", "/windows/0/max_s"),
    (Code::OneOf, "{ cases_per_min: 24 }", "{}", "/skus/0/net_rate"),
    (Code::OneOf, "{ cases_per_min: 24 }", "{ cases_per_min: 24, products_per_min: 9 }", "/skus/0/net_rate"),
    (Code::OneOf, "process_s: 1.8, max", "max", "/stations/3/continuous"),
    (Code::OneOf, "process_s: 1.8", "process_s: 1.8, process_length_mm: 9", "/stations/3/continuous"),
    (Code::OneOf, ", max_s: 5, min_s: 1", "", "/windows/0"),
    (
        Code::KeysClash,
        "process_length_mm: 380",
        "process_length_mm: 380, return_s: 1",
        "/stations/5/continuous/return_s",
    ),
    (Code::KeysClash, "J8: { process_length_mm: 520 }", "J8: { base_s: 1 }", "/stations/5/per_sku/J8/base_s"),
    (Code::KeysClash, "J8: { process_length_mm: 520 }", "J8: { process_s: 1 }", "/stations/5/per_sku/J8/process_s"),
    (
        Code::KeysClash,
        "J4: { base_s: 1.7, ",
        "J4: { process_length_mm: 9, ",
        "/stations/3/per_sku/J4/process_length_mm",
    ),
    (Code::NoMode, "intermittent: { base_s: 1.2 }", "intermittent:", "/stations/1"),
    (
        Code::NoMode,
        "intermittent: { base_s: 1.2 }",
        "intermittent: { base_s: 1.2 }\n    fixed: { mode: continuous }",
        "/stations/1/fixed/mode",
    ),
    (
        Code::OutOfRange,
        "intermittent: { base_s: 1.2 }",
        "intermittent: { base_s: 1.2 }\n    fixed: { heads: 2 }",
        "/stations/1/fixed/heads",
    ),
    (Code::UnknownId, "max_carriers: 30", "max_carriers: 30\n    fixed: { form: tal }", "/circuits/0/fixed/form"),
    (
        Code::UnknownChoice,
        "intermittent: { base_s: 1.2 }",
        "intermittent: { base_s: 1.2 }\n    fixed: { mode: indexed }",
        "/stations/1/fixed/mode",
    ),
    (Code::ForceTooSmall, "friction_force_n: 5", "friction_force_n: 140", "/circuits/0/carrier/peak_force_n"),
    (Code::UnusableForm, "loaded: false", "loaded: true", "/circuits/0/track/forms/1"),
    // 140 N against 1000 kg on the way back.
    (Code::UnusableForm, "mass_kg: 3.1", "mass_kg: 1000", "/circuits/0/track/forms/1"),
    (
        Code::UnknownId,
        "max_price: 640000.5",
        "max_price: 640000.5\n  infeed: { station: fil, side: left }",
        "/requirements/infeed/station",
    ),
    (
        Code::UnknownChoice,
        "max_price: 640000.5",
        "max_price: 640000.5\n  discharge: { station: fill, side: top }",
        "/requirements/discharge/side",
    ),
    (
        Code::MissingKey,
        "max_price: 640000.5",
        "max_price: 640000.5\n  discharge: { station: fill }",
        "/requirements/discharge",
    ),
    (Code::UnknownChoice, "max_price: 640000.5", "max_price: 640000.5\n  hand: mirrored", "/requirements/hand"),
    (Code::Syntax, "headroom: 1.05", "headroom: 1.05 }: [", "/requirements"),
];

/// Documents for the codes that no small change makes.
fn others() -> Vec<(Code, String)> {
    let many =
        |n: usize| (0..n).map(|i| format!("  - {{ id: x{i}, intermittent: {{ base_s: 1 }} }}\n")).collect::<String>();
    let second = "circuits:\n  - { id: second, carries: case, carrier: { length_mm: 9, max_speed_m_s: 1, max_accel_m_s2: 1 }, \
                  track: { module_mm: 9, width_mm: 9, forms: [ { id: f, plane: flat, radius_mm: 9 } ] }, order: [spare] }\n";
    vec![
        (Code::TooLarge, format!("{JARS}# {}", "x".repeat(10_000_000))),
        (Code::NotText, JARS.replace("Jars", "Jars \u{7}")),
        (Code::TooDeep, format!("{JARS}x: {}", "[".repeat(100_000))),
        (Code::Reference, JARS.replace("id: J4", "id: &a J4")),
        (Code::SeveralDocuments, format!("{JARS}---\n{JARS}")),
        (Code::Empty, String::new()),
        (Code::TooMany, format!("{JARS}{}", many(200))),
        (Code::More, format!("{JARS}{}", (0..300).map(|i| format!("x{i}: 1\n")).collect::<String>())),
        (Code::UnusedStation, format!("{JARS}{}", many(1))),
        (
            Code::NotYet,
            JARS.replace("circuits:\n", &second.replace("order: [spare]", "order: [spare, lid]"))
                + "  - { id: spare, intermittent: { base_s: 1 } }\n",
        ),
        (
            Code::SideClosed,
            JARS.replace("circuits:\n", &second.replace("order: [spare]", "order: [spare, lid]"))
                .replace("max_price: 640000.5", "max_price: 640000.5\n  infeed: { station: lid, side: left }")
                + "  - { id: spare, intermittent: { base_s: 1 } }\n",
        ),
        (Code::HandOff, JARS.replace("circuits:\n", second) + "  - { id: spare, intermittent: { base_s: 1 } }\n"),
    ]
}

#[test]
fn each_change_makes_its_one_finding() {
    for &(code, from, to, pointer) in CASES {
        let text = changed(from, to);
        let found = codes(&text);
        if code == Code::Syntax {
            assert_eq!(found.len(), 1);
            assert_eq!(found[0].0, code);
            continue;
        }
        // Nothing else may follow from a fault.
        assert_eq!(found, [(code, pointer.to_owned())], "{from} -> {to}\n{:#?}", findings(&text));
        for finding in findings(&text) {
            let root = read(text.as_bytes()).unwrap().root;
            assert!(root.find(&finding.pointer).is_some(), "{finding}");
            assert!(finding.line.is_some() && finding.column.is_some(), "{finding}");
            assert_eq!(finding.is_error(), read_cell(text.as_bytes()).is_err(), "{finding}");
        }
    }
}

/// The same findings in JSON, but for what JSON cannot say.
#[test]
fn findings_in_json() {
    for &(code, from, to, _) in CASES {
        let text = changed(from, to);
        if matches!(code, Code::Syntax | Code::DuplicateKey | Code::NotFinite) {
            continue;
        }
        let json = serde_json::to_string_pretty(&json_of(&text)).unwrap();
        assert_eq!(codes(&json), codes(&text), "{from} -> {to}");
        for finding in findings(&json) {
            let line = json.lines().nth(finding.line.unwrap() as usize - 1).unwrap();
            assert!(line.chars().count() >= finding.column.unwrap() as usize, "{finding}\n{line}");
        }
    }
}

#[test]
fn every_document_code_has_a_document_that_raises_it() {
    let mut raised: Vec<Code> = CASES.iter().chain(super::feed::CASES).map(|case| case.0).collect();
    for (code, text) in others() {
        let found = codes(&text);
        assert!(found.iter().any(|f| f.0 == code), "{code}: {found:?}");
        assert!(findings(&text).iter().all(|f| !f.message.contains('\n') && f.message.len() < 400));
        raised.push(code);
    }
    for entry in TABLE.iter().filter(|entry| entry.kind.document) {
        assert!(raised.contains(&entry.code), "no document raises {}", entry.name);
    }
}

#[test]
fn all_findings_at_once_with_their_places() {
    let text = "format: 1
name: Many faults
requirements: { efficiency: 92 }
skus:
  - id: A
    net_rate: { case_per_min: 3 }
  - id: A
    net_rate: { cases_per_min: fast }
circuits:
  - id: loop
    carries: case
    carrier: { length_mm: 100, length_mm: 90, max_speed_m_s: 1 }
    track: { module_mm: 500, width_mm: 100, forms: [] }
    order: [work, wrok]
stations:
  - id: work
";
    let found: Vec<_> = findings(text).into_iter().map(|f| (f.code, f.pointer, f.line, f.column)).collect();
    let expected = [
        (Code::OutOfRange, "/requirements/efficiency", 3, 29),
        (Code::OneOf, "/skus/0/net_rate", 6, 15),
        (Code::UnknownKey, "/skus/0/net_rate/case_per_min", 6, 17),
        (Code::DuplicateId, "/skus/1/id", 7, 9),
        (Code::WrongType, "/skus/1/net_rate/cases_per_min", 8, 32),
        (Code::MissingKey, "/circuits/0/carrier", 12, 14),
        (Code::DuplicateKey, "/circuits/0/carrier/length_mm", 12, 32),
        (Code::EmptyList, "/circuits/0/track/forms", 13, 52),
        (Code::UnknownId, "/circuits/0/order/1", 14, 19),
        (Code::NoMode, "/stations/0", 16, 5),
    ];
    let expected: Vec<_> =
        expected.map(|(code, p, line, column)| (code, p.to_owned(), Some(line), Some(column))).into();
    assert_eq!(found, expected);
}

#[test]
fn advice_names_what_was_meant() {
    let advice = |from: &str, to: &str| findings(&changed(from, to)).remove(0).what_to_do;
    assert!(advice("gap_mm: 12", "gap: 12").contains("`gap_mm`"));
    assert!(advice("gap_mm: 12", "zzz: 12").contains("known here are `length_mm`"));
    assert!(advice("plane: flat", "plane: falt").contains("`flat`"));
    assert!(advice("from: bead, to: clamp", "from: bed, to: clamp").contains("`bead`"));
    assert!(advice("efficiency: 0.9", "efficiency: '0.9'").contains("without quotes"));
    assert!(advice("efficiency: 0.9", "efficiency: 0,9").contains("decimal point"));
    assert!(advice("- id: J4", "- id: 4").contains("quotes"));
    let force = findings(&changed("friction_force_n: 5", "friction_force_n: 150")).remove(0).message;
    assert!(force.contains("140 N") && force.contains("150 N") && force.contains("`J4` and 1 more"), "{force}");
}

/// A second circuit that no station links, and what one circuit alone can be asked.
#[test]
fn circuits_must_hang_together() {
    let apart = others().pop().unwrap().1;
    let any = |text: &str| {
        let found = crate::read_any_cell(text.as_bytes()).err().unwrap_or_default();
        found.into_iter().filter(|f| f.is_error()).map(|f| (f.code, f.pointer)).collect::<Vec<_>>()
    };
    assert_eq!(any(&apart), [(Code::HandOff, "/circuits/1/order".to_owned())]);
    let shared = apart.replace("order: [spare]", "order: [spare, lid]");
    assert_eq!(any(&shared), []);
    // What is about one circuit only says so, and is not planned as if the other were not there.
    assert_eq!(codes(&shared), [(Code::NotYet, "/circuits/1".to_owned())]);
    let fours = shared.replace(
        "carries: case, carrier: { length_mm: 9",
        "carries: case, items_per_carrier: 4, carrier: { length_mm: 9",
    );
    assert!(any(&fours).contains(&(Code::HandOff, "/circuits/0/items_per_carrier".to_owned())), "{:?}", any(&fours));
    let window = shared.replace("windows:\n", "windows:\n  - { from: spare, to: fill, max_s: 9 }\n");
    assert!(
        any(&window).iter().any(|(code, at)| *code == Code::HandOff && at.starts_with("/windows/")),
        "{:?}",
        any(&window)
    );
    let over_itself = shared.replace("{ id: second, carries: case,", "{ id: second, above: second, carries: case,");
    assert_eq!(any(&over_itself), [(Code::HandOff, "/circuits/0/above".to_owned())]);
}

#[test]
fn segment_given_twice() {
    let text = changed(
        "  - { from: eject, to: raise, loaded: false }",
        "  - { from: fill, to: lid }\n  - { from: eject, to: raise, loaded: false }",
    );
    assert_eq!(codes(&text), [(Code::GivenTwice, "/segments/1".to_owned())]);
}

#[test]
fn window_at_an_unused_station() {
    let text = changed("[raise, fill, lid, bead,", "[raise, fill, lid,");
    let found = codes(&text);
    assert!(found.contains(&(Code::UnknownId, "/windows/0/from".to_owned())), "{found:?}");
    assert!(found.contains(&(Code::UnusedStation, "/stations/5".to_owned())), "{found:?}");
}

/// Whatever the bytes are, the answer is a cell or findings, and never a panic.
#[test]
fn random_damage_never_panics() {
    let mut random = Random(11);
    let json = serde_json::to_string_pretty(&json_of(JARS)).unwrap();
    let bits = [
        "{", "}", "[", "]", ":", ",", "\"", "'", "\n", "\t", " ", "- ", "? ", "&a", "*a", "!t", "|", ">", "#", "%",
        "---\n", "\\u", "\\ud83d", "\u{feff}", "é", "1e9", "-", ".", "~", "null", "\r", "\0",
    ];
    let rounds: usize = std::env::var("LOOPWRIGHT_DAMAGE_ROUNDS").ok().and_then(|n| n.parse().ok()).unwrap_or(5000);
    let mut accepted = 0;
    for round in 0..rounds {
        let mut bytes = if round % 2 == 0 { JARS } else { &json }.as_bytes().to_vec();
        for _ in 0..=random.below(4) {
            let at = random.below(bytes.len());
            match random.below(5) {
                0 => bytes[at] = random.next() as u8,
                1 => drop(bytes.drain(at..(at + 1 + random.below(30)).min(bytes.len()))),
                2 => drop(bytes.splice(at..at, random.of(&bits).bytes())),
                3 => bytes.truncate(at.max(1)),
                _ => {
                    let from = random.below(bytes.len());
                    let piece = bytes[from..(from + 40).min(bytes.len())].to_vec();
                    drop(bytes.splice(at..at, piece));
                }
            }
            if bytes.is_empty() {
                bytes.push(b'x');
            }
        }
        match read_cell(&bytes) {
            Ok(_) => accepted += 1,
            Err(findings) => assert!(findings.iter().any(Finding::is_error)),
        }
    }
    assert!(accepted > 0 && accepted < rounds, "{accepted} of {rounds} were accepted");
}
