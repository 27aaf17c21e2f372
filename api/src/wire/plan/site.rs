//! Which way a planned cell faces.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// A side of the cell, seen from above with the front below.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum PlannedCellSide {
    /// In front of the deepest station there.
    Front,
    /// Behind the deepest station there.
    Back,
    /// At the left end.
    Left,
    /// At the right end.
    Right,
}

impl PlannedCellSide {
    /// One word for it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Front => "front",
            Self::Back => "back",
            Self::Left => "left",
            Self::Right => "right",
        }
    }
}

/// Which way carriers travel along the front (or top) straight, seen from the front.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PlannedHand {
    /// From left to right.
    LeftToRight,
    /// From right to left: the cell is mirrored.
    RightToLeft,
}

impl PlannedHand {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::LeftToRight => "left to right",
            Self::RightToLeft => "right to left",
        }
    }
}

/// A side of the cell to which a station is open.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct AskedOpening {
    /// Id of the station.
    pub station: String,
    /// The side.
    pub side: PlannedCellSide,
}
