//! The steps of one change as work for the people at hand.

use crate::adjust::{Adjustment, At, Changes, Step, Way};
use crate::option::Mode;
use crate::schedule::{MOST_NODES, Schedule, Task, Work, least_finish};
use crate::units::{Micros, Seconds};
use std::cell::RefCell;
use std::collections::HashMap;

/// What the steps depend on beside the document: how each station works, with how many heads, and how many carriers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fitted {
    /// By station in travel order.
    pub stations: Vec<(Mode, u32)>,
    /// Carriers.
    pub carriers: u32,
}

/// When steps are done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Phase {
    /// While the SKU before still runs.
    Before,
    /// While the cell stands.
    Stopped,
    /// While the next SKU runs already.
    Behind,
}

/// Steps with their schedule.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Planned {
    /// Numbers of the steps.
    pub steps: Vec<usize>,
    /// Their times, by place in `steps`.
    pub times: Vec<Micros>,
    /// Their starts from the start of the phase, by place in `steps`.
    pub schedule: Schedule,
}

/// Schedules work; the same work is scheduled once.
#[derive(Debug)]
pub struct Hands<'a> {
    changes: &'a Changes,
    steps: Vec<(&'a Adjustment, &'a Step)>,
    /// `[i * n + j]`: step i must be finished before j begins, directly or through others.
    before: Vec<bool>,
    known: RefCell<HashMap<Work, Schedule>>,
}

impl<'a> Hands<'a> {
    /// For the steps of a cell.
    #[must_use]
    pub fn new(changes: &'a Changes) -> Self {
        let steps: Vec<_> = changes.steps().collect();
        let n = steps.len();
        let mut before = vec![false; n * n];
        for (j, (_, step)) in steps.iter().enumerate() {
            for &i in step.after.iter().filter(|&&i| i < n) {
                before[i * n + j] = true;
            }
        }
        // Through others too (Warshall 1962): a step that this change does not need still keeps its neighbours in order.
        for through in 0..n {
            for i in (0..n).filter(|i| before[i * n + through]).collect::<Vec<_>>() {
                for j in 0..n {
                    before[i * n + j] |= before[through * n + j];
                }
            }
        }
        Self { changes, steps, before, known: RefCell::default() }
    }

    /// Whether the adjustment is there at all.
    #[must_use]
    pub fn present(&self, adjustment: usize, fitted: &Fitted) -> bool {
        let adjustment = &self.changes.adjustments[adjustment];
        match adjustment.at {
            At::Station(i) => adjustment.mode.is_none_or(|mode| mode == fitted.stations[i].0),
            At::Carriers => true,
        }
    }

    /// Numbers of the steps of these adjustments, as far as they are there.
    #[must_use]
    pub fn steps_of(&self, active: &dyn Fn(usize) -> bool, fitted: &Fitted) -> Vec<usize> {
        let mut all = Vec::new();
        let mut number = 0;
        for (index, adjustment) in self.changes.adjustments.iter().enumerate() {
            let Way::ByHand(steps) = &adjustment.way else { continue };
            if active(index) && self.present(index, fitted) {
                all.extend(number..number + steps.len());
            }
            number += steps.len();
        }
        all
    }

    /// Of these steps, those of a phase. What may be done outside the stop is done before it, unless it waits for a step
    /// inside.
    #[must_use]
    pub fn of_phase(&self, steps: &[usize], phase: Phase) -> Vec<usize> {
        let (all, n) = (&self.steps, self.steps.len());
        let phase_of = |j: usize| {
            if !all[j].1.outside {
                Phase::Stopped
            } else if steps.iter().any(|&i| self.before[i * n + j] && !all[i].1.outside) {
                Phase::Behind
            } else {
                Phase::Before
            }
        };
        steps.iter().copied().filter(|&j| phase_of(j) == phase).collect()
    }

    /// Of these steps, those inside the stop.
    pub(crate) fn inside(&self, steps: &[usize]) -> Vec<usize> {
        steps.iter().copied().filter(|&j| !self.steps[j].1.outside).collect()
    }

    /// Time of a step.
    #[must_use]
    pub fn time(&self, step: usize, fitted: &Fitted) -> Seconds {
        self.steps.get(step).map_or(Seconds::ZERO, |(adjustment, step)| {
            let count = match adjustment.at {
                At::Station(i) => fitted.stations[i].1,
                At::Carriers => fitted.carriers,
            };
            Seconds::from_s(step.time.s() + step.each.s() * f64::from(count))
        })
    }

    /// Whether a step lies between two others of these.
    #[must_use]
    pub fn between(&self, step: usize, others: &[usize]) -> bool {
        let n = self.steps.len();
        others.iter().any(|&i| self.before[i * n + step]) && others.iter().any(|&i| self.before[step * n + i])
    }

    /// The least schedule of these steps, which all belong to one phase, by the people at hand.
    #[must_use]
    pub fn plan(&self, steps: Vec<usize>, fitted: &Fitted) -> Planned {
        self.plan_with(steps, fitted, self.changes.operators)
    }

    /// The same with so many people.
    #[must_use]
    pub fn plan_with(&self, steps: Vec<usize>, fitted: &Fitted, operators: u32) -> Planned {
        let (all, n) = (&self.steps, self.steps.len());
        let mut capacity = vec![operators];
        // Rooms come after the people; one without a limit is not asked for.
        let mut room_of = HashMap::new();
        for (i, room) in self.changes.room.iter().enumerate() {
            if let Some(room) = room {
                room_of.insert(i, capacity.len());
                capacity.push(*room);
            }
        }
        let times: Vec<Micros> = steps.iter().map(|&j| Micros::nearest(self.time(j, fitted))).collect();
        let tasks = steps.iter().zip(&times).map(|(&j, time)| {
            let (adjustment, step) = all[j];
            let mut uses = vec![(0, step.people)];
            if let At::Station(i) = adjustment.at {
                uses.extend(room_of.get(&i).map(|&room| (room, step.people)));
            }
            let after = (0..steps.len()).filter(|&at| self.before[steps[at] * n + j]).collect();
            Task { time: time.us(), uses, after }
        });
        let work = Work { tasks: tasks.collect(), capacity };
        let mut known = self.known.borrow_mut();
        let schedule = known.entry(work).or_insert_with_key(|work| {
            // Steps that wait in a circle, or need more people than there are, are refused with the document: this
            // would do them one after another.
            least_finish(work, nodes(work.tasks.len())).unwrap_or_else(|_| one_after_another(work))
        });
        Planned { steps, times, schedule: schedule.clone() }
    }
}

/// Exact for what a cell has; with a hundred steps at once a node costs more, and fewer are looked at.
fn nodes(tasks: usize) -> u32 {
    let nodes = 40_000_000 / (tasks * tasks).max(1);
    u32::try_from(nodes).unwrap_or(u32::MAX).clamp(1, MOST_NODES)
}

fn one_after_another(work: &Work) -> Schedule {
    let mut now = 0;
    let start = work.tasks.iter().map(|task| {
        now += task.time;
        now - task.time
    });
    Schedule { start: start.collect(), finish: work.tasks.iter().map(|t| t.time).sum(), bound: 0 }
}
