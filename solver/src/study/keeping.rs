//! Changes from SKU to SKU that keep their limit, where that is asked: what is certain about an option by itself, and about a
//! choice before anything is known of the sharing of the track. What is certain about sharings is in `fit`.

use crate::adjust::{At, CountsFrom, Way};
use crate::cell::Cell;
use crate::changeover::{Fitted, Hands, last_loaded};
use crate::option::{Mode, StationOption};
use crate::units::{Micros, Seconds};
use std::rc::Rc;

/// What people do at a station inside the stop, in seconds of the stop when they are never idle.
#[derive(Clone, Copy, Debug)]
struct Content {
    mode: Option<Mode>,
    fixed: f64,
    each: f64,
}

/// Changes that need the same adjustments and are refilled (and run empty) alike.
#[derive(Debug)]
pub(super) struct Row {
    /// SKUs whose way through the cell counts: the one that follows, and the one before where running empty counts.
    pub(super) ways: Vec<usize>,
    stations: Vec<Vec<Content>>,
    /// On the carriers: in all, and for each of them.
    pub(super) carriers: (f64, f64),
    /// Adjustments by hand that are needed.
    active: Vec<usize>,
}

impl Row {
    /// Work at a station with this option.
    pub(super) fn work(&self, station: usize, option: &StationOption) -> f64 {
        let there = self.stations[station].iter().filter(|c| c.mode.is_none_or(|mode| mode == option.mode));
        there.map(|c| c.fixed + c.each * f64::from(option.heads)).sum()
    }
}

/// The limit and all that is held against it.
#[derive(Debug)]
pub(super) struct Keeping<'a> {
    pub(super) hands: Rc<Hands<'a>>,
    pub(super) limit: Micros,
    /// Last station that a good case passes.
    pub(super) last: usize,
    pub(super) rows: Vec<Row>,
}

impl<'a> Keeping<'a> {
    /// None where no limit is to be kept.
    pub(super) fn of(cell: &'a Cell) -> Option<Self> {
        let changes = &cell.parts().changes;
        let limit = Micros::nearest(changes.kept_limit()?);
        let by_hand = |a: &usize| matches!(changes.adjustments[*a].way, Way::ByHand(_));
        let hands: Vec<usize> = (0..changes.adjustments.len()).filter(by_hand).collect();
        let mut all: Vec<(Vec<usize>, Vec<usize>)> = Vec::new();
        let skus = cell.rides().len();
        for (from, to) in (0..skus).flat_map(|from| (0..skus).map(move |to| (from, to))).filter(|(a, b)| a != b) {
            let active: Vec<usize> =
                hands.iter().copied().filter(|&a| changes.adjustments[a].travel(from, to).is_some()).collect();
            let ways = match changes.counts_from {
                CountsFrom::LastCase => vec![to],
                CountsFrom::LastIntake => vec![to, from],
            };
            let within = |a: &[usize], b: &[usize]| a.iter().all(|x| b.contains(x));
            if all.iter().any(|(other, its)| *its == ways && within(&active, other)) {
                continue;
            }
            all.retain(|(other, its)| *its != ways || !within(other, &active));
            all.push((active, ways));
        }
        let mut keeping =
            Self { hands: Rc::new(Hands::new(changes)), limit, last: last_loaded(cell), rows: Vec::new() };
        keeping.rows = all.into_iter().map(|(active, ways)| row(cell, active, ways)).collect();
        Some(keeping)
    }

    /// Seconds of the limit.
    pub(super) fn seconds(&self) -> f64 {
        self.limit.seconds()
    }

    /// Whether a station's own steps with this option, by the people at hand and with nothing else to do, leave time for the
    /// work on the first batch.
    pub(super) fn allows(&self, cell: &Cell, station: usize, option: &StationOption) -> bool {
        let changes = &cell.parts().changes;
        let mut stations = vec![(option.mode, option.heads); cell.len()];
        stations[station] = (option.mode, option.heads);
        let fitted = Fitted { stations, carriers: 1 };
        self.rows.iter().all(|row| {
            let own = |a: usize| row.active.contains(&a) && changes.adjustments[a].at == At::Station(station);
            let steps = self.hands.steps_of(&own, &fitted);
            let inside: Vec<usize> = self.hands.inside(&steps);
            if inside.is_empty() {
                return true;
            }
            let finish = self.hands.plan(inside, &fitted).schedule.finish;
            finish <= self.limit.us()
        })
    }
}

fn row(cell: &Cell, active: Vec<usize>, ways: Vec<usize>) -> Row {
    let changes = &cell.parts().changes;
    let mut stations = vec![Vec::new(); cell.len()];
    let mut carriers = (0.0, 0.0);
    for &a in &active {
        let adjustment = &changes.adjustments[a];
        let Way::ByHand(steps) = &adjustment.way else { continue };
        let part = |time: &dyn Fn(&crate::adjust::Step) -> Seconds| -> f64 {
            let inside = steps.iter().filter(|s| !s.outside);
            inside.map(|s| time(s).s() * f64::from(s.people)).sum::<f64>() / f64::from(changes.operators)
        };
        let (fixed, each) = (part(&|s| s.time), part(&|s| s.each));
        match adjustment.at {
            At::Station(i) => stations[i].push(Content { mode: adjustment.mode, fixed, each }),
            At::Carriers => carriers = (carriers.0 + fixed, carriers.1 + each),
        }
    }
    let ways = ways.into_iter().filter(|&k| cell.rides()[k].demanded && cell.rides()[k].phi() > 0.0).collect();
    Row { ways, stations, carriers, active }
}
