//! The plans of one cell that no other beats in floor, carriers and price together, exactly.
//!
//! A zone holds the plans with at most so many carriers and at most such a price. The plan of least floor in a zone (then fewest
//! carriers, then least price) is beaten by none: one that beat it would lie in the zone too, and come before it. Every other plan
//! of the zone that none beats takes more floor, so that it has fewer carriers or a lower price: it lies in one of the two
//! zones below that plan. So the zones are split until nothing is left in them.

use super::planning::{Doing, Nobody};
use super::short::{Told, told};
use crate::check::Document;
use crate::codes::Code;
use crate::finding::Finding;
use crate::show::Reasons;
use crate::wire::alternatives::{Ended, FORMAT, FrontDocument, Short};
use crate::wire::cell::CellDocument;
use std::sync::{Mutex, PoisonError};

/// A price counts as lower by this share.
const LOWER: f64 = 1e-7;

/// Zones that are looked at in one round, whatever the number of threads, so that the answer does not hang on it.
const AT_ONCE: usize = 4;

/// Plans in at most so many zones are looked for.
const MOST_ZONES: usize = 2_000;

/// Parts in which progress is told.
const PARTS: usize = 1_000;

/// How far the search is: the first zone is the whole, and a zone that is split is shared out evenly between itself and the zones
/// below it. So nothing that is found on the way makes the share smaller that is done.
struct Progress<'a> {
    doing: &'a Doing<'a>,
    done: Mutex<f64>,
}

impl Progress<'_> {
    /// A zone that is such a share of the whole is decided by a search, with so many zones below it; gives the share of each.
    fn searched(&self, share: f64, below: usize) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "two at most")]
        let each = share / (below + 1) as f64;
        self.add(each);
        each
    }

    /// A zone in which nothing is left to find.
    fn empty(&self, share: f64) {
        self.add(share);
    }

    fn add(&self, share: f64) {
        let mut done = self.done.lock().unwrap_or_else(PoisonError::into_inner);
        *done += share;
        // The last part is told when nothing is open any more, whatever the sum of the shares is rounded to.
        #[expect(
            clippy::cast_precision_loss,
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "from 0 to 1"
        )]
        let parts = (*done * PARTS as f64) as usize;
        self.doing.tell(parts.min(PARTS - 1), PARTS);
    }
}

/// At most so many carriers, and at most such a price.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Zone {
    carriers: u32,
    price: f64,
}

impl Zone {
    fn holds(&self, other: &Self) -> bool {
        other.carriers <= self.carriers && other.price <= self.price
    }

    fn has(&self, plan: &Point) -> bool {
        plan.carriers <= self.carriers && plan.price <= self.price * (1.0 + 1e-12)
    }
}

/// A plan by what counts.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Point {
    area: f64,
    carriers: u32,
    price: f64,
    /// Which of the plans found.
    at: usize,
}

/// What came of a zone.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Known {
    Best(Point),
    Empty,
}

/// What no front can be worked out for.
///
/// # Errors
/// The efficiency is to be worked out: then every plan would have another one.
pub fn check_front(document: &Document) -> Result<(), Finding> {
    if document.wire.requirements.reach_net_rate.is_none() {
        return Ok(());
    }
    let says =
        "the plans that no other beats are those for one efficiency, and `reach_net_rate` works one out for each plan";
    let finding = Finding::new(Code::KeysClash, "/requirements/reach_net_rate", says);
    Err(finding.advise("Leave it out, and give the `efficiency` that planning with it found."))
}

/// The front of a cell.
///
/// # Errors
/// As [`check_front`]; or the planner contradicts itself.
pub fn front(document: &Document, doing: &Doing<'_>) -> Result<FrontDocument, Finding> {
    check_front(document)?;
    let asked = &document.wire;
    let most = asked.circuits.first().and_then(|circuit| circuit.max_carriers).unwrap_or(u32::MAX);
    let first = Zone { carriers: most, price: asked.requirements.max_price.unwrap_or(f64::INFINITY) };
    let progress = Progress { doing, done: Mutex::new(0.0) };
    // Each with its share of the whole.
    let mut open = std::collections::VecDeque::from([(first, 1.0)]);
    let mut known: Vec<(Zone, Known)> = Vec::new();
    let mut plans: Vec<Short> = Vec::new();
    let mut points: Vec<Point> = Vec::new();
    let (mut complete, mut zones) = (true, 0);
    let mut reasons = Vec::new();
    while !open.is_empty() {
        // What is known already needs no search.
        let mut asked_now: Vec<(Zone, f64)> = Vec::new();
        while asked_now.len() < AT_ONCE
            && let Some((zone, share)) = open.pop_front()
        {
            let answer = known.iter().find_map(|(solved, known)| match known {
                Known::Empty if solved.holds(&zone) => Some(Known::Empty),
                Known::Best(best) if solved.holds(&zone) && zone.has(best) => Some(*known),
                _ => None,
            });
            match answer {
                Some(Known::Best(best)) => {
                    let below = below(&zone, &best);
                    let each = progress.searched(share, below.len());
                    open.extend(below.into_iter().map(|zone| (zone, each)));
                }
                Some(Known::Empty) => progress.empty(share),
                None => asked_now.push((zone, share)),
            }
        }
        if doing.over() || zones + asked_now.len() > MOST_ZONES {
            complete = complete && asked_now.is_empty();
            break;
        }
        zones += asked_now.len();
        // Only of the whole cell it is of interest why there is no plan.
        let why = if known.is_empty() { Reasons::Short } else { Reasons::None };
        let round = doing.part(doing.left(), &Nobody);
        let found = round.each(&asked_now, |(zone, share), limit| {
            let told = in_zone(document, zone, why, limit, doing)?;
            let best = best(&told.short);
            let below = best.map_or_else(Vec::new, |best| below(zone, &best));
            let each = progress.searched(*share, below.len());
            Ok::<_, Finding>((told.short, best, below.into_iter().map(|zone| (zone, each)).collect::<Vec<_>>()))
        });
        for ((zone, _), told) in asked_now.into_iter().zip(found) {
            let (short, best, below) = told?;
            match (short.status, best) {
                (_, Some(best)) => {
                    let best = Point { at: plans.len(), ..best };
                    if !points.iter().any(|p| same(p, &best)) {
                        points.push(best);
                        plans.push(short);
                    }
                    known.push((zone, Known::Best(best)));
                    open.extend(below);
                }
                (Ended::Impossible, None) => {
                    if points.is_empty() {
                        reasons = short.reasons;
                    }
                    known.push((zone, Known::Empty));
                }
                // Not proven: what lies in this zone stays unknown.
                _ => complete = false,
            }
        }
    }
    complete = complete && open.is_empty();
    if complete {
        doing.tell(PARTS, PARTS);
    }
    points
        .sort_by(|a, b| a.area.total_cmp(&b.area).then(a.carriers.cmp(&b.carriers)).then(a.price.total_cmp(&b.price)));
    Ok(FrontDocument {
        format: FORMAT,
        name: asked.name.clone(),
        complete,
        zones: u32::try_from(zones).unwrap_or(u32::MAX),
        plans: points.into_iter().map(|p| plans[p.at].clone()).collect(),
        reasons,
    })
}

/// What counts of a plan that is proven to be the best of its zone.
fn best(short: &Short) -> Option<Point> {
    let planned = short.status == Ended::Planned && short.proven;
    let (area, carriers, price) = (short.footprint?.area_m2, short.carriers?, short.price?);
    planned.then_some(Point { area, carriers, price, at: 0 })
}

fn same(a: &Point, b: &Point) -> bool {
    a.carriers == b.carriers && (a.area - b.area).abs() <= 1e-9 && (a.price - b.price).abs() <= 1e-9 * a.price.abs()
}

/// The two zones that hold what else of a zone no plan beats.
fn below(zone: &Zone, best: &Point) -> Vec<Zone> {
    let fewer = (best.carriers > 1).then(|| Zone { carriers: best.carriers - 1, price: zone.price });
    let cheaper = (best.price > 0.0).then_some(Zone { carriers: zone.carriers, price: best.price * (1.0 - LOWER) });
    fewer.into_iter().chain(cheaper).collect()
}

/// The best plan of a zone.
fn in_zone(
    document: &Document,
    zone: &Zone,
    why: Reasons,
    limit: std::time::Duration,
    doing: &Doing<'_>,
) -> Result<Told, Finding> {
    let mut wire: CellDocument = document.wire.clone();
    wire.requirements.footprint_tolerance_m2 = 0.0;
    if zone.price.is_finite() {
        wire.requirements.max_price = Some(zone.price);
    }
    if let Some(circuit) = wire.circuits.first_mut()
        && zone.carriers < u32::MAX
    {
        circuit.max_carriers = Some(zone.carriers);
    }
    // Plain records always can be written.
    let text = serde_json::to_vec(&wire).unwrap_or_default();
    let own = crate::read_cell(&text);
    told(own.as_ref().map_err(Vec::as_slice), why, limit, doing)
}
