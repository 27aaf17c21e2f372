//! Documents that are let in, and what becomes of them.

use super::*;
use loopwright_solver::cell::{Carries, Since};
use loopwright_solver::load::DEFAULT_STABILITY_FACTOR;
use loopwright_solver::station::Process;
use loopwright_solver::track::{Plane, Side};
use loopwright_solver::units::{Acceleration, Metres, Seconds};

fn near(a: f64, b: f64) {
    assert!((a - b).abs() <= 1e-12 * b.abs().max(1.0), "{a} is not {b}");
}

fn metres(length: Option<Metres>) -> Option<f64> {
    length.map(|l| (l.m() * 1e9).round() / 1e9)
}

#[test]
fn quantities_are_si() {
    let document = read_cell(JARS.as_bytes()).unwrap();
    assert_eq!(document.warnings, []);
    let parts = document.cell.parts();
    assert_eq!(parts.name, "Jars in trays");
    near(parts.requirements.efficiency, 0.9);
    near(parts.requirements.headroom, 1.05);
    near(parts.requirements.clearance.front.m(), 0.65);
    near(parts.requirements.floor.unwrap().0.m(), 15.0);
    near(parts.requirements.floor.unwrap().1.m(), 6.4);
    near(parts.requirements.footprint_tolerance.m2(), 0.25);
    near(parts.requirements.max_price.unwrap().units(), 640_000.5);

    let [j4, j8] = &parts.skus[..] else { panic!() };
    near(j4.case_rate.as_per_second(), 0.4);
    // 160 products a minute, 8 in a case.
    near(j8.case_rate.as_per_second(), 20.0 / 60.0);
    assert!(j4.demanded && j8.demanded);
    assert_eq!((j4.stacks_per_case, j8.stacks_per_case), (1, 2));
    near(j4.load.extent.m(), 0.31);
    near(j4.load.mass.kg(), 1.9);
    assert_eq!(metres(j4.load.base), Some(0.3));
    assert_eq!(metres(j4.load.base_across), Some(0.22));
    assert_eq!(metres(j4.load.cg_height), Some(0.09));
    assert_eq!((j4.load.friction, j4.load.held), (Some(0.31), false));
    near(j4.load.stability_factor, DEFAULT_STABILITY_FACTOR);
    assert!(j8.load.held);
    near(j8.load.stability_factor, 0.5);
    assert_eq!(j8.load.max_acceleration, Some(Acceleration::from_m_s2(3.5)));

    let circuit = &parts.circuit;
    assert_eq!((circuit.id.as_str(), circuit.carries, circuit.items_per_carrier), ("trays", Carries::Case, 1));
    assert_eq!(circuit.max_carriers, Some(30));
    let carrier = &circuit.carrier;
    near(carrier.length.m(), 0.18);
    near(carrier.gap.m(), 0.012);
    assert_eq!(carrier.movers, 2);
    near(carrier.mass.kg(), 3.1);
    near(carrier.max_speed.m_s(), 1.8);
    near(carrier.max_acceleration.m_s2(), 8.0);
    near(carrier.max_jerk.unwrap().m_s3(), 150.0);
    near(carrier.peak_force.unwrap().n(), 70.0);
    near(carrier.continuous_force.unwrap().n(), 22.0);
    near(carrier.friction_force.n(), 5.0);
    near(carrier.price.units(), 1100.0);
    let track = &circuit.track;
    near(track.module.m(), 0.48);
    assert_eq!(track.max_modules, 24);
    near(track.width.m(), 0.34);
    near(track.module_price.units(), 1300.0);
    near(track.curve_price.units(), 2100.0);
    let forms: Vec<_> = track.forms.iter().map(|f| (f.id.as_str(), f.plane)).collect();
    assert_eq!(forms, [("wide", Plane::Flat), ("tall", Plane::Upright)]);
    near(track.forms[0].radius.m(), 0.45);
    near(track.forms[0].cross.m(), 0.06);
    near(track.forms[1].cross.m(), 0.0);
    // Two movers of 180 mm against a case of 310 mm, and a case of 420 mm against both.
    near(document.cell.rides()[0].pitch.m(), 0.372);
    near(document.cell.rides()[1].pitch.m(), 0.432);
    near(document.cell.rides()[0].phi(), 0.4 * 1.05 / 0.9);
}

#[test]
fn stations_are_in_travel_order() {
    let document = read_cell(JARS.as_bytes()).unwrap();
    let parts = document.cell.parts();
    let ids: Vec<_> = parts.stations.iter().map(|s| s.id.as_str()).collect();
    assert_eq!(ids, ["raise", "fill", "lid", "bead", "clamp", "eject"]);
    let sides: Vec<_> = parts.stations.iter().map(|s| s.side).collect();
    assert_eq!(sides[..3], [Some(Side::Front), Some(Side::Back), None]);
    near(parts.stations[0].depth.m(), 1.3);
    near(parts.stations[0].margin.m(), 0.08);
    assert_eq!(metres(parts.stations[0].frame), Some(1.1));

    let loaded: Vec<_> = parts.sections.iter().map(|s| s.loaded).collect();
    assert_eq!(loaded, [true, true, true, true, true, false]);
    let lid = &parts.sections[1];
    near(lid.ride_through.s(), 2.0);
    near(lid.min_length.m(), 0.5);
    near(lid.min_time.s(), 0.5);
    near(lid.max_time.unwrap().s(), 9.0);
    let windows: Vec<_> = parts.windows.iter().map(|w| (w.from, w.to, w.since)).collect();
    assert_eq!(windows, [(3, 4, Since::Left), (1, 4, Since::TakenIn)]);
    assert_eq!((parts.windows[0].max, parts.windows[0].min), (Some(Seconds::from_s(5.0)), Some(Seconds::from_s(1.0))));
    assert_eq!(parts.windows[1].min, None);
}

#[test]
fn work_is_resolved_for_every_sku() {
    let document = read_cell(JARS.as_bytes()).unwrap();
    let stations = &document.cell.parts().stations;
    let stop = stations[1].intermittent.as_ref().unwrap().work.iter();
    let stop: Vec<_> = stop.map(|w| (w.base.s(), w.per_extra.s(), w.settle.s(), w.max_batch)).collect();
    assert_eq!(stop, [(1.7, 0.0, 0.3, 4), (1.4, 0.4, 0.0, 4)]);
    let flow = |station: usize| {
        let mode = stations[station].continuous.as_ref().unwrap();
        mode.work.iter().map(|w| (w.process, w.max_batch)).collect::<Vec<_>>()
    };
    let time = |process, back: Option<f64>| Process::Time {
        process: Seconds::from_s(process),
        back: back.map(Seconds::from_s),
    };
    assert_eq!(flow(1), [(time(1.8, None), 2), (time(2.2, None), 2)]);
    assert_eq!(flow(3), [(Process::Length(Metres::from_mm(380.0)), 1), (Process::Length(Metres::from_mm(520.0)), 1)]);
    assert_eq!(flow(4), [(time(2.5, Some(0.9)), 3), (time(3.0, Some(0.9)), 2)]);
    let bead = stations[3].continuous.as_ref().unwrap();
    assert!(!bead.may_wait);
    near(bead.max_speed.unwrap().m_s(), 0.6);
    let clamp = stations[4].continuous.as_ref().unwrap();
    assert_eq!((clamp.max_batch, clamp.may_wait), (3, true));
    near(clamp.price.base.units(), 41000.0);
    near(clamp.price.per_head.units(), 9000.0);
}

#[test]
fn the_way_back_to_the_text() {
    let document = read_cell(JARS.as_bytes()).unwrap();
    let source = &document.source;
    let given = |pointer: Option<String>| document.value_at(&pointer.unwrap()).unwrap();
    assert_eq!(given(source.rate(0)), 24);
    assert_eq!(source.rate(1).unwrap(), "/skus/1/net_rate/products_per_min");
    assert_eq!(given(source.rate(1)), 160);
    assert_eq!(given(source.load(1))["extent_mm"], 420);
    for (index, station) in document.cell.parts().stations.iter().enumerate() {
        assert_eq!(given(source.station(index))["id"], station.id.as_str());
    }
    let segments: Vec<_> = (0..6).map(|i| source.segment(i)).collect();
    assert_eq!(segments[1].as_deref(), Some("/segments/0"));
    assert_eq!(segments[5].as_deref(), Some("/segments/1"));
    assert_eq!(segments.iter().flatten().count(), 2);
    assert_eq!(given(source.window(1))["max_s"], 40);
    assert_eq!(document.value_at(&source.circuit()).unwrap()["max_carriers"], 30);
    assert_eq!(document.value_at("/circuits/0/track/forms/1/cross_mm"), None);
    let outside =
        [source.rate(2), source.sku(2), source.load(2), source.station(6), source.segment(6), source.window(2)];
    assert_eq!(outside, [const { None }; 6]);
    let line = JARS.lines().position(|line| line.contains("products_per_min")).unwrap() as u32 + 1;
    assert_eq!(source.place(&source.rate(1).unwrap()).unwrap().line, line);
    near(document.failures(0).unwrap().mean_time_to_repair_s, 120.0);
    assert_eq!(document.failures(1), None);
}

/// The published types hold every key that is read and no other: written out and read again, nothing changes.
#[test]
fn published_document_reads_back() {
    let document = read_cell(JARS.as_bytes()).unwrap();
    let text = serde_json::to_string(&document.wire).unwrap();
    let again = read_cell(text.as_bytes()).unwrap();
    assert_eq!(again.wire, document.wire);
    assert_eq!(again.cell, document.cell);
}

#[test]
fn json_and_yaml_are_one_document() {
    let json = json_of(JARS);
    let yaml = read_cell(JARS.as_bytes()).unwrap();
    let tabbed = serde_json::to_string_pretty(&json).unwrap().replace("  ", "\t");
    for text in [json.to_string(), tabbed] {
        assert_eq!(read_cell(text.as_bytes()).unwrap().cell, yaml.cell);
    }
}

const SMALL: &str = "
format: 1.0
name: 'Least'
requirements:
skus: [{id: A, net_rate: {cases_per_min: 1e1}, loads: ~}]
circuits:
- id: loop
  carries: stack
  carrier: {length_mm: 100, max_speed_m_s: 1, max_accel_m_s2: 5.0}
  track: {module_mm: 500, width_mm: 0, forms: [{id: f, plane: flat, radius_mm: .5e3}]}
  order: [only]
stations: [{id: only, intermittent: {base_s: 0}}]
";

/// One station: the section goes from it to itself.
#[test]
fn defaults() {
    let document = read_cell(SMALL.as_bytes()).unwrap();
    assert_eq!(document.warnings, []);
    let parts = document.cell.parts();
    near(parts.requirements.efficiency, 1.0);
    near(parts.requirements.headroom, 1.0);
    assert_eq!(parts.requirements.floor, None);
    assert_eq!((parts.circuit.track.max_modules, parts.circuit.max_carriers), (40, None));
    assert_eq!((parts.circuit.items_per_carrier, parts.circuit.carrier.movers), (1, 1));
    assert_eq!(parts.skus[0].load, loopwright_solver::load::Load::default());
    assert_eq!(parts.sections, [loopwright_solver::section::SectionLimits::default()]);
    assert_eq!(parts.stations[0].intermittent.as_ref().unwrap().max_batch, 1);
    assert_eq!(document.source.load(0), None);
    let with_segment = format!("{SMALL}segments: [{{from: only, to: only, max_s: 3}}]\n");
    let document = read_cell(with_segment.as_bytes()).unwrap();
    assert_eq!(document.cell.parts().sections[0].max_time, Some(Seconds::from_s(3.0)));
}

#[test]
fn chance_is_read() {
    use loopwright_solver::chance::{Behaviour, Counts, Law, Stops, Supply, Surge};
    let text = JARS.replace(
        "    failures: { mean_time_between_s: 5400, mean_time_to_repair_s: 120 }",
        "    failures: { mean_time_between_s: 5400, mean_time_to_repair_s: 120, counts: calendar, between: \
         { distribution: constant }, repair: { distribution: lognormal, variation: 0.7 } }\n    short_stops: \
         { mean_time_between_s: 800, mean_time_to_repair_s: 8 }\n    work_times: { distribution: triangular, variation: 0.1 }\n    \
         supply: { over_net_rate: 1.3, gaps: { distribution: uniform, variation: 0.5 }, room_carriers: 6, outages: \
         { mean_time_between_s: 900, mean_time_to_repair_s: 60 }, surge: { factor: 1.2, every_s: 600, lasts_s: 60 } }",
    );
    let document = read_cell(text.as_bytes()).unwrap();
    let stops = |between_s, between, repair_s, repair, counts| Stops { between_s, between, repair_s, repair, counts };
    let (exponential, work) = (Law::Exponential, Counts::Operation);
    let expected = Behaviour {
        work: Law::Triangular(0.1),
        failures: Some(stops(5400.0, Law::Constant, 120.0, Law::Lognormal(0.7), Counts::Calendar)),
        short_stops: Some(stops(800.0, exponential, 8.0, exponential, work)),
        supply: Some(Supply {
            over_net_rate: 1.3,
            gap: Law::Uniform(0.5),
            outages: Some(stops(900.0, exponential, 60.0, exponential, work)),
            surge: Some(Surge { factor: 1.2, every_s: 600.0, for_s: 60.0 }),
            room: 6,
        }),
    };
    assert_eq!(document.cell.parts().stations[0].behaviour, expected);
    // Defaults: what the plain key means.
    let plain = read_cell(JARS.as_bytes()).unwrap();
    let failures = stops(5400.0, exponential, 120.0, exponential, work);
    let only = Behaviour { failures: Some(failures), ..Behaviour::default() };
    assert_eq!(plain.cell.parts().stations[0].behaviour, only);
}
