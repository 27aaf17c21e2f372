//! The commands: read, ask the floor below, print.

use crate::args::{ChangePicture, ChangeoverArgs, CheckArgs, JudgeArgs, PlanArgs};
use crate::draw::give;
use crate::input;
use crate::output::{Answer, findings, json};
use loopwright_api::judge::MAX_PLAN_BYTES;
use loopwright_api::read::MAX_BYTES;
use loopwright_api::render::{changeover_text, judgement_text, plan_text};
use loopwright_api::report::changes::{Picture, changes_svg};
use loopwright_api::wire::findings::{FindingsDocument, FindingsStatus};
use loopwright_api::{Document, Finding, PlanAnswer, plan_document, read_any_cell, read_cell};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

/// Plans a cell.
pub fn plan(args: &PlanArgs) -> Answer {
    let file = input::name(&args.cell);
    let document = match any_cell(&args.cell) {
        Ok(document) => document,
        Err(refused) => return refuse(&file, None, refused, args.json),
    };
    let cancel = cancel_on_interrupt();
    let answer = plan_document(&document, Duration::from_secs_f64(args.time_limit), &cancel);
    let exit = answer.exit();
    match answer {
        PlanAnswer::Answer(plan) => Answer {
            out: if args.json { json(&plan) } else { plan_text(&plan) },
            err: findings(&file, &document.warnings),
            exit,
        },
        PlanAnswer::Fault(finding) => refuse(&file, Some(&document.wire.name), vec![*finding], args.json),
    }
}

/// Checks a cell document.
pub fn check(args: &CheckArgs) -> Answer {
    let file = input::name(&args.cell);
    match any_cell(&args.cell) {
        Ok(document) => {
            let err = findings(&file, &document.warnings);
            let out = if args.json {
                json(&FindingsDocument::new(FindingsStatus::Good, Some(document.wire.name), document.warnings))
            } else {
                let (stations, skus) = (document.stations(), document.cell.parts().skus.len());
                let circuits = match document.wire.circuits.len() {
                    1 => String::new(),
                    n => format!("{n} circuits, "),
                };
                format!("{file}: {} is in order: {circuits}{stations} stations, {skus} SKUs\n", document.wire.name)
            };
            Answer { out, err, exit: 0 }
        }
        Err(refused) => refuse(&file, None, refused, args.json),
    }
}

/// Judges a plan.
pub fn judge(args: &JudgeArgs) -> Answer {
    let (cell_file, plan_file) = (input::name(&args.cell), input::name(&args.plan));
    let document = match any_cell(&args.cell) {
        Ok(document) => document,
        Err(refused) => return refuse(&cell_file, None, refused, args.json),
    };
    let bytes = match input::read(&args.plan, MAX_PLAN_BYTES) {
        Ok(bytes) => bytes,
        Err(finding) => return refuse(&plan_file, None, vec![finding], args.json),
    };
    match loopwright_api::judge(&document, &bytes) {
        Ok(judgement) => Answer {
            out: if args.json { json(&judgement) } else { judgement_text(&judgement) },
            err: findings(&cell_file, &document.warnings),
            exit: judgement.exit(),
        },
        Err(refused) => refuse(&plan_file, None, refused, args.json),
    }
}

/// Works out the changes of a cell.
pub fn changeover(args: &ChangeoverArgs) -> Answer {
    let file = input::name(&args.cell);
    let document = match cell(&args.cell) {
        Ok(document) => document,
        Err(refused) => return refuse(&file, None, refused, args.json),
    };
    let plan = match args.plan.as_ref().map(|path| input::read(path, MAX_PLAN_BYTES)).transpose() {
        Ok(plan) => plan,
        Err(finding) => return refuse(&file, None, vec![finding], args.json),
    };
    let pair = args.from.as_deref().zip(args.to.as_deref());
    let limit = Duration::from_secs_f64(args.time_limit);
    let cancel = cancel_on_interrupt();
    let answer = match loopwright_api::changeover(&document, plan.as_deref(), pair, limit, &cancel) {
        Ok(answer) => answer,
        Err(refused) => return refuse(&file, Some(&document.wire.name), refused, args.json),
    };
    if let (Some(picture), Some(changeover)) = (args.picture, &answer.changeover) {
        let picture = match picture {
            ChangePicture::Matrix => Picture::Matrix,
            ChangePicture::Schedule => Picture::Schedule,
            ChangePicture::Order => Picture::Order,
        };
        return match changes_svg(changeover, picture, pair) {
            Ok(bytes) => give(bytes, args.out.as_deref(), &document, &args.cell),
            Err(finding) => refuse(&file, Some(&document.wire.name), vec![finding], false),
        };
    }
    let printed = match (&answer.changeover, &answer.plan) {
        (Some(changeover), _) => changeover_text(changeover, pair),
        (None, Some(plan)) => plan_text(plan),
        (None, None) => String::from("The plan document holds no plan to change over on.\n"),
    };
    let exit = u8::from(answer.changeover.is_none());
    let out = if args.json { json(&answer) } else { printed };
    match &args.out {
        Some(_) => Answer { exit, ..give(out.into_bytes(), args.out.as_deref(), &document, &args.cell) },
        None => Answer { out, err: findings(&file, &document.warnings), exit },
    }
}

pub(crate) fn cell(path: &Path) -> Result<Document, Vec<Finding>> {
    let bytes = input::read(path, MAX_BYTES).map_err(|finding| vec![finding])?;
    read_cell(&bytes)
}

/// As [`cell`], also of several circuits.
pub(crate) fn any_cell(path: &Path) -> Result<Document, Vec<Finding>> {
    let bytes = input::read(path, MAX_BYTES).map_err(|finding| vec![finding])?;
    read_any_cell(&bytes)
}

/// Findings about the document in `file`, and the exit code of the gravest.
pub(crate) fn refuse(file: &str, name: Option<&str>, refused: Vec<Finding>, as_json: bool) -> Answer {
    let exit = refused.iter().map(|f| f.code.entry().kind.exit).max().unwrap_or_default();
    let called = name.map_or_else(|| file.to_owned(), |name| format!("{file} ({name})"));
    let err = findings(&called, &refused);
    let out = if as_json {
        let status = FindingsStatus::of(&refused);
        json(&FindingsDocument::new(status, Some(called), refused))
    } else {
        String::new()
    };
    Answer { out, err, exit }
}

/// A flag that an interrupt sets; a second one ends the program at once.
pub fn cancel_on_interrupt() -> Arc<AtomicBool> {
    /// As shells count it: 128 and the number of the signal.
    const INTERRUPTED: i32 = 130;
    let cancel = Arc::new(AtomicBool::new(false));
    let flag = Arc::clone(&cancel);
    let set = ctrlc::set_handler(move || {
        if flag.swap(true, Ordering::Relaxed) {
            std::process::exit(INTERRUPTED);
        }
    });
    if let Err(error) = set {
        tracing::warn!(%error, "an interrupt will end the program without a plan");
    }
    cancel
}
