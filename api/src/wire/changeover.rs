//! Changing from SKU to SKU on a plan, as it is asked for and published.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::adjust::{ChangesLie, CountsFrom, OrderShape};
use super::cell::CellDocument;
use super::plan::PlanDocument;
use crate::finding::Finding;

/// A cell whose changes are asked for.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ChangeoverRequest {
    /// The cell document.
    #[schema(value_type = CellDocument)]
    pub cell: serde_json::Value,
    /// The plan document; the cell is planned first where it is left out.
    #[serde(default)]
    #[schema(required = false, value_type = Option<Object>)]
    pub plan: Option<serde_json::Value>,
    /// Id of the SKU before a change that is wanted in full; `to` belongs to it.
    #[serde(default)]
    #[schema(required = false)]
    pub from: Option<String>,
    /// Id of the SKU after it.
    #[serde(default)]
    #[schema(required = false)]
    pub to: Option<String>,
}

/// What asking for the changes of a cell gives.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ChangeoverAnswer {
    /// Format of the document: 1.
    #[schema(minimum = 1, maximum = 1)]
    pub format: u32,
    /// Whether there is a plan whose changes can be worked out.
    pub status: ChangeoverStatus,
    /// The changes; null without a plan.
    #[schema(required = true)]
    pub changeover: Option<ChangeoverDocument>,
    /// The plan, or the reasons why there is none; null where a plan was given.
    #[schema(required = true)]
    pub plan: Option<PlanDocument>,
}

/// Whether changes could be worked out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ChangeoverStatus {
    /// They were.
    WorkedOut,
    /// There is no plan to change over on.
    NoPlan,
}

/// Every change from SKU to SKU on one plan, those that matter in full, and the order of the week.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ChangeoverDocument {
    /// Format of the document: 1.
    #[schema(minimum = 1, maximum = 1)]
    pub format: u32,
    /// Name of the cell.
    pub name: String,
    /// From when a change counts.
    pub counts_from: CountsFrom,
    /// People at hand.
    #[schema(minimum = 1)]
    pub operators: u32,
    /// Longest change that is allowed, in seconds; null without a limit.
    #[schema(required = true, minimum = 0)]
    pub limit_s: Option<f64>,
    /// SKUs, in the order of the matrix.
    pub skus: Vec<ChangeoverSku>,
    /// Seconds of each change that the limit is held against: row by the SKU before, column by the SKU that follows.
    #[schema(minimum = 0)]
    pub matrix_s: Vec<Vec<f64>>,
    /// How many changes there are of each kind.
    pub count: ChangeCount,
    /// Mean over all changes, in seconds.
    #[schema(minimum = 0)]
    pub mean_s: f64,
    /// Changes in full: the longest first, then the one that was asked for, then those of the order.
    pub changes: Vec<ChangeInFull>,
    /// The order of least total change time; null where there are too many lots for one order.
    #[schema(required = true)]
    pub order: Option<Order>,
    /// What the order comes to in the planned time; null where the cell document gives no week.
    #[schema(required = true)]
    pub week: Option<WeekDone>,
    /// Changes over the limit with what would mend them, and what does not fit the week.
    pub findings: Vec<Finding>,
    /// What the times do not say.
    pub cautions: Vec<String>,
}

/// Running empty and refilling of one SKU.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ChangeoverSku {
    /// Its id.
    pub id: String,
    /// Seconds from its last case begun to its last good case.
    #[schema(minimum = 0)]
    pub run_out_s: f64,
    /// Seconds from its first case begun to its first good case.
    #[schema(minimum = 0)]
    pub refill_s: f64,
}

/// How many changes there are.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ChangeCount {
    /// All pairs of different SKUs.
    #[schema(minimum = 0)]
    pub all: usize,
    /// Of these, those without a step by hand inside the stop.
    #[schema(minimum = 0)]
    pub automatic: usize,
    /// Those that take longer than the limit.
    #[schema(minimum = 0)]
    pub over_limit: usize,
}

/// One change in full.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ChangeInFull {
    /// Id of the SKU before.
    pub from: String,
    /// Id of the SKU that follows.
    pub to: String,
    /// Seconds that the limit is held against.
    #[schema(minimum = 0)]
    pub total_s: f64,
    /// Seconds from the last case begun to the last good case of the SKU before.
    #[schema(minimum = 0)]
    pub run_out_s: f64,
    /// Seconds of work by hand inside the stop, by the people at hand.
    #[schema(minimum = 0)]
    pub by_hand_s: f64,
    /// Whether no schedule of these steps takes less.
    pub by_hand_proven: bool,
    /// Seconds of the longest automatic move.
    #[schema(minimum = 0)]
    pub moving_s: f64,
    /// Seconds of the stop: work by hand and moves.
    #[schema(minimum = 0)]
    pub work_s: f64,
    /// Seconds from the first case begun to the first good case of the next SKU.
    #[schema(minimum = 0)]
    pub refill_s: f64,
    /// Seconds of work by hand before the stop, while the SKU before runs.
    #[schema(minimum = 0)]
    pub before_s: f64,
    /// Seconds of work by hand after the stop, while the next SKU runs.
    #[schema(minimum = 0)]
    pub behind_s: f64,
    /// What the time of the stop hangs on.
    pub decided_by: String,
    /// Steps by hand, by their start.
    pub steps: Vec<PlannedStep>,
    /// Automatic moves, the longest first.
    pub moves: Vec<PlannedMove>,
}

/// When a step is done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum StepPhase {
    /// While the SKU before still runs.
    Before,
    /// While the cell stands.
    Stopped,
    /// While the next SKU runs already.
    Behind,
}

/// One step of a schedule.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PlannedStep {
    /// Id of the station or circuit.
    pub at: String,
    /// Id of the adjustment.
    pub adjustment: String,
    /// Id of the step.
    pub step: String,
    /// When it is done.
    pub phase: StepPhase,
    /// Seconds from the beginning of its phase.
    #[schema(minimum = 0)]
    pub start_s: f64,
    /// Seconds that it takes.
    #[schema(minimum = 0)]
    pub time_s: f64,
    /// Numbers of the people who do it, from 1.
    #[schema(minimum = 1)]
    pub people: Vec<u32>,
}

/// One automatic move.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PlannedMove {
    /// Id of the station or circuit.
    pub at: String,
    /// Id of the adjustment; `spacing` and `opening` of carriers are derived.
    pub adjustment: String,
    /// Millimetres of travel; 0 for what has none.
    #[schema(minimum = 0)]
    pub travel_mm: f64,
    /// Seconds that it takes.
    #[schema(minimum = 0)]
    pub time_s: f64,
}

/// An order of lots.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Order {
    /// Whether it repeats.
    pub shape: OrderShape,
    /// The lots as they are run.
    pub lots: Vec<Lot>,
    /// Sum of all changes, in seconds.
    #[schema(minimum = 0)]
    pub total_s: f64,
    /// No order takes less, in seconds.
    #[schema(minimum = 0)]
    pub proven_bound_s: f64,
    /// (total - bound) / total.
    #[schema(minimum = 0, maximum = 1)]
    pub gap: f64,
    /// Whether no order takes less.
    pub proven: bool,
    /// Sum of all changes when SKUs are run in the order of the document, in seconds; null where lots of one SKU would
    /// then follow one another.
    #[schema(required = true, minimum = 0)]
    pub as_listed_s: Option<f64>,
}

/// One lot.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Lot {
    /// Id of the SKU.
    pub sku: String,
    /// Seconds of the change before it; 0 for the first of an order that does not repeat.
    #[schema(minimum = 0)]
    pub change_s: f64,
    /// Cases; null where no demand is given.
    #[schema(required = true, minimum = 0)]
    pub cases: Option<f64>,
    /// Minutes that they take at the net rate, raised by what changes inside the planned time are allowed; null where no demand is given.
    #[schema(required = true, minimum = 0)]
    pub run_min: Option<f64>,
}

/// What a week comes to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WeekDone {
    /// Planned minutes without breaks.
    #[schema(minimum = 0)]
    pub available_min: f64,
    /// Whether changes lie inside of them.
    pub changes: ChangesLie,
    /// Changes.
    #[schema(minimum = 0)]
    pub change_count: usize,
    /// Minutes of all changes.
    #[schema(minimum = 0)]
    pub change_min: f64,
    /// (available - changes) / available, where changes lie inside; 1 where they lie outside.
    #[schema(minimum = 0, maximum = 1)]
    pub availability: f64,
    /// The availability that the design rate allows for: with every change as long as its limit; 1 where changes lie
    /// outside.
    #[schema(minimum = 0, maximum = 1)]
    pub allowed_availability: f64,
    /// Minutes of running that the demand takes; null where a SKU of the order has none.
    #[schema(required = true, minimum = 0)]
    pub run_min: Option<f64>,
    /// Minutes that are left over (below zero: missing); null where a SKU of the order has no demand.
    #[schema(required = true, minimum = -1000000000, maximum = 1000000000)]
    pub left_min: Option<f64>,
}
