//! Opposed pairs: what their squeeze must be able to do, and what it then limits.

use super::*;

/// The document with a pair on its carriers, and the load that is held with this friction.
fn with(pair: &str, friction: &str) -> String {
    JARS.replace("      peak_force_n: 70", &format!("      peak_force_n: 70\n      pair: {pair}"))
        .replace("mass_kg: 3.6, held: true", &format!("mass_kg: 3.6, held: true{friction}"))
}

#[test]
fn a_squeeze_that_cannot_hold_is_refused() {
    let at = |pair: &str, friction: &str| codes(&with(pair, friction));
    let squeeze = |pointer: &str| vec![(Code::Squeeze, pointer.to_owned())];
    assert_eq!(at("{ squeeze_n: 40 }", ""), squeeze("/skus/1/loads/trays"));
    assert_eq!(at("{ squeeze_n: 70 }", ", friction: 0.4"), squeeze("/circuits/0/carrier/pair/squeeze_n"));
    // Movers of 180 mm round 420 mm: the paddles may stand up to 120 mm outwards of the middles.
    assert_eq!(at("{ squeeze_n: 40, paddle_offset_mm: 121 }", ", friction: 0.4"), squeeze("/skus/1/loads/trays"));
    assert_eq!(at("{ squeeze_n: 40, paddle_offset_mm: 120 }", ", friction: 0.4"), []);
    assert_eq!(at("{ paddle_offset_mm: 121 }", ""), []);
}

#[test]
fn a_pair_follows_its_load() {
    let text = with("{ play_mm: 15, paddle_offset_mm: -10, squeeze_n: 40 }", ", friction: 0.4");
    let document = read_cell(text.as_bytes()).unwrap();
    let rides = document.cell.rides();
    // 420 + 15 between the paddles, the middles 20 more, half a mover at each end, and the gap of 12.
    assert!((rides[1].pitch.m() - 0.647).abs() < 1e-12, "{:?}", rides[1].pitch);
    assert!((rides[0].pitch.m() - 0.537).abs() < 1e-12);
    assert!((rides[1].lateral - 2.0 * 0.4 * 40.0 / 3.6).abs() < 1e-12);
    assert!((document.cell.surroundings().longest.m() - 0.635).abs() < 1e-12);
    // What is read is what is written.
    let again = read_cell(serde_json::to_string(&document.wire).unwrap().as_bytes()).unwrap();
    assert_eq!(document.wire, again.wire);
}
