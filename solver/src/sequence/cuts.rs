//! The bound: assignment relaxation with subtour cuts (Dantzig, Fulkerson and Johnson 1954), solved through the seam.
//!
//! Arcs whose reduced cost in the assignment already exceeds what a better tour may cost are left out. Cuts are the least
//! cuts between nodes in the relaxed solution; when none is left, whole numbers are asked for.

use super::Arcs;
use super::assignment::Assigned;
use crate::milp::{Answer, Program};
use crate::study::Clock;

/// A cut must be violated by this.
const VIOLATED: f64 = 1e-6;

/// Rounding that the relaxed optimum is allowed, relative to its size.
const ROUNDING: f64 = 1e-9;

/// Share of the time left that the program in whole numbers gets at most at once.
const WHOLE_SHARE: f64 = 0.6;

/// Relaxations with more arcs are not solved: the bound of the assignment stands.
const MOST_ARCS: usize = 20_000;

pub(super) struct Bounded {
    /// No tour costs less.
    pub(super) bound: i64,
    /// A tour that costs less than the known one.
    pub(super) tour: Option<Vec<usize>>,
}

struct Relaxation<'a> {
    arcs: &'a Arcs,
    /// Arcs that a better tour may use.
    used: Vec<(usize, usize)>,
    /// Sets that every tour leaves.
    sets: Vec<Vec<bool>>,
    scale: f64,
}

pub(super) fn bound(arcs: &Arcs, assigned: &Assigned, known: i64, clock: &Clock<'_>) -> Bounded {
    let room = known - assigned.cost;
    let n = arcs.n;
    let may =
        |i: usize, j: usize| i != j && arcs.of(i, j) < arcs.barred && assigned.reduced(arcs.of(i, j), i, j) < room;
    let used: Vec<(usize, usize)> =
        (0..n).flat_map(|i| (0..n).map(move |j| (i, j))).filter(|&(i, j)| may(i, j)).collect();
    if used.len() > MOST_ARCS {
        return Bounded { bound: assigned.cost, tour: None };
    }
    #[allow(clippy::cast_precision_loss)]
    let scale = (known.max(1) as f64 / n as f64).max(1.0);
    let mut relaxation = Relaxation { arcs, used, sets: cycles(&assigned.column), scale };
    let mut best = assigned.cost;
    let mut whole = false;
    while !clock.over() {
        let seconds = if whole { clock.left() * WHOLE_SHARE } else { clock.left() };
        let (value, x) = match relaxation.program(whole).solve(seconds) {
            Answer::Optimal { value, values } => (value, values),
            // No tour is better than the known one.
            Answer::Infeasible => return Bounded { bound: known, tour: None },
            Answer::Unknown => break,
        };
        // Costs are whole: the bound may be rounded up.
        #[allow(clippy::cast_possible_truncation)]
        let at_least = ((value - value.abs() * ROUNDING - 1e-7) * relaxation.scale).ceil() as i64;
        best = best.max(at_least).min(known);
        if best >= known {
            return Bounded { bound: known, tour: None };
        }
        let fresh = relaxation.violated(&x);
        if fresh.is_empty() {
            if let Some(tour) = relaxation.tour(&x) {
                let cost = arcs.along(&tour);
                // A tour that is the optimum of a relaxation is the least there is.
                if cost < known {
                    return Bounded { bound: cost.min(best.max(cost)), tour: Some(tour) };
                }
                return Bounded { bound: known, tour: None };
            }
            if whole {
                break;
            }
            whole = true;
        }
        tracing::debug!(best, known, whole, sets = relaxation.sets.len(), arcs = relaxation.used.len(), "subtour cuts");
        relaxation.sets.extend(fresh);
    }
    Bounded { bound: best, tour: None }
}

/// The cycles of an assignment as sets, when it has several.
fn cycles(column: &[usize]) -> Vec<Vec<bool>> {
    let n = column.len();
    let mut seen = vec![false; n];
    let mut sets = Vec::new();
    for i in 0..n {
        if seen[i] {
            continue;
        }
        let mut set = vec![false; n];
        let mut at = i;
        while !seen[at] {
            (seen[at], set[at]) = (true, true);
            at = column[at];
        }
        sets.push(set);
    }
    if sets.len() == 1 { Vec::new() } else { sets }
}

impl Relaxation<'_> {
    fn program(&self, whole: bool) -> Program {
        let n = self.arcs.n;
        let mut p = Program::default();
        let (mut rows, mut columns) = (vec![Vec::new(); n], vec![Vec::new(); n]);
        for &(i, j) in &self.used {
            #[allow(clippy::cast_precision_loss)]
            let x = p.column(0.0, 1.0, whole, self.arcs.of(i, j) as f64 / self.scale);
            rows[i].push((x, 1.0));
            columns[j].push((x, 1.0));
        }
        for terms in rows.into_iter().chain(columns) {
            p.row(terms, 1.0, 1.0);
        }
        for set in &self.sets {
            let leaving = self.used.iter().enumerate().filter(|(_, (i, j))| set[*i] && !set[*j]);
            p.row(leaving.map(|(x, _)| (x, 1.0)).collect(), 1.0, f64::INFINITY);
        }
        p
    }

    /// Sets that too little leaves: least cuts between the first node and each other, each set once.
    fn violated(&self, x: &[f64]) -> Vec<Vec<bool>> {
        let n = self.arcs.n;
        let mut flow = vec![0.0; n * n];
        for (&(i, j), &value) in self.used.iter().zip(x) {
            flow[i * n + j] = value.max(0.0);
        }
        let mut found: Vec<Vec<bool>> = Vec::new();
        // As much enters a set as leaves it, so that ways from the first node are enough.
        for to in 1..n {
            if found.iter().any(|set| set[0] != set[to]) && found.len() >= n {
                continue;
            }
            let set = least_cut(n, &flow, to);
            let out: f64 = (0..n * n).filter(|at| set[at / n] && !set[at % n]).map(|at| flow[at]).sum();
            if out < 1.0 - VIOLATED && !found.contains(&set) && !self.sets.contains(&set) {
                found.push(set);
            }
        }
        found
    }

    /// The tour that a solution in whole numbers is.
    fn tour(&self, x: &[f64]) -> Option<Vec<usize>> {
        let n = self.arcs.n;
        let mut next = vec![None; n];
        for (&(i, j), &value) in self.used.iter().zip(x) {
            if (value - 1.0).abs() < VIOLATED {
                next[i] = Some(j);
            } else if value > VIOLATED {
                return None;
            }
        }
        let mut tour = vec![0];
        while tour.len() < n {
            let after = next[tour[tour.len() - 1]]?;
            if after == 0 {
                return None;
            }
            tour.push(after);
        }
        Some(tour)
    }
}

/// Nodes that can still be reached from node 0 when the largest flow to `to` runs (Edmonds and Karp 1972).
fn least_cut(n: usize, capacity: &[f64], to: usize) -> Vec<bool> {
    let mut rest = capacity.to_vec();
    loop {
        let mut from = vec![usize::MAX; n];
        from[0] = 0;
        let mut open = std::collections::VecDeque::from([0]);
        while let Some(i) = open.pop_front() {
            for j in 0..n {
                if from[j] == usize::MAX && rest[i * n + j] > VIOLATED / 10.0 {
                    from[j] = i;
                    open.push_back(j);
                }
            }
        }
        if from[to] == usize::MAX {
            return from.into_iter().map(|f| f < usize::MAX).collect();
        }
        let mut most = f64::INFINITY;
        let mut at = to;
        while at != 0 {
            most = most.min(rest[from[at] * n + at]);
            at = from[at];
        }
        let mut at = to;
        while at != 0 {
            rest[from[at] * n + at] -= most;
            rest[at * n + from[at]] += most;
            at = from[at];
        }
    }
}
