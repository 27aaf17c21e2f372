//! Drawings of all examples: golden files, and the geometry read out of the SVG and held against the plan document.

use crate::examples::{cells, golden};
use roxmltree::{Document, Node};
use serde_json::Value;
use std::path::Path;
use std::process::Command;

fn run(arguments: &[&str], cell: &Path) -> Vec<u8> {
    let run = Command::new(env!("CARGO_BIN_EXE_loopwright"))
        .arg(arguments[0])
        .arg(cell)
        .arg(golden(cell))
        .args(&arguments[1..])
        .output()
        .unwrap();
    assert_eq!(run.status.code(), Some(0), "{}: {}", cell.display(), String::from_utf8_lossy(&run.stderr));
    run.stdout
}

/// Each example that has a plan, with the plan.
fn planned_any() -> Vec<(std::path::PathBuf, Value)> {
    let read = |cell: std::path::PathBuf| {
        let plan: Value = serde_json::from_str(&std::fs::read_to_string(golden(&cell)).unwrap()).unwrap();
        (plan["status"] == "planned").then_some((cell, plan))
    };
    cells().into_iter().filter_map(read).collect()
}

/// Each of them with one circuit.
pub fn planned() -> Vec<(std::path::PathBuf, Value)> {
    let mut all = planned_any();
    all.retain(|(_, plan)| plan["circuits"].as_array().is_some_and(|all| all.len() == 1));
    assert!(all.len() >= 5);
    all
}

/// Each of them with several.
pub fn planned_several() -> Vec<(std::path::PathBuf, Value)> {
    let mut all = planned_any();
    all.retain(|(_, plan)| plan["circuits"].as_array().is_some_and(|all| all.len() > 1));
    assert!(all.len() >= 2);
    all
}

/// `LOOPWRIGHT_BLESS=1 cargo test drawing` writes the golden drawings anew.
#[test]
fn golden_drawings_are_what_is_drawn() {
    let bless = std::env::var_os("LOOPWRIGHT_BLESS").is_some();
    let mut wrong = Vec::new();
    for (cell, _) in planned_any() {
        let (now, file) = (String::from_utf8(run(&["draw"], &cell)).unwrap(), cell.with_extension("svg"));
        if bless {
            std::fs::write(&file, &now).unwrap();
        }
        if now != std::fs::read_to_string(&file).unwrap_or_default() {
            wrong.push(file.display().to_string());
        }
    }
    assert!(wrong.is_empty(), "{wrong:?} differ; `LOOPWRIGHT_BLESS=1 cargo test drawing` refreshes them");
}

/// A number belongs to one station: its balloon lies on no other one.
#[test]
fn balloons_keep_apart() {
    let mut seen = 0;
    for (cell, _) in planned_any() {
        let drawn = String::from_utf8(run(&["draw"], &cell)).unwrap();
        let svg = Document::parse(&drawn).unwrap();
        let balloons: Vec<[f64; 3]> = svg
            .descendants()
            .filter(|node| node.attribute("class") == Some("lw-balloon"))
            .map(|node| ["cx", "cy", "r"].map(|key| number(node, key)))
            .collect();
        for (i, [x, y, r]) in balloons.iter().enumerate() {
            for [a, b, s] in &balloons[..i] {
                seen += 1;
                let apart = (x - a).hypot(y - b);
                assert!(apart >= r + s, "{}: balloons at {x}, {y} and at {a}, {b}", cell.display());
            }
        }
    }
    assert!(seen > 100, "{seen}");
}

fn numbers(text: &str) -> Vec<f64> {
    text.split(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-')).filter_map(|n| n.parse().ok()).collect()
}

fn number(node: Node<'_, '_>, key: &str) -> f64 {
    node.attribute(key).unwrap_or_else(|| panic!("no {key}: {node:?}")).parse().unwrap()
}

/// Length of a path of moves, lines and circular arcs, on the sheet.
fn length(d: &str) -> f64 {
    let (mut at, mut begin, mut sum) = ((0.0, 0.0), (0.0, 0.0), 0.0);
    let mut rest = d;
    while let Some(command) = rest.chars().next() {
        let end = rest[1..].find(|c: char| c.is_ascii_uppercase()).map_or(rest.len(), |i| i + 1);
        let n = numbers(&rest[1..end]);
        let chord = |to: (f64, f64)| f64::hypot(to.0 - at.0, to.1 - at.1);
        match command {
            'M' => (at, begin) = ((n[0], n[1]), (n[0], n[1])),
            'L' => {
                sum += chord((n[0], n[1]));
                at = (n[0], n[1]);
            }
            'A' => {
                let to = (n[5], n[6]);
                sum += 2.0 * n[0] * (chord(to) / (2.0 * n[0])).min(1.0).asin();
                at = to;
            }
            'Z' => {
                sum += chord(begin);
                at = begin;
            }
            other => panic!("{other} in {d}"),
        }
        rest = &rest[end..];
    }
    sum
}

/// The sheet rounds to 0.0001 mm; at 1:100 that is 0.01 mm. What is measured are a few such places together.
fn same(measured_mm: f64, scale: f64, metres: f64, what: &str) {
    let measured = measured_mm * scale / 1000.0;
    assert!((measured - metres).abs() < 2e-6 * scale.max(10.0), "{what}: {measured} m drawn, {metres} m planned");
}

fn id<'a>(document: &'a Document<'_>, id: &str) -> Node<'a, 'a> {
    document.descendants().find(|n| n.attribute("id") == Some(id)).unwrap_or_else(|| panic!("no {id}"))
}

#[test]
fn geometry_measured_again() {
    let mut seen = 0;
    for (cell, plan) in planned() {
        let name = cell.display().to_string();
        for sku in 0..plan["circuits"][0]["skus"].as_array().unwrap().len().min(3) {
            let sku_id = plan["circuits"][0]["skus"][sku]["id"].as_str().unwrap();
            let text = String::from_utf8(run(&["draw", "--sku", sku_id], &cell)).unwrap();
            measured(&Document::parse(&text).unwrap(), &plan, sku, &name);
            seen += 1;
        }
    }
    assert!(seen > 8);
}

fn measured(svg: &Document<'_>, plan: &Value, sku: usize, name: &str) {
    let scale = number(svg.root_element(), "data-scale");
    let f = |value: &Value| value.as_f64().unwrap();
    let circuit = &plan["circuits"][0];
    let clearance = id(svg, "lw-clearance");
    same(number(clearance, "width"), scale, f(&plan["footprint"]["length_m"]), name);
    same(number(clearance, "height"), scale, f(&plan["footprint"]["width_m"]), name);
    let path = id(svg, "lw-path").attribute("d").unwrap();
    same(length(path), scale, f(&circuit["loop_length_m"]), &format!("{name}: loop"));
    let begin = numbers(path)[0];
    let upright = circuit["plane"] == "upright";
    // Seen from the front, the front straight of a mirrored cell begins at its right end.
    let mirrored = plan["hand"] == "right_to_left";
    let (mut carriers, mut slots) = (0, 0);
    for (i, station) in circuit["stations"].as_array().unwrap().iter().enumerate() {
        let what = format!("{name}: {}", station["id"]);
        let zone = id(svg, &format!("lw-zone-{}", i + 1));
        same(number(zone, "width"), scale, f(&station["zone_m"]), &what);
        // On the back straight the loop runs to the left, from the far end.
        let back = station["straight"] == "back";
        let along = if back {
            2.0 * f(&circuit["straight_m"]) + f(&circuit["end_m"]) - f(&station["start_m"]) - f(&station["zone_m"])
        } else {
            f(&station["start_m"])
        };
        let from = if mirrored { begin - number(zone, "x") - number(zone, "width") } else { number(zone, "x") - begin };
        same(from, scale, along, &what);
        let frame = id(svg, &format!("lw-station-{}", i + 1));
        same(number(frame, "width"), scale, f(&station["frame_m"]), &what);
        same(number(frame, "height"), scale, f(&station["depth_m"]), &what);
        // Floor is taken outward, from the track's edge, and stays within the clearance line.
        let low = number(frame, "y") + number(frame, "height");
        let sides = &plan["asked"]["clearance_sides"];
        let inside = |side: &str| sides[side].as_f64().unwrap_or(f(&plan["asked"]["clearance_m"])) * 1000.0 / scale;
        assert!(number(frame, "y") >= number(clearance, "y") + inside("back_m") - 1e-3, "{what}");
        let bottom = number(clearance, "y") + number(clearance, "height");
        assert!(low <= bottom - inside("front_m") + 1e-3, "{what}");
        if !upright {
            let gap = if back {
                number(zone, "y") - low
            } else {
                number(frame, "y") - number(zone, "y") - number(zone, "height")
            };
            same(gap, scale, 0.0, &what);
        }
        carriers += station["skus"][sku]["batch"].as_u64().unwrap();
        let section = &circuit["sections"][i];
        let drawn = id(svg, &format!("lw-section-{}", i + 1));
        let stretch = drawn.descendants().find(|n| n.attribute("class") == Some("lw-section-path")).unwrap();
        same(length(stretch.attribute("d").unwrap()), scale, f(&section["length_m"]), &what);
        slots += section["skus"][sku]["slots"].as_u64().unwrap();
    }
    if let Some(feed) = plan.get("feed") {
        let drawn = id(svg, "lw-feed");
        same(number(drawn, "width"), scale, f(&feed["length_m"]), &format!("{name}: feed"));
        same(number(drawn, "height"), scale, f(&feed["width_m"]), &format!("{name}: feed"));
        // From the front left corner of loop and stations, which ends reach: their middle line begins a reach further on.
        let begin = if mirrored { begin - f(&circuit["straight_m"]) * 1000.0 / scale } else { begin };
        let (left, reach) = (begin - f(&circuit["corner_reach_m"]) * 1000.0 / scale, f(&feed["x_m"]));
        same(number(drawn, "x") - left, scale, reach, &format!("{name}: feed"));
    }
    allowed_floor(svg, plan, scale, name);
    let class = |of: &str| svg.descendants().filter(|n| n.attribute("class") == Some(of)).count() as u64;
    let views = if upright { 2 } else { 1 };
    // One of each stands in the legend. A pair that follows its load is drawn as two movers and two paddles, together no
    // longer than it is when open.
    let pair = &circuit["skus"][sku]["pair"];
    let parts = if pair.is_null() { 1 } else { 4 };
    assert_eq!(class("lw-carrier"), carriers * views * parts + 1, "{name}");
    if let Some(open) = pair["length_m"].as_f64() {
        for at_work in svg.descendants().filter(|n| n.attribute("data-at-m").is_some()) {
            let drawn: Vec<_> = at_work.children().filter(|n| n.attribute("class") == Some("lw-carrier")).collect();
            let left = drawn.iter().map(|n| number(*n, "x")).fold(f64::MAX, f64::min);
            let right = drawn.iter().map(|n| number(*n, "x") + number(*n, "width")).fold(f64::MIN, f64::max);
            assert!((right - left) * scale / 1000.0 <= open + 1e-6 && right > left, "{name}: {open}");
        }
    }
    assert_eq!(class("lw-slot"), slots + 1, "{name}");
    let bar = svg.descendants().find(|n| n.attribute("class") == Some("lw-scale-bar")).unwrap();
    same(number(bar, "data-length-mm"), scale, number(bar, "data-length-m"), name);
    let least =
        svg.descendants().filter_map(|n| n.attribute("font-size")?.parse::<f64>().ok()).fold(f64::MAX, f64::min);
    assert!(least * 0.716 >= 2.5, "capitals of {} mm", least * 0.716);
    for (what, value) in [("length_m", "length"), ("width_m", "width")] {
        let printed = format!("{:.0}", f(&plan["footprint"][what]) * 1000.0);
        let there = svg
            .descendants()
            .any(|n| n.has_tag_name("text") && n.text().map(|t| t.replace('\u{a0}', "")) == Some(printed.clone()));
        assert!(there, "{name}: {value} {printed} is not printed");
    }
}

/// The allowed floor keeps within the border and holds the cell; where it is drawn to scale, it has its size and its
/// dimensions, and the cell lies in its middle.
fn allowed_floor(svg: &Document<'_>, plan: &Value, scale: f64, name: &str) {
    let Some(long) = plan["asked"]["floor_length_m"].as_f64() else { return };
    let wide = plan["asked"]["floor_width_m"].as_f64().unwrap();
    let site = id(svg, "lw-site");
    let sides = |node: Node<'_, '_>| {
        let [x, y, w, h] = ["x", "y", "width", "height"].map(|key| number(node, key));
        [x, y, x + w, y + h]
    };
    let border = svg.descendants().find(|n| n.attribute("class") == Some("lw-border")).unwrap();
    let (outer, inner) = (sides(border), sides(site));
    assert!(outer[0] <= inner[0] && outer[1] <= inner[1] && inner[2] <= outer[2] && inner[3] <= outer[3], "{name}");
    if site.attribute("data-to-scale") == Some("no") {
        // At a third less it would not fit on the sheet round the cell.
        let (room_w, room_h) = (outer[2] - outer[0] - 124.0, outer[3] - outer[1] - 32.0);
        let k = 750.0 / scale;
        assert!(long * k > room_w - 60.0 || wide * k > room_h - 80.0, "{name}: a key plan though there is room");
        return;
    }
    let cell = sides(id(svg, "lw-clearance"));
    let (w, h) = (number(site, "width"), number(site, "height"));
    let turned = (w - 1000.0 * long / scale).abs() > 0.01;
    let (along, across) = if turned { (wide, long) } else { (long, wide) };
    same(w, scale, along, name);
    same(h, scale, across, name);
    places_kept_out_of(svg, plan, scale, &cell, name);
    for i in 0..2 {
        if !plan["placing"].is_null() {
            break;
        }
        let off = (cell[i] - inner[i]) - (inner[i + 2] - cell[i + 2]);
        assert!(off.abs() < 1e-3 && cell[i] >= inner[i] - 1e-3, "{name}: {off}");
    }
    for metres in [along, across] {
        let words = format!("floor {:.0}", metres * 1000.0);
        let there = svg
            .descendants()
            .any(|n| n.has_tag_name("text") && n.text().map(|t| t.replace('\u{a0}', "")) == Some(words.clone()));
        assert!(there, "{name}: {words} is not printed");
    }
}

/// Where the plan says how the cell lies on the floor: each place that is missed has its size, its distances from the cell's
/// corner are those on the floor, its sizes are printed, and the cell misses it.
fn places_kept_out_of(svg: &Document<'_>, plan: &Value, scale: f64, cell: &[f64; 4], name: &str) {
    let empty = Vec::new();
    let places = plan["asked"]["keep_out"].as_array().unwrap_or(&empty);
    let at = &plan["placing"];
    let turned = at["turned"] == true;
    for (i, place) in places.iter().enumerate() {
        let metres = |key: &str| place[key].as_f64().unwrap();
        let drawn = id(svg, &format!("lw-site-out-{}", i + 1));
        let [x, y, w, h] = ["x", "y", "width", "height"].map(|key| number(drawn, key));
        let (long, wide) = (metres("length_m"), metres("width_m"));
        same(w, scale, if turned { wide } else { long }, name);
        same(h, scale, if turned { long } else { wide }, name);
        if !turned {
            same(x - cell[0], scale, metres("x_m") - at["x_m"].as_f64().unwrap(), name);
            // On the sheet y runs down, on the floor from front to back.
            same(cell[3] - (y + h), scale, metres("y_m") - at["y_m"].as_f64().unwrap(), name);
        }
        let apart = x + w <= cell[0] + 1e-3 || cell[2] <= x + 1e-3 || y + h <= cell[1] + 1e-3 || cell[3] <= y + 1e-3;
        assert!(apart, "{name}: the cell lies over place {i}");
        let size = format!("{:.0} × {:.0}", w * scale, h * scale);
        let printed = |n: Node<'_, '_>| n.text().is_some_and(|t| t.replace('\u{a0}', "").ends_with(&size));
        assert!(svg.descendants().any(|n| n.has_tag_name("text") && printed(n)), "{name}: {size} is not printed");
    }
}

/// Of several circuits: each loop has its length, all together take the footprint, a hand-off's floor reaches from one loop to
/// the other, and its zones on both lie at the same place.
#[test]
fn loops_beside_each_other_measured_again() {
    let mut seen = 0;
    for (cell, plan) in planned_any().into_iter().filter(|(_, plan)| plan["circuits"].as_array().unwrap().len() > 1) {
        seen += 1;
        let name = cell.display().to_string();
        let text = String::from_utf8(run(&["draw"], &cell)).unwrap();
        let svg = Document::parse(&text).unwrap();
        let scale = number(svg.root_element(), "data-scale");
        let border = id(&svg, "lw-clearance");
        same(number(border, "width"), scale, plan["footprint"]["length_m"].as_f64().unwrap(), &name);
        same(number(border, "height"), scale, plan["footprint"]["width_m"].as_f64().unwrap(), &name);
        let circuits = plan["circuits"].as_array().unwrap();
        let prefix = |c: usize| if c == 0 { "lw-".to_owned() } else { format!("lw-{}-", c + 1) };
        for (c, circuit) in circuits.iter().enumerate() {
            let path = id(&svg, &format!("{}path", prefix(c)));
            same(length(path.attribute("d").unwrap()), scale, circuit["loop_length_m"].as_f64().unwrap(), &name);
            for (s, station) in circuit["stations"].as_array().unwrap().iter().enumerate() {
                let zone = id(&svg, &format!("{}zone-{}", prefix(c), s + 1));
                same(number(zone, "width"), scale, station["zone_m"].as_f64().unwrap(), &name);
                let Some(other) = station["hands_to"].as_str() else { continue };
                let there = circuits.iter().position(|c| c["id"] == other).unwrap();
                if there < c {
                    continue;
                }
                let stations = circuits[there]["stations"].as_array().unwrap();
                let at = stations.iter().position(|o| o["id"] == station["id"]).unwrap();
                let facing = id(&svg, &format!("{}zone-{}", prefix(there), at + 1));
                let middle = |zone: Node<'_, '_>| number(zone, "x") + number(zone, "width") / 2.0;
                assert!(
                    (middle(zone) - middle(facing)).abs() < 2e-3,
                    "{name}: the zones of {} lie apart",
                    station["id"]
                );
                let floor = id(&svg, &format!("{}station-{}", prefix(c), s + 1));
                let (top, bottom) = (number(floor, "y"), number(floor, "y") + number(floor, "height"));
                if circuits[there]["place"]["above"].is_string() {
                    // One over the other: the floor lies outside, at the edge of the loop below.
                    let edge = if station["straight"] == "back" {
                        bottom - number(zone, "y")
                    } else {
                        top - number(zone, "y") - number(zone, "height")
                    };
                    assert!(edge.abs() < 2e-3, "{name}: {} does not begin at the loop below", station["id"]);
                    continue;
                }
                assert!((bottom - number(zone, "y")).abs() < 2e-3, "{name}: it does not begin at its loop");
                assert!(
                    (number(facing, "y") + number(facing, "height") - top).abs() < 2e-3,
                    "{name}: nor end at the other"
                );
            }
        }
        let one = String::from_utf8(run(&["draw", "--circuit", circuits[1]["id"].as_str().unwrap()], &cell)).unwrap();
        assert!(one.contains("lw-zone-1") && !one.contains("lw-2-zone-1"), "{name}");
        let dxf = run(&["draw", "--format", "dxf", "--circuit", circuits[0]["id"].as_str().unwrap()], &cell);
        assert!(String::from_utf8(dxf).unwrap().ends_with("EOF\r\n"), "{name}");
    }
    assert!(seen >= 2);
}

#[test]
fn a_plan_of_another_cell_is_refused() {
    let all = planned();
    let (one, other) = (&all[0].0, golden(&all[1].0));
    let run = Command::new(env!("CARGO_BIN_EXE_loopwright")).arg("draw").arg(one).arg(other).output().unwrap();
    assert_eq!(run.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&run.stderr).contains("LW-CANNOT-DRAW"));
    let run =
        Command::new(env!("CARGO_BIN_EXE_loopwright")).arg("draw").arg(one).args(["--sku", "none"]).output().unwrap();
    assert_eq!(run.status.code(), Some(2), "{}", String::from_utf8_lossy(&run.stderr));
}
