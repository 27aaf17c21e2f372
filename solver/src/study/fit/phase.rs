//! Starts that are alike: what a start does to a rate, apart from how many carriers there are.
//!
//! Where a station has taken one batch more, its section before has a batch less and the one behind it a batch more: the same
//! run, counted from another moment. So two starts that differ by whole batches of stations have the same long-run rate in
//! the same ring (the unfolded graph is the same but for the numbers of its firings, and no cycle's tokens change). Of the
//! carriers behind each station, counted to the end of the order, only the remainders by its batch matter, and these only up
//! to whole batches of the first station.

use super::quick::QuickMap;
use super::verdict::{Pace, RELAXED};
use super::{Fit, Node};
use crate::ring::Ring;
use crate::throughput::rate_or_miss_from;

/// More kinds of starts are not numbered.
const MOST_KINDS: u64 = 1 << 62;

/// More rounds of the first station are not turned through.
const MOST_TURNS: u64 = 10_000;

/// Numbers the kinds of starts of one SKU.
#[derive(Debug)]
pub(super) struct Phases {
    /// Batch and weight of each station's remainder; the first station has none.
    stations: Vec<(u64, u64)>,
    first: u64,
    turns: u64,
}

impl Phases {
    /// None where there are too many kinds.
    pub(super) fn of(batches: &[u32]) -> Option<Self> {
        let first = u64::from(*batches.first()?);
        let (mut weight, mut turns) = (1u64, 1u64);
        let mut stations = vec![(1, 0)];
        for batch in batches[1..].iter().map(|&b| u64::from(b)) {
            stations.push((batch, weight));
            weight = weight.checked_mul(batch).filter(|w| *w < MOST_KINDS)?;
            let order = batch / gcd(batch, first);
            turns = turns / gcd(turns, order) * order;
            if turns > MOST_TURNS {
                return None;
            }
        }
        Some(Self { stations, first, turns })
    }

    /// The number that a station's remainder adds when so many carriers start behind it.
    pub(super) fn part(&self, station: usize, behind: u32) -> u64 {
        let (batch, weight) = self.stations[station];
        u64::from(behind) % batch * weight
    }

    /// The number that the stations up to this one add when all `carriers` start behind them.
    pub(super) fn rest(&self, station: usize, carriers: u32) -> u64 {
        (0..=station).map(|i| self.part(i, carriers)).sum()
    }

    /// One number for all starts that are alike.
    fn kind(&self, code: u64) -> u64 {
        let mut least = code;
        let mut remainders: Vec<u64> =
            self.stations.iter().map(|&(batch, weight)| code.checked_div(weight).unwrap_or(0) % batch).collect();
        for _ in 1..self.turns {
            let mut turned = 0;
            for (remainder, &(batch, weight)) in remainders.iter_mut().zip(&self.stations) {
                *remainder = (*remainder + self.first) % batch;
                turned += *remainder * weight;
            }
            least = least.min(turned);
        }
        least
    }
}

fn gcd(a: u64, b: u64) -> u64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

/// What is known about the kinds of starts of each SKU, with one number of carriers and every sharing of the track.
#[derive(Debug, Default)]
pub(super) struct Kinds {
    /// Whether an SKU makes its rate at best with starts of a kind.
    makes: QuickMap<(usize, u64), bool>,
}

impl Kinds {
    pub(super) fn clear(&mut self) {
        self.makes.clear();
    }
}

impl Fit<'_, '_> {
    pub(super) fn phases_of(&self, k: usize) -> Option<Phases> {
        let batches: Vec<u32> = self.chosen.iter().map(|o| o.skus[k].batch).collect();
        Phases::of(&batches)
    }

    /// By section, the waiting of SKU `k` beyond the least that a start with so many carriers there forces, in seconds, up to
    /// whole offsets. The sum over the sections and the least way round take at most `carriers / rate` where the rate is made:
    /// a ring that keeps a rate has firing times that repeat at just that rate, and so many carriers are on the way then.
    pub(super) fn waits_by_start(&self, k: usize) -> &[Vec<f64>] {
        self.waits_by_start[k].get_or_init(|| {
            let rate = self.space.cell.rides()[k].phi() * RELAXED;
            let of = |i: usize| {
                let (up, down) = (&self.chosen[i].skus[k], &self.chosen[self.space.next(i)].skus[k]);
                let waits = self.space.waits.of(up.batch, down.batch);
                // Slower moves make no cycle shorter.
                let cycles = (up.cycle.s(), down.cycle.s());
                let least = waits.mean(cycles.0, cycles.1);
                (0..waits.offsets()).map(|start| (waits.mean_from(start, cycles, rate) - least).max(0.0)).collect()
            };
            (0..self.chosen.len()).map(of).collect()
        })
    }

    /// Seconds that carriers may wait on a way round, beyond the least way round of a node.
    pub(super) fn spare(&self, node: &Node, carriers: u32, k: usize, pace: &Pace<'_>) -> f64 {
        let lags = self.lags(&node.low, k, pace);
        let way = self.round_trip(k, &lags, pace) + self.rest_time(&node.low, &node.high, &lags, (k, pace.share));
        // A hair in hand for rounding.
        f64::from(carriers) / (self.space.cell.rides()[k].phi() * RELAXED) - way + 1e-9
    }

    /// Whether SKU `k` makes its rate when it starts so, with the most slots and the shortest ways of any sharing.
    pub(super) fn kind_makes(&self, phases: &Phases, k: usize, code: u64, start: &[u32]) -> bool {
        if let Some(&makes) = self.kinds.borrow().makes.get(&(k, code)) {
            return makes;
        }
        let kind = phases.kind(code);
        let known = self.kinds.borrow().makes.get(&(k, kind)).copied();
        let makes = known.unwrap_or_else(|| self.start_makes(k, start));
        let mut kinds = self.kinds.borrow_mut();
        kinds.makes.insert((k, kind), makes);
        kinds.makes.insert((k, code), makes);
        makes
    }

    fn start_makes(&self, k: usize, start: &[u32]) -> bool {
        let ring = self.best_ring(k, start.iter().sum());
        let target = self.space.cell.rides()[k].rate;
        let rated = rate_or_miss_from(&ring, start, Some(target), &mut self.times.borrow_mut()[k]);
        // What cannot be said is not excluded.
        rated.is_none_or(|(rate, _)| rate.makes(target))
    }

    /// The ring of an SKU with the most slots and the shortest ways of any sharing.
    fn best_ring(&self, k: usize, carriers: u32) -> Ring {
        let mut rings = self.best_rings.borrow_mut();
        let ring = rings[k].get_or_insert_with(|| {
            let pace = self.pace(1.0);
            let lags = self.lags(&self.low, k, &pace);
            let ring = self.ring(k, &self.slots_of(&self.high, k), &lags, carriers, &pace);
            Self::driving(&ring, self.rest_time(&self.low, &self.high, &lags, (k, pace.share))).unwrap_or(ring)
        });
        Ring { carriers, ..ring.clone() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::option::Flow;
    use crate::ring::{RingSection, RingStation};
    use crate::sim::tests::Random;
    use crate::throughput::Times;
    use crate::units::Micros;

    fn code(phases: &Phases, start: &[u32]) -> u64 {
        (0..start.len()).map(|i| phases.part(i, start[i..].iter().sum())).sum()
    }

    /// Starts of one kind have one rate, on random rings; and starts of two kinds often do not.
    #[test]
    #[allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap)]
    fn starts_of_a_kind_have_one_rate() {
        let mut r = Random(5);
        let (mut alike, mut unlike) = (0, 0);
        for round in 0..300 {
            let n = 2 + r.below(4) as usize;
            let micros = |r: &mut Random| Micros::from_us(1 + r.below(900) as i64);
            let stations: Vec<RingStation> = (0..n)
                .map(|_| {
                    let (cycle, move_in) = (micros(&mut r), micros(&mut r));
                    let batch = 1 + r.below(4) as u32;
                    let flow = if r.below(2) == 0 { Flow::Stop } else { Flow::Through };
                    RingStation { batch, cycle, move_in: move_in.min(cycle), residence: cycle, flow }
                })
                .collect();
            let sections: Vec<RingSection> =
                (0..n).map(|_| RingSection { slots: 8 + r.below(5) as u32, lag: micros(&mut r) }).collect();
            let carriers = 4 + r.below(8) as u32;
            let ring = Ring { stations, sections, carriers };
            let batches: Vec<u32> = ring.stations.iter().map(|s| s.batch).collect();
            let phases = Phases::of(&batches).unwrap();
            let mut seen: Vec<(u64, (i64, i64))> = Vec::new();
            for _ in 0..12 {
                let mut start = vec![0u32; n];
                for _ in 0..carriers {
                    start[r.below(n as u64) as usize] += 1;
                }
                if start.iter().zip(&ring.sections).any(|(m, s)| *m > s.slots) {
                    continue;
                }
                let (rate, _) = rate_or_miss_from(&ring, &start, None, &mut Times::default()).unwrap();
                let kind = phases.kind(code(&phases, &start));
                let rate = (rate.carriers, rate.micros);
                for (other, its) in &seen {
                    if *other == kind {
                        assert_eq!(*its, rate, "round {round}: {ring:?} from {start:?}");
                        alike += 1;
                    } else if *its != rate {
                        unlike += 1;
                    }
                }
                seen.push((kind, rate));
            }
        }
        assert!(alike > 1_000 && unlike > 1_000, "{alike} alike, {unlike} unlike");
    }
}
