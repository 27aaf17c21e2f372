//! Nets: the timed run against the union of the event graphs, and what joining rings can and cannot do.

use super::*;
use crate::net::{Joint, Net, NoNet};
use crate::option::Flow;
use crate::ring::{Ring, RingSection, RingStation};
use crate::sim::tests::Random;
use crate::throughput::{NetLimit, Times as FiringTimes, net_rate, net_rate_or_miss, rate};
use crate::units::{CarrierRate, Micros};

const STEP_US: i64 = 100_000;

fn time(r: &mut Random, most: u64) -> Micros {
    Micros::from_us(STEP_US * (1 + i64::try_from(r.below(most)).unwrap()))
}

fn count(r: &mut Random, most: u64) -> u32 {
    1 + u32::try_from(r.below(most)).unwrap()
}

fn station(r: &mut Random, batch: u32) -> RingStation {
    let cycle = time(r, 12);
    let flow = match r.below(3) {
        0 => Flow::Stop,
        1 => Flow::Train(count(r, 4)),
        _ => Flow::Through,
    };
    let residence = if flow == Flow::Stop { cycle } else { time(r, 30) };
    let move_in = Micros::from_us(STEP_US * i64::try_from(r.below(1 + cycle.us().unsigned_abs() / 100_000)).unwrap());
    RingStation { batch, cycle, move_in, residence, flow }
}

/// Two or three rings in a row, with one or two shared stations between neighbours.
fn random_net(r: &mut Random) -> Net {
    let rings = 2 + usize::try_from(r.below(2)).unwrap();
    let per_case: Vec<u32> = (0..rings).map(|_| count(r, 3)).collect();
    let mut stations: Vec<Vec<RingStation>> = (0..rings)
        .map(|_| {
            let own = 1 + r.below(3);
            (0..own)
                .map(|_| {
                    let batch = count(r, 4);
                    station(r, batch)
                })
                .collect()
        })
        .collect();
    let mut joints = Vec::new();
    for one in 0..rings - 1 {
        for _ in 0..count(r, 2) {
            let batch = count(r, 3);
            let first = station(r, batch * per_case[one]);
            let mut second = RingStation { batch: batch * per_case[one + 1], ..first };
            if first.flow != Flow::Stop {
                second.residence = time(r, 30);
            }
            if matches!(first.flow, Flow::Train(_)) {
                second.flow = Flow::Train(count(r, 4));
            }
            stations[one].push(first);
            stations[one + 1].push(second);
            let place = |ring: usize| (ring, stations[ring].len() - 1);
            joints.push(Joint { first: place(one), second: place(one + 1), batch });
        }
    }
    let rings = stations
        .into_iter()
        .map(|stations| {
            let sections: Vec<RingSection> = (0..stations.len())
                .map(|_| RingSection {
                    slots: 8 + count(r, 14),
                    lag: Micros::from_us(STEP_US * i64::try_from(r.below(20)).unwrap()),
                })
                .collect();
            let mut ring = Ring { stations, sections, carriers: 0 };
            let slots = ring.slots();
            ring.carriers = u32::try_from(slots / 5 + r.below(slots - slots / 5)).unwrap();
            ring
        })
        .collect();
    Net::new(rings, joints, per_case).expect("sides made alike")
}

fn unhurried(most_starts: u64) -> NetWatch {
    NetWatch { most_starts, ..NetWatch::default() }
}

#[test]
fn the_timed_run_of_a_net_gives_the_same_fraction() {
    let mut r = Random(23);
    let (mut moving, mut recurred) = (0, 0);
    for case in 0..1_500 {
        let net = random_net(&mut r);
        let (exact, _) = net_rate(&net).expect("small");
        let timed = run_net(&net, &unhurried(20_000));
        if timed.recurs {
            recurred += 1;
            assert_eq!(timed.rate, exact, "case {case}: {net:#?}");
        } else {
            let (a, b) = (timed.rate.rate().as_per_second(), exact.rate().as_per_second());
            assert!((a - b).abs() < 1e-4 * b, "case {case}: slope {a}, exact {b}: {net:#?}");
        }
        moving += u32::from(exact.carriers > 0);
    }
    assert!(moving > 1_000 && recurred > 1_450, "too few cases that move ({moving}) or recur ({recurred})");
}

/// What a ring cannot do alone it cannot do beside another one either: with fewer waits nothing fires later (monotone in
/// max-plus, Baccelli et al. 1992).
#[test]
fn joining_never_speeds() {
    let mut r = Random(29);
    let mut slower = 0;
    for _ in 0..1_000 {
        let net = random_net(&mut r);
        let joined = net_rate(&net).expect("small").0.rate().as_per_second();
        let alone = net
            .rings()
            .iter()
            .enumerate()
            .map(|(i, ring)| rate(ring).expect("small").0.rate().as_per_second() / f64::from(net.per_case(i)));
        let least = alone.fold(f64::INFINITY, f64::min);
        assert!(joined <= least * (1.0 + 1e-12), "joined {joined}, alone {least}: {net:#?}");
        slower += u32::from(joined < least * (1.0 - 1e-9));
    }
    assert!(slower > 50, "only {slower} nets are slower than their rings");
}

#[test]
fn a_target_is_kept_or_missed_as_the_exact_rate_says() {
    let mut r = Random(31);
    let mut both = [0, 0];
    for case in 0..600 {
        let net = random_net(&mut r);
        let exact = net_rate(&net).expect("small").0;
        if exact.carriers == 0 {
            continue;
        }
        for factor in [0.97, 1.03] {
            let target = CarrierRate::per_second(exact.rate().as_per_second() * factor);
            let (found, _) = net_rate_or_miss(&net, Some(target), &mut FiringTimes::default()).expect("small");
            assert_eq!(found.makes(target), factor < 1.0, "case {case}, {factor}: {net:#?}");
            both[usize::from(factor < 1.0)] += 1;
        }
    }
    assert!(both[0] > 100 && both[0] == both[1], "{both:?}");
}

fn plain(batch: u32, cycle_ms: i64) -> RingStation {
    let cycle = Micros::from_us(1_000 * cycle_ms);
    RingStation { batch, cycle, move_in: Micros::ZERO, residence: cycle, flow: Flow::Stop }
}

fn ring(stations: Vec<RingStation>, slots: u32, lag_ms: i64, carriers: u32) -> Ring {
    let section = RingSection { slots, lag: Micros::from_us(1_000 * lag_ms) };
    let sections = vec![section; stations.len()];
    Ring { stations, sections, carriers }
}

/// Worked by hand. Two rings share a station of 1 s; the first has one carrier a case and a round of 1 s of work and 3 s of
/// driving, the second three carriers a case and 1 s and 6 s. With carriers for one case the first ring makes a case in 4 s,
/// the second one in 7 s; with more carriers the shared station's own second decides.
#[test]
fn two_rings_by_hand() {
    let net = |first: u32, second: u32| {
        let rings = vec![ring(vec![plain(1, 1_000)], 20, 3_000, first), ring(vec![plain(3, 1_000)], 60, 6_000, second)];
        Net::new(rings, vec![Joint { first: (0, 0), second: (1, 0), batch: 1 }], vec![1, 3]).unwrap()
    };
    let per_second = |net: &Net| net_rate(net).unwrap().0.rate().as_per_second();
    for (first, second, seconds) in
        [(1, 3, 7.0), (1, 6, 4.0), (4, 3, 7.0), (4, 21, 1.0), (2, 6, 3.5), (1, 2, f64::INFINITY)]
    {
        let found = per_second(&net(first, second));
        assert!((found - 1.0 / seconds).abs() < 1e-9, "{first} and {second}: {found}");
    }
    let (_, limit) = net_rate(&net(4, 3)).unwrap();
    assert_eq!(limit, NetLimit::One(1, crate::throughput::Limit::Carriers));
    let (_, limit) = net_rate(&net(6, 24)).unwrap();
    assert!(matches!(limit, NetLimit::One(_, crate::throughput::Limit::Station(0))), "{limit:?}");
}

/// Two shared stations with waits that only meet across both rings: a carrier of the first ring must be at the first of them
/// while one of the second ring is, and both rings have one carrier, which each next take needs.
#[test]
fn a_cycle_across_both_rings() {
    let rings = vec![
        ring(vec![plain(1, 100), plain(1, 100)], 4, 1_000, 1),
        ring(vec![plain(1, 100), plain(1, 100)], 4, 2_000, 1),
    ];
    let joints =
        vec![Joint { first: (0, 0), second: (1, 0), batch: 1 }, Joint { first: (0, 1), second: (1, 1), batch: 1 }];
    let net = Net::new(rings, joints, vec![1, 1]).unwrap();
    // Each way takes the slower ring's 2 s and 0.1 s of work, twice a round.
    let (found, _) = net_rate(&net).unwrap();
    assert!((found.rate().as_per_second() - 1.0 / 4.2).abs() < 1e-9);
    // Crossed over: the second ring meets the stations in the other order, so that both orders have to wait for each other.
    let rings = vec![
        ring(vec![plain(1, 100), plain(1, 100)], 4, 1_000, 1),
        ring(vec![plain(1, 100), plain(1, 100)], 4, 2_000, 1),
    ];
    let joints =
        vec![Joint { first: (0, 0), second: (1, 1), batch: 1 }, Joint { first: (0, 1), second: (1, 0), batch: 1 }];
    let net = Net::new(rings, joints, vec![1, 1]).unwrap();
    let (found, _) = net_rate(&net).unwrap();
    assert_eq!(found.carriers, 0, "one carrier waits at each end for the other: {found:?}");
    assert_eq!(run_net(&net, &unhurried(100)).rate.carriers, 0);
}

/// What one station passes the others pass too.
#[test]
fn a_paced_net_goes_at_its_pace_everywhere() {
    let rings = vec![
        ring(vec![plain(2, 1_000), plain(1, 300)], 12, 500, 8),
        ring(vec![plain(2, 1_000), plain(4, 900)], 24, 500, 16),
    ];
    let net = Net::new(rings, vec![Joint { first: (0, 0), second: (1, 0), batch: 2 }], vec![1, 1]).unwrap();
    let pace = Micros::from_us(2_500_000);
    let watch = NetWatch {
        paces: vec![Some(pace), Some(pace)],
        windows: vec![vec![WindowWatch { from: 0, to: 1, taken_in: false }], Vec::new()],
        most_starts: 10_000,
    };
    let timed = run_net(&net, &watch);
    assert!(timed.recurs);
    assert!((timed.rate.rate().as_per_second() - 0.8).abs() < 1e-12, "{:?}", timed.rate);
    assert_eq!(timed.rings[0].windows[0], timed.rings[0].sections[0], "the window is that section");
    assert!(timed.rings.iter().flat_map(|ring| &ring.sections).all(|t| t.least.us() >= 500_000));
}

#[test]
fn sides_that_do_not_fit_make_no_net() {
    let rings = |batch: u32| vec![ring(vec![plain(1, 1_000)], 4, 0, 1), ring(vec![plain(batch, 1_000)], 4, 0, 3)];
    let joint = |first, second| vec![Joint { first, second, batch: 1 }];
    let of = |batch, joints, per_case: &[u32]| Net::new(rings(batch), joints, per_case.to_vec()).err();
    assert_eq!(of(3, joint((0, 0), (1, 0)), &[1, 3]), None);
    assert_eq!(of(2, joint((0, 0), (1, 0)), &[1, 3]), Some(NoNet::Unlike(0)));
    assert_eq!(of(3, joint((0, 0), (1, 4)), &[1, 3]), Some(NoNet::Names(0)));
    assert_eq!(of(3, joint((0, 0), (0, 0)), &[1, 3]), Some(NoNet::Names(0)));
    assert_eq!(of(3, joint((0, 0), (1, 0)), &[1]), Some(NoNet::Rings));
}

/// The evolution equations of linked rings say what the event graph says.
#[test]
fn the_equations_of_a_net_give_the_same_fraction() {
    use crate::sim::{Scenario, certain_rate};
    let mut r = Random(29);
    let (mut moving, mut recurred) = (0, 0);
    for case in 0..1_000 {
        let net = random_net(&mut r);
        let (exact, _) = net_rate(&net).expect("small");
        let scenario = Scenario::certain_net(&net, &[]).expect("they fit");
        let (carriers, recurs) = certain_rate(&scenario, 20_000);
        // Counted in carriers of the first ring.
        let cases = ExactRate::new(carriers.carriers, carriers.micros * i64::from(net.per_case(0)));
        if recurs {
            recurred += 1;
            assert_eq!(cases, exact, "case {case}: {net:#?}");
        } else {
            let (a, b) = (cases.rate().as_per_second(), exact.rate().as_per_second());
            assert!((a - b).abs() < 1e-4 * b, "case {case}: slope {a}, exact {b}: {net:#?}");
        }
        moving += u32::from(exact.carriers > 0);
    }
    assert!(moving > 700 && recurred > 950, "too few cases that move ({moving}) or recur ({recurred})");
}

/// A net whose shared station fails for as long as it works goes at half its speed; another seed gives other luck, a mean of
/// many the share of time that is left. The station keeps `work / (work + repair)`: both times are exponential, failures
/// count at work only (renewal reward, for instance S. M. Ross, "Introduction to Probability Models", section 7.4).
#[test]
fn a_shared_station_stands_on_both_rings() {
    use crate::chance::{Behaviour, Counts, Law, Stops};
    use crate::sim::{Asked, Listener, Scenario, State, replicate};
    struct Quiet;
    impl Listener for Quiet {
        fn done(&self, _: u32, _: u32) {}
        fn stop(&self) -> bool {
            false
        }
    }
    let post = |batch, us| RingStation {
        batch,
        cycle: Micros::from_us(us),
        move_in: Micros::from_us(100_000),
        residence: Micros::from_us(us),
        flow: Flow::Stop,
    };
    let ring = |batch: u32| Ring {
        stations: vec![post(batch, 1_000_000), post(batch, 200_000)],
        sections: vec![RingSection { slots: 12, lag: Micros::from_us(100_000) }; 2],
        carriers: 8 * batch,
    };
    let rings =
        vec![ring(1), Ring { sections: vec![RingSection { slots: 30, lag: Micros::from_us(50_000) }; 2], ..ring(2) }];
    let joint = Joint { first: (0, 0), second: (1, 0), batch: 1 };
    let net = Net::new(rings, vec![joint], vec![1, 2]).expect("alike");
    let mut scenario = Scenario::certain_net(&net, &[]).expect("they fit");
    let stops = Stops {
        between_s: 60.0,
        repair_s: 30.0,
        counts: Counts::Operation,
        between: Law::Exponential,
        repair: Law::Exponential,
    };
    scenario.posts[0].behaviour = Behaviour { failures: Some(stops), ..Behaviour::default() };
    let asked = Asked {
        seed: 5,
        length: Micros::from_us(20_000_000_000),
        warm_up: Some(Micros::from_us(200_000_000)),
        least: 30,
        most: 30,
        half_width: 1e-9,
        threads: 2,
    };
    let found = replicate(&scenario, &asked, &Quiet).expect("not stopped");
    // One case a second at work.
    let theory = 60.0 / 90.0;
    let error = found.rate.half_width / 2.045;
    assert!((found.rate.mean - theory).abs() < 4.0 * error, "{:?}", found.rate);
    assert!((found.rate.mean - theory * 1.05).abs() > 4.0 * error, "the test has no teeth: {:?}", found.rate);
    let shares = |i: usize, state: State| found.seen.shares[i][state as usize];
    assert!(shares(0, State::Failed) > 0);
    for state in [State::Working, State::Failed] {
        assert_eq!(shares(0, state), shares(2, state), "both sides are one station");
    }
}
