//! Loopwright on the command line.

mod alternatives;
mod args;
mod commands;
mod draw;
mod input;
mod output;
mod report;
#[cfg(feature = "serve")]
mod serve;
mod simulate;

use args::{Args, Command};
use std::process::ExitCode;
use tracing_subscriber::EnvFilter;

fn main() -> ExitCode {
    let args = Args::of_this_run();
    // Standard output belongs to the answer.
    let log = tracing_subscriber::fmt().with_env_filter(EnvFilter::from_default_env()).with_writer(std::io::stderr);
    #[cfg(feature = "serve")]
    if matches!(&args.command, Command::Serve(args) if args.json_logs) {
        log.json().init();
    } else {
        log.init();
    }
    #[cfg(not(feature = "serve"))]
    log.init();
    let answer = match &args.command {
        Command::Plan(args) => commands::plan(args),
        Command::Check(args) => commands::check(args),
        Command::Judge(args) => commands::judge(args),
        Command::Changeover(args) => commands::changeover(args),
        Command::Compare(args) => alternatives::compared(args),
        Command::Sweep(args) => alternatives::swept(args),
        Command::Front(args) => alternatives::unbeaten(args),
        Command::Accumulate(args) => alternatives::accumulated(args),
        Command::Explain(args) => alternatives::explained(args),
        Command::Simulate(args) => simulate::simulate(args),
        Command::Draw(args) => draw::draw(args),
        Command::Trace(args) => draw::trace(args),
        Command::Carriers(args) => draw::carriers(args),
        Command::Report(args) => report::report(args),
        #[cfg(feature = "serve")]
        Command::Serve(args) => serve::serve(args),
    };
    ExitCode::from(output::print(&answer))
}
