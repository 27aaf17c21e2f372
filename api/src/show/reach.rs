//! The efficiency worked out instead of given: plans for one efficiency after another, each simulated with the same luck, until
//! the least plan that makes every net rate is known closely enough.

use super::{PlanAnswer, Reasons, plan_given, planned};
use crate::alternatives::{Doing, Nobody};
use crate::check::Document;
use crate::wire::cell::ReachNetRate;
use crate::wire::plan::{Answer, FORMAT, PlanDocument, PlannedReach, ReachRound, ReachStatus};
use crate::wire::simulation::{SimulatedSku, SimulationRun};
use loopwright_solver::study::{Clock, Found, Outcome, Watch, study};
use std::sync::atomic::AtomicBool;
use std::time::Duration;

/// No more rounds are played.
const MOST_ROUNDS: usize = 8;

/// Efficiencies so close need no further round.
const CLOSE: f64 = 0.002;

/// No efficiency is below this: a cell that stands nineteen hours of twenty is no cell.
const LEAST: f64 = 0.05;

/// By how much more than it missed the next round goes down.
const BEYOND: f64 = 0.995;

/// A plan for an efficiency, with what it makes of the SKU that is worst off.
struct Played {
    document: Document,
    found: Found,
    /// Lower bound of its net rate over what is asked.
    worst: f64,
}

/// Plans a document whose efficiency is to be worked out. `limit` holds for the search of each round.
pub(super) fn answer(
    document: &Document,
    asked: &ReachNetRate,
    limit: Duration,
    cancel: &AtomicBool,
    reasons: Reasons,
    watch: &dyn Watch,
) -> PlanAnswer {
    let most = document.wire.requirements.efficiency;
    let mut rounds: Vec<ReachRound> = Vec::new();
    let mut best: Option<Played> = None;
    // The largest that was reached, the least that was not, and the largest for which there is no plan.
    let (mut low, mut high, mut none) = (None::<f64>, most, 0.0f64);
    let mut next = most;
    for _ in 0..MOST_ROUNDS {
        let (round, played) = round(document, asked, next, limit, cancel, watch);
        let (status, reached) = (round.status, round.reached);
        rounds.push(round);
        let missed = played.as_ref().map_or(0.9, |played| played.worst);
        match status {
            ReachStatus::Planned if reached => low = Some(low.map_or(next, |low: f64| low.max(next))),
            ReachStatus::Planned => high = high.min(next),
            ReachStatus::Impossible | ReachStatus::Stopped => none = none.max(next),
        }
        let better = |new: &Played, old: &Played| match (new.worst >= 1.0, old.worst >= 1.0) {
            // The largest efficiency that is reached has the least plan; else what comes nearest.
            (true, true) => new.document.wire.requirements.efficiency > old.document.wire.requirements.efficiency,
            (false, false) => new.worst > old.worst,
            (new, _) => new,
        };
        if let Some(played) = played
            && best.as_ref().is_none_or(|old| better(&played, old))
        {
            best = Some(played);
        }
        let stop = cancel.load(std::sync::atomic::Ordering::Relaxed);
        if stop || reached && next >= most || (status == ReachStatus::Impossible && next >= most) {
            break;
        }
        next = match low {
            Some(low) => f64::midpoint(low, high),
            None if none > 0.0 => f64::midpoint(none, high),
            None => high * (missed * BEYOND).clamp(0.5, 0.98),
        };
        if high - low.unwrap_or(none) <= CLOSE || next < LEAST {
            break;
        }
    }
    let Some(best) = best else {
        // No plan even for the largest: that is the answer, with its reasons.
        return plan_given(document, limit, cancel, (reasons, true), watch);
    };
    match planned::planned(&best.document, &best.found, true) {
        Ok(mut plan) => {
            let reached = best.worst >= 1.0;
            let efficiency = best.document.wire.requirements.efficiency;
            plan.reach = Some(PlannedReach { reached, efficiency, rounds });
            let name = document.cell.parts().name.clone();
            PlanAnswer::Answer(Box::new(PlanDocument { format: FORMAT, name, answer: Answer::Planned(Box::new(plan)) }))
        }
        Err(finding) => PlanAnswer::Fault(Box::new(finding)),
    }
}

fn round(
    document: &Document,
    asked: &ReachNetRate,
    efficiency: f64,
    limit: Duration,
    cancel: &AtomicBool,
    watch: &dyn Watch,
) -> (ReachRound, Option<Played>) {
    let mut round = ReachRound {
        efficiency,
        status: ReachStatus::Stopped,
        area_m2: None,
        carriers: None,
        slots: None,
        sku: None,
        asked_net_rate_per_min: None,
        net_rate_per_min: None,
        reached: false,
    };
    let Some(document) = document.at_efficiency(efficiency) else { return (round, None) };
    let found = match study(&document.cell, &Clock::new(limit, cancel).watched(watch)) {
        Outcome::Planned(found) => *found,
        Outcome::Impossible(_) => {
            round.status = ReachStatus::Impossible;
            return (round, None);
        }
        Outcome::Stopped(..) | Outcome::Broken(..) => return (round, None),
    };
    round.status = ReachStatus::Planned;
    round.carriers = Some(found.plan.carriers);
    let run = SimulationRun {
        seed: u64::from(asked.seed),
        hours: asked.hours,
        half_width: asked.half_width,
        most_replications: asked.most_replications,
        ..SimulationRun::default()
    };
    // A simulation is as long as its replications; only a cancel ends it before.
    let doing = Doing::new(Duration::MAX, cancel, &Nobody);
    let simulated = crate::simulate::of_plan(&document, &found.plan, &run, &doing);
    let skus = simulated.map(|s| s.skus).unwrap_or_default();
    let bound = |sku: &SimulatedSku| {
        (sku.net_rate_per_min.mean - sku.net_rate_per_min.half_width)
            / sku.asked_net_rate_per_min.max(f64::MIN_POSITIVE)
    };
    let worst = skus.iter().enumerate().min_by(|a, b| bound(a.1).total_cmp(&bound(b.1)));
    let complete = skus.len() == document.cell.parts().skus.len();
    let numbers = found.plan.numbers(&document.cell).ok();
    round.area_m2 = numbers.as_ref().map(|n| n.footprint.area().m2());
    let mut lowest = 0.0;
    if let Some((k, sku)) = worst.filter(|_| complete) {
        lowest = bound(sku);
        round.sku = Some(sku.id.clone());
        round.slots = numbers.map(|n| n.slots.iter().map(|slots| slots[k]).sum());
        round.asked_net_rate_per_min = Some(sku.asked_net_rate_per_min);
        round.net_rate_per_min = Some(sku.net_rate_per_min);
        round.reached = lowest >= 1.0;
    }
    (round, Some(Played { document, found, worst: lowest }))
}
