//! How long changing over takes for 50 SKUs on a finished plan: the matrix alone (goal 1 s), and the order (goal 5 s with a
//! gap below 2 %). `cargo bench --bench changeover`.

#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

use criterion::{Criterion, criterion_group, criterion_main};
use loopwright_api::read_cell;
use loopwright_solver::changeover::Changeover;
use loopwright_solver::sequence::{Costs, Shape, least_order};
use loopwright_solver::study::{Clock, Outcome, study};
use loopwright_solver::units::Micros;
use serde_json::{Value, json};
use std::hint::black_box;
use std::path::Path;
use std::sync::atomic::AtomicBool;
use std::time::{Duration, Instant};

/// The example of 50 SKUs, with tools on its first stations that follow three ways of grouping the SKUs.
fn cell() -> Value {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/fifty-skus.yaml");
    let document = read_cell(&std::fs::read(path).unwrap()).unwrap_or_else(|found| panic!("{found:#?}"));
    let mut cell = serde_json::to_value(&document.wire).unwrap();
    cell["changeover"] = json!({ "operators": 2, "limit_min": 20 });
    for (k, sku) in cell["skus"].as_array_mut().unwrap().iter_mut().enumerate() {
        sku["groups"] = json!({ "a": format!("{}", k % 7), "b": format!("{}", k * 3 % 5), "c": format!("{}", k % 4) });
    }
    for (i, group) in ["a", "b", "c"].into_iter().enumerate() {
        let minutes = 1.0 + 0.7 * i as f64;
        cell["stations"][i]["adjustments"] = json!([
            { "id": "tool", "follows": group, "by_hand": [
                { "id": "fetch", "minutes": 2, "stop": "outside" },
                { "id": "take-off", "minutes": minutes, "minutes_each": 0.4, "after": ["fetch"] },
                { "id": "put-on", "minutes": 0.5, "minutes_each": 0.6, "after": ["take-off"] },
                { "id": "trial", "minutes": 0.8, "people": 2, "after": ["put-on"] } ] },
            { "id": "guide", "follows": "extent_mm", "automatic": { "base_s": 2, "speed_mm_s": 15 } }
        ]);
    }
    cell
}

fn changing_over(criterion: &mut Criterion) {
    let document = read_cell(cell().to_string().as_bytes()).unwrap_or_else(|found| panic!("{found:#?}"));
    let cell = &document.cell;
    let cancel = AtomicBool::new(false);
    let Outcome::Planned(found) = study(cell, &Clock::new(Duration::from_secs(60), &cancel)) else { panic!("no plan") };
    let n = cell.parts().skus.len();
    let matrix = || -> Vec<Vec<Micros>> {
        let changeover = Changeover::of(cell, &found.plan).unwrap();
        (0..n).map(|i| (0..n).map(|j| changeover.total(i, j)).collect()).collect()
    };
    let start = Instant::now();
    let known = matrix();
    println!("{n} SKUs, {} carriers: matrix {:.3} s", found.plan.carriers, start.elapsed().as_secs_f64());
    let costs = Costs::new(n, |i, j| known[i][j].us());
    for shape in [Shape::Cyclic, Shape::Open] {
        let start = Instant::now();
        let order = least_order(&costs, &vec![1; n], shape, &Clock::new(Duration::from_secs(5), &cancel)).unwrap();
        let (taken, gap) = (start.elapsed().as_secs_f64(), 100.0 * order.gap());
        println!("{shape:?}: {:.1} min, gap {gap:.3} %, {taken:.3} s", order.cost as f64 / 60e6);
    }
    let mut group = criterion.benchmark_group("changeover");
    group.sample_size(10).measurement_time(Duration::from_secs(3)).warm_up_time(Duration::from_millis(500));
    group.bench_function("matrix of 50 SKUs", |bencher| bencher.iter(|| black_box(matrix())));
    group.finish();
}

criterion_group!(benches, changing_over);
criterion_main!(benches);
