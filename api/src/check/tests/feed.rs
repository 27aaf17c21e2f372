//! The product stream at the door.

use super::*;
use loopwright_solver::track::CellSide;

/// A stream for the jars: J4 asks for 28 products a minute at its design rate, J8 for 186.67.
const FEED: &str = "\
feed:
  into: fill
  side: left
  runs: across
  width_mm: 700
  products: { length_mm: 90, gap_mm: 10, per_sku: { J8: { length_mm: 80, gap_mm: 15, delivered_per_min: 180 } } }
  belts: [ { id: metering, max_speed_m_s: 1 }, { id: gapping, gap_mm: 45, max_speed_m_s: 1.2, length_mm: 150 } ]
  needed_gap_mm: 40
  stacking: { lanes: 2, buffer_products: 3, lane_products_per_min: 400, push_out_s: 0.4, length_mm: 500 }
";

/// One change to the stream, and the one finding that it makes.
pub(super) const CASES: &[(Code, &str, &str, &str)] = &[
    (
        Code::FeedShort,
        "delivered_per_min: 180",
        "delivered_per_min: 150",
        "/feed/products/per_sku/J8/delivered_per_min",
    ),
    (Code::FeedOver, "delivered_per_min: 180", "delivered_per_min: 190", "/feed/products/per_sku/J8/delivered_per_min"),
    (Code::BeltSpeed, "max_speed_m_s: 1.2", "max_speed_m_s: 0.38", "/feed/belts/1/max_speed_m_s"),
    (Code::BeltShort, "length_mm: 150", "length_mm: 134", "/feed/belts/1/length_mm"),
    (Code::FeedGap, "needed_gap_mm: 40", "needed_gap_mm: 46", "/feed/needed_gap_mm"),
    (Code::LanesShort, "push_out_s: 0.4", "push_out_s: 2.5", "/feed/stacking/lanes"),
    (
        Code::BufferShort,
        "lanes: 2, buffer_products: 3",
        "lanes: 1, buffer_products: 1",
        "/feed/stacking/buffer_products",
    ),
    (Code::KeysClash, "lanes: 2", "lanes: 2, max_lanes: 3", "/feed/stacking/max_lanes"),
    (Code::UnknownId, "into: fill", "into: fil", "/feed/into"),
    (Code::UnknownId, "per_sku: { J8", "per_sku: { J9", "/feed/products/per_sku/J9"),
    (Code::DuplicateId, "id: gapping", "id: metering", "/feed/belts/1/id"),
    (Code::UnknownChoice, "side: left", "side: above", "/feed/side"),
    (Code::UnknownChoice, "runs: across", "runs: round", "/feed/runs"),
    (Code::MissingKey, "  side: left\n", "", "/feed"),
    (Code::OutOfRange, "lanes: 2", "lanes: 65", "/feed/stacking/lanes"),
    (Code::UnknownKey, "width_mm: 700", "width_mm: 700\n  depth_mm: 9", "/feed/depth_mm"),
];

fn with(from: &str, to: &str) -> String {
    assert_eq!(FEED.matches(from).count(), 1, "`{from}` must be there once");
    format!("{JARS}{}", FEED.replace(from, to))
}

#[test]
fn each_change_of_the_stream_makes_its_one_finding() {
    for &(code, from, to, pointer) in CASES {
        let text = with(from, to);
        assert_eq!(codes(&text), [(code, pointer.to_owned())], "{from} -> {to}\n{:#?}", findings(&text));
        for finding in findings(&text) {
            assert!(finding.line.is_some(), "{finding}");
            assert_eq!(finding.is_error(), read_cell(text.as_bytes()).is_err(), "{finding}");
        }
    }
    let spare = format!(
        "{JARS}  - {{ id: spare, intermittent: {{ base_s: 1 }} }}\n{}",
        FEED.replace("into: fill", "into: spare")
    );
    assert!(codes(&spare).contains(&(Code::UnknownId, "/feed/into".to_owned())), "{:#?}", findings(&spare));
}

/// What is said has both numbers in it.
#[test]
fn both_numbers_are_said() {
    let says = |from: &str, to: &str| findings(&with(from, to)).remove(0).message;
    let belt = says("max_speed_m_s: 1.2", "max_speed_m_s: 0.38");
    assert!(belt.contains("0.3889 m/s") && belt.contains("0.38 m/s") && belt.contains("J8"), "{belt}");
    let lanes = says("push_out_s: 0.4", "push_out_s: 2.5");
    assert!(lanes.contains("needs 3 lanes") && lanes.contains("there are 2"), "{lanes}");
    let short = says("delivered_per_min: 180", "delivered_per_min: 150");
    assert!(short.contains("150.0000") && short.contains("160.0000"), "{short}");
}

/// 160 packs a minute stacked six high, one stack a case, are 26.7 cases a minute: more than a cell limited to 24 can take, and
/// fewer stacks of twelve or fifteen (common practice, no source).
#[test]
fn more_comes_than_a_cell_takes() {
    for (high, limit, over) in
        [(6, 24.0, true), (12, 13.0, true), (15, 10.0, true), (12, 160.0 / 12.0, false), (8, 20.0, false)]
    {
        let text = JARS
            .replace("efficiency: 0.9", "efficiency: 1")
            .replace("headroom: 1.05", "headroom: 1")
            .replace("net_rate: { products_per_min: 160 }", "net_rate: { cases_per_min: 1 }")
            .replace(
                "net_rate: { cases_per_min: 24 }",
                &format!("net_rate: {{ cases_per_min: {limit} }}\n    products_per_stack: {high}"),
            );
        let feed = "feed: { into: fill, side: left, width_mm: 700, belts: [{ id: a }], products: { length_mm: 140, per_sku: \
                    { J4: { delivered_per_min: 160 } } } }\n";
        let text = format!("{text}{feed}");
        let found = findings(&text);
        assert_eq!(found.iter().any(|f| f.code == Code::FeedOver), over, "{high} {limit} {found:#?}");
        if (high, over) == (6, true) {
            assert!(
                found.iter().any(|f| f.message.contains("26.6667 cases") && f.message.contains("takes 24.0000 cases")),
                "{found:#?}"
            );
        }
    }
}

#[test]
fn the_stream_in_si() {
    let document = read_cell(format!("{JARS}{FEED}").as_bytes()).unwrap();
    let feed = document.cell.parts().feed.as_ref().unwrap();
    assert_eq!((feed.side, feed.across, feed.into.as_str()), (CellSide::Left, true, "fill"));
    let flow = feed.flow(1, &document.cell.demands()[1].unwrap(), 2).unwrap();
    let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-9, "{a} is not {b}");
    near(flow.products.as_per_minute(), 160.0 * 1.05 / 0.9);
    near(flow.belts[0].speed.m_s(), 160.0 * 1.05 / 0.9 / 60.0 * 0.095);
    near(flow.belts[1].speed_up, 125.0 / 95.0);
    near(flow.lanes.unwrap().cycle.s(), 4.0 / (400.0 / 60.0) + 0.4);
    // The first belt is as long as J4 asks for with the gap that it comes with.
    near(feed.size().1.mm(), 100.0 + 150.0 + 500.0);
    let text = serde_json::to_string(&document.wire).unwrap();
    let again = read_cell(text.as_bytes()).unwrap();
    assert_eq!((again.wire, again.cell), (document.wire, document.cell));
}
