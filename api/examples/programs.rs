//! The mixed-integer programs that the search would solve first, for a check by another solver:
//! `cargo run --release -p loopwright-api --example programs -- FOLDER MOST SECONDS CELL...`.
//!
//! Writes at most MOST programs of each cell document into FOLDER in the plain-text LP format, solves each with our own
//! solver within SECONDS, and prints a JSON line for each: `file`, `columns`, `status` (`optimal`, `infeasible` or
//! `unknown`), `objective` and `seconds`.

use loopwright_api::read_cell;
use loopwright_solver::milp::{Answer, Program};
use loopwright_solver::study::first_programs;
use serde_json::json;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::Instant;

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [folder, most, seconds, cells @ ..] = &words[..] else { return usage() };
    let (Ok(most), Ok(seconds)) = (most.parse(), seconds.parse()) else { return usage() };
    for cell in cells {
        if let Err(said) = write_out(Path::new(folder), most, seconds, Path::new(cell)) {
            eprintln!("{cell}: {said}");
            return ExitCode::FAILURE;
        }
    }
    ExitCode::SUCCESS
}

fn usage() -> ExitCode {
    eprintln!("usage: programs FOLDER MOST SECONDS CELL...");
    ExitCode::from(2)
}

fn write_out(folder: &Path, most: usize, seconds: f64, path: &Path) -> Result<(), String> {
    let bytes = std::fs::read(path).map_err(|error| error.to_string())?;
    let document = read_cell(&bytes)
        .map_err(|findings| findings.iter().map(ToString::to_string).collect::<Vec<String>>().join("\n"))?;
    let stem = path.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
    for (i, program) in first_programs(&document.cell, most).iter().enumerate() {
        let file: PathBuf = folder.join(format!("{stem}-{i}.lp"));
        std::fs::write(&file, program.to_lp_text()).map_err(|error| error.to_string())?;
        println!("{}", answer(program, seconds, &file));
    }
    Ok(())
}

fn answer(program: &Program, seconds: f64, file: &Path) -> serde_json::Value {
    let began = Instant::now();
    let (status, objective) = match program.solve(seconds) {
        Answer::Optimal { value, .. } => ("optimal", Some(value)),
        Answer::Infeasible => ("infeasible", None),
        Answer::Unknown => ("unknown", None),
    };
    json!({
        "file": file.display().to_string(),
        "columns": program.columns.len(),
        "status": status,
        "objective": objective,
        "seconds": began.elapsed().as_secs_f64(),
    })
}
