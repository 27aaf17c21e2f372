//! The least footprint of a coupled cell: outlines of all loops by ascending floor area; for each, whether every circuit can be
//! planned so by itself (which no plan of the whole can do without), and then the circuits together.
//!
//! First a quick way up through the areas: a state that is not settled at a first look is put aside, so that a plan is found
//! soon, by leaps to longer loops where need be. Then back to those put aside, least area first, with the time that is left.

use super::bound::asked_on;
use super::join::{Best, Worth};
use super::judge::{JointBreach, verdicts};
use super::placing::Body;
use super::single::{Alone, Key, Known};
use super::states::{Aside, Chosen, Loops, State};
use super::{CoupledCell, CoupledPlan, Joint, Stand};
use crate::option::StationOption;
use crate::study::{self, Clock, Depth, Effort, Progress, Proof, Shape};
use crate::units::{Area, LENGTH_TOLERANCE_M, Money};
use std::collections::{BTreeMap, BinaryHeap, HashMap, HashSet};

/// Areas so close count as equal, m².
pub(super) const SAME_AREA: f64 = 1e-9;

/// Floor areas of plans are told apart from here on, m²: what a thousandth of a millimetre along the floor takes.
const SAME_FLOOR: f64 = 1e-5;

/// Outlines of all loops together that are looked at.
const MOST_OUTLINES: usize = 2_000_000;

/// States put aside before the first leap ahead; twice as many before each further one.
const ASIDE_BEFORE_LEAP: usize = 3;

/// After a leap, one of so many steps goes back to a state put aside: what lies between it and the plan found may be much.
const STEPS_AHEAD: usize = 4;

/// Part of the time left that each question about a circuit is given, look by look.
const SHARES: [f64; 3] = [0.05, 0.2, 1.0];

/// A plan of the whole, and its proof.
#[derive(Clone, Debug, PartialEq)]
pub struct CoupledFound {
    /// The plan.
    pub plan: CoupledPlan,
    /// Footprint.
    pub area: Proof<Area>,
    /// Carriers of all circuits, among plans of the least footprint.
    pub carriers: Proof<u32>,
    /// Price, among those with the fewest carriers.
    pub price: Proof<Money>,
    /// Effort.
    pub effort: Effort,
}

/// What a study of a coupled cell says.
#[derive(Clone, Debug, PartialEq)]
pub enum CoupledOutcome {
    /// A plan that every verdict accepts.
    Planned(Box<CoupledFound>),
    /// Proven: there is no plan.
    Impossible(Effort),
    /// Stopped, or nothing that could be decided: at least this floor area would be needed, if there is a plan at all.
    Stopped(Area, Effort),
    /// A plan of our own breaks a rule: a fault of the engine.
    Broken(Box<CoupledPlan>, Vec<JointBreach>),
}

pub(super) struct Search<'a> {
    pub(super) coupled: &'a CoupledCell,
    pub(super) clock: &'a Clock<'a>,
    pub(super) tolerance: f64,
    pub(super) shapes: Vec<Vec<Shape>>,
    /// Bodies by circuit and form.
    pub(super) bodies: Vec<Vec<Body>>,
    /// Choices of every joint that its stations on both circuits can do.
    pub(super) choices: Vec<Vec<Chosen>>,
    pub(super) known: HashMap<Key, Known>,
    /// The same with every station's work chosen.
    pub(super) chosen: BTreeMap<(usize, usize, u32, Vec<Chosen>), Alone>,
    heap: BinaryHeap<State>,
    pub(super) aside: Vec<Aside>,
    seen: HashSet<(Loops, Option<Vec<Chosen>>)>,
    pub(super) best: Option<Best>,
    /// Areas, carriers and prices there, that are not excluded.
    undecided: Vec<Worth>,
    pub(super) effort: Effort,
    /// The bound that was told last.
    told: f64,
}

/// Plans a coupled cell.
#[must_use]
pub fn study(coupled: &CoupledCell, clock: &Clock<'_>) -> CoupledOutcome {
    let outcome = Search::new(coupled, clock).run(false);
    judged(coupled, outcome)
}

/// Only whether there is a plan at all: the first one found.
#[must_use]
pub fn any_plan(coupled: &CoupledCell, clock: &Clock<'_>) -> CoupledOutcome {
    let outcome = Search::new(coupled, clock).run(true);
    judged(coupled, outcome)
}

fn judged(coupled: &CoupledCell, outcome: CoupledOutcome) -> CoupledOutcome {
    if let CoupledOutcome::Planned(found) = &outcome {
        let breaches = verdicts(coupled, &found.plan);
        if !breaches.is_empty() {
            return CoupledOutcome::Broken(Box::new(found.plan.clone()), breaches);
        }
    }
    outcome
}

impl<'a> Search<'a> {
    fn new(coupled: &'a CoupledCell, clock: &'a Clock<'a>) -> Self {
        let cells = coupled.cells();
        let quiet = clock.share(1.0);
        Self {
            coupled,
            clock,
            tolerance: coupled.parts().requirements.footprint_tolerance.m2() + SAME_AREA,
            shapes: cells
                .iter()
                .enumerate()
                .map(|(c, cell)| study::shapes(cell, &asked_on(coupled, c), &quiet))
                .collect(),
            bodies: cells
                .iter()
                .map(|cell| cell.parts().circuit.track.forms.iter().map(|form| Body::of(cell, form)).collect())
                .collect(),
            choices: coupled.parts().joints.iter().map(|joint| choices(coupled, joint)).collect(),
            known: HashMap::new(),
            chosen: BTreeMap::new(),
            heap: BinaryHeap::new(),
            aside: Vec::new(),
            seen: HashSet::new(),
            best: None,
            undecided: Vec::new(),
            effort: Effort::default(),
            told: 0.0,
        }
    }

    fn run(mut self, any: bool) -> CoupledOutcome {
        if self.choices.iter().any(Vec::is_empty) || self.shapes.iter().any(Vec::is_empty) {
            return CoupledOutcome::Impossible(self.effort);
        }
        if !self.first_states() {
            return CoupledOutcome::Stopped(Area::from_m2(0.0), self.effort);
        }
        let (mut leaps, mut steps) = (0, 0);
        while !(self.clock.over() || any && self.best.is_some()) {
            self.tell();
            steps += 1;
            let back = leaps > 0 && steps % STEPS_AHEAD == 0 && !self.aside.is_empty();
            if !back && self.heap.peek().is_some_and(|state| state.area <= self.reach()) {
                let Some(state) = self.heap.pop() else { break };
                if state.work.is_some() {
                    self.glance(state)
                } else {
                    self.each(state, 0)
                }
                if self.best.is_none() && self.aside.len() >= ASIDE_BEFORE_LEAP << leaps.min(8) {
                    leaps += 1;
                    self.leap(leaps);
                }
            } else if let Some(aside) = self.next_aside() {
                self.revisit(aside);
            } else {
                break;
            }
        }
        let stopped = self.clock.over();
        self.effort.timed_out = stopped;
        if stopped || any {
            let left = self.heap.iter().map(|s| s.area).chain(self.aside.iter().map(|a| a.state.area));
            self.undecided.extend(left.map(|area| (area, 1, 0.0)));
        }
        self.outcome(stopped)
    }

    /// Areas that count as equal to the least reach so far.
    pub(super) fn reach(&self) -> f64 {
        self.best.as_ref().map_or(f64::INFINITY, |best| best.area + self.tolerance)
    }

    /// Whether so little floor would be less than that of the best plan.
    pub(super) fn is_smaller(&self, area: f64) -> bool {
        self.best.as_ref().is_none_or(|best| area < best.area - self.tolerance)
    }

    /// The state put aside that is looked at next: once there is a plan, what was found at a first look is looked at closely; then
    /// what may take less floor, and what was looked at least.
    fn next_aside(&mut self) -> Option<Aside> {
        let hasty = self.best.as_ref().is_some_and(|best| !best.sought);
        let first = |a: &Aside, b: &Aside| {
            let smaller = |aside: &Aside| {
                let smaller = self.is_smaller(aside.state.area);
                let like_best = hasty && aside.looks == 1 && !smaller && aside.state.area <= self.reach();
                (like_best, smaller)
            };
            smaller(b).cmp(&smaller(a)).then(a.looks.cmp(&b.looks)).then(b.state.cmp(&a.state))
        };
        let at = (0..self.aside.len()).min_by(|&a, &b| first(&self.aside[a], &self.aside[b]))?;
        Some(self.aside.swap_remove(at))
    }

    /// No plan has less floor area than what is still ahead, put aside, in doubt or found.
    fn tell(&mut self) {
        let open = self.heap.peek().map(|state| state.area).into_iter();
        let open = open.chain(self.aside.iter().map(|a| a.state.area)).chain(self.undecided.iter().map(|u| u.0));
        let least = open.chain(self.best.as_ref().map(|best| best.area)).fold(f64::INFINITY, f64::min);
        // Nothing ahead and nothing found says that there is no plan, not how large one is.
        if least.is_finite() {
            self.told = self.told.max(least);
        }
        self.clock.tell(&Progress {
            best: self.best.as_ref().map(|best| (Area::from_m2(best.area), best.carriers)),
            bound: Area::from_m2(self.told),
            effort: self.effort,
        });
    }

    /// The shortest loops of every combination of outlines; false when there are too many.
    fn first_states(&mut self) -> bool {
        let count = self.shapes.iter().map(Vec::len).try_fold(1usize, usize::checked_mul);
        if count.is_none_or(|count| count > MOST_OUTLINES) {
            return false;
        }
        let mut at = vec![0; self.shapes.len()];
        loop {
            // One way of travel along the front must leave all circuits open as asked.
            let open = |hand: usize| at.iter().enumerate().all(|(c, &s)| self.shapes[c][s].hands[hand]);
            if open(0) || open(1) {
                let loops = at.iter().enumerate().map(|(c, &s)| (s, self.least(c, s))).collect();
                self.push(loops, None);
            }
            let Some(c) = (0..at.len()).find(|&c| at[c] + 1 < self.shapes[c].len()) else { return true };
            at[c] += 1;
            at[..c].iter_mut().for_each(|s| *s = 0);
        }
    }

    fn least(&self, c: usize, shape: usize) -> u32 {
        let fixed = self.coupled.cells()[c].parts().circuit.fixed.modules.unwrap_or(1);
        self.shapes[c][shape].least_modules.max(fixed)
    }

    /// Adds a state, unless it is too long for its track, too large for the floor, or there already. Where hand-offs cannot
    /// meet on straights so short, the states with longer ones instead.
    pub(super) fn push(&mut self, loops: Loops, work: Option<Vec<Chosen>>) {
        let mut all = vec![loops];
        while let Some(loops) = all.pop() {
            let allowed = |(c, &(_, modules)): (usize, &(usize, u32))| {
                let circuit = &self.coupled.cells()[c].parts().circuit;
                modules <= circuit.track.max_modules && circuit.fixed.modules.is_none_or(|fixed| modules <= fixed)
            };
            if !loops.iter().enumerate().all(allowed) || !self.seen.insert((loops.clone(), work.clone())) {
                continue;
            }
            let Some(footprint) = self.least_footprint(&loops) else {
                for c in 0..loops.len() {
                    let mut longer = loops.clone();
                    longer[c].1 += 1;
                    all.push(longer);
                }
                continue;
            };
            if self.coupled.has_room(&footprint) {
                self.heap.push(State { area: footprint.area().m2(), loops, work: work.clone() });
            }
        }
    }

    /// A state whose joints are open: can each circuit be planned so at all?
    fn each(&mut self, state: State, looks: usize) {
        let open = vec![None; self.choices.len()];
        let asked = self.question(looks);
        let mut unknown = false;
        for c in 0..state.loops.len() {
            match self.alone(c, state.loops[c], &open, asked) {
                Alone::Planned(_) => {}
                Alone::Impossible => {
                    self.longer(&state, c);
                    return;
                }
                Alone::Unknown => unknown = true,
            }
        }
        for c in 0..state.loops.len() {
            self.longer(&state, c);
        }
        if unknown && looks < SHARES.len() {
            self.aside.push(Aside { state, looks: looks + 1 });
            return;
        }
        // Where it is settled that no plan here can be better, its choices need not be looked at.
        if !unknown && self.best.is_some() && !self.may_be_better(&state, &open) {
            return;
        }
        for work in self.combinations() {
            self.push(state.loops.clone(), Some(work));
        }
    }

    /// How a circuit is asked about at a look.
    fn question(&self, looks: usize) -> (Depth, f64) {
        match looks {
            0 => (Depth::Quick, 1.0),
            more => (Depth::Any, SHARES[(more - 1).min(SHARES.len() - 1)]),
        }
    }

    /// Every way for all joints to work.
    pub(super) fn combinations(&self) -> Vec<Vec<Chosen>> {
        let mut all = vec![Vec::new()];
        for choices in &self.choices {
            all = all
                .into_iter()
                .flat_map(|some: Vec<Chosen>| {
                    choices.iter().map(move |&choice| some.iter().copied().chain([choice]).collect())
                })
                .collect();
        }
        all
    }

    /// The same state with one module more in the straights of circuit `c`.
    fn longer(&mut self, state: &State, c: usize) {
        // More than once where it is come back to: it is there already then.
        let mut loops = state.loops.clone();
        loops[c].1 += 1;
        self.push(loops, None);
    }

    /// Fewest carriers and least price of the circuits by themselves, all together; none where one is not known.
    fn least_of_all(&mut self, state: &State, work: &[Option<Chosen>]) -> Option<(u32, f64)> {
        let (mut carriers, mut money) = (0, 0.0);
        for c in 0..state.loops.len() {
            let Alone::Planned(found) = self.alone(c, state.loops[c], work, (Depth::Best, SHARES[1])) else {
                return None;
            };
            carriers += found.carriers.bound;
            money += found.price.bound.units();
        }
        Some((carriers, money))
    }

    fn may_be_better(&mut self, state: &State, work: &[Option<Chosen>]) -> bool {
        let Some(best) = &self.best else { return true };
        let (carriers, money, sought) = (best.carriers, best.price, best.sought);
        if self.is_smaller(state.area) {
            return true;
        }
        self.least_of_all(state, work).is_none_or(|(least, price)| {
            // A plan that a first look found gives way to an equal one.
            least < carriers || (least == carriers && (price < money - 1e-6 || !sought && price <= money + 1e-6))
        })
    }

    /// A first look at a state with everything decided but the sharing of the track.
    fn glance(&mut self, state: State) {
        let Some(work) = &state.work else { return };
        let work: Vec<Option<Chosen>> = work.iter().copied().map(Some).collect();
        let mut alone = Vec::with_capacity(state.loops.len());
        for c in 0..state.loops.len() {
            match self.alone(c, state.loops[c], &work, (Depth::Quick, 1.0)) {
                Alone::Planned(found) => alone.push(*found),
                Alone::Impossible => return,
                Alone::Unknown => {}
            }
        }
        if alone.len() == state.loops.len() && self.is_smaller(state.area) {
            self.effort.candidates += 1;
            self.try_plans(state.area, &alone, false);
        }
        self.aside.push(Aside { state, looks: 1 });
    }

    /// Comes back to a state that was put aside.
    fn revisit(&mut self, aside: Aside) {
        if aside.state.area > self.reach() {
            return;
        }
        if aside.state.work.is_some() { self.together(aside) } else { self.each(aside.state, aside.looks) }
    }

    /// A state with everything decided but the sharing of the track: each circuit by itself, then all together.
    fn together(&mut self, aside: Aside) {
        let Aside { mut state, looks } = aside;
        tracing::debug!(?state, looks, aside = self.aside.len(), ahead = self.heap.len(), "come back to");
        let Some(work) = &state.work else { return };
        let work: Vec<Option<Chosen>> = work.iter().copied().map(Some).collect();
        let (depth, share) = self.question(looks);
        if state.loops.iter().enumerate().any(|(c, &(shape, _))| self.shapes[c][shape].coarse) {
            return self.undecided.push((state.area, 1, 0.0));
        }
        if self.is_smaller(state.area) {
            // Before the circuits are looked at closely: can their hand-offs meet on so little floor?
            let Some(area) = self.promised(&state, &self.clock.share(share)) else { return };
            state.area = area;
        }
        let mut unknown = false;
        for c in 0..state.loops.len() {
            match self.alone(c, state.loops[c], &work, (depth, share)) {
                Alone::Planned(_) => {}
                Alone::Impossible => return,
                Alone::Unknown => unknown = true,
            }
        }
        if !unknown && !self.may_be_better(&state, &work) {
            return;
        }
        let mut alone = Vec::with_capacity(state.loops.len());
        for c in 0..state.loops.len() {
            match self.alone(c, state.loops[c], &work, (Depth::Best, share)) {
                Alone::Planned(found) => alone.push(*found),
                Alone::Impossible => return,
                Alone::Unknown => return self.in_doubt(state, looks, vec![]),
            }
        }
        let carriers: u32 = alone.iter().map(|f| f.carriers.bound).sum();
        let money: f64 = alone.iter().map(|f| f.price.bound.units()).sum();
        self.effort.candidates += 1;
        let found = self.try_plans(state.area, &alone, true);
        let settled = found
            .is_some_and(|(area, n, price)| area <= state.area + SAME_AREA && n == carriers && price <= money + 1e-6);
        if settled {
            return;
        }
        self.effort.cuts += 1;
        let left = self.settle(&state, (state.area, carriers, money), &self.clock.share(share));
        if left.open {
            self.in_doubt(state, looks, left.doubts);
        } else {
            self.undecided.extend(left.doubts);
        }
    }

    /// A state that is not settled: it is come back to with more time, as long as there is any.
    fn in_doubt(&mut self, state: State, looks: usize, doubts: Vec<Worth>) {
        if looks < SHARES.len() {
            self.aside.push(Aside { state, looks: looks + 1 });
        } else if doubts.is_empty() {
            self.undecided.push((state.area, 1, 0.0));
        } else {
            self.undecided.extend(doubts);
        }
    }

    fn outcome(mut self, stopped: bool) -> CoupledOutcome {
        let least = self.undecided.iter().map(|u| u.0).fold(f64::INFINITY, f64::min);
        let Some(Best { plan, area, carriers, price: money, .. }) = self.best.take() else {
            if stopped || least.is_finite() {
                let bound = if least.is_finite() { least } else { 0.0 };
                return CoupledOutcome::Stopped(Area::from_m2(bound), self.effort);
            }
            return CoupledOutcome::Impossible(self.effort);
        };
        let proven = least >= area - SAME_FLOOR;
        let bound = if proven { area } else { least };
        let reach = area + self.tolerance;
        let here = || self.undecided.iter().filter(|u| u.0 <= reach);
        let fewest = here().map(|u| u.1).fold(carriers, u32::min);
        let fewest_proven = proven && fewest == carriers;
        let cheapest = here().filter(|u| u.1 <= carriers).map(|u| u.2).fold(money, f64::min);
        let cheapest_proven = fewest_proven && cheapest >= money - 1e-6;
        CoupledOutcome::Planned(Box::new(CoupledFound {
            plan,
            area: Proof { bound: Area::from_m2(bound), proven },
            carriers: Proof { bound: if proven { fewest } else { 1 }, proven: fewest_proven },
            price: Proof {
                bound: Money::from_units(if fewest_proven { cheapest } else { 0.0 }),
                proven: cheapest_proven,
            },
            effort: self.effort,
        }))
    }
}

/// Ways to work that both sides of a joint can do.
fn choices(coupled: &CoupledCell, joint: &Joint) -> Vec<Chosen> {
    let of = |stand: Stand| -> Vec<StationOption> {
        let cell = &coupled.cells()[stand.circuit];
        let mut all = cell.parts().stations[stand.station].allowed_options(cell.rides(), 1.0);
        all.retain(|option| option.makes(cell.rides()));
        all
    };
    let (one, two) = (of(joint.first), of(joint.second));
    let both = |o: &StationOption| two.iter().any(|p| p.mode == o.mode && p.heads == o.heads);
    one.iter().filter(|o| both(o)).map(|o| (o.mode, o.heads)).collect()
}

/// Places count as the same within this, m.
pub(super) const SAME_PLACE: f64 = 10.0 * LENGTH_TOLERANCE_M;
