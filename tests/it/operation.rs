//! Prints of a simulated plan: shares and intervals measured again in the charts, numbers of the report against the
//! simulation document, and simulations of other plans refused.

use crate::examples::golden;
use roxmltree::{Document, Node};
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// A folder of this test's own, and the example with failures, its plan and a short simulation of it.
fn simulated(name: &str) -> (PathBuf, PathBuf, Value) {
    let folder = std::env::temp_dir().join(format!("loopwright-{name}-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let cell = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/short-changes.yaml");
    let done = run(&["simulate", "CELL", "--json", "--most", "4", "--least", "4", "--hours", "1"], &cell);
    assert!(matches!(done.status.code(), Some(0 | 1)), "{}", String::from_utf8_lossy(&done.stderr));
    std::fs::write(folder.join("simulation.json"), &done.stdout).unwrap();
    let document: Value = serde_json::from_slice(&done.stdout).unwrap();
    assert_eq!(document["skus"].as_array().unwrap().len(), 8);
    (folder, cell, document)
}

/// Runs the program; `CELL` stands for the cell and its plan.
fn run(arguments: &[&str], cell: &Path) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_loopwright"));
    for argument in arguments {
        match *argument {
            "CELL" => command.arg(cell).arg(golden(cell)),
            other => command.arg(other),
        };
    }
    command.output().unwrap()
}

fn number(node: Node<'_, '_>, key: &str) -> f64 {
    node.attribute(key).unwrap_or_else(|| panic!("no {key}: {node:?}")).parse().unwrap()
}

fn class<'a>(chart: &'a Document<'_>, of: &'a str) -> impl Iterator<Item = Node<'a, 'a>> {
    chart.descendants().filter(move |n| n.attribute("class").is_some_and(|c| c.split(' ').any(|one| one == of)))
}

#[test]
fn charts_of_a_simulation_measured_again() {
    let (folder, cell, document) = simulated("charts");
    let file = folder.join("simulation.json");
    let draw = |view: &str, sku: &str| {
        let drawn = run(&["draw", "CELL", "--view", view, "--sku", sku, "--simulation", file.to_str().unwrap()], &cell);
        assert_eq!(drawn.status.code(), Some(0), "{}", String::from_utf8_lossy(&drawn.stderr));
        String::from_utf8(drawn.stdout).unwrap()
    };
    let skus = document["skus"].as_array().unwrap();
    for sku in skus {
        let text = draw("states", sku["id"].as_str().unwrap());
        let chart = Document::parse(&text).unwrap();
        // The grid runs from nothing to the whole.
        let grid: Vec<f64> = class(&chart, "lw-chart-grid")
            .filter(|n| n.attribute("x1") == n.attribute("x2"))
            .map(|n| number(n, "x1"))
            .collect();
        let (left, whole) = (grid[0], grid[grid.len() - 1] - grid[0]);
        let bars: Vec<Node<'_, '_>> = class(&chart, "lw-chart-bar").collect();
        let stations = sku["stations"].as_array().unwrap();
        assert_eq!(bars.len(), stations.len());
        for (bar, station) in bars.iter().zip(stations) {
            let mut at = left;
            let mut parts = bar.children().filter(|n| n.is_element() && n.attribute("class") != Some("lw-chart-over"));
            for state in ["working", "starved", "unfed", "blocked", "paced", "failed", "short_stop"] {
                let share = station[state].as_f64().unwrap();
                assert!((number(*bar, &format!("data-{state}")) - share).abs() < 1e-12);
                if share > 0.0 {
                    let part = parts.next().unwrap();
                    assert!((number(part, "x") - at).abs() < 2e-3, "{state}");
                    assert!((number(part, "width") / whole - share).abs() < 2e-5, "{state} {share}");
                    at += number(part, "width");
                }
            }
            assert!(parts.next().is_none() && (at - left - whole).abs() < 5e-3, "a station's shares are not the whole");
        }
        // Nothing is held back here, so the legend does not speak of it.
        assert!(!text.contains(">held back<") && text.contains(">failed<"));
    }
    let text = draw("net-rate", "green-20");
    let chart = Document::parse(&text).unwrap();
    let target = class(&chart, "lw-chart-target").map(|n| number(n, "x1")).last().unwrap();
    let ticks: Vec<(f64, f64)> = chart
        .descendants()
        .filter(|n| n.has_tag_name("text") && n.attribute("text-anchor") == Some("middle"))
        .filter_map(|n| Some((n.text()?.parse().ok()?, number(n, "x"))))
        .collect();
    let (first, last) = (ticks[0], ticks[ticks.len() - 1]);
    let percent = |x: f64| first.0 + (x - first.1) / (last.1 - first.1) * (last.0 - first.0);
    assert!((percent(target) - 100.0).abs() < 0.01);
    let drawn: Vec<Node<'_, '_>> = class(&chart, "lw-chart-interval").collect();
    assert_eq!(drawn.len(), skus.len());
    for (row, sku) in drawn.iter().zip(skus) {
        let f = |key: &str| sku["net_rate_per_min"][key].as_f64().unwrap();
        let asked = sku["asked_net_rate_per_min"].as_f64().unwrap();
        let whisker = row.children().find(|n| n.attribute("class") == Some("lw-chart-whisker")).unwrap();
        let d = whisker.attribute("d").unwrap();
        let ends: Vec<f64> = d.split('M').skip(1).map(|m| m.split(' ').next().unwrap().parse().unwrap()).collect();
        assert!((percent(ends[0]) - 100.0 * (f("mean") - f("half_width")) / asked).abs() < 0.02, "{}", sku["id"]);
        assert!((percent(ends[1]) - 100.0 * (f("mean") + f("half_width")) / asked).abs() < 0.02, "{}", sku["id"]);
    }
    std::fs::remove_dir_all(folder).unwrap();
}

#[test]
fn a_simulation_in_report_and_workbook() {
    let (folder, cell, document) = simulated("operation");
    let file = folder.join("simulation.json");
    let report = |more: &[&str]| {
        let mut all = vec!["report", "CELL", "--simulation", file.to_str().unwrap()];
        all.extend(more);
        let done = run(&all, &cell);
        assert_eq!(done.status.code(), Some(0), "{}", String::from_utf8_lossy(&done.stderr));
        done.stdout
    };
    let html = String::from_utf8(report(&[])).unwrap();
    assert_eq!(html.as_bytes(), report(&[]));
    let mut seen = 0;
    for part in html.split("<data value=\"").skip(1).filter(|part| part.contains("data-of=\"simulation\"")) {
        let inside = |key: &str| part.split(&format!("{key}=\"")).nth(1).unwrap().split('"').next().unwrap();
        if inside("data-of") != "simulation" {
            continue;
        }
        let shown: f64 = part.split('"').next().unwrap().parse().unwrap();
        let there = document.pointer(inside("data-key")).and_then(Value::as_f64).unwrap();
        assert!((shown - there).abs() <= 1e-12 * there.abs().max(1.0), "{}", inside("data-key"));
        seen += 1;
    }
    // Ten numbers of each SKU, six of each station of four SKUs at least.
    assert!(seen > 8 * 8 + 4 * 4 * 6, "{seen}");
    for part in
        ["lw-net-rate-1", "lw-states-", "What the stations do", "planning and exact rates use no random numbers"]
    {
        assert!(html.contains(part), "{part}");
    }
    let book = |name: &str| {
        let path = folder.join(name);
        report(&["--format", "xlsx", "--out", path.to_str().unwrap()]);
        std::fs::read(path).unwrap()
    };
    assert!(book("one.xlsx") == book("two.xlsx"));
    std::fs::remove_dir_all(folder).unwrap();
}

#[test]
fn a_chart_without_its_simulation_and_one_of_another_plan_are_refused() {
    let (folder, cell, document) = simulated("refused");
    let refused = |arguments: &[&str], cell: &Path, says: &str| {
        let done = run(arguments, cell);
        let err = String::from_utf8_lossy(&done.stderr);
        assert_eq!(done.status.code(), Some(2), "{err}");
        assert!(err.contains("LW-CANNOT-DRAW") && err.contains(says), "{err}");
    };
    refused(&["draw", "CELL", "--view", "states"], &cell, "no simulation");
    refused(&["draw", "CELL", "--view", "net-rate"], &cell, "no simulation");
    refused(&["draw", "CELL", "--view", "sweep"], &cell, "no sweep");
    let whole = folder.join("simulation.json");
    let other = cell.with_file_name("wraparound-glue.yaml");
    refused(&["report", "CELL", "--simulation", whole.to_str().unwrap()], &other, "another plan");
    let changed = |change: &dyn Fn(&mut Value)| {
        let (mut changed, path) = (document.clone(), folder.join("changed.json"));
        change(&mut changed);
        std::fs::write(&path, changed.to_string()).unwrap();
        path.to_str().unwrap().to_owned()
    };
    let wrong = changed(&|d| d["skus"][0]["stations"][1]["working"] = 7.5.into());
    refused(&["draw", "CELL", "--view", "states", "--simulation", &wrong], &cell, "shares");
    let wrong = changed(&|d| d["carriers"] = 99.into());
    refused(&["draw", "CELL", "--view", "net-rate", "--simulation", &wrong], &cell, "another plan");
    let wrong = changed(&|d| d["skus"] = serde_json::json!([]));
    refused(&["draw", "CELL", "--view", "states", "--simulation", &wrong], &cell, "no simulation of this SKU");
    std::fs::remove_dir_all(folder).unwrap();
}
