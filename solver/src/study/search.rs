//! Folds and modules by ascending floor area; on each the program, the exact check, the cut, and again.

use super::fold::{Fold, Folds, Kept};
use super::known::{Known, Laid, Shown};
use super::program::{Builder, Cut, Goal, Solved};
use super::shapes::Lay;
use super::site::{Best, Doubt, Place, Site};
use super::space::Space;
use super::{Clock, Depth, Effort, Found, Outcome, Progress, Proof};
use crate::cell::Cell;
use crate::units::{Area, Money};
use std::collections::{BinaryHeap, VecDeque};

/// Areas so close count as equal, m².
const SAME_AREA: f64 = 1e-9;

/// No circuit has more carriers.
const MOST_CARRIERS: u32 = 100_000;

/// Candidates that the first visit of a place may cut off before it is put aside.
pub(super) const QUICK_TRIES: u32 = 4;

/// Places put aside before the first leap ahead; twice as many before each further one.
const VISITS_BEFORE_LEAP: usize = 3;

/// Effort up to which places in doubt are come back to, and that of the search for the least price.
pub(super) const MOST_EFFORT: u32 = 4;

/// The same where less floor than the best plan's is at stake.
const MOST_EFFORT_FOR_FLOOR: u32 = 5;

pub(super) const PRICE_EFFORT: u32 = 2;

/// SKUs whose shortest ways round are used to leave out options.
pub(super) const PRUNING_SKUS: usize = 4;

pub(super) struct Search<'a, 'c> {
    pub(super) space: &'a Space<'c>,
    pub(super) folds: &'a [Fold],
    pub(super) clock: &'a Clock<'a>,
    pub(super) tolerance: f64,
    pub(super) effort: Effort,
    /// SKUs whose rows the programs have; grows as they prove to matter.
    pub(super) active: Vec<usize>,
    pub(super) best: Option<Best>,
    /// Least area of any plan found.
    pub(super) least_area: f64,
    /// Areas, and fewest carriers there, that are not excluded.
    pub(super) undecided: Vec<(f64, u32)>,
    pub(super) undecided_price: f64,
    /// No plan has less floor area, as far as is known so far.
    bound: f64,
    /// Time ran out before the places within reach were decided.
    stopped: bool,
    pub(super) known: &'a Known<'a>,
    /// A plan of another study works here.
    begun_with_plan: bool,
}

pub(super) fn run(cell: &Cell, clock: &Clock<'_>, depth: Depth, lay: Option<&Lay>) -> Outcome {
    run_knowing(cell, clock, (depth, lay), &Known::none()).0
}

/// As [`run`], with what other studies have shown; and what this one adds.
pub(super) fn run_beside(cell: &Cell, clock: &Clock<'_>, others: &[&Shown]) -> (Outcome, Shown) {
    let known = Known::of(cell, others);
    let (outcome, best) = run_knowing(cell, clock, (Depth::Best, None), &known);
    (outcome, known.shown(cell, best))
}

fn run_knowing(
    cell: &Cell,
    clock: &Clock<'_>,
    (depth, lay): (Depth, Option<&Lay>),
    known: &Known<'_>,
) -> (Outcome, Option<Laid>) {
    let space = Space::new(cell, clock);
    if space.options.iter().any(Vec::is_empty) {
        return (Outcome::Impossible(Effort::default()), None);
    }
    let folds = Folds::of(&space);
    let folds = match lay {
        Some(lay) => folds.only(lay),
        None => folds,
    };
    let mut search = Search {
        space: &space,
        folds: &folds.all,
        clock,
        tolerance: cell.parts().requirements.footprint_tolerance.m2() + SAME_AREA,
        effort: Effort::default(),
        active: space.first_active(),
        best: None,
        least_area: f64::INFINITY,
        undecided: Vec::new(),
        undecided_price: f64::INFINITY,
        bound: 0.0,
        stopped: false,
        known,
        begun_with_plan: false,
    };
    for fold in &folds.left_out {
        let least = fold.least_modules(&space).map(|modules| fold.footprint(&space, modules));
        if let Some(footprint) = least.filter(|footprint| cell.has_room(footprint)) {
            search.undecided.push((footprint.area().m2(), 1));
        }
    }
    search.begin_with_known();
    search.begun_with_plan = search.best.is_some();
    let best = search.run(depth);
    let laid = best.as_ref().map(|best| best.laid.clone());
    (search.outcome(best), laid)
}

impl Search<'_, '_> {
    /// First a quick way up through the areas: a place that is not decided after a few candidates is put aside, so that a
    /// plan is found soon. Then back to those put aside, least area first, with the time that is left.
    fn run(&mut self, depth: Depth) -> Option<Best> {
        let mut heap: BinaryHeap<Place> = BinaryHeap::new();
        for (index, fold) in self.folds.iter().enumerate() {
            if self.clock.over() {
                self.push(&mut heap, index, 1);
            } else if let Some(modules) = fold.least_modules(self.space) {
                self.push(&mut heap, index, modules);
            }
        }
        let (mut aside, mut sites): (VecDeque<Site>, Vec<Site>) = (VecDeque::new(), Vec::new());
        let mut leaps = 0;
        let any = depth != Depth::Best;
        while !(self.clock.over() || any && self.best.is_some()) {
            let ahead = heap.iter().map(|place| place.area).chain(aside.iter().map(|site| site.place.area));
            self.raise_bound(ahead);
            if heap.peek().is_some_and(|place| place.area <= self.reach()) {
                let Some(place) = heap.pop() else { break };
                self.visit(place, &mut heap, &mut aside, &mut sites);
                if self.best.is_none() && aside.len() >= VISITS_BEFORE_LEAP << leaps.min(8) {
                    leaps += 1;
                    self.leap(&aside, leaps);
                }
            } else if depth == Depth::Quick {
                aside.iter().for_each(|site| self.equal_batches(site.place));
                break;
            } else if let Some(site) = self.next_aside(&mut aside) {
                self.revisit(site, &mut aside, &mut sites);
            } else if let Some(site) = self.searched_too_little(&mut sites) {
                self.revisit(site, &mut aside, &mut sites);
            } else {
                break;
            }
        }
        self.effort.timed_out = self.clock.over();
        let stopped = self.clock.over() || depth == Depth::Quick && !aside.is_empty();
        if stopped {
            let left = heap.iter().map(|place| place.area).chain(aside.iter().map(|site| site.place.area));
            self.undecided.extend(left.map(|area| (area, 1)));
        }
        let reach = self.reach();
        sites.retain(|s| s.place.area <= reach);
        if self.best.is_some() && !any && !stopped {
            self.least_price(&mut sites);
            self.effort.timed_out = self.clock.over();
        }
        self.stopped = stopped;
        self.best.take()
    }

    /// No plan has less floor area than what is still ahead, in doubt or found.
    fn raise_bound(&mut self, ahead: impl Iterator<Item = f64>) {
        let open = ahead.chain(self.undecided.iter().map(|u| u.0)).fold(f64::INFINITY, f64::min).min(self.least_area);
        // Nothing ahead and nothing found says that there is no plan, not how large one is.
        if open.is_finite() {
            self.bound = self.bound.max(open);
        }
        self.tell();
    }

    pub(super) fn tell(&self) {
        self.clock.tell(&Progress {
            best: self.best.as_ref().map(|best| (Area::from_m2(best.area), best.carriers)),
            bound: Area::from_m2(self.bound),
            effort: self.effort,
        });
    }

    /// Areas that count as equal to the least reach so far.
    pub(super) fn reach(&self) -> f64 {
        self.least_area + self.tolerance
    }

    fn visit(&mut self, place: Place, heap: &mut BinaryHeap<Place>, aside: &mut VecDeque<Site>, sites: &mut Vec<Site>) {
        let Some(kept) = self.folds[place.fold].prune(self.space, place.modules) else {
            self.push(heap, place.fold, place.modules + 1);
            return;
        };
        let mut site = Site::new(place, kept, QUICK_TRIES);
        if self.begun_with_plan {
            // Little is left to find out, so that it is looked at once and for all.
            (site.tries, site.effort) = (u32::MAX, 1);
        }
        let decided = self.fewest_carriers(&mut site);
        // A longer loop of this fold may still be within reach, also of a plan that a leap found far ahead.
        if !self.longer_is_out(&place, &site.kept) {
            self.push(heap, place.fold, place.modules + 1);
        }
        if decided {
            sites.push(site);
        } else {
            aside.push_back(site);
        }
    }

    /// Whether every longer loop of this fold needs more carriers than are allowed or can be paid for (the shortest way round
    /// through any of all options, and each further module takes its time), or has changes that take too long.
    fn longer_is_out(&self, place: &Place, kept: &Kept) -> bool {
        let allowed = self.space.cell.parts().circuit.max_carriers.unwrap_or(u32::MAX);
        let most = allowed.min(self.affordable(place.modules + 1));
        if most == u32::MAX && self.space.keeping.is_none() {
            return false;
        }
        let fold = &self.folds[place.fold];
        let buildable = |(j, row): (usize, &Vec<bool>)| {
            let i = fold.station(self.space.len(), j);
            let need = &self.space.lengths(fold.form, i, fold.lies[i]).need;
            (0..row.len()).map(|pair| need[pair].is_finite()).collect()
        };
        let all = Kept {
            options: kept.options.iter().map(|row| vec![true; row.len()]).collect(),
            pairs: kept.pairs.iter().enumerate().map(buildable).collect(),
        };
        let builder = Builder::new(self.space, fold, place.modules, &all, false);
        let needs = |k: usize| builder.least_carriers(k).best;
        let too_many = self.active.iter().any(|&k| needs(k) > f64::from(most) * (1.0 + 1e-9));
        too_many || builder.changes_are_out()
    }

    /// A place within reach that was only searched for fewer carriers than the best plan now has: the plan that set that
    /// limit has since dropped out of reach of a smaller floor (with a footprint tolerance).
    fn searched_too_little(&self, sites: &mut Vec<Site>) -> Option<Site> {
        let best = self.best.as_ref()?;
        let reach = self.reach();
        let at = sites
            .iter()
            .position(|s| s.place.area <= reach && s.excluded + 1 < best.carriers && best.site != s.place)?;
        let mut site = sites.swap_remove(at);
        site.cuts.retain(|cut| !cut.in_doubt);
        Some(site)
    }

    /// The place put aside that is looked at next: first what may take less floor than the best plan, then what may take
    /// fewer carriers; what was looked at least first.
    fn next_aside(&self, aside: &mut VecDeque<Site>) -> Option<Site> {
        let smaller = |site: &Site| site.place.area < self.least_area - SAME_AREA;
        let first = |a: &Site, b: &Site| {
            smaller(b).cmp(&smaller(a)).then(a.effort.cmp(&b.effort)).then(a.place.area.total_cmp(&b.place.area))
        };
        let at = (0..aside.len()).min_by(|&a, &b| first(&aside[a], &aside[b]))?;
        aside.remove(at)
    }

    /// Comes back to a place that was put aside.
    fn revisit(&mut self, mut site: Site, aside: &mut VecDeque<Site>, sites: &mut Vec<Site>) {
        if site.place.area > self.reach() {
            return;
        }
        site.tries = u32::MAX;
        site.effort += 1;
        for doubt in std::mem::take(&mut site.doubts) {
            let most = self.most_carriers(&site);
            if doubt.carriers > most {
                continue;
            }
            let tried = self.try_choice(&site, &doubt.choice, doubt.carriers, most, site.effort);
            if let Some((carriers, open)) = tried.unsure {
                site.doubts.push(Doubt { carriers, open, ..doubt });
            }
        }
        self.fewest_carriers(&mut site);
        let smaller = site.place.area < self.least_area - SAME_AREA;
        let most = if smaller { MOST_EFFORT_FOR_FLOOR } else { MOST_EFFORT };
        if site.effort < most && site.doubts.iter().any(|d| d.open) {
            aside.push_back(site);
            return;
        }
        if let Some(unsure) = site.doubts.iter().map(|d| d.carriers).min() {
            self.undecided.push((site.place.area, unsure));
        }
        sites.push(site);
    }

    pub(super) fn push(&self, heap: &mut BinaryHeap<Place>, fold: usize, modules: u32) {
        let parts = self.space.cell.parts();
        let fixed = parts.circuit.fixed.modules;
        if modules > fixed.unwrap_or(u32::MAX).min(parts.circuit.track.max_modules) {
            return;
        }
        let modules = fixed.unwrap_or(modules);
        if modules > parts.circuit.track.max_modules || self.affordable(modules) == 0 {
            return;
        }
        if let Some(area) = self.place_area(fold, modules) {
            heap.push(Place { area, fold, modules });
        }
    }

    /// Floor area of a fold with so many modules; none where there is no room: longer straights have none either.
    pub(super) fn place_area(&self, fold: usize, modules: u32) -> Option<f64> {
        let footprint = self.folds[fold].footprint(self.space, modules);
        self.space.cell.has_room(&footprint).then(|| footprint.area().m2())
    }

    /// The most carriers that are of interest at a place, and can be paid for.
    pub(super) fn most_carriers(&self, site: &Site) -> u32 {
        self.most_of_interest(site).min(self.affordable_at(&site.place, &site.kept))
    }

    /// The most carriers that are of interest at a place.
    pub(super) fn most_of_interest(&self, site: &Site) -> u32 {
        let circuit = &self.space.cell.parts().circuit;
        let limit = circuit.max_carriers.unwrap_or(MOST_CARRIERS).min(circuit.fixed.carriers.unwrap_or(MOST_CARRIERS));
        let limit = limit.min(MOST_CARRIERS);
        match &self.best {
            Some(best) if site.place.area >= self.least_area - SAME_AREA => limit.min(best.carriers - 1),
            _ => limit,
        }
    }

    /// No plan has fewer carriers: those that were decided beforehand.
    pub(super) fn fewest_allowed(&self) -> u32 {
        self.space.cell.parts().circuit.fixed.carriers.unwrap_or(0)
    }

    /// Looks for the plan with the fewest carriers at a place; where a plan of no more floor is known, with fewer than
    /// that. False when something is left undecided.
    pub(super) fn fewest_carriers(&mut self, site: &mut Site) -> bool {
        let fold = &self.folds[site.place.fold];
        if site.effort > 0
            && let Some(all) = self.listed(site)
        {
            return self.through(site, all);
        }
        loop {
            let most = self.most_carriers(site);
            site.excluded = self.most_of_interest(site);
            if most < self.fewest_allowed() {
                return site.doubts.is_empty();
            }
            let Some(kept) = self.kept_for(site, fold, most) else { return site.doubts.is_empty() };
            let builder = Builder::new(self.space, fold, site.place.modules, &kept, site.whole_slots);
            self.effort.programs += 1;
            self.tell();
            tracing::debug!(whole = site.whole_slots, cuts = site.cuts.len(), "program");
            let goal = Goal::Carriers { most };
            let (choice, carriers) = match builder.solve(goal, &site.cuts, &mut self.active, self.clock) {
                Solved::Choice(choice, carriers) => (choice, carriers),
                Solved::Infeasible => return site.doubts.is_empty(),
                Solved::Unknown => {
                    self.undecided.push((site.place.area, 1));
                    return false;
                }
            };
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let least = (carriers as u32).max(self.fewest_allowed());
            tracing::debug!(area = site.place.area, modules = site.place.modules, least, most, "candidate");
            if !site.whole_slots && self.slots_are_short(site, &choice, least) {
                // The program promised slots that whole pitches do not give: count whole ones from now on.
                site.whole_slots = true;
                continue;
            }
            let tried = self.try_choice(site, &choice, least, most, site.effort);
            if let Some((carriers, open)) = tried.unsure {
                site.doubts.push(Doubt { choice: choice.clone(), carriers, open });
            }
            if tried.found && tried.needs == Some(least) {
                site.excluded = least - 1;
                return site.doubts.is_empty();
            }
            tracing::debug!(?choice, found = tried.found, needs = ?tried.needs, unsure = ?tried.unsure, "cut");
            // Every way of sharing out the track was looked at (or is in doubt), so this holds for the choice as such.
            site.cuts.push(Cut { choice, carriers: tried.needs, in_doubt: tried.unsure.is_some() });
            self.effort.cuts += 1;
            site.tries = site.tries.saturating_sub(u32::from(site.tries != u32::MAX));
            if self.clock.over() || site.tries == 0 {
                if site.tries != 0 {
                    self.undecided.push((site.place.area, least));
                }
                return false;
            }
        }
    }

    /// Options that could be part of a plan with at most so many carriers.
    pub(super) fn kept_for(&self, site: &Site, fold: &Fold, most: u32) -> Option<Kept> {
        if most == 0 {
            return None;
        }
        let mut kept = Kept { options: site.kept.options.clone(), pairs: site.kept.pairs.clone() };
        self.leave_out_too_dear(&site.place, &mut kept, self.fewest_allowed().max(1));
        if kept.options.iter().any(|row| !row.contains(&true)) {
            return None;
        }
        let limit = f64::from(most) * (1.0 + 1e-9);
        for &k in self.active.iter().take(PRUNING_SKUS) {
            let through = Builder::new(self.space, fold, site.place.modules, &kept, false).least_carriers(k);
            if through.best > limit {
                return None;
            }
            for (row, sums) in kept.options.iter_mut().zip(&through.node) {
                row.iter_mut().zip(sums).for_each(|(keep, &sum)| *keep &= sum <= limit);
            }
            for (row, sums) in kept.pairs.iter_mut().zip(&through.pair) {
                row.iter_mut().zip(sums).for_each(|(keep, &sum)| *keep &= sum <= limit);
            }
        }
        Some(kept)
    }

    fn outcome(&self, best: Option<Best>) -> Outcome {
        let stopped = self.stopped;
        let least_undecided = self.undecided.iter().map(|u| u.0).fold(f64::INFINITY, f64::min);
        let Some(best) = best else {
            if stopped || least_undecided.is_finite() {
                let bound = if least_undecided.is_finite() { least_undecided } else { 0.0 };
                return Outcome::Stopped(Area::from_m2(bound), self.effort);
            }
            return Outcome::Impossible(self.effort);
        };
        let bound = least_undecided.min(self.least_area);
        let area_proven = bound >= self.least_area - SAME_AREA;
        let reach = self.reach();
        let in_doubt = self.undecided.iter().filter(|u| u.0 <= reach).map(|u| u.1).min();
        let carriers_bound = in_doubt.map_or(best.carriers, |n| n.min(best.carriers));
        let carriers_proven = area_proven && carriers_bound == best.carriers;
        // The price was only looked at when time was left.
        let seen = !stopped && carriers_proven;
        let price_bound = if seen { self.undecided_price.min(best.price) } else { 0.0 };
        let price_proven = seen && self.undecided_price >= best.price * (1.0 - 1e-9);
        Outcome::Planned(Box::new(Found {
            area: Proof { bound: Area::from_m2(bound), proven: area_proven },
            carriers: Proof { bound: if area_proven { carriers_bound } else { 1 }, proven: carriers_proven },
            price: Proof { bound: Money::from_units(price_bound), proven: price_proven },
            plan: best.plan,
            effort: self.effort,
        }))
    }
}
