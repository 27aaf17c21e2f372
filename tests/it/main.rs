//! What crosses a floor: the program from outside, and the judge against every rule.

#![allow(clippy::unwrap_used, clippy::expect_used)]

mod accumulation;
mod alternatives;
mod alternatives_coupled;
mod architecture;
mod cells;
mod changes;
mod cli;
mod coupled;
mod drawing;
mod efficiency;
mod examples;
mod feed;
mod fixed;
mod front;
mod judge;
mod keep_limit;
mod openings;
mod operation;
mod price;
mod reach;
mod report;
mod report_coupled;
#[cfg(feature = "serve")]
mod service;
mod site;
mod small_optima;
mod teeth;
mod three_circuits;
mod time_distance;
mod workbook;
