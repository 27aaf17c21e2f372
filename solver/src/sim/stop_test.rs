//! The stop test: no chance; one station of the paced run stands still once, at the worst moment, and the station before it must
//! not be blocked.

use super::flow::{Passages, certain_moments};
use super::scenario::Scenario;
use crate::units::{Micros, gcd};

/// What one stop does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StopTest {
    /// Longest time that a batch of the station before had to wait for room, beyond what it waits without the stop.
    pub blocked: Micros,
    /// Start of the worst stop, after a batch was taken in by the stopped station; none where it is that very moment.
    pub phase: Micros,
    /// From the end of that stop until the stopped station and the one before it run as if it had not been (or the whole loop as
    /// much later); none when that is never seen.
    pub gone_after: Option<Micros>,
}

/// Most moments of one period at which the stop is tried.
const MOST_PHASES: usize = 48;
/// Rounds of all carriers until the paced run counts as steady.
const SETTLING_LAPS: i64 = 12;
/// The queue is looked for at most so many times as long as the stop, and so many rounds more.
const DRAINING: (i64, i64) = (60, 6);

/// The station after `section` stands still for `length`, at each moment of a period at which it takes a batch in, and between; the
/// worst is told. Taking a batch in is delayed most by a stop that begins at that moment. None without a pace, or when
/// nothing moves.
#[must_use]
pub fn stop_test(scenario: &Scenario, section: usize, length: Micros) -> Option<StopTest> {
    let (before, stopped) = (section, scenario.after(section));
    let pace = scenario.pace?.us();
    let of = |i: usize| i64::from(scenario.posts[i].batch);
    let lap = (i64::from(scenario.carriers) * pace / of(0)).max(pace);
    let steady = SETTLING_LAPS * lap;
    let period = period(scenario);
    let last = steady + period + DRAINING.0 * length.us() + DRAINING.1 * lap;
    let end = Micros::from_us(last);
    let plain = certain_moments(scenario, end, None);
    let mut starts: Vec<(i64, i64)> = Vec::new();
    let within: Vec<i64> =
        plain[stopped].taken.iter().copied().filter(|&t| t >= steady && t < steady + period).collect();
    let step = within.len().div_ceil(MOST_PHASES).max(1);
    for (k, &at) in within.iter().enumerate().step_by(step) {
        let next = within.get(k + 1).copied().unwrap_or(steady + period).max(at + 2);
        starts.extend([(at, 0), (at + 1, 1), (at + (next - at) / 2, (next - at) / 2)]);
    }
    let mut worst: Option<StopTest> = None;
    for (start, phase) in starts {
        let with = certain_moments(scenario, end, Some((stopped, Micros::from_us(start), length)));
        let found = StopTest {
            blocked: Micros::from_us(more(&plain[before].held, &with[before].held)),
            phase: Micros::from_us(phase),
            gone_after: gone(&plain, &with, (before, stopped), start + length.us(), last - lap).map(Micros::from_us),
        };
        let rank = |t: &StopTest| (t.blocked, t.gone_after.map_or(i64::MAX, Micros::us));
        if worst.is_none_or(|known| rank(&found) > rank(&known)) {
            worst = Some(found);
        }
    }
    worst
}

/// Time in which every station of every ring takes whole batches at the pace.
fn period(scenario: &Scenario) -> i64 {
    let common = |a: i64, b: i64| {
        let (mut x, mut y) = (a, b);
        while y != 0 {
            (x, y) = (y, x % y);
        }
        a / x.max(1) * b
    };
    let of_ring = |ring: std::ops::Range<usize>| {
        let iteration =
            scenario.posts[ring.clone()].iter().fold(1_u32, |all, post| all / gcd(all, post.batch) * post.batch);
        let pace = scenario.pace_of(ring.start).map_or(1, Micros::us);
        (i64::from(iteration) * pace / i64::from(scenario.posts[ring.start].batch)).max(1)
    };
    scenario.rings().into_iter().map(of_ring).fold(1, common)
}

/// Largest number by which one list exceeds the other.
fn more(plain: &[i64], with: &[i64]) -> i64 {
    plain.iter().zip(with).map(|(a, b)| b - a).max().unwrap_or(0).max(0)
}

/// From `over` until both stations are as late as station 0 is in the end, for good; `last` is the end of what counts as seen.
fn gone(plain: &[Passages], with: &[Passages], at: (usize, usize), over: i64, last: i64) -> Option<i64> {
    let late = |a: &[i64], b: &[i64]| a.len().min(b.len()).checked_sub(1).map(|k| b[k] - a[k]);
    let shift = late(&plain[0].taken, &with[0].taken)?;
    let settled = |a: &[i64], b: &[i64]| -> Option<i64> {
        let both = a.len().min(b.len());
        let from = (0..both).rev().take_while(|&k| b[k] - a[k] == shift).last()?;
        Some(b[from])
    };
    let (before, stopped) = at;
    let taken = settled(&plain[stopped].taken, &with[stopped].taken)?;
    let left = settled(&plain[before].left, &with[before].left)?;
    let first = taken.max(left);
    (first <= last).then_some((first - over).max(0))
}
