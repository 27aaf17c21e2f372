//! What is true about a cell: its physics, its rate, its least footprint.
//!
//! The floors, lowest first (a module imports only from lower ones; a test walks the `use` lines):
//! `units` · `motion`, `track`, `schedule`, `chance` · `option`, `load`, `power`, `ground` · `adjust`, `section`, `station`, `ring`, `stream`, `openings` · `net` · `cell`, `throughput`,
//! `sim` · `plan` · `changeover`, `operation` · `rules` · `milp` · `study` · `explain`, `sequence` · `coupled` · `relief`.

#![cfg_attr(test, allow(clippy::unwrap_used, clippy::expect_used))]

pub mod adjust;
pub mod cell;
pub mod chance;
pub mod changeover;
pub mod coupled;
pub mod explain;
pub mod ground;
pub mod load;
pub mod milp;
pub mod motion;
pub mod net;
pub mod openings;
pub mod operation;
pub mod option;
pub mod plan;
pub mod power;
pub mod relief;
pub mod ring;
pub mod rules;
pub mod schedule;
pub mod section;
pub mod sequence;
pub mod sim;
pub mod station;
pub mod stream;
pub mod study;
pub mod throughput;
pub mod track;
pub mod units;
