//! Replications: the same scenario many times over, each with its own luck, until the mean is known well enough.

use super::flow::Game;
use super::scenario::Scenario;
use super::tally::{Seen, Tally};
use crate::units::Micros;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU32, Ordering};

/// How to replicate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Asked {
    /// The same seed gives the same numbers.
    pub seed: u64,
    /// Time that counts in each replication.
    pub length: Micros,
    /// Time before it that does not; found by MSER where none is given.
    pub warm_up: Option<Micros>,
    /// Fewest replications, at least 2.
    pub least: u32,
    /// Most replications.
    pub most: u32,
    /// Half-width of the 95 % confidence interval that is enough, as a share of the mean.
    pub half_width: f64,
    /// Threads; the result does not depend on them.
    pub threads: usize,
}

/// Who is told how far it is, and may break it off.
pub trait Listener: Sync {
    /// So many replications are done, of at most so many.
    fn done(&self, replications: u32, most: u32);
    /// Whether to stop.
    fn stop(&self) -> bool;
}

/// A mean with its uncertainty.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Estimate {
    /// Mean.
    pub mean: f64,
    /// Half-width of the 95 % confidence interval; 0 of a single number.
    pub half_width: f64,
}

impl Estimate {
    /// From independent numbers, with Student's t.
    #[must_use]
    #[allow(clippy::cast_precision_loss)]
    pub fn of(numbers: &[f64]) -> Self {
        let n = numbers.len() as f64;
        let mean = numbers.iter().sum::<f64>() / n.max(1.0);
        if numbers.len() < 2 {
            return Self { mean, half_width: 0.0 };
        }
        let squares: f64 = numbers.iter().map(|x| (x - mean) * (x - mean)).sum();
        Self { mean, half_width: student(n - 1.0) * (squares / (n - 1.0) / n).sqrt() }
    }
}

/// Quantile 0.975 of Student's t: exact for one and two degrees of freedom, else the expansion of Abramowitz and Stegun, *Handbook
/// of Mathematical Functions*, 1964, formula 26.7.5.
fn student(freedom: f64) -> f64 {
    const Z: f64 = 1.959_963_984_540_054;
    if freedom < 1.5 {
        return 12.706_204_736_432_1;
    }
    if freedom < 2.5 {
        return 4.302_652_729_911_3;
    }
    let (z3, z5, z7, z9) = (Z.powi(3), Z.powi(5), Z.powi(7), Z.powi(9));
    let n = freedom;
    Z + (z3 + Z) / (4.0 * n)
        + (5.0 * z5 + 16.0 * z3 + 3.0 * Z) / (96.0 * n * n)
        + (3.0 * z7 + 19.0 * z5 + 17.0 * z3 - 15.0 * Z) / (384.0 * n.powi(3))
        + (79.0 * z9 + 776.0 * z7 + 1482.0 * z5 - 1920.0 * z3 - 945.0 * Z) / (92_160.0 * n.powi(4))
}

/// What the replications gave.
#[derive(Clone, Debug, PartialEq)]
pub struct Replicated {
    /// Carriers a second past the last station, in each replication.
    pub rates: Vec<f64>,
    /// Their mean.
    pub rate: Estimate,
    /// Left out at the start of each.
    pub warm_up: Micros,
    /// Whether the half-width that was asked for is reached.
    pub reached: bool,
    /// All replications together.
    pub seen: Seen,
}

/// Equal parts of a run in which the pilot replications are counted.
const BINS: usize = 200;
/// Pilot replications, by which the warm-up is found.
const PILOTS: u32 = 10;
/// Most carriers' events of one replication would be too many for a listener to wait for.
const CHUNK: u32 = 64;

/// Plays replications until the half-width is reached, or the most. None when it was stopped before two were done.
#[must_use]
pub fn replicate(scenario: &Scenario, asked: &Asked, listener: &dyn Listener) -> Option<Replicated> {
    let warm_up = match asked.warm_up {
        Some(given) => given,
        None => warm_up(scenario, asked, listener)?,
    };
    let end = warm_up.us() + asked.length.us();
    let seconds = asked.length.seconds();
    let mut rates: Vec<f64> = Vec::new();
    let mut seen: Option<Seen> = None;
    let mut wanted = asked.least.max(2);
    let mut reached = false;
    while !reached && !listener.stop() {
        let from = u32::try_from(rates.len()).unwrap_or(u32::MAX);
        let to = wanted.min(asked.most.max(2)).min(from + CHUNK);
        if to <= from {
            break;
        }
        let tally = || Tally::detailed(scenario, warm_up.us(), end, 0);
        let Some(played) = spread(scenario, asked, from..to, tally, listener) else { break };
        for tally in played {
            #[allow(clippy::cast_precision_loss)]
            rates.push(tally.out as f64 / seconds);
            match (&mut seen, tally.seen()) {
                (Some(all), Some(one)) => all.add(&one),
                (all, one) => *all = one,
            }
        }
        listener.done(to, asked.most);
        let rate = Estimate::of(&rates);
        reached = rate.half_width <= asked.half_width * rate.mean && rates.len() >= asked.least as usize;
        if !reached && to >= wanted {
            // As many as the spread so far asks for, a tenth more, at least a half more.
            let factor = (rate.half_width / (asked.half_width * rate.mean)).powi(2) * 1.1;
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let more = (f64::from(to) * factor.clamp(1.5, 1e6)).min(f64::from(u32::MAX)) as u32;
            wanted = more.max(to + 1);
        }
    }
    let rate = Estimate::of(&rates);
    (rates.len() >= 2).then(|| Replicated { rates, rate, warm_up, reached, seen: seen.unwrap_or_default() })
}

/// MSER (K. P. White, "An effective truncation heuristic for bias reduction in simulation output", Simulation 69, 1997) on
/// the mean of pilot replications: what is left out makes the standard error of the rest least, and is at most half.
fn warm_up(scenario: &Scenario, asked: &Asked, listener: &dyn Listener) -> Option<Micros> {
    let length = asked.length.us();
    let tally = || Tally::binned(scenario, 0, length, BINS);
    let pilots = spread(scenario, asked, 0..PILOTS, tally, listener)?;
    let mut sums = vec![0.0; BINS];
    for pilot in &pilots {
        sums.iter_mut().zip(&pilot.bins).for_each(|(sum, &count)| *sum += f64::from(count));
    }
    let cut = truncation(&sums);
    Some(Micros::from_us(length / i64::try_from(BINS).unwrap_or(1) * i64::try_from(cut).unwrap_or(0)))
}

/// How many numbers at the start MSER leaves out.
#[allow(clippy::cast_precision_loss)]
fn truncation(series: &[f64]) -> usize {
    let (mut best, mut cut) = (f64::INFINITY, 0);
    for d in 0..=series.len() / 2 {
        let rest = &series[d..];
        let n = rest.len() as f64;
        let mean = rest.iter().sum::<f64>() / n;
        let squares: f64 = rest.iter().map(|x| (x - mean) * (x - mean)).sum();
        let statistic = squares / (n * n);
        if statistic < best {
            (best, cut) = (statistic, d);
        }
    }
    cut
}

/// Plays these replications on all threads; in order of their numbers. None when stopped.
fn spread<'a>(
    scenario: &'a Scenario,
    asked: &Asked,
    numbers: std::ops::Range<u32>,
    tally: impl Fn() -> Tally<'a> + Sync,
    listener: &dyn Listener,
) -> Option<Vec<Tally<'a>>> {
    let next = AtomicU32::new(numbers.start);
    let all = Mutex::new(Vec::new());
    let work = || {
        while !listener.stop() {
            let number = next.fetch_add(1, Ordering::Relaxed);
            if number >= numbers.end {
                return;
            }
            let played = Game::new(scenario, asked.seed, number, tally()).play();
            if let Ok(mut all) = all.lock() {
                all.push((number, played));
            }
        }
    };
    std::thread::scope(|scope| {
        for _ in 1..asked.threads.clamp(1, numbers.len().max(1)) {
            scope.spawn(work);
        }
        work();
    });
    let mut all = all.into_inner().ok()?;
    all.sort_by_key(|played| played.0);
    (all.len() == numbers.len()).then(|| all.into_iter().map(|played| played.1).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Printed in every table of the distribution (for instance Abramowitz and Stegun 1964, table 26.10).
    #[test]
    fn quantiles_of_student() {
        for (freedom, value) in [(1.0, 12.706), (2.0, 4.303), (4.0, 2.776), (9.0, 2.262), (29.0, 2.045), (120.0, 1.980)]
        {
            let found: f64 = student(freedom);
            assert!((found - value).abs() < 2e-3, "{freedom}: {found}, printed {value}");
        }
    }

    #[test]
    fn the_start_is_cut_off() {
        let steady = [5.0, 4.0, 6.0, 5.0];
        let mut series = vec![0.0, 1.0, 2.0, 3.0];
        series.extend(steady.iter().cycle().take(60));
        assert_eq!(truncation(&series), 4);
        assert_eq!(truncation(&series[4..]), 0);
    }
}
