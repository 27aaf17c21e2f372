//! On which sides product comes in and leaves: from the tree to the published document, from there to the engine's quantities,
//! and what cannot be asked.

use super::decode::Object;
use crate::codes::Code;
use crate::finding::Finding;
use crate::read::quoted;
use crate::wire::cell::{CellDocument, Requirements};
use crate::wire::site::{CellSide, Hand, Opening};
use loopwright_solver::openings::{self, Openings};
use loopwright_solver::track;

/// The sides in words.
pub(super) const SIDES: &[(&str, CellSide)] =
    &[("front", CellSide::Front), ("back", CellSide::Back), ("left", CellSide::Left), ("right", CellSide::Right)];

/// The ways of travel in words.
pub(super) const HANDS: &[(&str, Hand)] = &[("left_to_right", Hand::LeftToRight), ("right_to_left", Hand::RightToLeft)];

pub(super) fn opening(mut o: Object<'_, '_>) -> Opening {
    let opening = Opening { station: o.text("station"), side: o.choice_needed("side", SIDES, CellSide::Front) };
    o.close();
    opening
}

/// The side of a cell as the engine has it.
pub(super) fn side(from: CellSide) -> track::CellSide {
    match from {
        CellSide::Front => track::CellSide::Front,
        CellSide::Back => track::CellSide::Back,
        CellSide::Left => track::CellSide::Left,
        CellSide::Right => track::CellSide::Right,
    }
}

/// What is asked of a circuit with this order.
pub(super) fn openings(from: &Requirements, order: &[String]) -> Openings {
    let of = |asked: &Option<Opening>| {
        let asked = asked.as_ref()?;
        let station = order.iter().position(|id| *id == asked.station)?;
        Some(openings::Opening { station, side: side(asked.side) })
    };
    Openings {
        infeed: of(&from.infeed),
        discharge: of(&from.discharge),
        hand: from.hand.map(|hand| match hand {
            Hand::LeftToRight => openings::Hand::LeftToRight,
            Hand::RightToLeft => openings::Hand::RightToLeft,
        }),
    }
}

/// Infeed and discharge with their keys, where they are asked.
pub(super) fn asked(document: &CellDocument) -> impl Iterator<Item = (&'static str, &Opening)> {
    let r = &document.requirements;
    [("infeed", &r.infeed), ("discharge", &r.discharge)].into_iter().filter_map(|(key, o)| Some((key, o.as_ref()?)))
}

/// What no plan can hold, since another circuit lies there.
pub(super) fn unreachable(document: &CellDocument) -> Vec<Finding> {
    let rows: Vec<&String> = document.circuits.iter().filter(|c| c.above.is_none()).map(|c| &c.id).collect();
    let mut found = Vec::new();
    for (key, opening) in asked(document) {
        let mut on = document.circuits.iter().filter(|c| c.order.contains(&opening.station));
        let (Some(circuit), another) = (on.next(), on.next()) else { continue };
        let row = circuit.above.as_ref().unwrap_or(&circuit.id);
        let outermost = match opening.side {
            CellSide::Front => rows.first().is_none_or(|first| *first == row),
            CellSide::Back => rows.last().is_none_or(|last| *last == row),
            CellSide::Left | CellSide::Right => true,
        };
        let station = quoted(&opening.station);
        if another.is_some() {
            let message =
                format!("the station {station} hands over between two circuits, and is open to no side of the cell");
            let finding = Finding::new(Code::SideClosed, format!("/requirements/{key}/station"), message);
            found.push(finding.advise("Name the station at which product comes into the cell or leaves it."));
        } else if !outermost {
            let message = format!("between the station {station} and that side of the cell lies another circuit");
            found.push(Finding::new(Code::SideClosed, format!("/requirements/{key}/side"), message));
        }
    }
    found
}
