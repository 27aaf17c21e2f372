//! Largest cycle ratio by Howard's policy iteration, on integers.
//!
//! # Source
//! J. Cochet-Terrasson, G. Cohen, S. Gaubert, M. Mc Gettrick, J.-P. Quadrat, *Numerical computation of spectral elements
//! in max-plus algebra*, IFAC SSC 1998. Here each firing's policy is the one link that it waits for; values are kept as
//! whole numbers by scaling with the denominator of the current ratio, so that "no better" is exact and the iteration
//! ends.

use super::graph::{EventGraph, Link};
use petgraph::Direction;
use petgraph::graph::EdgeIndex;
use petgraph::visit::EdgeRef;

/// `time / tokens` of a cycle, in lowest terms.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ratio {
    /// Microseconds.
    pub time: i64,
    /// Iterations, above 0.
    pub tokens: i64,
}

impl Ratio {
    pub(super) fn new(time: i64, tokens: i64) -> Self {
        fn gcd(a: i64, b: i64) -> i64 {
            if b == 0 { a.abs() } else { gcd(b, a % b) }
        }
        let g = gcd(time, tokens).max(1);
        Self { time: time / g, tokens: tokens / g }
    }

    fn above(self, other: Self) -> bool {
        i128::from(self.time) * i128::from(other.tokens) > i128::from(other.time) * i128::from(self.tokens)
    }
}

/// The largest ratio and a cycle that has it.
#[derive(Clone, Debug)]
pub struct Critical {
    /// The ratio.
    pub ratio: Ratio,
    /// Links of the cycle, each waiting for the next one in the list.
    pub cycle: Vec<EdgeIndex>,
}

struct Arc {
    from: usize,
    time: i64,
    tokens: i64,
    edge: EdgeIndex,
}

/// The largest cycle ratio; `None` when a cycle has no tokens (nothing can ever fire) or there is no cycle at all.
#[must_use]
pub fn largest_ratio(graph: &EventGraph) -> Option<Critical> {
    ratio_above(graph, f64::INFINITY)
}

/// The largest cycle ratio, or the first cycle met whose ratio is above `limit` (microseconds an iteration): enough to know
/// that a rate is missed.
#[must_use]
pub fn ratio_above(graph: &EventGraph, limit: f64) -> Option<Critical> {
    let inner = graph.inner();
    let nodes = inner.node_count();
    // Incoming links, grouped by target.
    let mut arcs: Vec<Arc> = Vec::with_capacity(inner.edge_count());
    let mut first = Vec::with_capacity(nodes + 1);
    for node in inner.node_indices() {
        first.push(arcs.len());
        for edge in inner.edges_directed(node, Direction::Incoming) {
            let Link { time, tokens, .. } = *edge.weight();
            arcs.push(Arc { from: edge.source().index(), time, tokens, edge: edge.id() });
        }
    }
    first.push(arcs.len());
    if stuck(nodes, &arcs, &first) {
        return None;
    }
    Policy::new(nodes, &arcs, &first)?.iterate(limit)
}

/// Whether the links without tokens form a cycle (Kahn's ordering does not reach every node).
fn stuck(nodes: usize, arcs: &[Arc], first: &[usize]) -> bool {
    let mut waits = vec![0usize; nodes];
    let mut out: Vec<Vec<usize>> = vec![Vec::new(); nodes];
    for node in 0..nodes {
        for arc in &arcs[first[node]..first[node + 1]] {
            if arc.tokens <= 0 {
                waits[node] += 1;
                out[arc.from].push(node);
            }
        }
    }
    let mut ready: Vec<usize> = (0..nodes).filter(|&n| waits[n] == 0).collect();
    let mut seen = 0;
    while let Some(node) = ready.pop() {
        seen += 1;
        for &next in &out[node] {
            waits[next] -= 1;
            if waits[next] == 0 {
                ready.push(next);
            }
        }
    }
    seen < nodes
}

struct Policy<'a> {
    arcs: &'a [Arc],
    first: &'a [usize],
    /// The link that each firing waits for; `usize::MAX` for a firing that waits for nothing.
    choice: Vec<usize>,
    ratio: Vec<Ratio>,
    value: Vec<i128>,
}

const NONE: usize = usize::MAX;

impl<'a> Policy<'a> {
    fn new(nodes: usize, arcs: &'a [Arc], first: &'a [usize]) -> Option<Self> {
        let choice: Vec<usize> =
            (0..nodes).map(|n| (first[n]..first[n + 1]).max_by_key(|&a| arcs[a].time).unwrap_or(NONE)).collect();
        // With a firing that waits for nothing a policy may have no cycle; such graphs are not ours.
        if nodes == 0 || choice.contains(&NONE) {
            return None;
        }
        let ratio = vec![Ratio { time: 0, tokens: 1 }; nodes];
        Some(Self { arcs, first, choice, ratio, value: vec![0; nodes] })
    }

    fn iterate(mut self, limit: f64) -> Option<Critical> {
        loop {
            let best = self.evaluate();
            let ratio = self.ratio[best];
            #[allow(clippy::cast_precision_loss)]
            if ratio.time as f64 > limit * ratio.tokens as f64 || !self.improve() {
                return self.critical(best);
            }
        }
    }

    /// Ratio of the cycle that each node's policy leads to, and the node's value relative to it. Returns a node on the
    /// best cycle.
    fn evaluate(&mut self) -> usize {
        let nodes = self.choice.len();
        let mut state = vec![0u32; nodes];
        let mut path = Vec::with_capacity(nodes);
        let mut best: Option<usize> = None;
        for start in 0..nodes {
            if state[start] != 0 {
                continue;
            }
            #[allow(clippy::cast_possible_truncation)]
            let mark = start as u32 + 1;
            let mut node = start;
            path.clear();
            while state[node] == 0 {
                state[node] = mark;
                path.push(node);
                node = self.arcs[self.choice[node]].from;
            }
            let mut solved = path.len();
            if state[node] == mark {
                // A new cycle: from `node` to the end of the path.
                let at = path.iter().position(|&n| n == node).unwrap_or(0);
                let (mut time, mut tokens) = (0, 0);
                for &n in &path[at..] {
                    time += self.arcs[self.choice[n]].time;
                    tokens += self.arcs[self.choice[n]].tokens;
                }
                let ratio = Ratio::new(time, tokens);
                // While its ratio stays, a cycle's value stays too: otherwise two cycles of one ratio could take turns.
                if self.ratio[node] != ratio {
                    self.value[node] = 0;
                }
                self.ratio[node] = ratio;
                if best.is_none_or(|b| ratio.above(self.ratio[b])) {
                    best = Some(node);
                }
                // The other nodes of the cycle, from its end back.
                for &n in path[at + 1..].iter().rev() {
                    self.follow(n);
                }
                solved = at;
            }
            for &n in path[..solved].iter().rev() {
                self.follow(n);
            }
            // Settled nodes must not look like this path's again.
            for &n in &path {
                state[n] = u32::MAX;
            }
        }
        best.unwrap_or(0)
    }

    fn follow(&mut self, node: usize) {
        let arc = &self.arcs[self.choice[node]];
        self.ratio[node] = self.ratio[arc.from];
        self.value[node] = self.value[arc.from] + reduced(arc, self.ratio[arc.from]);
    }

    /// Better links: first towards a larger ratio, then towards a larger value under the same ratio.
    fn improve(&mut self) -> bool {
        let mut changed = false;
        for node in 0..self.choice.len() {
            for a in self.first[node]..self.first[node + 1] {
                let from = self.arcs[a].from;
                if self.ratio[from].above(self.ratio[self.arcs[self.choice[node]].from]) {
                    self.choice[node] = a;
                    changed = true;
                }
            }
        }
        if changed {
            return true;
        }
        for node in 0..self.choice.len() {
            let mut best = self.value[node];
            for a in self.first[node]..self.first[node + 1] {
                let arc = &self.arcs[a];
                if self.ratio[arc.from] != self.ratio[node] {
                    continue;
                }
                let value = self.value[arc.from] + reduced(arc, self.ratio[node]);
                if value > best {
                    best = value;
                    self.choice[node] = a;
                    changed = true;
                }
            }
        }
        changed
    }

    fn critical(&self, node: usize) -> Option<Critical> {
        let mut cycle = Vec::new();
        let mut at = node;
        loop {
            let arc = &self.arcs[self.choice[at]];
            cycle.push(arc.edge);
            at = arc.from;
            if at == node {
                break;
            }
            if cycle.len() > self.choice.len() {
                return None;
            }
        }
        Some(Critical { ratio: self.ratio[node], cycle })
    }
}

/// `time - ratio * tokens`, scaled by the ratio's denominator.
fn reduced(arc: &Arc, ratio: Ratio) -> i128 {
    i128::from(ratio.tokens) * i128::from(arc.time) - i128::from(ratio.time) * i128::from(arc.tokens)
}
