//! The least price among plans of the least floor with the fewest carriers.

use super::program::{Builder, Cut, Goal, Solved};
use super::search::{PRICE_EFFORT, Search};
use super::site::Site;

impl Search<'_, '_> {
    pub(super) fn price(&self, site: &Site, choice: &[usize], carriers: u32) -> f64 {
        let stations: f64 = choice.iter().enumerate().map(|(i, &o)| self.space.options[i][o].price.units()).sum();
        stations + self.fixed_price(site, carriers)
    }

    /// Track and carriers.
    fn fixed_price(&self, site: &Site, carriers: u32) -> f64 {
        let circuit = &self.space.cell.parts().circuit;
        2.0 * f64::from(site.place.modules) * circuit.track.module_price.units()
            + 2.0 * circuit.track.curve_price.units()
            + f64::from(carriers) * circuit.carrier.price.units()
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
        let fold = &self.folds[site.place.fold];
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
            self.effort.programs += 1;
            let goal = Goal::Price { carriers, below };
            match builder.solve(goal, &site.cuts, &mut self.active, self.clock) {
                Solved::Choice(choice, price) => {
                    let tried = self.try_choice(site, &choice, carriers, carriers, PRICE_EFFORT);
                    if tried.unsure.is_some() {
                        self.undecided_price = self.undecided_price.min(price + fixed);
                    }
                    if tried.found {
                        return;
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
}
