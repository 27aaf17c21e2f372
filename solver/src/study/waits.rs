//! Waiting that two neighbouring batch sizes force, however the stations are timed.
//!
//! Carriers leave in batches of `b`, batches at least `up` seconds apart, and are taken in batches of `d`, at least `down`
//! apart. A carrier of an early batch waits for the later ones that complete its next batch; a carrier of a late one waits
//! for the earlier ones that its own batch fills. Both give a least wait; which carriers share a batch depends on an offset
//! modulo `gcd(b, d)`, so the least over offsets is a bound for every plan.

use crate::units::{gcd, lcm};

/// Coefficients for one pair of batch sizes.
#[derive(Clone, Debug, Default)]
pub(super) struct Waits {
    /// For each offset: mean wait in units of `up` and of `down`.
    mean: Vec<(f64, f64)>,
    /// For each offset: longest wait in the same units.
    longest: Vec<(f64, f64)>,
}

impl Waits {
    fn of(b: u32, d: u32) -> Self {
        let period = lcm(b, d);
        let mut waits = Self::default();
        for offset in 0..gcd(b, d) {
            let leave = |j: u32| j / b;
            let take = |j: u32| (j + offset) / d;
            let (mut up, mut down, mut up_most, mut down_most) = (0u32, 0u32, 0u32, 0u32);
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
            }
            let per = f64::from(period);
            waits.mean.push((f64::from(up) / per, f64::from(down) / per));
            waits.longest.push((f64::from(up_most), f64::from(down_most)));
        }
        waits
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

    #[test]
    fn collecting_and_splitting() {
        // Singles collected to fours: the first waits for three more, 1.5 intervals on average.
        let w = Waits::of(1, 4);
        assert!((w.mean(2.0, 0.0) - 3.0).abs() < 1e-12 && (w.longest(2.0, 0.0) - 6.0).abs() < 1e-12);
        // Fours split to singles: likewise by the station after.
        let w = Waits::of(4, 1);
        assert!((w.mean(9.0, 2.0) - 3.0).abs() < 1e-12);
        // Equal batches need not wait.
        assert!(Waits::of(3, 3).mean(1.0, 1.0).abs() < 1e-12);
    }
}
