//! What is simulated: a ring, and what chance does at its stations.

use super::timed::WindowWatch;
use crate::chance::Behaviour;
use crate::net::Net;
use crate::option::Flow;
use crate::ring::{Ring, RingSection};
use crate::units::Micros;

/// A time of which a part may vary: `max(least, base + factor * work)`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Span {
    /// Never shorter than this.
    pub least: Micros,
    /// The part that does not vary.
    pub base: Micros,
    /// The part that does.
    pub work: Micros,
}

impl Span {
    /// Always so long.
    #[must_use]
    pub const fn fixed(time: Micros) -> Self {
        Self { least: Micros::ZERO, base: time, work: Micros::ZERO }
    }

    /// All of it varies.
    #[must_use]
    pub const fn varying(mean: Micros) -> Self {
        Self { least: Micros::ZERO, base: Micros::ZERO, work: mean }
    }

    /// With the work as long as it is on average.
    pub(super) fn whole(self) -> i64 {
        self.least.us().max(self.base.us().saturating_add(self.work.us()))
    }

    /// With this factor on the work.
    #[must_use]
    #[allow(clippy::cast_precision_loss)]
    pub(super) fn at(self, factor: f64) -> i64 {
        let varied = Micros::nearest_s(self.work.us() as f64 * factor * 1e-6).us();
        self.least.us().max(self.base.us().saturating_add(varied))
    }
}

/// A station of a scenario.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Post {
    /// Carriers in a batch, at least 1.
    pub batch: u32,
    /// What happens inside.
    pub flow: Flow,
    /// Least time between batches.
    pub cycle: Span,
    /// From being taken in to being ready to leave.
    pub residence: Span,
    /// Until the slots before the station are free.
    pub move_in: Span,
    /// What chance does.
    pub behaviour: Behaviour,
}

/// A ring with chance. `sections[i]` lies between station `i` and the next; station 0 is `order[0]`.
#[derive(Clone, Debug, PartialEq)]
pub struct Scenario {
    /// In travel order, at least one.
    pub posts: Vec<Post>,
    /// As many as stations.
    pub sections: Vec<RingSection>,
    /// Carriers on the circuit.
    pub carriers: u32,
    /// Carriers in each section at the start.
    pub start: Vec<u32>,
    /// Station 0 takes batches no closer together than this.
    pub pace: Option<Micros>,
    /// Times across several stations, each with the longest that is allowed.
    pub windows: Vec<(WindowWatch, Option<Micros>)>,
    /// Longest time allowed in each section.
    pub most: Vec<Option<Micros>>,
    /// Net rate, in carriers a second: what feeds are measured by.
    pub net_rate: f64,
    /// How several rings hang together; none of one. `carriers`, `pace` and `net_rate` are then those of the first.
    pub links: Option<Links>,
}

/// Several rings in one list of posts: each ring's posts lie together, and so do its sections.
#[derive(Clone, Debug, PartialEq)]
pub struct Links {
    /// In the order of their posts, the first ring first.
    pub rings: Vec<Linked>,
    /// Posts that are one station, each pair in the order of its rings. What chance does is said by the first alone.
    pub pairs: Vec<(usize, usize)>,
}

/// One of several rings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Linked {
    /// Its first post.
    pub first: usize,
    /// Carriers on it.
    pub carriers: u32,
    /// Its first post takes batches no closer together than this.
    pub pace: Option<Micros>,
    /// Net rate, in its carriers a second.
    pub net_rate: f64,
}

impl Scenario {
    /// Whether anything is left to chance, or stops.
    #[must_use]
    pub fn by_chance(&self) -> bool {
        self.posts.iter().any(|post| post.behaviour != Behaviour::default())
    }

    /// The ring without chance, as fast as it can. None when its carriers do not fit.
    #[must_use]
    pub fn certain(ring: &Ring) -> Option<Self> {
        let posts = ring.stations.iter().map(|s| Post {
            batch: s.batch,
            flow: s.flow,
            cycle: Span::fixed(s.cycle),
            residence: Span::fixed(s.residence),
            move_in: Span::fixed(s.move_in),
            behaviour: Behaviour::default(),
        });
        Some(Self {
            posts: posts.collect(),
            sections: ring.sections.clone(),
            carriers: ring.carriers,
            start: ring.start()?,
            pace: None,
            windows: Vec::new(),
            most: vec![None; ring.sections.len()],
            net_rate: 0.0,
            links: None,
        })
    }

    /// Several rings without chance, each no faster than its pace. None when carriers do not fit.
    #[must_use]
    pub fn certain_net(net: &Net, paces: &[Option<Micros>]) -> Option<Self> {
        let mut parts = net.rings().iter().map(Self::certain);
        let mut all = parts.next()??;
        all.pace = paces.first().copied().flatten();
        let mut rings = vec![Linked { first: 0, carriers: all.carriers, pace: all.pace, net_rate: 0.0 }];
        for (r, part) in parts.enumerate() {
            let part = part?;
            let pace = paces.get(r + 1).copied().flatten();
            rings.push(Linked { first: all.posts.len(), carriers: part.carriers, pace, net_rate: 0.0 });
            all.posts.extend(part.posts);
            all.sections.extend(part.sections);
            all.start.extend(part.start);
            all.most.extend(part.most);
        }
        let post = |(ring, station): (usize, usize)| rings[ring].first + station;
        let mut pairs: Vec<(usize, usize)> = net.joints().iter().map(|j| (post(j.first), post(j.second))).collect();
        for pair in &mut pairs {
            *pair = (pair.0.min(pair.1), pair.0.max(pair.1));
        }
        all.links = Some(Links { rings, pairs });
        Some(all)
    }

    /// The rings, as their posts.
    #[must_use]
    pub fn rings(&self) -> Vec<std::ops::Range<usize>> {
        let all = 0..self.posts.len();
        let Some(links) = &self.links else { return vec![all] };
        let ends = links.rings.iter().skip(1).map(|ring| ring.first).chain([all.end]);
        links.rings.iter().zip(ends).map(|(ring, end)| ring.first..end).collect()
    }

    /// Where a post lies: its ring, and the posts of that.
    pub(super) fn ring_of(&self, post: usize) -> (usize, std::ops::Range<usize>) {
        let found = self.rings().into_iter().enumerate().find(|(_, ring)| ring.contains(&post));
        found.unwrap_or((0, 0..self.posts.len()))
    }

    /// The post after another one on its ring.
    #[must_use]
    pub fn after(&self, post: usize) -> usize {
        let ring = self.ring_of(post).1;
        if post + 1 == ring.end { ring.start } else { post + 1 }
    }

    /// Carriers and net rate of a ring.
    pub(super) fn on_ring(&self, ring: usize) -> (u32, f64) {
        let linked = self.links.as_ref().and_then(|links| links.rings.get(ring));
        linked.map_or((self.carriers, self.net_rate), |ring| (ring.carriers, ring.net_rate))
    }

    /// The pace of a post: of the first of each ring, where it has one.
    pub(super) fn pace_of(&self, post: usize) -> Option<Micros> {
        match &self.links {
            None => self.pace.filter(|_| post == 0),
            Some(links) => links.rings.iter().find(|ring| ring.first == post)?.pace,
        }
    }
}
