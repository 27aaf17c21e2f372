//! Jobs: work that takes a while, kept in a store, so that it outlives the process.
//!
//! `kind` says what a job can be, and `KINDS` lists them; `queue` runs them on threads of its own; `store` is the seam to
//! whatever keeps them, and `sqlite` keeps them in one file.

mod alternatives;
mod changeover;
pub mod kind;
mod plan;
pub mod queue;
mod simulate;
pub mod sqlite;
pub mod store;
#[cfg(test)]
mod tests;

pub use kind::{Done, Kind, Progress, Sink};
pub use queue::{Live, Queue, QueueLimits};
pub use sqlite::Sqlite;
pub use store::{Job, JobState, Store, StoreError};

/// Every kind of job, one row each.
pub const KINDS: &[&dyn Kind] = &[
    &plan::Plan,
    &alternatives::Compare,
    &alternatives::Sweep,
    &alternatives::Explain,
    &alternatives::Front,
    &changeover::Changeover,
    &simulate::Simulate,
    &simulate::Accumulate,
];
