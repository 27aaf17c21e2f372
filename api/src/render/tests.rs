//! Printed pages of every answer.

use super::*;
use crate::show::tests::{JARS, answer, crowded, upright};
use crate::wire::plan::{Answer, PlanDocument, SearchEffort, Stopped};
use table::width;

fn printed(document: &PlanDocument) -> String {
    let text = plan_text(document);
    for line in text.lines() {
        assert!(width(line) <= COLUMNS, "{line}");
        assert_eq!(line.trim_end(), line);
    }
    text
}

#[test]
fn a_plan_in_print() {
    let text = printed(&answer(JARS));
    for part in [
        "Jar trays: plan\n",
        "No plan has less floor: proven.",
        "Stations, in travel order",
        "back: travel to the left",
        "Times across stations",
        "Limited by",
        "ISO 12100",
        "IEC 61800-5-2",
        "B155.1",
        "1910.147",
        "pacemakers",
    ] {
        assert!(text.contains(part), "{part}\n{text}");
    }
    assert!(printed(&answer(&upright())).contains("on top"));
}

#[test]
fn a_gap_is_not_called_proven() {
    let mut document = answer(JARS);
    let Answer::Planned(planned) = &mut document.answer else { panic!() };
    planned.proof.footprint.proven = false;
    planned.proof.carriers.proven = false;
    planned.proof.price.proven = false;
    planned.proven_bound_m2 = planned.footprint.area_m2 * 0.9;
    planned.gap = 0.1;
    let text = printed(&document);
    assert!(text.contains("The gap is 10.00 %"), "{text}");
    assert!(!text.contains("No plan has less floor: proven."), "{text}");
}

#[test]
fn no_plan_in_print() {
    let text = printed(&answer(&crowded()));
    assert!(text.contains("no plan is possible") && text.contains("/requirements/floor"), "{text}");
    let stopped = Stopped { proven_bound_m2: 12.5, effort: SearchEffort::default() };
    let text = printed(&PlanDocument { format: 1, name: "x".repeat(300), answer: Answer::Stopped(stopped) });
    assert!(text.contains("at least 12.50 m²"), "{text}");
}

/// Many SKUs and long names stay legible.
#[test]
fn long_names_and_fifty_skus() {
    let mut document = answer(JARS);
    let Answer::Planned(planned) = &mut document.answer else { panic!() };
    let circuit = &mut planned.circuits[0];
    let sku = circuit.skus[0].clone();
    circuit.skus = (0..50)
        .map(|i| crate::wire::plan::PlannedSku { id: format!("pattern-{i:02}-{}", "x".repeat(40)), ..sku.clone() })
        .collect();
    for station in &mut circuit.stations {
        station.id = format!("{}-{}", station.id, "y".repeat(60));
    }
    let text = printed(&document);
    assert!((0..50).all(|i| text.contains(&format!("pattern-{i:02}-"))), "{text}");
}
