//! The narrow waist: one buildable choice of a station, in numbers that every judge understands.

use crate::units::{CarrierRate, Metres, Money, Seconds, Speed};

/// How a station works.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Mode {
    /// A batch stops, is worked on at once, and moves on.
    Intermittent,
    /// Work is done while carriers move.
    Continuous,
}

impl Mode {
    /// The word of the documents.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Intermittent => "intermittent",
            Self::Continuous => "continuous",
        }
    }
}

/// How a station treats the batches inside it (model section 7).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Flow {
    /// One batch, which blocks the station until it can leave.
    Stop,
    /// A train of at most this many batches, which may wait inside.
    Train(u32),
    /// Batches reserve their slots in the next section and never wait inside.
    Through,
}

/// An option as one SKU meets it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SkuOption {
    /// Carriers in a batch.
    pub batch: u32,
    /// Least time between batches (`tau`).
    pub cycle: Seconds,
    /// Until the slots before the station are free (`x`).
    pub move_in: Seconds,
    /// From being taken in to being ready to leave.
    pub residence: Seconds,
    /// Driven as part of the next section's move.
    pub tail: Metres,
    /// Distance of the move-in of an intermittent station; zero when continuous.
    pub move_in_distance: Metres,
    /// Speed of continuous work.
    pub speed: Option<Speed>,
    /// `batch / cycle`.
    pub capacity: CarrierRate,
    /// What happens inside.
    pub flow: Flow,
}

/// One buildable choice of a station: mode and heads, and what follows for each SKU.
#[derive(Clone, Debug, PartialEq)]
pub struct StationOption {
    /// Way of working.
    pub mode: Mode,
    /// Tool positions installed.
    pub heads: u32,
    /// Track length taken.
    pub zone: Metres,
    /// Price of the mode with these heads.
    pub price: Money,
    /// In the order of the cell's SKUs.
    pub skus: Vec<SkuOption>,
}
