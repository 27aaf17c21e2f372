//! What a cell makes on a bad day: the simulation document.
//!
//! The keys' endings are their units, as in the plan document; shares are of one.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::cell::CellDocument;

/// The format that is written.
pub const FORMAT: u32 = 1;

/// A cell, a plan of it, and how it is simulated.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SimulateRequest {
    /// The cell document.
    #[schema(value_type = CellDocument)]
    pub cell: serde_json::Value,
    /// The plan document.
    #[schema(value_type = Object)]
    pub plan: serde_json::Value,
    /// How it is simulated.
    #[serde(default)]
    #[schema(required = false)]
    pub run: SimulationRun,
}

/// How a plan is simulated.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct SimulationRun {
    /// Id of the SKU; every SKU where it is left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sku: Option<String>,
    /// The same seed gives the same numbers.
    #[schema(required = false, default = 1, minimum = 0, maximum = 9007199254740991_u64)]
    #[serde(deserialize_with = "super::whole::read")]
    pub seed: u64,
    /// Time that counts in each replication, in hours.
    #[schema(required = false, default = 8.0, exclusive_minimum = 0, maximum = 1000)]
    pub hours: f64,
    /// Time before it that is left out, in seconds; found by the MSER rule where it is left out.
    #[schema(minimum = 0, maximum = 1000000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub warm_up_s: Option<f64>,
    /// Fewest replications of each SKU.
    #[schema(required = false, default = 10, minimum = 2, maximum = 100000)]
    #[serde(deserialize_with = "super::whole::read")]
    pub least_replications: u32,
    /// Most replications of each SKU.
    #[schema(required = false, default = 1000, minimum = 2, maximum = 100000)]
    #[serde(deserialize_with = "super::whole::read")]
    pub most_replications: u32,
    /// Half-width of the 95 % confidence interval of the net rate that is enough, as a share of it.
    #[schema(required = false, default = 0.005, exclusive_minimum = 0, maximum = 1)]
    pub half_width: f64,
    /// Hold the first station of the order back to the design rate; otherwise the cell runs as fast as it can.
    #[schema(required = false, default = false)]
    pub paced: bool,
}

impl Default for SimulationRun {
    fn default() -> Self {
        Self {
            sku: None,
            seed: 1,
            hours: 8.0,
            warm_up_s: None,
            least_replications: 10,
            most_replications: 1000,
            half_width: 0.005,
            paced: false,
        }
    }
}

/// A mean with the half-width of its 95 % confidence interval, by independent replications and Student's t.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Estimated {
    /// Mean.
    #[schema(minimum = 0)]
    pub mean: f64,
    /// Half-width of the interval; 0 where nothing is left to chance.
    #[schema(minimum = 0)]
    pub half_width: f64,
}

/// A simulated plan.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SimulationDocument {
    /// Format of the document: 1.
    #[schema(minimum = 1, maximum = 1)]
    pub format: u32,
    /// Name of the cell.
    pub name: String,
    /// Id of the circuit; of several, all of them with ` + ` between.
    pub circuit: String,
    /// Carriers of the plan, on all circuits.
    #[schema(minimum = 0)]
    pub carriers: u32,
    /// How it was simulated.
    pub run: SimulationRun,
    /// How the numbers came about, and what they leave out.
    pub method: Vec<String>,
    /// Whether the time limit or a cancel ended it before every SKU had its replications.
    pub stopped: bool,
    /// By SKU, in the order of the cell document; those that the time did not reach are missing.
    pub skus: Vec<SimulatedSku>,
}

/// One SKU's production.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SimulatedSku {
    /// Id of the SKU.
    pub id: String,
    /// Replications that were played; 1 where nothing is left to chance.
    #[schema(minimum = 1)]
    pub replications: u32,
    /// Left out at the start of each, in seconds.
    #[schema(minimum = 0)]
    pub warm_up_s: f64,
    /// Whether the half-width that was asked for is reached.
    pub reached: bool,
    /// Cases per minute that the customer asks for.
    #[schema(minimum = 0)]
    pub asked_net_rate_per_min: f64,
    /// Cases per minute that the cell makes, stops and gaps counted.
    pub net_rate_per_min: Estimated,
    /// Whether the lower end of the interval reaches what is asked: `yes`; whether the upper end stays below: `no`.
    pub makes_net_rate: Certain,
    /// Cases per minute with nothing going wrong: exact.
    #[schema(minimum = 0)]
    pub undisturbed_rate_per_min: f64,
    /// Net rate over the undisturbed one: availability times effectiveness of ISO 22400-2, every case counted as good.
    pub efficiency: Estimated,
    /// The efficiency that the cell document gives and the plan was made for.
    #[schema(minimum = 0, maximum = 1)]
    pub given_efficiency: f64,
    /// Id of the station that waits least for the others: it limits the rate.
    pub limiting_station: String,
    /// What the cell waited for: cases per minute that are lost, by cause. They add up to the undisturbed rate less the net rate.
    #[serde(default)]
    pub losses: Vec<SimulatedLoss>,
    /// In travel order.
    pub stations: Vec<SimulatedStation>,
    /// In travel order.
    pub sections: Vec<SimulatedSection>,
    /// In the order of the cell document.
    pub windows: Vec<SimulatedWindow>,
    /// Time of a carrier round the loop, of several circuits round the first.
    pub lap: SimulatedTimes,
    /// Time of a carrier round each of several circuits.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub laps: Vec<SimulatedLap>,
    /// Each section with `ride_through_s`: whether it absorbs a stop so long. No chance is in it.
    pub stop_tests: Vec<SimulatedStop>,
    /// Electrical power in the paced run; null where it does not move, and of several circuits. No chance is in it.
    #[schema(required = true)]
    pub power: Option<SimulatedPower>,
}

/// Why cases are lost.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum LossCause {
    /// The station's failures.
    Failures,
    /// Its short stops.
    ShortStops,
    /// What is fed to it from outside does not come.
    Supply,
    /// Its times of work spread.
    WorkTimes,
}

impl LossCause {
    /// Every cause.
    pub const ALL: [Self; 4] = [Self::Failures, Self::ShortStops, Self::Supply, Self::WorkTimes];

    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Failures => "failures",
            Self::ShortStops => "short stops",
            Self::Supply => "what is fed to it",
            Self::WorkTimes => "spread of its times",
        }
    }
}

/// One cause of loss.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SimulatedLoss {
    /// Id of the station.
    pub station: String,
    /// What of it.
    pub cause: LossCause,
    /// Cases per minute more when this cause alone is taken away, by pairs of replications with the same luck.
    pub gain_per_min: SimulatedGain,
    /// Its part of the whole loss, which is divided in proportion to these gains.
    #[schema(minimum = 0)]
    pub lost_per_min: f64,
}

/// A difference with the half-width of its 95 % confidence interval; it may be below zero.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SimulatedGain {
    /// Mean.
    #[schema(minimum = -1000000000, maximum = 1000000000)]
    pub mean: f64,
    /// Half-width of the interval.
    #[schema(minimum = 0)]
    pub half_width: f64,
}

/// In the paced run without chance, the station after a section stands still once, for `ride_through_s`, at the worst moment.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SimulatedStop {
    /// Id of the station before the section, which must not be blocked.
    pub from: String,
    /// Id of the station after it, which stands still.
    pub to: String,
    /// How long, in seconds.
    #[schema(minimum = 0)]
    pub ride_through_s: f64,
    /// Whether the station before is not blocked.
    pub holds: bool,
    /// Longest that a batch of the station before waits for room because of the stop, in seconds.
    #[schema(minimum = 0)]
    pub blocked_s: f64,
    /// From the end of the stop until the queue is gone again: until both stations run as without the stop, in seconds; null where that
    /// is not within sixty times the stop and six rounds of the carriers, so that the loop has nothing in hand.
    #[schema(required = true, minimum = 0)]
    pub queue_gone_after_s: Option<f64>,
}

/// Electrical power of the circuit in the paced run: the sum over all carriers of force times speed, recovered energy not counted,
/// losses of windings and drives not in it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SimulatedPower {
    /// Mean, in watts.
    #[schema(minimum = 0)]
    pub mean_w: f64,
    /// Highest, in watts, looked at every five milliseconds.
    #[schema(minimum = 0)]
    pub peak_w: f64,
    /// When it is highest, in seconds from the start of the trace of this SKU.
    #[schema(minimum = 0)]
    pub peak_at_s: f64,
    /// How long was looked at, in seconds: two rounds.
    #[schema(minimum = 0)]
    pub over_s: f64,
    /// Track modules of both straights, and both ends, along the loop.
    pub modules: Vec<SimulatedModule>,
}

/// A track module or an end.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SimulatedModule {
    /// Where it begins along the loop, in metres.
    #[schema(minimum = 0)]
    pub start_m: f64,
    /// Its length, in metres.
    #[schema(minimum = 0)]
    pub length_m: f64,
    /// Most carriers with their middle in it at once.
    #[schema(minimum = 0)]
    pub most_carriers: u32,
    /// Carriers in it when the power is highest.
    #[schema(minimum = 0)]
    pub carriers_at_peak: u32,
    /// Root of the mean over time of the squared forces of all carriers in it, in newtons.
    #[schema(minimum = 0)]
    pub rms_n: f64,
}

/// What can be said of a claim within a confidence interval.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum Certain {
    /// It holds.
    Yes,
    /// It does not.
    No,
    /// What is asked lies within the interval: more replications would tell.
    Open,
}

/// Shares of time; they add up to one. At a continuous station they are those of its intake: working for the least time
/// between batches after each, then waiting for whatever comes last.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SimulatedStation {
    /// Its id.
    pub id: String,
    /// Id of its circuit where there are several; of a hand-off the one that comes first.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub circuit: Option<String>,
    /// Works; moving in and settling too. Availability of ISO 22400-2 (actual production time over planned busy time).
    #[schema(minimum = 0, maximum = 1)]
    pub working: f64,
    /// Waits for carriers.
    #[schema(minimum = 0, maximum = 1)]
    pub starved: f64,
    /// Waits for what is fed from outside.
    #[schema(minimum = 0, maximum = 1)]
    pub unfed: f64,
    /// Its carriers have nowhere to go.
    #[schema(minimum = 0, maximum = 1)]
    pub blocked: f64,
    /// Held back to the design rate.
    #[schema(minimum = 0, maximum = 1)]
    pub paced: f64,
    /// Stands with a failure.
    #[schema(minimum = 0, maximum = 1)]
    pub failed: f64,
    /// Stands for a short while.
    #[schema(minimum = 0, maximum = 1)]
    pub short_stop: f64,
    /// Technical efficiency of ISO 22400-2: time at work over time at work and standing; null where it does neither.
    #[schema(required = true, minimum = 0, maximum = 1)]
    pub technical_efficiency: Option<f64>,
}

/// How many of something there were over time.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SimulatedLevel {
    /// Mean over time.
    #[schema(minimum = 0)]
    pub mean: f64,
    /// Not more for half of the time.
    #[schema(minimum = 0)]
    pub median: u32,
    /// Not more for 95 % of the time.
    #[schema(minimum = 0)]
    pub p95: u32,
    /// Most.
    #[schema(minimum = 0)]
    pub most: u32,
}

/// Times of carriers.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SimulatedTimes {
    /// Mean, in seconds.
    #[schema(minimum = 0)]
    pub mean_s: f64,
    /// Longest, in seconds.
    #[schema(minimum = 0)]
    pub longest_s: f64,
}

/// A circuit of several, and the time of its carriers round it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SimulatedLap {
    /// Id of the circuit.
    pub circuit: String,
    /// Times round it.
    pub lap: SimulatedTimes,
}

/// A section, between two stations.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SimulatedSection {
    /// Id of the station before.
    pub from: String,
    /// Id of the station after.
    pub to: String,
    /// Id of its circuit where there are several.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub circuit: Option<String>,
    /// Slots that it has.
    #[schema(minimum = 0)]
    pub slots: u32,
    /// Slots that are held, by carriers or for those that come.
    pub slots_held: SimulatedLevel,
    /// Carriers that are ready and wait.
    pub queue: SimulatedLevel,
    /// Share of time with every slot held.
    #[schema(minimum = 0, maximum = 1)]
    pub full: f64,
    /// From leaving the station before to being taken in by the next.
    pub stay: SimulatedTimes,
    /// The longest that is allowed, in seconds; null without a limit.
    #[schema(required = true, minimum = 0)]
    pub max_s: Option<f64>,
    /// Share of carriers that take longer.
    #[schema(minimum = 0, maximum = 1)]
    pub broken: f64,
}

/// A window over several stations.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SimulatedWindow {
    /// Id of the first station.
    pub from: String,
    /// Id of the last.
    pub to: String,
    /// Id of its circuit where there are several.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub circuit: Option<String>,
    /// Times of the carriers.
    pub stay: SimulatedTimes,
    /// The longest that is allowed, in seconds; null without a limit.
    #[schema(required = true, minimum = 0)]
    pub max_s: Option<f64>,
    /// Share of carriers that take longer.
    #[schema(minimum = 0, maximum = 1)]
    pub broken: f64,
}
