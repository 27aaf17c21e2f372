//! The answer to a plan that was put to the judge.

use serde::Serialize;
use utoipa::ToSchema;

/// What the judge says of a plan.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Judgement {
    /// Format of the document: 1.
    #[schema(minimum = 1, maximum = 1)]
    pub format: u32,
    /// Name of the cell.
    pub name: String,
    /// Whether the plan holds.
    pub status: JudgementStatus,
    /// Everything that does not hold.
    pub lines: Vec<JudgementLine>,
    /// Every rule of the model, with the number of times that the plan breaks it.
    pub rules: Vec<RuleCount>,
    /// Every key of the plan that was recomputed.
    pub claims: Vec<ClaimCount>,
}

/// Whether a plan holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum JudgementStatus {
    /// Every rule and every number holds.
    Holds,
    /// Something does not.
    Fails,
    /// The document holds no plan.
    Nothing,
}

/// Something that does not hold.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct JudgementLine {
    /// The rule of the model in one word, or `claim` for a number of the plan that differs from the recomputed one.
    pub rule: String,
    /// Where in the plan document, as a JSON pointer (RFC 6901); for a rule that looks at several places, what it looks at.
    pub pointer: String,
    /// What does not hold, with both numbers.
    pub says: String,
}

/// How often a rule is broken.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct RuleCount {
    /// The rule in one word.
    pub rule: String,
    /// Times that the plan breaks it.
    pub broken: usize,
}

/// How many numbers of one key were recomputed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct ClaimCount {
    /// The key in the plan document.
    pub key: String,
    /// Values that were recomputed.
    pub checked: usize,
    /// Values that differ.
    pub wrong: usize,
}
