//! The rules of model section 7 played event by event in whole microseconds, without randomness.
//!
//! It knows nothing of event graphs or rows, so it can disagree with them.

mod log;
mod timed;

pub use log::{Log, Move, Moved, Queued, log};
pub use timed::{Timed, Times, Watch, WindowWatch, first_through, run};

#[cfg(test)]
pub(crate) mod tests;
