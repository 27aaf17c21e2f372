//! A planned circuit: stations, sections, windows, and what they do for each SKU.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// In which plane the loop lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum PlannedPlane {
    /// Both straights at the same height.
    Flat,
    /// One straight above the other.
    Upright,
}

/// The straight on which a zone stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum PlannedStraight {
    /// Front straight of a flat loop.
    Front,
    /// Back straight of a flat loop.
    Back,
    /// Upper straight of an upright loop.
    Top,
}

/// A side of the cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum PlannedSide {
    /// The front.
    Front,
    /// The back.
    Back,
}

/// How a station works.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum PlannedMode {
    /// A batch stops, is worked on at once, and moves on.
    Intermittent,
    /// Work is done while carriers move.
    Continuous,
}

/// A loop of track with its stations and carriers.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PlannedCircuit {
    /// Its id in the cell document.
    pub id: String,
    /// Id of the chosen form of end.
    pub form: String,
    /// Plane of the loop.
    pub plane: PlannedPlane,
    /// Radius of the track's middle line in the ends, in metres.
    #[schema(minimum = 0)]
    pub radius_m: f64,
    /// Straight piece in the middle of each end, in metres.
    #[schema(minimum = 0)]
    pub cross_m: f64,
    /// Width of track, carrier and load together, in metres.
    #[schema(minimum = 0)]
    pub track_width_m: f64,
    /// How far the longest load reaches out in an end, in metres from the centre of the end's arc.
    #[schema(minimum = 0)]
    pub corner_reach_m: f64,
    /// Length of a straight module, in metres.
    #[schema(minimum = 0)]
    pub module_m: f64,
    /// Modules in each straight.
    #[schema(minimum = 0)]
    pub modules_per_straight: u32,
    /// Length of each straight, in metres.
    #[schema(minimum = 0)]
    pub straight_m: f64,
    /// Length of each end along the track, in metres.
    #[schema(minimum = 0)]
    pub end_m: f64,
    /// Length round the loop, in metres.
    #[schema(minimum = 0)]
    pub loop_length_m: f64,
    /// Carriers.
    #[schema(minimum = 0)]
    pub carriers: u32,
    /// Movers that drive one carrier.
    #[schema(minimum = 0)]
    pub movers_per_carrier: u32,
    /// Length of one carrier along the track, all its movers together, in metres.
    #[schema(minimum = 0)]
    pub carrier_length_m: f64,
    /// Continuous force of all movers of a carrier, in newtons; null where none is given.
    #[schema(minimum = 0)]
    pub continuous_force_n: Option<f64>,
    /// Scales the acceleration of every SKU; below 1 when the motors would otherwise become too hot.
    #[schema(exclusive_minimum = 0, maximum = 1)]
    pub acceleration_share: f64,
    /// Stations in travel order.
    pub stations: Vec<PlannedStation>,
    /// Sections in travel order: the first follows the first station.
    pub sections: Vec<PlannedSection>,
    /// Times that span several stations, in the order of the cell document.
    pub windows: Vec<PlannedWindow>,
    /// SKUs in the order of the cell document.
    pub skus: Vec<PlannedSku>,
    /// Load on the windings along the track, with the SKU that loads them most; null where no masses are given.
    pub module_loads: Option<PlannedModuleLoads>,
    /// Where it lies beside other circuits; absent where it is the only one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<PlannedPlace>,
}

/// Where a circuit lies on the floor of a cell of several, and its share of the whole.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PlannedPlace {
    /// Where its front (or top) straight begins along the floor, in metres from the cell's end without clearance.
    #[schema(minimum = -100000, maximum = 100000)]
    pub offset_m: f64,
    /// Middle line of its loop across the floor, in metres from the cell's front without clearance.
    #[schema(minimum = 0)]
    pub middle_m: f64,
    /// Id of the circuit over which it lies.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub above: Option<String>,
    /// Its share of the footprint, in square metres: the borders lie midway between neighbouring loops. Zero for one that lies
    /// over another.
    #[schema(minimum = 0)]
    pub floor_share_m2: f64,
    /// Its share of the price: its track and carriers, and its stations, a hand-off with the circuit that comes first.
    #[schema(minimum = 0)]
    pub price: f64,
}

/// A station.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PlannedStation {
    /// Its id in the cell document.
    pub id: String,
    /// Way of working.
    pub mode: PlannedMode,
    /// Tool positions installed.
    #[schema(minimum = 0)]
    pub heads: u32,
    /// Length of track that it takes, in metres.
    #[schema(minimum = 0)]
    pub zone_m: f64,
    /// Where the zone begins, in metres along the loop in travel direction from the start of the front (or top) straight.
    #[schema(minimum = 0)]
    pub start_m: f64,
    /// Straight on which the zone stands.
    pub straight: PlannedStraight,
    /// Side of the cell that its depth takes.
    pub stands: PlannedSide,
    /// Floor beside the track, in metres away from it.
    #[schema(minimum = 0)]
    pub depth_m: f64,
    /// Floor that is free in front of that, in metres; absent where none is asked for.
    #[schema(minimum = 0)]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub access_m: Option<f64>,
    /// Length of that floor along the track, in metres, centred on the zone.
    #[schema(minimum = 0)]
    pub frame_m: f64,
    /// Price with its heads.
    #[schema(minimum = 0)]
    pub price: f64,
    /// Id of the circuit with which it exchanges product; absent where it stands on one circuit only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hands_to: Option<String>,
    /// By SKU, in the order of the cell document.
    pub skus: Vec<StationSku>,
}

/// A station as one SKU meets it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct StationSku {
    /// Id of the SKU.
    pub id: String,
    /// Carriers in a batch.
    #[schema(minimum = 0)]
    pub batch: u32,
    /// Least time from batch to batch, in seconds.
    #[schema(minimum = 0)]
    pub cycle_s: f64,
    /// From being taken in until the slots before the station are free, in seconds.
    #[schema(minimum = 0)]
    pub move_in_s: f64,
    /// From being taken in to being ready to leave, in seconds.
    #[schema(minimum = 0)]
    pub residence_s: f64,
    /// Part of the zone that is driven in the next section's move, in metres.
    #[schema(minimum = 0)]
    pub tail_m: f64,
    /// Speed of continuous work, in metres per second; absent when intermittent.
    #[schema(minimum = 0)]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub speed_m_s: Option<f64>,
    /// Carriers per minute that the station alone can do.
    #[schema(minimum = 0)]
    pub capacity_per_min: f64,
    /// Design rate over capacity: the share of its time that the station works, at most 1.
    #[schema(minimum = 0)]
    pub share_of_rate: f64,
}

/// The track between two stations that follow one another.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PlannedSection {
    /// Id of the station before it.
    pub from: String,
    /// Id of the station after it.
    pub to: String,
    /// Length, in metres.
    #[schema(minimum = 0)]
    pub length_m: f64,
    /// Length of the ends in it, in metres.
    #[schema(minimum = 0)]
    pub curve_m: f64,
    /// Whether carriers are loaded here.
    pub loaded: bool,
    /// Seconds that it absorbs while the station after it stands still, as asked.
    #[schema(minimum = 0)]
    pub ride_through_s: f64,
    /// Most seconds asked from leaving one station to being taken in by the next; null where there is no limit.
    #[schema(minimum = 0)]
    pub max_s: Option<f64>,
    /// By SKU, in the order of the cell document.
    pub skus: Vec<SectionSku>,
}

/// A section as one SKU meets it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SectionSku {
    /// Id of the SKU.
    pub id: String,
    /// Carriers that it holds.
    #[schema(minimum = 0)]
    pub slots: u32,
    /// Slots that the batches around it and the ride-through need at least.
    #[schema(minimum = 0)]
    pub needed_slots: u32,
    /// From leaving one station to being ready before the next, without waiting, in seconds.
    #[schema(minimum = 0)]
    pub lag_s: f64,
    /// Longest time from leaving one station to being taken in by the next at the design rate, in seconds.
    #[schema(minimum = 0)]
    pub longest_s: Option<f64>,
    /// Least such time, in seconds.
    #[schema(minimum = 0)]
    pub least_s: Option<f64>,
}

/// From when a window counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PlannedSince {
    /// From being taken in at the first station.
    TakenIn,
    /// From leaving it.
    Left,
}

/// A time that spans several stations.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PlannedWindow {
    /// Id of the first station.
    pub from: String,
    /// Id of the last station.
    pub to: String,
    /// From when it counts.
    pub since: PlannedSince,
    /// Most seconds asked; null where there is no limit.
    #[schema(minimum = 0)]
    pub max_s: Option<f64>,
    /// Least seconds asked; null where there is no limit.
    #[schema(minimum = 0)]
    pub min_s: Option<f64>,
    /// By SKU, in the order of the cell document.
    pub skus: Vec<WindowSku>,
}

/// A window as one SKU meets it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WindowSku {
    /// Id of the SKU.
    pub id: String,
    /// Least time at the design rate, in seconds.
    #[schema(minimum = 0)]
    pub least_s: Option<f64>,
    /// Longest time at the design rate, in seconds.
    #[schema(minimum = 0)]
    pub longest_s: Option<f64>,
}

/// What the circuit does for one SKU.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PlannedSku {
    /// Id of the SKU.
    pub id: String,
    /// What the customer counts, in cases per minute.
    #[schema(minimum = 0)]
    pub net_rate_cases_per_min: f64,
    /// Carriers per minute at which the cell must cycle.
    #[schema(minimum = 0)]
    pub design_rate_per_min: f64,
    /// Long-run carriers per minute that the circuit can do, exactly.
    #[schema(minimum = 0)]
    pub rate_per_min: f64,
    /// The same as a fraction.
    pub rate_exact: ExactFraction,
    /// Rate over design rate, less 1.
    #[schema(minimum = -1)]
    pub margin: f64,
    /// Carriers per minute in the run that is paced to the design rate.
    #[schema(minimum = 0)]
    pub paced_rate_per_min: Option<f64>,
    /// Whether the state of the paced run recurs, so that its longest times are those of all time.
    pub paced_run_recurs: Option<bool>,
    /// What keeps the rate from being higher.
    pub limited_by: LimitedBy,
    /// Root mean square of a carrier's force over a lap at the design rate, in newtons; null where there is nothing to
    /// compute it from.
    #[schema(minimum = 0)]
    pub motor_rms_n: Option<f64>,
    /// From carrier to carrier in a queue, in metres.
    #[schema(minimum = 0)]
    pub pitch_m: f64,
    /// How an opposed pair holds this SKU; absent where the cell says nothing of how pairs grip.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pair: Option<PlannedPair>,
    /// Acceleration of this SKU in this plan, in metres per second squared.
    #[schema(minimum = 0)]
    pub acceleration_m_s2: f64,
    /// Speed round the ends when loaded, in metres per second.
    #[schema(minimum = 0)]
    pub curve_speed_m_s: f64,
    /// Time of a carrier once round at the design rate, in seconds.
    #[schema(minimum = 0)]
    pub lap_s: Option<f64>,
}

/// An opposed pair round the load of one SKU.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PlannedPair {
    /// From paddle to paddle when it is open, in metres.
    #[schema(minimum = 0)]
    pub opening_m: f64,
    /// Length along the track when it is open, both movers and paddles, in metres.
    #[schema(minimum = 0)]
    pub length_m: f64,
    /// Acceleration that friction under the paddles carries, in metres per second squared; null where no squeeze is given or
    /// the load is not held by it.
    #[schema(minimum = 0)]
    pub holds_m_s2: Option<f64>,
}

/// An exact rate: whole carriers in whole microseconds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ExactFraction {
    /// Carriers that pass.
    #[schema(minimum = 0)]
    pub carriers: i64,
    /// In this many microseconds.
    #[schema(minimum = 0)]
    pub micros: i64,
}

/// What kind of thing limits a rate.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum LimitKind {
    /// A station's own cycle.
    Station,
    /// Too few carriers for the way round.
    Carriers,
    /// Too few slots in one section.
    Slots,
    /// Too few free slots all the way round.
    Holes,
    /// Too few slots in several sections together.
    Chain,
    /// More carriers than slots.
    DoNotFit,
    /// Nothing can ever move.
    Stuck,
    /// Not known: the rate was timed, not read from a critical cycle.
    Unknown,
}

/// What limits a rate.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LimitedBy {
    /// What kind of thing.
    pub kind: LimitKind,
    /// Id of the station, where it is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub station: Option<String>,
    /// Id of the station before the section, where it is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<String>,
    /// Id of the station after the section, where it is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<String>,
    /// Ids of the circuits where it is to be found, in a cell of several.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub circuits: Vec<String>,
    /// Ids of the stations whose sections limit together, where there are several.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub stations: Vec<String>,
    /// The same in words.
    pub says: String,
}

/// Load on the windings along the track.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PlannedModuleLoads {
    /// Id of the SKU that loads them most.
    pub sku: String,
    /// Modules and ends in travel order from the start of the front (or top) straight.
    pub modules: Vec<PlannedModuleLoad>,
}

/// Load on the windings of one module or end.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PlannedModuleLoad {
    /// Where it begins along the loop, in metres.
    #[schema(minimum = 0)]
    pub start_m: f64,
    /// Its length, in metres.
    #[schema(minimum = 0)]
    pub length_m: f64,
    /// Root mean square of the force that its windings give to all carriers that pass, in newtons.
    #[schema(minimum = 0)]
    pub rms_n: f64,
}
