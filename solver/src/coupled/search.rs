//! The least footprint of a coupled cell: outlines of all loops by ascending floor area; for each, whether every circuit can be
//! planned so by itself (which no plan of the whole can do without), and then the circuits together.

use super::align::{Keep, align};
use super::judge::{JointBreach, holds, price, verdicts};
use super::placing::{Body, place, rows};
use super::{CoupledCell, CoupledPlan, Joint};
use crate::cell::Cell;
use crate::milp::{Answer, Program};
use crate::option::{Mode, StationOption};
use crate::plan::{Numbers, Plan};
use crate::study::{self, Clock, Effort, Found, Outcome, Progress, Proof, Shape};
use crate::track::{Footprint, Plane, Side};
use crate::units::{Area, LENGTH_TOLERANCE_M, Metres, Money};
use std::cmp::Ordering;
use std::collections::{BinaryHeap, HashMap, HashSet};

/// Areas so close count as equal, m².
const SAME_AREA: f64 = 1e-9;

/// Carriers beyond the fewest of each circuit by itself that are tried, all circuits together.
const MORE_CARRIERS: u32 = 6;

/// Outlines of all loops together that are looked at.
const MOST_OUTLINES: usize = 2_000_000;

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

/// Outline and modules of every circuit.
type Loops = Vec<(usize, u32)>;

/// Way of working and heads of a joint.
type Chosen = (Mode, u32);

/// What is decided: outline and modules of every circuit, and the work of every joint or none.
#[derive(Clone, Debug, PartialEq)]
struct State {
    area: f64,
    loops: Loops,
    work: Option<Vec<Chosen>>,
}

impl Eq for State {}

impl Ord for State {
    /// The least area comes first out of the heap, then fewer modules, then what is further decided; then any order that
    /// stays the same, so that runs repeat.
    fn cmp(&self, other: &Self) -> Ordering {
        let modules = |s: &Self| s.loops.iter().map(|l| l.1).sum::<u32>();
        // In steps of the areas that count as equal, so that the order is one.
        let steps = |s: &Self| (s.area / SAME_AREA).round();
        steps(other)
            .total_cmp(&steps(self))
            .then(modules(other).cmp(&modules(self)))
            .then(self.work.is_some().cmp(&other.work.is_some()))
            .then_with(|| other.loops.cmp(&self.loops))
            .then_with(|| other.work.cmp(&self.work))
    }
}

impl PartialOrd for State {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

/// What is known of one circuit in a state.
#[derive(Clone)]
enum Alone {
    Planned(Box<Found>),
    Impossible,
    Unknown,
}

/// One circuit in a state: which, its outline and modules, and the work of its joints.
type Key = (usize, usize, u32, Vec<Option<Chosen>>);

struct Search<'a> {
    coupled: &'a CoupledCell,
    clock: &'a Clock<'a>,
    tolerance: f64,
    shapes: Vec<Vec<Shape>>,
    /// Bodies by circuit and form.
    bodies: Vec<Vec<Body>>,
    /// Choices of every joint that its stations on both circuits can do.
    choices: Vec<Vec<Chosen>>,
    any: HashMap<Key, Alone>,
    best_alone: HashMap<Key, Alone>,
    heap: BinaryHeap<State>,
    seen: HashSet<(Loops, Option<Vec<Chosen>>)>,
    best: Option<(CoupledPlan, f64, u32, f64)>,
    /// Areas, carriers and prices there, that are not excluded.
    undecided: Vec<(f64, u32, f64)>,
    effort: Effort,
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
                .map(|(c, cell)| study::shapes(cell, &joints_on(coupled, c), &quiet))
                .collect(),
            bodies: cells
                .iter()
                .map(|cell| cell.parts().circuit.track.forms.iter().map(|form| Body::of(cell, form)).collect())
                .collect(),
            choices: coupled.parts().joints.iter().map(|joint| choices(coupled, joint)).collect(),
            any: HashMap::new(),
            best_alone: HashMap::new(),
            heap: BinaryHeap::new(),
            seen: HashSet::new(),
            best: None,
            undecided: Vec::new(),
            effort: Effort::default(),
        }
    }

    fn run(mut self, any: bool) -> CoupledOutcome {
        if self.choices.iter().any(Vec::is_empty) || self.shapes.iter().any(Vec::is_empty) {
            return CoupledOutcome::Impossible(self.effort);
        }
        if !self.first_states() {
            return CoupledOutcome::Stopped(Area::from_m2(0.0), self.effort);
        }
        while let Some(state) = self.heap.peek() {
            let reach = self.best.as_ref().map_or(f64::INFINITY, |best| best.1 + self.tolerance);
            if state.area > reach || self.clock.over() || any && self.best.is_some() {
                break;
            }
            let Some(state) = self.heap.pop() else { break };
            self.tell(state.area);
            if state.work.is_some() { self.together(&state) } else { self.each(&state) }
        }
        let stopped = self.clock.over();
        self.effort.timed_out = stopped;
        if stopped || any {
            let left: Vec<_> = self.heap.iter().map(|s| (s.area, 1, 0.0)).collect();
            self.undecided.extend(left);
        }
        self.outcome(stopped)
    }

    fn tell(&self, bound: f64) {
        let least = self.undecided.iter().map(|u| u.0).fold(bound, f64::min);
        self.clock.tell(&Progress {
            best: self.best.as_ref().map(|best| (Area::from_m2(best.1), best.2)),
            bound: Area::from_m2(least),
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
    fn push(&mut self, loops: Loops, work: Option<Vec<Chosen>>) {
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

    /// The whole is no smaller than this: as deep as its rows, and as long as its loops when their hand-offs meet; none where
    /// they cannot.
    fn least_footprint(&self, loops: &[(usize, u32)]) -> Option<Footprint> {
        let (mut bodies, mut deepest) = (Vec::with_capacity(loops.len()), Vec::with_capacity(loops.len()));
        for (c, &(s, _)) in loops.iter().enumerate() {
            let shape = &self.shapes[c][s];
            bodies.push(self.bodies[c][shape.lay.form]);
            deepest.push((shape.deepest.0.m(), shape.deepest.1.m()));
        }
        let straights: Vec<f64> = loops
            .iter()
            .enumerate()
            .map(|(c, l)| f64::from(l.1) * self.coupled.cells()[c].parts().circuit.track.module.m())
            .collect();
        let spans: Vec<Span> = bodies.iter().zip(&straights).map(|(body, &s)| (-body.reach, s + body.reach)).collect();
        let mut shifts: Vec<(usize, usize, Span)> = Vec::new();
        for joint in &self.coupled.parts().joints {
            let range = |stand: super::Stand| {
                let (shape, straight) = (&self.shapes[stand.circuit][loops[stand.circuit].0], straights[stand.circuit]);
                let place = joints_on(self.coupled, stand.circuit).iter().position(|&s| s == stand.station)?;
                let (before, after) = shape.beside[place];
                let (low, high) = (before, straight - after);
                let back = shape.lay.sides[stand.station] == Side::Back && !self.upright(stand.circuit, shape);
                Some(if back { (straight - high, straight - low) } else { (low, high) })
            };
            let (one, two) = (range(joint.first)?, range(joint.second)?);
            // The second circuit begins so much further along the floor than the first.
            let shift = (one.0 - two.1, one.1 - two.0);
            let pair = (joint.first.circuit, joint.second.circuit);
            match shifts.iter_mut().find(|s| (s.0, s.1) == pair) {
                Some(known) => known.2 = (known.2.0.max(shift.0), known.2.1.min(shift.1)),
                None => shifts.push((pair.0, pair.1, shift)),
            }
        }
        let length = least_length(&spans, &shifts)?;
        let clearance = self.coupled.parts().requirements.clearance;
        let across = rows(self.coupled, &bodies, &deepest).across;
        let own = Footprint {
            length: Metres::from_m(length + clearance.along()),
            width: Metres::from_m(across + clearance.across()),
        };
        Some(self.coupled.with_feed(own))
    }

    fn upright(&self, c: usize, shape: &Shape) -> bool {
        self.coupled.cells()[c].parts().circuit.track.forms[shape.lay.form].plane == Plane::Upright
    }

    /// A state whose joints are open: can each circuit be planned so at all?
    fn each(&mut self, state: &State) {
        let open = vec![None; self.choices.len()];
        let mut unknown = false;
        for c in 0..state.loops.len() {
            match self.alone(c, state.loops[c], &open, false) {
                Alone::Planned(_) => {}
                Alone::Impossible => {
                    self.longer(state, c);
                    return;
                }
                Alone::Unknown => unknown = true,
            }
        }
        for c in 0..state.loops.len() {
            self.longer(state, c);
        }
        // Where it is settled that no plan here can be better, its choices need not be looked at.
        if !unknown && self.best.is_some() && !self.may_be_better(state, &open) {
            return;
        }
        for work in self.combinations() {
            self.push(state.loops.clone(), Some(work));
        }
    }

    /// Every way for all joints to work.
    fn combinations(&self) -> Vec<Vec<Chosen>> {
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
        let mut loops = state.loops.clone();
        loops[c].1 += 1;
        self.push(loops, None);
    }

    /// Fewest carriers and least price of the circuits by themselves, all together; none where one is not known.
    fn least_of_all(&mut self, state: &State, work: &[Option<Chosen>]) -> Option<(u32, f64)> {
        let (mut carriers, mut money) = (0, 0.0);
        for c in 0..state.loops.len() {
            let Alone::Planned(found) = self.alone(c, state.loops[c], work, true) else { return None };
            carriers += found.carriers.bound;
            money += found.price.bound.units();
        }
        Some((carriers, money))
    }

    fn may_be_better(&mut self, state: &State, work: &[Option<Chosen>]) -> bool {
        let Some((_, area, carriers, money)) = &self.best else { return true };
        let (area, carriers, money) = (*area, *carriers, *money);
        if state.area < area - self.tolerance {
            return true;
        }
        self.least_of_all(state, work)
            .is_none_or(|(least, price)| least < carriers || (least == carriers && price < money - 1e-6))
    }

    /// A state with everything decided but the sharing of the track: each circuit by itself, then all together.
    fn together(&mut self, state: &State) {
        let Some(work) = &state.work else { return };
        let work: Vec<Option<Chosen>> = work.iter().copied().map(Some).collect();
        for c in 0..state.loops.len() {
            match self.alone(c, state.loops[c], &work, false) {
                Alone::Planned(_) => {}
                Alone::Impossible => return,
                Alone::Unknown => {
                    self.undecided.push((state.area, 1, 0.0));
                    return;
                }
            }
        }
        if !self.may_be_better(state, &work) {
            return;
        }
        let mut alone = Vec::with_capacity(state.loops.len());
        for c in 0..state.loops.len() {
            match self.alone(c, state.loops[c], &work, true) {
                Alone::Planned(found) => alone.push(found),
                Alone::Impossible => return,
                Alone::Unknown => {
                    self.undecided.push((state.area, 1, 0.0));
                    return;
                }
            }
        }
        let carriers: u32 = alone.iter().map(|f| f.carriers.bound).sum();
        let money: f64 = alone.iter().map(|f| f.price.bound.units()).sum();
        self.effort.candidates += 1;
        let found = self.try_plans(state, &alone);
        let settled = found
            .is_some_and(|(area, n, price)| area <= state.area + SAME_AREA && n == carriers && price <= money + 1e-6);
        if !settled {
            self.effort.cuts += 1;
            self.undecided.push((state.area, carriers, money));
        }
    }

    /// The circuits' own plans with their track shared out so that hand-offs meet, with as few carriers more as will do.
    fn try_plans(&mut self, state: &State, alone: &[Box<Found>]) -> Option<(f64, u32, f64)> {
        let coupled = self.coupled;
        let share = alone.iter().map(|f| f.plan.acceleration_share).fold(1.0, f64::min);
        let plans: Vec<Plan> = alone.iter().map(|f| Plan { acceleration_share: share, ..f.plan.clone() }).collect();
        let numbers = numbers_of(coupled, &plans)?;
        let mut found: Option<(f64, u32, f64)> = None;
        for keep in [Keep::Slots, Keep::Needs] {
            let Some(aligned) = align(coupled, &plans, &numbers, keep) else { continue };
            let Some(numbers) = numbers_of(coupled, &aligned.plans) else { continue };
            let Some(placed) = place(coupled, &aligned, &numbers) else { continue };
            let area = placed.footprint.area().m2();
            if found.is_some_and(|f| area > f.0 + SAME_AREA) {
                continue;
            }
            let Some(plan) = with_more_carriers(coupled, &aligned, self.clock) else { continue };
            let count = plan.plans.iter().map(|p| p.carriers).sum();
            let money = numbers_of(coupled, &plan.plans).map_or(f64::INFINITY, |n| price(&n).units());
            let this = (area, count, money);
            if found.is_none_or(|f| this.0 < f.0 - SAME_AREA || (this.1, this.2) < (f.1, f.2)) {
                found = Some(this);
                self.keep(plan, this);
            }
            if area <= state.area + SAME_AREA && keep == Keep::Slots && count == plans.iter().map(|p| p.carriers).sum()
            {
                break;
            }
        }
        found
    }

    fn keep(&mut self, plan: CoupledPlan, (area, carriers, money): (f64, u32, f64)) {
        let better = self.best.as_ref().is_none_or(|(_, least, n, p)| {
            let same = (area - least).abs() <= self.tolerance;
            if same { (carriers, money) < (*n, *p) } else { area < *least }
        });
        if better {
            self.best = Some((plan, area, carriers, money));
        }
    }

    /// What is known of circuit `c` by itself in an outline; `best` asks for the fewest carriers and the least price.
    fn alone(&mut self, c: usize, (shape, modules): (usize, u32), work: &[Option<Chosen>], best: bool) -> Alone {
        let joints = &self.coupled.parts().joints;
        let own: Vec<Option<Chosen>> =
            joints.iter().zip(work).map(|(joint, &chosen)| chosen.filter(|_| joint.on(c).is_some())).collect();
        let key = (c, shape, modules, own);
        if let Some(known) = self.best_alone.get(&key).or_else(|| if best { None } else { self.any.get(&key) }) {
            return known.clone();
        }
        if best && let Some(Alone::Impossible) = self.any.get(&key) {
            return Alone::Impossible;
        }
        let answer = match self.restricted(&key) {
            _ if self.shapes[c][shape].coarse => Alone::Unknown,
            None => Alone::Impossible,
            Some(cell) => {
                let quiet = self.clock.share(1.0);
                match study::laid_out(&cell, &self.shapes[c][shape].lay, !best, &quiet) {
                    Outcome::Planned(found) => {
                        self.count(found.effort);
                        Alone::Planned(found)
                    }
                    Outcome::Impossible(effort) => {
                        self.count(effort);
                        Alone::Impossible
                    }
                    Outcome::Stopped(_, effort) => {
                        self.count(effort);
                        Alone::Unknown
                    }
                    Outcome::Broken(..) => Alone::Unknown,
                }
            }
        };
        let memo = if best { &mut self.best_alone } else { &mut self.any };
        memo.insert(key, answer.clone());
        answer
    }

    fn count(&mut self, effort: Effort) {
        self.effort.programs += effort.programs;
        self.effort.candidates += effort.candidates;
        self.effort.cuts += effort.cuts;
    }

    /// A circuit's cell with the outline, the modules and the joints' work of a key.
    fn restricted(&self, key: &Key) -> Option<Cell> {
        let (c, _, modules, work) = key;
        let mut parts = self.coupled.cells()[*c].parts().clone();
        parts.circuit.fixed.modules = Some(*modules);
        for (joint, chosen) in self.coupled.parts().joints.iter().zip(work) {
            if let (Some(station), Some((mode, heads))) = (joint.on(*c), chosen) {
                parts.stations[station].fixed.mode = Some(*mode);
                parts.stations[station].fixed.heads = Some(*heads);
            }
        }
        Cell::new(parts).ok()
    }

    fn outcome(mut self, stopped: bool) -> CoupledOutcome {
        let least = self.undecided.iter().map(|u| u.0).fold(f64::INFINITY, f64::min);
        let Some((plan, area, carriers, money)) = self.best.take() else {
            if stopped || least.is_finite() {
                let bound = if least.is_finite() { least } else { 0.0 };
                return CoupledOutcome::Stopped(Area::from_m2(bound), self.effort);
            }
            return CoupledOutcome::Impossible(self.effort);
        };
        let bound = least.min(area);
        let proven = bound >= area - SAME_AREA;
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

/// The stations of a circuit that hand product over.
fn joints_on(coupled: &CoupledCell, circuit: usize) -> Vec<usize> {
    coupled.parts().joints.iter().filter_map(|joint| joint.on(circuit)).collect()
}

/// Least and greatest.
type Span = (f64, f64);

/// Least length of floor that holds all loops, each from `span` round the start of its straight, when the second of each pair
/// begins by some shift within a span after the first; none when no shifts will do. A rounding less, so that it is a bound.
fn least_length(spans: &[Span], shifts: &[(usize, usize, Span)]) -> Option<f64> {
    const SLACK: f64 = 1e-9;
    if shifts.iter().any(|(_, _, shift)| shift.0 > shift.1 + SLACK) {
        return None;
    }
    let longest = spans.iter().map(|s| s.1 - s.0).fold(0.0, f64::max);
    if let ([one, two], [(_, _, shift)]) = (spans, shifts) {
        // Where the shorter lies within the longer there is no more to gain; else as near to that as can be.
        let (left, right) = (one.0 - two.0, one.1 - two.1);
        let within = (left.min(right), left.max(right));
        let at = within.0.max(shift.0).min(within.1.max(shift.0)).min(shift.1);
        return Some((one.1.max(two.1 + at) - one.0.min(two.0 + at)).max(longest));
    }
    let far = 2.0 * spans.iter().map(|s| s.1 - s.0).sum::<f64>();
    let mut program = Program::default();
    let starts: Vec<usize> = spans.iter().map(|_| program.column(-far, far, false, 0.0)).collect();
    let (left, right) = (program.column(-far, far, false, -1.0), program.column(-far, far, false, 1.0));
    for (&start, span) in starts.iter().zip(spans) {
        program.row(vec![(start, 1.0), (left, -1.0)], -span.0, f64::INFINITY);
        program.row(vec![(right, 1.0), (start, -1.0)], span.1, f64::INFINITY);
    }
    for &(one, two, shift) in shifts {
        program.row(vec![(starts[two], 1.0), (starts[one], -1.0)], shift.0 - SLACK, shift.1 + SLACK);
    }
    match program.solve(1.0) {
        Answer::Optimal { value, .. } => Some((value - SLACK).max(longest)),
        Answer::Infeasible => None,
        Answer::Unknown => Some(longest),
    }
}

/// Ways to work that both sides of a joint can do.
fn choices(coupled: &CoupledCell, joint: &Joint) -> Vec<Chosen> {
    let of = |stand: super::Stand| -> Vec<StationOption> {
        let cell = &coupled.cells()[stand.circuit];
        let mut all = cell.parts().stations[stand.station].allowed_options(cell.rides(), 1.0);
        all.retain(|option| option.makes(cell.rides()));
        all
    };
    let (one, two) = (of(joint.first), of(joint.second));
    let both = |o: &StationOption| two.iter().any(|p| p.mode == o.mode && p.heads == o.heads);
    one.iter().filter(|o| both(o)).map(|o| (o.mode, o.heads)).collect()
}

/// The numbers of all circuits; none when a plan does not fit its cell.
pub(super) fn numbers_of(coupled: &CoupledCell, plans: &[Plan]) -> Option<Vec<Numbers>> {
    coupled.cells().iter().zip(plans).map(|(cell, plan)| plan.numbers(cell).ok()).collect()
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

/// Places count as the same within this, m.
pub(super) const SAME_PLACE: f64 = 10.0 * LENGTH_TOLERANCE_M;
