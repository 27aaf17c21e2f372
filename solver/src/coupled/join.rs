//! Plans of the circuits by themselves brought together: their track shared out so that hand-offs meet, and carriers added
//! until all of them hold.

use super::align::{Keep, align};
use super::judge::{holds, missed, price};
use super::placing::place;
use super::search::{SAME_AREA, Search};
use super::{CoupledCell, CoupledPlan};
use crate::plan::{Numbers, Plan};
use crate::study::{Clock, Found};
use crate::throughput::{Limit, NetLimit};

/// Carriers beyond the fewest of each circuit by itself that are tried, all circuits together.
const MORE_CARRIERS: u32 = 6;

/// Sections that are given a slot more, one after the other, until rates are made.
const MOST_MENDS: usize = 8;

/// The best plan so far.
pub(super) struct Best {
    pub(super) plan: CoupledPlan,
    pub(super) area: f64,
    pub(super) carriers: u32,
    pub(super) price: f64,
    /// It comes of the best plans of its circuits, and not of a first look.
    pub(super) sought: bool,
}

/// Floor area, carriers and price of a plan.
pub(super) type Worth = (f64, u32, f64);

impl Search<'_> {
    /// The circuits' own plans with their track shared out so that hand-offs meet, with as few carriers more as will do.
    pub(super) fn try_plans(&mut self, area: f64, alone: &[Found], sought: bool) -> Option<Worth> {
        let coupled = self.coupled;
        let share = alone.iter().map(|f| f.plan.acceleration_share).fold(1.0, f64::min);
        let plans: Vec<Plan> = alone.iter().map(|f| Plan { acceleration_share: share, ..f.plan.clone() }).collect();
        let numbers = numbers_of(coupled, &plans)?;
        let carriers: u32 = plans.iter().map(|p| p.carriers).sum();
        let mut found: Option<Worth> = None;
        for keep in [Keep::Slots, Keep::Carriers, Keep::Needs] {
            let aligned = match keep {
                Keep::Carriers => mended(coupled, &plans, &numbers),
                _ => align(coupled, &plans, &numbers, keep, &nothing_more(coupled)),
            };
            let Some(aligned) = aligned else {
                tracing::debug!(?keep, "hand-offs do not meet");
                continue;
            };
            let Some(numbers) = numbers_of(coupled, &aligned.plans) else { continue };
            let Some(placed) = place(coupled, &aligned, &numbers) else { continue };
            let takes = placed.footprint.area().m2();
            if found.is_some_and(|f| takes > f.0 + SAME_AREA) {
                continue;
            }
            let Some(plan) = with_more_carriers(coupled, &aligned, self.clock) else {
                tracing::debug!(?keep, takes, "does not hold");
                continue;
            };
            let count = plan.plans.iter().map(|p| p.carriers).sum();
            let money = numbers_of(coupled, &plan.plans).map_or(f64::INFINITY, |n| price(&n).units());
            let this = (takes, count, money);
            if found.is_none_or(|f| this.0 < f.0 - SAME_AREA || (this.1, this.2) < (f.1, f.2)) {
                found = Some(this);
                self.keep(plan, this, sought);
            }
            if takes <= area + SAME_AREA && count == carriers {
                break;
            }
        }
        found
    }

    fn keep(&mut self, plan: CoupledPlan, (area, carriers, price): Worth, sought: bool) {
        let better = self.best.as_ref().is_none_or(|best| {
            if (area - best.area).abs() > self.tolerance {
                return area < best.area;
            }
            // Of equal plans the one that does not hang on how the first look went.
            (carriers, price, !sought) < (best.carriers, best.price, !best.sought)
        });
        if better {
            tracing::debug!(area, carriers, price, sought, "plan");
            self.best = Some(Best { plan, area, carriers, price, sought });
        }
    }
}

/// The numbers of all circuits; none when a plan does not fit its cell.
pub(super) fn numbers_of(coupled: &CoupledCell, plans: &[Plan]) -> Option<Vec<Numbers>> {
    coupled.cells().iter().zip(plans).map(|(cell, plan)| plan.numbers(cell).ok()).collect()
}

/// No section is longer than it must be.
fn nothing_more(coupled: &CoupledCell) -> Vec<Vec<f64>> {
    coupled.cells().iter().map(|cell| vec![0.0; cell.len()]).collect()
}

/// Plans aligned so that the carriers fit; where a rate is missed then, the sections that limit it are given a slot more, one by
/// one.
fn mended(coupled: &CoupledCell, plans: &[Plan], numbers: &[Numbers]) -> Option<CoupledPlan> {
    let mut more = nothing_more(coupled);
    let mut given: Vec<Vec<u32>> = coupled.cells().iter().map(|cell| vec![0; cell.len()]).collect();
    let mut aligned = align(coupled, plans, numbers, Keep::Carriers, &more)?;
    for _ in 0..MOST_MENDS {
        let Some(now) = numbers_of(coupled, &aligned.plans) else { break };
        let Some((sku, Some(limit))) = missed(coupled, &aligned, &now) else { break };
        let limits = match limit {
            NetLimit::One(circuit, limit) => vec![(circuit, limit)],
            NetLimit::Several(all) => all,
        };
        let sections = limits.into_iter().flat_map(|(circuit, limit)| {
            let all = match limit {
                Limit::Slots(section) => vec![section],
                Limit::Chain(sections) => sections,
                _ => Vec::new(),
            };
            all.into_iter().map(move |section| (circuit, section))
        });
        // That which was given least so far.
        let Some((c, i)) = sections.min_by_key(|&(c, i)| given[c][i]) else { break };
        given[c][i] += 1;
        let pitch = coupled.cells()[c].rides()[sku].pitch.m();
        more[c][i] = f64::from(now[c].slots[i][sku] + 1) * pitch;
        let Some(again) = align(coupled, plans, numbers, Keep::Carriers, &more) else { break };
        aligned = again;
    }
    Some(aligned)
}

/// The plan with the fewest carriers more, all circuits together, with which everything holds.
fn with_more_carriers(coupled: &CoupledCell, plan: &CoupledPlan, clock: &Clock<'_>) -> Option<CoupledPlan> {
    let circuits = plan.plans.len();
    for more in 0..=MORE_CARRIERS {
        for added in sharings(more, circuits) {
            if clock.over() {
                return None;
            }
            let mut tried = plan.clone();
            tried.plans.iter_mut().zip(&added).for_each(|(p, &n)| p.carriers += n);
            if holds(coupled, &tried) {
                return Some(tried);
            }
        }
    }
    None
}

/// Every way to share `count` out over so many.
fn sharings(count: u32, over: usize) -> Vec<Vec<u32>> {
    if over <= 1 {
        return vec![vec![count; over]];
    }
    let first = (0..=count)
        .flat_map(|n| sharings(count - n, over - 1).into_iter().map(move |rest| [n].into_iter().chain(rest).collect()));
    first.collect()
}
