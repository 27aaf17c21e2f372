//! Simulated rates against queueing theory: within four standard errors, and a theory wrong by 5 % is refused.

use super::*;
use crate::chance::{Behaviour, Counts, Law, Stops};
use crate::option::Flow;
use crate::ring::RingSection;
use crate::units::Micros;

struct Silent;

impl Listener for Silent {
    fn done(&self, _: u32, _: u32) {}
    fn stop(&self) -> bool {
        false
    }
}

const SECOND: i64 = 1_000_000;

fn post(flow: Flow, mean_s: f64, law: Law) -> Post {
    let time = Span::varying(Micros::nearest_s(mean_s));
    let move_in = if flow == Flow::Stop { Span::default() } else { time };
    let behaviour = Behaviour { work: law, ..Behaviour::default() };
    Post { batch: 1, flow, cycle: time, residence: time, move_in, behaviour }
}

fn ring(posts: Vec<Post>, slots: &[u32], lag_s: f64, carriers: u32) -> Scenario {
    let mut sections: Vec<RingSection> = slots.iter().map(|&slots| RingSection { slots, lag: Micros::ZERO }).collect();
    if let Some(last) = sections.last_mut() {
        last.lag = Micros::nearest_s(lag_s);
    }
    let ring = crate::ring::Ring { stations: Vec::new(), sections: sections.clone(), carriers };
    let start = ring.start().expect("they fit");
    let n = sections.len();
    Scenario {
        posts,
        sections,
        carriers,
        start,
        pace: None,
        windows: Vec::new(),
        most: vec![None; n],
        net_rate: 0.0,
        links: None,
    }
}

fn played(scenario: &Scenario, length_s: i64) -> Replicated {
    let asked = Asked {
        seed: 11,
        length: Micros::from_us(length_s * SECOND),
        warm_up: Some(Micros::from_us(length_s * SECOND / 10)),
        least: 24,
        most: 24,
        half_width: 1e-9,
        threads: 2,
    };
    replicate(scenario, &asked, &Silent).expect("not stopped")
}

/// The rate is this one, and would not be mistaken for one 5 % off.
#[allow(clippy::cast_precision_loss)]
fn holds(name: &str, scenario: &Scenario, length_s: i64, theory: f64) {
    let found = played(scenario, length_s);
    let n = found.rates.len() as f64;
    let squares: f64 = found.rates.iter().map(|x| (x - found.rate.mean).powi(2)).sum();
    let error = (squares / (n - 1.0) / n).sqrt();
    let off = |theory: f64| (found.rate.mean - theory).abs() / error.max(1e-12);
    assert!(off(theory) < 4.0, "{name}: {} against {theory}, standard error {error}", found.rate.mean);
    assert!(off(theory * 1.05) > 4.0 && off(theory * 0.95) > 4.0, "{name}: too blunt, standard error {error}");
    for shares in &found.seen.shares {
        let all: i64 = shares.iter().sum();
        assert_eq!(all, length_s * SECOND * 24, "{name}: {shares:?}");
    }
}

fn exponential(mean_s: f64) -> Post {
    post(Flow::Stop, mean_s, Law::Exponential)
}

/// Hopp and Spearman, *Factory Physics*, 3rd ed., chapter 7: the practical worst case of Penny Fab One (times in hours there,
/// in seconds here), w r_b / (W_0 + w - 1).
#[test]
fn practical_worst_case() {
    for (w, theory) in [(1, 0.125), (2, 0.2), (4, 0.285_714), (8, 0.363_636), (10, 0.384_615)] {
        holds("PWC", &ring(vec![exponential(2.0); 4], &[w; 4], 0.0, w), 20_000, theory);
    }
}

/// Bolch et al., *Queueing Networks and Markov Chains*, 1998, example 8.3 p. 331 (service times S, visits V, K = 6: X = 9.920):
/// a closed network of product form has the throughput of the ring with the same demands.
#[test]
fn mean_value_analysis_of_bolch() {
    let posts = [0.02, 0.08, 0.08, 0.06].map(exponential).to_vec();
    holds("Bolch 8.3", &ring(posts, &[6; 4], 0.0, 6), 1_000, 9.9198);
}

/// Jain, *The Art of Computer Systems Performance Analysis*, p. 577: demands 2, 3 and 1 s, think time 4 s. A delay counts by
/// its mean alone.
#[test]
fn mean_value_analysis_of_jain() {
    for (n, theory) in [(1, 0.1), (5, 0.2898), (10, 0.3282), (20, 0.3332)] {
        let posts = [2.0, 3.0, 1.0].map(exponential).to_vec();
        holds("Jain", &ring(posts, &[n; 3], 4.0, n), 20_000, theory);
    }
}

/// Gordon and Newell 1967: with blocking before service, as many carriers as holes give the same rate. Values of exact chains.
#[test]
fn hole_duality() {
    let before = |mean: f64| post(Flow::Through, mean, Law::Exponential);
    let rates = [(1, 0.333_33), (2, 0.5), (4, 0.642_86), (5, 0.642_86), (7, 0.5), (8, 0.333_33)];
    for (carriers, theory) in rates {
        holds("3x3", &ring(vec![before(1.0); 3], &[3; 3], 0.0, carriers), 20_000, theory);
    }
    for (carriers, theory) in [(1, 0.461_54), (3, 0.757_25), (6, 0.757_25), (8, 0.461_54)] {
        // Rates 1, 2 and 1.5; places 2, 3 and 4, each in the section before its station.
        let posts = [1.0, 0.5, 1.0 / 1.5].map(before).to_vec();
        holds("2, 3, 4", &ring(posts, &[3, 4, 2], 0.0, carriers), 20_000, theory);
    }
}

/// Blocking after service: three stations with two places before each. Values of an exact chain. All carriers of the model begin
/// in slots, so that no more than six do; seven and eight (0.702 22 and 0.642 86) stand for states that it cannot begin in.
#[test]
fn blocking_after_service() {
    for (carriers, theory) in [(1, 0.333_33), (2, 0.5), (3, 0.6), (4, 0.666_67), (5, 0.702_22), (6, 0.7125)] {
        holds("after service", &ring(vec![exponential(1.0); 3], &[2; 3], 0.0, carriers), 20_000, theory);
    }
}

/// Two machines with a store of so many places between them, and always something for the first to do.
fn pair(posts: [Post; 2], places: u32) -> Scenario {
    let carriers = places + 60;
    ring(posts.to_vec(), &[places, carriers], 0.0, carriers)
}

/// A machine that takes one second for each piece, and whose every second is up or down, by geometric times.
fn slotted(breakdown: f64, repair: f64) -> Post {
    let stops = Stops {
        between_s: 1.0 / breakdown,
        between: Law::Geometric(1.0 / breakdown),
        repair_s: 1.0 / repair,
        repair: Law::Geometric(1.0 / repair),
        counts: Counts::Calendar,
    };
    let second = Span::fixed(Micros::from_us(SECOND));
    let behaviour = Behaviour { failures: Some(stops), ..Behaviour::default() };
    Post { batch: 1, flow: Flow::Through, cycle: second, residence: second, move_in: Span::default(), behaviour }
}

/// Li and Meerkov, *Production Systems Engineering*, 2009, chapter 4 (from memory; each value equals an exact chain): every
/// second is up with probability p, whatever it was before.
#[test]
fn bernoulli_lines() {
    for (p1, p2, places, theory) in [(0.9, 0.9, 2, 0.857_143), (0.9, 0.7, 3, 0.697_252), (0.8, 0.9, 1, 0.734_694)] {
        holds("Bernoulli", &pair([slotted(1.0 - p1, p1), slotted(1.0 - p2, p2)], places), 20_000, theory);
    }
}

/// Lines of geometric machines, from the same book (from memory; exact chains): breakdown P and repair R in each second.
#[test]
fn geometric_lines() {
    for (places, theory) in [(1, 0.644_444), (2, 0.663_415), (5, 0.7)] {
        holds("geometric", &pair([slotted(0.05, 0.2), slotted(0.05, 0.2)], places), 40_000, theory);
    }
    holds("geometric", &pair([slotted(0.1, 0.4), slotted(0.05, 0.3)], 3), 40_000, 0.734_367);
}

/// Buzacott 1967 and Gershwin, *Manufacturing Systems Engineering*, 1994, chapter 3: failures that count work, in the limit of
/// small pieces. E = m (C (m + l) + 2) / (C (m + l)^2 + 2 m + 4 l) for two alike; without a store 1 / (1 + sum of repair / between).
#[test]
fn fluid_lines() {
    const PIECE_S: f64 = 0.05;
    let machine = |l: f64, m: f64| {
        let stops = Stops {
            between_s: 1.0 / l,
            between: Law::Exponential,
            repair_s: 1.0 / m,
            repair: Law::Exponential,
            counts: Counts::Operation,
        };
        let behaviour = Behaviour { failures: Some(stops), ..Behaviour::default() };
        Post { behaviour, ..post(Flow::Stop, PIECE_S, Law::Constant) }
    };
    for (l2, c, theory) in [(0.01, 10.0, 0.858_726), (0.01, 50.0, 0.887_574), (0.02, 10.0, 0.798_915)] {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let places = (c / PIECE_S) as u32;
        holds("fluid", &pair([machine(0.01, 0.1), machine(l2, 0.1)], places), 20_000, theory / PIECE_S);
    }
}

/// The same on one thread and on many, and other numbers with another seed.
#[test]
fn the_seed_decides_alone() {
    let scenario = ring(vec![exponential(1.0); 3], &[2; 3], 0.0, 4);
    let with = |threads, seed| {
        let asked = Asked {
            seed,
            length: Micros::from_us(500 * SECOND),
            warm_up: None,
            least: 8,
            most: 40,
            half_width: 0.01,
            threads,
        };
        replicate(&scenario, &asked, &Silent).expect("not stopped")
    };
    let one = with(1, 5);
    assert_eq!(one, with(4, 5));
    assert_ne!(one.rates, with(1, 6).rates);
}
