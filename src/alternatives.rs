//! Compare, sweep and explain on the command line.

use crate::args::seconds;
use crate::commands::{any_cell, cancel_on_interrupt, cell, refuse};
use crate::input;
use crate::output::{Answer, findings, json};
use loopwright_api::alternatives::{Doing, Report, check_axes, compare, explain, front, parse_change, sweep};
use loopwright_api::read::{MAX_BYTES, read};
use loopwright_api::render::{accumulation_text, compare_text, explain_text, front_text, sweep_text};
use loopwright_api::simulate::{accumulate, check_accumulation, check_run};
use loopwright_api::wire::accumulation::AccumulateAsked;
use loopwright_api::wire::alternatives::{Axis, Ended, SweepTarget, Variant};
use loopwright_api::wire::simulation::SimulationRun;
use loopwright_api::{Code, Document, Finding};
use std::io::{IsTerminal, Write};
use std::path::PathBuf;
use std::time::Duration;

/// What the three have in common.
#[derive(Debug, clap::Args)]
pub struct Common {
    /// Cell document in YAML or JSON; `-` reads standard input.
    pub cell: PathBuf,
    /// Print the document as JSON instead of the printed page.
    #[arg(long)]
    pub json: bool,
    /// Stop after so many seconds, shared by all plans, and give what there is. Ctrl-C does the same at once.
    #[arg(long, value_name = "SECONDS", default_value_t = 60.0, value_parser = seconds, allow_negative_numbers = true)]
    pub time_limit: f64,
}

#[derive(Debug, clap::Args)]
pub struct CompareArgs {
    #[command(flatten)]
    pub common: Common,
    /// A variant: `NAME: CHANGE; CHANGE`. A change is `PLACE=VALUE`, `PLACE*NUMBER`, `PLACE+NUMBER`, or `PLACE=` to leave a key
    /// out. A place is made of keys from the top with `/` between them and ids in lists, as in
    /// `stations/load/intermittent/base_s`; `rate` stands for the net rates of all SKUs.
    #[arg(long, value_name = "VARIANT", value_parser = variant)]
    pub variant: Vec<Variant>,
    /// A file in YAML or JSON with a list of variants under the key `variants`, as the HTTP API takes them.
    #[arg(long, value_name = "FILE")]
    pub variants: Option<PathBuf>,
    /// Leave out the usual variants: all intermittent, all continuous, each station alone the other way, each form.
    #[arg(long)]
    pub only_own: bool,
    /// Simulate every plan with what goes wrong, all with the same luck, and compare efficiencies too. Planning then takes half of the
    /// time limit at most.
    #[arg(long)]
    pub simulate: bool,
    /// The same seed gives the same numbers.
    #[arg(long, requires = "simulate", default_value_t = SimulationRun::default().seed)]
    pub seed: u64,
    /// Time that counts in each replication.
    #[arg(long, value_name = "HOURS", requires = "simulate", default_value_t = SimulationRun::default().hours)]
    pub hours: f64,
    /// Fewest replications of each SKU.
    #[arg(long, value_name = "COUNT", requires = "simulate", default_value_t = SimulationRun::default().least_replications)]
    pub least: u32,
    /// Most replications of each SKU.
    #[arg(long, value_name = "COUNT", requires = "simulate", default_value_t = SimulationRun::default().most_replications)]
    pub most: u32,
    /// Half-width of the 95 % confidence interval of each net rate that is enough, as a share of it.
    #[arg(long, value_name = "SHARE", requires = "simulate", default_value_t = SimulationRun::default().half_width)]
    pub half_width: f64,
}

impl CompareArgs {
    fn run(&self) -> Option<SimulationRun> {
        self.simulate.then(|| SimulationRun {
            seed: self.seed,
            hours: self.hours,
            least_replications: self.least,
            most_replications: self.most,
            half_width: self.half_width,
            ..SimulationRun::default()
        })
    }
}

#[derive(Debug, clap::Args)]
pub struct SweepArgs {
    #[command(flatten)]
    pub common: Common,
    /// A number and its range: `PLACE*FROM..TO/POINTS` for multiples of what the document gives, `PLACE=FROM..TO/POINTS` for
    /// the number itself. Given twice, both are swept.
    #[arg(long, value_name = "RANGE", value_parser = axis, default_value = "rate*0.8..1.2/9")]
    pub over: Vec<Axis>,
    /// Find changes of the best way of working to this share of the first range; 0 leaves them out.
    #[arg(long, value_name = "SHARE", default_value_t = 0.01)]
    pub crossover: f64,
}

#[derive(Debug, clap::Args)]
pub struct FrontArgs {
    #[command(flatten)]
    pub common: Common,
}

#[derive(Debug, clap::Args)]
pub struct AccumulateArgs {
    #[command(flatten)]
    pub common: Common,
    /// Station before the section, and the one after it: `FROM:TO`.
    #[arg(long, value_name = "FROM:TO", value_parser = between)]
    pub section: (String, String),
    /// Largest ride-through.
    #[arg(long, value_name = "SECONDS")]
    pub up_to: f64,
    /// Points from 0 to that.
    #[arg(long, value_name = "COUNT", default_value_t = 9)]
    pub points: u32,
    /// SKU that is simulated; the first where it is left out.
    #[arg(long, value_name = "ID")]
    pub sku: Option<String>,
    /// Cases a minute that a square metre of floor must bring; without it any gain that chance does not explain counts.
    #[arg(long, value_name = "RATE")]
    pub worth: Option<f64>,
    /// The same seed gives the same numbers.
    #[arg(long, default_value_t = 1)]
    pub seed: u32,
    /// Time that counts in each replication.
    #[arg(long, value_name = "HOURS", default_value_t = 8.0)]
    pub hours: f64,
    /// Half-width of the 95 % confidence interval of each net rate that is enough, as a share of it.
    #[arg(long, value_name = "SHARE", default_value_t = 0.005)]
    pub half_width: f64,
    /// Fewest replications of each point.
    #[arg(long, value_name = "COUNT", default_value_t = 20)]
    pub least: u32,
    /// Most replications of each point.
    #[arg(long, value_name = "COUNT", default_value_t = 320)]
    pub most: u32,
}

fn between(text: &str) -> Result<(String, String), String> {
    let (from, to) = text.split_once(':').ok_or("write `FROM:TO`, two stations that follow one another")?;
    Ok((from.trim().to_owned(), to.trim().to_owned()))
}

#[derive(Debug, clap::Args)]
pub struct ExplainArgs {
    #[command(flatten)]
    pub common: Common,
    /// Share of itself by which each limit is relaxed.
    #[arg(long, value_name = "SHARE", default_value_t = 0.1, value_parser = share)]
    pub step: f64,
    /// Accuracy of rates and least changes, as a share of what is asked.
    #[arg(long, value_name = "SHARE", default_value_t = 0.01, value_parser = accuracy)]
    pub accuracy: f64,
}

fn within(text: &str, least: f64, most: f64) -> Result<f64, String> {
    let value = text.parse::<f64>().ok().filter(|v| (least..=most).contains(v));
    value.ok_or_else(|| format!("give a number from {least} to {most}"))
}

fn share(text: &str) -> Result<f64, String> {
    within(text, 0.001, 0.99)
}

fn accuracy(text: &str) -> Result<f64, String> {
    within(text, 0.0001, 0.5)
}

fn variant(text: &str) -> Result<Variant, String> {
    let (name, changes) = text.split_once(':').ok_or("write `NAME: CHANGE; CHANGE`")?;
    let changes = changes.split(';').filter(|c| !c.trim().is_empty()).map(parse_change).collect::<Result<_, _>>()?;
    Ok(Variant { name: name.trim().to_owned(), changes })
}

fn axis(text: &str) -> Result<Axis, String> {
    let shape = "write PLACE*FROM..TO/POINTS or PLACE=FROM..TO/POINTS";
    let (head, points) = text.rsplit_once('/').ok_or(shape)?;
    let (head, to) = head.rsplit_once("..").ok_or(shape)?;
    let at = head.rfind(['*', '=']).ok_or(shape)?;
    let of = if head[at..].starts_with('*') { SweepTarget::Times } else { SweepTarget::Value };
    let number = |text: &str| text.trim().parse::<f64>().map_err(|_| format!("{text} is no number; {shape}"));
    Ok(Axis {
        at: head[..at].trim().to_owned(),
        of,
        from: number(&head[at + 1..])?,
        to: number(to)?,
        points: points.trim().parse().map_err(|_| format!("{points} is no count; {shape}"))?,
    })
}

/// Tells on a terminal how many parts are done, and what was done with them.
pub struct Ticker(pub &'static str);

impl Report for Ticker {
    fn done(&self, parts: usize, of: usize) {
        let mut err = std::io::stderr().lock();
        if err.is_terminal() {
            // Nothing is left to tell when standard error is closed.
            let _ = write!(err, "\r{parts} of {of} {}\u{1b}[K", self.0);
        }
    }
}

/// The line is for as long as the work lasts, however it ends.
impl Drop for Ticker {
    fn drop(&mut self) {
        let mut err = std::io::stderr().lock();
        if err.is_terminal() {
            let _ = write!(err, "\r\u{1b}[K");
        }
    }
}

/// Reads, works and prints: what they have in common. `parts` says what is counted while it works; `work` gives the page, the
/// document and the exit code.
fn answered(
    common: &Common,
    parts: &'static str,
    work: impl FnOnce(&Document, &Doing<'_>) -> Result<(String, String, u8), Vec<Finding>>,
) -> Answer {
    answered_about(any_cell(&common.cell), common, parts, work)
}

/// The same about a document that was read, or refused.
fn answered_about(
    read: Result<Document, Vec<Finding>>,
    common: &Common,
    parts: &'static str,
    work: impl FnOnce(&Document, &Doing<'_>) -> Result<(String, String, u8), Vec<Finding>>,
) -> Answer {
    let file = input::name(&common.cell);
    let document = match read {
        Ok(document) => document,
        Err(refused) => return refuse(&file, None, refused, common.json),
    };
    let cancel = cancel_on_interrupt();
    let ticker = Ticker(parts);
    let doing = Doing::new(Duration::from_secs_f64(common.time_limit), &cancel, &ticker);
    match work(&document, &doing) {
        Ok((page, text, exit)) => {
            Answer { out: if common.json { text } else { page }, err: findings(&file, &document.warnings), exit }
        }
        Err(refused) => refuse(&file, Some(&document.wire.name), refused, common.json),
    }
}

fn exit(status: Ended) -> u8 {
    u8::from(status == Ended::Impossible)
}

/// Variants side by side.
pub fn compared(args: &CompareArgs) -> Answer {
    let mut variants = args.variant.clone();
    if let Some(path) = &args.variants {
        match of_file(path) {
            Ok(more) => variants.extend(more),
            Err(finding) => return refuse(&input::name(path), None, vec![finding], args.common.json),
        }
    }
    let run = args.run();
    let parts = if run.is_some() { "planned and simulated" } else { "planned" };
    answered(&args.common, parts, |document, doing| {
        let found = run.as_ref().map_or_else(Vec::new, |run| check_run(document, run, "/simulate"));
        if !found.is_empty() {
            return Err(found);
        }
        for variant in &variants {
            if let Err(found) = loopwright_api::alternatives::changed(document, &variant.changes)
                && found.iter().any(|f| f.code == Code::BadChange)
            {
                return Err(found);
            }
        }
        let done = compare(document, &variants, !args.only_own, run.as_ref(), doing).map_err(|f| vec![f])?;
        let status = done.variants.first().map_or(Ended::Refused, |v| v.plan.status);
        Ok((compare_text(&done), json(&done), exit(status)))
    })
}

fn of_file(path: &std::path::Path) -> Result<Vec<Variant>, Finding> {
    let bytes = input::read(path, MAX_BYTES)?;
    let tree = read(&bytes)?;
    let mut value = tree.root.to_json();
    let list = value.get_mut("variants").map(serde_json::Value::take).unwrap_or(value);
    serde_json::from_value(list).map_err(|error| {
        Finding::new(Code::BadChange, "/variants", format!("the variants cannot be read: {error}"))
            .advise("Write a list under `variants`, each with `name` and `changes`.")
    })
}

/// Plans over ranges.
pub fn swept(args: &SweepArgs) -> Answer {
    /// More points than this are no table.
    const MOST_POINTS: u64 = 10_000;
    answered(&args.common, "planned", |document, doing| {
        check_axes(document, &args.over, args.crossover, MOST_POINTS)?;
        let done = sweep(document, &args.over, args.crossover, doing).map_err(|f| vec![f])?;
        Ok((sweep_text(&done), json(&done), 0))
    })
}

/// The plans that no other beats.
pub fn unbeaten(args: &FrontArgs) -> Answer {
    answered_about(cell(&args.common.cell), &args.common, "parts of the search done", |document, doing| {
        let done = front(document, doing).map_err(|f| vec![f])?;
        let none = done.complete && done.plans.is_empty();
        Ok((front_text(&done), json(&done), u8::from(none)))
    })
}

/// What accumulation buys.
pub fn accumulated(args: &AccumulateArgs) -> Answer {
    let (from, to) = args.section.clone();
    let asked = AccumulateAsked {
        sku: args.sku.clone(),
        points: args.points,
        worth_per_m2: args.worth,
        seed: args.seed,
        hours: args.hours,
        half_width: args.half_width,
        least_replications: args.least,
        most_replications: args.most,
        ..AccumulateAsked::usual(from, to, args.up_to)
    };
    answered_about(cell(&args.common.cell), &args.common, "planned", |document, doing| {
        check_accumulation(document, &asked)?;
        let done = accumulate(document, &asked, doing).map_err(|f| vec![f])?;
        Ok((accumulation_text(&done), json(&done), 0))
    })
}

/// What would help.
pub fn explained(args: &ExplainArgs) -> Answer {
    answered(&args.common, "planned", |document, doing| {
        let done = explain(document, args.step, args.accuracy, doing).map_err(|f| vec![f])?;
        let exit = exit(done.plan.status);
        Ok((explain_text(&done), json(&done), exit))
    })
}
