//! From a ring to its timed event graph: firings (a batch is taken in, a batch leaves) and what each waits for.

use crate::option::Flow;
use crate::ring::Ring;
use crate::units::lcm;
use petgraph::graph::{DiGraph, NodeIndex};

/// Larger unfolded graphs are not built.
pub const MOST_FIRINGS: u64 = 400_000;

/// One firing within an iteration.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Firing {
    /// Station takes its batch in.
    Take {
        /// Station.
        station: usize,
        /// Which of the iteration.
        index: u32,
    },
    /// Station lets its batch go.
    Leave {
        /// Station.
        station: usize,
        /// Which of the iteration.
        index: u32,
    },
    /// A firing of a graph that is not a ring (tests, textbooks).
    Other,
}

/// Why a firing waits for another.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Meaning {
    /// Work of a station takes its time.
    Work(usize),
    /// A station is free again, or a train has places again.
    Free(usize),
    /// Carriers drive through the section after this station.
    Drive(usize),
    /// Slots of the section after this station are free again.
    Slot(usize),
    /// Not of a ring.
    Other,
}

/// A waiting: the target fires no earlier than `time` after the firing of the source `tokens` iterations before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Link {
    /// Microseconds.
    pub time: i64,
    /// Iterations back; at least 0.
    pub tokens: i64,
    /// Why.
    pub meaning: Meaning,
}

/// Why there is no graph.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoGraph {
    /// The carriers do not fit the slots.
    DoNotFit,
    /// More than [`MOST_FIRINGS`].
    TooLarge,
}

/// The timed event graph of one iteration.
#[derive(Clone, Debug)]
pub struct EventGraph {
    pub(super) graph: DiGraph<Firing, Link>,
    iteration: u32,
}

impl EventGraph {
    /// A graph from plain links `(from, to, time, tokens)`, for textbook examples.
    #[must_use]
    pub fn from_links(nodes: usize, links: &[(usize, usize, i64, i64)]) -> Self {
        let mut graph = DiGraph::with_capacity(nodes, links.len());
        for _ in 0..nodes {
            graph.add_node(Firing::Other);
        }
        for &(from, to, time, tokens) in links {
            graph.add_edge(NodeIndex::new(from), NodeIndex::new(to), Link { time, tokens, meaning: Meaning::Other });
        }
        Self { graph, iteration: 1 }
    }

    /// Carriers that pass in one iteration.
    #[must_use]
    pub fn iteration(&self) -> u32 {
        self.iteration
    }

    /// The graph itself.
    #[must_use]
    pub fn inner(&self) -> &DiGraph<Firing, Link> {
        &self.graph
    }

    /// Unfolds a ring.
    ///
    /// # Errors
    /// `NoGraph` when the carriers do not fit or the graph would be too large.
    pub fn of(ring: &Ring) -> Result<Self, NoGraph> {
        Ok(Unfolded::of(ring)?.graph(ring))
    }
}

/// The links of one iteration in a plain list: enough to look whether a rate is kept, and much sooner made than the graph.
pub(super) struct Unfolded {
    pub(super) iteration: u32,
    pub(super) nodes: usize,
    /// Source, target and waiting; in the order of the graph's edges.
    pub(super) links: Vec<(usize, usize, Link)>,
}

impl Unfolded {
    pub(super) fn of(ring: &Ring) -> Result<Self, NoGraph> {
        Self::from_start(ring, &ring.start().ok_or(NoGraph::DoNotFit)?)
    }

    /// With so many carriers in each section at first.
    pub(super) fn from_start(ring: &Ring, start: &[u32]) -> Result<Self, NoGraph> {
        let mut iteration: u32 = 1;
        for s in &ring.stations {
            iteration = lcm(iteration, s.batch);
            if u64::from(iteration) > MOST_FIRINGS {
                return Err(NoGraph::TooLarge);
            }
        }
        let firings: u64 = ring.stations.iter().map(|s| 2 * u64::from(iteration / s.batch)).sum();
        if firings > MOST_FIRINGS {
            return Err(NoGraph::TooLarge);
        }
        Ok(Builder::new(ring, iteration).build(start))
    }

    /// As a graph whose firings have no names.
    pub(super) fn plain_graph(&self) -> EventGraph {
        let mut graph = DiGraph::with_capacity(self.nodes, self.links.len());
        for _ in 0..self.nodes {
            graph.add_node(Firing::Other);
        }
        for &(from, to, link) in &self.links {
            graph.add_edge(NodeIndex::new(from), NodeIndex::new(to), link);
        }
        EventGraph { graph, iteration: self.iteration }
    }

    /// As a graph.
    pub(super) fn graph(self, ring: &Ring) -> EventGraph {
        let mut graph = DiGraph::with_capacity(self.nodes, self.links.len());
        for (station, s) in ring.stations.iter().enumerate() {
            let count = self.iteration / s.batch;
            for index in 0..count {
                graph.add_node(Firing::Take { station, index });
            }
            for index in (0..count).filter(|_| s.flow != Flow::Through) {
                graph.add_node(Firing::Leave { station, index });
            }
        }
        for (from, to, link) in self.links {
            graph.add_edge(NodeIndex::new(from), NodeIndex::new(to), link);
        }
        EventGraph { graph, iteration: self.iteration }
    }
}

/// Links of one ring; several rings can have one graph.
pub(super) struct Builder<'a> {
    ring: &'a Ring,
    iteration: u32,
    nodes: usize,
    links: Vec<(usize, usize, Link)>,
    /// First node of the takes and of the leaves of each station; a station that carriers pass without waiting has no
    /// leaves of its own.
    takes: Vec<usize>,
    leaves: Vec<Option<usize>>,
    /// Number of the ring's first station in what links mean.
    base: usize,
}

impl<'a> Builder<'a> {
    fn new(ring: &'a Ring, iteration: u32) -> Self {
        Self::within(ring, iteration, (0, 0), &[])
    }

    /// A ring whose nodes and stations are counted from `(node, station)`; `shared` are stations whose takes begin at a node
    /// that another ring has made.
    pub(super) fn within(
        ring: &'a Ring,
        iteration: u32,
        (first, base): (usize, usize),
        shared: &[(usize, usize)],
    ) -> Self {
        let stations = ring.stations.len();
        let (mut takes, mut leaves) = (Vec::with_capacity(stations), Vec::with_capacity(stations));
        let mut nodes = first;
        for (i, s) in ring.stations.iter().enumerate() {
            let count = (iteration / s.batch) as usize;
            if let Some(&(_, node)) = shared.iter().find(|(station, _)| *station == i) {
                takes.push(node);
            } else {
                takes.push(nodes);
                nodes += count;
            }
            if s.flow == Flow::Through {
                leaves.push(None);
            } else {
                leaves.push(Some(nodes));
                nodes += count;
            }
        }
        // At most five waits for each two firings.
        Self { ring, iteration, nodes, links: Vec::with_capacity(3 * (nodes - first)), takes, leaves, base }
    }

    /// First node of the takes of a station.
    pub(super) fn takes(&self, station: usize) -> usize {
        self.takes[station]
    }

    fn count(&self, station: usize) -> i64 {
        i64::from(self.iteration / self.ring.stations[station].batch)
    }

    /// The node of firing `index` (any integer) of `count`, counted from `first`, and how many iterations back it lies.
    fn node(first: usize, count: i64, index: i64) -> (usize, i64) {
        // Most lie within the iteration: no division for these.
        let iteration = if (0..count).contains(&index) { 0 } else { index.div_euclid(count) };
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        (first + (index - iteration * count) as usize, -iteration)
    }

    fn link(&mut self, from: (usize, i64), to: (usize, i64), time: i64, meaning: Meaning) {
        self.links.push((from.0, to.0, Link { time, tokens: from.1 - to.1, meaning }));
    }

    pub(super) fn build(mut self, start: &[u32]) -> Unfolded {
        for (i, &carriers) in start.iter().enumerate() {
            self.station(i);
            self.section(i, i64::from(carriers));
        }
        Unfolded { iteration: self.iteration, nodes: self.nodes, links: self.links }
    }

    fn station(&mut self, i: usize) {
        let s = self.ring.stations[i];
        let (count, takes) = (self.count(i), self.takes[i]);
        for n in 0..count {
            let take = Self::node(takes, count, n);
            match (s.flow, self.leaves[i]) {
                (Flow::Stop, Some(first)) => {
                    let leave = Self::node(first, count, n);
                    self.link(take, leave, s.cycle.us(), Meaning::Work(self.base + i));
                    let before = Self::node(first, count, n - 1);
                    self.link(before, take, 0, Meaning::Free(self.base + i));
                }
                (Flow::Train(places), Some(first)) => {
                    let leave = Self::node(first, count, n);
                    self.link(take, leave, s.residence.us(), Meaning::Work(self.base + i));
                    let before = Self::node(takes, count, n - 1);
                    self.link(before, take, s.cycle.us(), Meaning::Work(self.base + i));
                    let ahead = Self::node(first, count, n - i64::from(places));
                    self.link(ahead, take, 0, Meaning::Free(self.base + i));
                }
                _ => {
                    let before = Self::node(takes, count, n - 1);
                    self.link(before, take, s.cycle.us(), Meaning::Work(self.base + i));
                }
            }
        }
    }

    /// The section after station `i`, which holds `start` carriers at first.
    fn section(&mut self, i: usize, start: i64) {
        let next = self.ring.next(i);
        let (up, down) = (self.ring.stations[i], self.ring.stations[next]);
        let (b, d) = (i64::from(up.batch), i64::from(down.batch));
        let (ups, downs) = (self.count(i), self.count(next));
        let (section, takes) = (self.ring.sections[i], self.takes[next]);
        // A station that carriers pass without waiting leaves a fixed time after taking.
        let (first, inside) = self.leaves[i].map_or((self.takes[i], up.residence.us()), |first| (first, 0));
        for m in 0..downs {
            // The m-th take needs (m + 1) d carriers: those of the start, then whole upstream batches.
            let batches = div_ceil((m + 1) * d - start, b);
            let from = Self::node(first, ups, batches - 1);
            self.link(from, Self::node(takes, downs, m), inside + section.lag.us(), Meaning::Drive(self.base + i));
        }
        for n in 0..ups {
            // The n-th leave brings (n + 1) b carriers; what the slots do not hold must have been taken.
            let batches = div_ceil((n + 1) * b + start - i64::from(section.slots), d);
            let from = Self::node(takes, downs, batches - 1);
            self.link(from, Self::node(first, ups, n), down.move_in.us(), Meaning::Slot(self.base + i));
        }
    }
}

fn div_ceil(a: i64, b: i64) -> i64 {
    if b == 1 { a } else { -(-a).div_euclid(b) }
}
