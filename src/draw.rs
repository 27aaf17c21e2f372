//! The commands that draw.

use crate::commands::{any_cell, cell, refuse};
use crate::input;
use crate::output::{Answer, findings, json};
use loopwright_api::draw::{Titles, read_plan};
use loopwright_api::judge::MAX_PLAN_BYTES;
use loopwright_api::print::{Print, Wishes, print};
use loopwright_api::render::carriers_text;
use loopwright_api::report::alternatives::Beside;
use loopwright_api::wire::plan::PlanDocument;
use loopwright_api::wire::trace::{BadDay, TraceDocument};
use loopwright_api::{Code, Document, Finding, PlanAnswer, carriers_document, plan_document, trace_day, usual_trace};
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;
use std::time::Duration;

/// How a drawing is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum DrawingFormat {
    /// A sheet to print and to look at.
    Svg,
    /// Real millimetres, for drawing programs.
    Dxf,
}

/// What is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum DrawingView {
    /// The plan to scale.
    Plan,
    /// Places of the carriers over time, as SVG.
    TimeDistance,
    /// Load of the stations for a SKU against its design rate, as SVG.
    Load,
    /// Rate of a SKU over the number of carriers, as SVG.
    Rate,
    /// Floor over the number that was swept, as SVG; needs `--sweep`.
    Sweep,
    /// The plans that no other beats, as SVG; needs `--front`.
    Front,
    /// Net rate over the seconds that a section absorbs, as SVG; needs `--accumulation`.
    Accumulation,
    /// What the stations do with their time for a SKU, simulated, as SVG; needs `--simulation`.
    States,
    /// Simulated net rates with their confidence intervals against what is asked, as SVG; needs `--simulation`.
    NetRate,
}

#[derive(Debug, clap::Args)]
pub struct DrawArgs {
    /// Cell document in YAML or JSON; `-` reads standard input.
    pub cell: PathBuf,
    /// Plan document in JSON; without it the cell is planned first.
    pub plan: Option<PathBuf>,
    /// SKU whose carriers, batches and slots are drawn; the first where it is left out.
    #[arg(long, value_name = "ID")]
    pub sku: Option<String>,
    /// Circuit that is drawn by itself, where there are several; without it the plan shows all of them.
    #[arg(long, value_name = "ID")]
    pub circuit: Option<String>,
    /// What is drawn.
    #[arg(long, value_enum, default_value = "plan")]
    pub view: DrawingView,
    /// Length of the time-distance diagram; once round the loop, or forty carriers at the design rate, where it is left out.
    #[arg(long, value_name = "SECONDS")]
    pub duration: Option<f64>,
    /// A document of `trace`, for the time-distance diagram; of the paced run where it is left out.
    #[arg(long, value_name = "FILE")]
    pub trace: Option<PathBuf>,
    /// A document of `sweep --json`, for that chart.
    #[arg(long, value_name = "FILE")]
    pub sweep: Option<PathBuf>,
    /// A document of `front --json`, for that chart.
    #[arg(long, value_name = "FILE")]
    pub front: Option<PathBuf>,
    /// A document of `accumulate --json`, for that chart.
    #[arg(long, value_name = "FILE")]
    pub accumulation: Option<PathBuf>,
    /// A document of `simulate --json`, for those charts.
    #[arg(long, value_name = "FILE")]
    pub simulation: Option<PathBuf>,
    /// How the drawing is written.
    #[arg(long, value_enum, default_value = "svg")]
    pub format: DrawingFormat,
    /// File to write; standard output where it is left out.
    #[arg(long, short, value_name = "FILE")]
    pub out: Option<PathBuf>,
    #[command(flatten)]
    pub titles: TitleArgs,
}

/// What goes into the title block.
#[derive(Debug, clap::Args)]
pub struct TitleArgs {
    /// Name of your company.
    #[arg(long, value_name = "NAME")]
    pub company: Option<String>,
    /// Who issues it.
    #[arg(long, value_name = "NAME")]
    pub author: Option<String>,
    /// Date of issue, printed as it is given.
    #[arg(long, value_name = "DATE")]
    pub date: Option<String>,
    /// Number of the drawing or report.
    #[arg(long, value_name = "NUMBER")]
    pub number: Option<String>,
}

impl TitleArgs {
    /// The title block.
    pub fn titles(&self) -> Titles {
        Titles {
            company: self.company.clone(),
            author: self.author.clone(),
            date: self.date.clone(),
            number: self.number.clone(),
        }
    }
}

/// Draws a plan.
pub fn draw(args: &DrawArgs) -> Answer {
    let several = matches!(
        args.view,
        DrawingView::Plan | DrawingView::Load | DrawingView::Sweep | DrawingView::States | DrawingView::NetRate
    );
    let (document, plan) = match documents(&args.cell, args.plan.as_deref(), several) {
        Ok(both) => both,
        Err(answer) => return answer,
    };
    let mut wishes = Wishes {
        sku: args.sku.clone(),
        circuit: args.circuit.clone(),
        titles: args.titles.titles(),
        ..Wishes::default()
    };
    let file = input::name(args.plan.as_deref().unwrap_or(&args.cell));
    let what = match (args.view, args.format) {
        (DrawingView::Plan, DrawingFormat::Svg) => Print::DrawingSvg,
        (DrawingView::Plan, DrawingFormat::Dxf) => Print::DrawingDxf,
        (DrawingView::TimeDistance, DrawingFormat::Svg) => Print::TimeDistanceSvg,
        (DrawingView::Load, DrawingFormat::Svg) => Print::LoadSvg,
        (DrawingView::Rate, DrawingFormat::Svg) => Print::RateSvg,
        (DrawingView::Sweep, DrawingFormat::Svg) => Print::SweepSvg,
        (DrawingView::Front, DrawingFormat::Svg) => Print::FrontSvg,
        (DrawingView::Accumulation, DrawingFormat::Svg) => Print::AccumulationSvg,
        (DrawingView::States, DrawingFormat::Svg) => Print::StatesSvg,
        (DrawingView::NetRate, DrawingFormat::Svg) => Print::NetRateSvg,
        (_, DrawingFormat::Dxf) => {
            let finding = Finding::new(Code::CannotDraw, "", "a chart is no drawing in millimetres")
                .advise("Leave `--format dxf` out; charts are written as SVG.");
            return refuse(&file, None, vec![finding], false);
        }
    };
    let read = || {
        let (sweep, simulation) = (read_json(args.sweep.as_deref())?, read_json(args.simulation.as_deref())?);
        let (accumulation, front) = (read_json(args.accumulation.as_deref())?, read_json(args.front.as_deref())?);
        Ok(Beside { sweep, simulation, accumulation, front, ..Beside::default() })
    };
    wishes.beside = match read() {
        Ok(beside) => beside,
        Err(answer) => return answer,
    };
    if what == Print::TimeDistanceSvg {
        let given: Option<TraceDocument> = match read_json(args.trace.as_deref()) {
            Ok(given) => given,
            Err(answer) => return answer,
        };
        match given.map_or_else(|| usual_trace(&document, &plan, args.sku.as_deref(), args.duration), Ok) {
            Ok(trace) => wishes.trace = Some(trace),
            Err(findings) => return refuse(&file, None, findings, false),
        }
    }
    if what == Print::RateSvg {
        let text = serde_json::to_vec(&plan).unwrap_or_default();
        match carriers_document(&document, &text) {
            Ok(carriers) => wishes.carriers = Some(carriers),
            Err(findings) => return refuse(&file, None, findings, false),
        }
    }
    match print(what, &document, &plan, &wishes) {
        Ok(bytes) => give(bytes, args.out.as_deref(), &document, &args.cell),
        Err(finding) => refuse(&file, None, vec![finding], false),
    }
}

#[derive(Debug, clap::Args)]
pub struct CarriersArgs {
    /// Cell document in YAML or JSON; `-` reads standard input.
    pub cell: PathBuf,
    /// Plan document in JSON; `-` reads standard input.
    pub plan: PathBuf,
    /// Print the document as JSON.
    #[arg(long)]
    pub json: bool,
}

#[derive(Debug, clap::Args)]
pub struct TraceArgs {
    /// Cell document in YAML or JSON; `-` reads standard input.
    pub cell: PathBuf,
    /// Plan document in JSON; `-` reads standard input.
    pub plan: PathBuf,
    /// SKU whose run is traced; the first where it is left out.
    #[arg(long, value_name = "ID")]
    pub sku: Option<String>,
    /// How long; twice round the loop where it is left out.
    #[arg(long, value_name = "SECONDS")]
    pub duration: Option<f64>,
    /// A stretch of a simulation with what goes wrong, instead of the paced run: its seed.
    #[arg(long, value_name = "SEED")]
    pub bad_day: Option<u32>,
    /// Number of the replication of that simulation, from 0.
    #[arg(long, value_name = "NUMBER", default_value_t = BadDay::default().replication)]
    pub replication: u32,
    /// When the stretch of that simulation begins.
    #[arg(long, value_name = "SECONDS", default_value_t = BadDay::default().from_s)]
    pub from: f64,
}

/// Where every carrier of a plan is over a stretch of the paced run, as JSON.
pub fn trace(args: &TraceArgs) -> Answer {
    let document = match cell(&args.cell) {
        Ok(document) => document,
        Err(refused) => return refuse(&input::name(&args.cell), None, refused, true),
    };
    let read = input::read(&args.plan, MAX_PLAN_BYTES).map_err(|finding| vec![finding]);
    let day =
        args.bad_day.map(|seed| BadDay { seed, replication: args.replication, from_s: args.from, ..BadDay::default() });
    match read.and_then(|bytes| trace_day(&document, &bytes, args.sku.as_deref(), args.duration, day)) {
        Ok(trace) => Answer { out: json(&trace), err: findings(&input::name(&args.cell), &document.warnings), exit: 0 },
        Err(refused) => refuse(&input::name(&args.plan), None, refused, true),
    }
}

/// Rates of a plan's loop with other numbers of carriers.
pub fn carriers(args: &CarriersArgs) -> Answer {
    let document = match cell(&args.cell) {
        Ok(document) => document,
        Err(refused) => return refuse(&input::name(&args.cell), None, refused, args.json),
    };
    let read = input::read(&args.plan, MAX_PLAN_BYTES).map_err(|finding| vec![finding]);
    match read.and_then(|bytes| carriers_document(&document, &bytes)) {
        Ok(rates) => {
            let out = if args.json { json(&rates) } else { carriers_text(&rates) };
            Answer { out, err: findings(&input::name(&args.cell), &document.warnings), exit: 0 }
        }
        Err(refused) => refuse(&input::name(&args.plan), None, refused, args.json),
    }
}

/// A document in JSON, where a file is named.
pub fn read_json<T: serde::de::DeserializeOwned>(file: Option<&Path>) -> Result<Option<T>, Answer> {
    let Some(file) = file else { return Ok(None) };
    let read = input::read(file, MAX_PLAN_BYTES).and_then(|bytes| {
        serde_json::from_slice(&bytes)
            .map(Some)
            .map_err(|error| Finding::new(Code::CannotDraw, "", format!("the document cannot be read: {error}")))
    });
    read.map_err(|finding| refuse(&input::name(file), None, vec![finding], false))
}

/// The cell and its plan, read, or planned with the usual limit; of `several` circuits where that is allowed.
pub fn documents(
    cell_file: &Path,
    plan_file: Option<&Path>,
    several: bool,
) -> Result<(Document, PlanDocument), Answer> {
    const LIMIT: Duration = Duration::from_secs(10);
    let read = if several { any_cell(cell_file) } else { cell(cell_file) };
    let document = read.map_err(|refused| refuse(&input::name(cell_file), None, refused, false))?;
    let Some(plan_file) = plan_file else {
        return match plan_document(&document, LIMIT, &AtomicBool::new(false)) {
            PlanAnswer::Answer(plan) => Ok((document, *plan)),
            PlanAnswer::Fault(finding) => Err(refuse(&input::name(cell_file), None, vec![*finding], false)),
        };
    };
    let read = input::read(plan_file, MAX_PLAN_BYTES).and_then(|bytes| read_plan(&bytes));
    match read {
        Ok(plan) => Ok((document, plan)),
        Err(finding) => Err(refuse(&input::name(plan_file), None, vec![finding], false)),
    }
}

/// Writes what was made to a file, or to standard output where it is text.
pub fn give(bytes: Vec<u8>, out: Option<&Path>, document: &Document, cell: &Path) -> Answer {
    let err = findings(&input::name(cell), &document.warnings);
    let Some(out) = out else {
        return match String::from_utf8(bytes) {
            Ok(out) => Answer { out, err, exit: 0 },
            Err(_) => {
                let finding =
                    Finding::new(Code::File, "", "this format is no text").advise("Name a file with `--out`.");
                refuse("standard output", None, vec![finding], false)
            }
        };
    };
    match std::fs::write(out, bytes) {
        Ok(()) => Answer { out: String::new(), err, exit: 0 },
        Err(error) => {
            let finding = Finding::new(Code::File, "", format!("{} cannot be written: {error}", out.display()));
            refuse(&out.display().to_string(), None, vec![finding], false)
        }
    }
}
