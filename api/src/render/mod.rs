//! Pictures and printed pages, made of the published documents only: every number on them is in the document.

mod changeover;
mod judgement;
mod loop_view;
mod table;
mod text;

pub use changeover::changeover_text;
pub use judgement::judgement_text;
pub use text::plan_text;

/// Columns of a printed page.
const COLUMNS: usize = 100;

#[cfg(test)]
mod tests;
