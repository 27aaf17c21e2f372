//! What accumulation buys: the cell planned anew for one ride-through of a section after another, each plan simulated with the
//! same luck.

use super::Quiet;
use super::told::cases_per_min;
use crate::alternatives::Doing;
use crate::check::Document;
use crate::codes::Code;
use crate::finding::Finding;
use crate::read::quoted;
use crate::wire::accumulation::{AccumulateAsked, AccumulationDocument, AccumulationPoint, FORMAT};
use crate::wire::plan::ReachStatus;
use crate::wire::simulation::{Estimated, SimulatedGain};
use loopwright_solver::cell::Cell;
use loopwright_solver::operation::scenario;
use loopwright_solver::plan::Plan;
use loopwright_solver::sim::{Asked, Estimate, replicate};
use loopwright_solver::study::{Clock, Outcome, study};
use loopwright_solver::units::{Micros, Seconds};
use std::num::NonZero;

/// Everything that is wrong with what is asked.
///
/// # Errors
/// Every finding at once.
pub fn check_accumulation(document: &Document, asked: &AccumulateAsked) -> Result<(), Vec<Finding>> {
    let mut findings = Vec::new();
    let mut within = |key: &str, value: f64, least: f64, most: f64| {
        if !(value >= least && value <= most) {
            let says = format!("it must be from {least} to {most}, and is {value}");
            findings.push(Finding::new(Code::OutOfRange, format!("/{key}"), says));
        }
    };
    within("up_to_s", asked.up_to_s, 1e-3, 1e5);
    within("points", f64::from(asked.points), 2.0, 101.0);
    within("worth_per_m2", asked.worth_per_m2.unwrap_or(0.0), 0.0, 1e6);
    within("hours", asked.hours, 1e-3, 1000.0);
    within("half_width", asked.half_width, 1e-6, 1.0);
    within("least_replications", f64::from(asked.least_replications), 2.0, 1e5);
    within("most_replications", f64::from(asked.most_replications), f64::from(asked.least_replications), 1e5);
    let parts = document.cell.parts();
    if section(document, asked).is_none() {
        let says = format!("{} does not follow {} in the order", quoted(&asked.to), quoted(&asked.from));
        findings.push(Finding::new(Code::NotNeighbours, "/from", says));
    }
    if let Some(id) = asked.sku.as_ref().filter(|id| parts.skus.iter().all(|sku| sku.id != **id)) {
        findings.push(Finding::new(Code::UnknownId, "/sku", format!("there is no SKU {}", quoted(id))));
    }
    if findings.is_empty() { Ok(()) } else { Err(findings) }
}

fn section(document: &Document, asked: &AccumulateAsked) -> Option<usize> {
    let stations = &document.cell.parts().stations;
    (0..stations.len()).find(|&i| stations[i].id == asked.from && stations[(i + 1) % stations.len()].id == asked.to)
}

/// A planned point and what it makes in each replication, in cases a minute.
struct Played {
    cell: Cell,
    plan: Plan,
    rates: Vec<f64>,
    area: f64,
}

/// The curve of what [`check_accumulation`] has passed.
///
/// # Errors
/// The section or the SKU is not there.
pub fn accumulate(
    document: &Document,
    asked: &AccumulateAsked,
    doing: &Doing<'_>,
) -> Result<AccumulationDocument, Finding> {
    let gone = || Finding::new(Code::UnknownId, "/from", "there is no such section");
    let i = section(document, asked).ok_or_else(gone)?;
    let parts = document.cell.parts();
    let k =
        asked.sku.as_ref().map_or(Some(0), |id| parts.skus.iter().position(|sku| sku.id == *id)).ok_or_else(gone)?;
    let last = f64::from(asked.points.max(2) - 1);
    let times: Vec<f64> = (0..asked.points.max(2)).map(|p| asked.up_to_s * f64::from(p) / last).collect();
    let planned = doing.each(&times, |&time, limit| {
        let mut parts = parts.clone();
        parts.sections[i].ride_through = Seconds::from_s(time);
        let Ok(cell) = Cell::new(parts) else { return (ReachStatus::Stopped, None) };
        match study(&cell, &Clock::new(limit, doing.cancel)) {
            Outcome::Planned(found) => (ReachStatus::Planned, Some((cell, *found))),
            Outcome::Impossible(_) => (ReachStatus::Impossible, None),
            Outcome::Stopped(..) | Outcome::Broken(..) => (ReachStatus::Stopped, None),
        }
    });
    let mut points = Vec::new();
    let mut played: Vec<Option<Played>> = Vec::new();
    for (&time, (status, found)) in times.iter().zip(planned) {
        let mut point = AccumulationPoint {
            ride_through_s: time,
            status,
            slots: None,
            area_m2: None,
            carriers: None,
            price: None,
            net_rate_per_min: None,
            gain_per_min: None,
        };
        let one = found.and_then(|(cell, found)| {
            let numbers = found.plan.numbers(&cell).ok()?;
            let area = numbers.footprint.area().m2();
            point.slots = Some(numbers.slots[i][k]);
            point.area_m2 = Some(area);
            point.carriers = Some(found.plan.carriers);
            point.price = Some(numbers.price.units());
            Some(Played { cell, plan: found.plan, rates: Vec::new(), area })
        });
        points.push(point);
        played.push(one);
    }
    let (replications, reached) = play(document, asked, k, &mut played, doing);
    let mut before: Option<&Played> = None;
    for (point, played) in points.iter_mut().zip(&played) {
        let Some(played) = played.as_ref().filter(|p| p.rates.len() >= 2) else { continue };
        let rate = Estimate::of(&played.rates);
        point.net_rate_per_min = Some(Estimated { mean: rate.mean, half_width: rate.half_width });
        point.gain_per_min = before.map(|before| gain(before, played));
        before = Some(played);
    }
    let (enough, says) = verdict(asked, &points, &played);
    Ok(AccumulationDocument {
        format: FORMAT,
        name: document.wire.name.clone(),
        asked: asked.clone(),
        sku: parts.skus[k].id.clone(),
        asked_net_rate_per_min: parts.skus[k].case_rate.as_per_minute(),
        given_ride_through_s: parts.sections[i].ride_through.s(),
        replications,
        reached,
        points,
        enough: enough.and_then(|at| u32::try_from(at).ok()),
        says,
    })
}

/// Plays every plan equally often, twice as often again while some interval is too wide; gives how often, and whether all are
/// narrow enough.
fn play(
    document: &Document,
    asked: &AccumulateAsked,
    k: usize,
    all: &mut [Option<Played>],
    doing: &Doing<'_>,
) -> (u32, bool) {
    let factor = cases_per_min(document, k);
    let mut count = asked.least_replications.max(2);
    let mut done = 0;
    loop {
        let mut narrow = true;
        for played in all.iter_mut().flatten() {
            let Some(found) = played.plan.numbers(&played.cell).ok().and_then(|numbers| {
                let scenario = scenario(&played.cell, &numbers, k, played.plan.carriers, false)?;
                let run = Asked {
                    seed: u64::from(asked.seed),
                    length: Micros::nearest_s(asked.hours * 3600.0),
                    warm_up: None,
                    least: count,
                    most: count,
                    half_width: asked.half_width,
                    threads: std::thread::available_parallelism().map_or(1, NonZero::get),
                };
                replicate(&scenario, &run, &Quiet(doing))
            }) else {
                continue;
            };
            if found.rates.len() < count as usize {
                // Broken off: what all points have is kept.
                return (done, false);
            }
            played.rates = found.rates.iter().map(|rate| rate * factor).collect();
            let rate = Estimate::of(&played.rates);
            narrow &= rate.half_width <= asked.half_width * rate.mean;
        }
        done = count;
        if narrow || count >= asked.most_replications || doing.over() {
            return (done, narrow);
        }
        count = (2 * count).min(asked.most_replications);
    }
}

/// What one plan makes more than another, by pairs of replications with the same luck.
fn gain(before: &Played, after: &Played) -> SimulatedGain {
    let differences: Vec<f64> = after.rates.iter().zip(&before.rates).map(|(a, b)| a - b).collect();
    let of = Estimate::of(&differences);
    SimulatedGain { mean: of.mean, half_width: of.half_width }
}

/// The first point after which no later one brings more than its interval, or more than its floor is worth.
fn verdict(
    asked: &AccumulateAsked,
    points: &[AccumulationPoint],
    played: &[Option<Played>],
) -> (Option<usize>, String) {
    let known: Vec<usize> =
        (0..points.len()).filter(|&p| played[p].as_ref().is_some_and(|p| p.rates.len() >= 2)).collect();
    let section = format!("{} to {}", asked.from, asked.to);
    if known.len() < 2 {
        return (None, format!("{section}: fewer than two points have a plan that could be simulated"));
    }
    let pays = |from: usize, to: usize| {
        let (Some(a), Some(b)) = (&played[from], &played[to]) else { return false };
        let of = gain(a, b);
        let sure = of.mean - of.half_width > 0.0;
        sure && asked.worth_per_m2.is_none_or(|worth| of.mean >= worth * (b.area - a.area).max(0.0))
    };
    let enough = known.iter().copied().find(|&from| known.iter().all(|&to| to <= from || !pays(from, to)));
    let last = known.last().copied();
    match enough.filter(|at| Some(*at) != last) {
        Some(at) => {
            let seconds = points[at].ride_through_s;
            let why = match asked.worth_per_m2 {
                None => "every further gain lies within its confidence interval".to_owned(),
                Some(worth) => format!(
                    "no further gain is sure and brings {worth} cases a minute for each square metre that it takes"
                ),
            };
            (Some(at), format!("{section}: {seconds:.1} s of ride-through are enough; {why}"))
        }
        None => (None, format!("{section}: the net rate still gains at {:.1} s of ride-through", asked.up_to_s)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Curves made up so that the answer is known: noise common to all points, and a gain that ends at the third.
    #[test]
    fn where_more_does_not_pay() {
        let document = crate::read_cell(include_bytes!("../../../examples/short-changes.yaml")).unwrap();
        let asked = AccumulateAsked::usual("open".to_owned(), "fill".to_owned(), 4.0);
        let curve = |gains: &[f64], floors: &[f64]| {
            let cell = document.cell.clone();
            let plan = |_| Plan {
                form: 0,
                modules: 1,
                acceleration_share: 1.0,
                carriers: 1,
                stations: Vec::new(),
                sections: Vec::new(),
            };
            let played: Vec<Option<Played>> = gains
                .iter()
                .zip(floors)
                .enumerate()
                .map(|(p, (gain, &area))| {
                    // Luck of its own is small beside the luck that all points share.
                    let rates = (0..40u32).map(|r| {
                        20.0 + f64::from(r * 7 % 11) * 0.3 + gain + f64::from((r * 13 + p as u32 * 5) % 7) * 0.002
                    });
                    Some(Played { cell: cell.clone(), plan: plan(p), rates: rates.collect(), area })
                })
                .collect();
            let point = |p: usize| AccumulationPoint {
                ride_through_s: p as f64,
                status: ReachStatus::Planned,
                slots: None,
                area_m2: None,
                carriers: None,
                price: None,
                net_rate_per_min: None,
                gain_per_min: None,
            };
            (played, (0..gains.len()).map(point).collect::<Vec<_>>())
        };
        let floors = [10.0, 10.5, 11.0, 11.5, 12.0];
        let (played, points) = curve(&[0.0, 0.5, 0.8, 0.8, 0.8], &floors);
        assert_eq!(verdict(&asked, &points, &played).0, Some(2));
        let (rising, points) = curve(&[0.0, 0.5, 0.8, 1.0, 1.2], &floors);
        assert_eq!(verdict(&asked, &points, &rising).0, None);
        // A square metre must bring 0.7 cases a minute: from the first point on it does, from the second on no more.
        let worth = AccumulateAsked { worth_per_m2: Some(0.7), ..asked.clone() };
        assert_eq!(verdict(&worth, &points, &rising).0, Some(1));
        let (flat, points) = curve(&[0.0; 5], &floors);
        let (enough, says) = verdict(&asked, &points, &flat);
        assert_eq!(enough, Some(0));
        assert!(says.contains("0.0 s"), "{says}");
    }
}
