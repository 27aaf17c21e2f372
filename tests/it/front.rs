//! The plans that no other beats, against every way to build small cells.

use loopwright_api::alternatives::{Doing, Nobody, Report, front};
use loopwright_api::{Document, read_cell};
use loopwright_solver::cell::Cell;
use loopwright_solver::option::Mode;
use loopwright_solver::study::{Clock, Outcome, study};
use loopwright_solver::units::{Area, Money};
use serde_json::Value;
use std::path::PathBuf;
use std::sync::Mutex;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

static NEVER: AtomicBool = AtomicBool::new(false);

fn found(document: &Document, limit: Duration) -> loopwright_api::wire::alternatives::FrontDocument {
    front(document, &Doing::new(limit, &NEVER, &Nobody)).unwrap()
}

type Sizes = (f64, u32, f64);

fn beats(a: &Sizes, b: &Sizes) -> bool {
    let close = |x: f64, y: f64| (x - y).abs() <= 1e-6 * x.abs().max(1.0);
    let no_worse = |x: f64, y: f64| x <= y || close(x, y);
    let better = |x: f64, y: f64| x < y && !close(x, y);
    no_worse(a.0, b.0) && a.1 <= b.1 && no_worse(a.2, b.2) && (better(a.0, b.0) || a.1 < b.1 || better(a.2, b.2))
}

/// Sizes of the best plan of a cell with all choices but the sharing of the track and the carriers made.
fn sizes(cell: &Cell) -> Option<Sizes> {
    match study(cell, &Clock::new(Duration::from_secs(2), &NEVER)) {
        // What is not proven is no measure: the cell is then left out.
        Outcome::Planned(found) if !found.carriers.proven => Some((f64::NAN, 0, 0.0)),
        Outcome::Planned(found) => {
            let numbers = found.plan.numbers(cell).unwrap();
            Some((numbers.footprint.area().m2(), found.plan.carriers, numbers.price.units()))
        }
        Outcome::Impossible(_) => None,
        Outcome::Stopped(..) => Some((f64::NAN, 0, 0.0)),
        Outcome::Broken(..) => panic!("a plan that breaks a rule"),
    }
}

/// Every form, number of modules, way of working and heads; with these made, fewer carriers are never dearer. None where they
/// are too many.
fn every_way(cell: &Cell) -> Option<Vec<Sizes>> {
    let parts = cell.parts();
    let ways: Vec<Vec<(Mode, u32)>> = parts
        .stations
        .iter()
        .map(|s| s.allowed_options(cell.rides(), 1.0).iter().map(|o| (o.mode, o.heads)).collect())
        .collect();
    let combinations: usize = ways.iter().map(Vec::len).product();
    let loops = parts.circuit.track.forms.len() * parts.circuit.track.max_modules as usize;
    if combinations * loops > 120 {
        return None;
    }
    let mut all = Vec::new();
    for form in 0..parts.circuit.track.forms.len() {
        for modules in 1..=parts.circuit.track.max_modules {
            for mut at in 0..combinations {
                let mut parts = parts.clone();
                parts.requirements.footprint_tolerance = Area::from_m2(0.0);
                parts.circuit.fixed.form = Some(form);
                parts.circuit.fixed.modules = Some(modules);
                for (station, ways) in parts.stations.iter_mut().zip(&ways) {
                    let (mode, heads) = ways[at % ways.len()];
                    at /= ways.len();
                    (station.fixed.mode, station.fixed.heads) = (Some(mode), Some(heads));
                }
                // Less floor on other sides of the loop may cost carriers: the fewest of each are plans too.
                let mut most = u32::MAX;
                loop {
                    let mut fewer = parts.clone();
                    fewer.circuit.max_carriers = Some(most.min(fewer.circuit.max_carriers.unwrap_or(u32::MAX)));
                    let Some(found) = sizes(&Cell::new(fewer).unwrap()) else { break };
                    if found.0.is_nan() {
                        return None;
                    }
                    all.push(found);
                    if found.1 <= 1 {
                        break;
                    }
                    most = found.1 - 1;
                }
            }
        }
    }
    Some(all)
}

#[test]
fn as_every_way_to_build_small_cells() {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/data/optima");
    let mut paths: Vec<PathBuf> = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    let (mut cells, mut several, mut plans) = (0, 0, 0);
    for path in paths {
        let data: Value = serde_json::from_str(&std::fs::read_to_string(&path).unwrap()).unwrap();
        let document = read_cell(data["cell"].to_string().as_bytes()).unwrap();
        let Some(all) = every_way(&document.cell) else { continue };
        let name = path.display();
        let mut unbeaten: Vec<Sizes> = Vec::new();
        for one in &all {
            let known = |o: &Sizes| !beats(o, one) && !beats(one, o) && o.1 == one.1 && (o.0 - one.0).abs() < 1e-6;
            if !all.iter().any(|other| beats(other, one)) && !unbeaten.iter().any(known) {
                unbeaten.push(*one);
            }
        }
        let front = found(&document, Duration::from_secs(10));
        assert!(front.complete, "{name}");
        let listed: Vec<Sizes> = front
            .plans
            .iter()
            .map(|p| (p.footprint.as_ref().unwrap().area_m2, p.carriers.unwrap(), p.price.unwrap()))
            .collect();
        let near = |a: &Sizes, b: &Sizes| !beats(a, b) && !beats(b, a) && a.1 == b.1 && (a.0 - b.0).abs() < 1e-6;
        assert!(unbeaten.iter().all(|u| listed.iter().any(|l| near(u, l))), "{name}: {unbeaten:?} and {listed:?}");
        assert!(listed.iter().all(|l| unbeaten.iter().any(|u| near(u, l))), "{name}: {unbeaten:?} and {listed:?}");
        cells += 1;
        several += u32::from(listed.len() > 1);
        plans += listed.len();
    }
    println!("{cells} cells, {several} of them with several plans, {plans} plans");
    assert!(cells >= 20 && several >= 5, "{cells} cells, {several} with several plans");
}

/// Whatever of it the time allows is beaten by none; and with choices held it keeps to them.
#[test]
fn what_is_listed_is_never_beaten() {
    let text = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/examples/wraparound-glue.yaml")).unwrap();
    let document = read_cell(text.as_bytes()).unwrap();
    let all = found(&document, Duration::from_secs(120));
    assert!(all.complete && all.plans.len() > 1 && all.plans.iter().all(|p| p.proven), "{all:#?}");
    let sizes: Vec<Sizes> = all
        .plans
        .iter()
        .map(|p| (p.footprint.as_ref().unwrap().area_m2, p.carriers.unwrap(), p.price.unwrap()))
        .collect();
    for a in &sizes {
        assert!(!sizes.iter().any(|b| beats(b, a)), "{sizes:?}");
    }
    let short = found(&document, Duration::ZERO);
    assert!(!short.complete && short.plans.is_empty());
    let mut held = serde_json::to_value(&document.wire).unwrap();
    held["circuits"][0]["max_carriers"] = (sizes[0].1 - 1).into();
    let held = found(&read_cell(held.to_string().as_bytes()).unwrap(), Duration::from_secs(120));
    assert!(held.complete && held.plans.iter().all(|p| p.carriers.unwrap() < sizes[0].1), "{held:#?}");
    // A cell without a plan says why; one whose efficiency is to be worked out is refused.
    let none = std::fs::read(concat!(env!("CARGO_MANIFEST_DIR"), "/examples/no-room-to-wait.yaml")).unwrap();
    let none = found(&read_cell(&none).unwrap(), Duration::from_secs(60));
    assert!(none.complete && none.plans.is_empty() && !none.reasons.is_empty(), "{none:?}");
    let reach = text.replace("requirements: {", "requirements: { reach_net_rate: {},");
    let reach = read_cell(reach.as_bytes()).unwrap();
    let refused = front(&reach, &Doing::new(Duration::from_secs(60), &NEVER, &Nobody)).unwrap_err();
    assert_eq!(refused.pointer, "/requirements/reach_net_rate");
    // Less money than any plan costs: none, and that is proven.
    let cheapest = sizes.iter().map(|s| s.2).fold(f64::INFINITY, f64::min);
    let mut parts = document.cell.parts().clone();
    parts.requirements.max_price = Some(Money::from_units(cheapest * 0.999));
    assert!(self::sizes(&Cell::new(parts).unwrap()).is_none(), "the cheapest plan is on the front");
}

/// Hears all that is told.
#[derive(Default)]
struct Heard(Mutex<Vec<(usize, usize)>>);

impl Report for Heard {
    fn done(&self, parts: usize, of: usize) {
        self.0.lock().unwrap().push((parts, of));
    }
}

/// The share that is done never falls from round to round, ends with the whole, and only there.
#[test]
fn progress_never_goes_back() {
    let text = std::fs::read(concat!(env!("CARGO_MANIFEST_DIR"), "/examples/wraparound-glue.yaml")).unwrap();
    let document = read_cell(&text).unwrap();
    let heard = Heard::default();
    let found = front(&document, &Doing::new(Duration::from_secs(120), &NEVER, &heard)).unwrap();
    let told = heard.0.into_inner().unwrap();
    // Several rounds: not more than four zones go into one.
    assert!(found.complete && found.zones > 4 && told.len() > found.zones as usize, "{} {told:?}", found.zones);
    let share = |&(parts, of): &(usize, usize)| parts as f64 / of as f64;
    assert!(told.windows(2).all(|w| share(&w[0]) <= share(&w[1])), "{told:?}");
    let steps = told.windows(2).filter(|w| share(&w[0]) < share(&w[1])).count();
    assert!(steps > 4, "{told:?}");
    assert!(told.iter().rev().skip(1).all(|one| one.0 < one.1), "{told:?}");
    assert_eq!(told.last().map(share), Some(1.0));
    // A search that the time ends does not end with the whole.
    let heard = Heard::default();
    let short = front(&document, &Doing::new(Duration::ZERO, &NEVER, &heard)).unwrap();
    assert!(!short.complete && heard.0.into_inner().unwrap().iter().all(|one| one.0 < one.1));
}
