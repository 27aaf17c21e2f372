//! Times of drawings, workbook and report: `cargo bench --bench print`.

use criterion::{Criterion, criterion_group, criterion_main};
use loopwright_api::draw::read_plan;
use loopwright_api::print::{Print, Wishes, print};
use loopwright_api::report::alternatives::Beside;
use std::path::Path;

fn prints(criterion: &mut Criterion) {
    for name in ["wraparound-glue", "fifty-skus"] {
        let file = |ending: &str| Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("examples/{name}{ending}"));
        let read = |ending: &str| std::fs::read(file(ending)).unwrap_or_default();
        let (Ok(document), Ok(plan)) = (loopwright_api::read_cell(&read(".yaml")), read_plan(&read(".plan.json")))
        else {
            continue;
        };
        // As the command line prints it: with the carriers over time, and their rates with other numbers of them.
        let trace = loopwright_api::usual_trace(&document, &plan, None, None).ok();
        let carriers = loopwright_api::carriers_document(&document, &read(".plan.json")).ok();
        // And with every change from SKU to SKU.
        let (limit, never) = (std::time::Duration::from_secs(5), std::sync::atomic::AtomicBool::new(false));
        let changes = loopwright_api::changeover(&document, Some(&read(".plan.json")), None, limit, &never).ok();
        let beside = Beside { changeover: changes.and_then(|answer| answer.changeover), ..Beside::default() };
        let wishes = Wishes { trace, carriers, beside, ..Wishes::default() };
        for (what, called, _) in Print::ALL {
            // Their documents take seconds to make; the charts are of the size of the others.
            if matches!(what, Print::SweepSvg | Print::StatesSvg | Print::NetRateSvg) {
                continue;
            }
            assert!(print(*what, &document, &plan, &wishes).is_ok(), "{called}");
            criterion.bench_function(&format!("{called} of {name}"), |b| {
                b.iter(|| print(*what, &document, &plan, &wishes));
            });
        }
    }
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(20).measurement_time(std::time::Duration::from_secs(2));
    targets = prints
}
criterion_main!(benches);
