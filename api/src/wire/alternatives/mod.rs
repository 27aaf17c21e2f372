//! The documents of alternatives: what differs between plans, how plans move with a number, what would help.
//!
//! The keys' endings are their units, as in the plan document.

mod compare;
mod explain;
mod front;
mod sweep;

pub use compare::{
    CarrierCauses, CompareDocument, CompareRequest, Compared, ComparedEfficiency, ComparedOperation, ComparedRun,
    ComparedSku, Difference, FloorCauses, Variant,
};
pub use explain::{ExplainDocument, ExplainRequest, Explained, Helped, Lever, RatesOnFloor, Relaxed, ReliefKind};
pub use front::{FrontDocument, FrontRequest};
pub use sweep::{Axis, Crossover, FrontPoint, SweepDocument, SweepPoint, SweepRequest, SweepTarget};

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::plan::{PlannedFootprint, PlannedMode};

/// The format that is written.
pub const FORMAT: u32 = 1;

/// One change of a cell document. Exactly one of `to`, `times`, `plus` and `leave_out` is given.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Change {
    /// Where: keys from the top of the cell document, with `/` between them. In a list, the id of an entry (for a segment
    /// or window the id of its first station), its place counted from 0, or `*` for every entry. `rate` stands for the net
    /// rates of all SKUs.
    pub at: String,
    /// The new value; objects that are missing on the way are added.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<Value>)]
    pub to: Option<serde_json::Value>,
    /// Multiply the number there by this.
    #[schema(minimum = 0, maximum = 1000000)]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub times: Option<f64>,
    /// Add this to the number there.
    #[schema(minimum = -1000000000, maximum = 1000000000)]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plus: Option<f64>,
    /// Leave the key out, so that its default holds.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub leave_out: bool,
}

/// How a plan, or the search for one, ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum Ended {
    /// There is a plan.
    Planned,
    /// Proven: there is none.
    Impossible,
    /// Stopped before a plan was found or excluded.
    Stopped,
    /// The changed document is wrong.
    Refused,
}

/// A plan in short.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Short {
    /// How it ended; without a plan the keys of plans are null or empty.
    pub status: Ended,
    /// Rectangle of floor, clearance included.
    #[schema(required = true)]
    pub footprint: Option<PlannedFootprint>,
    /// No plan has less floor, in square metres.
    #[schema(required = true, minimum = 0)]
    pub proven_bound_m2: Option<f64>,
    /// Whether floor, carriers and price are all proven to be least.
    pub proven: bool,
    /// Length round the loop, in metres; of several loops, of all together.
    #[schema(required = true, minimum = 0)]
    pub loop_length_m: Option<f64>,
    /// Id of the form of the ends; of several loops, the id of each with its form.
    #[schema(required = true)]
    pub form: Option<String>,
    /// Modules in each straight; of one loop only.
    #[schema(required = true, minimum = 0)]
    pub modules_per_straight: Option<u32>,
    /// Carriers on all loops.
    #[schema(required = true, minimum = 0)]
    pub carriers: Option<u32>,
    /// Price of stations, track and carriers.
    #[schema(required = true, minimum = 0)]
    pub price: Option<f64>,
    /// How each station works, in travel order, loop by loop.
    pub stations: Vec<ShortStation>,
    /// What each SKU has in hand, in the order of the cell document.
    pub skus: Vec<ShortSku>,
    /// Why there is no plan, in sentences.
    pub reasons: Vec<String>,
}

/// How a station works.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ShortStation {
    /// Its id.
    pub id: String,
    /// Way of working.
    pub mode: PlannedMode,
    /// Tool positions installed.
    #[schema(minimum = 0)]
    pub heads: u32,
}

/// What a SKU has in hand.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ShortSku {
    /// Its id.
    pub id: String,
    /// Exact rate over design rate, less 1.
    #[schema(minimum = -1)]
    pub margin: f64,
    /// What keeps its rate from being higher.
    pub limited_by: String,
}
