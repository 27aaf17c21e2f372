//! What would help: limits relaxed and planned anew, the largest rate on the floor, the least changes of a conflict.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{Change, Short};
use crate::wire::cell::CellDocument;

/// A cell that wants an explanation.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ExplainRequest {
    /// The cell document.
    #[schema(value_type = CellDocument)]
    pub cell: serde_json::Value,
    /// Share by which each limit is relaxed; 0.1 where it is left out.
    #[serde(default = "step")]
    #[schema(required = false, default = 0.1, exclusive_minimum = 0, exclusive_maximum = 1)]
    pub step: f64,
    /// Accuracy of rates and of least changes, as a share of what is asked; 0.01 where it is left out.
    #[serde(default = "accuracy")]
    #[schema(required = false, default = 0.01, minimum = 0.0001, maximum = 0.5)]
    pub accuracy: f64,
}

fn step() -> f64 {
    0.1
}

fn accuracy() -> f64 {
    0.01
}

/// The explanation of a cell.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ExplainDocument {
    /// Format of the document: 1.
    #[schema(minimum = 1, maximum = 1)]
    pub format: u32,
    /// Name of the cell.
    pub name: String,
    /// The plan of the document as it is, in short.
    pub plan: Short,
    /// Whether everything was looked at before the time limit.
    pub complete: bool,
    /// What follows, by whether there is a plan.
    #[serde(flatten)]
    pub explained: Explained,
}

/// What would help, or what stands in the way; told apart by `kind`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "lowercase")]
pub enum Explained {
    /// There is a plan: what would make it better.
    Helped(Helped),
    /// There is none: the requirements that cannot hold together, and the least change of each that would do.
    Conflict {
        /// The conflict.
        relaxed: Vec<Relaxed>,
        /// Whether each of them was shown to be necessary.
        minimal: bool,
    },
    /// Neither was found in the time given.
    Unknown {},
}

/// What would make a plan better.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Helped {
    /// Share by which each limit was relaxed.
    #[schema(minimum = 0, maximum = 1)]
    pub step: f64,
    /// How far all rates together can rise on the plan's own rectangle of floor.
    pub rates: RatesOnFloor,
    /// Every limit, those first that save most floor, then carriers, then raise the rate, then save price.
    pub levers: Vec<Lever>,
}

/// How far all rates together can rise on the plan's own rectangle of floor.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct RatesOnFloor {
    /// Multiple of all rates at which a plan was found.
    #[schema(minimum = 0)]
    pub does: f64,
    /// Multiple at which it was proven that there is none; null where the search did not get so far.
    #[schema(required = true, minimum = 0)]
    pub too_much: Option<f64>,
}

/// One limit, relaxed and planned anew.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Lever {
    /// What is relaxed, and how far, in words.
    pub says: String,
    /// The same as changes of the document.
    pub changes: Vec<Change>,
    /// The plan in short.
    pub plan: Short,
    /// Floor saved, in square metres.
    #[schema(required = true, minimum = -1000000, maximum = 1000000)]
    pub floor_saved_m2: Option<f64>,
    /// Carriers saved.
    #[schema(required = true, minimum = -1000000, maximum = 1000000)]
    pub carriers_saved: Option<i64>,
    /// Price saved.
    #[schema(required = true, minimum = -1000000000, maximum = 1000000000)]
    pub price_saved: Option<f64>,
    /// How far all rates together can rise on the first plan's rectangle of floor; null where time ran out before.
    #[schema(required = true)]
    pub rates: Option<RatesOnFloor>,
}

/// What the change of one requirement comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ReliefKind {
    /// This much of a change does.
    Changed,
    /// It has no size, or no size of it does: giving it up does.
    GivenUp,
    /// Even giving it up does not do alone: another conflict remains.
    NotAlone,
    /// Not known: time ran out.
    Unknown,
}

/// One requirement of a conflict, and its least change that would do with all else as asked.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Relaxed {
    /// Where it stands in the cell document, as a JSON pointer (RFC 6901).
    pub pointer: String,
    /// What is asked there.
    #[schema(value_type = Value)]
    pub value: serde_json::Value,
    /// The same in words.
    pub says: String,
    /// What the change of it comes to.
    pub relief: ReliefKind,
    /// A plan was found with so much of what is asked, as a multiple.
    #[schema(required = true, minimum = 0)]
    pub does: Option<f64>,
    /// With so much, nearer to what is asked, it is proven that there is none.
    #[schema(required = true, minimum = 0)]
    pub too_little: Option<f64>,
    /// What would do, in words.
    pub would_do: String,
}
