//! Check values of the exact rate, each beside its source.

use super::*;
use crate::option::Flow;
use crate::ring::{RingSection, RingStation};
use crate::units::Micros;

fn ratio_of(nodes: usize, links: &[(usize, usize, i64, i64)]) -> Ratio {
    largest_ratio(&EventGraph::from_links(nodes, links)).expect("has a cycle").ratio
}

/// Max-plus matrices: entry `[i][j]` is a link from j to i with one token.
fn matrix(rows: &[&[i64]]) -> Ratio {
    let links: Vec<_> =
        rows.iter().enumerate().flat_map(|(i, row)| row.iter().enumerate().map(move |(j, &t)| (j, i, t, 1))).collect();
    ratio_of(rows.len(), &links)
}

/// B. Heidergott, G. J. Olsder, J. van der Woude, *Max Plus at Work* (2006), ch. 0-1: eigenvalue 4 (from memory, recomputed);
/// Baccelli et al., *Synchronization and Linearity* (1992), section 1.1: 4.5 (recomputed); [1 2; 3 4]: 4.
#[test]
fn max_plus_matrices() {
    assert_eq!(matrix(&[&[2, 5], &[3, 3]]), Ratio { time: 4, tokens: 1 });
    assert_eq!(matrix(&[&[3, 7], &[2, 4]]), Ratio { time: 9, tokens: 2 });
    assert_eq!(matrix(&[&[1, 2], &[3, 4]]), Ratio { time: 4, tokens: 1 });
}

/// A reducible system has one cycle time a component; the largest is 4 for [3 .; 2 4] (Baccelli et al. 1992, section 1.1 ff.).
#[test]
fn reducible_matrix() {
    assert_eq!(ratio_of(2, &[(0, 0, 3, 1), (0, 1, 2, 1), (1, 1, 4, 1)]), Ratio { time: 4, tokens: 1 });
}

/// Least cycle mean of a 15-arc graph after Karp (1978): 0.9 on the cycle 9-11-7 (recomputed by enumerating all cycles).
/// The least mean is the largest of the negated arcs; here times are tenths and complemented to 100.
#[test]
fn fifteen_arcs() {
    let arcs = [
        (1, 7, 10),
        (2, 7, 10),
        (3, 9, 11),
        (4, 2, 12),
        (4, 7, 10),
        (5, 2, 10),
        (5, 9, 13),
        (6, 2, 12),
        (6, 7, 10),
        (7, 2, 10),
        (7, 9, 13),
        (9, 11, 4),
        (10, 7, 10),
        (11, 7, 10),
        (12, 9, 12),
    ];
    // Firings that wait for nothing get a slow self-link, which cannot be the largest after the complement.
    let mut links: Vec<(usize, usize, i64, i64)> = arcs.iter().map(|&(u, v, w)| (u - 1, v - 1, 100 - w, 1)).collect();
    links.extend((0..12).map(|n| (n, n, 0, 1)));
    let graph = EventGraph::from_links(12, &links);
    let critical = largest_ratio(&graph).expect("has a cycle");
    assert_eq!(critical.ratio, Ratio { time: 300 - 27, tokens: 3 }.lowest());
    let mut on: Vec<usize> =
        critical.cycle.iter().map(|&e| graph.inner().edge_endpoints(e).expect("edge").0.index() + 1).collect();
    on.sort_unstable();
    assert_eq!(on, [7, 9, 11]);
}

impl Ratio {
    fn lowest(self) -> Self {
        assert_eq!(self.time % self.tokens, 0);
        Self { time: self.time / self.tokens, tokens: 1 }
    }
}

/// A loop of zones that hold one carrier each: `TH = min(N / sum t, (M - N) / sum h, min 1 / (t + h))`. A zone is a
/// station with one place: it takes when its slot-less neighbour has left; the freed zone stays closed for `h`.
fn zones(t: &[i64], h: i64, n: usize) -> f64 {
    let m = t.len();
    // Zone i becomes occupied (firing i) t after... each zone's entry waits for the entry into the zone before plus its
    // stay, and for the zone's own emptying: entry of the next zone plus the time that it stays closed.
    let mut links = Vec::new();
    for (i, &stay) in t.iter().enumerate() {
        let next = (i + 1) % m;
        // Carriers start in the zones 0 .. n - 1.
        let full = |z: usize| i64::from(z < n);
        links.push((i, next, stay, full(i)));
        links.push((next, i, h, 1 - full(i)));
    }
    let r = ratio_of(m, &links);
    #[allow(clippy::cast_precision_loss)]
    let per_second = r.tokens as f64 / r.time as f64;
    per_second
}

/// The formula of the carrier loop on all 14 cases (recomputed by an independent event simulation).
#[test]
fn carrier_loop_formula() {
    let t = [4, 2, 2, 6, 2, 2, 2, 2];
    let expected = [0.090_909, 0.181_818, 0.272_727, 0.285_714, 0.285_714, 0.285_714, 0.25];
    for (n, e) in expected.iter().enumerate() {
        assert!((2.0 * zones(&t, 1, n + 1) - e).abs() < 1e-6, "N = {}", n + 1);
    }
    for (n, e) in [0.125, 0.25, 0.375, 0.5, 0.375, 0.25, 0.125].iter().enumerate() {
        assert!((zones(&[1; 8], 1, n + 1) - e).abs() < 1e-12, "symmetric, N = {}", n + 1);
    }
}

fn station(batch: u32, cycle: i64) -> RingStation {
    RingStation {
        batch,
        cycle: Micros::from_us(cycle),
        move_in: Micros::ZERO,
        residence: Micros::from_us(cycle),
        flow: Flow::Stop,
    }
}

/// Constant work in process on four single machines of 2 h: W. J. Hopp, M. L. Spearman, *Factory Physics*, 3rd ed., table
/// 7.2 (all ten rows recomputed). Sections are long enough never to block and take no time.
#[test]
fn constant_wip_table() {
    let expected = [0.125, 0.25, 0.375, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5];
    for (w, e) in (1..).zip(expected) {
        let ring = Ring {
            stations: vec![station(1, 2_000_000); 4],
            sections: vec![RingSection { slots: 20, lag: Micros::ZERO }; 4],
            carriers: w,
        };
        let (rate, limit) = rate(&ring).expect("small");
        assert!((rate.rate().as_per_second() - e).abs() < 1e-12, "w = {w}");
        assert_eq!(limit == Limit::Carriers, w < 4, "w = {w}: {limit:?}");
    }
}

/// Best case of the same chapter on two, of which table 7.1 gives times 2, 5, 10, 3 h: one machine each is limited by
/// the slowest, 0.1 an hour, from W0 = 2 on.
#[test]
fn slowest_station_limits() {
    let times = [2, 5, 10, 3];
    for w in 1..=5u32 {
        let ring = Ring {
            stations: times.iter().map(|t| station(1, t * 1_000_000)).collect(),
            sections: vec![RingSection { slots: 20, lag: Micros::ZERO }; 4],
            carriers: w,
        };
        let (rate, limit) = rate(&ring).expect("small");
        let expected = (f64::from(w) / 20.0).min(0.1);
        assert!((rate.rate().as_per_second() - expected).abs() < 1e-12);
        if w > 2 {
            assert_eq!(limit, Limit::Station(2));
        }
    }
}

#[test]
fn too_few_slots_deadlock() {
    let ring = Ring {
        stations: vec![station(2, 1000), station(3, 1000)],
        sections: vec![RingSection { slots: 3, lag: Micros::ZERO }, RingSection { slots: 9, lag: Micros::ZERO }],
        carriers: 6,
    };
    assert_eq!(rate(&ring).expect("small").0, ExactRate::STUCK);
    let ring = Ring { carriers: 20, ..ring };
    assert_eq!(rate(&ring).expect("small").1, Limit::DoNotFit);
}
