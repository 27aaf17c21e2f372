//! On which sides product comes in and leaves, and the hand of a plan.

use crate::wire::plan::{Asked, AskedOpening, PlannedCellSide, PlannedHand};
use loopwright_solver::cell::Cell;
use loopwright_solver::openings::{Hand, Opening, Openings};
use loopwright_solver::track::CellSide;

pub(super) fn side(of: CellSide) -> PlannedCellSide {
    match of {
        CellSide::Front => PlannedCellSide::Front,
        CellSide::Back => PlannedCellSide::Back,
        CellSide::Left => PlannedCellSide::Left,
        CellSide::Right => PlannedCellSide::Right,
    }
}

fn hand(of: Hand) -> PlannedHand {
    match of {
        Hand::LeftToRight => PlannedHand::LeftToRight,
        Hand::RightToLeft => PlannedHand::RightToLeft,
    }
}

/// What the circuits of a cell ask for beside the rest.
pub(super) fn asked<'a>(rest: Asked, cells: impl IntoIterator<Item = &'a Cell>) -> Asked {
    cells.into_iter().fold(rest, |rest, cell| {
        let parts = cell.parts();
        let of = |asked: Option<Opening>| {
            let asked = asked?;
            Some(AskedOpening { station: parts.stations.get(asked.station)?.id.clone(), side: side(asked.side) })
        };
        let Openings { infeed, discharge, .. } = parts.openings;
        Asked { infeed: rest.infeed.or(of(infeed)), discharge: rest.discharge.or(of(discharge)), ..rest }
    })
}

/// The hand of a plan, where the cell asks for one, or for a side that product comes in or leaves on.
pub(super) fn told<'a>(of: Hand, cells: impl IntoIterator<Item = &'a Cell>) -> Option<PlannedHand> {
    let asks = |o: &Openings| o.hand.is_some() || o.all().next().is_some();
    cells.into_iter().any(|cell| asks(&cell.parts().openings)).then(|| hand(of))
}

/// The hand that a plan must have: none where either will do, or none does.
pub(super) fn needed(open: [bool; 2]) -> Option<PlannedHand> {
    match open {
        [true, false] => Some(PlannedHand::LeftToRight),
        [false, true] => Some(PlannedHand::RightToLeft),
        _ => None,
    }
}
