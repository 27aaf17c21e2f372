//! What can be asked on the command line.

use clap::error::ErrorKind;
use clap::{CommandFactory, Parser, Subcommand};
use std::path::PathBuf;

/// Plans packaging cells built round closed loops of independently driven carriers.
///
/// Exit codes: 0 a plan, a good document or a plan that holds; 1 no plan exists, or a plan does not hold; 2 a document is
/// wrong; 70 a fault of the planner; 74 a file cannot be read or written.
#[derive(Debug, Parser)]
#[command(version, about)]
pub struct Args {
    #[command(subcommand)]
    pub command: Command,
}

#[derive(Debug, Subcommand)]
pub enum Command {
    /// Find the plan of least floor area for a cell, with the proof.
    Plan(PlanArgs),
    /// Check a cell document without planning it.
    Check(CheckArgs),
    /// Check anybody's plan of a cell, rule by rule and number by number.
    Judge(JudgeArgs),
    /// Work out every change from SKU to SKU on a plan, and the order of least total change time.
    Changeover(ChangeoverArgs),
    /// Plan variants of a cell side by side, and say why they differ.
    Compare(crate::alternatives::CompareArgs),
    /// Plan a cell over a range of one or two of its numbers.
    Sweep(crate::alternatives::SweepArgs),
    /// Find every plan of a cell that no other beats in floor, carriers and price together.
    Front(crate::alternatives::FrontArgs),
    /// Say what accumulation before a station buys: net rate over the seconds that a section absorbs.
    Accumulate(crate::alternatives::AccumulateArgs),
    /// Say what would make a plan better, or what would make a plan possible.
    Explain(crate::alternatives::ExplainArgs),
    /// Simulate what a plan makes on a bad day: failures, waits, queues.
    Simulate(crate::simulate::SimulateArgs),
    /// Draw a plan to scale.
    Draw(crate::draw::DrawArgs),
    /// Where every carrier of a plan is over a stretch of the paced run, as JSON.
    Trace(crate::draw::TraceArgs),
    /// Rates of a plan's loop with other numbers of carriers.
    Carriers(crate::draw::CarriersArgs),
    /// Report a plan: a document to print, or a workbook.
    Report(crate::report::ReportArgs),
    /// Serve all of it over HTTP.
    #[cfg(feature = "serve")]
    Serve(crate::serve::ServeArgs),
}

#[derive(Debug, clap::Args)]
pub struct PlanArgs {
    /// Cell document in YAML or JSON; `-` reads standard input.
    pub cell: PathBuf,
    /// Print the plan document as JSON instead of the printed plan.
    #[arg(long)]
    pub json: bool,
    /// Stop searching after so many seconds and give the best plan so far. Ctrl-C does the same at once.
    #[arg(long, value_name = "SECONDS", default_value_t = 10.0, value_parser = seconds, allow_negative_numbers = true)]
    pub time_limit: f64,
}

#[derive(Debug, clap::Args)]
pub struct CheckArgs {
    /// Cell document in YAML or JSON; `-` reads standard input.
    pub cell: PathBuf,
    /// Print findings as JSON.
    #[arg(long)]
    pub json: bool,
}

#[derive(Debug, clap::Args)]
pub struct JudgeArgs {
    /// Cell document in YAML or JSON; `-` reads standard input.
    pub cell: PathBuf,
    /// Plan document in JSON; `-` reads standard input.
    pub plan: PathBuf,
    /// Print the answer as JSON.
    #[arg(long)]
    pub json: bool,
}

#[derive(Debug, clap::Args)]
pub struct ChangeoverArgs {
    /// Cell document in YAML or JSON; `-` reads standard input.
    pub cell: PathBuf,
    /// Plan document in JSON; without it the cell is planned first. `-` reads standard input.
    #[arg(long, value_name = "FILE")]
    pub plan: Option<PathBuf>,
    /// SKU before the change that is shown in full; without it the longest change is shown.
    #[arg(long, value_name = "SKU", requires = "to")]
    pub from: Option<String>,
    /// SKU after the change that is shown in full.
    #[arg(long, value_name = "SKU", requires = "from")]
    pub to: Option<String>,
    /// Draw a picture as SVG instead of the printed answer.
    #[arg(long, value_enum, conflicts_with = "json")]
    pub picture: Option<ChangePicture>,
    /// File to write; standard output where it is left out.
    #[arg(long, short, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Print the answer as JSON.
    #[arg(long)]
    pub json: bool,
    /// Stop searching for a plan after so many seconds; the order of lots is given five at most.
    #[arg(long, value_name = "SECONDS", default_value_t = 10.0, value_parser = seconds, allow_negative_numbers = true)]
    pub time_limit: f64,
}

/// What is drawn of changes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum ChangePicture {
    /// All changes from SKU to SKU: minutes in cells, over the limit hatched, the longest framed.
    Matrix,
    /// The change that is shown in full, as bars.
    Schedule,
    /// The order of the week.
    Order,
}

impl Args {
    /// The arguments of this run; ends the program with a message and exit code 2 where they do not go together.
    pub fn of_this_run() -> Self {
        let args = Self::parse();
        let both = match &args.command {
            Command::Judge(judge) => Some((&judge.cell, &judge.plan)),
            Command::Simulate(simulate) => Some((&simulate.cell, &simulate.plan)),
            Command::Changeover(changeover) => changeover.plan.as_ref().map(|plan| (&changeover.cell, plan)),
            _ => None,
        };
        if let Some((cell, plan)) = both
            && crate::input::is_standard(cell)
            && crate::input::is_standard(plan)
        {
            let message = "cell and plan cannot both come from standard input; give a file name for one of them";
            Self::command().error(ErrorKind::ArgumentConflict, message).exit();
        }
        args
    }
}

/// Longest time limit: a year.
const LONGEST_S: f64 = 365.0 * 86_400.0;

/// A number of seconds.
pub fn seconds(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(s) if (0.0..=LONGEST_S).contains(&s) => Ok(s),
        _ => Err(format!("give a number of seconds from 0 to {LONGEST_S}")),
    }
}
