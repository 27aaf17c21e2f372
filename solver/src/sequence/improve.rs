//! A good tour: subtours of the assignment patched together (Karp 1979), and nearest neighbours, each improved by moving
//! segments without turning them round (which would change every cost within), then kicked and improved again.

use super::Arcs;
use super::assignment::Assigned;
use crate::study::Clock;

/// Kicks for each node.
const KICKS: usize = 40;

/// Kicks at most.
const MOST_KICKS: usize = 4_000;

/// The longest segment that is moved in a large problem.
const LONGEST_SEGMENT: usize = 60;

/// Local: the same problem always gets the same tour, unless time runs out.
struct Kicks(u64);

impl Kicks {
    fn below(&mut self, n: usize) -> usize {
        // The generator of Knuth's MMIX.
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        #[allow(clippy::cast_possible_truncation)]
        let high = (self.0 >> 33) as usize;
        high % n
    }
}

pub(super) fn tour(arcs: &Arcs, assigned: &Assigned, clock: &Clock<'_>) -> Vec<usize> {
    let mut best = patched(arcs, assigned);
    move_segments(arcs, &mut best, clock);
    let mut least = arcs.along(&best);
    for first in 0..arcs.n {
        if least <= assigned.cost || clock.over() {
            return best;
        }
        let mut tour = nearest(arcs, first);
        move_segments(arcs, &mut tour, clock);
        let cost = arcs.along(&tour);
        if cost < least {
            (best, least) = (tour, cost);
        }
    }
    let mut kicks = Kicks(1);
    let mut now = best.clone();
    let mut now_cost = least;
    for round in 0..(KICKS * arcs.n).min(MOST_KICKS) {
        if least <= assigned.cost || clock.over() {
            break;
        }
        let mut tour = kicked(&now, &mut kicks);
        move_segments(arcs, &mut tour, clock);
        let cost = arcs.along(&tour);
        // Equal tours are walked on to: matrices of changes have many.
        if cost <= now_cost {
            (now, now_cost) = (tour, cost);
        }
        if now_cost < least {
            (best, least) = (now.clone(), now_cost);
        } else if round % (4 * arcs.n) == 0 {
            (now, now_cost) = (best.clone(), least);
        }
    }
    best
}

/// The cycles of the assignment, joined two and two where it costs least, largest first.
fn patched(arcs: &Arcs, assigned: &Assigned) -> Vec<usize> {
    let mut next = assigned.column.clone();
    loop {
        let mut cycle = vec![usize::MAX; arcs.n];
        let mut sizes: Vec<usize> = Vec::new();
        for i in 0..arcs.n {
            if cycle[i] < usize::MAX {
                continue;
            }
            let (mut at, mut size) = (i, 0);
            while cycle[at] == usize::MAX {
                cycle[at] = sizes.len();
                size += 1;
                at = next[at];
            }
            sizes.push(size);
        }
        if sizes.len() == 1 {
            break;
        }
        let largest = (0..sizes.len()).max_by_key(|&c| sizes[c]).unwrap_or(0);
        let mut swap = (i64::MAX, 0, 0);
        for i in (0..arcs.n).filter(|&i| cycle[i] == largest) {
            for j in (0..arcs.n).filter(|&j| cycle[j] != largest) {
                let rise = arcs.of(i, next[j]) + arcs.of(j, next[i]) - arcs.of(i, next[i]) - arcs.of(j, next[j]);
                swap = swap.min((rise, i, j));
            }
        }
        next.swap(swap.1, swap.2);
    }
    let mut tour = Vec::with_capacity(arcs.n);
    let mut at = 0;
    for _ in 0..arcs.n {
        tour.push(at);
        at = next[at];
    }
    tour
}

fn nearest(arcs: &Arcs, first: usize) -> Vec<usize> {
    let mut tour = vec![first];
    let mut left: Vec<usize> = (0..arcs.n).filter(|&i| i != first).collect();
    while let Some(at) = (0..left.len()).min_by_key(|&at| arcs.of(tour[tour.len() - 1], left[at])) {
        tour.push(left.swap_remove(at));
    }
    tour
}

/// Moves segments to where they cost less until none does: the three-exchange that keeps directions.
fn move_segments(arcs: &Arcs, tour: &mut [usize], clock: &Clock<'_>) {
    let n = tour.len();
    if n < 3 {
        return;
    }
    let longest = LONGEST_SEGMENT.min(n - 2);
    loop {
        let mut moved = false;
        for from in 0..n {
            if clock.over() {
                return;
            }
            // Turned, so that the segment begins at place 1.
            tour.rotate_left(usize::from(from > 0));
            for length in 1..=longest {
                let (before, first, last, behind) = (tour[0], tour[1], tour[length], tour[(length + 1) % n]);
                let taken = arcs.of(before, first) + arcs.of(last, behind) - arcs.of(before, behind);
                if taken <= 0 {
                    continue;
                }
                let gain = (length + 1..n).find(|&at| {
                    let (a, b) = (tour[at], tour[(at + 1) % n]);
                    taken > arcs.of(a, first) + arcs.of(last, b) - arcs.of(a, b)
                });
                if let Some(at) = gain {
                    tour[1..=at].rotate_left(length);
                    moved = true;
                    break;
                }
            }
        }
        if !moved {
            return;
        }
    }
}

/// Two neighbouring segments change places: no direction is turned.
fn kicked(tour: &[usize], kicks: &mut Kicks) -> Vec<usize> {
    let n = tour.len();
    if n < 5 {
        return tour.to_vec();
    }
    let turn = kicks.below(n);
    // Short segments keep most of what is good.
    let longest = (n - 1) / 2;
    let (a, b) = (1 + kicks.below(longest.min(12)), 1 + kicks.below(longest.min(12)));
    let mut kicked: Vec<usize> = (0..n).map(|i| tour[(turn + i) % n]).collect();
    kicked[1..=(a + b).min(n - 1)].rotate_left(a);
    kicked
}
