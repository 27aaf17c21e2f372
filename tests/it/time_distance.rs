//! The diagram of the carriers over time, read out of the SVG and held against the trace document.

use crate::drawing::planned;
use crate::examples::golden;
use roxmltree::{Document, Node};
use serde_json::Value;
use std::path::Path;
use std::process::{Command, Output};

fn run(cell: &Path, command: &str, more: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_loopwright")).arg(command).arg(cell).arg(golden(cell)).args(more).output().unwrap()
}

fn number(node: Node<'_, '_>, key: &str) -> f64 {
    node.attribute(key).unwrap_or_else(|| panic!("no {key}")).parse().unwrap()
}

/// The straight pieces of a path of `M` and `L`.
fn lines(d: &str) -> Vec<[(f64, f64); 2]> {
    let mut all = Vec::new();
    for stroke in d.split('M').skip(1) {
        let points: Vec<(f64, f64)> = stroke
            .split('L')
            .map(|p| p.split_once(' ').map(|(x, y)| (x.parse().unwrap(), y.parse().unwrap())).unwrap())
            .collect();
        all.extend(points.windows(2).map(|w| [w[0], w[1]]));
    }
    all
}

/// Distance of a point from a straight piece.
fn off([a, b]: [(f64, f64); 2], p: (f64, f64)) -> f64 {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let long = dx * dx + dy * dy;
    let share = if long > 0.0 { (((p.0 - a.0) * dx + (p.1 - a.1) * dy) / long).clamp(0.0, 1.0) } else { 0.0 };
    (p.0 - a.0 - share * dx).hypot(p.1 - a.1 - share * dy)
}

#[test]
fn every_carrier_is_drawn_where_the_trace_has_it() {
    const LONG: f64 = 25.0;
    for (cell, _) in planned() {
        let duration = LONG.to_string();
        let trace = run(&cell, "trace", &["--duration", &duration]);
        let trace: Value = serde_json::from_slice(&trace.stdout).unwrap();
        let drawn = run(&cell, "draw", &["--view", "time-distance", "--duration", &duration]);
        assert_eq!(drawn.status.code(), Some(0), "{}", String::from_utf8_lossy(&drawn.stderr));
        let text = String::from_utf8(drawn.stdout).unwrap();
        let svg = Document::parse(&text).unwrap();
        let root = svg.root_element();
        let (loop_m, length_s) = (number(root, "data-loop-m"), trace["duration_s"].as_f64().unwrap());
        assert_eq!(number(root, "data-duration-s"), length_s);
        let [left, right, top, bottom] =
            ["data-left-mm", "data-right-mm", "data-top-mm", "data-bottom-mm"].map(|key| number(root, key));
        let place = |t: f64, at: f64| {
            (left + t / length_s * (right - left), bottom - at.rem_euclid(loop_m) / loop_m * (bottom - top))
        };
        let carriers = trace["carriers"].as_array().unwrap();
        for carrier in carriers {
            let id = carrier["carrier"].to_string();
            let own: Vec<_> = root.descendants().filter(|n| n.attribute("data-carrier") == Some(&id)).collect();
            let pieces: Vec<_> = own.iter().flat_map(|n| lines(n.attribute("d").unwrap())).collect();
            let points: Vec<(f64, f64)> = carrier["points"]
                .as_array()
                .unwrap()
                .iter()
                .map(|p| (p["t_s"].as_f64().unwrap(), p["at_m"].as_f64().unwrap()))
                .collect();
            for step in 0..=50 {
                let t = length_s * f64::from(step) / 50.0;
                let Some(pair) = points.windows(2).find(|w| w[0].0 <= t && t <= w[1].0 && w[0].0 < w[1].0) else {
                    continue;
                };
                let at = pair[0].1 + (pair[1].1 - pair[0].1) * (t - pair[0].0) / (pair[1].0 - pair[0].0);
                let there = place(t, at);
                let least = pieces.iter().map(|piece| off(*piece, there)).fold(f64::MAX, f64::min);
                assert!(least < 0.01, "{}: carrier {id} at {t} s is {least} mm off", cell.display());
            }
            // No stroke runs backwards in time, over the edge, or across a lap.
            for [a, b] in &pieces {
                assert!(b.0 >= a.0 - 1e-9 && b.1 <= a.1 + 2e-3, "{a:?} {b:?}");
                assert!(a.0 >= left - 1e-3 && b.0 <= right + 1e-3 && b.1 >= top - 1e-3 && a.1 <= bottom + 1e-3);
            }
        }
        let drawn =
            root.descendants().filter_map(|n| n.attribute("data-carrier")).collect::<std::collections::BTreeSet<_>>();
        assert_eq!(drawn.len(), carriers.len());
        for zone in trace["zones"].as_array().unwrap() {
            let band = root
                .descendants()
                .find(|n| n.attribute("data-station") == zone["station"].as_str())
                .unwrap_or_else(|| panic!("no zone {}", zone["station"]));
            let (from, long) = (zone["start_m"].as_f64().unwrap(), zone["length_m"].as_f64().unwrap());
            let (y, height) = (number(band, "y"), number(band, "height"));
            assert!((y + height - place(0.0, from).1).abs() < 0.01);
            assert!((height - long / loop_m * (bottom - top)).abs() < 0.01);
        }
    }
}

#[test]
fn a_diagram_is_no_drawing_in_millimetres_and_needs_a_stretch() {
    let (cell, _) = planned().remove(0);
    let refused = run(&cell, "draw", &["--view", "load", "--format", "dxf"]);
    assert_eq!(refused.status.code(), Some(2));
    for more in [["--format", "dxf"], ["--duration", "0"], ["--sku", "none"]] {
        let refused = run(&cell, "draw", &[&["--view", "time-distance"], &more[..]].concat());
        assert_eq!(refused.status.code(), Some(2), "{more:?}");
    }
}

/// Charts by themselves are those of the report.
#[test]
fn charts_by_themselves() {
    let (cell, plan) = planned().remove(0);
    let text = |view: &str| {
        let drawn = run(&cell, "draw", &["--view", view]);
        assert_eq!(drawn.status.code(), Some(0), "{}", String::from_utf8_lossy(&drawn.stderr));
        String::from_utf8(drawn.stdout).unwrap()
    };
    let (load, rate) = (text("load"), text("rate"));
    let (load, rate) = (Document::parse(&load).unwrap(), Document::parse(&rate).unwrap());
    let count = |of: &Document<'_>, key: &str| of.descendants().filter(|n| n.attribute(key).is_some()).count();
    assert_eq!(count(&load, "data-moving-s"), plan["circuits"][0]["stations"].as_array().unwrap().len());
    let own =
        rate.descendants().find(|n| n.attribute("data-carriers") == Some(&plan["circuits"][0]["carriers"].to_string()));
    assert_eq!(
        number(own.unwrap(), "data-rate-per-min"),
        plan["circuits"][0]["skus"][0]["rate_per_min"].as_f64().unwrap()
    );
}
