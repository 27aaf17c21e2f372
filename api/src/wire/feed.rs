//! The product stream of a cell document: what comes, the belts that meter it and pull gaps, and the lanes that stack it.

use std::collections::BTreeMap;

use serde::Serialize;
use utoipa::ToSchema;

use super::site::CellSide;

/// The product stream that feeds the cell, and the floor that it takes.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Feed {
    /// Id of the station that products or stacks are handed to.
    pub into: String,
    /// Side of the cell on which its floor lies, seen from above with the front below.
    pub side: CellSide,
    /// Whether its belts run along the cell's straights or across them.
    #[schema(required = false, default = "along")]
    pub runs: FeedRuns,
    /// Width of its floor across the belts, in millimetres; its length is that of all belts and the stacker.
    #[schema(minimum = 0.01, maximum = 1000000)]
    pub width_mm: f64,
    /// What comes.
    pub products: FeedProducts,
    /// Belts in the direction of flow, at least one.
    pub belts: Vec<Belt>,
    /// Least gap with which products may leave the last belt, in millimetres.
    #[schema(required = false, default = 0.0, minimum = 0, maximum = 1000000)]
    pub needed_gap_mm: f64,
    /// How products are stacked behind the last belt; without it they are handed over one by one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stacking: Option<Stacking>,
}

/// How the belts of a feed run.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum FeedRuns {
    /// Along the cell's straights.
    Along,
    /// Across them.
    Across,
}

/// Products as they come.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FeedProducts {
    /// Length of a product along the belts, in millimetres.
    #[schema(minimum = 0.01, maximum = 1000000)]
    pub length_mm: f64,
    /// Gap to the next product as they come, in millimetres.
    #[schema(required = false, default = 0.0, minimum = 0, maximum = 1000000)]
    pub gap_mm: f64,
    /// What the machine before delivers, in products per minute; without it what the cell asks for.
    #[schema(minimum = 0.0001, maximum = 100000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub delivered_per_min: Option<f64>,
    /// By the id of a SKU: what is its own.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    #[schema(required = false)]
    pub per_sku: BTreeMap<String, FeedPerSku>,
}

/// Products of one SKU as they come; what is left out is as for all.
#[derive(Clone, Debug, Default, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FeedPerSku {
    /// Length of a product along the belts, in millimetres.
    #[schema(minimum = 0.01, maximum = 1000000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub length_mm: Option<f64>,
    /// Gap to the next product as they come, in millimetres.
    #[schema(minimum = 0, maximum = 1000000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub gap_mm: Option<f64>,
    /// What the machine before delivers, in products per minute.
    #[schema(minimum = 0.0001, maximum = 100000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub delivered_per_min: Option<f64>,
}

/// A belt of a feed.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Belt {
    /// Its id.
    pub id: String,
    /// Gap between products on it, in millimetres; without it as on the belt before, on the first as they come.
    #[schema(minimum = 0, maximum = 1000000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub gap_mm: Option<f64>,
    /// Its fastest, in metres per second; without it there is no limit.
    #[schema(minimum = 0.001, maximum = 100)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub max_speed_m_s: Option<f64>,
    /// Its length, in millimetres; without it as long as it must be.
    #[schema(minimum = 0.01, maximum = 1000000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub length_mm: Option<f64>,
}

/// How products are stacked in lanes.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Stacking {
    /// Lanes; without it as few as will do.
    #[schema(minimum = 1, maximum = 64)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lanes: Option<u32>,
    /// Most lanes, where `lanes` is not given; without it 64.
    #[schema(minimum = 1, maximum = 64)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub max_lanes: Option<u32>,
    /// What one lane can take while it fills, in products per minute; without it all that comes.
    #[schema(minimum = 0.0001, maximum = 100000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lane_products_per_min: Option<f64>,
    /// Time to push a stack out, in seconds; its lane takes nothing meanwhile.
    #[schema(required = false, default = 0.0, minimum = 0, maximum = 100000)]
    pub push_out_s: f64,
    /// Products that can wait before each lane; without it as many as must.
    #[schema(minimum = 0, maximum = 10000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub buffer_products: Option<u32>,
    /// Length of the stacker in the direction of the belts, in millimetres.
    #[schema(required = false, default = 0.0, minimum = 0, maximum = 1000000)]
    pub length_mm: f64,
}
