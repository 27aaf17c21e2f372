//! The rules of model section 7 played in whole microseconds: `timed` event by event and without chance, `flow` by evolution
//! equations and with it, `replicate` many times over.
//!
//! It knows nothing of event graphs or rows, so it can disagree with them.

mod feed;
mod flow;
mod halts;
mod joint;
mod log;
mod replicate;
mod scenario;
mod stop_test;
mod stretch;
mod tally;
mod timed;

pub use flow::{Passages, certain_moments, certain_rate};
pub use joint::{NetWatch, RingTimes, TimedNet, run_net};
pub use log::{Inside, Log, Move, Moved, Queued, log};
pub use replicate::{Asked, Estimate, Listener, Replicated, replicate};
pub use scenario::{Linked, Links, Post, Scenario, Span};
pub use stop_test::{StopTest, stop_test};
pub use stretch::stretch;
pub use tally::{STATES, Seen, State, Stays};
pub use timed::{Timed, Times, Watch, WindowWatch, first_through, run};

#[cfg(test)]
pub(crate) mod tests;
#[cfg(test)]
mod theory;
