//! Simulation on the command line.

use crate::alternatives::Ticker;
use crate::args::seconds;
use crate::commands::{any_cell, cancel_on_interrupt, refuse};
use crate::input;
use crate::output::{Answer, findings, json};
use loopwright_api::alternatives::Doing;
use loopwright_api::judge::MAX_PLAN_BYTES;
use loopwright_api::render::simulation_text;
use loopwright_api::wire::simulation::{Certain, SimulationRun};
use std::path::PathBuf;
use std::time::Duration;

#[derive(Debug, clap::Args)]
pub struct SimulateArgs {
    /// Cell document in YAML or JSON; `-` reads standard input.
    pub cell: PathBuf,
    /// Plan document in JSON; `-` reads standard input.
    pub plan: PathBuf,
    /// SKU that is simulated; every SKU where it is left out.
    #[arg(long, value_name = "ID")]
    pub sku: Option<String>,
    /// The same seed gives the same numbers.
    #[arg(long, default_value_t = SimulationRun::default().seed)]
    pub seed: u64,
    /// Time that counts in each replication.
    #[arg(long, value_name = "HOURS", default_value_t = SimulationRun::default().hours)]
    pub hours: f64,
    /// Time before it that is left out; found by the MSER rule where it is left out.
    #[arg(long, value_name = "SECONDS")]
    pub warm_up: Option<f64>,
    /// Fewest replications of each SKU.
    #[arg(long, value_name = "COUNT", default_value_t = SimulationRun::default().least_replications)]
    pub least: u32,
    /// Most replications of each SKU.
    #[arg(long, value_name = "COUNT", default_value_t = SimulationRun::default().most_replications)]
    pub most: u32,
    /// Half-width of the 95 % confidence interval of the net rate that is enough, as a share of it.
    #[arg(long, value_name = "SHARE", default_value_t = SimulationRun::default().half_width)]
    pub half_width: f64,
    /// Hold the first station of the order back to the design rate.
    #[arg(long)]
    pub paced: bool,
    /// Print the document as JSON instead of the printed page.
    #[arg(long)]
    pub json: bool,
    /// Stop after so many seconds and give what there is. Ctrl-C does the same at once.
    #[arg(long, value_name = "SECONDS", default_value_t = 60.0, value_parser = seconds, allow_negative_numbers = true)]
    pub time_limit: f64,
}

/// Simulates a plan.
pub fn simulate(args: &SimulateArgs) -> Answer {
    let (cell_file, plan_file) = (input::name(&args.cell), input::name(&args.plan));
    let document = match any_cell(&args.cell) {
        Ok(document) => document,
        Err(refused) => return refuse(&cell_file, None, refused, args.json),
    };
    let plan = match input::read(&args.plan, MAX_PLAN_BYTES) {
        Ok(plan) => plan,
        Err(finding) => return refuse(&plan_file, None, vec![finding], args.json),
    };
    let run = SimulationRun {
        sku: args.sku.clone(),
        seed: args.seed,
        hours: args.hours,
        warm_up_s: args.warm_up,
        least_replications: args.least,
        most_replications: args.most,
        half_width: args.half_width,
        paced: args.paced,
    };
    let cancel = cancel_on_interrupt();
    let ticker = Ticker("simulated");
    let doing = Doing::new(Duration::from_secs_f64(args.time_limit), &cancel, &ticker);
    match loopwright_api::simulate(&document, &plan, &run, &doing) {
        Ok(done) => Answer {
            out: if args.json { json(&done) } else { simulation_text(&done) },
            err: findings(&cell_file, &document.warnings),
            exit: u8::from(done.skus.iter().any(|sku| sku.makes_net_rate == Certain::No)),
        },
        Err(refused) => refuse(&plan_file, None, refused, args.json),
    }
}
