//! Every cell in `examples/`, found by walking the folder: its golden plan, its proofs, its verdict; and facts of the trade.

use loopwright_api::read_cell;
use loopwright_solver::option::Mode;
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::Command;

pub fn cells() -> Vec<PathBuf> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("examples");
    let mut all: Vec<PathBuf> = std::fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
    all.retain(|p| {
        let name = p.file_name().unwrap().to_string_lossy();
        (name.ends_with(".yaml") || name.ends_with(".json")) && !name.ends_with(".plan.json")
    });
    all.sort();
    assert!(all.len() >= 5, "{all:?}");
    all
}

pub fn golden(cell: &Path) -> PathBuf {
    cell.with_extension("plan.json")
}

fn planned(cell: &Path) -> String {
    let run = Command::new(env!("CARGO_BIN_EXE_loopwright"))
        .args(["plan", "--json", "--time-limit", "120"])
        .arg(cell)
        .output()
        .unwrap();
    assert!(matches!(run.status.code(), Some(0 | 1)), "{}: {}", cell.display(), String::from_utf8_lossy(&run.stderr));
    String::from_utf8(run.stdout).unwrap()
}

/// `LOOPWRIGHT_BLESS=1 cargo test examples` writes the golden plans anew.
#[test]
fn golden_plans_are_what_the_planner_says() {
    let bless = std::env::var_os("LOOPWRIGHT_BLESS").is_some();
    let mut wrong = Vec::new();
    for cell in cells() {
        let now = planned(&cell);
        if bless {
            std::fs::write(golden(&cell), &now).unwrap();
        }
        let then = std::fs::read_to_string(golden(&cell)).unwrap_or_default();
        if now != then {
            wrong.push(cell.display().to_string());
        }
    }
    assert!(
        wrong.is_empty(),
        "{wrong:?} differ from their golden plans; `LOOPWRIGHT_BLESS=1 cargo test examples` refreshes them"
    );
}

#[test]
fn each_is_proven_or_says_why_not() {
    let (mut plans, mut impossible) = (0, 0);
    for cell in cells() {
        let plan: Value = serde_json::from_str(&std::fs::read_to_string(golden(&cell)).unwrap()).unwrap();
        let name = cell.display();
        match plan["status"].as_str() {
            Some("planned") => {
                plans += 1;
                assert_eq!(plan["gap"], 0.0, "{name}");
                for what in ["footprint", "carriers"] {
                    assert_eq!(plan["proof"][what]["proven"], true, "{name}: {what}");
                }
                // A price that may not be the least is told of at the top of the example, and only there.
                let told =
                    std::fs::read_to_string(&cell).unwrap().contains("# The price is not proven to be the least");
                assert_eq!(plan["proof"]["price"]["proven"], !told, "{name}: price");
                let run =
                    Command::new(env!("CARGO_BIN_EXE_loopwright")).arg("judge").arg(&cell).arg(golden(&cell)).output();
                assert_eq!(run.unwrap().status.code(), Some(0), "{name}: the judge finds something");
            }
            Some("impossible") => {
                impossible += 1;
                let conflict = &plan["conflict"];
                assert!(conflict["requirements"].as_array().is_some_and(|r| !r.is_empty()), "{name}: no conflict");
                assert_eq!(conflict["minimal"], true, "{name}");
            }
            other => panic!("{name}: {other:?}"),
        }
    }
    assert!(plans >= 4 && impossible >= 1);
}

/// About 50 cases a minute of tray or wraparound work is reached with two cases loaded at a stop, where one at a stop is
/// not enough (common practice, no source).
#[test]
fn two_at_a_stop_where_one_is_not_enough() {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("examples/batch-trade.yaml");
    let document = read_cell(&std::fs::read(path).unwrap()).unwrap();
    let cell = &document.cell;
    let load = cell.parts().stations.iter().find(|s| s.id == "load").expect("a load");
    let capacity = |heads: u32| {
        let options = load.options(cell.rides(), 1.0);
        let option = options.iter().find(|o| o.mode == Mode::Intermittent && o.heads == heads).unwrap();
        option.skus.iter().map(|s| s.capacity.as_per_minute()).fold(f64::INFINITY, f64::min)
    };
    assert!(capacity(1) < 50.0 && capacity(2) >= 50.0, "{} and {}", capacity(1), capacity(2));
}

/// 160 packs a minute stacked 6, 12 or 15 high are 26.7, 13.3 or 10.7 stacks a minute; with one 6-high stack a case, a limit
/// of 24 cases a minute is 144 packs a minute (common practice, no source).
#[test]
fn a_stream_of_packs() {
    let cases = |packs: f64, high: u32| {
        let text = format!(
            "format: 1\nname: stream\nskus: [{{id: a, net_rate: {{products_per_min: {packs}}}, products_per_stack: {high}}}]\n\
             circuits: [{{id: c, carries: case, carrier: {{length_mm: 100, max_speed_m_s: 1, max_accel_m_s2: 5}}, \
             track: {{module_mm: 500, width_mm: 200, forms: [{{id: f, plane: flat, radius_mm: 300}}]}}, order: [s]}}]\n\
             stations: [{{id: s, intermittent: {{base_s: 1}}}}]\n"
        );
        read_cell(text.as_bytes()).unwrap().cell.parts().skus[0].case_rate.as_per_minute()
    };
    for (high, stacks) in [(6, 26.7), (12, 13.3), (15, 10.7)] {
        assert!((cases(160.0, high) - stacks).abs() < 0.05, "{high} high: {}", cases(160.0, high));
    }
    assert!((cases(144.0, 6) - 24.0).abs() < 1e-9);
}
