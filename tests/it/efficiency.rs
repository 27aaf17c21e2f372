//! Variants compared by what they make when they are simulated: against the simulation of each plan by itself.

use crate::examples::golden;
use loopwright_api::alternatives::{Doing, Nobody, Report, changed, compare, parse_change};
use loopwright_api::wire::alternatives::{CompareDocument, Ended, Variant};
use loopwright_api::wire::simulation::SimulationRun;
use loopwright_api::{Document, PlanAnswer, plan_document, read_cell, simulate};
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

static NEVER: AtomicBool = AtomicBool::new(false);
const LIMIT: Duration = Duration::from_secs(300);

fn example() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/short-changes.yaml")
}

fn document() -> Document {
    read_cell(&std::fs::read(example()).unwrap()).unwrap()
}

fn variant(name: &str, changes: &[&str]) -> Variant {
    Variant { name: name.to_owned(), changes: changes.iter().map(|c| parse_change(c).unwrap()).collect() }
}

fn variants() -> [Variant; 4] {
    [
        variant("fails more", &["stations/fill/failures/mean_time_between_s*0.5"]),
        variant("never fails", &["stations/*/failures="]),
        variant("slower", &["rate*0.8"]),
        variant("no floor", &["requirements/floor={\"length_mm\": 2000, \"width_mm\": 2000}"]),
    ]
}

/// As many replications everywhere, so that pairs of them are all of them.
fn run() -> SimulationRun {
    SimulationRun {
        seed: 7,
        hours: 1.0,
        least_replications: 12,
        most_replications: 12,
        warm_up_s: Some(300.0),
        ..SimulationRun::default()
    }
}

fn compared(document: &Document, variants: &[Variant], run: Option<&SimulationRun>) -> CompareDocument {
    compare(document, variants, false, run, &Doing::new(LIMIT, &NEVER, &Nobody)).unwrap()
}

/// The plan document of a cell, in JSON.
fn planned(document: &Document) -> Vec<u8> {
    match plan_document(document, LIMIT, &NEVER) {
        PlanAnswer::Answer(answer) => serde_json::to_vec(&answer).unwrap(),
        PlanAnswer::Fault(finding) => panic!("{finding:?}"),
    }
}

/// Holds each variant against planning and simulating it by itself; gives how many SKUs were held.
fn held(document: &Document, done: &CompareDocument, run: &SimulationRun) -> usize {
    let mut seen = 0;
    for of in &done.variants {
        let Some(simulated) = &of.simulated else { continue };
        let own = changed(document, &of.changes).unwrap();
        let found = simulate(&own, &planned(&own), run, &Doing::new(LIMIT, &NEVER, &Nobody)).unwrap();
        assert!(!found.stopped && simulated.complete && simulated.skus.len() == found.skus.len(), "{}", of.name);
        for (a, b) in simulated.skus.iter().zip(&found.skus) {
            let of_a = (&a.id, a.net_rate_per_min, a.efficiency, a.undisturbed_rate_per_min, a.replications, a.reached);
            let of_b = (&b.id, b.net_rate_per_min, b.efficiency, b.undisturbed_rate_per_min, b.replications, b.reached);
            assert_eq!(of_a, of_b, "{}", of.name);
            seen += 1;
        }
        let least = found.skus.iter().map(|sku| sku.efficiency.mean).fold(f64::INFINITY, f64::min);
        assert_eq!(simulated.least().unwrap().1.efficiency.mean, least, "{}", of.name);
    }
    seen
}

#[test]
fn each_variant_makes_what_its_plan_makes() {
    let document = document();
    let done = compared(&document, &variants(), Some(&run()));
    assert_eq!(held(&document, &done, &run()), 4 * document.wire.skus.len());
    let of = |at: usize| done.variants[at].simulated.as_ref().unwrap();
    // The same plan fails more often: every SKU makes less, and surely so by pairs of the same luck.
    assert_eq!(done.variants[0].plan, done.variants[1].plan);
    for (a, b) in of(0).skus.iter().zip(&of(1).skus) {
        assert!(b.efficiency.mean < a.efficiency.mean - 0.005, "{a:?} {b:?}");
        assert!(b.net_rate_per_min.mean < a.net_rate_per_min.mean && b.efficiency.half_width > 0.0, "{a:?} {b:?}");
    }
    let apart = |i: u32, j: u32| done.differences.iter().find(|d| (d.of, d.than) == (i, j)).unwrap();
    let more = apart(1, 0);
    let gain = more.efficiency.as_ref().unwrap();
    assert_eq!(gain.sku, of(0).least_sku);
    let mean = |at: usize| of(at).skus.iter().find(|sku| sku.id == gain.sku).unwrap().efficiency.mean;
    assert!((gain.gain.mean - (mean(1) - mean(0))).abs() < 1e-12 && gain.gain.mean + gain.gain.half_width < 0.0);
    // Common luck: the pairs say more than two intervals beside one another.
    let width = |at: usize| of(at).skus.iter().find(|sku| sku.id == gain.sku).unwrap().efficiency.half_width;
    assert!(gain.gain.half_width < width(0).hypot(width(1)), "{gain:?}");
    assert!(more.says.contains("points lower") && more.says.contains(&gain.sku), "{}", more.says);
    // Nothing goes wrong: exact, and said.
    assert!(of(0).by_chance && !of(2).by_chance);
    for sku in &of(2).skus {
        assert_eq!((sku.efficiency.mean, sku.efficiency.half_width, sku.replications), (1.0, 0.0, 1));
        assert_eq!(sku.net_rate_per_min.mean, sku.undisturbed_rate_per_min);
    }
    let (calm, mean) = (apart(2, 0).efficiency.as_ref().unwrap(), of(0).least().unwrap().1.efficiency);
    assert!((calm.gain.mean - (1.0 - mean.mean)).abs() < 1e-12);
    assert!((calm.gain.half_width - mean.half_width).abs() < 1e-12);
    let told = done.simulated.as_ref().unwrap();
    assert!(!told.stopped && told.run == run());
    assert!(told.notes.iter().any(|note| note == "Nothing goes wrong in: never fails."), "{:?}", told.notes);
    // Without a plan there is nothing to simulate.
    assert_eq!(done.variants[4].plan.status, Ended::Impossible);
    assert!(done.variants[4].simulated.is_none());
    assert!(done.differences.iter().all(|d| d.of != 4 && d.efficiency.is_some()));
}

/// What was there before is as it was, byte for byte; and only what simulating adds is added.
#[test]
fn without_simulating_the_answer_is_as_before() {
    let document = document();
    let (plain, full) = (compared(&document, &variants(), None), compared(&document, &variants(), Some(&run())));
    let text = serde_json::to_string_pretty(&plain).unwrap();
    assert!(!text.contains("simulated") && !text.contains("efficiency"), "{text}");
    let mut full = serde_json::to_value(&full).unwrap();
    assert!(full.as_object_mut().unwrap().remove("simulated").is_some());
    for variant in full["variants"].as_array_mut().unwrap() {
        variant.as_object_mut().unwrap().remove("simulated");
    }
    for difference in full["differences"].as_array_mut().unwrap() {
        assert!(difference.as_object_mut().unwrap().remove("efficiency").is_some());
        let says = difference["says"].as_str().unwrap().split("; simulated,").next().unwrap().to_owned();
        difference["says"] = says.into();
    }
    assert_eq!(full, serde_json::to_value(&plain).unwrap());
}

/// An efficiency that is worked out for each plan is the one with which it is simulated; nothing is left to chance in a cell
/// without stops, which is said.
#[test]
fn efficiency_worked_out_and_a_cell_without_stops() {
    let text = std::fs::read_to_string(example()).unwrap();
    let reach =
        "requirements: { reach_net_rate: { hours: 1, most_replications: 12, half_width: 0.05 }, efficiency: 0.95,";
    let reach = read_cell(text.replace("requirements: { efficiency: 0.88,", reach).as_bytes()).unwrap();
    let short = SimulationRun { sku: Some("green-80".to_owned()), ..run() };
    let done = compared(&reach, &[variant("slower", &["rate*0.9"])], Some(&short));
    assert_eq!(held(&reach, &done, &short), 2);

    let tea = read_cell(super::cells::TEA.as_bytes()).unwrap();
    for paced in [false, true] {
        let paced = SimulationRun { paced, ..run() };
        let done = compared(&tea, &[variant("slower", &["rate*0.9"])], Some(&paced));
        assert_eq!(held(&tea, &done, &paced), 4);
        let told = done.simulated.unwrap();
        assert!(told.notes.iter().any(|note| note.starts_with("Nothing goes wrong in the document")), "{told:?}");
    }
}

/// Hears all that is told, and cancels from so many parts on.
struct Heard {
    told: Mutex<Vec<(usize, usize)>>,
    cancel: AtomicBool,
    from: usize,
}

impl Report for Heard {
    fn done(&self, parts: usize, of: usize) {
        self.told.lock().unwrap().push((parts, of));
        if parts >= self.from {
            self.cancel.store(true, Ordering::Relaxed);
        }
    }
}

/// Planning and simulating both count, in one row; a cancel ends both, and what there is is given.
#[test]
fn progress_goes_on_while_simulating_and_a_cancel_ends_it() {
    let document = document();
    let heard = |from: usize, run: &SimulationRun| {
        let ear = Heard { told: Mutex::default(), cancel: AtomicBool::new(false), from };
        let doing = Doing::new(LIMIT, &ear.cancel, &ear);
        let done = compare(&document, &variants(), false, Some(run), &doing).unwrap();
        (ear.told.into_inner().unwrap(), done)
    };
    let (told, done) = heard(usize::MAX, &run());
    let skus = document.wire.skus.len();
    assert!(told.iter().all(|one| one.1 == 5 * (1 + skus)), "{told:?}");
    assert!(told.windows(2).all(|w| w[0].0 <= w[1].0), "{told:?}");
    assert!(told.iter().filter(|one| one.0 > 5).count() > 4 * (skus - 1), "{told:?}");
    assert_eq!(told.last(), Some(&(5 * (1 + skus), 5 * (1 + skus))));
    assert!(!done.simulated.unwrap().stopped);
    // In the middle of simulating: all is planned, and not all simulated.
    let (_, done) = heard(5 + 2 * skus, &run());
    assert!(done.variants.iter().take(4).all(|of| of.plan.status == Ended::Planned));
    let told = done.simulated.unwrap();
    assert!(told.stopped && told.notes.last().unwrap().contains("ended before"), "{told:?}");
    let whole: Vec<bool> =
        done.variants.iter().take(4).map(|of| of.simulated.as_ref().is_some_and(|s| s.complete)).collect();
    assert!(whole[0] && whole.contains(&false), "{whole:?}");
    // While planning: nothing is simulated any more.
    let (_, done) = heard(1, &run());
    assert!(done.simulated.unwrap().stopped && done.variants.iter().all(|of| of.simulated.is_none()));
}

fn program(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_loopwright")).args(arguments).output().unwrap()
}

/// The printed page, the report and the workbook have the column when plans were simulated, and only then.
#[test]
fn the_column_in_print() {
    let folder = std::env::temp_dir().join(format!("loopwright-efficiency-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let cell = example();
    let cell = cell.to_str().unwrap();
    let own =
        ["compare", cell, "--only-own", "--variant", "fails more: stations/fill/failures/mean_time_between_s*0.5"];
    let asked = |more: &[&str]| {
        let done = program(&[&own[..], more].concat());
        assert_eq!(done.status.code(), Some(0), "{}", String::from_utf8_lossy(&done.stderr));
        String::from_utf8(done.stdout).unwrap()
    };
    let short = ["--simulate", "--hours", "0.5", "--least", "4", "--most", "4", "--seed", "3"];
    let page = asked(&short);
    let document: Value = serde_json::from_str(&asked(&[&short[..], &["--json"]].concat())).unwrap();
    assert_eq!(document["simulated"]["run"]["seed"], 3);
    for variant in document["variants"].as_array().unwrap() {
        let simulated = &variant["simulated"];
        let least = simulated["skus"].as_array().unwrap().iter().find(|sku| sku["id"] == simulated["least_sku"]);
        let share = &least.unwrap()["efficiency"];
        let shown = |key: &str| format!("{:.1}", 100.0 * share[key].as_f64().unwrap());
        let shown =
            format!("{} +- {}  {}", shown("mean"), shown("half_width"), simulated["least_sku"].as_str().unwrap());
        assert!(page.contains(&shown), "{shown}\n{page}");
    }
    assert!(page.contains("efficiency %") && page.contains("Every plan is simulated with what goes wrong"), "{page}");
    assert!(page.lines().all(|line| line.chars().count() <= 100), "{page}");
    let plain = asked(&[]);
    assert!(!plain.contains("efficiency") && !plain.contains("simulated"), "{plain}");

    let file = |name: &str, text: &str| {
        let path = folder.join(name);
        std::fs::write(&path, text).unwrap();
        path.to_str().unwrap().to_owned()
    };
    let (with, without) = (file("with.json", &document.to_string()), file("without.json", &asked(&["--json"])));
    let plan = golden(Path::new(cell));
    let report = |compare: &str, more: &[&str]| {
        let done = program(&[&["report", cell, plan.to_str().unwrap(), "--compare", compare], more].concat());
        assert_eq!(done.status.code(), Some(0), "{}", String::from_utf8_lossy(&done.stderr));
        done.stdout
    };
    let html = String::from_utf8(report(&with, &[])).unwrap();
    let mut seen = 0;
    for part in html.split("<data value=\"").skip(1).filter(|part| part.contains("/simulated/skus/")) {
        let inside = |key: &str| part.split(&format!("{key}=\"")).nth(1).unwrap().split('"').next().unwrap();
        let there = document.pointer(inside("data-key")).and_then(Value::as_f64).unwrap();
        assert_eq!((inside("data-of"), part.split('"').next().unwrap().parse()), ("compare", Ok(there)));
        seen += 1;
    }
    assert_eq!(seen, 4);
    assert!(html.contains("meet the same luck"));
    let html = String::from_utf8(report(&without, &[])).unwrap();
    assert!(html.contains("fails more") && !html.contains("/simulated/"));

    let sheets = |compare: &str| {
        let path = folder.join("book.xlsx");
        report(compare, &["--format", "xlsx", "--out", path.to_str().unwrap()]);
        super::workbook::sheets(&path)
    };
    let (book, plain) = (sheets(&with), sheets(&without));
    assert!(!plain.contains_key("Variants simulated") && plain["Variants"][0].len() == 9);
    for (row, variant) in book["Variants"][1..].iter().zip(document["variants"].as_array().unwrap()) {
        assert_eq!(
            (row[0].as_str(), row[11].as_str()),
            (variant["name"].as_str().unwrap(), variant["simulated"]["least_sku"].as_str().unwrap())
        );
    }
    let skus = document["variants"].as_array().unwrap().iter().flat_map(|v| v["simulated"]["skus"].as_array().unwrap());
    let mut rows = book["Variants simulated"][1..].iter();
    for sku in skus {
        let row = rows.next().unwrap();
        assert_eq!(row[1], sku["id"].as_str().unwrap());
        let there = document.pointer(&row[8]).unwrap();
        assert_eq!(there, sku);
        for (column, pointer) in [(2, "/net_rate_per_min/mean"), (5, "/efficiency/mean"), (6, "/efficiency/half_width")]
        {
            let written: f64 = row[column].parse().unwrap();
            assert!((written - sku.pointer(pointer).unwrap().as_f64().unwrap()).abs() < 1e-12, "{row:?}");
        }
    }
    assert!(rows.any(|row| row.iter().any(|cell| cell.contains("meet the same luck"))));
    std::fs::remove_dir_all(folder).unwrap();
}

#[test]
fn what_is_out_of_range_is_refused() {
    let cell = example();
    let refused = |arguments: &[&str], says: &[&str]| {
        let done = program(&[&["compare", cell.to_str().unwrap()], arguments].concat());
        let err = String::from_utf8_lossy(&done.stderr);
        assert_eq!(done.status.code(), Some(2), "{err}");
        assert!(says.iter().all(|part| err.contains(part)), "{err}");
    };
    refused(&["--simulate", "--hours", "0"], &["LW-OUT-OF-RANGE", "/simulate/hours"]);
    refused(&["--simulate", "--most", "5"], &["LW-OUT-OF-RANGE", "/simulate/most_replications"]);
    refused(
        &["--simulate", "--half-width", "2", "--least", "1"],
        &["/simulate/half_width", "/simulate/least_replications"],
    );
    refused(&["--hours", "2"], &["--simulate"]);
}
