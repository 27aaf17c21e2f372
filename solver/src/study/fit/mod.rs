//! Whether chosen options, on a fold of so many modules, make every rate with N carriers, for any way of sharing out the
//! track: a branch and bound on the lengths of the sections.
//!
//! A node bounds each section's length. Its relaxation gives every section the slots of its longest and the lag of its
//! shortest length at once; when even that misses a rate, no sharing within the bounds makes it. Lengths are split where
//! some SKU gains a slot, since between such steps only lags change.

mod changes;
mod common;
mod phase;
mod quick;
mod rest;
mod sharing;
mod starts;
mod times;
mod verdict;

use super::Clock;
use super::fold::Fold;
use super::space::Space;
use crate::option::StationOption;
use crate::ring::{Ring, RingSection};
use crate::section::slots;
use crate::throughput::{Limit, Times};
use crate::units::Metres;
use phase::{Kinds, Phases};
use quick::QuickMap;
use std::cell::{Cell, OnceCell, RefCell};
use verdict::Certain;

/// Nodes in which a sharing is looked for, at most and at least; fewer where stations and SKUs are many.
const NODES: (usize, usize) = (60, 2_000);

/// Nodes of a first look.
const QUICK_NODES: usize = 24;

/// Node budget, shared by stations and SKUs.
const NODE_WORK: usize = 40_000;

/// Orders of giving out track that a search tries at first.
const ROOT_ORDERS: usize = 8;

/// Orders of giving out track that a quick look tries.
const QUICK_ORDERS: usize = 3;

/// Every so many nodes all SKUs are looked at, in between only those that missed lately.
const ALL_SKUS_EACH: usize = 4;

/// A sharing that takes more nodes is hard: starts that all SKUs have in common are looked at from then on, and sharings that
/// are driven soonest.
const EASY_NODES: usize = 200;

/// Sections are not split finer than this, m.
const FINEST: f64 = 5e-4;

/// What came of it.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::study) enum Fitting {
    /// It works so.
    Fits {
        /// Lengths of the sections, by station before.
        lengths: Vec<f64>,
        /// Scale of the acceleration.
        share: f64,
    },
    /// No sharing of the track works with so many carriers.
    Never,
    /// Nor with more.
    NeverMore,
    /// None found, and none excluded; whether more work might.
    Unsure(bool),
}

/// Chosen options on a fold.
pub(in crate::study) struct Fit<'a, 'c> {
    space: &'a Space<'c>,
    clock: &'a Clock<'a>,
    fold: &'a Fold,
    modules: u32,
    chosen: Vec<&'a StationOption>,
    straight: f64,
    /// Track for sections.
    total: f64,
    low: Vec<f64>,
    high: Vec<f64>,
    /// Sections on each straight and the track there is for them.
    groups: Vec<(Vec<usize>, f64)>,
    /// Frames that reach past a neighbour: `(sections between, least sum)`.
    apart: Vec<(Vec<usize>, f64)>,
    /// SKUs with a demand, those that missed something last first.
    order: RefCell<Vec<usize>>,
    /// By SKU, firing times at which it made its rate last.
    times: RefCell<Vec<Times>>,
    /// Rings that were looked at while searching with one number of carriers, and whether they make their rate: nodes share
    /// most of them.
    seen: RefCell<QuickMap<Look, bool>>,
    /// Kinds of starts by SKU, where they can be numbered, and what is known about them with one number of carriers.
    phases: Vec<Option<Phases>>,
    kinds: RefCell<Kinds>,
    /// By SKU, what starts make carriers wait.
    waits_by_start: Vec<OnceCell<Vec<Vec<f64>>>>,
    /// By SKU, lags at the largest lengths.
    far_lags: Vec<OnceCell<Vec<f64>>>,
    /// By SKU, the ring with the most slots and the shortest ways of any sharing.
    best_rings: RefCell<Vec<Option<Ring>>>,
    /// Some change of a sharing took too long: nodes are looked at for that from then on.
    too_long: Cell<bool>,
}

/// A ring as far as it differs between nodes: SKU, slots and lags, time to drive the rest, acceleration share.
type Look = (usize, Vec<RingSection>, i64, u64);

struct Node {
    low: Vec<f64>,
    high: Vec<f64>,
    /// Least and largest acceleration share.
    share: (f64, f64),
}

/// Every share.
const ANY_SHARE: (f64, f64) = (1e-3, 1.0);

/// Shares are not split finer than this.
const FINEST_SHARE: f64 = 5e-3;

/// Where a node is split.
#[derive(Debug)]
enum Split {
    /// Of a section, at a length; whether the shorter ones are looked at first.
    Length { section: usize, at: f64, shorter_first: bool },
    /// Of the acceleration.
    Share(f64),
}

/// Why lengths do not do.
#[derive(Debug)]
enum Miss {
    Rate(Limit, usize),
    Times,
    Duty,
    Changes,
}

impl<'a, 'c> Fit<'a, 'c> {
    /// None when the options do not fit the straights, or need changes that take too long.
    pub(in crate::study) fn new(
        space: &'a Space<'c>,
        clock: &'a Clock<'a>,
        fold: &'a Fold,
        modules: u32,
        choice: &[usize],
    ) -> Option<Self> {
        let n = space.len();
        let straight = fold.straight_length(space, modules);
        let chosen: Vec<&StationOption> = choice.iter().enumerate().map(|(i, &o)| &space.options[i][o]).collect();
        let ends = 2.0 * space.form(fold.form).end_length().m();
        let zones: f64 = chosen.iter().map(|o| o.zone.m()).sum();
        let total = 2.0 * straight + ends - zones;
        let (mut low, mut high) = (Vec::with_capacity(n), Vec::with_capacity(n));
        for i in 0..n {
            let pair = space.pair(i, choice[i], choice[space.next(i)]);
            low.push(fold.need(space, i, pair, straight));
            high.push(space.lengths(fold.form, i, fold.lies[i]).most[pair]);
        }
        let mut groups = Vec::new();
        let mut parts = vec![(0, fold.count)];
        if fold.count < n {
            parts.push((fold.count, n));
        }
        for (from, to) in parts {
            let stations: Vec<usize> = (from..to).map(|j| fold.station(n, j)).collect();
            let zones: f64 = stations.iter().map(|&i| chosen[i].zone.m()).sum();
            groups.push((stations[..stations.len() - 1].to_vec(), straight - zones));
        }
        let mut fit = Self {
            space,
            clock,
            fold,
            modules,
            chosen,
            straight,
            total,
            low,
            high,
            groups,
            apart: Vec::new(),
            order: RefCell::new(space.demanded.clone()),
            times: RefCell::new(vec![Times::default(); space.cell.rides().len()]),
            seen: RefCell::default(),
            phases: Vec::new(),
            kinds: RefCell::default(),
            waits_by_start: vec![OnceCell::new(); space.cell.rides().len()],
            far_lags: vec![OnceCell::new(); space.cell.rides().len()],
            best_rings: RefCell::new(vec![None; space.cell.rides().len()]),
            too_long: Cell::new(false),
        };
        fit.apart = fit.frames_across();
        let node = Node { low: fit.low.clone(), high: fit.high.clone(), share: ANY_SHARE };
        let node = fit.tighten(node)?;
        // One carrier alone is set soonest.
        if let Some(keeping) = &space.keeping
            && fit.misses_changes(keeping, &node, 1, &fit.pace(1.0), false)
        {
            return None;
        }
        (fit.low, fit.high) = (node.low, node.high);
        fit.phases = (0..space.cell.rides().len()).map(|k| fit.phases_of(k)).collect();
        Some(fit)
    }

    /// The most carriers that any SKU allows, whatever the sharing.
    pub(in crate::study) fn most_carriers(&self) -> u32 {
        let rides = self.space.cell.rides().len();
        let fit = (0..rides).map(|k| self.most_slots(&self.low, &self.high, k));
        let most = self.space.cell.parts().circuit.max_carriers.unwrap_or(u32::MAX);
        fit.min().unwrap_or(0).min(most)
    }

    /// Whether so many carriers of one SKU fit lengths within bounds.
    fn fit_slots(&self, low: &[f64], high: &[f64], k: usize, carriers: u32) -> bool {
        let ride = &self.space.cell.rides()[k];
        // The least slots are mostly enough, and soon counted.
        low.iter().map(|&l| slots(Metres::from_m(l), ride)).sum::<u32>() >= carriers
            || self.most_slots(low, high, k) >= carriers
    }

    /// The most slots of one SKU that lengths within bounds can have: what is left over goes where it makes slots soonest.
    fn most_slots(&self, low: &[f64], high: &[f64], k: usize) -> u32 {
        let ride = &self.space.cell.rides()[k];
        let count = |length: f64| slots(Metres::from_m(length), ride);
        let pitch = ride.pitch.m();
        let mut sum: u32 = low.iter().map(|&l| count(l)).sum();
        let mut rest = self.total - low.iter().sum::<f64>();
        let mut steps: Vec<f64> = Vec::new();
        for (&low, &high) in low.iter().zip(high) {
            let first = (f64::from(count(low) + 1) - 1e-6) * pitch - low;
            let more = count(high).saturating_sub(count(low));
            steps.extend((0..more).map(|i| if i == 0 { first } else { pitch }));
        }
        steps.sort_by(f64::total_cmp);
        for step in steps {
            // A hair in hand for each rounding.
            if step > rest + 1e-7 {
                break;
            }
            rest -= step;
            sum += 1;
        }
        sum
    }

    /// Only a few sharings with so many carriers, nothing proven.
    pub(in crate::study) fn at_once(&self, carriers: u32) -> Option<(Vec<f64>, f64)> {
        let node = Node { low: self.low.clone(), high: self.high.clone(), share: ANY_SHARE };
        let orders = self.orders(&node);
        self.try_sharings(&node, carriers, &orders[..QUICK_ORDERS.min(orders.len())]).ok()
    }

    /// Searches for a sharing with `carriers`: with effort 0 only a little, with each further one four times as long.
    pub(in crate::study) fn with(&self, carriers: u32, effort: u32) -> Fitting {
        if carriers == 0 || carriers > self.most_carriers() {
            return Fitting::NeverMore;
        }
        self.seen.borrow_mut().clear();
        self.kinds.borrow_mut().clear();
        let work = self.chosen.len() * self.space.demanded.len().max(1);
        let budget = match effort {
            0 => QUICK_NODES,
            more => (NODE_WORK / work).clamp(NODES.0, NODES.1) << (2 * (more - 1)).min(16),
        };
        match self.searched(carriers, (budget, effort), EASY_NODES) {
            // Starts in common lead to other parts of the track than lengths alone: what is in doubt there need not be here.
            (Fitting::Unsure(false), true) => self.searched(carriers, (budget, effort), usize::MAX).0,
            (other, _) => other,
        }
    }

    /// The search itself, which looks at starts in common after so many nodes; and whether it did.
    fn searched(&self, carriers: u32, (budget, effort): (usize, u32), easy: usize) -> (Fitting, bool) {
        let mut open = vec![Node { low: self.low.clone(), high: self.high.clone(), share: ANY_SHARE }];
        let (mut unsure, mut nodes, mut root) = (false, 0, true);
        while let Some(node) = open.pop() {
            nodes += 1;
            if nodes > budget || self.clock.over() {
                tracing::debug!(carriers, nodes, effort, low = ?self.low, high = ?self.high, "sharing given up");
                return (Fitting::Unsure(true), nodes > easy);
            }
            let Some(mut node) = self.tighten(node) else { continue };
            if let Some(miss) = self.misses(&mut node, carriers, nodes % ALL_SKUS_EACH == 1) {
                tracing::trace!(nodes, "pruned");
                if root && miss == Certain::AlsoWithMore {
                    return (Fitting::NeverMore, false);
                }
                root = false;
                continue;
            }
            let hard = nodes > easy;
            let mut gap = None;
            if hard {
                let Some(common) = self.common_starts(node, carriers) else { continue };
                (node, gap) = (common.node, common.split);
            }
            let orders = if hard { self.soonest_orders(&node) } else { self.orders(&node) };
            let tries = if root { ROOT_ORDERS } else { 2 };
            root = false;
            match self.try_sharings(&node, carriers, &orders[..tries.min(orders.len())]) {
                Ok((lengths, share)) => return (Fitting::Fits { lengths, share }, hard),
                Err(misses) => {
                    let mended = misses.iter().filter(|_| hard).find_map(|miss| self.split_mended(&node, miss));
                    let split = mended.or(gap).or_else(|| self.split(&node, carriers, misses.last()));
                    tracing::trace!(nodes, ?misses, ?split, low = ?node.low, high = ?node.high, "node");
                    match split {
                        Some(split) => open.extend(halves(node, &split)),
                        None => unsure = true,
                    }
                }
            }
        }
        (if unsure { Fitting::Unsure(false) } else { Fitting::Never }, nodes > easy)
    }

    /// At the slot that a miss asks for: a sharing that has it may miss something else, and then no split would ask for it.
    fn split_mended(&self, node: &Node, miss: &Miss) -> Option<Split> {
        match miss {
            Miss::Rate(limit @ (Limit::Slots(_) | Limit::Chain(_)), k) => self.split_for(node, limit, *k),
            _ => None,
        }
    }

    /// Where to split: where what was missed last could be mended; else a section whose slots are not settled for some
    /// SKU, the last ones (where carriers start) first; then the widest, as only lags differ.
    fn split(&self, node: &Node, carriers: u32, miss: Option<&Miss>) -> Option<Split> {
        if let Some(Miss::Rate(limit, k)) = miss {
            let split = self.split_for(node, limit, *k).or_else(|| self.split_start(node, carriers, *k));
            if split.is_some() {
                return split;
            }
        }
        let rides = self.space.cell.rides();
        let open_start = self.space.demanded.iter().any(|&k| !self.start_is_known(node, k, carriers));
        let mut best: Option<(f64, usize, f64)> = None;
        let mut widest: Option<(f64, usize)> = None;
        for i in 0..node.low.len() {
            let (low, high) = (node.low[i], node.high[i]);
            if high - low > widest.map_or(FINEST, |w| w.0) {
                widest = Some((high - low, i));
            }
            let mut steps: Vec<f64> = Vec::new();
            for &k in &self.space.demanded {
                let ride = &rides[k];
                let (least, most) = (slots(Metres::from_m(low), ride), slots(Metres::from_m(high), ride));
                // The rule counts a slot from 1e-6 of a pitch below on.
                steps.extend((least + 1..=most).map(|c| (f64::from(c) - 1e-6) * ride.pitch.m() + 1e-9));
            }
            steps.retain(|&s| s > low && s <= high);
            if steps.is_empty() {
                continue;
            }
            steps.sort_by(f64::total_cmp);
            let middle = steps[steps.len() / 2];
            #[allow(clippy::cast_precision_loss)]
            let weight = if open_start { 1e3 * (i + 1) as f64 } else { high - low };
            if best.is_none_or(|b| weight > b.0) {
                best = Some((weight, i, middle));
            }
        }
        if let Some((_, i, at)) = best {
            return Some(longer_first(i, at));
        }
        let (least, most) = node.share;
        if (self.timed() || self.too_long.get()) && most - least > FINEST_SHARE {
            return Some(Split::Share(f64::midpoint(least, most)));
        }
        widest.map(|(_, i)| longer_first(i, f64::midpoint(node.low[i], node.high[i])))
    }

    /// A step of one SKU's slots in a section that its miss names.
    fn split_for(&self, node: &Node, limit: &Limit, k: usize) -> Option<Split> {
        let sections: Vec<usize> = match limit {
            Limit::Slots(i) => vec![*i],
            Limit::Chain(list) => list.clone(),
            Limit::Carriers => return None,
            _ => (0..node.low.len()).rev().collect(),
        };
        let (least, most) = (self.slots_of(&node.low, k), self.slots_of(&node.high, k));
        let i = sections.into_iter().find(|&i| least[i] < most[i])?;
        // One slot more: without it the same cycle of waits most likely misses again, whatever the rest gets.
        let step = least[i] + 1;
        let at = (f64::from(step) - 1e-6) * self.space.cell.rides()[k].pitch.m() + 1e-9;
        (at > node.low[i] && at <= node.high[i]).then(|| longer_first(i, at))
    }

    /// Towards a start of the carriers with which an SKU that was missed makes its rate at best, the last section first.
    fn split_start(&self, node: &Node, carriers: u32, k: usize) -> Option<Split> {
        let (low, high) = self.start_that_makes(node, carriers, k, &self.pace(node.share.1))?;
        (0..low.len()).rev().find_map(|section| {
            if low[section] > node.low[section] + FINEST {
                Some(longer_first(section, low[section]))
            } else if high[section] < node.high[section] - FINEST {
                Some(Split::Length { section, at: high[section] + 2e-9, shorter_first: true })
            } else {
                None
            }
        })
    }
}

/// Both parts of a node; the last one is looked at first.
fn halves(node: Node, split: &Split) -> [Node; 2] {
    let mut below = Node { low: node.low.clone(), high: node.high.clone(), share: node.share };
    let mut above = node;
    match *split {
        Split::Length { section, at, shorter_first } => {
            below.high[section] = at - 2e-9;
            above.low[section] = at;
            if shorter_first {
                return [above, below];
            }
        }
        Split::Share(at) => {
            below.share.1 = at;
            above.share.0 = at;
        }
    }
    [below, above]
}

fn longer_first(section: usize, at: f64) -> Split {
    Split::Length { section, at, shorter_first: false }
}
