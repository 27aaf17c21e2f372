//! Changes that must keep their limit: whether some take longer with every sharing of a node, and whether those of one
//! sharing keep it.

use super::verdict::Pace;
use super::{Fit, Node};
use crate::changeover::{Changeover, Fitted, Flow, flows};
use crate::sim::first_through;
use crate::study::keeping::Keeping;
use crate::units::Micros;

impl Fit<'_, '_> {
    fn fitted(&self, carriers: u32) -> Fitted {
        Fitted { stations: self.chosen.iter().map(|o| (o.mode, o.heads)).collect(), carriers }
    }

    /// Whether some change takes too long for certain: running empty and refilling take at least the shortest ways through
    /// the stations. Where `known` says so, the carriers' start is that of every sharing of the node, and refilling takes at
    /// least as long as with the most slots and the shortest ways.
    pub(super) fn misses_changes(
        &self,
        keeping: &Keeping<'_>,
        node: &Node,
        carriers: u32,
        pace: &Pace<'_>,
        known: bool,
    ) -> bool {
        let cell = self.space.cell;
        let none = Flow { run_out: Micros::ZERO, refill: Micros::ZERO };
        let mut shortest = vec![none; cell.rides().len()];
        for &k in &self.space.demanded {
            let ring = self.ring(k, &self.slots_of(&node.high, k), &self.lags(&node.low, k, pace), carriers, pace);
            let through: i64 =
                (0..keeping.last).map(|i| ring.stations[i].residence.us() + ring.sections[i].lag.us()).sum();
            let through = Micros::from_us(through + ring.stations[keeping.last].residence.us());
            let first = if known && self.start_is_known(node, k, carriers) {
                first_through(&ring, self.beat(k), keeping.last)
            } else {
                None
            };
            shortest[k] = Flow { run_out: through, refill: first.map_or(through, |first| first.max(through)) };
        }
        let changes = Changeover::of_parts(cell, keeping.hands.clone(), self.fitted(carriers), pace.share, shortest);
        changes.longest().is_some_and(|longest| longest.total > keeping.limit)
    }

    /// As the rule asks.
    pub(super) fn changes_hold(&self, lengths: &[f64], carriers: u32, share: f64) -> bool {
        let Some(keeping) = &self.space.keeping else { return true };
        let cell = self.space.cell;
        let plan = self.plan(lengths, carriers, share);
        let Ok(numbers) = plan.numbers(cell) else { return false };
        let ways = flows(cell, &plan, &numbers);
        let changes = Changeover::of_parts(cell, keeping.hands.clone(), self.fitted(carriers), share, ways);
        let holds = changes.longest().is_none_or(|longest| longest.total <= keeping.limit);
        self.too_long.set(self.too_long.get() || !holds);
        holds
    }
}
