//! The part of the cell document that says what changing from SKU to SKU takes.

use serde::Serialize;
use utoipa::ToSchema;

use super::cell::Mode;

/// What is asked of changes from SKU to SKU, and who makes them.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ChangeoverAsked {
    /// People at hand for a change.
    #[schema(required = false, default = 1, minimum = 1, maximum = 100)]
    pub operators: u32,
    /// Longest change, in minutes; without it there is no limit.
    #[schema(minimum = 0.000001, maximum = 100000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub limit_min: Option<f64>,
    /// Whether every change must keep the limit: only plans of which that is so will do, also where they take more floor. Without
    /// it changes over the limit are told, and the plan stays the one of least floor.
    #[schema(required = false, default = false)]
    pub keep_limit: bool,
    /// From when a change counts.
    #[schema(required = false, default = "last_case")]
    pub counts_from: CountsFrom,
    /// Whether automatic moves wait until nobody is at work any more, for cells whose guards do not keep people and moves
    /// apart.
    #[schema(required = false, default = false)]
    pub moves_wait: bool,
    /// The week that is put in order.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub week: Option<Week>,
}

/// From when a change counts; it always ends with the first good case of the next SKU.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, serde::Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum CountsFrom {
    /// From the last good case of the SKU before.
    LastCase,
    /// From the last case begun, so that running empty counts too.
    LastIntake,
}

/// Planned time of a week, and the order of its lots.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Week {
    /// Planned minutes.
    #[schema(minimum = 0.000001, maximum = 100000)]
    pub planned_min: f64,
    /// Minutes of it in which nothing runs.
    #[schema(required = false, default = 0.0, minimum = 0, maximum = 100000)]
    pub breaks_min: f64,
    /// Whether changes take place inside the planned time, so that the cell must run faster to make up for them: by the
    /// limit for every lot. Outside, they are somebody else's time.
    #[schema(required = false, default = "outside")]
    pub changes: ChangesLie,
    /// Whether the last lot is followed by the first again.
    #[schema(required = false, default = "cyclic")]
    pub order: OrderShape,
}

/// Where changes lie.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, serde::Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ChangesLie {
    /// Inside the planned time.
    Inside,
    /// Outside of it.
    Outside,
}

/// Shape of an order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, serde::Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum OrderShape {
    /// The week repeats.
    Cyclic,
    /// It begins and ends anywhere.
    Open,
}

/// What a SKU needs in a week.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SkuWeek {
    /// Cases.
    #[schema(minimum = 0, maximum = 1000000000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cases: Option<f64>,
    /// Lots in which they are run, apart from one another; 0 leaves the SKU out of the order.
    #[schema(required = false, default = 1, minimum = 0, maximum = 100)]
    pub lots: u32,
}

/// Something that is set when a SKU follows another that asks for another setting. It has exactly one of `automatic` and
/// `by_hand`.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Adjustment {
    /// Its id, once at its station or circuit.
    pub id: String,
    /// What it follows: a key of the SKU's load on this circuit that ends in `_mm`, a key of the SKU's `measures_mm` or `groups`,
    /// `products_per_stack`, `stacks_per_case`, or `id` (every SKU has its own).
    pub follows: String,
    /// Only when the station works so.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mode: Option<Mode>,
    /// Measures so close to one another need no setting, in millimetres.
    #[schema(required = false, default = 0.0, minimum = 0, maximum = 1000000)]
    pub tolerance_mm: f64,
    /// It sets itself.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub automatic: Option<Automatic>,
    /// People set it, in these steps.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    pub by_hand: Vec<Step>,
}

/// How something sets itself; a recipe, which takes no time, gives neither key.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Automatic {
    /// Seconds whatever the travel.
    #[schema(required = false, default = 0.0, minimum = 0, maximum = 100000)]
    pub base_s: f64,
    /// Speed of the travel, in millimetres per second; the travel is what the measure changes by.
    #[schema(minimum = 0.001, maximum = 1000000)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub speed_mm_s: Option<f64>,
}

/// A step by hand.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Step {
    /// Its id, once in its adjustment.
    pub id: String,
    /// Minutes whatever the number of heads.
    #[schema(required = false, default = 0.0, minimum = 0, maximum = 10000)]
    pub minutes: f64,
    /// Minutes more for each head of the station; on a circuit, for each carrier.
    #[schema(required = false, default = 0.0, minimum = 0, maximum = 10000)]
    pub minutes_each: f64,
    /// People who do it together.
    #[schema(required = false, default = 1, minimum = 1, maximum = 100)]
    pub people: u32,
    /// Whether the cell must stand.
    #[schema(required = false, default = "inside")]
    pub stop: Stop,
    /// Steps that must be finished before: an id of the same adjustment, or `STATION/ADJUSTMENT/STEP`.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    pub after: Vec<String>,
}

/// Whether the cell must stand for a step.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Stop {
    /// It is done inside the stop.
    Inside,
    /// It may be done while the cell runs.
    Outside,
}
