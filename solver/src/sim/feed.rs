//! What comes to a station from outside: one arrival for each carrier that it takes in.

use super::halts::Renewal;
use crate::chance::{Purpose, Stream, Supply};
use std::collections::VecDeque;

/// The feed of a station in one replication.
#[derive(Clone, Debug)]
pub(super) struct Feed {
    supply: Supply,
    /// Mean gap, in microseconds.
    gap: f64,
    gaps: Stream,
    outages: Option<(Renewal, i64, i64)>,
    arrivals: u64,
    last: i64,
    /// When each of the last so many arrivals was used: the one that fills the room again waits for it.
    used: VecDeque<i64>,
    room: usize,
    /// Arrived, not used: when.
    waiting: VecDeque<i64>,
}

impl Feed {
    /// `net_rate` in carriers a second; without one nothing is wanted, and a carrier's worth comes each second.
    pub(super) fn new(supply: Supply, net_rate: f64, batch: u32, key: (u64, u32, usize)) -> Self {
        let outages = supply.outages.map(|stops| {
            let mut renewal = Renewal::new(stops, key, Purpose::OutageAfter, Purpose::OutageFor);
            let (until, lasting) = renewal.next();
            (renewal, until, lasting)
        });
        Self {
            supply,
            gap: 1e6 / (if net_rate > 0.0 { net_rate } else { 1.0 } * supply.over_net_rate),
            gaps: Stream::new(key.0, key.1, key.2, Purpose::Gap),
            outages,
            arrivals: 0,
            last: 0,
            used: VecDeque::new(),
            room: supply.room.max(batch) as usize,
            waiting: VecDeque::new(),
        }
    }

    /// When enough for a batch has come.
    pub(super) fn ready(&mut self, batch: u32) -> i64 {
        while self.waiting.len() < batch as usize {
            let at = self.next();
            self.waiting.push_back(at);
        }
        self.waiting.get(batch as usize - 1).copied().unwrap_or(self.last)
    }

    /// Takes a batch at this time.
    pub(super) fn take(&mut self, batch: u32, time: i64) {
        for _ in 0..batch {
            self.waiting.pop_front();
            self.used.push_back(time);
        }
    }

    #[allow(clippy::cast_possible_truncation, clippy::cast_precision_loss)]
    fn next(&mut self) -> i64 {
        let mut gap = self.gap * self.supply.gap.factor(self.gaps.draw(self.arrivals));
        if let Some(surge) = self.supply.surge
            && (self.last as f64 * 1e-6).rem_euclid(surge.every_s) < surge.for_s
        {
            gap /= surge.factor;
        }
        let mut gap = (gap.round() as i64).max(1);
        if let Some((renewal, left, lasting)) = &mut self.outages {
            let mut running = gap;
            while running > *left {
                running -= *left;
                gap += *lasting;
                (*left, *lasting) = renewal.next();
            }
            *left -= running;
        }
        let mut at = self.last + gap;
        // With the room full, it is held until something is used.
        if self.arrivals >= self.room as u64
            && let Some(used) = self.used.pop_front()
        {
            at = at.max(used);
        }
        self.arrivals += 1;
        self.last = at;
        at
    }
}
