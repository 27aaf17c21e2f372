//! Columns and doors on the floor: what they cost, where the cell then lies, and conflicts that name them.

use loopwright_api::{
    Document, PlanAnswer, judge, plan_document, read_cell, wire::plan::Answer, wire::plan::PlanDocument,
};
use std::sync::atomic::AtomicBool;
use std::time::Duration;

fn text() -> String {
    std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/examples/between-columns.yaml")).unwrap()
}

/// The example without the lines of these places.
fn without(names: &[&str]) -> String {
    text()
        .lines()
        .filter(|line| !names.iter().any(|name| line.contains(&format!("name: {name}"))))
        .collect::<Vec<_>>()
        .join("\n")
}

fn planned(document: &Document) -> PlanDocument {
    match plan_document(document, Duration::from_secs(60), &AtomicBool::new(false)) {
        PlanAnswer::Answer(plan) => *plan,
        PlanAnswer::Fault(finding) => panic!("{finding:?}"),
    }
}

fn area(text: &str) -> f64 {
    let Answer::Planned(plan) = planned(&read_cell(text.as_bytes()).unwrap()).answer else { panic!("no plan: {text}") };
    assert!(plan.proof.footprint.proven);
    plan.footprint.area_m2
}

/// A place less never takes more floor, and the columns of the example cost some.
#[test]
fn a_column_less_is_never_worse() {
    let all = area(&text());
    let fewer: Vec<f64> =
        ["column A", "column B", "escape door"].into_iter().map(|name| area(&without(&[name]))).collect();
    assert!(fewer.iter().all(|&less| less <= all + 1e-9), "{all} and {fewer:?}");
    let none = area(&without(&["column A", "column B", "escape door", "x"]).replace("  keep_out:\n", ""));
    assert!(none < all - 1.0, "{none} and {all}");
}

/// A plan that is put over a column, or out of the hall, does not hold; one that is put elsewhere where there is room does.
#[test]
fn where_a_plan_says_that_it_lies() {
    let document = read_cell(text().as_bytes()).unwrap();
    let plan = serde_json::to_value(planned(&document)).unwrap();
    let judged = |x: f64, y: f64, turned: bool| {
        let mut plan = plan.clone();
        plan["placing"] = serde_json::json!({ "x_m": x, "y_m": y, "turned": turned });
        judge(&document, plan.to_string().as_bytes()).unwrap().lines
    };
    let (x, y) = (plan["placing"]["x_m"].as_f64().unwrap(), plan["placing"]["y_m"].as_f64().unwrap());
    assert_eq!(judged(x, y, false), []);
    assert_eq!(judged(x + 0.2, y + 0.1, false), []);
    for (x, y, turned) in [(x, y + 1.0, false), (0.0, 0.0, false), (x + 3.0, y, false), (x, y, true)] {
        let lines = judged(x, y, turned);
        assert!(lines.len() == 1 && lines[0].rule == "floor" && lines[0].pointer == "/placing", "{x} {y}: {lines:?}");
    }
}

/// With a wider column there is no plan; the conflict names it with the floor and what else, and each of them is needed.
#[test]
fn a_conflict_names_the_column() {
    let wide = text().replace(
        "name: column A, x_mm: 3100, y_mm: 3800, length_mm: 400, width_mm: 400",
        "name: column A, x_mm: 2100, y_mm: 3300, length_mm: 5000, width_mm: 800",
    );
    assert_ne!(wide, text());
    let document = read_cell(wide.as_bytes()).unwrap();
    let Answer::Impossible(impossible) = planned(&document).answer else { panic!("there is a plan") };
    assert!(impossible.conflict.minimal);
    let pointers: Vec<&str> = impossible.conflict.requirements.iter().map(|r| r.pointer.as_str()).collect();
    assert!(
        pointers.contains(&"/requirements/keep_out/0") && pointers.contains(&"/requirements/floor"),
        "{pointers:?}"
    );
    let says = &impossible.conflict.requirements[pointers.iter().position(|p| p.ends_with("keep_out/0")).unwrap()].says;
    assert!(says.contains("column A") && says.contains("5000 x 800 mm"), "{says}");
    // Each place in it is needed: without any of them there is a plan.
    for (name, index) in [("column A", 0), ("column B", 1), ("escape door", 2)] {
        if pointers.contains(&format!("/requirements/keep_out/{index}").as_str()) {
            let fewer: Vec<&str> = wide.lines().filter(|line| !line.contains(&format!("name: {name}"))).collect();
            let document = read_cell(fewer.join("\n").as_bytes()).unwrap();
            assert!(matches!(planned(&document).answer, Answer::Planned(_)), "without {name} there is no plan either");
        }
    }
}

/// Floor free in front of a station lies in the clearance as far as that reaches, and costs depth beyond it; a side with more
/// clearance costs just that.
#[test]
fn clearance_by_side_and_floor_in_front_of_stations() {
    let base = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/examples/stream-of-packs.yaml")).unwrap();
    let size = |text: &str| {
        let Answer::Planned(plan) = planned(&read_cell(text.as_bytes()).unwrap()).answer else { panic!("no plan") };
        (plan.footprint.length_m, plan.footprint.width_m)
    };
    let (length, width) = size(&base);
    let sides =
        |keys: &str| base.replace("clearance_mm: 600", &format!("clearance_mm: 600, clearance_sides_mm: {keys}"));
    let near = |(a, b): (f64, f64), (c, d): (f64, f64)| (a - c).abs() < 1e-9 && (b - d).abs() < 1e-9;
    assert!(near(size(&sides("{ left: 250 }")), (length - 0.35, width)));
    assert!(near(size(&sides("{ right: 1000, front: 600 }")), (length + 0.4, width)));
    // The deepest stations stand at the back (1500 mm, asked for) and at the front (1100 mm).
    assert!(near(size(&sides("{ back: 900, front: 500 }")), (length, width + 0.2)));
    let access = |mm: u32| base.replace("    depth_mm: 1500\n", &format!("    depth_mm: 1500\n    access_mm: {mm}\n"));
    assert!(near(size(&access(600)), (length, width)));
    assert!(near(size(&access(850)), (length, width + 0.25)));
    let both = access(850).replace("clearance_mm: 600", "clearance_mm: 600, clearance_sides_mm: { back: 850 }");
    assert!(near(size(&both), (length, width + 0.25)));
}

/// Between two loops there is no clearance: what must be free in front of a station counts in full.
#[test]
fn floor_in_front_of_a_station_between_two_loops() {
    use loopwright_api::read_any_cell;
    let base = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/examples/two-loops.yaml")).unwrap();
    let width = |text: &str| {
        let Answer::Planned(plan) = planned(&read_any_cell(text.as_bytes()).unwrap()).answer else { panic!("no plan") };
        plan.footprint.width_m
    };
    // At the front of the first loop and at the back of the second the clearance of 500 mm lies in front of the station.
    let free = |mm: u32| base.replace("    side: front\n", &format!("    side: front\n    access_mm: {mm}\n"));
    assert!((width(&free(500)) - width(&base)).abs() < 1e-9);
    assert!((width(&free(800)) - width(&base) - 0.3).abs() < 1e-9);
    // Turned to face the other loop, the same station and its access stand between the two.
    let inside = base.replace("    side: front\n", "    side: back\n");
    let more = inside.replace(
        "    side: back\n    continuous: { process_s: 0.5",
        "    side: back\n    access_mm: 500\n    continuous: { process_s: 0.5",
    );
    assert_ne!(inside, more);
    assert!(width(&more) > width(&inside) + 0.3, "{} and {}", width(&more), width(&inside));
}
