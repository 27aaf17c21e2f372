//! Reports of cells of several circuits: every number leads to its key, every total is the sum of its parts, and a hand-off is
//! named on both of its circuits and paid once.

use crate::drawing::planned_several;
use crate::examples::golden;
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_loopwright")).args(arguments).output().unwrap()
}

fn report(cell: &Path, more: &[&str]) -> Vec<u8> {
    let plan = golden(cell);
    let given = [&["report", cell.to_str().unwrap(), plan.to_str().unwrap()], more].concat();
    let run = run(&given);
    assert_eq!(run.status.code(), Some(0), "{}: {}", cell.display(), String::from_utf8_lossy(&run.stderr));
    run.stdout
}

fn html(cell: &Path, more: &[&str]) -> String {
    String::from_utf8(report(cell, more)).unwrap()
}

fn between<'a>(text: &'a str, open: &str, close: &str) -> Vec<&'a str> {
    text.split(open).skip(1).filter_map(|rest| rest.split(close).next()).collect()
}

/// The part with this title.
fn part<'a>(html: &'a str, title: &str) -> &'a str {
    let found = html.split("<h2>").skip(1).find(|p| p.contains(&format!("</span>{title}</h2>")));
    found.unwrap_or_else(|| panic!("no part {title}")).split("</section>").next().unwrap()
}

fn f(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

fn list(value: &Value) -> &Vec<Value> {
    value.as_array().unwrap()
}

fn folder(name: &str) -> PathBuf {
    let folder = std::env::temp_dir().join(format!("loopwright-{name}-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

#[test]
fn numbers_lead_to_their_keys_and_sums_are_sums() {
    for (cell, plan) in planned_several() {
        let html = html(&cell, &[]);
        let (mut numbers, mut sums) = (0, 0);
        for number in between(&html, "<data value=\"", "</data>") {
            let (value, rest) = number.split_once('"').unwrap();
            let shown: f64 = value.parse().unwrap();
            let there = if let Some(pointer) = between(rest, "data-sum=\"", "\"").first() {
                sums += 1;
                let key = pointer.strip_prefix("/circuits/*/").unwrap();
                list(&plan["circuits"]).iter().map(|c| f(&c[key])).sum()
            } else {
                numbers += 1;
                let pointer = between(rest, "data-key=\"", "\"")[0];
                f(plan.pointer(pointer).unwrap_or_else(|| panic!("{}: no {pointer}", cell.display())))
            };
            assert!((shown - there).abs() <= 1e-9 * there.abs().max(1.0), "{number}: {there}");
        }
        assert!(numbers > 150 && sums >= 3, "{numbers} {sums}");
        // Cells of numbers hold nothing else but counts of stations on the drawing.
        for circuit in list(&plan["circuits"]) {
            for cell in between(
                part(&html, &format!("Circuit {}", circuit["id"].as_str().unwrap())),
                "<td class=\"n\">",
                "</td>",
            ) {
                let counted = cell.parse::<usize>().is_ok();
                assert!(cell.is_empty() || cell == "–" || cell.starts_with("<data ") || counted, "{cell}");
            }
        }
        for said in ["pacemakers", "ISO 12100", "not a release to build", "Open questions", "Several circuits"] {
            assert!(html.contains(said), "{said}");
        }
        // What is not worked out for several circuits has no part.
        assert!(!html.contains("</span>Changing over</h2>") && html.contains("</span>Alternatives</h2>"));
        // Every input of every circuit, once.
        let inputs = between(&html, "data-input=\"", "\"");
        for i in 0..list(&plan["circuits"]).len() {
            assert_eq!(inputs.iter().filter(|p| **p == format!("/circuits/{i}/carrier/length_mm")).count(), 1);
        }
        let ids = between(&html, " id=\"", "\"");
        let once: std::collections::BTreeSet<&&str> = ids.iter().collect();
        assert_eq!(once.len(), ids.len(), "an id stands twice");
    }
}

/// Each circuit's stations, in its part and nowhere but there, with the numbers that they have on the drawing.
#[test]
fn each_circuit_has_its_stations() {
    for (cell, plan) in planned_several() {
        let html = html(&cell, &[]);
        let drawing = part(&html, "Layout");
        let drawn: Vec<(&str, &str)> = between(drawing, "data-station=\"", "\"")
            .into_iter()
            .zip(drawing.split("data-station=\"").skip(1))
            .filter_map(|(id, rest)| {
                Some((id, between(rest.split('>').next()?, "data-number=\"", "\"").first().copied()?))
            })
            .collect();
        assert!(!drawn.is_empty());
        let mut hand_offs = 0;
        for (at, circuit) in list(&plan["circuits"]).iter().enumerate() {
            let part = part(&html, &format!("Circuit {}", circuit["id"].as_str().unwrap()));
            let table = between(part, "Stations, in travel order", "</table>")[0];
            let rows: Vec<&str> = between(table.split("<tbody>").nth(1).unwrap(), "<tr>", "</tr>");
            let stations = list(&circuit["stations"]);
            assert_eq!(rows.len(), stations.len());
            for (row, station) in rows.iter().zip(stations) {
                let id = station["id"].as_str().unwrap();
                assert!(row.contains(&format!("<td>{id}")), "{row}");
                let number = between(row, "<td class=\"n\">", "</td>")[0];
                assert!(
                    drawn.iter().filter(|(there, _)| *there == id).all(|(_, there)| *there == number),
                    "{id} {number}"
                );
                let other = station["hands_to"].as_str();
                assert_eq!(other.is_some(), row.contains("hand-off with"), "{row}");
                if let Some(other) = other {
                    hand_offs += 1;
                    assert!(row.contains(&format!("hand-off with {other}<")), "{row}");
                    let first = list(&plan["circuits"])[..at].iter().all(|c| c["id"] != other);
                    assert_eq!(!first, row.contains(&format!(">with {other}<")), "{row}");
                }
            }
            let lengths: f64 = list(&circuit["sections"])
                .iter()
                .chain(stations)
                .map(|s| f(s.get("length_m").unwrap_or(&s["zone_m"])))
                .sum();
            assert!((lengths - f(&circuit["loop_length_m"])).abs() < 1e-9);
        }
        assert!(hand_offs >= 2 && hand_offs % 2 == 0);
    }
}

/// The bill makes the price of each circuit and of all; a hand-off stands in it once.
#[test]
fn parts_make_the_price_and_hand_offs_are_paid_once() {
    for (cell, plan) in planned_several() {
        let html = html(&cell, &[]);
        let bill = part(&html, "Parts and prices");
        let rows = between(bill.split("<tbody>").nth(1).unwrap().split("</tbody>").next().unwrap(), "<tr", "</tr>");
        let amount = |row: &str| between(row, "<td class=\"n\">", "</td>")[2].replace('\u{a0}', "").parse::<f64>();
        let mut sums = between(bill, "<tr class=\"sum\">", "</tr>").into_iter();
        let mut all = 0.0;
        let mut own = 0.0;
        let mut circuits = list(&plan["circuits"]).iter();
        for row in rows {
            if row.starts_with(" class=\"sum\"") {
                let circuit = circuits.next().unwrap();
                let shown: f64 = between(sums.next().unwrap(), "<data value=\"", "\"")[0].parse().unwrap();
                assert!(
                    (shown - f(&circuit["place"]["price"])).abs() < 1e-6 && (own - shown).abs() < 0.5,
                    "{own} {shown}"
                );
                own = 0.0;
            } else if let Ok(money) = amount(row) {
                all += money;
                own += money;
            }
        }
        assert!(circuits.next().is_none());
        assert!((all - f(&plan["price"])).abs() < 1.0, "{all}");
        for station in list(&plan["circuits"]).iter().flat_map(|c| list(&c["stations"])) {
            let name = format!("<td>station {}</td>", station["id"].as_str().unwrap());
            assert_eq!(bill.matches(&name).count(), 1, "{name}");
        }
    }
}

#[test]
fn the_same_bytes_twice() {
    let folder = folder("coupled");
    for (cell, _) in planned_several() {
        assert_eq!(report(&cell, &[]), report(&cell, &[]));
        for format in [Some("xlsx"), cfg!(feature = "pdf").then_some("pdf")].into_iter().flatten() {
            let made = |name: &str| {
                let file = folder.join(name);
                report(&cell, &["--format", format, "--out", file.to_str().unwrap()]);
                std::fs::read(file).unwrap()
            };
            let first = made("one");
            assert!(first.len() > 5000 && first == made("two"), "{format}");
        }
    }
    std::fs::remove_dir_all(folder).unwrap();
}

/// A simulation of the cell stands in the report, with the circuit of each station; one of another plan does not.
#[test]
fn a_simulation_of_several_circuits() {
    let folder = folder("coupled-operation");
    let mut files = Vec::new();
    for (cell, _) in planned_several() {
        let plan = golden(&cell);
        let run = run(&[
            "simulate",
            cell.to_str().unwrap(),
            plan.to_str().unwrap(),
            "--json",
            "--most",
            "10",
            "--hours",
            "0.5",
        ]);
        assert!(matches!(run.status.code(), Some(0 | 1)), "{}", String::from_utf8_lossy(&run.stderr));
        let file = folder.join(cell.file_stem().unwrap()).with_extension("json");
        std::fs::write(&file, &run.stdout).unwrap();
        files.push(file.to_str().unwrap().to_owned());
        let truth: Value = serde_json::from_slice(&run.stdout).unwrap();
        let html = html(&cell, &["--simulation", files.last().unwrap()]);
        let mut seen = 0;
        for number in
            between(&html, "<data value=\"", "</data>").iter().filter(|n| n.contains("data-of=\"simulation\""))
        {
            let pointer = between(number, "data-key=\"", "\"")[0];
            assert_eq!(
                truth.pointer(pointer).and_then(Value::as_f64),
                number.split('"').next().unwrap().parse().ok(),
                "{number}"
            );
            seen += 1;
        }
        assert!(seen > 60, "{seen}");
        let table = between(&html, "<th>Station</th><th>Circuit</th>", "</table>")[0];
        let rows = between(table.split("<tbody>").nth(1).unwrap(), "<tr>", "</tr>");
        for (row, station) in rows.iter().zip(list(&truth["skus"][0]["stations"])) {
            let both = format!(
                "<td>{}</td><td>{}</td>",
                station["id"].as_str().unwrap(),
                station["circuit"].as_str().unwrap()
            );
            assert!(truth["skus"].as_array().unwrap().len() > 1 || row.starts_with(&both), "{row}");
        }
        let laps = list(&truth["skus"][0]["laps"]).len();
        assert_eq!(
            laps,
            list(&serde_json::from_str::<Value>(&std::fs::read_to_string(&plan).unwrap()).unwrap()["circuits"]).len()
        );
    }
    let (cell, _) = planned_several().swap_remove(0);
    let plan = golden(&cell);
    let run = run(&["report", cell.to_str().unwrap(), plan.to_str().unwrap(), "--simulation", &files[1]]);
    assert_eq!(run.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&run.stderr).contains("LW-CANNOT-DRAW"));
    std::fs::remove_dir_all(folder).unwrap();
}

/// A comparison, a sweep and what would help stand in the report of several circuits, and in its workbook.
#[test]
fn alternatives_beside_the_report() {
    let (cell, _) = planned_several().into_iter().find(|(cell, _)| cell.ends_with("two-loops.yaml")).unwrap();
    let folder = folder("coupled-beside");
    let (cell, golden) = (cell.to_str().unwrap(), golden(&cell));
    let written = |name: &str, arguments: &[&str]| {
        let run = run(&[arguments, &["--json", "--time-limit", "120"]].concat());
        assert_eq!(run.status.code(), Some(0), "{}", String::from_utf8_lossy(&run.stderr));
        let file = folder.join(name);
        std::fs::write(&file, run.stdout).unwrap();
        file.to_str().unwrap().to_owned()
    };
    let compare = written("compare.json", &["compare", cell, "--variant", "slower: rate*0.9"]);
    let sweep = written("sweep.json", &["sweep", cell, "--over", "rate*0.8..1.2/3"]);
    let explain = written("explain.json", &["explain", cell]);
    let beside = ["--compare", &compare, "--sweep", &sweep, "--explain", &explain];
    let report = run(&[&["report", cell, golden.to_str().unwrap()], &beside[..]].concat());
    assert_eq!(report.status.code(), Some(0), "{}", String::from_utf8_lossy(&report.stderr));
    let html = String::from_utf8(report.stdout).unwrap();
    let part = part(&html, "Alternatives");
    for name in ["as asked", "slower", "all intermittent", "load continuous"] {
        assert!(part.contains(&format!("<td>{name}</td>")), "{name}");
    }
    assert!(part.contains("<svg") && html.contains("loop stacks: "), "no chart, or no lever of a loop");
    let chart = run(&["draw", cell, golden.to_str().unwrap(), "--view", "sweep", "--sweep", &sweep]);
    assert!(chart.status.success() && chart.stdout.starts_with(b"<svg"));
    std::fs::remove_dir_all(folder).unwrap();
}

/// What is not worked out for several circuits is refused, by the commands and beside a report.
#[test]
fn the_rest_is_refused() {
    let (cell, plan) = planned_several().swap_remove(0);
    let folder = folder("coupled-refused");
    let (cell, golden) = (cell.to_str().unwrap(), golden(&cell));
    let golden = golden.to_str().unwrap();
    let cases: [&[&str]; 4] = [
        &["changeover", cell, "--plan", golden],
        &["front", cell],
        &["draw", cell, golden, "--view", "time-distance"],
        &["draw", cell, golden, "--view", "load"],
    ];
    for case in cases {
        let run = run(case);
        let said = String::from_utf8_lossy(&run.stderr).into_owned() + &String::from_utf8_lossy(&run.stdout);
        assert_eq!(run.status.code(), Some(2), "{case:?}: {said}");
        assert!(said.contains("LW-NOT-YET"), "{case:?}: {said}");
    }
    // The load of a circuit that is named can be drawn, with its own stations only.
    for circuit in list(&plan["circuits"]) {
        let id = circuit["id"].as_str().unwrap();
        let run = run(&["draw", cell, golden, "--view", "load", "--circuit", id]);
        assert_eq!(run.status.code(), Some(0), "{}", String::from_utf8_lossy(&run.stderr));
        let chart = String::from_utf8(run.stdout).unwrap();
        let stations = list(&circuit["stations"]).iter().map(|s| s["id"].as_str().unwrap());
        assert!(between(&chart, "data-station=\"", "\"").into_iter().eq(stations));
    }
    // A plan that lacks a circuit of the cell is not one of it.
    let mut less = plan.clone();
    less["circuits"].as_array_mut().unwrap().truncate(1);
    let file = folder.join("less.json");
    std::fs::write(&file, less.to_string()).unwrap();
    let run = run(&["report", cell, file.to_str().unwrap()]);
    assert_eq!(run.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&run.stderr).contains("LW-CANNOT-DRAW"));
    std::fs::remove_dir_all(folder).unwrap();
}
