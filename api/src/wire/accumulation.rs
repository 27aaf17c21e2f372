//! What accumulation buys: net rate against the seconds that a section absorbs.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::cell::CellDocument;
use super::plan::ReachStatus;
use super::simulation::{Estimated, SimulatedGain};

/// The format that is written.
pub const FORMAT: u32 = 1;

/// A cell, a section of it, and the range that is looked at.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AccumulateRequest {
    /// The cell document.
    #[schema(value_type = CellDocument)]
    pub cell: serde_json::Value,
    /// What is asked.
    #[serde(flatten)]
    pub asked: AccumulateAsked,
}

/// What is asked of an accumulation curve.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct AccumulateAsked {
    /// Id of the station before the section.
    pub from: String,
    /// Id of the station after it.
    pub to: String,
    /// Id of the SKU; the first where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sku: Option<String>,
    /// Largest ride-through, in seconds.
    #[schema(exclusive_minimum = 0, maximum = 100000)]
    pub up_to_s: f64,
    /// Points from 0 to that.
    #[serde(default = "usual_points", deserialize_with = "super::whole::read")]
    #[schema(required = false, default = 9, minimum = 2, maximum = 101)]
    pub points: u32,
    /// Cases a minute that a square metre of floor must bring; without it any gain that chance does not explain counts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 0, maximum = 1000000)]
    pub worth_per_m2: Option<f64>,
    /// The same seed gives the same numbers.
    #[serde(default = "usual_seed", deserialize_with = "super::whole::read")]
    #[schema(required = false, default = 1, minimum = 0, maximum = 4294967295_u64)]
    pub seed: u32,
    /// Time that counts in each replication, in hours.
    #[serde(default = "usual_hours")]
    #[schema(required = false, default = 8.0, exclusive_minimum = 0, maximum = 1000)]
    pub hours: f64,
    /// Half-width of the 95 % confidence interval of each net rate that is enough, as a share of it.
    #[serde(default = "usual_half_width")]
    #[schema(required = false, default = 0.005, exclusive_minimum = 0, maximum = 1)]
    pub half_width: f64,
    /// Fewest replications of each point.
    #[serde(default = "usual_least", deserialize_with = "super::whole::read")]
    #[schema(required = false, default = 20, minimum = 2, maximum = 100000)]
    pub least_replications: u32,
    /// Most replications of each point; all points have the same number.
    #[serde(default = "usual_most", deserialize_with = "super::whole::read")]
    #[schema(required = false, default = 320, minimum = 2, maximum = 100000)]
    pub most_replications: u32,
}

fn usual_points() -> u32 {
    9
}

fn usual_seed() -> u32 {
    1
}

fn usual_hours() -> f64 {
    8.0
}

fn usual_half_width() -> f64 {
    0.005
}

fn usual_least() -> u32 {
    20
}

fn usual_most() -> u32 {
    320
}

impl AccumulateAsked {
    /// With everything as usual.
    #[must_use]
    pub fn usual(from: String, to: String, up_to_s: f64) -> Self {
        Self {
            from,
            to,
            sku: None,
            up_to_s,
            points: usual_points(),
            worth_per_m2: None,
            seed: usual_seed(),
            hours: usual_hours(),
            half_width: usual_half_width(),
            least_replications: usual_least(),
            most_replications: usual_most(),
        }
    }
}

/// Net rate against ride-through.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct AccumulationDocument {
    /// Format of the document: 1.
    #[schema(minimum = 1, maximum = 1)]
    pub format: u32,
    /// Name of the cell.
    pub name: String,
    /// What was asked.
    pub asked: AccumulateAsked,
    /// Id of the SKU.
    pub sku: String,
    /// Cases per minute that the customer asks for.
    #[schema(minimum = 0)]
    pub asked_net_rate_per_min: f64,
    /// Ride-through that the document asks for now, in seconds.
    #[schema(minimum = 0)]
    pub given_ride_through_s: f64,
    /// Replications of each point.
    #[schema(minimum = 0)]
    pub replications: u32,
    /// Whether every interval is as narrow as was asked.
    pub reached: bool,
    /// By ascending ride-through, each planned anew.
    pub points: Vec<AccumulationPoint>,
    /// Number of the point, from 0, after which more does not pay; absent where the gain goes on to the end of the range.
    #[schema(minimum = 0)]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub enough: Option<u32>,
    /// The same in words.
    pub says: String,
}

/// One plan of the curve.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct AccumulationPoint {
    /// Ride-through that was asked of it, in seconds.
    #[schema(minimum = 0)]
    pub ride_through_s: f64,
    /// Whether there is a plan.
    pub status: ReachStatus,
    /// Slots of the section.
    #[schema(minimum = 0)]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub slots: Option<u32>,
    /// Footprint, in square metres.
    #[schema(minimum = 0)]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub area_m2: Option<f64>,
    /// Carriers.
    #[schema(minimum = 0)]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub carriers: Option<u32>,
    /// Price.
    #[schema(minimum = 0)]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub price: Option<f64>,
    /// Cases per minute, stops and gaps counted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub net_rate_per_min: Option<Estimated>,
    /// What it makes more than the point before, by pairs of replications with the same luck.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gain_per_min: Option<SimulatedGain>,
}
