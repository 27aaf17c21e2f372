//! The cell document as it is published, with every default filled in.
//!
//! The keys' endings are their units: `_mm` millimetres, `_s` seconds, `_per_min` per minute, `_m_s` metres per second,
//! `_m_s2` and `_m_s3` metres per second squared and cubed, `_kg` kilograms, `_n` newtons, `_m2` square metres.
//! Prices are in any one currency. These types are written, never read: reading is the work of [`crate::check`], which
//! knows the place of every value.

use std::collections::BTreeMap;

use serde::Serialize;
use utoipa::ToSchema;

use super::adjust::{Adjustment, ChangeoverAsked, SkuWeek};
use super::chance::{Failures, Spread, Supply};
use super::feed::Feed;
use super::pair::Pair;
use super::site::{ClearanceSides, Hand, Opening};

/// A packaging cell and what is asked of it.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CellDocument {
    /// Format of the document: 1.
    #[schema(minimum = 1, maximum = 1)]
    pub format: u32,
    /// Name of the cell.
    pub name: String,
    /// What is asked of the cell as a whole.
    #[schema(required = false)]
    pub requirements: Requirements,
    /// Products in their pack patterns, at least one.
    pub skus: Vec<Sku>,
    /// Loops of track. A station in the orders of two of them hands product over from one to the other.
    pub circuits: Vec<Circuit>,
    /// Limits on the track between two stations that follow one another; what is not named has none.
    #[schema(required = false)]
    pub segments: Vec<Segment>,
    /// Limits on times that span several stations.
    #[schema(required = false)]
    pub windows: Vec<Window>,
    /// Stations, in any order.
    pub stations: Vec<Station>,
    /// What is asked of changes from SKU to SKU.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub changeover: Option<ChangeoverAsked>,
    /// The product stream that feeds the cell.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub feed: Option<Feed>,
}

/// What is asked of the cell as a whole.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Requirements {
    /// Net rate over the rate while running, above 0 and at most 1.
    #[schema(required = false, default = 1.0, exclusive_minimum = 0, maximum = 1)]
    pub efficiency: f64,
    /// Design rate over net rate divided by efficiency, at least 1.
    #[schema(required = false, default = 1.0, minimum = 1)]
    pub headroom: f64,
    /// Kept free all round the cell, in millimetres.
    #[schema(required = false, default = 0.0, minimum = 0)]
    pub clearance_mm: f64,
    /// Sides with another clearance.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub clearance_sides_mm: Option<ClearanceSides>,
    /// Side on which product comes in.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub infeed: Option<Opening>,
    /// Side on which it leaves.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub discharge: Option<Opening>,
    /// Which way carriers travel along the front; without it as infeed and discharge need it, else from left to right.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hand: Option<Hand>,
    /// Floor that the cell must fit, lying either way; without it the floor has no limit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub floor: Option<Floor>,
    /// Rectangles of that floor that the cell with its clearance must miss: columns, doors, ways.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    pub keep_out: Vec<KeepOut>,
    /// Plans whose footprint is within so many square metres of the least count as equal in floor.
    #[schema(required = false, default = 0.0, minimum = 0)]
    pub footprint_tolerance_m2: f64,
    /// Most that stations, track and carriers may cost together; without it there is no limit.
    #[schema(minimum = 0, maximum = 1000000000000.0)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub max_price: Option<f64>,
    /// Work the efficiency out instead of taking it as given: the largest, `efficiency` at most, with which the least plan makes
    /// every net rate when it is simulated.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reach_net_rate: Option<ReachNetRate>,
}

/// How plans are simulated until the net rates are reached.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ReachNetRate {
    /// The same seed gives the same plan.
    #[schema(required = false, default = 1, minimum = 0, maximum = 4294967295_u64)]
    pub seed: u32,
    /// Time that counts in each replication, in hours.
    #[schema(required = false, default = 8.0, minimum = 0.001, maximum = 1000)]
    pub hours: f64,
    /// Half-width of the 95 % confidence interval of the net rate that is enough, as a share of it.
    #[schema(required = false, default = 0.01, minimum = 0.000001, maximum = 1)]
    pub half_width: f64,
    /// Most replications of each SKU in each round.
    #[schema(required = false, default = 200, minimum = 10, maximum = 100000)]
    pub most_replications: u32,
}

/// A rectangle of floor.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Floor {
    /// One side, in millimetres.
    #[schema(minimum = 0.01, maximum = 1000000)]
    pub length_mm: f64,
    /// The other side, in millimetres.
    #[schema(minimum = 0.01, maximum = 1000000)]
    pub width_mm: f64,
}

/// A rectangle of the floor that the cell must miss.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct KeepOut {
    /// What it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// From the floor's corner along its length, in millimetres.
    #[schema(required = false, default = 0.0, minimum = 0, maximum = 1000000)]
    pub x_mm: f64,
    /// From the same corner along its width, in millimetres.
    #[schema(required = false, default = 0.0, minimum = 0, maximum = 1000000)]
    pub y_mm: f64,
    /// Size along the floor's length, in millimetres.
    #[schema(minimum = 0.01, maximum = 1000000)]
    pub length_mm: f64,
    /// Size along its width, in millimetres.
    #[schema(minimum = 0.01, maximum = 1000000)]
    pub width_mm: f64,
}

/// One product in one pack pattern.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Sku {
    /// Its id.
    pub id: String,
    /// What the customer counts.
    pub net_rate: NetRate,
    /// Products in a stack.
    #[schema(required = false, default = 1, minimum = 1)]
    pub products_per_stack: u32,
    /// Stacks in a case.
    #[schema(required = false, default = 1, minimum = 1)]
    pub stacks_per_case: u32,
    /// By the id of a circuit: what one of its carriers carries. A load that is not given is empty.
    #[schema(required = false)]
    pub loads: BTreeMap<String, Load>,
    /// Further measures that adjustments follow, in millimetres, by a name of the author's.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    #[schema(required = false)]
    pub measures_mm: BTreeMap<String, f64>,
    /// What it shares with other SKUs (a tool set, a case style), by a name of the author's.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    #[schema(required = false)]
    pub groups: BTreeMap<String, String>,
    /// What is needed of it in a week.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub week: Option<SkuWeek>,
}

/// A rate: exactly one of the two.
#[derive(Clone, Debug, Default, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NetRate {
    /// Cases per minute.
    #[schema(minimum = 0.0001, maximum = 100000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cases_per_min: Option<f64>,
    /// Products per minute.
    #[schema(minimum = 0.0001, maximum = 100000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub products_per_min: Option<f64>,
}

/// What one carrier carries.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Load {
    /// Length along the track, in millimetres.
    #[schema(required = false, default = 0.0, minimum = 0)]
    pub extent_mm: f64,
    /// Mass, in kilograms.
    #[schema(required = false, default = 0.0, minimum = 0)]
    pub mass_kg: f64,
    /// Base along the direction of motion, in millimetres; without it nothing tips.
    #[schema(minimum = 0.01, maximum = 1000000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub base_mm: Option<f64>,
    /// Base across the direction of motion, in millimetres; without it as `base_mm`.
    #[schema(minimum = 0.01, maximum = 1000000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub base_across_mm: Option<f64>,
    /// Height of the centre of gravity over the base, in millimetres; without it nothing tips.
    #[schema(minimum = 0, maximum = 1000000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cg_height_mm: Option<f64>,
    /// Coefficient of static friction; without it nothing slides.
    #[schema(minimum = 0.001, maximum = 10)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub friction: Option<f64>,
    /// Whether the carrier holds it, so that it neither slides nor tips.
    #[schema(required = false, default = false)]
    pub held: bool,
    /// Share of the sliding and tipping limits that is used, above 0 and at most 1.
    #[schema(required = false, default = 0.6, exclusive_minimum = 0, maximum = 1)]
    pub stability_factor: f64,
    /// A tested limit, in metres per second squared.
    #[schema(minimum = 0.001, maximum = 10000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub max_accel_m_s2: Option<f64>,
}

/// What a carrier holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum Carries {
    /// Cases.
    Case,
    /// Stacks.
    Stack,
}

/// A closed loop of track and its carriers.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Circuit {
    /// Its id.
    pub id: String,
    /// What a carrier holds.
    pub carries: Carries,
    /// How many of it a carrier holds.
    #[schema(required = false, default = 1, minimum = 1)]
    pub items_per_carrier: u32,
    /// The carrier.
    pub carrier: Carrier,
    /// The track.
    pub track: Track,
    /// Most carriers; without it there is no limit.
    #[schema(minimum = 1)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub max_carriers: Option<u32>,
    /// Decided beforehand; the rest is planned.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fixed: Option<FixedLoop>,
    /// Id of the circuit over which it lies; without it it has a row of floor of its own, beside the circuit before it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub above: Option<String>,
    /// Ids of its stations in travel order; the last is followed by the first.
    pub order: Vec<String>,
    /// What is set on its carriers and track when the SKU changes. Spacing and opening of the carriers set themselves unless an
    /// adjustment here follows `extent_mm`.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    pub adjustments: Vec<Adjustment>,
}

/// What is decided beforehand about a loop. Each key may be left out.
#[derive(Clone, Debug, Default, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FixedLoop {
    /// Id of its form.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub form: Option<String>,
    /// Modules in each straight.
    #[schema(minimum = 1)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub modules_per_straight: Option<u32>,
    /// Carriers on it.
    #[schema(minimum = 1)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub carriers: Option<u32>,
}

/// The carrier of a circuit.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Carrier {
    /// Length of one mover's carrier along the track, in millimetres.
    #[schema(minimum = 1, maximum = 1000000)]
    pub length_mm: f64,
    /// Least gap to the next, in millimetres.
    #[schema(required = false, default = 0.0, minimum = 0)]
    pub gap_mm: f64,
    /// 1, or 2 for an opposed pair.
    #[schema(required = false, default = 1, minimum = 1, maximum = 2)]
    pub movers_per_carrier: u32,
    /// Mass of the empty carrier, in kilograms.
    #[schema(required = false, default = 0.0, minimum = 0)]
    pub mass_kg: f64,
    /// Speed limit, in metres per second.
    #[schema(minimum = 0.001, maximum = 100)]
    pub max_speed_m_s: f64,
    /// Acceleration limit, in metres per second squared.
    #[schema(minimum = 0.001, maximum = 10000)]
    pub max_accel_m_s2: f64,
    /// Jerk limit, in metres per second cubed.
    #[schema(minimum = 0.01, maximum = 10000000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub max_jerk_m_s3: Option<f64>,
    /// Peak force of one mover, in newtons.
    #[schema(minimum = 0.001, maximum = 10000000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub peak_force_n: Option<f64>,
    /// Continuous (thermal) force of one mover, in newtons.
    #[schema(minimum = 0.001, maximum = 10000000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub continuous_force_n: Option<f64>,
    /// Friction force of the carrier, in newtons.
    #[schema(required = false, default = 0.0, minimum = 0)]
    pub friction_force_n: f64,
    /// How an opposed pair grips; without it a pair is as long as its movers or the load, whichever is longer.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pair: Option<Pair>,
    /// Price of one carrier.
    #[schema(required = false, default = 0.0, minimum = 0)]
    pub price: f64,
}

/// Track of a circuit: two straights of modules, joined by two ends.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Track {
    /// Length of one straight module, in millimetres.
    #[schema(minimum = 1, maximum = 1000000)]
    pub module_mm: f64,
    /// Most modules in one straight.
    #[schema(required = false, default = 40, minimum = 1, maximum = 1000)]
    pub max_modules: u32,
    /// Width of track, carrier and load together, in millimetres.
    #[schema(minimum = 0, maximum = 1000000)]
    pub width_mm: f64,
    /// Price of one straight module.
    #[schema(required = false, default = 0.0, minimum = 0)]
    pub module_price: f64,
    /// Price of one end.
    #[schema(required = false, default = 0.0, minimum = 0)]
    pub curve_price: f64,
    /// Forms of end to choose from, at least one.
    pub forms: Vec<Form>,
}

/// In which plane a loop lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum Plane {
    /// Both straights at the same height.
    Flat,
    /// One straight above the other.
    Upright,
}

/// A form of end.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Form {
    /// Its id.
    pub id: String,
    /// Plane of the loop.
    pub plane: Plane,
    /// Radius of the track's middle line, in millimetres.
    #[schema(minimum = 0.01, maximum = 1000000)]
    pub radius_mm: f64,
    /// Straight piece in the middle of the end, in millimetres.
    #[schema(required = false, default = 0.0, minimum = 0)]
    pub cross_mm: f64,
}

/// Limits on the track between two stations that follow one another.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Segment {
    /// Id of the station before it.
    pub from: String,
    /// Id of the station after it.
    pub to: String,
    /// Id of the circuit, where the two stations follow one another on two of them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub circuit: Option<String>,
    /// Seconds that it must absorb while the station after it stands still.
    #[schema(required = false, default = 0.0, minimum = 0)]
    pub ride_through_s: f64,
    /// Least length, in millimetres.
    #[schema(required = false, default = 0.0, minimum = 0)]
    pub min_length_mm: f64,
    /// Least seconds from leaving one station to being ready before the next.
    #[schema(required = false, default = 0.0, minimum = 0)]
    pub min_s: f64,
    /// Most seconds from leaving one station to being taken in by the next.
    #[schema(minimum = 0, maximum = 100000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub max_s: Option<f64>,
    /// Whether the carriers are loaded here.
    #[schema(required = false, default = true)]
    pub loaded: bool,
}

/// From when a window counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Since {
    /// From being taken in at the first station.
    TakenIn,
    /// From leaving it.
    Left,
}

/// Limits on a time that spans several stations; ends with being taken in at `to`.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Window {
    /// Id of the first station.
    pub from: String,
    /// Id of the last station.
    pub to: String,
    /// Id of the circuit, where both stations are on two of them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub circuit: Option<String>,
    /// From when it counts.
    #[schema(required = false, default = "left")]
    pub since: Since,
    /// Most seconds. One of `max_s` and `min_s` is given, or both.
    #[schema(minimum = 0, maximum = 100000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub max_s: Option<f64>,
    /// Least seconds.
    #[schema(minimum = 0, maximum = 100000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub min_s: Option<f64>,
}

/// How a station works.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum Mode {
    /// On a batch that stands still.
    Intermittent,
    /// On carriers that move.
    Continuous,
}

/// What is decided beforehand about a station's work. Each key may be left out.
#[derive(Clone, Debug, Default, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FixedWork {
    /// Its way of working.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mode: Option<Mode>,
    /// Its heads.
    #[schema(minimum = 1)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub heads: Option<u32>,
}

/// Where a station stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum Side {
    /// At the front of the cell.
    Front,
    /// At the back.
    Back,
    /// Where it suits the plan.
    Either,
}

/// Where work is done. It has one way of working, or both.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Station {
    /// Its id.
    pub id: String,
    /// Floor beside the track, in millimetres away from it.
    #[schema(required = false, default = 0.0, minimum = 0)]
    pub depth_mm: f64,
    /// Floor that must be free in front of that, in millimetres away from it: to stand, open doors, bring material. It may lie
    /// in the clearance of the cell.
    #[schema(minimum = 0, maximum = 1000000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub access_mm: Option<f64>,
    /// Length of that floor along the track, in millimetres, centred on the zone; without it as long as the zone.
    #[schema(minimum = 0.01, maximum = 1000000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub frame_length_mm: Option<f64>,
    /// Zone length beyond the carriers, both ends together, in millimetres.
    #[schema(required = false, default = 0.0, minimum = 0)]
    pub margin_mm: f64,
    /// Where it stands.
    #[schema(required = false, default = "either")]
    pub side: Side,
    /// Working while a batch stands.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub intermittent: Option<Intermittent>,
    /// Working while carriers move.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub continuous: Option<Continuous>,
    /// By the id of a SKU: what differs for it.
    #[schema(required = false)]
    pub per_sku: BTreeMap<String, PerSku>,
    /// How often it fails; used by simulation only.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub failures: Option<Failures>,
    /// How often it stops for a short while (a jam, a refill); as `failures`, and counted apart. Used by simulation only.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub short_stops: Option<Failures>,
    /// How its times of work spread round what the plan reckons with; always the same where it is left out. Used by simulation
    /// only.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub work_times: Option<Spread>,
    /// What comes to it from outside (product, blanks); always there where it is left out. Used by simulation only.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub supply: Option<Supply>,
    /// Decided beforehand; the rest is planned.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fixed: Option<FixedWork>,
    /// What is set on it when the SKU changes.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    pub adjustments: Vec<Adjustment>,
    /// Most people who can work at it at once; without it as many as there are.
    #[schema(minimum = 1, maximum = 100)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub room_for_people: Option<u32>,
}

/// Working while a batch stands.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Intermittent {
    /// Seconds of work on the first carrier of a batch.
    #[schema(minimum = 0, maximum = 100000)]
    pub base_s: f64,
    /// Seconds more for each further carrier.
    #[schema(required = false, default = 0.0, minimum = 0)]
    pub per_extra_s: f64,
    /// Seconds of rest before the work begins.
    #[schema(required = false, default = 0.0, minimum = 0)]
    pub settle_s: f64,
    /// Most heads.
    #[schema(required = false, default = 1, minimum = 1, maximum = 64)]
    pub max_batch: u32,
    /// Price without heads.
    #[schema(required = false, default = 0.0, minimum = 0)]
    pub price: f64,
    /// Price of each head.
    #[schema(required = false, default = 0.0, minimum = 0)]
    pub price_per_head: f64,
}

/// Working while carriers move; exactly one of `process_s` and `process_length_mm` is given.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Continuous {
    /// Seconds of work.
    #[schema(minimum = 0.000001, maximum = 100000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub process_s: Option<f64>,
    /// Length of work, in millimetres.
    #[schema(minimum = 0, maximum = 1000000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub process_length_mm: Option<f64>,
    /// Seconds in which tools that follow the carriers come back; with `process_s` only.
    #[schema(minimum = 0, maximum = 100000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub return_s: Option<f64>,
    /// Most heads.
    #[schema(required = false, default = 1, minimum = 1, maximum = 64)]
    pub max_batch: u32,
    /// Speed limit of the work, in metres per second; without it the carrier's.
    #[schema(minimum = 0.001, maximum = 100)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub max_speed_m_s: Option<f64>,
    /// Whether carriers may stop inside.
    #[schema(required = false, default = true)]
    pub may_wait: bool,
    /// Price without heads.
    #[schema(required = false, default = 0.0, minimum = 0)]
    pub price: f64,
    /// Price of each head.
    #[schema(required = false, default = 0.0, minimum = 0)]
    pub price_per_head: f64,
}

/// What differs at a station for one SKU; the keys are those of the station's ways of working.
#[derive(Clone, Debug, Default, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PerSku {
    /// Seconds of work on the first carrier of a batch.
    #[schema(minimum = 0, maximum = 100000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub base_s: Option<f64>,
    /// Seconds more for each further carrier.
    #[schema(minimum = 0, maximum = 100000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub per_extra_s: Option<f64>,
    /// Seconds of rest before the work begins.
    #[schema(minimum = 0, maximum = 100000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub settle_s: Option<f64>,
    /// Seconds of work while carriers move.
    #[schema(minimum = 0.000001, maximum = 100000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub process_s: Option<f64>,
    /// Seconds in which the tools come back.
    #[schema(minimum = 0, maximum = 100000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub return_s: Option<f64>,
    /// Length of work while carriers move, in millimetres.
    #[schema(minimum = 0, maximum = 1000000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub process_length_mm: Option<f64>,
    /// Largest batch of this SKU.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub max_batch: Option<u32>,
}
