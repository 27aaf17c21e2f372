//! What the search may choose from: feasible options, and what each pair of neighbours needs.

use super::Clock;
use super::keeping::Keeping;
use super::waits::WaitTable;
use crate::cell::Cell;
use crate::option::{Flow, SkuOption, StationOption};
use crate::rules::{PairNeeds, frames_apart, least_slots};
use crate::section::{Ends, lag};
use crate::track::{Form, loop_length};
use crate::units::Metres;
use std::cell::{OnceCell, RefCell};
use std::collections::HashMap;

/// How a section lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) enum Lie {
    /// On one straight, between stations that stand on the same side.
    Beside,
    /// On one straight, between stations on opposite sides (upright loops).
    Across,
    /// Round one end.
    One,
    /// Round both ends and along the straight between them.
    Both,
}

impl Lie {
    pub(super) fn ends(self) -> Ends {
        match self {
            Self::Beside | Self::Across => Ends::None,
            Self::One => Ends::One,
            Self::Both => Ends::Both,
        }
    }

    fn index(self) -> usize {
        match self {
            Self::Beside => 0,
            Self::Across => 1,
            Self::One => 2,
            Self::Both => 3,
        }
    }
}

/// Least and largest length of a section for each pair of options, row by row of the option before.
pub(super) struct Lengths {
    pub(super) need: Vec<f64>,
    /// Largest length by the section's longest time; infinite without one.
    pub(super) most: Vec<f64>,
}

pub(super) struct Space<'a> {
    pub(super) cell: &'a Cell,
    clock: &'a Clock<'a>,
    /// Options that make every rate, by station in travel order.
    pub(super) options: Vec<Vec<StationOption>>,
    /// SKUs with a demand.
    pub(super) demanded: Vec<usize>,
    pub(super) waits: WaitTable,
    /// Where changes must keep a limit.
    pub(super) keeping: Option<Keeping<'a>>,
    lengths: Vec<OnceCell<Lengths>>,
    /// The form with the longest loop.
    longest: usize,
    /// The same SKUs, those that some choice missed lately first: the next one will likely miss them too.
    pub(super) suspects: RefCell<Vec<usize>>,
    /// Least way round by form and by how the sections lie: the same for every station that may begin the front.
    rounds: RefCell<HashMap<(usize, Vec<Lie>), f64>>,
}

impl<'a> Space<'a> {
    pub(super) fn new(cell: &'a Cell, clock: &'a Clock<'a>) -> Self {
        let rides = cell.rides();
        let keeping = Keeping::of(cell);
        let may = |i: usize, o: &StationOption| {
            o.makes(rides) && keeping.as_ref().is_none_or(|keeping| keeping.allows(cell, i, o))
        };
        let stations = cell.parts().stations.iter().enumerate();
        let options: Vec<Vec<StationOption>> =
            stations.map(|(i, s)| s.allowed_options(rides, 1.0).into_iter().filter(|o| may(i, o)).collect()).collect();
        let batches = options.iter().flatten().flat_map(|o| o.skus.iter().map(|s| s.batch));
        let all = &cell.parts().circuit.track.forms;
        let forms = all.len();
        let end = |form: usize| all[form].end_length().m();
        let longest = (0..forms).max_by(|&a, &b| end(a).total_cmp(&end(b))).unwrap_or(0);
        let demanded: Vec<usize> = (0..rides.len()).filter(|&k| rides[k].demanded && rides[k].phi() > 0.0).collect();
        Self {
            cell,
            clock,
            waits: WaitTable::new(batches),
            suspects: RefCell::new(demanded.clone()),
            demanded,
            lengths: (0..forms * cell.len() * 4).map(|_| OnceCell::new()).collect(),
            options,
            longest,
            keeping,
            rounds: RefCell::default(),
        }
    }

    /// The SKUs that most likely decide: the fastest and the one that takes most track a second.
    pub(super) fn first_active(&self) -> Vec<usize> {
        let rides = self.cell.rides();
        let most =
            |key: &dyn Fn(usize) -> f64| self.demanded.iter().copied().max_by(|&a, &b| key(a).total_cmp(&key(b)));
        let mut active: Vec<usize> =
            [most(&|k| rides[k].phi()), most(&|k| rides[k].phi() * rides[k].pitch.m())].into_iter().flatten().collect();
        active.dedup();
        active
    }

    pub(super) fn len(&self) -> usize {
        self.options.len()
    }

    /// Price of the stations of a choice.
    pub(super) fn price_of(&self, choice: &[usize]) -> f64 {
        choice.iter().enumerate().map(|(i, &o)| self.options[i][o].price.units()).sum()
    }

    pub(super) fn next(&self, i: usize) -> usize {
        (i + 1) % self.len()
    }

    pub(super) fn form(&self, form: usize) -> &'a Form {
        &self.cell.parts().circuit.track.forms[form]
    }

    /// Index of a pair of options of section `i`.
    pub(super) fn pair(&self, i: usize, up: usize, down: usize) -> usize {
        up * self.options[self.next(i)].len() + down
    }

    /// Lag of section `i` for one SKU at a length.
    pub(super) fn lag(&self, form: usize, i: usize, ends: Ends, up: &SkuOption, sku: usize, length: f64) -> f64 {
        let limits = &self.cell.parts().sections[i];
        lag(&self.cell.rides()[sku], 1.0, self.form(form), ends, limits, Metres::from_m(length), up.tail).s()
    }

    /// Least way round a loop of this form whose sections lie so, worked out once.
    pub(super) fn least_round(&self, form: usize, lies: &[Lie], work_out: &dyn Fn() -> f64) -> f64 {
        let known = self.rounds.borrow().get(&(form, lies.to_vec())).copied();
        known.unwrap_or_else(|| {
            let least = work_out();
            self.rounds.borrow_mut().insert((form, lies.to_vec()), least);
            least
        })
    }

    /// Lengths of section `i` when it lies so, worked out once.
    pub(super) fn lengths(&self, form: usize, i: usize, lie: Lie) -> &Lengths {
        // Off the ends all forms are alike, but for how long the longest loop is: what does not fit that is told by its length.
        let limits = &self.cell.parts().sections[i];
        let alike = lie.ends() == Ends::None && limits.max_time.is_none();
        let form = if alike { self.longest } else { form };
        let at = (form * self.len() + i) * 4 + lie.index();
        self.lengths[at].get_or_init(|| self.work_out(form, i, lie))
    }

    fn work_out(&self, form: usize, i: usize, lie: Lie) -> Lengths {
        let (ups, downs) = (&self.options[i], &self.options[self.next(i)]);
        let count = ups.len() * downs.len();
        let mut all = Lengths { need: Vec::with_capacity(count), most: Vec::with_capacity(count) };
        for (o, up) in ups.iter().enumerate() {
            for (q, down) in downs.iter().enumerate() {
                let (need, most) = if self.len() == 1 && o != q {
                    (f64::INFINITY, 0.0)
                } else {
                    self.pair_lengths(form, i, lie, up, down)
                };
                all.need.push(need);
                all.most.push(most);
            }
        }
        all
    }

    fn pair_lengths(&self, form: usize, i: usize, lie: Lie, up: &StationOption, down: &StationOption) -> (f64, f64) {
        let parts = self.cell.parts();
        let limits = &parts.sections[i];
        let ends = lie.ends();
        let mut need = limits.min_length.m().max(ends.arc(self.form(form)).m());
        if lie == Lie::Beside {
            let frame = |s: usize, o: &StationOption| (parts.stations[s].frame.map(Metres::m), o.zone.m());
            need = need.max(frames_apart(frame(i, up), frame(self.next(i), down)));
        }
        if self.clock.over() {
            // What is known without looking closer: still a bound, and nobody builds on more any longer.
            return (need, f64::INFINITY);
        }
        let track = &parts.circuit.track;
        let track_end = loop_length(self.form(form), track.module, track.max_modules).m();
        for k in 0..self.cell.rides().len() {
            let pair = PairNeeds { ride: &self.cell.rides()[k], up: &up.skus[k], down: &down.skus[k], limits };
            let lag_at = |length: Metres| self.lag(form, i, ends, &up.skus[k], k, length.m());
            need = least_slots(&pair, Metres::from_m(need), Metres::from_m(track_end), lag_at).m();
            if need.is_infinite() {
                return (need, 0.0);
            }
        }
        let mut most = f64::INFINITY;
        if let Some(max) = limits.max_time {
            for &k in &self.demanded {
                let allowed = max.s() - self.longest_wait(&up.skus[k], &down.skus[k]) + 1e-6;
                let lag_at = |length: f64| self.lag(form, i, ends, &up.skus[k], k, length);
                if lag_at(need) > allowed {
                    return (f64::INFINITY, 0.0);
                }
                most = most.min(largest(need, track_end, |length| lag_at(length) <= allowed));
            }
        }
        (need, most)
    }

    /// Waiting that batch sizes force on some carrier of the section, from its leaving on.
    fn longest_wait(&self, up: &SkuOption, down: &SkuOption) -> f64 {
        // Batches of a train may leave close together after waiting inside.
        let apart = if matches!(up.flow, Flow::Train(_)) { 0.0 } else { up.cycle.s() };
        self.waits.of(up.batch, down.batch).longest(apart, down.cycle.s())
    }

    /// Least mean time of one SKU from leaving a station to being taken in at the next, on a section of this length;
    /// together with the residence before it, also for trains whose batches wait inside.
    pub(super) fn mean_time(
        &self,
        at: (usize, usize, Ends),
        pair: (&SkuOption, &SkuOption),
        k: usize,
        length: f64,
    ) -> f64 {
        let (form, i, ends) = at;
        let (up, down) = pair;
        self.lag(form, i, ends, up, k, length) + self.waits.of(up.batch, down.batch).mean(up.cycle.s(), down.cycle.s())
    }
}

/// The largest length in `[low, high]` at which a condition that holds at `low` and is lost once and for all still holds.
fn largest(low: f64, high: f64, holds: impl Fn(f64) -> bool) -> f64 {
    if holds(high) {
        return f64::INFINITY;
    }
    let (mut low, mut high) = (low, high);
    while high - low > 1e-10 {
        let middle = f64::midpoint(low, high);
        if holds(middle) { low = middle } else { high = middle }
    }
    low
}
