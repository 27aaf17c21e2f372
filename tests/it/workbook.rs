//! Workbooks opened again: the texts of their cells, and the sheet of the plans that no other beats.

use crate::examples::golden;
use serde_json::Value;
use std::collections::BTreeMap;
use std::io::Read;
use std::path::Path;
use std::process::Command;

/// Rows of each sheet by its name; numbers as they are written, formulas as what they came to, empty cells as empty texts.
pub fn sheets(file: &Path) -> BTreeMap<String, Vec<Vec<String>>> {
    let mut archive = zip::ZipArchive::new(std::fs::File::open(file).unwrap()).unwrap();
    let mut part = |name: &str| {
        let mut text = String::new();
        archive.by_name(name).unwrap_or_else(|e| panic!("{name}: {e}")).read_to_string(&mut text).unwrap();
        text
    };
    let (book, shared) = (part("xl/workbook.xml"), part("xl/sharedStrings.xml"));
    let shared = roxmltree::Document::parse(&shared).unwrap();
    let texts: Vec<String> = shared
        .root_element()
        .children()
        .filter(|n| n.has_tag_name("si") || n.tag_name().name() == "si")
        .map(|si| si.descendants().filter(|n| n.tag_name().name() == "t").filter_map(|n| n.text()).collect())
        .collect();
    let book = roxmltree::Document::parse(&book).unwrap();
    let names = book.descendants().filter(|n| n.tag_name().name() == "sheet").map(|n| n.attribute("name").unwrap());
    let mut all = BTreeMap::new();
    for (i, name) in names.enumerate() {
        let text = part(&format!("xl/worksheets/sheet{}.xml", i + 1));
        let sheet = roxmltree::Document::parse(&text).unwrap();
        let mut rows: Vec<Vec<String>> = Vec::new();
        for cell in sheet.descendants().filter(|n| n.tag_name().name() == "c") {
            let place = cell.attribute("r").unwrap();
            let letters = place.chars().take_while(char::is_ascii_alphabetic);
            let column = letters.fold(0, |sum, letter| sum * 26 + (letter as usize - 'A' as usize + 1)) - 1;
            let row: usize = place.trim_start_matches(|c: char| c.is_ascii_alphabetic()).parse().unwrap();
            let value = cell.children().find(|n| n.tag_name().name() == "v").and_then(|n| n.text()).unwrap_or_default();
            let value = match cell.attribute("t") {
                Some("s") => texts[value.parse::<usize>().unwrap()].clone(),
                _ => value.to_owned(),
            };
            if rows.len() < row {
                rows.resize(row, Vec::new());
            }
            let cells = &mut rows[row - 1];
            if cells.len() <= column {
                cells.resize(column + 1, String::new());
            }
            cells[column] = value;
        }
        all.insert(name.to_owned(), rows);
    }
    all
}

/// Every plan of the front in a row with its key; below them whether any may be missing.
#[test]
fn the_front_is_a_sheet() {
    let folder = std::env::temp_dir().join(format!("loopwright-front-sheet-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let cell = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/wraparound-glue.yaml");
    let run = |arguments: &[&str]| {
        let done = Command::new(env!("CARGO_BIN_EXE_loopwright")).args(arguments).output().unwrap();
        assert_eq!(done.status.code(), Some(0), "{}", String::from_utf8_lossy(&done.stderr));
        done.stdout
    };
    let found = run(&["front", cell.to_str().unwrap(), "--json"]);
    let mut front: Value = serde_json::from_slice(&found).unwrap();
    let plans = front["plans"].as_array().unwrap().clone();
    assert!(front["complete"] == true && plans.len() > 1);
    let book = |front: &Value| {
        let (file, out) = (folder.join("front.json"), folder.join("book.xlsx"));
        std::fs::write(&file, front.to_string()).unwrap();
        let plan = golden(&cell);
        let (cell, plan) = (cell.to_str().unwrap(), plan.to_str().unwrap());
        let files = ["--front", file.to_str().unwrap(), "--out", out.to_str().unwrap()];
        run(&[&["report", cell, plan, "--format", "xlsx"], &files[..]].concat());
        sheets(&out)
    };
    let rows = &book(&front)["Front"];
    assert_eq!(rows[0][..6], ["Plan", "Answer", "Floor m²", "Proven bound m²", "Carriers", "Price"]);
    let number = |text: &str| text.parse::<f64>().unwrap();
    let mut moving = 0;
    for (i, plan) in plans.iter().enumerate() {
        let row = &rows[i + 1];
        assert_eq!((row[0].as_str(), row[1].as_str()), ((i + 1).to_string().as_str(), "planned, proven"));
        for (column, key) in [(2, "/footprint/area_m2"), (3, "/proven_bound_m2"), (4, "/carriers"), (5, "/price")] {
            let there = plan.pointer(key).and_then(Value::as_f64).unwrap();
            assert!((number(&row[column]) - there).abs() < 1e-9, "{key}: {row:?}");
        }
        let stations = plan["stations"].as_array().unwrap().iter().filter(|s| s["mode"] == "continuous");
        let ids: Vec<&str> = stations.map(|s| s["id"].as_str().unwrap()).collect();
        moving += ids.len();
        assert_eq!(row[6], ids.join(", "));
        assert_eq!(front.pointer(&row[7]).unwrap(), plan);
    }
    assert!(moving > 0);
    let said = |rows: &[Vec<String>]| rows[plans.len() + 1..].concat().concat();
    assert_eq!(said(rows), "None is missing: proven.");
    front["complete"] = false.into();
    assert_eq!(said(&book(&front)["Front"]), "Others may be missing: the search ended before.");
    std::fs::remove_dir_all(folder).unwrap();
}
