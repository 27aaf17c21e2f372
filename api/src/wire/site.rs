//! Floor round a cell in the cell document.

use serde::Serialize;
use utoipa::ToSchema;

/// Clearance by side, seen with the front straight at the front; a side that is not named has `clearance_mm`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ClearanceSides {
    /// At the front, in millimetres.
    #[schema(minimum = 0, maximum = 1000000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub front: Option<f64>,
    /// At the back, in millimetres.
    #[schema(minimum = 0, maximum = 1000000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub back: Option<f64>,
    /// At the end where the front straight begins, in millimetres.
    #[schema(minimum = 0, maximum = 1000000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub left: Option<f64>,
    /// At the other end, in millimetres.
    #[schema(minimum = 0, maximum = 1000000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub right: Option<f64>,
}
