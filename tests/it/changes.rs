//! Pictures of changing over, measured again against the changeover document; the report's section and its keys; what is
//! refused.

use crate::examples::golden;
use roxmltree::{Document, Node};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

fn example(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("examples").join(name)
}

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_loopwright")).args(arguments).output().unwrap()
}

/// `changeover` of an example on its golden plan.
fn changeover(cell: &Path, more: &[&str]) -> Vec<u8> {
    let plan = golden(cell);
    let mut all = vec!["changeover", cell.to_str().unwrap(), "--plan", plan.to_str().unwrap()];
    all.extend(more);
    let done = run(&all);
    assert_eq!(done.status.code(), Some(0), "{}", String::from_utf8_lossy(&done.stderr));
    done.stdout
}

fn picture(cell: &Path, more: &[&str]) -> String {
    let mut all = vec!["--picture"];
    all.extend(more);
    let text = String::from_utf8(changeover(cell, &all)).unwrap();
    assert_eq!(text.as_bytes(), changeover(cell, &all));
    text
}

fn answer(cell: &Path) -> Value {
    serde_json::from_slice(&changeover(cell, &["--json"])).unwrap()
}

fn number(node: Node<'_, '_>, key: &str) -> f64 {
    node.attribute(key).unwrap_or_else(|| panic!("no {key}: {node:?}")).parse().unwrap()
}

fn class<'a>(picture: &'a Document<'_>, of: &'a str) -> Vec<Node<'a, 'a>> {
    picture.descendants().filter(|n| n.attribute("class").is_some_and(|c| c.split(' ').any(|one| one == of))).collect()
}

/// Smallest capitals on the sheet, in millimetres.
fn capitals(picture: &Document<'_>) -> f64 {
    picture.descendants().filter_map(|n| n.attribute("font-size")?.parse::<f64>().ok()).fold(f64::MAX, f64::min) * 0.716
}

/// Every cell of the matrix has its pair's time, its shade, its number; hatches are those over the limit, frames the longest.
#[test]
fn the_matrix_measured_again() {
    for (name, count, over) in [("short-changes.yaml", 8, 28), ("pouch-changes.yaml", 6, 0), ("fifty-skus.yaml", 50, 0)]
    {
        let cell = example(name);
        let answer = answer(&cell);
        let document = &answer["changeover"];
        let text = picture(&cell, &["matrix"]);
        let svg = Document::parse(&text).unwrap();
        assert!(capitals(&svg) >= 2.5);
        let skus: Vec<&str> = document["skus"].as_array().unwrap().iter().map(|s| s["id"].as_str().unwrap()).collect();
        assert_eq!(skus.len(), count);
        let index = |id: &str| skus.iter().position(|s| *s == id).unwrap();
        let cells: Vec<Node<'_, '_>> =
            class(&svg, "lw-chart-shade").into_iter().filter(|n| n.attribute("data-from").is_some()).collect();
        assert_eq!(cells.len(), count * (count - 1));
        let (first, wide, high) = (cells[0], number(cells[0], "width"), number(cells[0], "height"));
        // The first cell is that of the second column.
        let (left, top) = (number(first, "x") - wide, number(first, "y"));
        let longest = cells.iter().map(|c| number(*c, "data-seconds")).fold(0.0, f64::max);
        let mut hatched = 0;
        for c in &cells {
            let (i, j) = (index(c.attribute("data-from").unwrap()), index(c.attribute("data-to").unwrap()));
            let seconds = document["matrix_s"][i][j].as_f64().unwrap();
            assert!((number(*c, "data-seconds") - seconds).abs() < 1e-9);
            assert!((number(*c, "x") - left - j as f64 * wide).abs() < 2e-3, "{name}: column {j}");
            assert!((number(*c, "y") - top - i as f64 * high).abs() < 2e-3, "{name}: row {i}");
            assert!((number(*c, "fill-opacity") - 0.35 * seconds / longest).abs() < 1e-3);
            let is_over = document["limit_s"].as_f64().is_some_and(|limit| seconds > limit);
            assert_eq!(c.attribute("data-over").is_some(), is_over);
            let same_place = |n: &Node<'_, '_>| ["x", "y"].iter().all(|k| n.attribute(*k) == c.attribute(*k));
            let hatch = class(&svg, "lw-chart-over").iter().any(same_place);
            assert_eq!(hatch, is_over, "{name}: {i} {j}");
            hatched += usize::from(hatch);
            if count > 20 {
                continue;
            }
            let middle = (number(*c, "x") + wide / 2.0, number(*c, "y") + high / 2.0);
            let near = |n: &Node<'_, '_>| {
                n.attribute("transform").is_none()
                    && (number(*n, "x") - middle.0).abs() < 0.01
                    && (number(*n, "y") - middle.1).abs() < 2.0
            };
            let shown = class(&svg, "lw-chart-text").into_iter().find(near).and_then(|n| n.text()).unwrap();
            assert_eq!(shown, format!("{:.1}", seconds / 60.0));
        }
        assert_eq!(hatched, over);
        assert_eq!(document["count"]["over_limit"], over);
        let frames = class(&svg, "lw-chart-worst").len() - 1;
        let worst = cells.iter().filter(|c| number(**c, "data-seconds") >= longest * (1.0 - 1e-9)).count();
        assert!(frames == worst && worst > 0, "{frames} frames, {worst} longest");
        // Each cell has a number, and more do not stand there than names and legend need.
        let texts = class(&svg, "lw-chart-text").len();
        assert!((cells.len() + 2 * count..cells.len() + 2 * count + 6).contains(&texts), "{texts}");
    }
}

/// Bars of a schedule lie where the document has them; nobody does two things at once; the cell's row is the whole change.
#[test]
fn the_schedule_measured_again() {
    let cell = example("short-changes.yaml");
    for pair in [None, Some(("herbal-40", "green-20"))] {
        let mut more = vec!["schedule"];
        if let Some((from, to)) = pair {
            more.extend(["--from", from, "--to", to]);
        }
        let text = picture(&cell, &more);
        let svg = Document::parse(&text).unwrap();
        assert!(capitals(&svg) >= 2.5);
        let mut more: Vec<&str> = more[1..].to_vec();
        more.push("--json");
        let answer: Value = serde_json::from_slice(&changeover(&cell, &more)).unwrap();
        let changes = answer["changeover"]["changes"].as_array().unwrap();
        let change = match pair {
            None => &changes[0],
            Some((from, to)) => changes.iter().find(|c| c["from"] == from && c["to"] == to).unwrap(),
        };
        let f = |key: &str| change[key].as_f64().unwrap();
        let rows = class(&svg, "lw-chart-row");
        let kind = |of: &str| rows.iter().copied().filter(|r| r.attribute("data-kind") == Some(of)).collect::<Vec<_>>();
        let bars = |row: Node<'_, '_>| {
            let all = row.children().filter(|n| n.attribute("data-from-s").is_some());
            all.map(|n| {
                let drawn = n.children().find(|r| r.has_tag_name("rect")).unwrap();
                let (x, wide) = (number(drawn, "x"), number(drawn, "width"));
                (number(n, "data-from-s"), number(n, "data-to-s"), x, wide)
            })
            .collect::<Vec<_>>()
        };
        let whole = bars(kind("cell")[0]);
        let (from, to) = (whole[0], whole[whole.len() - 1]);
        let scale = (to.2 + to.3 - from.2) / (to.1 - from.0);
        let length = f("before_s") + f("run_out_s") + f("work_s") + f("refill_s") + f("behind_s");
        assert!((to.1 - from.0 - length).abs() < 1e-6);
        for (begin, end, x, wide) in rows.iter().flat_map(|row| bars(*row)) {
            assert!((x - from.2 - (begin - from.0) * scale).abs() < 5e-3);
            assert!((wide - ((end - begin) * scale).max(0.4)).abs() < 5e-3);
        }
        let steps = change["steps"].as_array().unwrap();
        let drawn = kind("step");
        assert_eq!(drawn.len(), steps.len());
        for (row, step) in drawn.iter().zip(steps) {
            let (begin, end, ..) = bars(*row)[0];
            let phase = match step["phase"].as_str().unwrap() {
                "before" => -f("run_out_s") - f("before_s"),
                "behind" => f("work_s") + f("refill_s"),
                _ => 0.0,
            };
            assert!((begin - phase - step["start_s"].as_f64().unwrap()).abs() < 1e-6);
            assert!((end - begin - step["time_s"].as_f64().unwrap()).abs() < 1e-6);
            assert_eq!(row.attribute("data-at"), step["at"].as_str());
        }
        let people = kind("person");
        assert_eq!(people.len(), 2);
        for person in people {
            let mut own = bars(person);
            own.sort_by(|a, b| a.0.total_cmp(&b.0));
            assert!(own.windows(2).all(|w| w[0].1 <= w[1].0 + 1e-6), "{own:?}");
        }
        assert_eq!(kind("move").len(), change["moves"].as_array().unwrap().len());
        // The limit stands at its time from the beginning of the stop: counted from the last good case.
        let limit = class(&svg, "lw-chart-target")[0];
        assert!((number(limit, "x1") - from.2 - (600.0 - from.0) * scale).abs() < 5e-3);
    }
}

#[test]
fn the_order_measured_again() {
    for name in ["short-changes.yaml", "pouch-changes.yaml"] {
        let cell = example(name);
        let text = picture(&cell, &["order"]);
        let svg = Document::parse(&text).unwrap();
        let answer = answer(&cell);
        let lots = answer["changeover"]["order"]["lots"].as_array().unwrap();
        let drawn = class(&svg, "lw-chart-lot");
        assert_eq!(drawn.len(), lots.len());
        let grid: Vec<f64> = class(&svg, "lw-chart-grid").iter().map(|n| number(*n, "x1")).collect();
        let ticks: Vec<f64> = svg
            .descendants()
            .filter(|n| n.attribute("text-anchor") == Some("middle"))
            .filter_map(|n| n.text()?.parse().ok())
            .collect();
        let scale = (grid[1] - grid[0]) / (ticks[1] - ticks[0]) / 60.0;
        let mut at = 0.0;
        for (row, lot) in drawn.iter().zip(lots) {
            let parts = [lot["change_s"].as_f64().unwrap() / 60.0, lot["run_min"].as_f64().unwrap()];
            let mut bars =
                row.children().filter(|n| n.has_tag_name("rect") && n.attribute("class") != Some("lw-chart-over"));
            for minutes in parts {
                if minutes > 0.0 {
                    let bar = bars.next().unwrap();
                    assert!((number(bar, "x") - grid[0] - at * scale).abs() < 5e-3, "{name}");
                    assert!((number(bar, "width") - minutes * scale).abs() < 5e-3, "{name}");
                }
                at += minutes;
            }
            assert!(bars.next().is_none());
        }
    }
}

/// Each of its numbers in the report leads to its key; pictures stand there; the same bytes twice.
#[test]
fn changes_in_report_and_workbook() {
    let folder = std::env::temp_dir().join(format!("loopwright-changes-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let cell = example("short-changes.yaml");
    let answer = answer(&cell);
    let file = folder.join("changes.json");
    std::fs::write(&file, answer.to_string()).unwrap();
    let (plan, given) = (golden(&cell), file.to_str().unwrap());
    let report = |more: &[&str]| {
        let mut all = vec!["report", cell.to_str().unwrap(), plan.to_str().unwrap(), "--changeover", given];
        all.extend(more);
        let done = run(&all);
        assert_eq!(done.status.code(), Some(0), "{}", String::from_utf8_lossy(&done.stderr));
        done.stdout
    };
    let html = String::from_utf8(report(&[])).unwrap();
    assert_eq!(html.as_bytes(), report(&[]));
    let mut seen = 0;
    for part in html.split("<data value=\"").skip(1) {
        let part = part.split("</data>").next().unwrap();
        let inside = |key: &str| part.split(&format!(" {key}=\"")).nth(1).map(|rest| rest.split('"').next().unwrap());
        if inside("data-of") != Some("changeover") {
            continue;
        }
        let pointer = inside("data-key").unwrap();
        let there = answer.pointer(pointer).and_then(Value::as_f64).unwrap_or_else(|| panic!("{pointer}"));
        let shown: f64 = part.split('"').next().unwrap().parse().unwrap();
        assert!((shown - there).abs() <= 1e-12 * there.abs().max(1.0), "{pointer}");
        seen += 1;
    }
    assert!(seen > 12 * 4 + 8 * 2 + 10, "{seen}");
    for part in ["id=\"lw-changes\"", "id=\"lw-change-1\"", "id=\"lw-order-1\"", "Over the limit", "whoever reaches"] {
        assert!(html.to_lowercase().contains(&part.to_lowercase()), "{part}");
    }
    let book = |name: &str| {
        let path = folder.join(name);
        report(&["--format", "xlsx", "--out", path.to_str().unwrap()]);
        std::fs::read(path).unwrap()
    };
    assert!(book("one.xlsx") == book("two.xlsx"));
    // Of another cell, of none, and with numbers that nobody can draw.
    let refused = |document: Value, says: &str| {
        std::fs::write(folder.join("wrong.json"), document.to_string()).unwrap();
        let wrong = folder.join("wrong.json");
        let done =
            run(&["report", cell.to_str().unwrap(), plan.to_str().unwrap(), "--changeover", wrong.to_str().unwrap()]);
        let err = String::from_utf8_lossy(&done.stderr);
        assert!(done.status.code() == Some(2) && err.contains("LW-CANNOT-DRAW") && err.contains(says), "{err}");
    };
    let changed = |pointer: &str, value: Value| {
        let mut document = answer.clone();
        *document.pointer_mut(pointer).unwrap() = value;
        document
    };
    refused(changed("/changeover/name", json!("another")), "another cell");
    refused(changed("/changeover", Value::Null), "no changes");
    refused(changed("/changeover/matrix_s", json!([[0.0]])), "matrix");
    refused(changed("/changeover/matrix_s/0/1", json!(1e300)), "matrix");
    refused(changed("/changeover/changes/0/run_out_s", json!(-5.0)), "cannot be drawn");
    std::fs::remove_dir_all(folder).unwrap();
}
