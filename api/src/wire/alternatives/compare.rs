//! Variants of one cell, side by side.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{Change, Short};
use crate::wire::cell::CellDocument;
use crate::wire::simulation::{Estimated, SimulatedGain, SimulationRun};

/// A cell, and what to compare it with.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CompareRequest {
    /// The cell document.
    #[schema(value_type = CellDocument)]
    pub cell: serde_json::Value,
    /// Variants of one's own.
    #[serde(default)]
    #[schema(required = false, max_items = 200)]
    pub variants: Vec<Variant>,
    /// Whether to add the usual ones: all intermittent, all continuous, each station alone worked the other way, only
    /// each form of the loop, and without each; yes where it is left out.
    #[serde(default = "yes")]
    #[schema(required = false, default = true)]
    pub usual: bool,
    /// Simulate every plan with what goes wrong, all of them with the same seed, so that they meet the same luck; where it is left
    /// out, nothing is simulated. Planning then takes half of the time limit at most.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(required = false)]
    pub simulate: Option<SimulationRun>,
}

fn yes() -> bool {
    true
}

/// A named set of changes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Variant {
    /// What it is called.
    #[schema(min_length = 1, max_length = 200)]
    pub name: String,
    /// What differs from the cell document.
    #[schema(max_items = 1000)]
    pub changes: Vec<Change>,
}

/// Variants of one cell, side by side. The first is the document as it is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CompareDocument {
    /// Format of the document: 1.
    #[schema(minimum = 1, maximum = 1)]
    pub format: u32,
    /// Name of the cell.
    pub name: String,
    /// What was compared.
    pub variants: Vec<Compared>,
    /// For each pair of variants that have a plan, why they differ.
    pub differences: Vec<Difference>,
    /// How the plans were simulated; absent where that was not asked for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub simulated: Option<ComparedRun>,
}

/// How the plans of a comparison were simulated.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ComparedRun {
    /// The run, the same for every plan: with one seed all variants meet the same luck.
    pub run: SimulationRun,
    /// How the numbers came about, and where nothing goes wrong, in sentences.
    pub notes: Vec<String>,
    /// Whether the time limit or a cancel ended it before every plan had its replications.
    pub stopped: bool,
}

/// What the plan of a variant makes when it is simulated.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ComparedOperation {
    /// Whether anything is left to chance in this variant.
    pub by_chance: bool,
    /// Whether every SKU had its replications.
    pub complete: bool,
    /// Id of the SKU with the least efficiency of those that were simulated.
    pub least_sku: String,
    /// In the order of the cell document; those that the time did not reach are missing.
    pub skus: Vec<ComparedSku>,
}

impl ComparedOperation {
    /// Place in the list of the SKU with the least efficiency, and the SKU.
    #[must_use]
    pub fn least(&self) -> Option<(usize, &ComparedSku)> {
        self.skus.iter().enumerate().find(|(_, sku)| sku.id == self.least_sku)
    }
}

/// What a plan makes of one SKU, as the simulation document of that plan has it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ComparedSku {
    /// Id of the SKU.
    pub id: String,
    /// Replications that were played; 1 where nothing is left to chance.
    #[schema(minimum = 1)]
    pub replications: u32,
    /// Whether the half-width that was asked for is reached.
    pub reached: bool,
    /// Cases per minute that the cell makes, stops and gaps counted.
    pub net_rate_per_min: Estimated,
    /// Cases per minute with nothing going wrong: exact.
    #[schema(minimum = 0)]
    pub undisturbed_rate_per_min: f64,
    /// Net rate over the undisturbed one.
    pub efficiency: Estimated,
}

/// One variant.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Compared {
    /// What it is called.
    pub name: String,
    /// What differs from the cell document.
    pub changes: Vec<Change>,
    /// The plan in short.
    pub plan: Short,
    /// What differs from the first variant, in words: station by station, and form.
    pub marks: Vec<String>,
    /// What the plan makes when it is simulated; absent without a plan, and where that was not asked for or not reached.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub simulated: Option<ComparedOperation>,
}

/// Why one plan needs more floor and carriers than another: `than` is taken from `of`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Difference {
    /// Place in the list of variants of the plan that is looked at.
    #[schema(minimum = 0)]
    pub of: u32,
    /// Place of the one that it is held against.
    #[schema(minimum = 0)]
    pub than: u32,
    /// Floor in square metres, by cause.
    pub floor_m2: FloorCauses,
    /// Carriers, by cause; for the SKU that the latter has least of in hand.
    pub carriers: CarrierCauses,
    /// Price.
    #[schema(minimum = -1000000000, maximum = 1000000000)]
    pub price: f64,
    /// Efficiency when both are simulated; absent where they are not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub efficiency: Option<ComparedEfficiency>,
    /// The largest of these in a sentence.
    pub says: String,
}

/// How far the efficiencies of two plans are apart, for the SKU for which the latter's is least.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ComparedEfficiency {
    /// Id of the SKU.
    pub sku: String,
    /// Efficiency more, as a share, by pairs of replications with the same luck, as many as both have.
    pub gain: SimulatedGain,
}

/// Floor by cause, in square metres. Length along the straights counts with the mean width of the two plans, and width
/// with their mean length, so that the causes add up to the total.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FloorCauses {
    /// Zones of stations.
    #[schema(minimum = -1000000, maximum = 1000000)]
    pub zones: f64,
    /// Straight track that queues between stations need, beyond what the ends hold.
    #[schema(minimum = -1000000, maximum = 1000000)]
    pub queues: f64,
    /// Straight track that is left over: modules come whole, and straights are equally long.
    #[schema(minimum = -1000000, maximum = 1000000)]
    pub unused_straight: f64,
    /// Reach of the ends, and clearance along the straights.
    #[schema(minimum = -1000000, maximum = 1000000)]
    pub ends: f64,
    /// Across: ends, depth of the stations, clearance.
    #[schema(minimum = -1000000, maximum = 1000000)]
    pub depth: f64,
    /// Sum of these.
    #[schema(minimum = -1000000, maximum = 1000000)]
    pub total: f64,
}

/// Carriers by cause, as means over time at the design rate (Little's law); they add up to the total.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CarrierCauses {
    /// Id of the SKU for which it was computed.
    pub sku: String,
    /// Being worked on, or moving in.
    #[schema(minimum = -1000000, maximum = 1000000)]
    pub in_stations: f64,
    /// On the way between stations.
    #[schema(minimum = -1000000, maximum = 1000000)]
    pub on_the_way: f64,
    /// Waiting.
    #[schema(minimum = -1000000, maximum = 1000000)]
    pub waiting: f64,
    /// Sum of these: whole carriers.
    #[schema(minimum = -1000000, maximum = 1000000)]
    pub total: f64,
}
