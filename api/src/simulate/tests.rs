//! What a simulation document says, against the plan it was made of.

use super::simulate;
use crate::alternatives::{Doing, Nobody};
use crate::codes::Code;
use crate::wire::simulation::{Certain, SimulationDocument, SimulationRun};
use crate::{Document, read_cell};
use std::path::Path;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

fn short() -> SimulationRun {
    SimulationRun { hours: 0.5, most_replications: 12, warm_up_s: Some(120.0), ..SimulationRun::default() }
}

fn played(document: &Document, plan: &[u8], run: &SimulationRun) -> SimulationDocument {
    let cancel = AtomicBool::new(false);
    simulate(document, plan, run, &Doing::new(Duration::from_secs(600), &cancel, &Nobody)).unwrap()
}

/// Every example of one circuit with its plan.
fn each(look: impl Fn(&str, &str, &[u8])) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples");
    let mut seen = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        let Some(stem) = name.strip_suffix(".plan.json") else { continue };
        let plan = std::fs::read(&path).unwrap();
        if !String::from_utf8_lossy(&plan).contains("\"planned\"") {
            continue;
        }
        let cell =
            [".yaml", ".json"].iter().find_map(|end| std::fs::read(path.with_file_name(format!("{stem}{end}"))).ok());
        let cell = cell.unwrap();
        // One circuit is simulated.
        if crate::read_any_cell(&cell).unwrap().coupled.is_some() {
            continue;
        }
        look(&name, &String::from_utf8(cell).unwrap(), &plan);
        seen += 1;
    }
    assert!(seen >= 5, "{seen}");
}

/// Shares add up, levels fit their sections, undisturbed rates are the exact ones, and a rate is never above them.
#[test]
fn every_example_adds_up() {
    each(|name, cell, plan| {
        let document = read_cell(cell.as_bytes()).unwrap();
        let found = played(&document, plan, &short());
        assert!(!found.stopped && found.skus.len() == document.wire.skus.len(), "{name}");
        let read = crate::judge::plan_of(&document, plan).unwrap();
        let numbers = read.numbers(&document.cell).unwrap();
        for (k, sku) in found.skus.iter().enumerate() {
            let exact = loopwright_solver::rules::exact(&numbers.ring(k, read.carriers)).0.rate().as_per_minute();
            let carriers = document.cell.rides()[k].rate.as_per_minute();
            let requirements = document.cell.parts().requirements;
            let cases = exact / carriers * sku.asked_net_rate_per_min * requirements.headroom / requirements.efficiency;
            assert!((sku.undisturbed_rate_per_min - cases).abs() < 1e-9 * cases, "{name} {}", sku.id);
            assert!(sku.net_rate_per_min.mean <= cases * 1.001, "{name} {}", sku.id);
            for s in &sku.stations {
                let all = s.working + s.starved + s.unfed + s.blocked + s.paced + s.failed + s.short_stop;
                assert!((all - 1.0).abs() < 1e-9, "{name} {} {}: {all}", sku.id, s.id);
            }
            let mut held = 0.0;
            for s in &sku.sections {
                assert!(s.slots_held.most <= s.slots && s.queue.most <= s.slots, "{name}: {s:?}");
                assert!(s.slots_held.median <= s.slots_held.p95 && s.slots_held.p95 <= s.slots_held.most);
                assert!(s.stay.mean_s <= s.stay.longest_s);
                held += s.slots_held.mean;
            }
            assert!(held <= f64::from(found.carriers) * 2.0, "{name}");
            // Little's law (J. D. C. Little, Operations Research 9, 1961): carriers = rate x time round the loop.
            let rate = sku.net_rate_per_min.mean / cases * exact / 60.0;
            let expected = f64::from(found.carriers) / rate;
            assert!(
                (sku.lap.mean_s - expected).abs() < 0.05 * expected,
                "{name} {}: {} {expected}",
                sku.id,
                sku.lap.mean_s
            );
        }
    });
}

/// Losses add up to what is lost, a cause that is not there costs nothing, and one that is there alone costs all.
#[test]
fn losses_add_up() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples");
    let document = read_cell(&std::fs::read(root.join("short-changes.yaml")).unwrap()).unwrap();
    let plan = std::fs::read(root.join("short-changes.plan.json")).unwrap();
    let found = played(&document, &plan, &short());
    for sku in &found.skus {
        let lost: f64 = sku.losses.iter().map(|l| l.lost_per_min).sum();
        let all = (sku.undisturbed_rate_per_min - sku.net_rate_per_min.mean).max(0.0);
        assert!((lost - all).abs() < 1e-9, "{}: {lost} of {all}", sku.id);
        assert!(sku.losses.len() >= 2 && sku.losses.iter().all(|l| l.lost_per_min >= 0.0), "{:?}", sku.losses);
    }
    // One cause alone.
    let mut value = serde_json::to_value(&document.wire).unwrap();
    let mut kept = String::new();
    for station in value["stations"].as_array_mut().unwrap() {
        for key in ["failures", "short_stops", "supply", "work_times"] {
            if station[key].is_object() && (!kept.is_empty() || key != "failures") {
                station.as_object_mut().unwrap().remove(key);
            } else if station[key].is_object() {
                kept = station["id"].as_str().unwrap().to_owned();
            }
        }
    }
    let document = read_cell(value.to_string().as_bytes()).unwrap();
    for sku in played(&document, &plan, &short()).skus {
        assert_eq!(sku.losses.len(), 1);
        assert_eq!(sku.losses[0].station, kept);
        let gain = sku.losses[0].gain_per_min;
        let all = sku.undisturbed_rate_per_min - sku.net_rate_per_min.mean;
        assert!((gain.mean - all).abs() <= 0.05 * all + gain.half_width, "{gain:?} of {all}");
    }
}

/// Without failures the rate is the exact one, with no interval.
#[test]
fn without_chance_the_rate_is_exact() {
    let compared = std::cell::Cell::new(0);
    each(|_, cell, plan| {
        let document = read_cell(cell.as_bytes()).unwrap();
        if document.wire.stations.iter().all(|s| s.failures.is_none()) {
            for sku in played(&document, plan, &short()).skus {
                assert_eq!(sku.net_rate_per_min.mean, sku.undisturbed_rate_per_min);
                assert_eq!(sku.net_rate_per_min.half_width, 0.0);
                assert_ne!(sku.makes_net_rate, Certain::Open);
                compared.set(compared.get() + 1);
            }
        }
    });
    assert!(compared.get() >= 3, "{}", compared.get());
}

/// One station in the small cell that fails: the more, the less it makes, and never more than its availability allows.
#[test]
fn failures_cost_what_they_must() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples");
    let cell = std::fs::read_to_string(root.join("opposed-pairs.json")).unwrap();
    let plan = std::fs::read(root.join("opposed-pairs.plan.json")).unwrap();
    let with = |between: f64| {
        let mut value: serde_json::Value = serde_json::from_str(&cell).unwrap();
        value["stations"][0]["failures"] =
            serde_json::json!({ "mean_time_between_s": between, "mean_time_to_repair_s": 60.0 });
        let document = read_cell(value.to_string().as_bytes()).unwrap();
        played(&document, &plan, &SimulationRun { hours: 8.0, ..short() }).skus.swap_remove(0)
    };
    let (seldom, often) = (with(3000.0), with(600.0));
    assert!(often.net_rate_per_min.mean < seldom.net_rate_per_min.mean);
    assert!(seldom.efficiency.mean < 1.0 && often.efficiency.mean > 0.5);
    let failing = often.stations.iter().find(|s| s.failed > 0.0).unwrap();
    // Repair over repair and work: 60 / 660 of the time that is worked or stood.
    let share = failing.failed / (failing.failed + failing.working);
    assert!((share - 60.0 / 660.0).abs() < 0.02, "{share}");
    assert_eq!(often.stations.iter().filter(|s| s.failed > 0.0).count(), 1);
}

/// Without chance the equations give the exact rate as a fraction: on every example, and on a thousand random cells with random
/// plans. Where the state does not recur, its slope within 1e-4.
#[test]
fn certain_rates_are_exact_fractions() {
    use loopwright_solver::sim::{Scenario, certain_rate};
    let mut cells: Vec<(String, Vec<u8>)> = Vec::new();
    let compared = std::cell::Cell::new((0, 0));
    let compare = |name: &str, ring: &loopwright_solver::ring::Ring| {
        let exact = loopwright_solver::rules::exact(ring).0;
        let Some(scenario) = Scenario::certain(ring) else { return };
        let (found, recurs) = certain_rate(&scenario, 20_000);
        if recurs {
            assert_eq!(found, exact, "{name}: {ring:#?}");
        } else {
            let (a, b) = (found.rate().as_per_second(), exact.rate().as_per_second());
            assert!((a - b).abs() <= 1e-4 * b, "{name}: {a} {b}");
        }
        compared.set((compared.get().0 + 1, compared.get().1 + u32::from(recurs)));
    };
    let all = std::cell::RefCell::new(&mut cells);
    each(|name, cell, plan| {
        let document = read_cell(cell.as_bytes()).unwrap();
        let read = crate::judge::plan_of(&document, plan).unwrap();
        let numbers = read.numbers(&document.cell).unwrap();
        (0..document.wire.skus.len()).for_each(|k| compare(name, &numbers.ring(k, read.carriers)));
        all.borrow_mut().push((serde_json::to_string(&document.wire).unwrap(), plan.to_vec()));
    });
    let examples = compared.take();
    assert!(examples.0 > 50 && examples.1 * 10 > examples.0 * 9, "{examples:?}");
    let mut r = crate::testing::Random(31);
    let mut tries = 0;
    while compared.get().0 < 1_000 {
        tries += 1;
        assert!(tries < 20_000, "{:?}", compared.get());
        let (cell, plan) = &cells[r.below(cells.len())];
        let mut value: serde_json::Value = serde_json::from_str(cell).unwrap();
        let (skus, k) = (value["skus"].as_array().unwrap().len(), r.below(1 << 20));
        let sku = value["skus"][k % skus].take();
        for station in value["stations"].as_array_mut().unwrap() {
            station["per_sku"] = serde_json::json!({});
            for (mode, key) in [("intermittent", "base_s"), ("continuous", "process_s"), ("intermittent", "settle_s")] {
                if let Some(time) = station.get(mode).and_then(|m| m.get(key)).and_then(serde_json::Value::as_f64) {
                    // Tenths of a second, so that ties come up.
                    station[mode][key] = ((time * 10.0).round() / 10.0 + 0.1 * r.below(15) as f64 + 0.1).into();
                }
            }
        }
        value["skus"] = serde_json::json!([sku]);
        let Ok(document) = read_cell(value.to_string().as_bytes()) else { continue };
        let Ok(mut read) = crate::judge::plan_of(&document, plan) else { continue };
        let pitch = document.cell.rides()[0].pitch.m();
        for length in &mut read.sections {
            *length = loopwright_solver::units::Metres::from_m(length.m() + pitch * r.below(4) as f64);
        }
        let Ok(numbers) = read.numbers(&document.cell) else { continue };
        let most: u32 = numbers.slots.iter().map(|s| s[0]).sum();
        compare("random", &numbers.ring(0, 1 + u32::try_from(r.below(most as usize)).unwrap()));
    }
    let (all, recurred) = compared.get();
    assert!(recurred * 10 > all * 9, "{recurred} of {all}");
}

#[test]
fn wrong_runs_are_refused() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples");
    let document = read_cell(&std::fs::read(root.join("opposed-pairs.json")).unwrap()).unwrap();
    let plan = std::fs::read(root.join("opposed-pairs.plan.json")).unwrap();
    let cancel = AtomicBool::new(false);
    let wrong = [
        (SimulationRun { hours: 0.0, ..short() }, Code::OutOfRange, "/run/hours"),
        (SimulationRun { hours: f64::NAN, ..short() }, Code::OutOfRange, "/run/hours"),
        (SimulationRun { warm_up_s: Some(-1.0), ..short() }, Code::OutOfRange, "/run/warm_up_s"),
        (SimulationRun { least_replications: 1, ..short() }, Code::OutOfRange, "/run/least_replications"),
        (SimulationRun { most_replications: 3, ..short() }, Code::OutOfRange, "/run/most_replications"),
        (SimulationRun { half_width: 0.0, ..short() }, Code::OutOfRange, "/run/half_width"),
        (SimulationRun { sku: Some("none".to_owned()), ..short() }, Code::UnknownId, "/run/sku"),
        (
            SimulationRun { hours: 1000.0, most_replications: 100_000, ..short() },
            Code::TooMany,
            "/run/most_replications",
        ),
    ];
    for (run, code, pointer) in wrong {
        let doing = Doing::new(Duration::from_secs(60), &cancel, &Nobody);
        let found = simulate(&document, &plan, &run, &doing).unwrap_err();
        assert!(found.iter().any(|f| f.code == code && f.pointer == pointer), "{run:?}: {found:?}");
    }
    // A cancelled one says so.
    let cancel = AtomicBool::new(true);
    let doing = Doing::new(Duration::from_secs(60), &cancel, &Nobody);
    assert!(simulate(&document, &plan, &short(), &doing).unwrap().stopped);
}

/// The small cell with keys of one station changed, over eight hours.
fn with_chance(keys: &serde_json::Value) -> crate::wire::simulation::SimulatedSku {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples");
    let cell = std::fs::read_to_string(root.join("opposed-pairs.json")).unwrap();
    let plan = std::fs::read(root.join("opposed-pairs.plan.json")).unwrap();
    let mut value: serde_json::Value = serde_json::from_str(&cell).unwrap();
    for (key, given) in keys.as_object().unwrap() {
        value["stations"][0][key] = given.clone();
    }
    let document = read_cell(value.to_string().as_bytes()).unwrap();
    played(&document, &plan, &SimulationRun { hours: 8.0, ..short() }).skus.swap_remove(0)
}

/// What comes too slowly sets the rate: exactly, since every carrier uses one; and outages take their share of it.
#[test]
fn a_feed_that_is_too_slow_sets_the_rate() {
    let share = 0.5;
    let slow = with_chance(&serde_json::json!({ "supply": { "over_net_rate": share, "room_carriers": 4 } }));
    let expected = share * slow.asked_net_rate_per_min;
    assert!((slow.net_rate_per_min.mean - expected).abs() < 2e-3 * expected, "{:?} {expected}", slow.net_rate_per_min);
    assert!(slow.stations.iter().map(|s| s.unfed).fold(0.0, f64::max) > 0.1);
    let outages = serde_json::json!({ "supply": { "over_net_rate": share, "room_carriers": 4, "outages":
        { "mean_time_between_s": 300.0, "mean_time_to_repair_s": 100.0 } } });
    let gaps = with_chance(&outages).net_rate_per_min.mean;
    assert!((gaps - 0.75 * expected).abs() < 0.02 * expected, "{gaps} {expected}");
    // Twice as fast for half of the time.
    let surge = serde_json::json!({ "supply": { "over_net_rate": share, "room_carriers": 4, "surge":
        { "factor": 1.5, "every_s": 200.0, "lasts_s": 100.0 } } });
    let fast = with_chance(&surge).net_rate_per_min.mean;
    assert!((fast - 1.25 * expected).abs() < 0.02 * expected, "{fast} {expected}");
}

/// Stops by the clock take their share of all time, stops of work of the work; short ones are counted apart.
#[test]
fn stops_are_counted_by_their_kind() {
    let stops = |counts: &str| {
        serde_json::json!({ "mean_time_between_s": 270.0, "mean_time_to_repair_s": 30.0,
        "counts": counts, "between": { "distribution": "gamma", "variation": 0.5 },
        "repair": { "distribution": "lognormal", "variation": 0.8 } })
    };
    let clock = with_chance(&serde_json::json!({ "short_stops": stops("calendar") }));
    let of = clock.stations.iter().find(|s| s.short_stop > 0.0).unwrap();
    assert!((of.short_stop - 0.1).abs() < 0.01 && of.failed == 0.0, "{of:?}");
    let work = with_chance(&serde_json::json!({ "failures": stops("operation") }));
    let of = work.stations.iter().find(|s| s.failed > 0.0).unwrap();
    assert!((of.failed / (of.failed + of.working) - 0.1).abs() < 0.01 && of.short_stop == 0.0, "{of:?}");
}

/// Spread of work alone costs rate where there is little room, and the more the wider it is.
#[test]
fn spread_of_work_costs_rate() {
    let with = |variation: f64| {
        let keys = serde_json::json!({ "work_times": { "distribution": "gamma", "variation": variation } });
        with_chance(&keys)
    };
    let (narrow, wide) = (with(0.1), with(1.0));
    assert!(wide.net_rate_per_min.mean < narrow.net_rate_per_min.mean);
    assert!(narrow.net_rate_per_min.mean <= narrow.undisturbed_rate_per_min * 1.001);
    assert!(narrow.replications > 1);
}

/// On the examples sections absorb the stops that were asked of them, or nearly, and power is what its parts make.
#[test]
fn stops_are_absorbed_and_power_adds_up() {
    let stops = std::cell::Cell::new((0, 0));
    each(|name, cell, plan| {
        let document = read_cell(cell.as_bytes()).unwrap();
        let read = crate::judge::plan_of(&document, plan).unwrap();
        let numbers = read.numbers(&document.cell).unwrap();
        for sku in played(
            &document,
            plan,
            &SimulationRun { hours: 0.01, most_replications: 2, least_replications: 2, ..short() },
        )
        .skus
        {
            let k = document.wire.skus.iter().position(|s| s.id == sku.id).unwrap();
            for stop in &sku.stop_tests {
                // The slots that the model asks for do not count carriers that are under way, so that a batch may wait a moment.
                assert!(stop.blocked_s < 0.5 * stop.ride_through_s, "{name} {}: {stop:?}", sku.id);
                assert_eq!(stop.holds, stop.blocked_s == 0.0);
                stops.set((stops.get().0 + 1, stops.get().1 + u32::from(stop.holds)));
            }
            let power = sku.power.unwrap();
            assert!(power.mean_w > 0.0 && power.peak_w >= power.mean_w, "{name} {}", sku.id);
            let carriers: u32 = power.modules.iter().map(|m| m.carriers_at_peak).sum();
            assert_eq!(carriers, read.carriers, "{name} {}", sku.id);
            // The heat of all modules is that of all carriers: near the motor duty, which leaves out moves within queues.
            let heat: f64 = power.modules.iter().map(|m| m.rms_n * m.rms_n).sum();
            let rms = (heat / f64::from(read.carriers)).sqrt();
            let duty = loopwright_solver::rules::motor_rms(&document.cell, &read, &numbers, k).unwrap().n();
            assert!(rms > 0.7 * duty && rms < 2.0 * duty, "{name} {}: {rms} against {duty}", sku.id);
        }
    });
    let (all, held) = stops.get();
    assert!(all > 5 && held * 2 > all, "{held} of {all}");
}
