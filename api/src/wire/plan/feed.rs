//! The product stream of a plan.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::site::PlannedCellSide;

/// The product stream that feeds the cell: its floor, its belts and lanes, and what follows for each SKU.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PlannedFeed {
    /// Id of the station that products or stacks are handed to.
    pub into: String,
    /// Side of the cell on which its floor lies.
    pub side: PlannedCellSide,
    /// Its corner nearest to the front left one, from the front left corner of loops and stations without clearance, in metres
    /// along the straights; negative to the left of it.
    #[schema(minimum = -1000000)]
    pub x_m: f64,
    /// The same across, in metres; negative in front of it.
    #[schema(minimum = -1000000)]
    pub y_m: f64,
    /// Size of its floor along the straights, in metres.
    #[schema(minimum = 0)]
    pub length_m: f64,
    /// Size across, in metres.
    #[schema(minimum = 0)]
    pub width_m: f64,
    /// Belts in the direction of flow.
    pub belts: Vec<PlannedBelt>,
    /// Lanes in which products are stacked; there when they are.
    #[schema(minimum = 1)]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lanes: Option<u32>,
    /// Products that can wait before each lane, where that is limited.
    #[schema(minimum = 0)]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub buffer_products: Option<u32>,
    /// What each SKU makes of it.
    pub skus: Vec<FeedSku>,
}

/// A belt of the product stream.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PlannedBelt {
    /// Its id.
    pub id: String,
    /// Its length, in metres: as given, else as long as it must be.
    #[schema(minimum = 0)]
    pub length_m: f64,
    /// Its fastest, in metres per second, where that is limited.
    #[schema(minimum = 0)]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub max_speed_m_s: Option<f64>,
    /// What each SKU asks of it.
    pub skus: Vec<BeltSku>,
}

/// A belt with one SKU.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct BeltSku {
    /// Id of the SKU.
    pub id: String,
    /// Gap between products, in metres.
    #[schema(minimum = 0)]
    pub gap_m: f64,
    /// Rate times (length and gap), in metres per second.
    #[schema(minimum = 0)]
    pub speed_m_s: f64,
    /// Speed over that of the belt before; over that at which products come, on the first.
    #[schema(minimum = 0)]
    pub speed_up: f64,
    /// Length that pulls the gap, in metres.
    #[schema(minimum = 0)]
    pub needed_length_m: f64,
    /// (fastest - speed) / speed, where the speed is limited.
    #[schema(minimum = -1)]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spare_speed: Option<f64>,
    /// (length - needed length) / needed length.
    #[schema(minimum = -1)]
    pub spare_length: f64,
}

/// The product stream of one SKU.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FeedSku {
    /// Id of the SKU.
    pub id: String,
    /// Products a minute that belts and lanes carry: what the design rate takes, or what is delivered where that is more.
    #[schema(minimum = 0)]
    pub products_per_min: f64,
    /// The same in stacks a minute.
    #[schema(minimum = 0)]
    pub stacks_per_min: f64,
    /// The same in cases a minute.
    #[schema(minimum = 0)]
    pub cases_per_min: f64,
    /// Products a minute that the net rate takes.
    #[schema(minimum = 0)]
    pub net_products_per_min: f64,
    /// Products a minute that the design rate takes.
    #[schema(minimum = 0)]
    pub design_products_per_min: f64,
    /// Products a minute that the plan can take: its rate.
    #[schema(minimum = 0)]
    pub taken_products_per_min: f64,
    /// Products a minute that the machine before delivers, where that is known.
    #[schema(minimum = 0)]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub delivered_per_min: Option<f64>,
    /// Products a minute that are delivered beyond what the plan can take, where what is delivered is known.
    #[schema(minimum = 0)]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub surplus_per_min: Option<f64>,
    /// What its lanes do, where products are stacked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lanes: Option<FeedLanes>,
}

/// The lanes with one SKU.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FeedLanes {
    /// Products a minute that one lane takes while it fills.
    #[schema(minimum = 0)]
    pub lane_products_per_min: f64,
    /// Products in a stack over that, and the push-out: shortest time from stack to stack in one lane.
    #[schema(minimum = 0)]
    pub cycle_s: f64,
    /// Lanes that the SKU needs at least.
    #[schema(minimum = 1)]
    pub needed_lanes: u32,
    /// Stacks a minute that all lanes can make.
    #[schema(minimum = 0)]
    pub capacity_stacks_per_min: f64,
    /// (capacity - stacks) / stacks.
    #[schema(minimum = -1)]
    pub spare_capacity: f64,
    /// Products that must be able to wait before each lane while it pushes out.
    #[schema(minimum = 0)]
    pub needed_buffer: u32,
    /// Whether the lanes are filled one after the other with the whole stream; else all at once, each with its share.
    pub in_turn: bool,
}
