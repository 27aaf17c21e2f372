//! From SKU to SKU on a finished plan: running empty, the work of the change, and refilling.

mod flow;
mod mend;
mod work;

pub use flow::{Flow, flows, last_loaded};
pub use mend::{Mended, Remedy};
pub use work::{Fitted, Hands, Phase, Planned};

use crate::adjust::{CountsFrom, Way};
use crate::cell::Cell;
use crate::load::{Load, Ride, ride};
use crate::plan::{Misfit, Numbers, Plan};
use crate::units::{CarrierRate, Metres, Micros, Seconds};

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

/// The changes of a plan.
#[derive(Debug)]
pub struct Changeover<'a> {
    cell: &'a Cell,
    hands: Hands<'a>,
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
        let changes = &cell.parts().changes;
        let carrier = &cell.parts().circuit.carrier;
        let own = |a: &crate::adjust::Adjustment| a.at == crate::adjust::At::Carriers && a.follows == OPENING;
        Self {
            cell,
            hands: Hands::new(changes),
            fitted,
            flows: flows(cell, plan, numbers),
            // A cell whose carriers cannot move is not let in.
            empty: ride(carrier, &Load::default(), CarrierRate::ZERO, false).ok(),
            share: plan.acceleration_share,
            own_opening: changes.adjustments.iter().any(own),
        }
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
