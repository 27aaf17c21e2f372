//! Waiting that two neighbouring batch sizes force, however the stations are timed.
//!
//! Carriers leave in batches of `b`, batches at least `up` seconds apart, and are taken in batches of `d`, at least `down`
//! apart. A carrier of an early batch waits for the later ones that complete its next batch; a carrier of a late one waits
//! for the earlier ones that its own batch fills. Both give a least wait; which carriers share a batch depends on an offset
//! modulo `gcd(b, d)`, so the least over offsets is a bound for every plan.
//!
//! Where the offset is known, more is: batches pass at the mean rate, so that the time between them is not only at least a
//! cycle each, but also that of the rate on average. What a cycle each leaves over passes in some gap between batches, at
//! best in the one over which fewest carriers wait; where no gap is without waiting carriers, it costs.

use crate::units::{gcd, lcm};

/// Coefficients for one pair of batch sizes.
#[derive(Clone, Debug, Default)]
pub(super) struct Waits {
    /// For each offset: mean wait in units of `up` and of `down`.
    mean: Vec<(f64, f64)>,
    /// For each offset: longest wait in the same units.
    longest: Vec<(f64, f64)>,
    /// For each offset: the fewest carriers that wait over any one gap between batches, upstream and downstream.
    gap: Vec<(f64, f64)>,
    batches: (f64, f64),
}

impl Waits {
    fn of(b: u32, d: u32) -> Self {
        let period = lcm(b, d);
        let mut waits = Self { batches: (f64::from(b), f64::from(d)), ..Self::default() };
        for offset in 0..gcd(b, d) {
            let leave = |j: u32| j / b;
            let take = |j: u32| (j + offset) / d;
            let (mut up, mut down, mut up_most, mut down_most) = (0u32, 0u32, 0u32, 0u32);
            // Carriers that wait over each gap, by the batch before it within the period.
            let (mut over_up, mut over_down) = (vec![0u32; (period / b) as usize], vec![0u32; (period / d) as usize]);
            // Start a period late, so that every carrier's batches are whole.
            for j in period..2 * period {
                let last_in_take = (take(j) + 1) * d - 1 - offset;
                let late = leave(last_in_take) - leave(j);
                let first_in_leave = leave(j) * b;
                let early = take(j) - take(first_in_leave);
                up += late;
                down += early;
                up_most = up_most.max(late);
                down_most = down_most.max(early);
                (leave(j)..leave(last_in_take)).for_each(|n| over_up[(n % (period / b)) as usize] += 1);
                (take(first_in_leave)..take(j)).for_each(|n| over_down[(n % (period / d)) as usize] += 1);
            }
            let per = f64::from(period);
            waits.mean.push((f64::from(up) / per, f64::from(down) / per));
            waits.longest.push((f64::from(up_most), f64::from(down_most)));
            let least = |over: &[u32]| f64::from(over.iter().copied().min().unwrap_or(0));
            waits.gap.push((least(&over_up), least(&over_down)));
        }
        waits
    }

    /// Offsets: so many starts of the section between are unlike.
    pub(super) fn offsets(&self) -> u32 {
        u32::try_from(self.mean.len()).unwrap_or(1).max(1)
    }

    /// Least mean wait at `rate` carriers a second, when the section between starts with `start` carriers.
    pub(super) fn mean_from(&self, start: u32, (up, down): (f64, f64), rate: f64) -> f64 {
        let offset = (start % self.offsets()) as usize;
        let (Some(mean), Some(gap)) = (self.mean.get(offset), self.gap.get(offset)) else { return 0.0 };
        // Seconds that each batch's interval has beyond its cycle, on average.
        let over = |batch: f64, cycle: f64| (batch / rate - cycle).max(0.0) / batch;
        let (b, d) = self.batches;
        (mean.0 * up + gap.0 * over(b, up)).max(mean.1 * down + gap.1 * over(d, down))
    }

    /// Least mean wait.
    pub(super) fn mean(&self, up: f64, down: f64) -> f64 {
        least(&self.mean, up, down)
    }

    /// Least longest wait.
    pub(super) fn longest(&self, up: f64, down: f64) -> f64 {
        least(&self.longest, up, down)
    }
}

fn least(coefficients: &[(f64, f64)], up: f64, down: f64) -> f64 {
    coefficients.iter().map(|c| (c.0 * up).max(c.1 * down)).fold(f64::INFINITY, f64::min)
}

/// All pairs of batch sizes up to the largest.
#[derive(Clone, Debug)]
pub(super) struct WaitTable {
    largest: u32,
    waits: Vec<Waits>,
}

impl WaitTable {
    pub(super) fn new(batches: impl Iterator<Item = u32>) -> Self {
        let mut used: Vec<u32> = batches.collect();
        used.sort_unstable();
        used.dedup();
        let largest = used.last().copied().unwrap_or(1);
        let mut waits = vec![Waits::default(); (largest * largest) as usize];
        for &b in &used {
            for &d in &used {
                waits[((b - 1) * largest + d - 1) as usize] = Waits::of(b, d);
            }
        }
        Self { largest, waits }
    }

    pub(super) fn of(&self, b: u32, d: u32) -> &Waits {
        &self.waits[((b - 1) * self.largest + d - 1) as usize]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::option::Flow;
    use crate::ring::{Ring, RingSection, RingStation};
    use crate::sim::tests::Random;
    use crate::throughput::{Times, rate_or_miss_from};
    use crate::units::Micros;

    #[test]
    fn collecting_and_splitting() {
        // Singles collected to fours: the first waits for three more, 1.5 intervals on average.
        let w = Waits::of(1, 4);
        assert!((w.mean(2.0, 0.0) - 3.0).abs() < 1e-12 && (w.longest(2.0, 0.0) - 6.0).abs() < 1e-12);
        // Fours split to singles: likewise by the station after.
        let w = Waits::of(4, 1);
        assert!((w.mean(9.0, 2.0) - 3.0).abs() < 1e-12);
        // Equal batches need not wait, but do when each takes half of two: one of two waits for one interval.
        let w = Waits::of(2, 2);
        assert!(w.mean_from(4, (1.0, 1.0), 0.5).abs() < 1e-12);
        assert!((w.mean_from(3, (1.0, 1.0), 0.5) - 2.0).abs() < 1e-12);
        assert!(Waits::of(3, 3).mean(1.0, 1.0).abs() < 1e-12);
    }

    /// On random rings and starts, at their exact rates: carriers suffice for the way round with the waiting that the start
    /// forces; and often that is more than the least of any start.
    #[test]
    #[allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap)]
    fn no_rate_is_higher_than_the_waits_of_its_start_allow() {
        let mut r = Random(11);
        let (mut looked_at, mut tight, mut more) = (0, 0, 0);
        for round in 0..3_000 {
            let n = 2 + r.below(3) as usize;
            let micros = |r: &mut Random, most: u64| Micros::from_us(100_000 * (1 + r.below(most)) as i64);
            let station = |r: &mut Random| {
                let (cycle, batch) = (micros(r, 12), 1 + r.below(4) as u32);
                let flow = [Flow::Stop, Flow::Train(3), Flow::Through][r.below(3) as usize];
                let residence = if flow == Flow::Stop { cycle } else { micros(r, 30) };
                RingStation { batch, cycle, move_in: Micros::from_us(cycle.us() / 2), residence, flow }
            };
            let stations: Vec<RingStation> = (0..n).map(|_| station(&mut r)).collect();
            let section = |r: &mut Random| RingSection { slots: 8 + r.below(9) as u32, lag: micros(r, 20) };
            let sections: Vec<RingSection> = (0..n).map(|_| section(&mut r)).collect();
            let start: Vec<u32> = sections.iter().map(|s| r.below(u64::from(s.slots) + 1) as u32).collect();
            let ring = Ring { stations, sections, carriers: start.iter().sum() };
            let Some((rate, _)) = rate_or_miss_from(&ring, &start, None, &mut Times::default()) else { continue };
            if rate.carriers <= 0 {
                continue;
            }
            let rate = rate.rate().as_per_second();
            let (mut way, mut least) = (0.0, 0.0);
            for (i, &first) in start.iter().enumerate() {
                let (up, down) = (ring.stations[i], ring.stations[ring.next(i)]);
                let waits = Waits::of(up.batch, down.batch);
                let cycles = (up.cycle.seconds(), down.cycle.seconds());
                let alone = up.residence.seconds() + ring.sections[i].lag.seconds();
                way += alone + waits.mean_from(first, cycles, rate);
                least += alone + waits.mean(cycles.0, cycles.1);
            }
            let carriers = f64::from(ring.carriers);
            assert!(rate * way <= carriers * (1.0 + 1e-9), "round {round}: {way} s at {rate}: {ring:?} from {start:?}");
            looked_at += 1;
            tight += u32::from(rate * way > carriers * (1.0 - 1e-6));
            more += u32::from(way > least + 1e-6);
        }
        assert!(looked_at > 2_000 && tight > 50 && more > 500, "{looked_at} {tight} {more}");
    }
}
