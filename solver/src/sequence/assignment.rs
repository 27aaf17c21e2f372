//! The linear assignment problem: every row to another column at least cost, with the duals that prove it.

/// Columns by row, and the duals.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Assigned {
    /// Column of each row.
    pub(super) column: Vec<usize>,
    /// Least cost.
    pub(super) cost: i64,
    rows: Vec<i64>,
    columns: Vec<i64>,
}

impl Assigned {
    /// By how much at least the cost rises when the row goes to this column.
    pub(super) fn reduced(&self, cost: i64, row: usize, column: usize) -> i64 {
        cost - self.rows[row] - self.columns[column]
    }
}

/// Shortest augmenting ways (Kuhn 1955, Munkres 1957; in the form of Jonker and Volgenant 1987), cubic in `n`.
pub(super) fn assign(n: usize, cost: impl Fn(usize, usize) -> i64) -> Assigned {
    const FAR: i64 = i64::MAX / 4;
    // Row and column 0 stand for "none".
    let (mut u, mut v) = (vec![0i64; n + 1], vec![0i64; n + 1]);
    let mut row_of = vec![0usize; n + 1];
    for row in 1..=n {
        row_of[0] = row;
        let mut least = vec![FAR; n + 1];
        let mut from = vec![0usize; n + 1];
        let mut done = vec![false; n + 1];
        let mut at = 0;
        loop {
            done[at] = true;
            let here = row_of[at];
            let (mut step, mut next) = (FAR, 0);
            for j in 1..=n {
                if done[j] {
                    continue;
                }
                let reduced = cost(here - 1, j - 1) - u[here] - v[j];
                if reduced < least[j] {
                    (least[j], from[j]) = (reduced, at);
                }
                if least[j] < step {
                    (step, next) = (least[j], j);
                }
            }
            for j in 0..=n {
                if done[j] {
                    u[row_of[j]] += step;
                    v[j] -= step;
                } else {
                    least[j] -= step;
                }
            }
            at = next;
            if row_of[at] == 0 {
                break;
            }
        }
        while at != 0 {
            row_of[at] = row_of[from[at]];
            at = from[at];
        }
    }
    let mut column = vec![0; n];
    for j in 1..=n {
        column[row_of[j] - 1] = j - 1;
    }
    let total = column.iter().enumerate().map(|(i, &j)| cost(i, j)).sum();
    Assigned { column, cost: total, rows: u[1..].to_vec(), columns: v[1..].to_vec() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sim::tests::Random;

    #[test]
    fn the_duals_prove_the_cost() {
        let mut r = Random(5);
        for _ in 0..200 {
            #[allow(clippy::cast_possible_truncation)]
            let n = 1 + r.below(9) as usize;
            #[allow(clippy::cast_possible_wrap)]
            let costs: Vec<i64> = (0..n * n).map(|_| r.below(50) as i64).collect();
            let assigned = assign(n, |i, j| costs[i * n + j]);
            let mut seen = vec![false; n];
            assigned.column.iter().for_each(|&j| seen[j] = true);
            assert!(seen.into_iter().all(|s| s));
            assert!((0..n * n).all(|at| assigned.reduced(costs[at], at / n, at % n) >= 0));
            let duals: i64 = assigned.rows.iter().sum::<i64>() + assigned.columns.iter().sum::<i64>();
            assert_eq!(duals, assigned.cost);
        }
    }
}
