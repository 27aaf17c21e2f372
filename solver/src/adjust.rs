//! What must be set when the cell goes over from one SKU to another: adjustments, their steps by hand, and the limit.
//!
//! Inside and outside the stop are meant in the sense of Shingo (*A Revolution in Manufacturing: The SMED System*, 1985).

use crate::option::Mode;
use crate::units::{Metres, Seconds};

/// What a SKU asks of an adjustment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Setting {
    /// A length to which something is moved.
    Measure(Metres),
    /// One of several groups (a tool set, a case style), by number.
    Group(usize),
}

/// Where an adjustment is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum At {
    /// At the station with this index in travel order.
    Station(usize),
    /// On every carrier of the circuit.
    Carriers,
}

/// How an adjustment is made.
#[derive(Clone, Debug, PartialEq)]
pub enum Way {
    /// By itself: a time, and a travel at a speed where there is one. A recipe takes neither.
    Automatic {
        /// Whatever the travel.
        base: Seconds,
        /// For each metre by which the measure changes.
        seconds_per_m: f64,
    },
    /// In steps, by people.
    ByHand(Vec<Step>),
}

/// A step by hand. Steps are numbered over all adjustments in their order.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// Its id in the document.
    pub id: String,
    /// Whatever the number of heads (of carriers, on a circuit).
    pub time: Seconds,
    /// For each of them more.
    pub each: Seconds,
    /// People who do it together.
    pub people: u32,
    /// It may be done while the cell runs.
    pub outside: bool,
    /// Numbers of the steps that must be finished before.
    pub after: Vec<usize>,
}

/// One thing to set.
#[derive(Clone, Debug, PartialEq)]
pub struct Adjustment {
    /// Its id in the document.
    pub id: String,
    /// Where it is.
    pub at: At,
    /// What it follows, as the document calls it.
    pub follows: String,
    /// Only when the station works so.
    pub mode: Option<Mode>,
    /// In the order of the cell's SKUs.
    pub settings: Vec<Setting>,
    /// Measures so close need no setting.
    pub tolerance: Metres,
    /// How it is made.
    pub way: Way,
}

impl Adjustment {
    /// By how much the measure changes, or nothing to do.
    #[must_use]
    pub fn travel(&self, from: usize, to: usize) -> Option<Metres> {
        match (self.settings[from], self.settings[to]) {
            (Setting::Measure(a), Setting::Measure(b)) => {
                let travel = (a.m() - b.m()).abs();
                (travel > self.tolerance.m() + 1e-12).then_some(Metres::from_m(travel))
            }
            (a, b) => (a != b).then_some(Metres::ZERO),
        }
    }
}

/// From when a change counts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum CountsFrom {
    /// From the last good case of the SKU before to the first good case of the next.
    #[default]
    LastCase,
    /// From the last case begun, so that running empty counts too.
    LastIntake,
}

/// All that changing over depends on beside the plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Changes {
    /// What is set.
    pub adjustments: Vec<Adjustment>,
    /// People at hand.
    pub operators: u32,
    /// By station: most people who can work at it at once.
    pub room: Vec<Option<u32>>,
    /// Longest change.
    pub limit: Option<Seconds>,
    /// No plan whose changes take longer will do.
    pub keep_limit: bool,
    /// Planned time of a week and the changes that lie inside it, each allowed the limit: the efficiency that is asked for
    /// makes up for them.
    pub inside: Option<(Seconds, u32)>,
    /// What counts.
    pub counts_from: CountsFrom,
    /// Automatic moves wait until nobody is at work any more.
    pub moves_wait: bool,
}

impl Default for Changes {
    fn default() -> Self {
        Self {
            adjustments: Vec::new(),
            operators: 1,
            room: Vec::new(),
            limit: None,
            keep_limit: false,
            inside: None,
            counts_from: CountsFrom::LastCase,
            moves_wait: false,
        }
    }
}

impl Changes {
    /// Every step with its adjustment, in the order of their numbers.
    pub fn steps(&self) -> impl Iterator<Item = (&Adjustment, &Step)> {
        self.adjustments.iter().flat_map(|a| match &a.way {
            Way::ByHand(steps) => steps.iter().map(move |s| (a, s)).collect::<Vec<_>>(),
            Way::Automatic { .. } => Vec::new(),
        })
    }

    /// The limit that a plan must keep.
    #[must_use]
    pub fn kept_limit(&self) -> Option<Seconds> {
        self.limit.filter(|_| self.keep_limit)
    }

    /// Whether lists that belong to stations and SKUs are as long as these, and steps name steps.
    #[must_use]
    pub fn fits(&self, stations: usize, skus: usize) -> bool {
        let steps = self.steps().count();
        self.operators > 0
            && (self.room.is_empty() || self.room.len() == stations)
            && self.adjustments.iter().all(|a| {
                a.settings.len() == skus
                    && match a.at {
                        At::Station(i) => i < stations,
                        At::Carriers => true,
                    }
            })
            && self.steps().all(|(_, s)| s.people <= self.operators && s.after.iter().all(|&i| i < steps))
    }
}

/// Availability of a planned time after so many changes of equal length, never below zero.
#[must_use]
pub fn availability(planned: Seconds, changes: u32, each: Seconds) -> f64 {
    ((planned.s() - f64::from(changes) * each.s()) / planned.s()).max(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Three changes of 12 minutes in 480 minutes leave 0.925 of them, and 0.920 of what 30 minutes of breaks leave
    /// (common practice, no source; recomputed).
    #[test]
    fn capacity_after_changes() {
        let minutes = |m: f64| Seconds::from_s(60.0 * m);
        assert!((availability(minutes(480.0), 3, minutes(12.0)) - 0.925).abs() < 1e-12);
        assert!((availability(minutes(480.0 - 30.0), 3, minutes(12.0)) - 0.920).abs() < 1e-12);
        assert!(availability(minutes(30.0), 3, minutes(12.0)).abs() < 1e-12);
    }
}
