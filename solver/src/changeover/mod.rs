//! From SKU to SKU on a finished plan: running empty, the work of the change, and refilling.

mod flow;
mod mend;
mod work;

pub use flow::{Flow, flows, last_loaded};
pub use mend::{Mended, Remedy};
pub use work::{Fitted, Hands, Phase, Planned};

use crate::adjust::{Adjustment, At, CountsFrom, Way};
use crate::cell::Cell;
use crate::load::{Load, Ride, ride};
use crate::plan::{Misfit, Numbers, Plan};
use crate::units::{CarrierRate, Metres, Micros, Seconds};
use std::collections::HashMap;
use std::rc::Rc;

/// What moves by itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mover {
    /// The adjustment with this index.
    Adjustment(usize),
    /// The carriers run to the places that the new pitch gives them.
    Spacing,
    /// The movers of each pair run to the new opening.
    Opening,
}

/// One automatic move.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Move {
    /// What moves.
    pub mover: Mover,
    /// How far.
    pub travel: Metres,
    /// How long.
    pub time: Micros,
}

/// One change in full.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// Indices of the SKUs.
    pub from: usize,
    /// Index of the SKU that follows.
    pub to: usize,
    /// From the last case begun to the last good case.
    pub run_out: Micros,
    /// Steps inside the stop.
    pub stopped: Planned,
    /// Steps outside it that come before.
    pub before: Planned,
    /// Steps outside it that come after.
    pub behind: Planned,
    /// All at once.
    pub moves: Vec<Move>,
    /// The longest of them.
    pub moving: Micros,
    /// From the stop to being ready for the next SKU.
    pub work: Micros,
    /// From the first case begun to the first good case.
    pub refill: Micros,
    /// What the limit is held against.
    pub total: Micros,
}

/// The longest of some changes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Longest {
    /// Index of the SKU before.
    pub from: usize,
    /// Index of the SKU that follows.
    pub to: usize,
    /// What the limit is held against.
    pub total: Micros,
}

/// The changes of a plan.
#[derive(Debug)]
pub struct Changeover<'a> {
    cell: &'a Cell,
    hands: Rc<Hands<'a>>,
    fitted: Fitted,
    flows: Vec<Flow>,
    empty: Option<Ride>,
    share: f64,
    /// The opening is an adjustment of the document's own.
    own_opening: bool,
}

/// What an adjustment follows when it is the carriers' opening.
pub const OPENING: &str = "extent_mm";

impl<'a> Changeover<'a> {
    /// Of a plan.
    ///
    /// # Errors
    /// [`Misfit`] when the plan names something that the cell does not have.
    pub fn of(cell: &'a Cell, plan: &Plan) -> Result<Self, Misfit> {
        let numbers = plan.numbers(cell)?;
        Ok(Self::with(cell, plan, &numbers))
    }

    /// Of a plan whose numbers are known.
    #[must_use]
    pub fn with(cell: &'a Cell, plan: &Plan, numbers: &Numbers) -> Self {
        let fitted =
            Fitted { stations: plan.stations.iter().map(|p| (p.mode, p.heads)).collect(), carriers: plan.carriers };
        let hands = Rc::new(Hands::new(&cell.parts().changes));
        Self::of_parts(cell, hands, fitted, plan.acceleration_share, flows(cell, plan, numbers))
    }

    /// Of what a plan consists of, or of bounds on it: no change of a plan takes less than with flows that are not longer and
    /// an acceleration share that is not smaller.
    pub(crate) fn of_parts(cell: &'a Cell, hands: Rc<Hands<'a>>, fitted: Fitted, share: f64, flows: Vec<Flow>) -> Self {
        let carrier = &cell.parts().circuit.carrier;
        let own = |a: &Adjustment| a.at == At::Carriers && a.follows == OPENING;
        Self {
            cell,
            hands,
            fitted,
            flows,
            // A cell whose carriers cannot move is not let in.
            empty: ride(carrier, &Load::default(), CarrierRate::ZERO, false).ok(),
            share,
            own_opening: cell.parts().changes.adjustments.iter().any(own),
        }
    }

    /// The longest of all changes; the first of several. None with one SKU.
    #[must_use]
    pub fn longest(&self) -> Option<Longest> {
        let changes = &self.cell.parts().changes;
        let skus = self.flows.len();
        let mut by_hand: HashMap<Vec<usize>, i64> = HashMap::new();
        let mut longest: Option<Longest> = None;
        for (from, to) in (0..skus).flat_map(|from| (0..skus).map(move |to| (from, to))).filter(|(a, b)| a != b) {
            let active: Vec<usize> =
                (0..changes.adjustments.len()).filter(|&a| changes.adjustments[a].travel(from, to).is_some()).collect();
            let moving = self.moves(from, to).iter().map(|m| m.time.us()).max().unwrap_or(0);
            let finish = *by_hand.entry(active).or_insert_with_key(|active| {
                let steps = self.hands.steps_of(&|a| active.contains(&a), &self.fitted);
                self.hands.plan(self.hands.of_phase(&steps, Phase::Stopped), &self.fitted).schedule.finish
            });
            let total = self.total_of(from, to, finish, moving);
            if longest.is_none_or(|l| total > l.total) {
                longest = Some(Longest { from, to, total });
            }
        }
        longest
    }

    /// Running empty and refilling, by SKU.
    #[must_use]
    pub fn flows(&self) -> &[Flow] {
        &self.flows
    }

    /// One change. From a SKU to itself there is nothing to do.
    #[must_use]
    pub fn change(&self, from: usize, to: usize) -> Change {
        let changes = &self.cell.parts().changes;
        let active = |a: usize| changes.adjustments[a].travel(from, to).is_some();
        let steps = self.hands.steps_of(&active, &self.fitted);
        let of = |phase| self.hands.plan(self.hands.of_phase(&steps, phase), &self.fitted);
        let (stopped, moves) = (of(Phase::Stopped), self.moves(from, to));
        let moving = moves.iter().map(|m| m.time.us()).max().unwrap_or(0);
        let by_hand = stopped.schedule.finish;
        let work = self.work(by_hand, moving);
        let (run_out, refill) = self.flow(from, to);
        Change {
            from,
            to,
            run_out,
            before: of(Phase::Before),
            behind: of(Phase::Behind),
            stopped,
            moves,
            moving: Micros::from_us(moving),
            work: Micros::from_us(work),
            refill,
            total: self.total_of(from, to, by_hand, moving),
        }
    }

    /// What the limit is held against, without the rest.
    #[must_use]
    pub fn total(&self, from: usize, to: usize) -> Micros {
        let moving = self.moves(from, to).iter().map(|m| m.time.us()).max().unwrap_or(0);
        let changes = &self.cell.parts().changes;
        let active = |a: usize| changes.adjustments[a].travel(from, to).is_some();
        let steps = self.hands.steps_of(&active, &self.fitted);
        let stopped = self.hands.plan(self.hands.of_phase(&steps, Phase::Stopped), &self.fitted);
        self.total_of(from, to, stopped.schedule.finish, moving)
    }

    /// Whether nothing is done by hand inside the stop.
    #[must_use]
    pub fn is_automatic(&self, from: usize, to: usize) -> bool {
        let changes = &self.cell.parts().changes;
        let active = |a: usize| changes.adjustments[a].travel(from, to).is_some();
        let steps = self.hands.steps_of(&active, &self.fitted);
        self.hands.of_phase(&steps, Phase::Stopped).is_empty()
    }

    fn flow(&self, from: usize, to: usize) -> (Micros, Micros) {
        if from == to { (Micros::ZERO, Micros::ZERO) } else { (self.flows[from].run_out, self.flows[to].refill) }
    }

    fn work(&self, by_hand: i64, moving: i64) -> i64 {
        if self.cell.parts().changes.moves_wait { by_hand + moving } else { by_hand.max(moving) }
    }

    fn total_of(&self, from: usize, to: usize, by_hand: i64, moving: i64) -> Micros {
        let (run_out, refill) = self.flow(from, to);
        let counted = match self.cell.parts().changes.counts_from {
            CountsFrom::LastCase => 0,
            CountsFrom::LastIntake => run_out.us(),
        };
        Micros::from_us(counted + self.work(by_hand, moving) + refill.us())
    }

    fn moves(&self, from: usize, to: usize) -> Vec<Move> {
        let parts = self.cell.parts();
        let mut moves = Vec::new();
        for (index, adjustment) in parts.changes.adjustments.iter().enumerate() {
            let Way::Automatic { base, seconds_per_m } = adjustment.way else { continue };
            let Some(travel) = adjustment.travel(from, to).filter(|_| self.hands.present(index, &self.fitted)) else {
                continue;
            };
            let time = Micros::nearest(Seconds::from_s(base.s() + travel.m() * seconds_per_m));
            moves.push(Move { mover: Mover::Adjustment(index), travel, time });
        }
        let drive = |mover: Mover, travel: f64| {
            let travel = Metres::from_m(travel);
            let time = self.empty.as_ref().map_or(Seconds::ZERO, |ride| ride.limits_at(self.share).time(travel));
            Move { mover, travel, time: Micros::nearest(time) }
        };
        // Carriers that stand in a queue: the last of them moves by what all pitches before it have changed.
        let rides = self.cell.rides();
        let pitch = (rides[from].pitch.m() - rides[to].pitch.m()).abs();
        if pitch > 1e-12 && self.fitted.carriers > 1 {
            moves.push(drive(Mover::Spacing, pitch * f64::from(self.fitted.carriers - 1)));
        }
        let opening = (parts.skus[from].load.extent.m() - parts.skus[to].load.extent.m()).abs();
        if opening > 1e-12 && parts.circuit.carrier.movers > 1 && !self.own_opening {
            moves.push(drive(Mover::Opening, opening));
        }
        moves
    }
}

#[cfg(test)]
mod tests;
