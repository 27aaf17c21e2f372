//! A state to its end: what its program promises, put to the exact check of each circuit and then of all together, until nothing
//! is left that would be better than the best plan.

use super::join::Worth;
use super::joined::{Choice, Goal, Joined, Said};
use super::search::Search;
use super::single::Alone;
use super::states::State;
use crate::study::{Clock, Found};

/// Programs that one visit may solve; and before there is a plan at all, which may be found elsewhere sooner.
const MOST_PROGRAMS: (usize, usize) = (60, 4);

/// Lengths along the floor are told apart from here on, m: what rows and roundings are allowed is less.
const SAME_LENGTH: f64 = 1e-6;

/// What is looked for: less floor, then fewer carriers, then a lower price.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Better {
    Floor,
    Carriers,
    Price,
}

/// What the circuits by themselves say of a choice.
enum Each {
    /// The program knows more of one of them now.
    Learned,
    /// Plans of all of them, and the fewest carriers that each can do with.
    Planned(Vec<Found>),
    Unknown,
}

/// What is left of a state that may be better than the best plan.
pub(super) struct Left {
    /// Floor, carriers and price that each of it takes at least.
    pub(super) doubts: Vec<Worth>,
    /// Whether more time could help.
    pub(super) open: bool,
}

impl Search<'_> {
    /// Whether a state can be laid out on less floor than the best plan takes: its area, as far as its program says; none
    /// where it cannot be laid out within reach.
    pub(super) fn promised(&mut self, state: &State, clock: &Clock<'_>) -> Option<f64> {
        let joined = self.program_of(state, false, clock)?;
        self.effort.programs += 1;
        match joined.solve(Goal::Length(self.longest(state, self.reach()) + SAME_LENGTH), clock) {
            Said::Choice(_, _, length) => Some(self.area_at(state, length).max(state.area)),
            Said::Infeasible => None,
            Said::Unknown => Some(state.area),
        }
    }

    /// Looks for all plans of a state that are better than the best one. `least`: what is known of them beforehand.
    pub(super) fn settle(&mut self, state: &State, mut least: Worth, clock: &Clock<'_>) -> Left {
        let mut doubts: Vec<Worth> = Vec::new();
        let Some(mut joined) = self.program_of(state, false, clock) else { return Left { doubts, open: false } };
        let mut whole_slots = false;
        let mut left_out: Vec<Choice> = Vec::new();
        let mut better = if self.is_smaller(state.area) { Better::Floor } else { Better::Carriers };
        let most = if self.best.is_some() { MOST_PROGRAMS.0 } else { MOST_PROGRAMS.1 };
        for _ in 0..most {
            if clock.over() {
                break;
            }
            let Some(goal) = self.goal(state, better) else { return Left { doubts, open: false } };
            self.effort.programs += 1;
            let said = joined.solve(goal, clock);
            tracing::debug!(?goal, ?said, "all circuits together");
            let (choice, thought, value) = match (said, better) {
                (Said::Choice(choice, thought, value), _) => (choice, thought, value),
                (Said::Infeasible, Better::Floor) => {
                    better = Better::Carriers;
                    continue;
                }
                (Said::Infeasible, Better::Carriers) => {
                    better = Better::Price;
                    continue;
                }
                (Said::Infeasible, Better::Price) => return Left { doubts, open: false },
                (Said::Unknown, _) => break,
            };
            if better == Better::Floor {
                least.0 = least.0.max(self.area_at(state, value));
                if !self.is_smaller(least.0) {
                    better = Better::Carriers;
                    continue;
                }
            }
            let found = match self.each_with(state, &mut joined, &choice, &thought, (better, clock)) {
                Each::Learned => continue,
                Each::Unknown => {
                    doubts.push(least);
                    joined.leave_out(&choice);
                    left_out.push(choice);
                    continue;
                }
                Each::Planned(found) => found,
            };
            let carriers: u32 = found.iter().map(|f| f.carriers.bound).sum();
            let price = joined.price_of(&choice, &found) + self.track_price(state);
            self.effort.candidates += 1;
            let made = self.try_plans(least.0, &found, true);
            let good = made.is_some_and(|(area, n, paid)| match better {
                Better::Floor => area <= least.0 + self.area_of_a_hair(state),
                _ => area <= self.reach() && n == carriers && paid <= price + 1e-6,
            });
            if !good && !whole_slots {
                // It may have promised slots that whole pitches do not give.
                let Some(mut stricter) = self.program_of(state, true, clock) else {
                    return Left { doubts, open: false };
                };
                left_out.iter().for_each(|choice| stricter.leave_out(choice));
                (joined, whole_slots) = (stricter, true);
            } else if !good {
                self.effort.cuts += 1;
                doubts.push((least.0, carriers, price));
                joined.leave_out(&choice);
                left_out.push(choice);
            }
        }
        doubts.push(least);
        Left { doubts, open: true }
    }

    /// The program of a state, with what is known of the choices of each circuit.
    fn program_of(&self, state: &State, whole_slots: bool, clock: &Clock<'_>) -> Option<Joined> {
        let mut joined = Joined::of(self, state, whole_slots, clock)?;
        for ((c, shape, modules, chosen), known) in &self.chosen {
            if state.loops[*c] != (*shape, *modules) {
                continue;
            }
            match known {
                Alone::Planned(found) => joined.needs(*c, chosen, Some(found.carriers.bound)),
                Alone::Impossible => joined.needs(*c, chosen, None),
                Alone::Unknown => {}
            }
        }
        Some(joined)
    }

    /// What the program is asked; none where nothing can be better.
    fn goal(&self, state: &State, better: Better) -> Option<Goal> {
        let Some(best) = &self.best else {
            return (better == Better::Floor).then_some(Goal::Length(f64::INFINITY));
        };
        let within = self.longest(state, best.area + self.tolerance) + SAME_LENGTH;
        Some(match better {
            Better::Floor => Goal::Length(self.longest(state, best.area) - SAME_LENGTH),
            Better::Carriers => Goal::Carriers(best.carriers.saturating_sub(1), within),
            Better::Price => {
                let below = best.price - self.track_price(state) - 1e-9 * best.price.abs().max(1.0);
                Goal::Price(below, best.carriers, within)
            }
        })
    }

    /// Every circuit by itself with a choice, and the fewest carriers that do; the program is told of them.
    fn each_with(
        &mut self,
        state: &State,
        joined: &mut Joined,
        choice: &Choice,
        thought: &[u32],
        (better, clock): (Better, &Clock<'_>),
    ) -> Each {
        let (mut all, mut learned, mut unknown) = (Vec::with_capacity(choice.len()), false, false);
        for (c, chosen) in choice.iter().enumerate() {
            match self.with_choice(c, state.loops[c], chosen, clock) {
                Alone::Impossible => {
                    joined.needs(c, chosen, None);
                    return Each::Learned;
                }
                Alone::Unknown => unknown = true,
                Alone::Planned(found) => {
                    if found.carriers.bound > thought[c] {
                        joined.needs(c, chosen, Some(found.carriers.bound));
                        learned |= better != Better::Floor;
                    }
                    all.push(*found);
                }
            }
        }
        match (learned, unknown) {
            (true, _) => Each::Learned,
            (false, true) => Each::Unknown,
            (false, false) => Each::Planned(all),
        }
    }

    /// Price of the track of a state.
    fn track_price(&self, state: &State) -> f64 {
        let of = |(c, &(_, modules)): (usize, &(usize, u32))| {
            let track = &self.coupled.cells()[c].parts().circuit.track;
            2.0 * f64::from(modules) * track.module_price.units() + 2.0 * track.curve_price.units()
        };
        state.loops.iter().enumerate().map(of).sum()
    }

    /// The floor area that goes with a length along the floor too small to be told apart.
    fn area_of_a_hair(&self, state: &State) -> f64 {
        let length = self.longest(state, state.area);
        self.area_at(state, length + SAME_LENGTH) - self.area_at(state, length)
    }
}
