//! A choice of options put to the exact check, and the plan that comes of it.

use super::fit::{Fit, Fitting};
use super::known::Laid;
use super::search::Search;
use super::site::{Best, Site, Tried};
use crate::plan::Plan;

impl Search<'_, '_> {
    /// Puts a choice to the exact check with `least` to `most` carriers: a quick look at all numbers first, then what is
    /// below the first that works, with proof.
    pub(super) fn try_choice(&mut self, site: &Site, choice: &[usize], least: u32, most: u32, effort: u32) -> Tried {
        self.effort.candidates += 1;
        let fold = &self.folds[site.place.fold];
        let mut tried = Tried { found: false, needs: None, unsure: None };
        // More than can be paid for are none that the choice could need.
        let affordable = self.affordable_with(&site.place, choice);
        let paid = affordable <= most;
        let most = most.min(affordable);
        if paid && most < least {
            return tried;
        }
        let Some(fit) = Fit::new(self.space, self.clock, fold, site.place.modules, choice) else { return tried };
        let end = most.min(fit.most_carriers());
        let mut below = end.saturating_add(1);
        let laid = Laid::new(self.space, fold, site.place.modules, choice);
        let open = |carriers: &u32| !self.known.excludes(&laid, *carriers);
        let all: Vec<u32> = (least..=end).filter(open).collect();
        for &carriers in &all {
            if self.clock.over() {
                break;
            }
            if let Some((lengths, share)) = fit.at_once(carriers) {
                self.keep(site, choice, &fit.plan(&lengths, carriers, share));
                (tried.found, tried.needs, below) = (true, Some(carriers), carriers);
                break;
            }
        }
        for carriers in all.into_iter().take_while(|&carriers| carriers < below) {
            if self.clock.over() {
                tried.unsure = tried.unsure.or(Some((carriers, true)));
                return tried;
            }
            match fit.with(carriers, effort) {
                Fitting::Fits { lengths, share } => {
                    self.keep(site, choice, &fit.plan(&lengths, carriers, share));
                    return Tried { found: true, needs: Some(carriers), ..tried };
                }
                Fitting::Never => self.known.exclude(self.space, choice, &laid, (carriers, carriers)),
                Fitting::NeverMore => {
                    self.known.exclude(self.space, choice, &laid, (carriers, u32::MAX));
                    return tried;
                }
                Fitting::Unsure(open) => {
                    tried.unsure = Some(tried.unsure.map_or((carriers, open), |(least, was)| (least, was || open)));
                    if effort == 0 {
                        // The rest of the doubt is looked at on the way back.
                        return tried;
                    }
                }
            }
        }
        if !tried.found && !paid && most < fit.most_carriers() {
            tried.needs = Some(most + 1);
        }
        tried
    }

    fn keep(&mut self, site: &Site, choice: &[usize], plan: &Plan) {
        let price = self.price(site, choice, plan.carriers);
        self.least_area = self.least_area.min(site.place.area);
        let reach = self.reach();
        let better = self.best.as_ref().is_none_or(|b| {
            b.area > reach || plan.carriers < b.carriers || (plan.carriers == b.carriers && price < b.price)
        });
        if better {
            self.best = Some(Best {
                plan: plan.clone(),
                area: site.place.area,
                site: site.place,
                carriers: plan.carriers,
                price,
                laid: Laid::new(self.space, &self.folds[site.place.fold], site.place.modules, choice),
            });
            self.tell();
        }
    }

    /// Whether whole pitches give fewer slots than the program promised.
    pub(super) fn slots_are_short(&self, site: &Site, choice: &[usize], carriers: u32) -> bool {
        Fit::new(self.space, self.clock, &self.folds[site.place.fold], site.place.modules, choice)
            .is_none_or(|fit| fit.most_carriers() < carriers)
    }
}
