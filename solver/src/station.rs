//! A station's ways of working, and the options that they make (model section 4).

use crate::chance::Behaviour;
use crate::load::Ride;
use crate::option::{Flow, Mode, SkuOption, StationOption};
use crate::track::Side;
use crate::units::{CarrierRate, Metres, Money, Seconds, Speed, ceil_tolerant};

/// In hand on the tracking length of continuous work that takes a time, so that a queue drains (model section 4).
const QUEUE_DRAIN: f64 = 1.02;

/// Relative tolerance by which an option's capacity may miss the rate (model section 4).
const CAPACITY_TOLERANCE: f64 = 1e-9;

/// Intermittent work on one SKU.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StopWork {
    /// Work on the first carrier of a batch.
    pub base: Seconds,
    /// For each further carrier.
    pub per_extra: Seconds,
    /// Rest before the work starts.
    pub settle: Seconds,
    /// Largest batch that the SKU's pattern allows.
    pub max_batch: u32,
}

/// What continuous work takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Process {
    /// A time; with a way back for tools that follow the carriers.
    Time {
        /// Of the work.
        process: Seconds,
        /// Of the tools' return, if they follow.
        back: Option<Seconds>,
    },
    /// A length of track.
    Length(Metres),
}

/// Continuous work on one SKU.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FlowWork {
    /// What it takes.
    pub process: Process,
    /// Largest batch that the SKU's pattern allows.
    pub max_batch: u32,
}

/// Price of a mode.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ModePrice {
    /// Of the station.
    pub base: Money,
    /// Of each head.
    pub per_head: Money,
}

/// The intermittent way of working.
#[derive(Clone, Debug, PartialEq)]
pub struct Intermittent {
    /// Most heads.
    pub max_batch: u32,
    /// Price.
    pub price: ModePrice,
    /// In the order of the cell's SKUs.
    pub work: Vec<StopWork>,
}

/// The continuous way of working.
#[derive(Clone, Debug, PartialEq)]
pub struct Continuous {
    /// Most heads.
    pub max_batch: u32,
    /// Speed limit of the work.
    pub max_speed: Option<Speed>,
    /// Whether carriers may stop inside.
    pub may_wait: bool,
    /// Price.
    pub price: ModePrice,
    /// In the order of the cell's SKUs.
    pub work: Vec<FlowWork>,
}

/// What was decided beforehand about a station's work.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct FixedWork {
    /// Its way of working.
    pub mode: Option<Mode>,
    /// Its heads.
    pub heads: Option<u32>,
}

/// A station as the cell knows it.
#[derive(Clone, Debug, PartialEq)]
pub struct Station {
    /// Its id in the document.
    pub id: String,
    /// Floor beside the track.
    pub depth: Metres,
    /// Length of that floor along the track; none means as long as the zone.
    pub frame: Option<Metres>,
    /// Zone length beyond the carriers.
    pub margin: Metres,
    /// Where it must stand; none means on either side.
    pub side: Option<Side>,
    /// The one way of working.
    pub intermittent: Option<Intermittent>,
    /// The other.
    pub continuous: Option<Continuous>,
    /// What was decided beforehand.
    pub fixed: FixedWork,
    /// What chance does to it; simulation only.
    pub behaviour: Behaviour,
}

impl Station {
    /// Every (mode, heads) of the station, whether it makes the rate or not.
    #[must_use]
    pub fn options(&self, rides: &[Ride], share: f64) -> Vec<StationOption> {
        let mut all = Vec::new();
        if let Some(mode) = &self.intermittent {
            all.extend((1..=mode.max_batch).map(|heads| self.stop_option(mode, heads, rides, share)));
        }
        if let Some(mode) = &self.continuous {
            all.extend((1..=mode.max_batch).map(|heads| self.flow_option(mode, heads, rides)));
        }
        all
    }

    /// The options that what was decided beforehand leaves.
    #[must_use]
    pub fn allowed_options(&self, rides: &[Ride], share: f64) -> Vec<StationOption> {
        let mut all = self.options(rides, share);
        all.retain(|o| {
            self.fixed.mode.is_none_or(|mode| mode == o.mode) && self.fixed.heads.is_none_or(|heads| heads == o.heads)
        });
        all
    }

    fn stop_option(&self, mode: &Intermittent, heads: u32, rides: &[Ride], share: f64) -> StationOption {
        let widest = rides.iter().map(|r| r.pitch.m()).fold(0.0, f64::max);
        let zone = self.margin.m() + f64::from(heads) * widest;
        let skus = rides.iter().zip(&mode.work).map(|(ride, work)| {
            let batch = heads.min(work.max_batch);
            let train = f64::from(batch) * ride.pitch.m();
            let distance = Metres::from_m((zone + train) / 2.0);
            let move_in = ride.limits_at(share).time(distance);
            let cycle = move_in.s() + work.settle.s() + work.base.s() + work.per_extra.s() * f64::from(batch - 1);
            SkuOption {
                batch,
                cycle: Seconds::from_s(cycle),
                move_in,
                residence: Seconds::from_s(cycle),
                tail: Metres::from_m((zone - train) / 2.0),
                move_in_distance: distance,
                speed: None,
                capacity: CarrierRate::per_second(f64::from(batch) / cycle),
                flow: Flow::Stop,
            }
        });
        StationOption {
            mode: Mode::Intermittent,
            heads,
            zone: Metres::from_m(zone),
            price: mode.price.base + mode.price.per_head * f64::from(heads),
            skus: skus.collect(),
        }
    }

    fn flow_option(&self, mode: &Continuous, heads: u32, rides: &[Ride]) -> StationOption {
        let core = rides.iter().zip(&mode.work).map(|(ride, work)| {
            let train = f64::from(heads.min(work.max_batch)) * ride.pitch.m();
            train
                + match work.process {
                    Process::Time { process, .. } => QUEUE_DRAIN * ride.phi() * ride.pitch.m() * process.s(),
                    Process::Length(length) => length.m(),
                }
        });
        let core = core.fold(0.0, f64::max);
        let zone = self.margin.m() + core;
        let skus = rides.iter().zip(&mode.work).map(|(ride, work)| {
            let batch = heads.min(work.max_batch);
            let train = f64::from(batch) * ride.pitch.m();
            let top = mode.max_speed.map_or(f64::INFINITY, Speed::m_s).min(ride.limits.speed.m_s());
            let (speed, tool) = match work.process {
                Process::Time { process, back } => {
                    let tracked = if process.s() > 0.0 { (core - train) / process.s() } else { f64::INFINITY };
                    (top.min(tracked), back.map_or(0.0, |back| process.s() + back.s()))
                }
                Process::Length(_) => (top, 0.0),
            };
            // A relaxed rate can leave no length to track; the option then never ends its work.
            let speed = speed.max(1e-9);
            let move_in = train / speed;
            let cycle = move_in.max(tool);
            let places = ceil_tolerant(zone / train).max(1.0);
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let flow = if mode.may_wait { Flow::Train(places.min(1e6) as u32) } else { Flow::Through };
            SkuOption {
                batch,
                cycle: Seconds::from_s(cycle),
                move_in: Seconds::from_s(move_in),
                residence: Seconds::from_s(zone / speed),
                tail: Metres::ZERO,
                move_in_distance: Metres::ZERO,
                speed: Some(Speed::from_m_s(speed)),
                capacity: CarrierRate::per_second(f64::from(batch) / cycle),
                flow,
            }
        });
        StationOption {
            mode: Mode::Continuous,
            heads,
            zone: Metres::from_m(zone),
            price: mode.price.base + mode.price.per_head * f64::from(heads),
            skus: skus.collect(),
        }
    }
}

impl StationOption {
    /// Whether the capacity reaches the design rate for every SKU with a demand (1e-9 relative).
    #[must_use]
    pub fn makes(&self, rides: &[Ride]) -> bool {
        self.skus
            .iter()
            .zip(rides)
            .all(|(sku, ride)| sku.capacity.as_per_second() >= ride.phi() * (1.0 - CAPACITY_TOLERANCE))
    }
}
