//! A stretch of one replication, carrier by carrier: from the moments of all batches to a log.

use super::flow::{Game, Passages};
use super::log::{Inside, Log, Move, Moved, Queued};
use super::scenario::Scenario;
use super::tally::Tally;
use crate::option::Flow;
use crate::units::Micros;

/// What happens to each carrier in one replication between two moments; the luck is that of `replicate` with the same seed.
#[must_use]
pub fn stretch(scenario: &Scenario, (seed, replication): (u64, u32), start: Micros, length: Micros) -> Log {
    let end = start.us() + length.us();
    let all = Game::new(scenario, seed, replication, Tally::recording(scenario, end)).play().passages();
    Telling { scenario, all: &all, start: start.us(), end }.log()
}

struct Telling<'a> {
    scenario: &'a Scenario,
    all: &'a [Passages],
    start: i64,
    end: i64,
}

impl Telling<'_> {
    fn stations(&self) -> usize {
        self.scenario.posts.len()
    }

    /// Number of the carrier that station `i` takes in as its `place`-th. Carriers never overtake: those that begin in the
    /// sections from `i` on came round before it, the last section's first.
    fn carrier(&self, i: usize, place: u64) -> u32 {
        let ahead: u64 = self.scenario.start[i..].iter().map(|&count| u64::from(count)).sum();
        // Station 0 begins with carrier 0, which stands in the last section.
        let ahead = if i == 0 { 0 } else { ahead };
        u32::try_from((ahead + place) % u64::from(self.scenario.carriers.max(1))).unwrap_or_default()
    }

    fn batch(&self, i: usize, m: usize) -> Vec<u32> {
        let size = u64::from(self.scenario.posts[i].batch);
        (0..size).map(|q| self.carrier(i, m as u64 * size + q)).collect()
    }

    fn left(&self, i: usize, m: usize) -> Option<i64> {
        self.all[i].left.get(m).copied()
    }

    /// When the work on a batch is done; none where that is not known before the end.
    fn done(&self, i: usize, m: usize) -> Option<Micros> {
        let held = if self.scenario.posts[i].flow == Flow::Through { 0 } else { *self.all[i].held.get(m)? };
        self.left(i, m).map(|left| Micros::from_us(left - held))
    }

    fn log(&self) -> Log {
        let n = self.stations();
        Log {
            start: Micros::from_us(self.start),
            end: Micros::from_us(self.end),
            recurs: false,
            sections: (0..n).map(|i| self.section(i)).collect(),
            inside: (0..n).map(|i| self.inside(i)).collect(),
            moves: self.moves(),
        }
    }

    /// Carriers in the section after station `i` at the start, the first in front.
    fn section(&self, i: usize) -> Vec<Queued> {
        let post = &self.scenario.posts[i];
        let lag = self.scenario.sections[i].lag.us();
        let next = (i + 1) % self.stations();
        // Those that began here, then whole batches.
        let began = u64::from(self.scenario.start[i]);
        let mut entered: Vec<Queued> = (0..began)
            .map(|q| Queued { carrier: self.carrier(next, q), left: Micros::ZERO, ready: Micros::ZERO, behind: 0 })
            .collect();
        let through = post.flow == Flow::Through;
        for (m, &taken) in self.all[i].taken.iter().enumerate() {
            let Some(left) = self.left(i, m) else { break };
            // A batch that passes through has its slots since it was taken.
            if (if through { taken } else { left }) > self.start {
                break;
            }
            for (behind, carrier) in (0..).zip(self.batch(i, m)) {
                let (left, ready) = (Micros::from_us(left), Micros::from_us(left + lag));
                entered.push(Queued { carrier, left, ready, behind });
            }
        }
        let gone = self.all[next].taken.iter().take_while(|&&taken| taken <= self.start).count();
        let gone = gone * self.scenario.posts[next].batch as usize;
        entered.split_off(gone.min(entered.len()))
    }

    fn inside(&self, i: usize) -> Vec<Inside> {
        if self.scenario.posts[i].flow == Flow::Through {
            return Vec::new();
        }
        let taken = self.all[i].taken.iter().enumerate().take_while(|(_, taken)| **taken <= self.start);
        let still = taken.filter(|(m, _)| self.left(i, *m).is_none_or(|left| left > self.start));
        let batch = |(m, &taken): (usize, &i64)| Inside {
            taken: Micros::from_us(taken),
            done: self.done(i, m),
            carriers: self.batch(i, m),
        };
        still.map(batch).collect()
    }

    /// In order of time; at one moment carriers leave before others are taken in, and what passes through is told to leave when
    /// it is taken.
    fn moves(&self) -> Vec<Move> {
        let mut all: Vec<(i64, u8, Move)> = Vec::new();
        let within = |time: i64| time > self.start && time <= self.end;
        for (i, passages) in self.all.iter().enumerate() {
            let through = self.scenario.posts[i].flow == Flow::Through;
            for (m, &taken) in passages.taken.iter().enumerate().filter(|(_, taken)| within(**taken)) {
                let (carriers, done) = (self.batch(i, m), self.done(i, m));
                let time = Micros::from_us(taken);
                all.push((taken, 1, Move { time, station: i, moved: Moved::TakenIn, carriers, done }));
            }
            for (m, &left) in passages.left.iter().enumerate() {
                let told = if through { passages.taken.get(m).copied().unwrap_or(left) } else { left };
                if within(told) {
                    let (time, carriers) = (Micros::from_us(left), self.batch(i, m));
                    let order = if through { 2 } else { 0 };
                    all.push((told, order, Move { time, station: i, moved: Moved::Left, carriers, done: None }));
                }
            }
        }
        all.sort_by_key(|(time, order, mv)| (*time, *order, mv.station));
        all.into_iter().map(|(.., mv)| mv).collect()
    }
}
