//! The commands that draw and report.

use crate::commands::{cell, refuse};
use crate::input;
use crate::output::{Answer, findings};
use loopwright_api::draw::{Titles, read_plan};
use loopwright_api::judge::MAX_PLAN_BYTES;
use loopwright_api::print::{Print, Wishes, print};
use loopwright_api::wire::plan::PlanDocument;
use loopwright_api::{Code, Document, Finding, PlanAnswer, plan_document};
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

#[derive(Debug, clap::Args)]
pub struct DrawArgs {
    /// Cell document in YAML or JSON; `-` reads standard input.
    pub cell: PathBuf,
    /// Plan document in JSON; without it the cell is planned first.
    pub plan: Option<PathBuf>,
    /// SKU whose carriers, batches and slots are drawn; the first where it is left out.
    #[arg(long, value_name = "ID")]
    pub sku: Option<String>,
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
    let (document, plan) = match documents(&args.cell, args.plan.as_deref()) {
        Ok(both) => both,
        Err(answer) => return answer,
    };
    let wishes = Wishes { sku: args.sku.clone(), titles: args.titles.titles() };
    let what = match args.format {
        DrawingFormat::Svg => Print::DrawingSvg,
        DrawingFormat::Dxf => Print::DrawingDxf,
    };
    match print(what, &document.wire, &plan, &wishes) {
        Ok(bytes) => give(bytes, args.out.as_deref(), &document, &args.cell),
        Err(finding) => refuse(&input::name(args.plan.as_deref().unwrap_or(&args.cell)), None, vec![finding], false),
    }
}

/// The cell and its plan, read, or planned with the usual limit.
pub fn documents(cell_file: &Path, plan_file: Option<&Path>) -> Result<(Document, PlanDocument), Answer> {
    const LIMIT: Duration = Duration::from_secs(10);
    let document = cell(cell_file).map_err(|refused| refuse(&input::name(cell_file), None, refused, false))?;
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
