//! Reports of all examples: every number leads to its key, and the sum of the parts is the plan's price.

use crate::drawing::planned;
use crate::examples::golden;
use serde_json::Value;
use std::collections::BTreeSet;
use std::process::Command;

fn report(cell: &std::path::Path, more: &[&str]) -> Vec<u8> {
    let run = Command::new(env!("CARGO_BIN_EXE_loopwright"))
        .arg("report")
        .arg(cell)
        .arg(golden(cell))
        .args(more)
        .output()
        .unwrap();
    assert_eq!(run.status.code(), Some(0), "{}: {}", cell.display(), String::from_utf8_lossy(&run.stderr));
    run.stdout
}

/// What stands between two texts, at every place.
fn between<'a>(text: &'a str, open: &str, close: &str) -> Vec<&'a str> {
    text.split(open).skip(1).filter_map(|rest| rest.split(close).next()).collect()
}

#[test]
fn every_number_leads_to_its_key() {
    for (cell, plan) in planned() {
        let html = String::from_utf8(report(&cell, &[])).unwrap();
        let numbers = between(&html, "<data value=\"", "</data>");
        assert!(numbers.len() > 60, "{}", numbers.len());
        for number in numbers {
            let (value, rest) = number.split_once('"').unwrap();
            let pointer = between(rest, "data-key=\"", "\"")[0];
            let there = plan.pointer(pointer).unwrap_or_else(|| panic!("{}: no {pointer}", cell.display()));
            let (shown, planned): (f64, f64) = (value.parse().unwrap(), there.as_f64().unwrap());
            assert!((shown - planned).abs() <= 1e-9 * planned.abs().max(1.0), "{pointer}: {shown}, {planned}");
        }
        for part in ["pacemakers", "ISO 12100", "not a release to build", "Open questions", "Karp", "EN 415-7"] {
            assert!(html.contains(part), "{part}");
        }
        // Columns of numbers hold nothing else, but where inputs and prices name their keys beside them.
        for (title, part) in
            between(&html, "<h2><span", "</section>").into_iter().map(|p| (between(p, "</span>", "<")[0], p))
        {
            if ["Basis of design", "Parts and prices", "Open questions"].contains(&title) {
                assert!(part.contains("class=\"pointer\""));
                continue;
            }
            for cell in between(part, "<td class=\"n\">", "</td>") {
                let counted = cell.parse::<usize>().is_ok() && title == "Layout";
                assert!(cell.is_empty() || cell == "–" || cell.starts_with("<data ") || counted, "{title}: {cell}");
            }
        }
        // Nothing is loaded from outside; names of schemas are no places.
        let outside: BTreeSet<&str> = between(&html, "http", "\"").into_iter().collect();
        assert!(outside.iter().all(|o| *o == "://www.w3.org/2000/svg"), "{outside:?}");
        let bound = between(&html, "src=\"", "\"");
        assert!(bound.is_empty(), "{bound:?}");
    }
}

/// Each input once, and those left out are asked about.
#[test]
fn the_basis_of_design_is_whole() {
    let (cell, _) = planned().into_iter().find(|(cell, _)| cell.ends_with("wraparound-glue.yaml")).unwrap();
    let folder = std::env::temp_dir().join(format!("loopwright-report-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let sources = folder.join("sources.yaml");
    std::fs::write(&sources, "/stations/0: measured on a sample\n/requirements/efficiency: assumed by us\n").unwrap();
    let html =
        String::from_utf8(report(&cell, &["--sources", sources.to_str().unwrap(), "--company", "A & B"])).unwrap();
    assert!(html.contains("A &amp; B"));
    let pointers = between(&html, "data-input=\"", "\"");
    let once: BTreeSet<&&str> = pointers.iter().collect();
    assert!(once.len() == pointers.len() && pointers.len() > 100);
    let row = |pointer: &str| {
        html.split(&format!("data-input=\"{pointer}\"")).nth(1).unwrap().split("</tr>").next().unwrap().to_owned()
    };
    assert!(row("/stations/0/intermittent/base_s").contains("measured"));
    assert!(row("/requirements/efficiency").contains("assumed by us"));
    assert!(row("/requirements/headroom").contains("given"));
    assert!(row("/requirements/footprint_tolerance_m2").contains("default"));
    let asked = html.split("Open questions").nth(2).unwrap();
    assert!(asked.contains("/requirements/footprint_tolerance_m2") && asked.contains("/requirements/efficiency"));
    std::fs::write(&sources, "/stations/99: measured\n").unwrap();
    let run = Command::new(env!("CARGO_BIN_EXE_loopwright"))
        .arg("report")
        .arg(&cell)
        .arg(golden(&cell))
        .arg("--sources")
        .arg(&sources)
        .output()
        .unwrap();
    assert_eq!(run.status.code(), Some(2));
    std::fs::remove_dir_all(folder).unwrap();
}

#[test]
fn the_same_bytes_twice_and_the_parts_make_the_price() {
    let folder = std::env::temp_dir().join(format!("loopwright-book-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    for (cell, plan) in planned() {
        let book = |name: &str| {
            let file = folder.join(name);
            report(&cell, &["--format", "xlsx", "--out", file.to_str().unwrap()]);
            std::fs::read(file).unwrap()
        };
        let first = book("one.xlsx");
        // The time of the first file in the archive (bytes 10 to 13) is the format's first day, not the clock's.
        assert_eq!(first[10..14], [0, 0, 0x21, 0]);
        assert!(first == book("two.xlsx") && first.len() > 5000, "{}", cell.display());
        assert_eq!(report(&cell, &[]), report(&cell, &[]));
        let html = String::from_utf8(report(&cell, &[])).unwrap();
        let total = between(html.split("<tfoot>").nth(1).unwrap(), "<data value=\"", "\"")[0].parse::<f64>().unwrap();
        assert!((total - plan["price"].as_f64().unwrap_or(f64::NAN)).abs() < 1e-6, "{}", cell.display());
    }
    std::fs::remove_dir_all(folder).unwrap();
}

/// The stacked parts of the load chart make the cycle, and with the waiting the time of the design rate.
#[test]
fn load_charts_add_up() {
    let mut seen = 0;
    for (cell, plan) in planned() {
        let html = String::from_utf8(report(&cell, &[])).unwrap();
        let skus: &Vec<Value> = plan["circuits"][0]["skus"].as_array().unwrap();
        for (k, sku) in skus.iter().enumerate() {
            let Some(chart) = html.split(&format!("id=\"lw-load-{}\"", k + 1)).nth(1) else { continue };
            let chart = chart.split("</svg>").next().unwrap();
            let target = 60.0 / sku["design_rate_per_min"].as_f64().unwrap();
            for (i, bar) in chart.split("lw-chart-bar").skip(1).enumerate() {
                let part = |key: &str| between(bar, &format!("{key}=\""), "\"")[0].parse::<f64>().unwrap();
                let of = &plan["circuits"][0]["stations"][i]["skus"][k];
                let cycle = of["cycle_s"].as_f64().unwrap() / of["batch"].as_f64().unwrap();
                let busy = part("data-moving-s") + part("data-settling-s") + part("data-work-s");
                assert!(
                    (busy - cycle).abs() < 1e-9 && (busy + part("data-waiting-s") - target).abs() < 1e-6 * target,
                    "{busy} {cycle} {target}"
                );
                seen += 1;
            }
        }
    }
    assert!(seen > 50);
}

/// With the plan's own carriers the rate is the plan's; numbers that make the design rate are those that reach it; one
/// carrier more than a batch of one allows never speeds a loop beyond its slowest station.
#[test]
fn rates_over_carriers() {
    for (cell, plan) in planned() {
        let run = Command::new(env!("CARGO_BIN_EXE_loopwright"))
            .arg("carriers")
            .arg(&cell)
            .arg(golden(&cell))
            .arg("--json")
            .output()
            .unwrap();
        assert_eq!(run.status.code(), Some(0), "{}", String::from_utf8_lossy(&run.stderr));
        let rates: Value = serde_json::from_slice(&run.stdout).unwrap();
        let circuit = &plan["circuits"][0];
        assert_eq!(rates["carriers"], circuit["carriers"]);
        for (k, (sku, planned)) in
            rates["skus"].as_array().unwrap().iter().zip(circuit["skus"].as_array().unwrap()).enumerate()
        {
            let points = sku["points"].as_array().unwrap();
            let own = points.iter().find(|p| p["carriers"] == circuit["carriers"]).unwrap();
            assert_eq!(own["rate_per_min"], planned["rate_per_min"]);
            assert_eq!(own["makes"], true);
            // Bounds of any loop: the slowest station's capacity, and carriers over the shortest way round.
            let f = |value: &Value| value.as_f64().unwrap();
            let stations = circuit["stations"].as_array().unwrap();
            let slowest = stations.iter().map(|s| f(&s["skus"][k]["capacity_per_min"])).fold(f64::MAX, f64::min);
            let round: f64 = stations.iter().map(|s| f(&s["skus"][k]["residence_s"])).sum::<f64>()
                + circuit["sections"].as_array().unwrap().iter().map(|s| f(&s["skus"][k]["lag_s"])).sum::<f64>();
            for p in points {
                let (rate, most) = (f(&p["rate_per_min"]), (f(&p["carriers"]) * 60.0 / round).min(slowest));
                assert!(rate <= most * (1.0 + 1e-5), "{}: {p} over {most}", cell.display());
            }
        }
    }
}

/// What `sweep`, `compare` and `explain` give: points of the chart where the document has them, variants and levers as rows.
#[test]
fn documents_beside_the_plan() {
    use serde_json::json;
    let (cell, _) = planned().into_iter().find(|(cell, _)| cell.ends_with("wraparound-glue.yaml")).unwrap();
    let short = |area: Option<f64>| {
        json!({
            "status": if area.is_some() { "planned" } else { "impossible" }, "proven": true, "proven_bound_m2": area,
            "footprint": area.map(|a| json!({"length_m": a / 4.0, "width_m": 4.0, "area_m2": a})),
            "loop_length_m": null, "form": null, "modules_per_straight": null, "carriers": area.map(|_| 17),
            "price": area.map(|_| 123_456.0), "stations": [], "skus": [], "reasons": [],
        })
    };
    let point = |value: f64, area: Option<f64>| json!({"value": value, "second": null, "plan": short(area)});
    let sweep = json!({
        "format": 1, "name": "x", "axes": [{"at": "rate", "of": "times", "from": 0.9, "to": 1.1, "points": 3}],
        "points": [point(0.9, Some(25.5)), point(1.0, Some(28.25)), point(1.1, None)],
        "crossovers": [{"station": "load", "below": "intermittent", "above": "continuous", "from": 0.94, "to": 0.95,
            "second": null, "proven": true}],
        "front": [],
    });
    let compare = json!({
        "format": 1, "name": "x", "differences": [], "variants": [
            {"name": "as it is", "changes": [], "plan": short(Some(28.25)), "marks": []},
            {"name": "all <stop>", "changes": [], "plan": short(None), "marks": ["glue stops"]}],
    });
    let explain = json!({
        "format": 1, "name": "x", "plan": short(Some(28.25)), "complete": true, "kind": "helped", "step": 0.1,
        "rates": {"does": 1.05, "too_much": null},
        "levers": [{"says": "the press 10 % faster", "changes": [], "plan": short(Some(27.0)), "floor_saved_m2": 1.25,
            "carriers_saved": 2, "price_saved": null, "rates": null}],
    });
    let folder = std::env::temp_dir().join(format!("loopwright-beside-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let file = |name: &str, text: &str| {
        let path = folder.join(name);
        std::fs::write(&path, text).unwrap();
        path.to_str().unwrap().to_owned()
    };
    let files = [("sweep", &sweep), ("compare", &compare), ("explain", &explain)];
    let files = files.map(|(name, document)| (format!("--{name}"), file(name, &document.to_string())));
    let arguments: Vec<&str> = files.iter().flat_map(|(option, file)| [option.as_str(), file.as_str()]).collect();
    let html = String::from_utf8(report(&cell, &arguments)).unwrap();
    let chart = html.split("id=\"lw-sweep\"").nth(1).unwrap().split("</svg>").next().unwrap();
    let drawn: Vec<(&str, &str)> =
        between(chart, "data-value=\"", "\"").into_iter().zip(between(chart, "data-area-m2=\"", "\"")).collect();
    assert_eq!(drawn, [("0.9", "25.5"), ("1", "28.25")]);
    assert!(chart.contains("lw-chart-mark") && chart.contains(">load<"));
    for part in
        ["all &lt;stop&gt;", "glue stops", "impossible: proven", "123\u{a0}456", "the press 10 % faster", "+1.25", "+2"]
    {
        assert!(html.contains(part), "{part}");
    }
    // Each of their numbers leads to its key.
    let mut seen = 0;
    for number in between(&html, "<data value=\"", "</data>").iter().filter(|n| n.contains(" data-of=\"")) {
        let own = format!("\"{number}");
        let attribute = |name: &str| between(&own, &format!("{name}=\""), "\"")[0];
        let documents = [("sweep", &sweep), ("compare", &compare), ("explain", &explain)];
        let document = documents.into_iter().find(|(name, _)| *name == attribute("data-of")).unwrap().1;
        let there = document.pointer(attribute("data-key")).and_then(Value::as_f64);
        assert_eq!(there, number.split('"').next().unwrap().parse().ok(), "{number}");
        seen += 1;
    }
    assert_eq!(seen, 9 + 3 + 3);
    let run = Command::new(env!("CARGO_BIN_EXE_loopwright"))
        .args(["report", cell.to_str().unwrap(), golden(&cell).to_str().unwrap(), "--sweep", &file("wrong", "{}")])
        .output()
        .unwrap();
    assert_eq!(run.status.code(), Some(2));
    std::fs::remove_dir_all(folder).unwrap();
}

/// The PDF has the report's pages, the drawing on a sheet of its own size, and the same bytes twice; no clock is in it.
#[cfg(feature = "pdf")]
#[test]
fn the_same_report_as_pdf() {
    let folder = std::env::temp_dir().join(format!("loopwright-pdf-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    // One dot, written for this test.
    let dot = "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNkYPhfDwAChwGA60e6kgAAAABJRU5ErkJggg==";
    let logo = folder.join("logo.png");
    std::fs::write(&logo, base64::Engine::decode(&base64::engine::general_purpose::STANDARD, dot).unwrap()).unwrap();
    let broken = folder.join("broken.png");
    std::fs::write(&broken, [0x89, b'P', b'N', b'G', 1, 2, 3]).unwrap();
    for (i, (cell, _)) in planned().into_iter().enumerate() {
        let pdf = |name: &str| {
            let file = folder.join(name);
            let out = file.to_str().unwrap();
            report(&cell, &["--format", "pdf", "--company", "A & B", "--logo", logo.to_str().unwrap(), "--out", out]);
            std::fs::read(file).unwrap()
        };
        let first = pdf("one.pdf");
        assert!(first.starts_with(b"%PDF-1.7") && first.len() > 50_000, "{}", cell.display());
        assert!(first == pdf("two.pdf"), "{}", cell.display());
        let text = String::from_utf8_lossy(&first);
        assert!(!text.contains("CreationDate") && !text.contains("CreateDate"));
        if i == 0 {
            // Letters that the fonts lack are said to be missing, on standard error and on the first page.
            let (named, out) = (folder.join("named.pdf"), folder.join("named.pdf"));
            let run = Command::new(env!("CARGO_BIN_EXE_loopwright"))
                .arg("report")
                .args([&cell, &golden(&cell)])
                .args(["--format", "pdf", "--company", "包装 Äß Ωж", "--out", named.to_str().unwrap()])
                .output()
                .unwrap();
            let err = String::from_utf8_lossy(&run.stderr);
            assert_eq!(run.status.code(), Some(0), "{err}");
            assert!(err.contains("LW-LETTERS-MISSING") && err.contains("包 (U+5305)") && !err.contains('Ω'), "{err}");
            assert!(std::fs::read(out).unwrap() != first);
            assert!(
                !String::from_utf8_lossy(
                    &Command::new(env!("CARGO_BIN_EXE_loopwright"))
                        .arg("report")
                        .args([&cell, &golden(&cell)])
                        .args(["--format", "pdf", "--company", "Äß Ωж", "--out", named.to_str().unwrap()])
                        .output()
                        .unwrap()
                        .stderr
                )
                .contains("LW-LETTERS-MISSING")
            );
            let out = folder.join("none.pdf");
            let run = Command::new(env!("CARGO_BIN_EXE_loopwright"))
                .arg("report")
                .args([&cell, &golden(&cell)])
                .args(["--format", "pdf", "--logo", broken.to_str().unwrap(), "--out", out.to_str().unwrap()])
                .output()
                .unwrap();
            assert_eq!(run.status.code(), Some(2), "{}", String::from_utf8_lossy(&run.stderr));
            assert!(!out.exists());
        }
    }
    std::fs::remove_dir_all(folder).unwrap();
}
