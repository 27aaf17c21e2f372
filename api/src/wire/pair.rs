//! Opposed pairs in the cell document.

use serde::Serialize;
use utoipa::ToSchema;

/// How an opposed pair grips: the load stands between two paddles, each on a mover of its own, and the pair's opening
/// follows the SKU.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Pair {
    /// How much wider than the load the pair opens, in millimetres.
    #[schema(required = false, default = 0.0, minimum = 0, maximum = 1000000)]
    pub play_mm: f64,
    /// From the middle of a mover outwards to the face of its paddle, in millimetres; negative for inwards.
    #[schema(required = false, default = 0.0, minimum = -1000000, maximum = 1000000)]
    pub paddle_offset_mm: f64,
    /// Thickness of a paddle along the track, in millimetres.
    #[schema(required = false, default = 0.0, minimum = 0, maximum = 1000000)]
    pub paddle_thickness_mm: f64,
    /// Force with which each paddle presses on the load, in newtons; a held load is then limited by friction under it.
    #[schema(minimum = 0.001, maximum = 10000000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub squeeze_n: Option<f64>,
}
