//! Pictures and printed pages, made of the published documents only: every number on them is in the document.

mod accumulation;
mod alternatives;
mod carriers;
mod changeover;
mod feed;
mod judgement;
mod loop_view;
mod pairs;
mod simulation;
mod table;
mod text;

pub use accumulation::accumulation_text;
pub use alternatives::{compare_text, explain_text, front_text, sweep_text};
pub use carriers::{carriers_text, enough};
pub use changeover::changeover_text;
pub use judgement::judgement_text;
pub use simulation::simulation_text;
pub use text::plan_text;
pub(crate) use text::{clearance, facing, grouped};

/// Columns of a printed page.
const COLUMNS: usize = 100;

#[cfg(test)]
mod tests;
