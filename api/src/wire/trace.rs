//! Where every carrier is over a stretch of the paced run.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::cell::CellDocument;

/// A cell, a plan of it, and the stretch to trace.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TraceRequest {
    /// The cell document.
    #[schema(value_type = CellDocument)]
    pub cell: Box<serde_json::value::RawValue>,
    /// The plan document.
    #[schema(value_type = Object)]
    pub plan: Box<serde_json::value::RawValue>,
    /// Id of the SKU; the first where it is left out.
    #[serde(default)]
    #[schema(required = false)]
    pub sku: Option<String>,
    /// How long, in seconds; twice round the loop where it is left out.
    #[serde(default)]
    #[schema(required = false, exclusive_minimum = 0, maximum = 3600)]
    pub duration_s: Option<f64>,
    /// A stretch of a simulation with what goes wrong, instead of the paced run.
    #[serde(default)]
    #[schema(required = false)]
    pub bad_day: Option<BadDay>,
}

/// A stretch of one replication of a simulation.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct BadDay {
    /// Seed of the simulation.
    #[schema(required = false, default = 1, minimum = 0, maximum = 4294967295_u64)]
    #[serde(deserialize_with = "super::whole::read")]
    pub seed: u32,
    /// Number of the replication, from 0.
    #[schema(required = false, default = 0, minimum = 0, maximum = 100000)]
    #[serde(deserialize_with = "super::whole::read")]
    pub replication: u32,
    /// When the stretch begins, in seconds from the start of the replication.
    #[schema(required = false, default = 600.0, minimum = 0, maximum = 1000000)]
    pub from_s: f64,
    /// Hold the first station of the order back to the design rate.
    #[schema(required = false, default = false)]
    pub paced: bool,
}

impl Default for BadDay {
    fn default() -> Self {
        Self { seed: 1, replication: 0, from_s: 600.0, paced: false }
    }
}

/// What a carrier does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum TraceState {
    /// On the way to the next station.
    Driving,
    /// Before a station, waiting to be taken in.
    Queueing,
    /// Being taken in by a station that works on standing batches.
    MovingIn,
    /// Being worked on; at a station that works on moving carriers also moving through.
    Working,
    /// Done, but the next section has no room yet.
    Blocked,
    /// Its work takes longer than the plan reckons with: its station stands, or is slower this time.
    Standing,
}

/// Where every carrier is over a stretch of the paced run of one SKU, when its state recurs. Times are those of the
/// model's rules; between two points the place is drawn as a straight line, though carriers in truth speed up and brake.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct TraceDocument {
    /// Format of the document: 1.
    #[schema(minimum = 1, maximum = 1)]
    pub format: u32,
    /// Name of the cell.
    pub name: String,
    /// Id of the circuit.
    pub circuit: String,
    /// Id of the SKU.
    pub sku: String,
    /// Length of the stretch, in seconds; it begins at 0.
    #[schema(minimum = 0)]
    pub duration_s: f64,
    /// Least time between batches of the first station of the order, in seconds; null where no rate is asked.
    #[schema(required = true, minimum = 0)]
    pub pace_s: Option<f64>,
    /// Whether the state recurs, so that the stretch is like any other.
    pub recurs: bool,
    /// The stretch of the simulation; absent for the paced run.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bad_day: Option<BadDay>,
    /// Length round the loop, in metres.
    #[schema(minimum = 0)]
    pub loop_length_m: f64,
    /// From carrier to carrier in a queue, in metres.
    #[schema(minimum = 0)]
    pub pitch_m: f64,
    /// Zones along the loop, in travel order.
    pub zones: Vec<TraceZone>,
    /// Every carrier.
    pub carriers: Vec<TraceCarrier>,
}

/// Zone of a station.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct TraceZone {
    /// Id of the station.
    pub station: String,
    /// Where it begins along the loop, in metres.
    #[schema(minimum = 0)]
    pub start_m: f64,
    /// Its length, in metres.
    #[schema(minimum = 0)]
    pub length_m: f64,
}

/// One carrier.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct TraceCarrier {
    /// Its number, from 0; the first to be taken in when the run began is 0.
    #[schema(minimum = 0)]
    pub carrier: u32,
    /// Where it is and what it does from then on, in order of time. The first point lies at or before 0, the last at or after
    /// the end.
    pub points: Vec<TracePoint>,
}

/// A moment of a carrier.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct TracePoint {
    /// When, in seconds from the start of the stretch.
    #[schema(minimum = -1000000000, maximum = 1000000000)]
    pub t_s: f64,
    /// Where its middle is, in metres along the loop from the start of the front (or top) straight; it grows from lap to
    /// lap, so the place is this modulo the length of the loop.
    #[schema(minimum = -1000000000, maximum = 1000000000)]
    pub at_m: f64,
    /// What it does until the next point.
    pub state: TraceState,
}
