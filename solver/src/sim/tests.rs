//! The timed run against the event graph: the same fraction on random rings.

use super::*;
use crate::option::Flow;
use crate::ring::{Ring, RingSection, RingStation};
use crate::throughput::rate;
use crate::units::Micros;

/// A small linear congruential generator: tests must not depend on a global random state.
pub(crate) struct Random(pub u64);

impl Random {
    pub(crate) fn below(&mut self, n: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % n
    }
}

#[allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap)]
fn random_ring(r: &mut Random) -> Ring {
    let n = 1 + r.below(5) as usize;
    // Coarse times make ties, which is where rules and graph could part.
    let time = |r: &mut Random, most: u64| Micros::from_us(100_000 * (1 + r.below(most)) as i64);
    let stations: Vec<RingStation> = (0..n)
        .map(|_| {
            let cycle = time(r, 12);
            let flow = match r.below(3) {
                0 => Flow::Stop,
                1 => Flow::Train(1 + r.below(4) as u32),
                _ => Flow::Through,
            };
            let residence = if flow == Flow::Stop { cycle } else { time(r, 30) };
            let move_in = Micros::from_us(100_000 * r.below(1 + cycle.us() as u64 / 100_000) as i64);
            RingStation { batch: 1 + r.below(4) as u32, cycle, move_in, residence, flow }
        })
        .collect();
    let sections = (0..n)
        .map(|_| RingSection { slots: 1 + r.below(12) as u32, lag: Micros::from_us(100_000 * r.below(20) as i64) })
        .collect();
    let mut ring = Ring { stations, sections, carriers: 0 };
    ring.carriers = 1 + r.below(ring.slots()) as u32;
    ring
}

/// A ring, its exact rate and the batch of station 0; none when it never moves.
fn moving_ring(r: &mut Random) -> Option<(Ring, crate::units::ExactRate, i64)> {
    let ring = random_ring(r);
    let exact = rate(&ring)?.0;
    let batch = i64::from(ring.stations[0].batch);
    (exact.carriers > 0).then_some((ring, exact, batch))
}

#[test]
fn the_timed_run_gives_the_same_fraction() {
    let mut r = Random(7);
    let (mut moving, mut recurred) = (0, 0);
    for case in 0..3_000 {
        let ring = random_ring(&mut r);
        let exact = rate(&ring).expect("small").0;
        let timed = run(&ring, &Watch { most_starts: 20_000, ..Watch::default() });
        if timed.recurs {
            recurred += 1;
            assert_eq!(timed.rate, exact, "case {case}: {ring:#?}");
        } else {
            let (a, b) = (timed.rate.rate().as_per_second(), exact.rate().as_per_second());
            assert!((a - b).abs() < 1e-4 * b, "case {case}: slope {a}, exact {b}: {ring:#?}");
        }
        moving += u32::from(exact.carriers > 0);
    }
    assert!(moving > 1_000 && recurred > 2_900, "too few cases that move ({moving}) or recur ({recurred})");
}

#[test]
#[allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap)]
fn a_slot_more_or_a_delay_less_never_slows() {
    let mut r = Random(11);
    let mut slower = 0;
    for case in 0..2_000 {
        let ring = random_ring(&mut r);
        let before = rate(&ring).expect("small").0.rate().as_per_second();
        let i = r.below(ring.sections.len() as u64) as usize;
        let mut longer = ring.clone();
        longer.sections[i].lag = Micros::from_us(ring.sections[i].lag.us() + 300_000);
        let after = rate(&longer).expect("small").0.rate().as_per_second();
        assert!(after <= before + 1e-12, "case {case}: a longer lag made it faster");
        slower += u32::from(after < before - 1e-12);
        // One slot more changes where carriers start when sections are full, so only where they all fit before station 0.
        let last = ring.sections.len() - 1;
        if ring.carriers <= ring.sections[last].slots {
            let mut wider = ring.clone();
            wider.sections[i].slots += 1;
            let after = rate(&wider).expect("small").0.rate().as_per_second();
            assert!(after >= before - 1e-12, "case {case}: a slot more made it slower");
        }
    }
    assert!(slower > 100);
}

/// Paced, station 0 is never faster than the pace, and mostly exactly as fast when the ring can do more. (Not always: a
/// ring may need station 0 to take two batches close together, which the pace forbids.)
#[test]
fn the_pace_is_kept() {
    let mut r = Random(13);
    let (mut paced, mut at_pace) = (0, 0);
    for _ in 0..500 {
        let Some((ring, exact, batch)) = moving_ring(&mut r) else { continue };
        let pace = Micros::from_us(exact.micros * batch / exact.carriers + 7);
        let timed = run(&ring, &Watch { pace: Some(pace), most_starts: 20_000, ..Watch::default() });
        if !timed.recurs {
            continue;
        }
        let top = crate::units::ExactRate::new(batch, pace.us());
        assert!(timed.rate.rate().as_per_second() <= top.rate().as_per_second());
        for (times, section) in timed.sections.iter().zip(&ring.sections) {
            assert!(times.least >= section.lag);
        }
        paced += 1;
        at_pace += u32::from(timed.rate == top);
    }
    assert!(paced > 100 && at_pace * 2 > paced, "{at_pace} of {paced} at the pace");
}

/// Where the ring is faster than the pace, the closed form gives the very times that the run measures.
#[test]
fn steady_times_are_those_of_the_run() {
    use crate::throughput::Steady;
    let mut r = Random(17);
    let mut compared = 0;
    for case in 0..3_000 {
        let Some((ring, exact, batch)) = moving_ring(&mut r) else { continue };
        let slower = 100_000 * i64::try_from(1 + r.below(10)).expect("small");
        let pace = Micros::from_us(exact.micros * batch / exact.carriers + slower);
        let n = ring.stations.len();
        #[allow(clippy::cast_possible_truncation)]
        let window =
            WindowWatch { from: r.below(n as u64) as usize, to: r.below(n as u64) as usize, taken_in: r.below(2) == 0 };
        let timed = run(&ring, &Watch { pace: Some(pace), windows: vec![window], most_starts: 20_000 });
        let Some(steady) = Steady::of(&ring, pace) else { continue };
        if !timed.recurs {
            continue;
        }
        for (i, times) in timed.sections.iter().enumerate() {
            let (least, longest) = steady.times(i, ring.next(i), false, &steady);
            assert_eq!((times.least.us(), times.longest.us()), (least, longest), "case {case}, section {i}: {ring:#?}");
        }
        let (least, longest) = steady.times(window.from, window.to, window.taken_in, &steady);
        let times = timed.windows[0];
        assert_eq!((times.least.us(), times.longest.us()), (least, longest), "case {case}, {window:?}: {ring:#?}");
        compared += 1;
    }
    assert!(compared > 500, "{compared}");
}

/// Longest times that a run keeps can be kept: the proof that they cannot must never be given for them. And it must be
/// given for times below the lag, and often for somewhat shorter ones than the run's.
#[test]
fn what_a_run_keeps_can_hold() {
    use crate::throughput::{Hold, can_hold};
    let mut r = Random(23);
    let (mut kept, mut refused, mut tried) = (0, 0, 0);
    for case in 0..3_000 {
        let Some((ring, exact, batch)) = moving_ring(&mut r) else { continue };
        let slower = 50_000 * i64::try_from(r.below(10)).expect("small");
        let pace = Micros::from_us(exact.micros * batch / exact.carriers + slower);
        let n = ring.stations.len();
        #[allow(clippy::cast_possible_truncation)]
        let window =
            WindowWatch { from: r.below(n as u64) as usize, to: r.below(n as u64) as usize, taken_in: r.below(2) == 0 };
        let timed = run(&ring, &Watch { pace: Some(pace), windows: vec![window], most_starts: 20_000 });
        if !timed.recurs {
            continue;
        }
        let mut holds: Vec<Hold> = timed
            .sections
            .iter()
            .enumerate()
            .map(|(i, t)| Hold { from: i, to: ring.next(i), taken_in: false, most: t.longest })
            .collect();
        let most = timed.windows[0].longest;
        holds.push(Hold { from: window.from, to: window.to, taken_in: window.taken_in, most });
        assert!(can_hold(&ring, pace, &holds), "case {case}: {holds:?} {ring:#?}");
        kept += 1;
        let i = r.below(n as u64) as usize;
        if ring.sections[i].lag.us() > 0 {
            let short = Hold { most: Micros::from_us(ring.sections[i].lag.us() - 100), ..holds[i] };
            assert!(!can_hold(&ring, pace, &[short]), "case {case}: below the lag");
        }
        let tight = Hold { most: Micros::from_us(holds[i].most.us() * 9 / 10), ..holds[i] };
        tried += 1;
        refused += u32::from(!can_hold(&ring, pace, &[tight]));
    }
    assert!(kept > 500 && refused * 10 > tried, "{kept} kept, {refused} of {tried} refused");
}

/// At a tie between the pace and the ring's own slowest cycle the steady state depends on the start, so there is no closed
/// form; a microsecond slower there is one.
#[test]
fn a_tie_has_no_closed_form() {
    use crate::throughput::Steady;
    let station = |cycle: i64| RingStation {
        batch: 1,
        cycle: Micros::from_us(cycle),
        move_in: Micros::from_us(100_000),
        residence: Micros::from_us(cycle),
        flow: Flow::Stop,
    };
    let ring = Ring {
        stations: vec![station(900_000), station(2_000_000)],
        sections: vec![RingSection { slots: 12, lag: Micros::from_us(2_750_000) }; 2],
        carriers: 5,
    };
    assert!(Steady::of(&ring, Micros::from_us(2_000_000)).is_none());
    assert!(Steady::of(&ring, Micros::from_us(2_000_002)).is_some());
}

/// The equations give the very fraction of the event graph, always.
#[test]
fn the_equations_give_the_same_fraction() {
    let mut r = Random(29);
    let mut moving = 0;
    for case in 0..3_000 {
        let ring = random_ring(&mut r);
        let exact = rate(&ring).expect("small").0;
        let scenario = Scenario::certain(&ring).expect("they fit");
        assert_eq!(certain_rate(&scenario, 20_000), (exact, true), "case {case}: {ring:#?}");
        moving += u32::from(exact.carriers > 0);
    }
    assert!(moving > 1_000, "too few cases that move: {moving}");
}

/// Rings in which only room decides: a section with the slots that the model asks for a stop never blocks the station before; with
/// none of those for the stop it does, as soon as the stop is long. By hand: two stations, work of 1 s each, a pace of 2 s.
#[test]
fn a_stop_is_absorbed_by_its_slots() {
    let station = RingStation {
        batch: 1,
        cycle: Micros::from_us(1_000_000),
        move_in: Micros::from_us(200_000),
        residence: Micros::from_us(1_000_000),
        flow: Flow::Stop,
    };
    let tried = |slots: u32, stop_s: i64| {
        let lag = Micros::from_us(500_000);
        let ring = Ring {
            stations: vec![station; 2],
            sections: vec![RingSection { slots, lag }, RingSection { slots: 12, lag }],
            carriers: 12,
        };
        let mut scenario = Scenario::certain(&ring).expect("they fit");
        scenario.pace = Some(Micros::from_us(2_000_000));
        stop_test(&scenario, 0, Micros::from_us(stop_s * 1_000_000)).expect("it moves")
    };
    // b + d - gcd + ceil(phi * 8 s) = 1 + 4.
    let held = tried(5, 8);
    assert_eq!(held.blocked, Micros::ZERO, "{held:?}");
    // The stopped station gains 1 s in every 2 s.
    let gone = held.gone_after.expect("it can go faster").seconds();
    assert!((6.0..=10.0).contains(&gone), "{held:?}");
    assert!(tried(1, 8).blocked.us() > 3_000_000);
    assert!(tried(5, 30).blocked.us() > 10_000_000);
}
