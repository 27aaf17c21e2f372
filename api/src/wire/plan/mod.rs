//! The plan document as it is published: what was planned, what follows from it, and what was proven.
//!
//! The keys' endings are their units: `_m` metres, `_m2` square metres, `_s` seconds, `_per_min` per minute, `_m_s` metres
//! per second, `_m_s2` metres per second squared, `_n` newtons. Prices are in the cell document's currency. Numbers are
//! not rounded, since a slot can hang on the ninth decimal.

mod circuit;
mod feed;
mod site;

pub use circuit::{
    ExactFraction, LimitKind, LimitedBy, PlannedCircuit, PlannedMode, PlannedModuleLoad, PlannedModuleLoads,
    PlannedPair, PlannedPlace, PlannedPlane, PlannedSection, PlannedSide, PlannedSince, PlannedSku, PlannedStation,
    PlannedStraight, PlannedWindow, SectionSku, StationSku, WindowSku,
};

pub use feed::{BeltSku, FeedLanes, FeedSku, PlannedBelt, PlannedFeed};
pub use site::{AskedOpening, PlannedCellSide, PlannedHand};

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::simulation::Estimated;

/// The format that is written.
pub const FORMAT: u32 = 1;

/// The answer to a cell document.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PlanDocument {
    /// Format of the document: 1.
    #[schema(minimum = 1, maximum = 1)]
    pub format: u32,
    /// Name of the cell.
    pub name: String,
    /// A plan, the proof that there is none, or neither.
    #[serde(flatten)]
    pub answer: Answer,
}

/// A plan, the proof that there is none, or neither; told apart by `status`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "status", rename_all = "lowercase")]
pub enum Answer {
    /// There is a plan.
    Planned(Box<Planned>),
    /// There is none, whatever is chosen.
    Impossible(Impossible),
    /// Stopped before a plan was found, or was proven not to be there.
    Stopped(Stopped),
}

/// A plan that every rule accepts.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Planned {
    /// Rectangle of floor, clearance included.
    pub footprint: PlannedFootprint,
    /// No plan has less floor, in square metres.
    #[schema(minimum = 0)]
    pub proven_bound_m2: f64,
    /// (area - proven bound) / area, from 0.
    #[schema(minimum = 0)]
    pub gap: f64,
    /// Price of stations, track and carriers.
    #[schema(minimum = 0)]
    pub price: f64,
    /// What was proven to be least.
    pub proof: Proofs,
    /// How the search went.
    pub effort: SearchEffort,
    /// What was asked of the cell as a whole.
    pub asked: Asked,
    /// Where the cell lies on the floor, clearance included; there when places must be kept out of.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub placing: Option<PlannedPlacing>,
    /// Which way carriers travel along the front; there when the cell asks for it, or for an infeed or discharge side.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hand: Option<PlannedHand>,
    /// How the efficiency was worked out; there when that was asked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reach: Option<PlannedReach>,
    /// The product stream that feeds the cell; there when that was given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub feed: Option<PlannedFeed>,
    /// What a reader must know before anything is built.
    pub cautions: Vec<String>,
    /// Loops of track.
    pub circuits: Vec<PlannedCircuit>,
}

/// The proof that there is no plan.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Impossible {
    /// Requirements that cannot hold together.
    pub conflict: Conflict,
    /// What stands in the way, in sentences.
    pub reasons: Vec<String>,
    /// How the search went.
    pub effort: SearchEffort,
}

/// Neither a plan nor the proof that there is none.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Stopped {
    /// If there is a plan, it has no less floor, in square metres.
    #[schema(minimum = 0)]
    pub proven_bound_m2: f64,
    /// How the search went.
    pub effort: SearchEffort,
}

/// A rectangle of floor.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PlannedFootprint {
    /// Along the straights, in metres.
    #[schema(minimum = 0)]
    pub length_m: f64,
    /// Across, in metres.
    #[schema(minimum = 0)]
    pub width_m: f64,
    /// Length times width, in square metres.
    #[schema(minimum = 0)]
    pub area_m2: f64,
}

/// An efficiency that was worked out by simulating plans.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PlannedReach {
    /// Whether the lower 95 % bound of every net rate is at least what was asked.
    pub reached: bool,
    /// The efficiency that this plan was made for.
    #[schema(minimum = 0, maximum = 1)]
    pub efficiency: f64,
    /// The rounds, in the order in which they were played.
    pub rounds: Vec<ReachRound>,
}

/// A plan for one efficiency, simulated.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ReachRound {
    /// The efficiency.
    #[schema(minimum = 0, maximum = 1)]
    pub efficiency: f64,
    /// Whether there is a plan for it: `planned`, `impossible` or `stopped`.
    pub status: ReachStatus,
    /// Footprint of the plan, in square metres.
    #[schema(minimum = 0)]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub area_m2: Option<f64>,
    /// Its carriers.
    #[schema(minimum = 0)]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub carriers: Option<u32>,
    /// Slots of all its sections, of the SKU that misses its rate most or keeps it least.
    #[schema(minimum = 0)]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub slots: Option<u32>,
    /// Id of that SKU.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sku: Option<String>,
    /// Cases per minute that it asks for.
    #[schema(minimum = 0)]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub asked_net_rate_per_min: Option<f64>,
    /// Cases per minute that the plan makes of it when it is simulated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub net_rate_per_min: Option<Estimated>,
    /// Whether every SKU's net rate is reached.
    pub reached: bool,
}

/// What came of planning for an efficiency.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum ReachStatus {
    /// A plan.
    Planned,
    /// Proven: there is none.
    Impossible,
    /// Neither in the time.
    Stopped,
}

/// Where the cell's rectangle lies on the floor.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PlannedPlacing {
    /// From the floor's corner along its length, in metres.
    #[schema(minimum = 0)]
    pub x_m: f64,
    /// From the same corner along its width, in metres.
    #[schema(minimum = 0)]
    pub y_m: f64,
    /// Whether the cell is turned a quarter: its length lies along the floor's width, its front towards the floor's far end.
    pub turned: bool,
}

/// A rectangle of the floor that the cell misses.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct AskedKeepOut {
    /// What it is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// From the floor's corner along its length, in metres.
    #[schema(minimum = 0)]
    pub x_m: f64,
    /// From the same corner along its width, in metres.
    #[schema(minimum = 0)]
    pub y_m: f64,
    /// Size along the floor's length, in metres.
    #[schema(minimum = 0)]
    pub length_m: f64,
    /// Size along its width, in metres.
    #[schema(minimum = 0)]
    pub width_m: f64,
}

/// What was proven to be least, each among the plans that are best in the ones before.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Proofs {
    /// Floor, in square metres.
    pub footprint: ProvenNumber,
    /// Carriers, among plans of the least floor.
    pub carriers: ProvenCount,
    /// Price, among those with the fewest carriers.
    pub price: ProvenNumber,
}

/// A least value and whether the plan has it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ProvenNumber {
    /// Whether no plan has less.
    pub proven: bool,
    /// No plan has less than this, in the unit of the quantity.
    #[schema(minimum = 0)]
    pub bound: f64,
}

/// A least count and whether the plan has it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ProvenCount {
    /// Whether no plan has fewer.
    pub proven: bool,
    /// No plan has fewer than this.
    #[schema(minimum = 0)]
    pub bound: u32,
}

/// How the search went. No clock times: the same document gives the same bytes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct SearchEffort {
    /// Mixed-integer programs solved.
    #[schema(minimum = 0)]
    pub programs: u32,
    /// Candidates put to the exact check.
    #[schema(minimum = 0)]
    pub candidates: u32,
    /// Candidates that the check refused.
    #[schema(minimum = 0)]
    pub cuts: u32,
    /// Whether the time limit, or an interruption, ended the search.
    #[serde(default)]
    pub time_limit_reached: bool,
}

/// Clearance by side, in metres.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct AskedClearance {
    /// At the front.
    #[schema(minimum = 0)]
    pub front_m: f64,
    /// At the back.
    #[schema(minimum = 0)]
    pub back_m: f64,
    /// At the left end.
    #[schema(minimum = 0)]
    pub left_m: f64,
    /// At the right end.
    #[schema(minimum = 0)]
    pub right_m: f64,
}

impl Planned {
    /// Whether the cell is the mirror image of one whose carriers travel from left to right along the front.
    #[must_use]
    pub fn is_mirrored(&self) -> bool {
        self.hand == Some(PlannedHand::RightToLeft)
    }
}

impl Asked {
    /// Infeed and discharge with their names, where they are asked.
    pub fn openings(&self) -> impl Iterator<Item = (&'static str, &AskedOpening)> {
        let all = [("Infeed", &self.infeed), ("Discharge", &self.discharge)];
        all.into_iter().filter_map(|(name, opening)| Some((name, opening.as_ref()?)))
    }

    /// Clearance by side, also where all are alike.
    #[must_use]
    pub fn sides(&self) -> AskedClearance {
        let c = self.clearance_m;
        self.clearance_sides.unwrap_or(AskedClearance { front_m: c, back_m: c, left_m: c, right_m: c })
    }
}

/// What was asked of the cell as a whole, in SI units.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Asked {
    /// Net rate over the rate while running.
    #[schema(minimum = 0)]
    pub efficiency: f64,
    /// Design rate over net rate divided by efficiency.
    #[schema(minimum = 0)]
    pub headroom: f64,
    /// Kept free all round the cell, in metres; part of the footprint.
    #[schema(minimum = 0)]
    pub clearance_m: f64,
    /// By side, where the sides differ: then `clearance_m` is the greatest.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub clearance_sides: Option<AskedClearance>,
    /// Side on which product comes in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub infeed: Option<AskedOpening>,
    /// Side on which it leaves.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub discharge: Option<AskedOpening>,
    /// One side of the floor, in metres, where it is limited.
    #[schema(minimum = 0)]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub floor_length_m: Option<f64>,
    /// The other side, in metres.
    #[schema(minimum = 0)]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub floor_width_m: Option<f64>,
    /// Rectangles of the floor that the cell misses.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub keep_out: Vec<AskedKeepOut>,
}

/// Requirements that cannot hold together.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Conflict {
    /// The set; empty when physics and geometry alone leave no plan.
    pub requirements: Vec<ConflictRequirement>,
    /// Whether leaving out any one of them was shown to help. False when time ran out on the way.
    pub minimal: bool,
}

/// One requirement of a conflict.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ConflictRequirement {
    /// Where it stands in the cell document, as a JSON pointer (RFC 6901).
    pub pointer: String,
    /// What is asked there; the default where the document gives nothing.
    #[schema(value_type = Value)]
    pub value: serde_json::Value,
    /// The same in words.
    pub says: String,
}
