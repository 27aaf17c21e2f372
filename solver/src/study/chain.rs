//! Shortest ways through the options of stations in a row or in a ring, and the best way through each option and pair.

/// Weights of options and of pairs of neighbouring options; infinite where something is not allowed.
pub(super) struct Chain {
    /// `[position][option]`.
    pub(super) node: Vec<Vec<f64>>,
    /// `[position][option * options of the next + option of the next]`; in a ring the last leads back to the first.
    pub(super) pair: Vec<Vec<f64>>,
}

/// Least sums.
pub(super) struct Through {
    /// Over all.
    pub(super) best: f64,
    /// Through each option.
    pub(super) node: Vec<Vec<f64>>,
    /// Through each pair.
    pub(super) pair: Vec<Vec<f64>>,
}

impl Chain {
    fn len(&self) -> usize {
        self.node.len()
    }

    /// In a row: the last pair weights (back to the first) are not looked at.
    pub(super) fn row(&self) -> Through {
        let mut through = self.blank();
        let start = vec![0.0; self.node[0].len()];
        let end = vec![0.0; self.node[self.len() - 1].len()];
        self.sweep(&start, &end, &mut through);
        through
    }

    /// In a ring.
    pub(super) fn ring(&self) -> Through {
        let mut through = self.blank();
        let last = self.len() - 1;
        let firsts = self.node[0].len();
        for s in 0..firsts {
            if self.node[0][s].is_infinite() {
                continue;
            }
            let mut start = vec![f64::INFINITY; firsts];
            start[s] = 0.0;
            let end: Vec<f64> = (0..self.node[last].len()).map(|o| self.pair[last][o * firsts + s]).collect();
            let closing = self.sweep(&start, &end, &mut through);
            for (o, sum) in closing.into_iter().enumerate() {
                let at = &mut through.pair[last][o * firsts + s];
                *at = at.min(sum);
            }
        }
        through
    }

    /// Only the least sum in a ring.
    pub(super) fn ring_best(&self) -> f64 {
        let last = self.len() - 1;
        let firsts = self.node[0].len();
        let mut best = f64::INFINITY;
        for s in (0..firsts).filter(|&s| self.node[0][s].is_finite()) {
            let mut sums = vec![f64::INFINITY; firsts];
            sums[s] = self.node[0][s];
            for j in 1..=last {
                let width = self.node[j].len();
                let mut next = vec![f64::INFINITY; width];
                for (o, &so_far) in sums.iter().enumerate().filter(|(_, sum)| sum.is_finite()) {
                    let pairs = &self.pair[j - 1][o * width..(o + 1) * width];
                    for (sum, p) in next.iter_mut().zip(pairs) {
                        *sum = sum.min(so_far + p);
                    }
                }
                for (sum, w) in next.iter_mut().zip(&self.node[j]) {
                    *sum += w;
                }
                sums = next;
            }
            let closed = sums.iter().enumerate().map(|(o, sum)| sum + self.pair[last][o * firsts + s]);
            best = closed.fold(best, f64::min);
        }
        best
    }

    /// In a ring: least sum behind each option of each position, back to the first position's option `first` (that one's own
    /// weight not counted).
    pub(super) fn rest_to(&self, first: usize) -> Vec<Vec<f64>> {
        let n = self.len();
        let firsts = self.node[0].len();
        let mut rest: Vec<Vec<f64>> = self.node.iter().map(|row| vec![f64::INFINITY; row.len()]).collect();
        for (o, at) in rest[n - 1].iter_mut().enumerate() {
            *at = self.pair[n - 1][o * firsts + first];
        }
        for j in (0..n - 1).rev() {
            let width = self.node[j + 1].len();
            for o in 0..self.node[j].len() {
                let ways = (0..width).map(|q| self.pair[j][o * width + q] + self.node[j + 1][q] + rest[j + 1][q]);
                rest[j][o] = ways.fold(f64::INFINITY, f64::min);
            }
        }
        rest
    }

    fn blank(&self) -> Through {
        let infinite = |rows: &[Vec<f64>]| rows.iter().map(|r| vec![f64::INFINITY; r.len()]).collect();
        Through { best: f64::INFINITY, node: infinite(&self.node), pair: infinite(&self.pair) }
    }

    /// Forward and back with given weights before the first and after the last; returns the sums through the last.
    fn sweep(&self, start: &[f64], end: &[f64], through: &mut Through) -> Vec<f64> {
        let n = self.len();
        let mut forward: Vec<Vec<f64>> = Vec::with_capacity(n);
        forward.push(self.node[0].iter().zip(start).map(|(w, s)| w + s).collect());
        for j in 1..n {
            let width = self.node[j].len();
            let mut sums = vec![f64::INFINITY; width];
            for (o, &so_far) in forward[j - 1].iter().enumerate().filter(|(_, s)| s.is_finite()) {
                let pairs = &self.pair[j - 1][o * width..(o + 1) * width];
                for (sum, p) in sums.iter_mut().zip(pairs) {
                    *sum = sum.min(so_far + p);
                }
            }
            for (sum, w) in sums.iter_mut().zip(&self.node[j]) {
                *sum += w;
            }
            forward.push(sums);
        }
        let mut back: Vec<f64> = end.to_vec();
        let mut closing = Vec::new();
        for j in (0..n).rev() {
            let sums: Vec<f64> = forward[j].iter().zip(&back).map(|(f, b)| f + b).collect();
            for (best, &sum) in through.node[j].iter_mut().zip(&sums) {
                *best = best.min(sum);
                through.best = through.best.min(sum);
            }
            if j == n - 1 {
                closing.clone_from(&sums);
            }
            if j == 0 {
                break;
            }
            let width = self.node[j].len();
            let mut before = vec![f64::INFINITY; self.node[j - 1].len()];
            for (o, best) in before.iter_mut().enumerate() {
                if forward[j - 1][o].is_infinite() {
                    continue;
                }
                for (q, &behind) in back.iter().enumerate() {
                    let rest = self.pair[j - 1][o * width + q] + self.node[j][q] + behind;
                    *best = best.min(rest);
                    let at = &mut through.pair[j - 1][o * width + q];
                    *at = at.min(forward[j - 1][o] + rest);
                }
            }
            back = before;
        }
        closing
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sim::tests::Random;

    /// Against plain enumeration on small random rings and rows.
    #[test]
    fn least_ways_are_least() {
        let mut r = Random(3);
        for _ in 0..300 {
            #[allow(clippy::cast_possible_truncation)]
            let sizes: Vec<usize> = (0..1 + r.below(4)).map(|_| 1 + r.below(3) as usize).collect();
            let n = sizes.len();
            #[allow(clippy::cast_precision_loss)]
            let mut weight = || if r.below(6) == 0 { f64::INFINITY } else { r.below(50) as f64 };
            let node: Vec<Vec<f64>> = sizes.iter().map(|&s| (0..s).map(|_| weight()).collect()).collect();
            let mut pair: Vec<Vec<f64>> =
                (0..n).map(|j| (0..sizes[j] * sizes[(j + 1) % n]).map(|_| weight()).collect()).collect();
            if n == 1 {
                let s = sizes[0];
                let unequal = pair[0].iter_mut().enumerate().filter(|(o, _)| o / s != o % s);
                unequal.for_each(|(_, weight)| *weight = f64::INFINITY);
            }
            let chain = Chain { node, pair };
            for closed in [false, true] {
                let through = if closed { chain.ring() } else { chain.row() };
                let mut best = f64::INFINITY;
                let mut by_node = chain.blank().node;
                let mut pick = vec![0; n];
                'all: loop {
                    let mut sum: f64 = (0..n).map(|j| chain.node[j][pick[j]]).sum();
                    for j in 0..n {
                        if closed || j + 1 < n {
                            sum += chain.pair[j][pick[j] * sizes[(j + 1) % n] + pick[(j + 1) % n]];
                        }
                    }
                    best = best.min(sum);
                    for j in 0..n {
                        by_node[j][pick[j]] = f64::min(by_node[j][pick[j]], sum);
                    }
                    for j in 0..n {
                        pick[j] += 1;
                        if pick[j] < sizes[j] {
                            continue 'all;
                        }
                        pick[j] = 0;
                    }
                    break;
                }
                assert_eq!(through.best, best);
                assert!(!closed || chain.ring_best() == best);
                assert_eq!(through.node, by_node);
            }
        }
    }
}
