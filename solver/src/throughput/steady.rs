//! The steady state of the paced run in closed form: earliest firing times under the pace.
//!
//! When the ring alone is faster than the pace, the pace is the only critical cycle, and whatever the start, firing times
//! settle to the longest ways from station 0's paced takes (Baccelli et al. 1992, chapter 3: one critical component means one
//! eigenvector up to a shift). The timed run gives the same times where its state recurs; a test holds them together.

use super::graph::{EventGraph, Firing};
use crate::option::Flow;
use crate::ring::Ring;
use crate::units::Micros;

/// Earliest times of one period, and how carriers are numbered.
#[derive(Clone, Debug)]
pub struct Steady {
    /// `[station][firing]`, microseconds.
    take: Vec<Vec<i64>>,
    leave: Vec<Vec<i64>>,
    batch: Vec<i64>,
    start: Vec<i64>,
    /// Microseconds of one iteration, and carriers in it.
    period: i64,
    iteration: i64,
}

impl Steady {
    /// None when the ring is not faster than the pace by a microsecond a batch (at a tie the steady state depends on the
    /// start), the carriers do not fit, or the graph would be too large.
    #[must_use]
    pub fn of(ring: &Ring, pace: Micros) -> Option<Self> {
        Self::at(ring, Micros::from_us(pace.us() - 1))?;
        Self::at(ring, pace)
    }

    fn at(ring: &Ring, pace: Micros) -> Option<Self> {
        let graph = EventGraph::of(ring).ok()?;
        let start = ring.start()?;
        let inner = graph.inner();
        let iteration = i64::from(graph.iteration());
        let first = i64::from(ring.stations[0].batch);
        let period = pace.us() * (iteration / first);
        const UNSET: i64 = i64::MIN / 4;
        let mut at = vec![UNSET; inner.node_count()];
        let paced = |firing: &Firing| match *firing {
            Firing::Take { station: 0, index } => Some(i64::from(index) * pace.us()),
            _ => None,
        };
        let mut open: Vec<usize> = Vec::new();
        for node in inner.node_indices() {
            if let Some(time) = paced(&inner[node]) {
                at[node.index()] = time;
                open.push(node.index());
            }
        }
        // Longest ways; a way that reaches a paced take later than the pace says the ring is slower.
        let mut rounds = vec![0u32; inner.node_count()];
        let most = u32::try_from(inner.node_count()).ok()?;
        while let Some(node) = open.pop() {
            let from = petgraph::graph::NodeIndex::new(node);
            let mut walk = inner.neighbors_directed(from, petgraph::Direction::Outgoing).detach();
            while let Some((edge, to)) = walk.next(inner) {
                let link = inner[edge];
                let time = at[node] + link.time - link.tokens * period;
                if time > at[to.index()] {
                    if paced(&inner[to]).is_some() {
                        return None;
                    }
                    at[to.index()] = time;
                    rounds[to.index()] += 1;
                    if rounds[to.index()] > most {
                        return None;
                    }
                    open.push(to.index());
                }
            }
        }
        let mut steady = Self {
            take: ring.stations.iter().map(|s| vec![0; (graph.iteration() / s.batch) as usize]).collect(),
            leave: ring.stations.iter().map(|s| vec![0; (graph.iteration() / s.batch) as usize]).collect(),
            batch: ring.stations.iter().map(|s| i64::from(s.batch)).collect(),
            start: start.iter().map(|&c| i64::from(c)).collect(),
            period,
            iteration,
        };
        for node in inner.node_indices() {
            match inner[node] {
                Firing::Take { station, index } => {
                    steady.take[station][index as usize] = at[node.index()];
                    if ring.stations[station].flow == Flow::Through {
                        steady.leave[station][index as usize] =
                            at[node.index()] + ring.stations[station].residence.us();
                    }
                }
                Firing::Leave { station, index } => steady.leave[station][index as usize] = at[node.index()],
                Firing::Other => {}
            }
        }
        Some(steady)
    }

    fn time(&self, times: &[Vec<i64>], station: usize, carrier: i64) -> i64 {
        let index = carrier.div_euclid(self.batch[station]);
        #[allow(clippy::cast_possible_wrap)]
        let count = times[station].len() as i64;
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let within = index.rem_euclid(count) as usize;
        times[station][within] + index.div_euclid(count) * self.period
    }

    /// Least and longest time over all carriers from being taken in at (or leaving) `from` to being taken in at `to`, the
    /// next time that the carrier comes there. Leaving times are those of `late`, which must have the same start: with the
    /// earliest and the latest steady state that bounds allow, this bounds the time in between from below, and the other way
    /// round from above.
    #[must_use]
    pub fn times(&self, from: usize, to: usize, taken_in: bool, late: &Self) -> (i64, i64) {
        let n = self.batch.len();
        // Carrier q of a station's stream is carrier q + start of the next one's.
        let mut shift = 0;
        let mut at = from;
        loop {
            shift += self.start[at];
            at = (at + 1) % n;
            if at == to {
                break;
            }
        }
        let (mut least, mut longest) = (i64::MAX, i64::MIN);
        for carrier in 0..self.iteration {
            let since =
                if taken_in { late.time(&late.take, from, carrier) } else { late.time(&late.leave, from, carrier) };
            let time = self.time(&self.take, to, carrier + shift) - since;
            least = least.min(time);
            longest = longest.max(time);
        }
        (least, longest)
    }
}
