//! The least order by dynamic programming over what has been run (Bellman 1962; Held and Karp 1962), with several lots of a
//! SKU counted instead of told apart.

use super::{Costs, Shape};

/// More values are not kept.
const MOST_VALUES: usize = 6_000_000;

/// More comparisons are not made.
const MOST_STEPS: usize = 120_000_000;

/// Kinds in order, and their cost; none when it would be too large. Lots must fit apart.
pub(super) fn order(costs: &Costs, lots: &[u32], shape: Shape) -> Option<(Vec<usize>, i64)> {
    let n = lots.len();
    // A cycle may be cut open before any lot: one of the kind with the most lots, which leaves the fewest states.
    let first = match shape {
        Shape::Cyclic => Some((0..n).max_by_key(|&k| (lots[k], n - k))?),
        Shape::Open => None,
    };
    let left: Vec<usize> = (0..n).map(|k| lots[k] as usize - usize::from(first == Some(k))).collect();
    let mut weight = vec![1usize; n];
    let mut states = 1usize;
    for k in 0..n {
        weight[k] = states;
        states = states.checked_mul(left[k] + 1)?;
    }
    let values = states.checked_mul(n)?;
    if values > MOST_VALUES || values.checked_mul(n)? > MOST_STEPS {
        return None;
    }
    let count = |state: usize, k: usize| state / weight[k] % (left[k] + 1);
    let mut least = vec![i64::MAX; values];
    match first {
        Some(k) => least[k] = 0,
        None => (0..n).for_each(|k| least[weight[k] * n + k] = 0),
    }
    for state in 0..states {
        for last in 0..n {
            let so_far = least[state * n + last];
            if so_far == i64::MAX {
                continue;
            }
            for next in (0..n).filter(|&k| k != last && count(state, k) < left[k]) {
                let at = &mut least[(state + weight[next]) * n + next];
                *at = (*at).min(so_far + costs.of(last, next));
            }
        }
    }
    let back = |last: usize| first.filter(|&k| k != last).map_or(0, |k| costs.of(last, k));
    let mut state = states - 1;
    let ends = (0..n).filter(|&k| least[state * n + k] < i64::MAX && first != Some(k));
    let mut last = ends.min_by_key(|&k| least[state * n + k] + back(k))?;
    let total = least[state * n + last] + back(last);
    let mut order = vec![last];
    loop {
        let value = least[state * n + last];
        if state < weight[last] || count(state, last) == 0 {
            break;
        }
        let before = state - weight[last];
        let from = (0..n).find(|&k| {
            let so_far = least[before * n + k];
            k != last && so_far < i64::MAX && so_far + costs.of(k, last) == value
        });
        let Some(from) = from else { break };
        (state, last) = (before, from);
        order.push(last);
    }
    order.reverse();
    Some((order, total))
}
