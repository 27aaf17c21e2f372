//! What is simulated: a ring, and what chance does at its stations.

use super::timed::WindowWatch;
use crate::chance::Behaviour;
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
        })
    }
}
