//! Floor round a cell in the cell document, and which way the cell faces on it.

use serde::Serialize;
use utoipa::ToSchema;

/// Clearance by side, seen from above with the front below; a side that is not named has `clearance_mm`.
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
    /// At the left end, seen from the front, in millimetres.
    #[schema(minimum = 0, maximum = 1000000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub left: Option<f64>,
    /// At the right end, in millimetres.
    #[schema(minimum = 0, maximum = 1000000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub right: Option<f64>,
}

/// A side of the cell, seen from above with the front below.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum CellSide {
    /// In front of the deepest station there.
    Front,
    /// Behind the deepest station there.
    Back,
    /// At the left end.
    Left,
    /// At the right end.
    Right,
}

/// A side of the cell to which a station must be open.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Opening {
    /// Id of the station.
    pub station: String,
    /// The side: at the front and the back the station stands there, at an end no other station on its side of the loop stands
    /// nearer to that end.
    pub side: CellSide,
}

/// Which way carriers travel along the front (or top) straight, seen from the front.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Hand {
    /// From left to right.
    LeftToRight,
    /// From right to left: the cell is mirrored.
    RightToLeft,
}
