//! Accumulation curves: points are planned anew, pairs meet the same luck, and the chart is what the document says.

use roxmltree::Document;
use serde_json::Value;
use std::process::Command;

const CELL: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/short-changes.yaml");

fn run(arguments: &[&str]) -> (i32, String, String) {
    let run = Command::new(env!("CARGO_BIN_EXE_loopwright")).args(arguments).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (run.status.code().unwrap(), text(run.stdout), text(run.stderr))
}

fn curve(more: &[&str]) -> Value {
    let usual =
        ["accumulate", CELL, "--json", "--section", "open:fill", "--up-to", "45", "--points", "4", "--hours", "1"];
    let (code, out, err) = run(&[&usual[..], &["--least", "20", "--most", "20"], more].concat());
    assert_eq!(code, 0, "{err}");
    serde_json::from_str(&out).unwrap()
}

#[test]
fn points_are_planned_and_played() {
    let found = curve(&[]);
    let points = found["points"].as_array().unwrap();
    assert_eq!(points.len(), 4);
    for (i, point) in points.iter().enumerate() {
        assert!((point["ride_through_s"].as_f64().unwrap() - 15.0 * i as f64).abs() < 1e-9);
        // The slots that ride-through asks for are there.
        let slots = point["slots"].as_f64().unwrap();
        assert!(slots >= (30.0 / 0.88 / 60.0 * 15.0 * i as f64).floor(), "{point}");
        assert!(point["net_rate_per_min"]["half_width"].as_f64().unwrap() > 0.0);
        if i > 0 {
            let rate = |p: &Value| p["net_rate_per_min"]["mean"].as_f64().unwrap();
            let gain = &point["gain_per_min"];
            assert!((rate(point) - rate(&points[i - 1]) - gain["mean"].as_f64().unwrap()).abs() < 1e-9);
            // More accumulation never takes less floor.
            assert!(point["area_m2"].as_f64() >= points[i - 1]["area_m2"].as_f64(), "{point}");
        }
    }
    assert_eq!(found, curve(&[]), "the same seed");
    assert_ne!(found["points"][0]["net_rate_per_min"], curve(&["--seed", "2"])["points"][0]["net_rate_per_min"]);
    // Where a square metre must bring the impossible, nothing pays.
    assert_eq!(curve(&["--worth", "1000"])["enough"], 0);
}

#[test]
fn the_chart_shows_every_point() {
    let found = curve(&[]);
    let file = std::env::temp_dir().join(format!("loopwright-accumulation-{}.json", std::process::id()));
    std::fs::write(&file, found.to_string()).unwrap();
    let plan = CELL.replace(".yaml", ".plan.json");
    let (code, svg, err) =
        run(&["draw", CELL, &plan, "--view", "accumulation", "--accumulation", file.to_str().unwrap()]);
    let (report_code, report, _) = run(&["report", CELL, &plan, "--accumulation", file.to_str().unwrap()]);
    std::fs::remove_file(&file).unwrap();
    assert_eq!((code, report_code), (0, 0), "{err}");
    let svg = Document::parse(&svg).unwrap();
    let drawn: Vec<_> = svg.descendants().filter(|n| n.attribute("data-ride-through-s").is_some()).collect();
    let points = found["points"].as_array().unwrap();
    assert_eq!(drawn.len(), points.len());
    let number = |n: roxmltree::Node<'_, '_>, key: &str| n.attribute(key).unwrap().parse::<f64>().unwrap();
    let place = |i: usize| (number(drawn[i], "cx"), number(drawn[i], "cy"));
    for (node, point) in drawn.iter().zip(points) {
        assert_eq!(number(*node, "data-net-rate-per-min"), point["net_rate_per_min"]["mean"].as_f64().unwrap());
    }
    // Evenly spread along x, and higher where more is made.
    for (i, point) in points.iter().enumerate().skip(1) {
        assert!((place(i).0 - place(i - 1).0 - (place(1).0 - place(0).0)).abs() < 0.01);
        let more = point["gain_per_min"]["mean"].as_f64().unwrap();
        assert!(more.abs() < 0.01 || (place(i).1 < place(i - 1).1) == (more > 0.0), "{more}");
    }
    assert!(report.contains(found["says"].as_str().unwrap()) && report.contains("lw-accumulation"));
}

#[test]
fn what_is_not_there_is_told() {
    let (code, _, err) = run(&["accumulate", CELL, "--section", "fill:open", "--up-to", "10"]);
    assert!(code == 2 && err.contains("LW-NOT-NEIGHBOURS"), "{err}");
    let (code, _, err) =
        run(&["accumulate", CELL, "--section", "open:fill", "--up-to", "0", "--points", "1", "--sku", "none"]);
    assert!(code == 2 && err.contains("/up_to_s") && err.contains("/points") && err.contains("`none`"), "{err}");
}
