//! What chance does in a cell: the keys of the cell document that only simulation reads.

use serde::Serialize;
use utoipa::ToSchema;

/// How often something stops and how long it then stands.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Failures {
    /// Mean seconds from the end of one stop to the next, of the time that `counts` names.
    #[schema(minimum = 0.001, maximum = 1000000000)]
    pub mean_time_between_s: f64,
    /// Mean seconds to repair.
    #[schema(minimum = 0.001, maximum = 1000000000)]
    pub mean_time_to_repair_s: f64,
    /// Which time brings the next stop nearer; time at work where it is left out. Not for what comes from outside, which counts
    /// the time in which it comes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub counts: Option<StopCounts>,
    /// How times between stops spread; exponential where it is left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub between: Option<Spread>,
    /// How times of repair spread; exponential where it is left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub repair: Option<Spread>,
}

/// Which time brings a stop nearer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum StopCounts {
    /// Time at work: a tool wears.
    Operation,
    /// All time, also while it waits: a power cut, a refill by the clock.
    Calendar,
}

/// A distribution of times with the mean that is given beside it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Spread {
    /// Its name.
    pub distribution: Distribution,
    /// Standard deviation over mean: for `uniform` at most 0.577, for `triangular` at most 0.408; needed there and for `gamma` and
    /// `lognormal`, not given with `constant` and `exponential`.
    #[schema(minimum = 0.001, maximum = 10)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub variation: Option<f64>,
}

/// A named distribution.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum Distribution {
    /// Always the mean.
    Constant,
    /// Exponential: standard deviation as large as the mean.
    Exponential,
    /// Even between two ends.
    Uniform,
    /// Symmetric triangle.
    Triangular,
    /// Gamma; Erlang where one over the square of `variation` is whole.
    Gamma,
    /// Lognormal.
    Lognormal,
}

/// What comes to a station from outside, counted in carriers' worth: each carrier that is taken in uses one.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Supply {
    /// Mean rate while it comes, over the net rate of the SKU that runs.
    #[schema(minimum = 0.001, maximum = 1000)]
    pub over_net_rate: f64,
    /// How gaps between arrivals spread; constant where it is left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub gaps: Option<Spread>,
    /// How often it does not come, and for how long.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub outages: Option<Failures>,
    /// At times it comes faster.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub surge: Option<Surge>,
    /// How many carriers' worth can wait before the station; with so many it is held back. At least a batch.
    #[schema(required = false, default = 0, minimum = 0, maximum = 1000000)]
    pub room_carriers: u32,
}

/// A time in which more comes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Surge {
    /// So many times as fast.
    #[schema(minimum = 0.001, maximum = 1000)]
    pub factor: f64,
    /// Seconds from the start of one surge to the next; the first begins with the run.
    #[schema(minimum = 0.001, maximum = 1000000000)]
    pub every_s: f64,
    /// Seconds that one lasts; less than `every_s`.
    #[schema(minimum = 0.001, maximum = 1000000000)]
    pub lasts_s: f64,
}
