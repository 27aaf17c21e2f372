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

/// What a station that hands product over to another circuit knows of both. Its heads and batches count cases.
#[derive(Clone, Debug, PartialEq)]
pub struct HandOff {
    /// Carriers of this circuit that one case takes, in the order of the cell's SKUs.
    pub per_case: Vec<u32>,
    /// How each SKU rides on the other circuit.
    pub partner: Vec<Ride>,
    /// Carriers of the other circuit that one case takes.
    pub partner_per_case: Vec<u32>,
}

/// Carriers of one circuit before a station: how they ride, and how many make up one unit of its work.
#[derive(Clone, Copy)]
struct Line<'a> {
    rides: &'a [Ride],
    per_unit: Option<&'a [u32]>,
}

impl Line<'_> {
    /// Carriers of so many units.
    fn carriers(&self, k: usize, units: u32) -> u32 {
        units * self.per_unit.map_or(1, |all| all[k])
    }

    /// Their length in a queue.
    fn train(&self, k: usize, units: u32) -> f64 {
        f64::from(self.carriers(k, units)) * self.rides[k].pitch.m()
    }

    /// Zone of an intermittent station without its margin: the longest train of so many units.
    fn longest(&self, units: u32) -> f64 {
        (0..self.rides.len()).map(|k| self.train(k, units)).fold(0.0, f64::max)
    }
}

/// A station as the cell knows it.
#[derive(Clone, Debug, PartialEq)]
pub struct Station {
    /// Its id in the document.
    pub id: String,
    /// Floor beside the track.
    pub depth: Metres,
    /// Floor that must be free in front of it, in the clearance of the cell or beyond it.
    pub access: Option<Metres>,
    /// Floor that must be free in front of it beyond the clearance of the cell, where it stands at the front or at the back.
    pub free: (Metres, Metres),
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
    /// Where it hands product over to another circuit.
    pub hand_off: Option<HandOff>,
}

impl Station {
    /// How far its floor reaches beside the track on a side, with what must be free in front of it.
    #[must_use]
    pub fn reach(&self, side: Side) -> Metres {
        let free = if side == Side::Front { self.free.0 } else { self.free.1 };
        Metres::from_m(self.depth.m() + free.m())
    }

    /// Whether the options of a way of working depend on the rates: work that takes a time while carriers move takes more track
    /// the faster they follow each other.
    #[must_use]
    pub fn grows_with_rate(&self, mode: Mode) -> bool {
        let takes_time = |work: &FlowWork| match work.process {
            Process::Time { process, .. } => process.s() > 0.0,
            Process::Length(_) => false,
        };
        mode == Mode::Continuous && self.continuous.as_ref().is_some_and(|mode| mode.work.iter().any(takes_time))
    }

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

    /// The carriers of this circuit, and those of the other one at a hand-off.
    fn lines<'a>(&'a self, rides: &'a [Ride]) -> (Line<'a>, Option<Line<'a>>) {
        let hand_off = self.hand_off.as_ref();
        (
            Line { rides, per_unit: hand_off.map(|h| &h.per_case[..]) },
            hand_off.map(|h| Line { rides: &h.partner, per_unit: Some(&h.partner_per_case) }),
        )
    }

    fn stop_option(&self, mode: &Intermittent, heads: u32, rides: &[Ride], share: f64) -> StationOption {
        let (own, partner) = self.lines(rides);
        let zone = self.margin.m() + own.longest(heads);
        // Distance of the move-in of one side, and its time.
        let moves = |line: &Line<'_>, k: usize, units: u32| {
            let distance = Metres::from_m((self.margin.m() + line.longest(heads) + line.train(k, units)) / 2.0);
            (distance, line.rides[k].limits_at(share).time(distance))
        };
        let skus = mode.work.iter().enumerate().map(|(k, work)| {
            let units = heads.min(work.max_batch);
            let (batch, train) = (own.carriers(k, units), own.train(k, units));
            let (distance, own_time) = moves(&own, k, units);
            // Both circuits' carriers must have come: the slower side decides.
            let other_time = partner.as_ref().map_or(0.0, |line| moves(line, k, units).1.s());
            let move_in = Seconds::from_s(own_time.s().max(other_time));
            let cycle = move_in.s() + work.settle.s() + work.base.s() + work.per_extra.s() * f64::from(units - 1);
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
        let (own, partner) = self.lines(rides);
        let core = |line: &Line<'_>| {
            let cores = mode.work.iter().enumerate().map(|(k, work)| {
                let ride = &line.rides[k];
                line.train(k, heads.min(work.max_batch))
                    + match work.process {
                        Process::Time { process, .. } => QUEUE_DRAIN * ride.phi() * ride.pitch.m() * process.s(),
                        Process::Length(length) => length.m(),
                    }
            });
            cores.fold(0.0, f64::max)
        };
        let (own_core, partner_core) = (core(&own), partner.as_ref().map(core));
        let zone = self.margin.m() + own_core;
        // Speed of one side, and the time in which a batch passes a point of it.
        let passes = |line: &Line<'_>, core: f64, k: usize, work: &FlowWork| {
            let train = line.train(k, heads.min(work.max_batch));
            let top = mode.max_speed.map_or(f64::INFINITY, Speed::m_s).min(line.rides[k].limits.speed.m_s());
            let speed = match work.process {
                Process::Time { process, .. } if process.s() > 0.0 => top.min((core - train) / process.s()),
                Process::Time { .. } | Process::Length(_) => top,
            };
            // A relaxed rate can leave no length to track; the option then never ends its work.
            let speed = speed.max(1e-9);
            (speed, train / speed)
        };
        let skus = mode.work.iter().enumerate().map(|(k, work)| {
            let units = heads.min(work.max_batch);
            let (batch, train) = (own.carriers(k, units), own.train(k, units));
            let (speed, own_time) = passes(&own, own_core, k, work);
            let other_time =
                partner.as_ref().zip(partner_core).map_or(0.0, |(line, core)| passes(line, core, k, work).1);
            let move_in = own_time.max(other_time);
            let tool = match work.process {
                Process::Time { process, back } => back.map_or(0.0, |back| process.s() + back.s()),
                Process::Length(_) => 0.0,
            };
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
