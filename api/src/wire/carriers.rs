//! How the rate moves with the number of carriers on a planned loop.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Exact rates of a plan's loop with other numbers of carriers, all else as planned.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CarriersDocument {
    /// Format of the document: 1.
    #[schema(minimum = 1, maximum = 1)]
    pub format: u32,
    /// Name of the cell.
    pub name: String,
    /// Id of the circuit.
    pub circuit: String,
    /// Carriers of the plan.
    #[schema(minimum = 0)]
    pub carriers: u32,
    /// By SKU, in the order of the cell document.
    pub skus: Vec<SkuCarriers>,
}

/// Rates of one SKU.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SkuCarriers {
    /// Id of the SKU.
    pub id: String,
    /// Carriers per minute at which the cell must cycle.
    #[schema(minimum = 0)]
    pub design_rate_per_min: f64,
    /// Fewest carriers of those looked at that make the design rate; null where none does. Not every number between the fewest
    /// and the most need make it: batches may leave carriers over that block the loop.
    #[schema(required = true, minimum = 0)]
    pub fewest: Option<u32>,
    /// Most carriers of those looked at that make it.
    #[schema(required = true, minimum = 0)]
    pub most: Option<u32>,
    /// From one carrier to as many as there are slots, the plan's own number among them; each number where they are few.
    pub points: Vec<CarriersPoint>,
}

/// The rate with so many carriers.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CarriersPoint {
    /// Carriers on the loop.
    #[schema(minimum = 0)]
    pub carriers: u32,
    /// Long-run carriers per minute, exactly.
    #[schema(minimum = 0)]
    pub rate_per_min: f64,
    /// Whether that makes the design rate.
    pub makes: bool,
}
