//! Ahead to longer loops, where a plan is easier found: it proves nothing, but gives something to compare with.

use super::search::Search;
use super::single::Alone;
use super::states::{Chosen, Loops};
use crate::study::{Depth, Found};

/// Ways for the joints to work that a leap tries.
const WAYS: usize = 24;

impl Search<'_> {
    /// Looks for a plan on longer loops than those put aside: of the least state, and of the one that came last. Circuits that
    /// are in doubt grow twice as much with each leap.
    pub(super) fn leap(&mut self, leaps: u32) {
        let least = self.aside.iter().map(|aside| &aside.state).max();
        let last = self.aside.last().map(|aside| &aside.state);
        let mut bases: Vec<Loops> = least.into_iter().chain(last).map(|state| state.loops.clone()).collect();
        bases.dedup();
        for base in bases {
            let Some(loops) = self.ahead(&base, leaps) else { continue };
            self.any_way(&loops);
            if self.best.is_some() || self.clock.over() {
                return;
            }
        }
    }

    /// Longer loops, as long as the track and the floor allow.
    fn ahead(&mut self, base: &Loops, leaps: u32) -> Option<Loops> {
        let open = vec![None; self.choices.len()];
        let mut doubts = Vec::with_capacity(base.len());
        for (c, &outline) in base.iter().enumerate() {
            doubts.push(!matches!(self.alone(c, outline, &open, (Depth::Quick, 1.0)), Alone::Planned(_)));
        }
        for grown in (1..=leaps).rev() {
            let longer = base.iter().enumerate().map(|(c, &(shape, modules))| {
                let circuit = &self.coupled.cells()[c].parts().circuit;
                let more = if doubts[c] { 1 << grown.min(8) } else { grown };
                let most = circuit.fixed.modules.unwrap_or(circuit.track.max_modules);
                (shape, (modules + more).min(most).max(modules))
            });
            let loops: Loops = longer.collect();
            let room = self.least_footprint(&loops).is_some_and(|footprint| self.coupled.has_room(&footprint));
            if room && loops != *base {
                return Some(loops);
            }
        }
        None
    }

    /// The first plan on these loops, with any way for the joints to work.
    fn any_way(&mut self, loops: &Loops) {
        for work in self.combinations().into_iter().take(WAYS) {
            let Some(alone) = self.all_quickly(loops, &work) else { continue };
            self.effort.candidates += 1;
            self.try_plans(f64::INFINITY, &alone, false);
            if self.best.is_some() || self.clock.over() {
                return;
            }
        }
    }

    /// A plan of each circuit by itself, where they are soon found.
    fn all_quickly(&mut self, loops: &Loops, work: &[Chosen]) -> Option<Vec<Found>> {
        let work: Vec<Option<Chosen>> = work.iter().copied().map(Some).collect();
        let mut alone = Vec::with_capacity(loops.len());
        for (c, &outline) in loops.iter().enumerate() {
            match self.alone(c, outline, &work, (Depth::Quick, 1.0)) {
                Alone::Planned(found) => alone.push(*found),
                Alone::Impossible | Alone::Unknown => return None,
            }
        }
        Some(alone)
    }
}
