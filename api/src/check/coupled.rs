//! From the published document of several circuits, free of faults, to the engine's quantities.

use super::convert::{parts, report, travel, unusable_forms};
use super::sink::Sink;
use crate::codes::Code;
use crate::finding::Finding;
use crate::read::quoted;
use crate::wire::cell::CellDocument;
use loopwright_solver::coupled::{CircuitParts, CoupledCell, CoupledFault, CoupledParts, Joint, Stand};

/// The coupled cell, or none when its circuits cannot work together; that is reported.
pub(super) fn convert(document: &CellDocument, sink: &Sink<'_>) -> Option<CoupledCell> {
    if only_for_one(document, sink) {
        return None;
    }
    let circuit = |index: usize| {
        let above = document.circuits[index].above.as_ref();
        Some(CircuitParts {
            parts: parts(document, index)?,
            above: above.and_then(|id| document.circuits.iter().position(|c| c.id == *id)),
        })
    };
    let circuits: Option<Vec<CircuitParts>> = (0..document.circuits.len()).map(circuit).collect();
    let circuits = circuits?;
    let requirements = circuits.first()?.parts.requirements;
    let joints = joints(document);
    let parts = CoupledParts { name: document.name.clone(), requirements, circuits, joints: joints.clone() };
    match CoupledCell::new(parts) {
        Ok(cell) => {
            cell.cells().iter().enumerate().for_each(|(c, own)| unusable_forms(own, c, sink));
            Some(cell)
        }
        Err(faults) => {
            faults.iter().for_each(|fault| said(fault, document, &joints, sink));
            None
        }
    }
}

/// What is worked out for one circuit only is refused rather than left out without a word.
fn only_for_one(document: &CellDocument, sink: &Sink<'_>) -> bool {
    let mut found = false;
    let mut refuse = |pointer: String, what: &str| {
        found = true;
        let message = format!("{what} is worked out for one circuit only");
        let finding = Finding::new(Code::NotYet, pointer, message);
        sink.report(finding.advise("Leave it out here, and look at it in a document of each circuit by itself."));
    };
    if document.requirements.reach_net_rate.is_some() {
        refuse("/requirements/reach_net_rate".to_owned(), "simulation");
    }
    if document.changeover.is_some() {
        refuse("/changeover".to_owned(), "changing over");
    }
    for (index, circuit) in document.circuits.iter().enumerate() {
        if !circuit.adjustments.is_empty() {
            refuse(format!("/circuits/{index}/adjustments"), "changing over");
        }
    }
    for (index, station) in document.stations.iter().enumerate() {
        if !station.adjustments.is_empty() {
            refuse(format!("/stations/{index}/adjustments"), "changing over");
        }
    }
    found
}

/// Every station that is in the orders of two circuits, in travel order of the first.
fn joints(document: &CellDocument) -> Vec<Joint> {
    let mut all = Vec::new();
    for one in 0..document.circuits.len() {
        for (station, index) in travel(document, one).into_iter().enumerate() {
            for other in one + 1..document.circuits.len() {
                let there = travel(document, other).into_iter().position(|i| i == index);
                all.extend(there.map(|place| Joint {
                    first: Stand { circuit: one, station },
                    second: Stand { circuit: other, station: place },
                }));
            }
        }
    }
    all
}

fn said(fault: &CoupledFault, document: &CellDocument, joints: &[Joint], sink: &Sink<'_>) {
    let circuit = |c: usize| document.circuits.get(c).map_or("", |circuit| circuit.id.as_str());
    let station = |j: usize| {
        let stand = joints.get(j)?.first;
        travel(document, stand.circuit).get(stand.station).copied()
    };
    let name = |j: usize| station(j).map_or("", |s| document.stations[s].id.as_str());
    let finding = match fault {
        CoupledFault::Within(c, fault) => {
            report(std::slice::from_ref(fault), document, *c, sink);
            return;
        }
        CoupledFault::Joint(j) => {
            Finding::new(Code::OwnFault, "", format!("the hand-off {} does not fit", quoted(name(*j))))
        }
        CoupledFault::NotNeighbours(j) => {
            let both = joints.get(*j).map_or((0, 0), |joint| (joint.first.circuit, joint.second.circuit));
            let message = format!(
                "the station {} is on the circuits {} and {}, which lie neither beside nor over each other",
                quoted(name(*j)),
                quoted(circuit(both.0)),
                quoted(circuit(both.1))
            );
            let finding = Finding::new(Code::HandOff, format!("/circuits/{}", both.1), message);
            finding.advise("Circuits lie beside each other in the order of the document: give these two one after the other, or lay one `above` the other.")
        }
        CoupledFault::NotWhole { joint, circuit: c, sku } => {
            let id = document.skus.get(*sku).map_or("", |sku| sku.id.as_str());
            let message = format!(
                "SKU {}: one case takes no whole number of carriers of the circuit {} at the hand-off {}",
                quoted(id),
                quoted(circuit(*c)),
                quoted(name(*joint))
            );
            let finding = Finding::new(Code::HandOff, format!("/circuits/{c}/items_per_carrier"), message);
            finding.advise("Let `stacks_per_case` be a multiple of `items_per_carrier` on a circuit that carries stacks; a carrier of cases holds one at a hand-off.")
        }
        CoupledFault::Apart(c) => {
            let message = format!("no station links the circuit {} to those before it", quoted(circuit(*c)));
            Finding::new(Code::HandOff, format!("/circuits/{c}/order"), message)
        }
        CoupledFault::Above(c) => {
            let message = format!(
                "the circuit {} lies over one that lies over another itself, or over itself",
                quoted(circuit(*c))
            );
            Finding::new(Code::HandOff, format!("/circuits/{c}/above"), message)
        }
    };
    sink.report(finding);
}
