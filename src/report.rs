//! The command that reports.

use crate::commands::refuse;
use crate::draw::{TitleArgs, documents, give, read_json};
use crate::input;
use crate::output::{Answer, findings};
use loopwright_api::print::{Print, Wishes, logo, print, warnings};
use loopwright_api::read::MAX_BYTES;
use loopwright_api::report::alternatives::Beside;
use loopwright_api::report::basis::read_sources;
use loopwright_api::report::changes::changes_of;
use loopwright_api::wire::changeover::{ChangeoverAnswer, ChangeoverDocument};
use loopwright_api::{Finding, carriers_document, usual_trace};
use std::path::{Path, PathBuf};

/// How a report is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum ReportFormat {
    /// One HTML document that loads nothing and prints on A4.
    Html,
    /// The same on pages, the drawing on a sheet of its own; needs `--out`.
    #[cfg(feature = "pdf")]
    Pdf,
    /// A workbook to calculate with; needs `--out`.
    Xlsx,
}

#[derive(Debug, clap::Args)]
pub struct ReportArgs {
    /// Cell document in YAML or JSON; `-` reads standard input.
    pub cell: PathBuf,
    /// Plan document in JSON; without it the cell is planned first.
    pub plan: Option<PathBuf>,
    /// How the report is written.
    #[arg(long, value_enum, default_value = "html")]
    pub format: ReportFormat,
    /// SKU whose carriers, batches and slots are drawn; the first where it is left out.
    #[arg(long, value_name = "ID")]
    pub sku: Option<String>,
    /// PNG, JPEG or SVG picture for the cover.
    #[arg(long, value_name = "FILE")]
    pub logo: Option<PathBuf>,
    /// Where inputs come from: a mapping in YAML or JSON, from JSON pointers into the cell to texts. One that begins with
    /// `measured` or `assumed` says so.
    #[arg(long, value_name = "FILE")]
    pub sources: Option<PathBuf>,
    /// A document of `compare --json`: variants side by side.
    #[arg(long, value_name = "FILE")]
    pub compare: Option<PathBuf>,
    /// A document of `explain --json`: what would help.
    #[arg(long, value_name = "FILE")]
    pub explain: Option<PathBuf>,
    /// A document of `front --json`: a chart and a table of the plans that no other beats.
    #[arg(long, value_name = "FILE")]
    pub front: Option<PathBuf>,
    /// A document of `accumulate --json`: a chart of net rate against accumulation.
    #[arg(long, value_name = "FILE")]
    pub accumulation: Option<PathBuf>,
    /// A document of `sweep --json`: a chart of floor against the number that was swept.
    #[arg(long, value_name = "FILE")]
    pub sweep: Option<PathBuf>,
    /// A document of `changeover --json`: every change from SKU to SKU, the longest as bars, the order of the week.
    #[arg(long, value_name = "FILE")]
    pub changeover: Option<PathBuf>,
    /// A document of `simulate --json`: net rate, efficiency and what the stations do.
    #[arg(long, value_name = "FILE")]
    pub simulation: Option<PathBuf>,
    /// File to write; standard output where it is left out.
    #[arg(long, short, value_name = "FILE")]
    pub out: Option<PathBuf>,
    #[command(flatten)]
    pub titles: TitleArgs,
}

/// Reports a plan.
pub fn report(args: &ReportArgs) -> Answer {
    let (document, plan) = match documents(&args.cell, args.plan.as_deref(), true) {
        Ok(both) => both,
        Err(answer) => return answer,
    };
    let mut wishes = Wishes { sku: args.sku.clone(), titles: args.titles.titles(), ..Wishes::default() };
    if let Some(file) = &args.logo {
        match picture(file) {
            Ok(logo) => wishes.logo = Some(logo),
            Err(finding) => return refuse(&input::name(file), None, vec![finding], false),
        }
    }
    if let Some(file) = &args.sources {
        let read = input::read(file, MAX_BYTES).map_err(|finding| vec![finding]);
        match read.and_then(|bytes| read_sources(&bytes, &document)) {
            Ok(sources) => wishes.sources = sources,
            Err(findings) => return refuse(&input::name(file), None, findings, false),
        }
    }
    wishes.beside = match beside(args) {
        Ok(beside) => beside,
        Err(answer) => return answer,
    };
    // What the report cannot show without a plan's own numbers is left to the check of the plan, which says why.
    // Of several circuits neither is worked out.
    if let Ok(text) = serde_json::to_vec(&plan)
        && document.coupled.is_none()
    {
        wishes.carriers = carriers_document(&document, &text).ok();
        wishes.trace = usual_trace(&document, &plan, args.sku.as_deref(), None).ok();
    }
    let what = match args.format {
        ReportFormat::Html => Print::ReportHtml,
        #[cfg(feature = "pdf")]
        ReportFormat::Pdf => Print::ReportPdf,
        ReportFormat::Xlsx => Print::WorkbookXlsx,
    };
    match print(what, &document, &plan, &wishes) {
        Ok(bytes) => {
            let said = findings(&input::name(&args.cell), &warnings(what, &document, &plan, &wishes));
            let answer = give(bytes, args.out.as_deref(), &document, &args.cell);
            Answer { err: answer.err + &said, ..answer }
        }
        Err(finding) => refuse(&input::name(args.plan.as_deref().unwrap_or(&args.cell)), None, vec![finding], false),
    }
}

/// The documents that were made beside the plan.
fn beside(args: &ReportArgs) -> Result<Beside, Answer> {
    Ok(Beside {
        compare: read_json(args.compare.as_deref())?,
        explain: read_json(args.explain.as_deref())?,
        sweep: read_json(args.sweep.as_deref())?,
        accumulation: read_json(args.accumulation.as_deref())?,
        front: read_json(args.front.as_deref())?,
        changeover: changes(args)?,
        simulation: read_json(args.simulation.as_deref())?,
    })
}

/// The changes from SKU to SKU, where their document is named.
fn changes(args: &ReportArgs) -> Result<Option<ChangeoverDocument>, Answer> {
    let file = args.changeover.as_deref();
    let changes = read_json::<ChangeoverAnswer>(file)?.map(changes_of).transpose();
    changes.map_err(|finding| refuse(&input::name(file.unwrap_or(&args.cell)), None, vec![finding], false))
}

/// A picture as an address that a document can carry.
fn picture(file: &Path) -> Result<String, Finding> {
    use base64::Engine;
    const MOST: usize = 700_000;
    let bytes = input::read(file, MOST)?;
    let kind = match bytes.get(..3) {
        Some([0x89, b'P', b'N']) => "png",
        Some([0xff, 0xd8, 0xff]) => "jpeg",
        _ => "svg+xml",
    };
    logo(format!("data:image/{kind};base64,{}", base64::engine::general_purpose::STANDARD.encode(bytes)))
}
