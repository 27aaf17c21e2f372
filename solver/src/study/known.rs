//! What a study at one rate shows for studies of the same cell at other rates.
//!
//! More rate needs no less track where nothing else changes with it: let a choice of options be the same at both rates, as
//! all are whose work stands, or takes a length of track. Its zones, slots, lags and carriers are the same then, so that a
//! sharing of the track that makes the higher rate makes the lower one, with the slots that this asks for. What no sharing
//! can do at a rate, none can do at a higher one. Options whose work takes a time while carriers move get longer zones with
//! more rate, and nothing is said of them; nor where carriers must not be slow (longest times, changes) or where the
//! acceleration follows the load of the motors.

use super::fold::Fold;
use super::program::Builder;
use super::search::Search;
use super::site::{Place, Site};
use super::space::Space;
use crate::cell::{Cell, Parts};
use crate::option::Mode;
use crate::plan::Straight;
use crate::track::Side;
use crate::units::CaseRate;
use std::cell::RefCell;
use std::collections::HashMap;

/// Options on a fold of so many modules.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub(super) struct Laid {
    form: usize,
    first: usize,
    count: usize,
    straight: Straight,
    sides: Vec<Side>,
    pub(super) modules: u32,
    /// Way of working and heads, by station.
    options: Vec<(Mode, u32)>,
}

impl Laid {
    pub(super) fn new(space: &Space<'_>, fold: &Fold, modules: u32, choice: &[usize]) -> Self {
        let option = |(i, &o): (usize, &usize)| (space.options[i][o].mode, space.options[i][o].heads);
        Self {
            form: fold.form,
            first: fold.first,
            count: fold.count,
            straight: fold.straight,
            sides: fold.sides.clone(),
            modules,
            options: choice.iter().enumerate().map(option).collect(),
        }
    }

    /// The fold among others.
    pub(super) fn fold(&self, folds: &[Fold]) -> Option<usize> {
        folds.iter().position(|fold| {
            (fold.form, fold.first, fold.count, fold.straight) == (self.form, self.first, self.count, self.straight)
                && fold.sides == self.sides
        })
    }

    /// The options by place in the space; none where one does not make the rates.
    pub(super) fn choice(&self, space: &Space<'_>) -> Option<Vec<usize>> {
        let same = |(i, of): (usize, &(Mode, u32))| space.options[i].iter().position(|o| (o.mode, o.heads) == *of);
        self.options.iter().enumerate().map(same).collect()
    }
}

/// What a study shows for studies of the same cell at other rates.
#[derive(Clone, Debug)]
pub struct Shown {
    /// The cell without its rates.
    parts: Parts,
    /// Carriers a second that each SKU asks for.
    rates: Vec<f64>,
    /// From and to how many carriers options on a fold were shown not to work.
    never: HashMap<Laid, Vec<(u32, u32)>>,
    /// How the plan is laid out.
    pub(super) best: Option<Laid>,
}

/// What is known when a study begins, and what it adds.
pub(super) struct Known<'a> {
    /// Studies of the same cell, at whatever rates.
    pub(super) others: Vec<&'a Shown>,
    /// Those of them at lower rates, where these say something.
    lower: Vec<&'a Shown>,
    holds: bool,
    never: RefCell<HashMap<Laid, Vec<(u32, u32)>>>,
}

impl<'a> Known<'a> {
    pub(super) fn none() -> Self {
        Self { others: Vec::new(), lower: Vec::new(), holds: false, never: RefCell::default() }
    }

    pub(super) fn of(cell: &Cell, others: &[&'a Shown]) -> Self {
        let parts = without_rates(cell);
        let others: Vec<&Shown> = others.iter().copied().filter(|other| other.parts == parts).collect();
        let holds = holds_at_higher_rates(&parts);
        let rates = rates(cell);
        let lower = |other: &&Shown| holds && other.rates.iter().zip(&rates).all(|(theirs, own)| theirs <= own);
        Self { lower: others.iter().copied().filter(lower).collect(), others, holds, never: RefCell::default() }
    }

    /// Whether it is known that so many carriers do not do.
    pub(super) fn excludes(&self, laid: &Laid, carriers: u32) -> bool {
        let within = |spans: &Vec<(u32, u32)>| spans.iter().find(|s| (s.0..=s.1).contains(&carriers)).copied();
        let found = self.lower.iter().find_map(|other| other.never.get(laid).and_then(within));
        if let Some(span) = found {
            self.add(laid, span);
        }
        found.is_some()
    }

    /// No sharing of the track works with so many carriers; kept where that says something of higher rates.
    pub(super) fn exclude(&self, space: &Space<'_>, choice: &[usize], laid: &Laid, span: (u32, u32)) {
        let stations = &space.cell.parts().stations;
        let same = |(i, &o): (usize, &usize)| !stations[i].grows_with_rate(space.options[i][o].mode);
        if self.holds && choice.iter().enumerate().all(same) {
            self.add(laid, span);
        }
    }

    fn add(&self, laid: &Laid, span: (u32, u32)) {
        let mut never = self.never.borrow_mut();
        match never.get_mut(laid) {
            Some(spans) if spans.contains(&span) => {}
            Some(spans) => spans.push(span),
            None => {
                never.insert(laid.clone(), vec![span]);
            }
        }
    }

    /// What the study has shown in the end.
    pub(super) fn shown(self, cell: &Cell, best: Option<Laid>) -> Shown {
        Shown { parts: without_rates(cell), rates: rates(cell), never: self.never.into_inner(), best }
    }
}

/// Carriers beyond the fewest that another study's plan is tried with.
const MORE_CARRIERS: u32 = 3;

/// How long another study's plan is looked at.
const TRY_EFFORT: u32 = 1;

impl Search<'_, '_> {
    /// Begins with the plans of other studies, as far as they work here: nothing that is worse need be looked for.
    pub(super) fn begin_with_known(&mut self) {
        for other in &self.known.others {
            if let Some(laid) = &other.best {
                self.begin_with(laid);
            }
        }
    }

    fn begin_with(&mut self, laid: &Laid) -> Option<()> {
        let fold_index = laid.fold(self.folds)?;
        let choice = laid.choice(self.space)?;
        let fold = &self.folds[fold_index];
        let area = self.place_area(fold_index, laid.modules)?;
        let place = Place { area, fold: fold_index, modules: laid.modules };
        let site = Site::new(place, fold.prune(self.space, laid.modules)?, 0);
        let builder = Builder::new(self.space, fold, laid.modules, &site.kept, false);
        let least = builder.carriers_for(&choice)?.max(self.fewest_allowed());
        let most = self.most_carriers(&site).min(least.saturating_add(MORE_CARRIERS));
        if area <= self.reach() && least <= most {
            self.try_choice(&site, &choice, least, most, TRY_EFFORT);
        }
        Some(())
    }
}

fn rates(cell: &Cell) -> Vec<f64> {
    cell.rides().iter().map(crate::load::Ride::phi).collect()
}

fn without_rates(cell: &Cell) -> Parts {
    let mut parts = cell.parts().clone();
    parts.skus.iter_mut().for_each(|sku| sku.case_rate = CaseRate::per_second(0.0));
    parts
}

/// Whether a plan that makes a rate does at lower ones, as long as its options are the same.
fn holds_at_higher_rates(parts: &Parts) -> bool {
    let timed = !parts.windows.is_empty() || parts.sections.iter().any(|s| s.max_time.is_some());
    let cooled = parts.circuit.carrier.continuous_force.is_some();
    let handed_over = parts.stations.iter().any(|s| s.hand_off.is_some());
    !timed && !cooled && !handed_over && parts.changes.kept_limit().is_none()
}
