//! The mixed-integer program of one fold with so many modules: necessary conditions only, so its optimum is a bound.
//!
//! Options are a layered network: a binary for each option, a continuous variable for each pair of neighbours, whose sums
//! equal the binaries. Lengths that pairs need are then linear, and the relaxation is tight.

use super::Clock;
use super::chain::{Chain, Through};
use super::fold::{Fold, Kept};
use super::keeping::Row;
use super::space::Space;
use crate::milp::{Answer, Program};
use crate::rules::{affordable, money_left};
use crate::units::{Metres, Money, RATE_TOLERANCE};

/// Rounding that sums of lengths are allowed, m.
pub(super) const HAIR: f64 = 1e-7;

/// The same of sums of prices, relative.
const PRICE_HAIR: f64 = 1e-7;

/// What to minimise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Goal {
    /// Carriers, at most so many.
    Carriers {
        /// Largest number of interest.
        most: u32,
    },
    /// Price of the stations, with exactly so many carriers and a price of at most `below`.
    Price {
        /// Carriers.
        carriers: u32,
        /// Only cheaper ones are of interest.
        below: f64,
    },
}

/// A choice of options (by station) that needs at least so many carriers, for every way of sharing out the track; none
/// when no number does.
#[derive(Clone, Debug)]
pub(super) struct Cut {
    pub(super) choice: Vec<usize>,
    pub(super) carriers: Option<u32>,
    /// Not proven: the choice is looked at elsewhere.
    pub(super) in_doubt: bool,
}

/// A solved program.
#[derive(Clone, Debug)]
pub(super) enum Solved {
    /// Options by station, and the objective (carriers, or price of the stations).
    Choice(Vec<usize>, f64),
    Infeasible,
    Unknown,
}

/// Builds and solves programs on one fold.
pub(super) struct Builder<'a, 'c> {
    space: &'a Space<'c>,
    fold: &'a Fold,
    modules: u32,
    straight: f64,
    /// Options left, `[position]`.
    options: Vec<Vec<usize>>,
    kept: &'a Kept,
    /// Count whole slots of the longest pitch instead of their length.
    whole_slots: bool,
}

pub(super) struct Columns {
    /// `[position][place in options]`.
    option: Vec<Vec<usize>>,
    /// `[position]`: (column, option, option of the next).
    pair: Vec<Vec<(usize, usize, usize)>>,
    /// Length beyond the need.
    slack: Vec<usize>,
    pub(super) carriers: usize,
}

impl<'a, 'c> Builder<'a, 'c> {
    pub(super) fn new(space: &'a Space<'c>, fold: &'a Fold, modules: u32, kept: &'a Kept, whole_slots: bool) -> Self {
        let options =
            kept.options.iter().map(|row| (0..row.len()).filter(|&o| row[o]).collect::<Vec<usize>>()).collect();
        Self { space, fold, modules, straight: fold.straight_length(space, modules), options, kept, whole_slots }
    }

    /// Solves, adding the rows of further SKUs where their demand is not met (`active` grows).
    pub(super) fn solve(&self, goal: Goal, cuts: &[Cut], active: &mut Vec<usize>, clock: &Clock<'_>) -> Solved {
        let mut changes: Vec<usize> = Vec::new();
        loop {
            let (program, columns) = self.program(goal, cuts, active, &changes);
            let values = match program.solve(clock.left()) {
                Answer::Optimal { values, .. } => values,
                Answer::Infeasible => return Solved::Infeasible,
                Answer::Unknown => return Solved::Unknown,
            };
            let Some(choice) = self.read(&columns, &values) else { return Solved::Unknown };
            let carriers = values[columns.carriers].round();
            let missed = self
                .space
                .demanded
                .iter()
                .copied()
                .filter(|k| !active.contains(k))
                .max_by(|&a, &b| self.missing(&choice, a, carriers).total_cmp(&self.missing(&choice, b, carriers)));
            match missed {
                Some(k) if self.missing(&choice, k, carriers) > 1e-9 => active.push(k),
                _ => {
                    if let Some(row) = self.too_long(&choice, carriers).filter(|row| !changes.contains(row)) {
                        changes.push(row);
                        continue;
                    }
                    let value = match goal {
                        Goal::Carriers { .. } => carriers,
                        Goal::Price { .. } => self.space.price_of(&choice),
                    };
                    return Solved::Choice(choice, value);
                }
            }
        }
    }

    fn n(&self) -> usize {
        self.space.len()
    }

    fn station(&self, j: usize) -> usize {
        self.fold.station(self.n(), j)
    }

    /// Track of the whole loop.
    pub(super) fn whole(&self) -> f64 {
        2.0 * self.straight + 2.0 * self.space.form(self.fold.form).end_length().m()
    }

    pub(super) fn phi(&self, k: usize) -> f64 {
        self.space.cell.rides()[k].phi() * (1.0 - 1.1 * RATE_TOLERANCE)
    }

    /// Least time of one SKU for each metre that section `i` is longer than a pair needs (none where a least time hides it).
    fn slope(&self, i: usize, (up, down): (usize, usize), k: usize) -> f64 {
        if self.space.cell.parts().sections[i].min_time.s() > 0.0 {
            return 0.0;
        }
        let way = self.need(i, up, down) + self.space.options[i][up].skus[k].tail.m();
        self.space.cell.rides()[k].limits.least_pace(Metres::from_m(way))
    }

    /// The least of all pairs that are left at a position.
    fn least_slope(&self, j: usize, k: usize) -> f64 {
        let i = self.station(j);
        let width = self.space.options[self.space.next(i)].len();
        let kept = self.kept.pairs[j].iter().enumerate().filter(|(_, kept)| **kept);
        kept.map(|(at, _)| self.slope(i, (at / width, at % width), k)).fold(f64::INFINITY, f64::min)
    }

    fn need(&self, i: usize, up: usize, down: usize) -> f64 {
        self.fold.need(self.space, i, self.space.pair(i, up, down), self.straight)
    }

    /// Least mean time of section `i` at its needed length.
    fn time(&self, i: usize, up: usize, down: usize, k: usize) -> f64 {
        let options = &self.space.options;
        let pair = (&options[i][up].skus[k], &options[self.space.next(i)][down].skus[k]);
        let at = (self.fold.form, i, self.fold.lies[i].ends());
        self.space.mean_time(at, pair, k, self.need(i, up, down))
    }

    /// By how much (relative) a choice's round trip of one SKU asks for more carriers.
    fn missing(&self, choice: &[usize], k: usize, carriers: f64) -> f64 {
        self.asks_for(choice, k) / carriers.max(1.0) - 1.0
    }

    /// Carriers that a choice's round trip of one SKU asks for.
    fn asks_for(&self, choice: &[usize], k: usize) -> f64 {
        let n = self.n();
        let (mut time, mut rest, mut least_slope) = (0.0, self.whole(), f64::INFINITY);
        for i in 0..n {
            let next = self.space.next(i);
            time += self.space.options[i][choice[i]].skus[k].residence.s() + self.time(i, choice[i], choice[next], k);
            rest -= self.space.options[i][choice[i]].zone.m() + self.need(i, choice[i], choice[next]);
            least_slope = least_slope.min(self.slope(i, (choice[i], choice[next]), k));
        }
        self.phi(k) * (time + rest.max(0.0) * least_slope)
    }

    /// The fewest carriers that the round trips of all SKUs ask for.
    pub(super) fn carriers_for(&self, choice: &[usize]) -> Option<u32> {
        let asked = self.space.demanded.iter().map(|&k| self.asks_for(choice, k)).fold(1.0, f64::max);
        let least = (asked - 1e-9 * asked).ceil();
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        (least < f64::from(u32::MAX)).then_some(least as u32)
    }

    /// Options by position as options by station.
    pub(super) fn by_station(&self, chosen: &[usize]) -> Vec<usize> {
        let mut choice = vec![0; chosen.len()];
        for (j, &o) in chosen.iter().enumerate() {
            choice[self.station(j)] = o;
        }
        choice
    }

    /// Whether the straight ends behind a position.
    pub(super) fn ends_straight(&self, j: usize) -> bool {
        j + 1 == self.fold.count || j + 1 == self.n()
    }

    /// Length that a straight has.
    pub(super) fn straight_room(&self) -> f64 {
        self.straight + HAIR
    }

    /// Rounding that a sum of lengths is allowed, m.
    pub(super) fn hair(&self) -> f64 {
        HAIR
    }

    /// Zones and needs of the options and pairs that are left.
    pub(super) fn lengths_chain(&self) -> Chain {
        self.chain(|i, o| self.space.options[i][o].zone.m(), |i, o, q| self.need(i, o, q))
    }

    /// Weights by position of the options and pairs that are left; infinite for the others.
    fn chain(&self, node: impl Fn(usize, usize) -> f64, pair: impl Fn(usize, usize, usize) -> f64) -> Chain {
        let n = self.n();
        let nodes = (0..n).map(|j| {
            let i = self.station(j);
            let weigh = |(o, &kept): (usize, &bool)| if kept { node(i, o) } else { f64::INFINITY };
            self.kept.options[j].iter().enumerate().map(weigh).collect()
        });
        let pairs = (0..n).map(|j| {
            let i = self.station(j);
            let width = self.space.options[self.space.next(i)].len();
            let weigh =
                |(at, &kept): (usize, &bool)| if kept { pair(i, at / width, at % width) } else { f64::INFINITY };
            self.kept.pairs[j].iter().enumerate().map(weigh).collect()
        });
        Chain { node: nodes.collect(), pair: pairs.collect() }
    }

    /// The program itself (public to the crate's checks against other solvers).
    fn program(&self, goal: Goal, cuts: &[Cut], active: &[usize], changes: &[usize]) -> (Program, Columns) {
        let mut p = Program::default();
        let columns = self.columns(&mut p, goal);
        self.network(&mut p, &columns);
        self.lengths(&mut p, &columns);
        for &k in active {
            self.round_trip(&mut p, &columns, k);
        }
        for row in self.space.keeping.iter().flat_map(|keeping| changes.iter().map(|&row| &keeping.rows[row])) {
            self.change(&mut p, &columns, row);
        }
        self.carriers_fit(&mut p, &columns);
        self.cuts(&mut p, &columns, goal, cuts);
        match goal {
            Goal::Price { below, .. } => {
                let scale = below.abs().max(1.0);
                let terms = self.prices(&columns).into_iter().map(|(c, price)| (c, price / scale)).collect();
                p.row(terms, f64::NEG_INFINITY, below / scale);
            }
            Goal::Carriers { .. } => self.within_price(&mut p, &columns),
        }
        (p, columns)
    }

    /// Stations and carriers cost no more than the limit on the price leaves beside the track.
    fn within_price(&self, p: &mut Program, columns: &Columns) {
        let Some(left) = money_left(self.space.cell, self.modules) else { return };
        let scale = left.units().abs().max(1.0);
        let mut terms: Vec<(usize, f64)> = self.prices(columns).into_iter().map(|(c, x)| (c, x / scale)).collect();
        terms.push((columns.carriers, self.space.cell.parts().circuit.carrier.price.units() / scale));
        // A hair more than is allowed: what passes by it is found out before the exact check.
        p.row(terms, f64::NEG_INFINITY, left.units() / scale + PRICE_HAIR);
    }

    /// The most carriers that the limit on the price allows with a choice.
    pub(super) fn affordable(&self, choice: &[usize]) -> u32 {
        affordable(self.space.cell, self.modules, Money::from_units(self.space.price_of(choice)))
    }

    /// What the limit on the price leaves for stations and carriers; none without a limit.
    pub(super) fn money_left(&self) -> Option<f64> {
        money_left(self.space.cell, self.modules).map(Money::units)
    }

    /// Prices of the options that are left.
    pub(super) fn prices_chain(&self) -> Chain {
        self.chain(|i, o| self.space.options[i][o].price.units(), |_, _, _| 0.0)
    }

    fn prices(&self, columns: &Columns) -> Vec<(usize, f64)> {
        let mut terms = Vec::new();
        for j in 0..self.n() {
            for (place, &o) in self.options[j].iter().enumerate() {
                terms.push((columns.option[j][place], self.space.options[self.station(j)][o].price.units()));
            }
        }
        terms
    }

    pub(super) fn columns(&self, p: &mut Program, goal: Goal) -> Columns {
        let n = self.n();
        let prices = self.space.options.iter().flatten().map(|o| o.price.units());
        let scale = prices.fold(1.0, f64::max);
        let option = (0..n)
            .map(|j| {
                let at = self.station(j);
                let cost = |&o: &usize| match goal {
                    Goal::Carriers { .. } => 0.0,
                    Goal::Price { .. } => self.space.options[at][o].price.units() / scale,
                };
                self.options[j].iter().map(|o| p.column(0.0, 1.0, true, cost(o))).collect()
            })
            .collect();
        let pair = (0..n)
            .map(|j| {
                let next = (j + 1) % n;
                let width = self.space.options[self.station(next)].len();
                let mut pairs = Vec::new();
                for &o in &self.options[j] {
                    for &q in &self.options[next] {
                        if self.kept.pairs[j][o * width + q] {
                            pairs.push((p.column(0.0, 1.0, false, 0.0), o, q));
                        }
                    }
                }
                pairs
            })
            .collect();
        let slack = (0..n).map(|_| p.column(0.0, 2.0 * self.straight, false, 0.0)).collect();
        let carriers = match goal {
            Goal::Carriers { most } => p.column(1.0, f64::from(most), true, 1.0),
            Goal::Price { carriers, .. } => p.column(f64::from(carriers), f64::from(carriers), true, 0.0),
        };
        Columns { option, pair, slack, carriers }
    }

    pub(super) fn network(&self, p: &mut Program, columns: &Columns) {
        let n = self.n();
        p.row(columns.option[0].iter().map(|&c| (c, 1.0)).collect(), 1.0, 1.0);
        for j in 0..n {
            let next = (j + 1) % n;
            for (place, &o) in self.options[j].iter().enumerate() {
                let mut terms: Vec<(usize, f64)> =
                    columns.pair[j].iter().filter(|w| w.1 == o).map(|w| (w.0, 1.0)).collect();
                terms.push((columns.option[j][place], -1.0));
                p.row(terms, 0.0, 0.0);
            }
            for (place, &q) in self.options[next].iter().enumerate() {
                let mut terms: Vec<(usize, f64)> =
                    columns.pair[j].iter().filter(|w| w.2 == q).map(|w| (w.0, 1.0)).collect();
                terms.push((columns.option[next][place], -1.0));
                p.row(terms, 0.0, 0.0);
            }
        }
    }

    /// Zone of the station and length of the section at a position, as terms.
    pub(super) fn zone_terms(&self, columns: &Columns, j: usize, factor: f64) -> Vec<(usize, f64)> {
        let options = self.options[j].iter().enumerate();
        options
            .map(|(place, &o)| (columns.option[j][place], factor * self.space.options[self.station(j)][o].zone.m()))
            .collect()
    }

    /// Columns of the options that are left at a position, and which they are.
    pub(super) fn picks(&self, columns: &Columns, j: usize) -> impl Iterator<Item = (usize, usize)> {
        columns.option[j].iter().copied().zip(self.options[j].iter().copied()).collect::<Vec<_>>().into_iter()
    }

    pub(super) fn section_terms(&self, columns: &Columns, j: usize) -> Vec<(usize, f64)> {
        let i = self.station(j);
        let mut terms: Vec<(usize, f64)> = columns.pair[j].iter().map(|&(c, o, q)| (c, self.need(i, o, q))).collect();
        terms.push((columns.slack[j], 1.0));
        terms
    }

    /// Straights hold what stands on them, all lengths add up to the loop, and no section is longer than it may be.
    pub(super) fn lengths(&self, p: &mut Program, columns: &Columns) {
        let n = self.n();
        let mut parts = vec![(0, self.fold.count)];
        if self.fold.count < n {
            parts.push((self.fold.count, n));
        }
        for (from, to) in parts {
            let mut terms = Vec::new();
            for j in from..to {
                terms.extend(self.zone_terms(columns, j, 1.0));
                if j + 1 < to {
                    terms.extend(self.section_terms(columns, j));
                }
            }
            p.row(terms, f64::NEG_INFINITY, self.straight + HAIR);
        }
        let mut terms = Vec::new();
        for j in 0..n {
            terms.extend(self.zone_terms(columns, j, 1.0));
            terms.extend(self.section_terms(columns, j));
        }
        p.row(terms, self.whole() - HAIR, self.whole() + HAIR);
        for j in 0..n {
            let i = self.station(j);
            let most = &self.space.lengths(self.fold.form, i, self.fold.lies[i]).most;
            let finite = columns.pair[j].iter().any(|&(_, o, q)| most[self.space.pair(i, o, q)].is_finite());
            if !finite {
                continue;
            }
            // Slack of a pair at most what its longest time leaves.
            let mut terms: Vec<(usize, f64)> = columns.pair[j]
                .iter()
                .map(|&(c, o, q)| {
                    let most = most[self.space.pair(i, o, q)].min(self.whole());
                    (c, -(most - self.need(i, o, q)).max(0.0))
                })
                .collect();
            terms.push((columns.slack[j], 1.0));
            p.row(terms, f64::NEG_INFINITY, HAIR);
        }
    }

    /// `N / phi >= residences + lags + forced waits` of one SKU.
    pub(super) fn round_trip(&self, p: &mut Program, columns: &Columns, k: usize) {
        let mut terms = vec![(columns.carriers, 1.0 / self.phi(k))];
        for j in 0..self.n() {
            let i = self.station(j);
            for (place, &o) in self.options[j].iter().enumerate() {
                terms.push((columns.option[j][place], -self.space.options[i][o].skus[k].residence.s()));
            }
            terms.extend(columns.pair[j].iter().map(|&(c, o, q)| (c, -self.time(i, o, q, k))));
            terms.push((columns.slack[j], -self.least_slope(j, k)));
        }
        p.row(terms, -1e-9, f64::INFINITY);
    }

    /// Seconds that an option adds to some changes: its share of the work by hand, and the work on the first batch.
    fn change_at(&self, row: &Row, last: usize, i: usize, o: usize) -> f64 {
        let option = &self.space.options[i][o];
        let through = if i <= last { row.ways.iter().map(|&k| option.skus[k].residence.s()).sum() } else { 0.0 };
        row.work(i, option) + through
    }

    /// Seconds that the way to the next station adds.
    fn change_behind(&self, row: &Row, last: usize, i: usize, up: usize, down: usize) -> f64 {
        if i >= last {
            return 0.0;
        }
        let (form, ends, need) = (self.fold.form, self.fold.lies[i].ends(), self.need(i, up, down));
        let option = &self.space.options[i][up];
        row.ways.iter().map(|&k| self.space.lag(form, i, ends, &option.skus[k], k, need)).sum()
    }

    /// The changes that a choice makes too long by most, if any.
    fn too_long(&self, choice: &[usize], carriers: f64) -> Option<usize> {
        let keeping = self.space.keeping.as_ref()?;
        let over = |row: &Row| {
            let of = |i: usize| {
                let next = choice[self.space.next(i)];
                self.change_at(row, keeping.last, i, choice[i])
                    + self.change_behind(row, keeping.last, i, choice[i], next)
            };
            let on_carriers = row.carriers.0 + row.carriers.1 * carriers;
            on_carriers + (0..choice.len()).map(of).sum::<f64>() - keeping.seconds()
        };
        let all = keeping.rows.iter().enumerate().map(|(at, row)| (at, over(row)));
        let worst = all.max_by(|a, b| a.1.total_cmp(&b.1))?;
        (worst.1 > 1e-5 * keeping.seconds().max(1.0)).then_some(worst.0)
    }

    /// Whether some change takes too long with any of the options that are left, however long the loop is.
    pub(super) fn changes_are_out(&self) -> bool {
        self.space.keeping.as_ref().is_some_and(|keeping| {
            keeping.rows.iter().any(|row| {
                let node = |i: usize, o: usize| self.change_at(row, keeping.last, i, o);
                let pair = |i: usize, o: usize, q: usize| self.change_behind(row, keeping.last, i, o, q);
                let least = self.chain(node, pair).ring().best + row.carriers.0 + row.carriers.1;
                least > keeping.seconds() * (1.0 + 1e-5)
            })
        })
    }

    /// Work by hand that never leaves anybody idle, then the shortest way to the first good case: within the limit.
    fn change(&self, p: &mut Program, columns: &Columns, row: &Row) {
        let Some(keeping) = &self.space.keeping else { return };
        let limit = keeping.seconds().max(1e-6);
        let mut terms = vec![(columns.carriers, row.carriers.1 / limit)];
        for j in 0..self.n() {
            let i = self.station(j);
            for (place, &o) in self.options[j].iter().enumerate() {
                terms.push((columns.option[j][place], self.change_at(row, keeping.last, i, o) / limit));
            }
            let behind =
                |&(c, o, q): &(usize, usize, usize)| (c, self.change_behind(row, keeping.last, i, o, q) / limit);
            terms.extend(columns.pair[j].iter().map(behind));
        }
        p.row(terms, f64::NEG_INFINITY, 1.0 + 1e-6 - row.carriers.0 / limit);
    }

    /// The carriers fit the slots of the SKU with the longest pitch.
    pub(super) fn carriers_fit(&self, p: &mut Program, columns: &Columns) {
        let pitch = self.space.cell.rides().iter().map(|r| r.pitch.m()).fold(0.0, f64::max);
        let mut terms = vec![(columns.carriers, pitch)];
        for j in 0..self.n() {
            terms.extend(self.zone_terms(columns, j, 1.0));
        }
        #[allow(clippy::cast_precision_loss)]
        let hair = 1e-6 * pitch * self.n() as f64 + 1e-7;
        p.row(terms, f64::NEG_INFINITY, self.whole() + hair);
        if !self.whole_slots {
            return;
        }
        let mut sum = vec![(columns.carriers, 1.0)];
        for j in 0..self.n() {
            let most = (self.whole() / pitch + 1.0).floor();
            let slots = p.column(0.0, most, true, 0.0);
            sum.push((slots, -1.0));
            let mut terms: Vec<(usize, f64)> =
                self.section_terms(columns, j).into_iter().map(|(c, a)| (c, -a / pitch)).collect();
            terms.push((slots, 1.0));
            p.row(terms, f64::NEG_INFINITY, 1.2e-6);
        }
        p.row(sum, f64::NEG_INFINITY, 0.0);
    }

    fn cuts(&self, p: &mut Program, columns: &Columns, goal: Goal, cuts: &[Cut]) {
        let n = self.n();
        #[allow(clippy::cast_precision_loss)]
        let all = n as f64;
        for cut in cuts {
            let mut chosen = Vec::with_capacity(n);
            for j in 0..n {
                let place = self.options[j].iter().position(|&o| o == cut.choice[self.station(j)]);
                match place {
                    Some(place) => chosen.push(columns.option[j][place]),
                    None => break,
                }
            }
            if chosen.len() < n {
                continue;
            }
            let forbid = match (cut.carriers, goal) {
                (None, _) => true,
                (Some(least), Goal::Price { carriers, .. }) => least > carriers,
                (Some(least), Goal::Carriers { most }) => least > most,
            };
            if forbid {
                p.row(chosen.iter().map(|&c| (c, 1.0)).collect(), f64::NEG_INFINITY, all - 1.0);
            } else if let (Some(least), Goal::Carriers { .. }) = (cut.carriers, goal) {
                let big = f64::from(least) - 1.0;
                let mut terms: Vec<(usize, f64)> = chosen.iter().map(|&c| (c, -big)).collect();
                terms.push((columns.carriers, 1.0));
                p.row(terms, f64::from(least) - big * all, f64::INFINITY);
            }
        }
    }

    fn read(&self, columns: &Columns, values: &[f64]) -> Option<Vec<usize>> {
        let n = self.n();
        let mut choice = vec![usize::MAX; n];
        for j in 0..n {
            let place = (0..self.options[j].len()).find(|&place| values[columns.option[j][place]] > 0.5)?;
            choice[self.station(j)] = self.options[j][place];
        }
        Some(choice)
    }

    /// The program of the first round, for checks by another solver.
    pub(super) fn first_program(&self, most: u32) -> Program {
        self.program(Goal::Carriers { most }, &[], &self.space.demanded, &[]).0
    }

    /// Least price of the stations that the kept options allow.
    pub(super) fn least_price(&self) -> f64 {
        (0..self.n())
            .map(|j| {
                let prices = self.options[j].iter().map(|&o| self.space.options[self.station(j)][o].price.units());
                prices.fold(f64::INFINITY, f64::min)
            })
            .sum()
    }

    /// Least carriers that one SKU's shortest way round asks for, by options and pairs alone.
    pub(super) fn least_carriers(&self, k: usize) -> Through {
        let (chain, given) = self.way_round(k);
        let mut through = chain.ring();
        let phi = self.phi(k);
        let scale = |x: &mut f64| *x = phi * (*x + given);
        scale(&mut through.best);
        through.node.iter_mut().flatten().for_each(scale);
        through.pair.iter_mut().flatten().for_each(scale);
        through
    }

    /// The time of one SKU round the loop, by options and pairs, and what comes to it whatever is chosen: track that no zone
    /// and no need takes is driven at full speed at best.
    pub(super) fn way_round(&self, k: usize) -> (Chain, f64) {
        // What no zone and no need takes may go to any section.
        let slope = (0..self.n()).map(|j| self.least_slope(j, k)).fold(f64::INFINITY, f64::min);
        let slope = if slope.is_finite() { slope } else { 0.0 };
        let node = |i: usize, o: usize| {
            let option = &self.space.options[i][o];
            option.skus[k].residence.s() - option.zone.m() * slope
        };
        let pair = |i: usize, o: usize, q: usize| self.time(i, o, q, k) - self.need(i, o, q) * slope;
        (self.chain(node, pair), self.whole() * slope)
    }
}
