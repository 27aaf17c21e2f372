//! The plans of one cell that no other beats.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::Short;
use crate::wire::cell::CellDocument;

/// A cell whose front is asked for.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FrontRequest {
    /// The cell document.
    #[schema(value_type = CellDocument)]
    pub cell: serde_json::Value,
}

/// Every plan of a cell that no other beats in floor, carriers and price together.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FrontDocument {
    /// Format of the document: 1.
    #[schema(minimum = 1, maximum = 1)]
    pub format: u32,
    /// Name of the cell.
    pub name: String,
    /// Whether it is proven that no plan is missing: a plan that is as good in all three as one of these is not
    /// listed again, and a price counts as lower from a ten-millionth of itself on.
    pub complete: bool,
    /// Searches that it took.
    #[schema(minimum = 0)]
    pub zones: u32,
    /// By ascending floor; each is proven to be beaten by none.
    pub plans: Vec<Short>,
    /// Why there is no plan at all, in sentences.
    pub reasons: Vec<String>,
}
