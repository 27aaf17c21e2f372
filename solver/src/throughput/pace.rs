//! Whether a ring keeps a given rate, without its exact one: earliest firing times that repeat at that rate, found by a few
//! sweeps forwards and back along the ring.

use super::graph::EventGraph;
use petgraph::Direction;
use petgraph::visit::EdgeRef;

/// Sweeps before nothing is said.
const MOST_SWEEPS: usize = 40;

/// Times are settled to this many microseconds.
const SETTLED_US: f64 = 1e-6;

/// True when firing times exist that repeat every `period` microseconds an iteration and keep all waits; false when none
/// were found in a few sweeps, which says nothing.
#[must_use]
pub(super) fn keeps(graph: &EventGraph, period: f64) -> bool {
    let inner = graph.inner();
    let mut first = Vec::with_capacity(inner.node_count() + 1);
    let mut arcs: Vec<(usize, f64)> = Vec::with_capacity(inner.edge_count());
    for node in inner.node_indices() {
        first.push(arcs.len());
        for edge in inner.edges_directed(node, Direction::Incoming) {
            let link = edge.weight();
            #[allow(clippy::cast_precision_loss)]
            arcs.push((edge.source().index(), link.time as f64 - link.tokens as f64 * period));
        }
    }
    first.push(arcs.len());
    let nodes = inner.node_count();
    let mut at = vec![0.0f64; nodes];
    let mut settle = |node: usize| {
        let earliest =
            arcs[first[node]..first[node + 1]].iter().map(|&(from, w)| at[from] + w).fold(at[node], f64::max);
        let moved = earliest > at[node] + SETTLED_US;
        if moved {
            at[node] = earliest;
        }
        moved
    };
    for _ in 0..MOST_SWEEPS {
        let mut moved = false;
        for node in 0..nodes {
            moved |= settle(node);
        }
        for node in (0..nodes).rev() {
            moved |= settle(node);
        }
        if !moved {
            return true;
        }
    }
    false
}
