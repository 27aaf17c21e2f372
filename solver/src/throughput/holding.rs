//! Whether longest times can hold at all, however batches bunch and whatever rhythm the ring falls into.
//!
//! A plan's firing times repeat with some period, at least the pace's. They keep every wait of the event graph, and where
//! longest times hold, each such limit is one more wait: the leaving fires no earlier than the taking-in less the limit. A
//! cycle of waits that takes longer than its periods allow says that no firing times exist; where more time between batches
//! would mend it, the period is raised, and only a cycle that no period mends is a proof.

use super::graph::{EventGraph, Firing};
use crate::option::Flow;
use crate::ring::Ring;
use crate::units::Micros;

/// A longest time, from leaving `from` (or being taken in there) to being taken in at `to`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hold {
    /// First station.
    pub from: usize,
    /// Last station: the next time that a carrier comes there.
    pub to: usize,
    /// Count from being taken in.
    pub taken_in: bool,
    /// At most so long.
    pub most: Micros,
}

/// Periods tried before nothing is said.
const MOST_PERIODS: usize = 40;

/// Waits that are missed by less than this are kept, µs.
const HAIR_US: f64 = 0.5;

struct Wait {
    from: usize,
    to: usize,
    time: f64,
    tokens: f64,
}

/// False when no firing times at this pace or slower keep all limits: proven. True otherwise.
#[must_use]
pub fn can_hold(ring: &Ring, pace: Micros, holds: &[Hold]) -> bool {
    let (Ok(graph), Some(start)) = (EventGraph::of(ring), ring.start()) else { return true };
    let waits = waits(ring, &graph, &start, pace, holds);
    let nodes = graph.inner().node_count();
    #[allow(clippy::cast_precision_loss)]
    let mut period = pace.us() as f64 * f64::from(graph.iteration()) / f64::from(ring.stations[0].batch);
    for _ in 0..MOST_PERIODS {
        match late_cycle(nodes, &waits, period) {
            None => return true,
            Some((_, tokens)) if tokens <= 0.0 => return false,
            Some((time, tokens)) => period = period.max(time / tokens) + HAIR_US / 10.0,
        }
    }
    true
}

#[allow(clippy::cast_precision_loss, clippy::cast_possible_wrap)]
fn waits(ring: &Ring, graph: &EventGraph, start: &[u32], pace: Micros, holds: &[Hold]) -> Vec<Wait> {
    let inner = graph.inner();
    let stations = ring.stations.len();
    let (mut takes, mut leaves) = (vec![0; stations], vec![None; stations]);
    for node in inner.node_indices() {
        match inner[node] {
            Firing::Take { station, index: 0 } => takes[station] = node.index(),
            Firing::Leave { station, index: 0 } => leaves[station] = Some(node.index()),
            _ => {}
        }
    }
    let mut all: Vec<Wait> = inner
        .edge_indices()
        .filter_map(|edge| inner.edge_endpoints(edge).map(|ends| (edge, ends)))
        .map(|(edge, (from, to))| {
            let link = inner[edge];
            Wait { from: from.index(), to: to.index(), time: link.time as f64, tokens: link.tokens as f64 }
        })
        .collect();
    let count = |s: usize| i64::from(graph.iteration() / ring.stations[s].batch);
    // The firing that handles a carrier of a station's stream: node, and iterations after the first.
    let of = |first: usize, s: usize, carrier: i64| {
        let index = carrier.div_euclid(i64::from(ring.stations[s].batch));
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let node = first + index.rem_euclid(count(s)) as usize;
        (node, index.div_euclid(count(s)) as f64)
    };
    let first_batch = i64::from(ring.stations[0].batch);
    for n in 0..count(0) {
        let (before, back) = of(takes[0], 0, (n - 1) * first_batch);
        let (now, _) = of(takes[0], 0, n * first_batch);
        all.push(Wait { from: before, to: now, time: pace.us() as f64, tokens: -back });
    }
    for hold in holds {
        let mut shift = 0;
        let mut at = hold.from;
        loop {
            shift += i64::from(start[at]);
            at = ring.next(at);
            if at == hold.to {
                break;
            }
        }
        let up = &ring.stations[hold.from];
        // Where carriers pass without waiting, leaving is a fixed time after being taken in.
        let (first, inside) = match leaves[hold.from] {
            Some(leave) if !hold.taken_in => (leave, 0),
            _ if up.flow == Flow::Through && !hold.taken_in => (takes[hold.from], up.residence.us()),
            _ => (takes[hold.from], 0),
        };
        for carrier in 0..i64::from(graph.iteration()) {
            let (since, earlier) = of(first, hold.from, carrier);
            let (taken, later) = of(takes[hold.to], hold.to, carrier + shift);
            let time = -(hold.most.us() + inside) as f64;
            all.push(Wait { from: taken, to: since, time, tokens: earlier - later });
        }
    }
    all
}

/// A cycle whose times are longer than `period` allows: its time and its tokens. Bellman and Ford's longest ways, looking
/// for a cycle among the last improvements every few rounds.
fn late_cycle(nodes: usize, waits: &[Wait], period: f64) -> Option<(f64, f64)> {
    const EVERY: usize = 6;
    let mut at = vec![0.0f64; nodes];
    let mut why: Vec<Option<usize>> = vec![None; nodes];
    for round in 0..=nodes + EVERY {
        let mut changed = false;
        for (index, w) in waits.iter().enumerate() {
            let time = at[w.from] + w.time - w.tokens * period;
            if time > at[w.to] + HAIR_US {
                at[w.to] = time;
                why[w.to] = Some(index);
                changed = true;
            }
        }
        if !changed {
            return None;
        }
        if round % EVERY == EVERY - 1
            && let Some(cycle) = cycle_among(waits, &why)
        {
            return Some(cycle);
        }
    }
    cycle_among(waits, &why)
}

/// Time and tokens of a cycle that the reasons form.
fn cycle_among(waits: &[Wait], why: &[Option<usize>]) -> Option<(f64, f64)> {
    let mut seen = vec![0usize; why.len()];
    for start in 0..why.len() {
        let mut node = start;
        while seen[node] == 0 {
            seen[node] = start + 1;
            match why[node] {
                Some(index) => node = waits[index].from,
                None => break,
            }
        }
        if seen[node] == start + 1 && why[node].is_some() {
            let (mut time, mut tokens, first) = (0.0, 0.0, node);
            loop {
                let wait = &waits[why[node]?];
                time += wait.time;
                tokens += wait.tokens;
                node = wait.from;
                if node == first {
                    return Some((time, tokens));
                }
            }
        }
    }
    None
}
