//! How long planning takes: every example, and the larger cells of `benches/cells` (made by
//! `tests/reference/larger_cells.py` and `coupled_cells.py`). `cargo bench --bench plan`; a part of a name as argument chooses.
//!
//! Each cell is planned once first, and a line says what came of it. What takes longer than two seconds is not repeated.

#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

use criterion::{Criterion, SamplingMode};
use loopwright_api::wire::plan::Answer;
use loopwright_api::{Document, PlanAnswer, plan_document, read_any_cell};
use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;
use std::time::{Duration, Instant};

/// As on the command line.
const LIMIT: Duration = Duration::from_secs(10);

/// Longer ones are run once.
const SHORT: Duration = Duration::from_secs(2);

/// Cell documents below a folder.
fn cells(folder: &Path, found: &mut Vec<PathBuf>) {
    let mut entries: Vec<PathBuf> = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    entries.sort();
    for path in entries {
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        if path.is_dir() {
            cells(&path, found);
        } else if !name.ends_with(".plan.json") && [".yaml", ".yml", ".json"].iter().any(|end| name.ends_with(end)) {
            found.push(path);
        }
    }
}

fn plan(document: &Document) -> PlanAnswer {
    plan_document(document, LIMIT, &AtomicBool::new(false))
}

fn said(answer: &PlanAnswer) -> String {
    let PlanAnswer::Answer(document) = answer else { return "a fault of the planner".to_owned() };
    match &document.answer {
        Answer::Planned(planned) => {
            let proof = &planned.proof;
            let open = [
                (!proof.footprint.proven).then(|| format!("gap {:.1} %", 100.0 * planned.gap)),
                (!proof.carriers.proven).then(|| "carriers not proven".to_owned()),
                (!proof.price.proven).then(|| "price not proven".to_owned()),
            ];
            let open: Vec<String> = open.into_iter().flatten().collect();
            let proof = if open.is_empty() { "all proven".to_owned() } else { open.join(", ") };
            let carriers: u32 = planned.circuits.iter().map(|circuit| circuit.carriers).sum();
            format!("{:.2} m², {carriers} carriers, {proof}", planned.footprint.area_m2)
        }
        Answer::Impossible(_) => "impossible, with the reasons".to_owned(),
        Answer::Stopped(_) => "stopped without a plan".to_owned(),
    }
}

fn main() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut paths = Vec::new();
    cells(&root.join("examples"), &mut paths);
    cells(&root.join("benches/cells"), &mut paths);
    assert!(!paths.is_empty(), "no cells");
    let wanted: Option<String> = std::env::args().skip(1).find(|word| !word.starts_with('-'));
    let mut criterion = Criterion::default().configure_from_args();
    let mut group = criterion.benchmark_group("plan");
    group.sample_size(10).sampling_mode(SamplingMode::Flat).warm_up_time(Duration::from_millis(200));
    for path in paths {
        let name = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        if wanted.as_ref().is_some_and(|wanted| !format!("plan/{name}").contains(wanted.as_str())) {
            continue;
        }
        let document =
            read_any_cell(&std::fs::read(&path).unwrap()).unwrap_or_else(|found| panic!("{name}: {found:#?}"));
        let began = Instant::now();
        let answer = plan(&document);
        let took = began.elapsed();
        println!("{name}: {} in {:.3} s", said(&answer), took.as_secs_f64());
        if took < SHORT {
            group.measurement_time((took * 14).clamp(Duration::from_millis(500), Duration::from_secs(10)));
            group.bench_function(&name, |bencher| bencher.iter(|| black_box(plan(black_box(&document)))));
        }
    }
    group.finish();
    criterion.final_summary();
}
