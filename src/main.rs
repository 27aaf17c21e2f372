//! Loopwright on the command line.

mod args;
mod commands;
mod input;
mod output;

use args::{Args, Command};
use std::process::ExitCode;
use tracing_subscriber::EnvFilter;

fn main() -> ExitCode {
    let args = Args::of_this_run();
    // Standard output belongs to the answer.
    tracing_subscriber::fmt().with_env_filter(EnvFilter::from_default_env()).with_writer(std::io::stderr).init();
    let answer = match &args.command {
        Command::Plan(args) => commands::plan(args),
        Command::Check(args) => commands::check(args),
        Command::Judge(args) => commands::judge(args),
    };
    ExitCode::from(output::print(&answer))
}
