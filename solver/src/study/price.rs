//! The least price among plans of the least floor with the fewest carriers; and what the limit on the price allows.

use super::fold::Kept;
use super::listing::Priced;
use super::program::{Builder, Cut, Goal, Solved};
use super::search::{MOST_EFFORT, PRICE_EFFORT, QUICK_TRIES, Search};
use super::site::{Place, Site};
use crate::option::StationOption;
use crate::rules::{affordable, money_left};
use crate::units::Money;

impl Search<'_, '_> {
    pub(super) fn price(&self, site: &Site, choice: &[usize], carriers: u32) -> f64 {
        self.space.price_of(choice) + self.fixed_price(site, carriers)
    }

    /// Track and carriers.
    fn fixed_price(&self, site: &Site, carriers: u32) -> f64 {
        let circuit = &self.space.cell.parts().circuit;
        2.0 * f64::from(site.place.modules) * circuit.track.module_price.units()
            + 2.0 * circuit.track.curve_price.units()
            + f64::from(carriers) * circuit.carrier.price.units()
    }

    /// The most carriers that the limit on the price allows with so many modules, whatever the stations.
    pub(super) fn affordable(&self, modules: u32) -> u32 {
        let least =
            |options: &Vec<StationOption>| options.iter().map(|o| o.price.units()).fold(f64::INFINITY, f64::min);
        let stations = self.space.options.iter().map(least).sum();
        affordable(self.space.cell, modules, Money::from_units(stations))
    }

    /// The same with the options that are left at a place.
    pub(super) fn affordable_at(&self, place: &Place, kept: &Kept) -> u32 {
        let stations = self.cheapest(place, kept).iter().sum();
        affordable(self.space.cell, place.modules, Money::from_units(stations))
    }

    /// The same with a choice.
    pub(super) fn affordable_with(&self, place: &Place, choice: &[usize]) -> u32 {
        affordable(self.space.cell, place.modules, Money::from_units(self.space.price_of(choice)))
    }

    /// Price of the cheapest option that is left, by position.
    fn cheapest(&self, place: &Place, kept: &Kept) -> Vec<f64> {
        let fold = &self.folds[place.fold];
        let of = |(j, row): (usize, &Vec<bool>)| {
            let options = &self.space.options[fold.station(self.space.len(), j)];
            let prices = row.iter().zip(options).filter(|(keep, _)| **keep).map(|(_, option)| option.price.units());
            prices.fold(f64::INFINITY, f64::min)
        };
        kept.options.iter().enumerate().map(of).collect()
    }

    /// Leaves out the options that the limit on the price does not allow even with the cheapest ones elsewhere and so many
    /// carriers.
    pub(super) fn leave_out_too_dear(&self, place: &Place, kept: &mut Kept, carriers: u32) {
        let Some(left) = money_left(self.space.cell, place.modules) else { return };
        let left = left.units() - f64::from(carriers) * self.space.cell.parts().circuit.carrier.price.units();
        let cheapest = self.cheapest(place, kept);
        let sum: f64 = cheapest.iter().sum();
        let fold = &self.folds[place.fold];
        for (j, row) in kept.options.iter_mut().enumerate() {
            let options = &self.space.options[fold.station(self.space.len(), j)];
            let others = sum - cheapest[j];
            row.iter_mut().zip(options).for_each(|(keep, option)| *keep &= others + option.price.units() <= left);
        }
    }

    /// The cheapest plan with the fewest carriers, over all places within reach.
    pub(super) fn least_price(&mut self, sites: &mut [Site]) {
        let priced = self.space.options.iter().flatten().any(|o| o.price.units() > 0.0);
        let modules_differ = sites.iter().any(|s| s.place.modules != sites[0].place.modules);
        if !priced && !modules_differ {
            return;
        }
        for site in sites {
            // What was only in doubt with fewer carriers may do with these.
            site.cuts.retain(|cut| !cut.in_doubt);
            self.cheapest_at(site);
        }
    }

    fn cheapest_at(&mut self, site: &mut Site) {
        let mut doubts = Vec::new();
        self.look_for_cheaper(site, &mut doubts);
        // Few are left, so that each is worth a longer look.
        for effort in PRICE_EFFORT + 1..=MOST_EFFORT {
            let Some(best) = &self.best else { return };
            let (carriers, below) = (best.carriers, best.price);
            doubts.retain(|(price, _)| price + self.fixed_price(site, carriers) < below);
            if doubts.is_empty() || self.clock.over() {
                break;
            }
            doubts.sort_by(|a, b| a.0.total_cmp(&b.0).then_with(|| a.1.cmp(&b.1)));
            let all = std::mem::take(&mut doubts);
            self.cheapest_of(site, &all, (carriers, effort), &mut doubts);
        }
        if let Some(best) = &self.best {
            let fixed = self.fixed_price(site, best.carriers);
            let least = doubts.iter().map(|(price, _)| price + fixed).fold(f64::INFINITY, f64::min);
            self.undecided_price = self.undecided_price.min(least);
        }
    }

    /// Cheaper plans than the best at a place; `doubts` are those that could not be decided.
    fn look_for_cheaper(&mut self, site: &mut Site, doubts: &mut Vec<Priced>) {
        let fold = &self.folds[site.place.fold];
        let mut tries = 0;
        loop {
            let Some(best) = &self.best else { return };
            let carriers = best.carriers;
            let fixed = self.fixed_price(site, carriers);
            // A hair below the best, so that equal ones are not solved for.
            let below = best.price - fixed - best.price.abs().max(1.0) * 1e-9;
            let Some(kept) = self.kept_for(site, fold, carriers) else { return };
            let builder = Builder::new(self.space, fold, site.place.modules, &kept, site.whole_slots);
            if builder.least_price() > below {
                return;
            }
            if self.clock.over() {
                self.undecided_price = self.undecided_price.min(builder.least_price() + fixed);
                return;
            }
            if tries >= QUICK_TRIES
                && let Some(all) = self.listed_by_price(&builder, carriers, below)
            {
                self.cheapest_of(site, &all, (carriers, PRICE_EFFORT), doubts);
                return;
            }
            tries += 1;
            self.effort.programs += 1;
            let goal = Goal::Price { carriers, below };
            match builder.solve(goal, &site.cuts, &mut self.active, self.clock) {
                Solved::Choice(choice, price) => {
                    let tried = self.try_choice(site, &choice, carriers, carriers, PRICE_EFFORT);
                    if tried.found {
                        return;
                    }
                    if tried.unsure.is_some() {
                        doubts.push((price, choice.clone()));
                    }
                    site.cuts.push(Cut { choice, carriers: Some(carriers + 1), in_doubt: tried.unsure.is_some() });
                    self.effort.cuts += 1;
                }
                Solved::Infeasible => return,
                Solved::Unknown => {
                    self.undecided_price = self.undecided_price.min(builder.least_price() + fixed);
                    return;
                }
            }
        }
    }

    /// Puts choices to the exact check, cheapest first, until one works with so many carriers.
    fn cheapest_of(&mut self, site: &Site, all: &[Priced], (carriers, effort): (u32, u32), doubts: &mut Vec<Priced>) {
        for (at, (price, choice)) in all.iter().enumerate() {
            let out = |cut: &Cut| cut.choice == *choice && cut.carriers.is_none_or(|least| least > carriers);
            if effort == PRICE_EFFORT && site.cuts.iter().any(out) {
                continue;
            }
            if self.clock.over() {
                doubts.extend_from_slice(&all[at..]);
                return;
            }
            let tried = self.try_choice(site, choice, carriers, carriers, effort);
            if tried.found {
                return;
            }
            if tried.unsure.is_some() {
                doubts.push((*price, choice.clone()));
            }
            self.effort.cuts += 1;
        }
    }
}
