//! How plans move with one or two numbers of the document.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::Short;
use crate::wire::cell::CellDocument;
use crate::wire::plan::PlannedMode;

/// A cell, and the numbers to sweep.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SweepRequest {
    /// The cell document.
    #[schema(value_type = CellDocument)]
    pub cell: serde_json::Value,
    /// One number, or two.
    #[schema(min_items = 1, max_items = 2)]
    pub axes: Vec<Axis>,
    /// Crossovers are found to this share of the range of the first number; 0.01 where it is left out, 0 for none.
    #[serde(default = "accuracy")]
    #[schema(required = false, default = 0.01, minimum = 0, maximum = 1)]
    pub crossover_accuracy: f64,
}

fn accuracy() -> f64 {
    0.01
}

/// A number of the document and its range.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Axis {
    /// Where it stands, as in a change.
    pub at: String,
    /// Whether the range is of the number itself, or of multiples of what the document gives.
    #[serde(default)]
    #[schema(required = false, default = "times")]
    pub of: SweepTarget,
    /// First value.
    #[schema(minimum = -1000000000, maximum = 1000000000)]
    pub from: f64,
    /// Last value.
    #[schema(minimum = -1000000000, maximum = 1000000000)]
    pub to: f64,
    /// How many values, evenly spread, both ends among them.
    #[schema(minimum = 1, maximum = 1000)]
    #[serde(deserialize_with = "crate::wire::whole::read")]
    pub points: u32,
}

/// What a range is of.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum SweepTarget {
    /// Multiples of what the document gives.
    #[default]
    Times,
    /// The number itself.
    Value,
}

/// Plans over a range.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SweepDocument {
    /// Format of the document: 1.
    #[schema(minimum = 1, maximum = 1)]
    pub format: u32,
    /// Name of the cell.
    pub name: String,
    /// What was swept.
    pub axes: Vec<Axis>,
    /// Every point: the first number changes fastest.
    pub points: Vec<SweepPoint>,
    /// Where the best way of working of a station changes along the first number.
    pub crossovers: Vec<Crossover>,
    /// The points that no other beats in floor, carriers and price together, nor equals in all three with an earlier place.
    pub front: Vec<FrontPoint>,
}

/// One point.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SweepPoint {
    /// Value of the first number.
    #[schema(minimum = -1000000000, maximum = 1000000000)]
    pub value: f64,
    /// Value of the second number, where there is one.
    #[schema(required = true, minimum = -1000000000, maximum = 1000000000)]
    pub second: Option<f64>,
    /// The plan in short.
    pub plan: Short,
}

/// A plan that no other of the sweep beats.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FrontPoint {
    /// Place in the list of points.
    #[schema(minimum = 0)]
    pub point: u32,
    /// Floor, in square metres.
    #[schema(minimum = 0)]
    pub area_m2: f64,
    /// Carriers.
    #[schema(minimum = 0)]
    pub carriers: u32,
    /// Price.
    #[schema(minimum = 0)]
    pub price: f64,
}

/// Where the best way of working of a station changes. Both sides were planned.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Crossover {
    /// Id of the station.
    pub station: String,
    /// Best way of working below.
    pub below: PlannedMode,
    /// Best way of working above.
    pub above: PlannedMode,
    /// Largest value at which the way below was planned as best.
    #[schema(minimum = -1000000000, maximum = 1000000000)]
    pub from: f64,
    /// Least value above it at which the way above was planned as best.
    #[schema(minimum = -1000000000, maximum = 1000000000)]
    pub to: f64,
    /// Value of the second number, where there is one.
    #[schema(required = true, minimum = -1000000000, maximum = 1000000000)]
    pub second: Option<f64>,
    /// Whether `to - from` is as small as was asked, and all plans on the way were proven to be the best.
    pub proven: bool,
}
