//! What would shorten a change: more people, a step done outside the stop, an adjustment that sets itself.

use super::{Change, Changeover};
use crate::adjust::Way;
use crate::units::Micros;

/// People that are added at most.
const MORE_PEOPLE: u32 = 3;

/// Something that could be done about a change.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Remedy {
    /// So many people at hand.
    Operators(u32),
    /// The step with this number is done outside the stop.
    Outside(usize),
    /// The adjustment with this index sets itself, in no more time than the longest other move.
    Automatic(usize),
}

/// A remedy and how long the change then takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Mended {
    /// What is done.
    pub remedy: Remedy,
    /// The whole change.
    pub total: Micros,
}

impl Changeover<'_> {
    /// Every single remedy that shortens a change, shortest first.
    #[must_use]
    pub fn remedies(&self, change: &Change) -> Vec<Mended> {
        let changes = &self.cell.parts().changes;
        let inside = &change.stopped.steps;
        let with = |steps: Vec<usize>, operators: u32| {
            let finish = self.hands.plan_with(steps, &self.fitted, operators).schedule.finish;
            self.total_of(change.from, change.to, finish, change.moving.us())
        };
        let mut all = Vec::new();
        for more in 1..=MORE_PEOPLE {
            let operators = changes.operators + more;
            all.push(Mended { remedy: Remedy::Operators(operators), total: with(inside.clone(), operators) });
        }
        for &step in inside {
            let rest: Vec<usize> = inside.iter().copied().filter(|&s| s != step).collect();
            if !self.hands.between(step, &rest) {
                all.push(Mended { remedy: Remedy::Outside(step), total: with(rest, changes.operators) });
            }
        }
        let mut number = 0;
        for (index, adjustment) in changes.adjustments.iter().enumerate() {
            let Way::ByHand(steps) = &adjustment.way else { continue };
            let own = number..number + steps.len();
            number += steps.len();
            let rest: Vec<usize> = inside.iter().copied().filter(|s| !own.contains(s)).collect();
            if rest.len() < inside.len() {
                all.push(Mended { remedy: Remedy::Automatic(index), total: with(rest, changes.operators) });
            }
        }
        all.retain(|m| m.total < change.total);
        // More people than help are no remedy.
        let mut seen = Vec::new();
        all.retain(|m| {
            let fresh = !matches!(m.remedy, Remedy::Operators(_)) || !seen.contains(&m.total);
            seen.push(m.total);
            fresh
        });
        all.sort_by_key(|m| m.total);
        all
    }
}
