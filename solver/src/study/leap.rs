//! Quick ways to a first plan: they prove nothing, but give something to compare with.

use super::fold::Kept;
use super::search::{QUICK_TRIES, Search};
use super::site::{Place, Site};
use std::collections::{BinaryHeap, VecDeque};

/// Equal batches that are tried.
const EQUAL_HEADS: u32 = 4;

impl Search<'_, '_> {
    /// Ahead to a longer loop, where a plan is easier found.
    pub(super) fn leap(&mut self, aside: &VecDeque<Site>, modules: u32) {
        let Some(place) = aside.iter().map(|site| site.place).max() else { return };
        let mut ahead = BinaryHeap::new();
        self.push(&mut ahead, place.fold, place.modules + modules);
        if let Some(place) = ahead.pop() {
            self.equal_batches(place);
        }
    }

    /// One batch size for all stations waits least: these first, then any; until there is a plan.
    pub(super) fn equal_batches(&mut self, place: Place) {
        let fold = &self.folds[place.fold];
        let Some(all) = fold.prune(self.space, place.modules) else { return };
        for heads in (1..=EQUAL_HEADS).map(Some).chain([None]) {
            if self.best.is_some() || self.clock.over() {
                return;
            }
            let mut kept = Kept { options: all.options.clone(), pairs: all.pairs.clone() };
            if let Some(heads) = heads {
                for (j, row) in kept.options.iter_mut().enumerate() {
                    let options = &self.space.options[fold.station(self.space.len(), j)];
                    let fits: Vec<bool> = row.iter().zip(options).map(|(&keep, o)| keep && o.heads == heads).collect();
                    if fits.contains(&true) {
                        *row = fits;
                    }
                }
            }
            self.fewest_carriers(&mut Site::new(place, kept, QUICK_TRIES));
        }
    }
}
