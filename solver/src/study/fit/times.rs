//! Times that must hold: whether some are missed by every sharing of a node, and whether those of one sharing hold.

use super::verdict::Pace;
use super::{Fit, Node};
use crate::rules::{paced, windows_hold};
use crate::throughput::{Hold, Steady, can_hold};
use crate::units::{Micros, Seconds};

/// Batches of station 0 that a paced run may take inside the search.
const SEARCH_STARTS: u64 = 20_000;

impl Fit<'_, '_> {
    /// Whether some time limit is missed for certain: between the earliest steady state that the bounds allow (most slots,
    /// shortest ways) and the latest (fewest slots, longest ways) lies every other.
    pub(super) fn misses_times(&self, node: &Node, carriers: u32, pace: &Pace<'_>) -> bool {
        let parts = self.space.cell.parts();
        let slow = self.pace(node.share.0);
        self.space.demanded.iter().any(|&k| {
            if !self.start_is_known(node, k, carriers) {
                return false;
            }
            let early = self.ring(k, &self.slots_of(&node.high, k), &self.lags(&node.low, k, pace), carriers, pace);
            let late = self.ring(k, &self.slots_of(&node.low, k), &self.lags(&node.high, k, &slow), carriers, &slow);
            if early.start().is_none() {
                return false;
            }
            let beat = self.beat(k);
            if !can_hold(&early, beat, &self.holds()) {
                return true;
            }
            if late.start() != early.start() {
                return false;
            }
            let (Some(early), Some(late)) = (Steady::of(&early, beat), Steady::of(&late, beat)) else { return false };
            let over = |max: Option<Seconds>, longest: i64| max.is_some_and(|max| longest > Micros::nearest(max).us());
            let sections = parts.sections.iter().enumerate().filter(|(_, s)| s.max_time.is_some());
            let mut sections =
                sections.map(|(i, s)| over(s.max_time, early.times(i, self.space.next(i), false, &late).1));
            sections.any(|missed| missed)
                || parts.windows.iter().any(|w| {
                    let taken_in = w.since == crate::cell::Since::TakenIn;
                    let longest_at_least = early.times(w.from, w.to, taken_in, &late).1;
                    let least_at_most = late.times(w.from, w.to, taken_in, &early).0;
                    over(w.max, longest_at_least) || w.min.is_some_and(|min| least_at_most < Micros::nearest(min).us())
                })
        })
    }

    pub(super) fn times_hold(&self, lengths: &[f64], carriers: u32, pace: &Pace<'_>) -> bool {
        let cell = self.space.cell;
        let parts = cell.parts();
        self.space.demanded.iter().all(|&k| {
            let ring = self.ring(k, &self.slots_of(lengths, k), &self.lags(lengths, k, pace), carriers, pace);
            if let Some(steady) = Steady::of(&ring, self.beat(k)) {
                let within = |(min, max): (Option<Seconds>, Option<Seconds>), (least, longest): (i64, i64)| {
                    max.is_none_or(|max| longest <= Micros::nearest(max).us())
                        && min.is_none_or(|min| least >= Micros::nearest(min).us())
                };
                let mut sections = parts.sections.iter().enumerate().filter(|(_, s)| s.max_time.is_some());
                return sections
                    .all(|(i, s)| within((None, s.max_time), steady.times(i, self.space.next(i), false, &steady)))
                    && parts.windows.iter().all(|w| {
                        let taken_in = w.since == crate::cell::Since::TakenIn;
                        within((w.min, w.max), steady.times(w.from, w.to, taken_in, &steady))
                    });
            }
            let plan = self.plan(lengths, carriers, pace.share);
            let Ok(numbers) = plan.numbers(cell) else { return false };
            paced(cell, &plan, &numbers, k, SEARCH_STARTS).is_none_or(|p| windows_hold(cell, &p))
        })
    }

    /// Longest times that must hold.
    fn holds(&self) -> Vec<Hold> {
        let parts = self.space.cell.parts();
        let sections = parts.sections.iter().enumerate().filter_map(|(i, s)| {
            let most = Micros::nearest(s.max_time?);
            Some(Hold { from: i, to: self.space.next(i), taken_in: false, most })
        });
        let windows = parts.windows.iter().filter_map(|w| {
            let most = Micros::nearest(w.max?);
            Some(Hold { from: w.from, to: w.to, taken_in: w.since == crate::cell::Since::TakenIn, most })
        });
        sections.chain(windows).collect()
    }

    /// Station 0's time between batches in the paced run.
    pub(super) fn beat(&self, k: usize) -> Micros {
        Micros::nearest_s(f64::from(self.chosen[0].skus[k].batch) / self.space.cell.rides()[k].phi())
    }

    pub(super) fn timed(&self) -> bool {
        let parts = self.space.cell.parts();
        !parts.windows.is_empty() || parts.sections.iter().any(|s| s.max_time.is_some())
    }
}
