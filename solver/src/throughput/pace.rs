//! Whether a ring keeps a given rate, without its exact one: earliest firing times that repeat at that rate, found by a few
//! sweeps forwards and back along the ring; or a cycle of waits that does not let it.
//!
//! # Source
//! Feasible potentials and the test for a cycle among the links that moved a time last: R. E. Tarjan, *Shortest paths*,
//! 1981; B. V. Cherkassky, A. V. Goldberg, *Negative-cycle detection algorithms*, Mathematical Programming 85, 1999,
//! 277-311 (from memory).

use super::graph::Unfolded;
use super::howard::Ratio;

/// Sweeps before nothing is said.
const MOST_SWEEPS: usize = 40;

/// Times are settled to this many microseconds.
const SETTLED_US: f64 = 1e-6;

const NONE: usize = usize::MAX;

/// Firing times that a ring kept last. Rings of the same batches differ in slots and lags only, so the times of one are a
/// good start for the next.
#[derive(Clone, Debug, Default)]
pub struct Times(Vec<f64>);

/// What the sweeps found.
pub(super) enum Sweeps {
    /// Firing times that repeat every period and keep all waits.
    Kept,
    /// A cycle of waits that takes longer: its ratio, and its links by place in the list.
    Slower(Ratio, Vec<usize>),
    /// Neither in a few sweeps.
    Unknown,
}

struct Arc {
    from: usize,
    /// Time beyond what the tokens of the link give.
    time: f64,
    /// Place of the link in the list.
    link: usize,
}

/// Links by target, and where those of each target begin; of one target the last in the list comes first.
fn by_target(unfolded: &Unfolded, period: f64) -> (Vec<Arc>, Vec<usize>) {
    let mut first = vec![0; unfolded.nodes + 1];
    for &(_, to, _) in &unfolded.links {
        first[to] += 1;
    }
    let mut sum = 0;
    for at in &mut first {
        sum += *at;
        *at = sum;
    }
    let mut arcs: Vec<Arc> = unfolded.links.iter().map(|_| Arc { from: 0, time: 0.0, link: 0 }).collect();
    for (link, &(from, to, wait)) in unfolded.links.iter().enumerate() {
        first[to] -= 1;
        #[allow(clippy::cast_precision_loss)]
        let time = wait.time as f64 - wait.tokens as f64 * period;
        arcs[first[to]] = Arc { from, time, link };
    }
    (arcs, first)
}

/// Looks for firing times that repeat every `period` microseconds an iteration.
pub(super) fn sweeps(unfolded: &Unfolded, period: f64, times: &mut Times) -> Sweeps {
    let nodes = unfolded.nodes;
    let (arcs, first) = by_target(unfolded, period);
    // Any times are a start: those of a ring of other batches are just not a good one.
    let mut at = std::mem::take(&mut times.0);
    if at.len() != nodes {
        at = vec![0.0; nodes];
    }
    let mut waits_for = vec![NONE; nodes];
    let mut settle = |node: usize, waits_for: &mut [usize]| {
        let (mut earliest, mut by) = (at[node] + SETTLED_US, NONE);
        let (start, end) = (first[node], first[node + 1]);
        for (place, arc) in arcs[start..end].iter().enumerate() {
            let time = at[arc.from] + arc.time;
            if time > earliest {
                (earliest, by) = (time, start + place);
            }
        }
        if by != NONE {
            at[node] = earliest;
            waits_for[node] = by;
        }
        by != NONE
    };
    for _ in 0..MOST_SWEEPS {
        let mut moved = false;
        for node in 0..nodes {
            moved |= settle(node, &mut waits_for);
        }
        for node in (0..nodes).rev() {
            moved |= settle(node, &mut waits_for);
        }
        if !moved {
            // Times far from zero would lose digits one day.
            let least = at.iter().copied().fold(f64::INFINITY, f64::min);
            at.iter_mut().for_each(|t| *t -= least);
            times.0 = at;
            return Sweeps::Kept;
        }
        if let Some(cycle) = cycle_of(&arcs, &waits_for) {
            return slower(unfolded, cycle, period).unwrap_or(Sweeps::Unknown);
        }
    }
    Sweeps::Unknown
}

/// A cycle among the links that each firing waits for, each link waiting for the next one in the list.
fn cycle_of(arcs: &[Arc], waits_for: &[usize]) -> Option<Vec<usize>> {
    let mut seen_from = vec![NONE; waits_for.len()];
    for start in 0..waits_for.len() {
        let mut node = start;
        while seen_from[node] == NONE && waits_for[node] != NONE {
            seen_from[node] = start;
            node = arcs[waits_for[node]].from;
        }
        if waits_for[node] == NONE || seen_from[node] != start {
            continue;
        }
        let (end, mut cycle) = (node, Vec::new());
        loop {
            let arc = &arcs[waits_for[node]];
            cycle.push(arc.link);
            node = arc.from;
            if node == end {
                return Some(cycle);
            }
        }
    }
    None
}

/// The cycle with its ratio, when that is above the period in whole numbers too.
fn slower(unfolded: &Unfolded, cycle: Vec<usize>, period: f64) -> Option<Sweeps> {
    let (mut time, mut tokens) = (0, 0);
    for &link in &cycle {
        let wait = unfolded.links[link].2;
        time += wait.time;
        tokens += wait.tokens;
    }
    #[allow(clippy::cast_precision_loss)]
    let above = tokens > 0 && time as f64 > period * tokens as f64;
    above.then(|| Sweeps::Slower(Ratio::new(time, tokens), cycle))
}
