//! How long the exact rate takes: all 48 SKUs of a planned cell of ten stations. `cargo bench --bench rate`.

#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

use criterion::{Criterion, criterion_group, criterion_main};
use loopwright_api::read_cell;
use loopwright_solver::ring::Ring;
use loopwright_solver::rules::verdicts;
use loopwright_solver::sim::{Watch, run};
use loopwright_solver::study::{Clock, Outcome, study};
use loopwright_solver::throughput::rate;
use std::hint::black_box;
use std::path::Path;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

fn exact_rate(criterion: &mut Criterion) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("benches/cells/s10-k48-h8-flat-1.json");
    let document = read_cell(&std::fs::read(path).unwrap()).unwrap_or_else(|found| panic!("{found:#?}"));
    let cell = &document.cell;
    let cancel = AtomicBool::new(false);
    let Outcome::Planned(found) = study(cell, &Clock::new(Duration::from_secs(60), &cancel)) else { panic!("no plan") };
    let numbers = found.plan.numbers(cell).unwrap();
    let rings: Vec<Ring> = (0..cell.rides().len()).map(|k| numbers.ring(k, found.plan.carriers)).collect();
    println!("{} SKUs, {} stations, {} carriers", rings.len(), cell.len(), found.plan.carriers);
    let mut group = criterion.benchmark_group("rate");
    group.sample_size(10).measurement_time(Duration::from_secs(3)).warm_up_time(Duration::from_millis(500));
    group.bench_function("exact, all SKUs", |bencher| {
        bencher.iter(|| rings.iter().for_each(|ring| drop(black_box(rate(black_box(ring))))));
    });
    group.bench_function("timed run of 2,000 starts at most, all SKUs", |bencher| {
        let watch = Watch { most_starts: 2_000, ..Watch::default() };
        bencher.iter(|| rings.iter().for_each(|ring| drop(black_box(run(black_box(ring), &watch)))));
    });
    group.bench_function("every rule of the plan", |bencher| {
        bencher.iter(|| black_box(verdicts(black_box(cell), black_box(&found.plan))));
    });
    group.finish();
}

criterion_group!(benches, exact_rate);
criterion_main!(benches);
