//! The exact long-run rate of several rings that share stations: the union of their event graphs, in which both sides of a
//! shared station take at once.

use super::graph::{Builder, Link, MOST_FIRINGS, Meaning, Unfolded};
use super::howard::{Ratio, ratio_above};
use super::limit::{Limit, limit_by, stuck};
use super::pace::{Sweeps, Times, sweeps};
use crate::net::Net;
use crate::units::{CarrierRate, ExactRate, RATE_TOLERANCE, gcd, lcm};

/// What sets the rate of a net.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NetLimit {
    /// Something on one ring.
    One(usize, Limit),
    /// Waits that go over several rings: what each of them adds.
    Several(Vec<(usize, Limit)>),
}

/// Exact long-run cases of a net, and the cycle that sets them; counted as `carriers` of the exact rate. `None` when the
/// unfolded graph would be larger than 400,000 firings.
#[must_use]
pub fn net_rate(net: &Net) -> Option<(ExactRate, NetLimit)> {
    net_rate_or_miss(net, None, &mut Times::default())
}

/// As [`net_rate`], for a comparison with `target` (cases a second) only: a net that keeps it is said to make just that; of one
/// that does not, the first cycle met that is slower is given. `times` are those of a like net, and become this one's.
#[must_use]
pub fn net_rate_or_miss(net: &Net, target: Option<CarrierRate>, times: &mut Times) -> Option<(ExactRate, NetLimit)> {
    let unfolded = match unfold(net)? {
        Ok(unfolded) => unfolded,
        Err(ring) => return Some((ExactRate::STUCK, NetLimit::One(ring, Limit::DoNotFit))),
    };
    let iteration = i64::from(unfolded.iteration);
    let rate = |ratio: Ratio| ExactRate::new(iteration * ratio.tokens, ratio.time);
    let mut limit = f64::INFINITY;
    if let Some(target) = target {
        // A hair above what still counts, so that the caller's comparison decides.
        limit = f64::from(unfolded.iteration) / (target.as_per_second() * (1.0 - RATE_TOLERANCE)) * 1e6 * (1.0 + 1e-9);
        match sweeps(&unfolded, limit, times) {
            Sweeps::Kept => return Some((super::target_rate(target), NetLimit::One(0, Limit::Unknown))),
            Sweeps::Slower(ratio, cycle) => {
                let links: Vec<Link> = cycle.iter().map(|&link| unfolded.links[link].2).collect();
                return Some((rate(ratio), told(net, &links)));
            }
            Sweeps::Unknown => {}
        }
    }
    let graph = unfolded.plain_graph();
    match ratio_above(&graph, limit) {
        Some(critical) => {
            let links: Vec<Link> = critical.cycle.iter().map(|&edge| graph.inner()[edge]).collect();
            Some((rate(critical.ratio), told(net, &links)))
        }
        None => {
            let of = net.rings().iter().map(stuck).enumerate();
            let slots = of.clone().find(|(_, limit)| matches!(limit, Limit::Slots(_)));
            let (ring, limit) = slots.or_else(|| of.into_iter().next())?;
            Some((ExactRate::STUCK, NetLimit::One(ring, limit)))
        }
    }
}

/// Cases of one iteration: every station's batch divides its ring's carriers of it.
fn iteration(net: &Net) -> Option<u32> {
    let mut cases = 1u32;
    for (ring, of) in net.rings().iter().enumerate() {
        for station in &of.stations {
            let each = station.batch / gcd(station.batch, net.per_case(ring));
            cases = lcm(cases, each);
            if u64::from(cases) * u64::from(net.per_case(ring)) > MOST_FIRINGS {
                return None;
            }
        }
    }
    Some(cases)
}

/// The links of all rings; `Err` names a ring whose carriers do not fit, none stands for too many firings.
fn unfold(net: &Net) -> Option<Result<Unfolded, usize>> {
    let cases = iteration(net)?;
    let carriers = |ring: usize| cases * net.per_case(ring);
    let firings: u64 = (0..net.rings().len())
        .flat_map(|r| net.rings()[r].stations.iter().map(move |s| 2 * u64::from(carriers(r) / s.batch)))
        .sum();
    if firings > MOST_FIRINGS {
        return None;
    }
    let (mut nodes, mut base) = (0, 0);
    let mut links = Vec::new();
    let mut made: Vec<((usize, usize), usize)> = Vec::new();
    for (r, ring) in net.rings().iter().enumerate() {
        let Some(start) = ring.start() else { return Some(Err(r)) };
        let shared: Vec<(usize, usize)> = (0..ring.stations.len())
            .filter_map(|s| {
                let partner = net.partner((r, s))?;
                made.iter().find(|(side, _)| *side == partner).map(|&(_, node)| (s, node))
            })
            .collect();
        let builder = Builder::within(ring, carriers(r), (nodes, base), &shared);
        made.extend((0..ring.stations.len()).map(|s| ((r, s), builder.takes(s))));
        let one = builder.build(&start);
        nodes = one.nodes;
        base += ring.stations.len();
        links.extend(one.links);
    }
    Some(Ok(Unfolded { iteration: cases, nodes, links }))
}

/// What a cycle says, ring by ring.
fn told(net: &Net, cycle: &[Link]) -> NetLimit {
    let mut parts = Vec::new();
    let mut base = 0;
    for (r, ring) in net.rings().iter().enumerate() {
        let here = base..base + ring.stations.len();
        let own: Vec<Link> = cycle
            .iter()
            .filter_map(|link| {
                let local = |i: usize| here.contains(&i).then(|| i - here.start);
                let meaning = match link.meaning {
                    Meaning::Work(i) => Meaning::Work(local(i)?),
                    Meaning::Free(i) => Meaning::Free(local(i)?),
                    Meaning::Drive(i) => Meaning::Drive(local(i)?),
                    Meaning::Slot(i) => Meaning::Slot(local(i)?),
                    Meaning::Other => return None,
                };
                Some(Link { meaning, ..*link })
            })
            .collect();
        if !own.is_empty() {
            parts.push((r, limit_by(ring, own.into_iter())));
        }
        base = here.end;
    }
    // A shared station's own time counts for one of its rings.
    let moves = |limit: &Limit| !matches!(limit, Limit::Station(_) | Limit::Stuck);
    if parts.iter().any(|(_, limit)| moves(limit)) {
        parts.retain(|(_, limit)| moves(limit));
    } else {
        parts.truncate(1);
    }
    match &parts[..] {
        [(ring, limit)] => NetLimit::One(*ring, limit.clone()),
        [] => NetLimit::One(0, Limit::Unknown),
        _ => NetLimit::Several(parts),
    }
}
