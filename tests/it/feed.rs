//! The product stream of a cell, from document to plan: its floor in the footprint, on every side; its flow; what it costs.

use loopwright_api::{
    Document, PlanAnswer, judge, plan_document, read_any_cell, wire::judgement::JudgementStatus, wire::plan::Answer,
    wire::plan::PlanDocument, wire::plan::Planned, wire::plan::PlannedFeed,
};
use std::sync::atomic::AtomicBool;
use std::time::Duration;

fn example(name: &str) -> String {
    std::fs::read_to_string(format!("{}/examples/{name}.yaml", env!("CARGO_MANIFEST_DIR"))).unwrap()
}

fn read(text: &str) -> Document {
    read_any_cell(text.as_bytes()).unwrap_or_else(|findings| panic!("{findings:#?}\n{text}"))
}

fn document(of: &Document) -> PlanDocument {
    match plan_document(of, Duration::from_secs(120), &AtomicBool::new(false)) {
        PlanAnswer::Answer(plan) => *plan,
        PlanAnswer::Fault(finding) => panic!("{finding:?}"),
    }
}

fn planned(of: &PlanDocument) -> Planned {
    let Answer::Planned(plan) = &of.answer else { panic!("no plan: {of:#?}") };
    (**plan).clone()
}

/// W and H with a feed at its side, from those without (model section 9c).
fn with_feed(own: (f64, f64), feed: &PlannedFeed, clearance: f64) -> (f64, f64) {
    use loopwright_api::wire::plan::PlannedCellSide::{Back, Front, Left, Right};
    match feed.side {
        Left | Right => (own.0 + feed.length_m, own.1.max(feed.width_m + 2.0 * clearance)),
        Front | Back => (own.0.max(feed.length_m + 2.0 * clearance), own.1 + feed.width_m),
    }
}

fn near(a: f64, b: f64) {
    assert!((a - b).abs() < 1e-9, "{a} is not {b}");
}

/// On every side, along and across: the footprint is that of section 6 with the feed; no larger than the least cell without a
/// feed and the feed beside it; the plan holds; and one whose footprint leaves the feed out does not.
#[test]
fn its_floor_counts_on_every_side() {
    let text = example("packs-on-belts");
    let floor = ", floor: { length_mm: 11000, width_mm: 5200 }";
    assert!(text.contains(floor));
    let text = text.replace(floor, "");
    let alone = text.split("\nfeed:\n").next().unwrap().to_owned() + "\n";
    let least = planned(&document(&read(&alone)));
    assert!(least.feed.is_none());
    for side in ["left", "right", "front", "back"] {
        for (runs, width) in [("along", 900), ("across", 900), ("along", 5000), ("across", 6500)] {
            let feed = format!("side: {side}\n  runs: {runs}");
            let text = text.replace("side: left", &feed).replace("width_mm: 900", &format!("width_mm: {width}"));
            let cell = read(&text);
            let plan = document(&cell);
            let p = planned(&plan);
            assert!(p.proof.footprint.proven, "{side} {runs}");
            let feed = p.feed.as_ref().unwrap();
            let c = &p.circuits[0];
            // Section 6, from the document's own numbers.
            let clearance = p.asked.clearance_m;
            let w = c.straight_m + 2.0 * c.corner_reach_m + 2.0 * clearance;
            let deep = |side: &str| {
                let here = c.stations.iter().filter(|s| format!("{:?}", s.stands).to_lowercase() == side);
                here.map(|s| s.depth_m).fold(0.0, f64::max)
            };
            let outer = c.radius_m + c.track_width_m / 2.0;
            let h = (outer + deep("front")).max(c.corner_reach_m)
                + (outer + deep("back")).max(c.corner_reach_m)
                + c.cross_m
                + 2.0 * clearance;
            let whole = with_feed((w, h), feed, clearance);
            near(p.footprint.length_m, whole.0);
            near(p.footprint.width_m, whole.1);
            let beside = with_feed((least.footprint.length_m, least.footprint.width_m), feed, clearance);
            assert!(p.footprint.area_m2 <= beside.0 * beside.1 + 1e-9, "{side} {runs}: {} m2", p.footprint.area_m2);
            let json = serde_json::to_vec(&plan).unwrap();
            assert_eq!(judge(&cell, &json).unwrap().status, JudgementStatus::Holds, "{side} {runs}");
            let mut spoiled = p.clone();
            spoiled.footprint.length_m = w;
            spoiled.footprint.width_m = h;
            let spoiled = PlanDocument { answer: Answer::Planned(Box::new(spoiled)), ..plan.clone() };
            let judged = judge(&cell, &serde_json::to_vec(&spoiled).unwrap()).unwrap();
            assert!(judged.lines.iter().any(|l| l.pointer.starts_with("/footprint")), "{side} {runs}");
        }
    }
}

/// Products = stacks x products a stack = cases x stacks a case x products a stack, in the document too; and its judge sees a
/// number that was moved.
#[test]
fn its_flow_is_conserved_and_judged() {
    let cell = read(&example("packs-on-belts"));
    let plan = document(&cell);
    let feed = planned(&plan).feed.unwrap();
    for (sku, (asked, stacks)) in feed.skus.iter().zip(cell.wire.skus.iter().zip([26.7, 13.3, 10.7])) {
        let high = f64::from(asked.products_per_stack);
        near(sku.products_per_min, sku.stacks_per_min * high);
        near(sku.products_per_min, sku.cases_per_min * f64::from(asked.stacks_per_case) * high);
        near(sku.products_per_min, 160.0);
        assert!((sku.stacks_per_min - stacks).abs() < 0.05, "{sku:?}");
        near(sku.surplus_per_min.unwrap(), (160.0 - sku.taken_products_per_min).max(0.0));
    }
    let mut value = serde_json::to_value(&plan).unwrap();
    value["feed"]["belts"][1]["skus"][0]["speed_m_s"] = serde_json::json!(0.6);
    let judged = judge(&cell, &serde_json::to_vec(&value).unwrap()).unwrap();
    assert_eq!(judged.lines.len(), 1);
    assert_eq!(judged.lines[0].pointer, "/feed/belts/1/skus/0/speed_m_s");
}

/// A floor that holds the cell but not its feed is in the way.
#[test]
fn a_floor_that_is_too_small_for_it() {
    let text = example("packs-on-belts").replace("length_mm: 11000, width_mm: 5200", "length_mm: 5000, width_mm: 4500");
    let Answer::Impossible(no) = document(&read(&text)).answer else { panic!("a plan on too small a floor") };
    assert!(no.conflict.requirements.iter().any(|r| r.pointer == "/requirements/floor"), "{no:#?}");
    let alone = text.split("\nfeed:\n").next().unwrap().to_owned() + "\n";
    planned(&document(&read(&alone)));
}

/// Beside two loops as beside one.
#[test]
fn beside_two_loops() {
    let text = example("two-loops");
    let own = planned(&document(&read(&text)));
    let station = own.circuits[0].stations[0].id.clone();
    for side in ["right", "back"] {
        let feed = format!(
            "\nfeed:\n  into: {station}\n  side: {side}\n  width_mm: 800\n  products: {{ length_mm: 100 }}\n  belts: [ {{ id: a, length_mm: 1500 }} ]\n"
        );
        let cell = read(&(text.clone() + &feed));
        let plan = document(&cell);
        let p = planned(&plan);
        let feed = p.feed.as_ref().unwrap();
        let beside = with_feed((own.footprint.length_m, own.footprint.width_m), feed, p.asked.clearance_m);
        assert!(p.footprint.area_m2 <= beside.0 * beside.1 + 1e-6, "{side}");
        assert!(p.footprint.area_m2 > own.footprint.area_m2, "{side}");
        let judged = judge(&cell, &serde_json::to_vec(&plan).unwrap()).unwrap();
        assert_eq!(judged.status, JudgementStatus::Holds, "{side}: {:#?}", judged.lines);
    }
}
