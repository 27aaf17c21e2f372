//! What is known of each circuit of a state by itself, each question asked once.

use super::search::Search;
use super::states::Chosen;
use crate::cell::Cell;
use crate::study::{self, Clock, Depth, Effort, Found, Outcome};

/// What is known of one circuit in a state.
#[derive(Clone)]
pub(super) enum Alone {
    Planned(Box<Found>),
    Impossible,
    Unknown,
}

/// One circuit in a state: which, its outline and modules, and the work of its joints.
pub(super) type Key = (usize, usize, u32, Vec<Option<Chosen>>);

/// Answers to one question: the deeper a search went, the more they say.
#[derive(Default)]
pub(super) struct Known {
    quick: Option<Alone>,
    any: Option<Asked>,
    best: Option<Asked>,
}

/// An answer, and the part of the time left that it was given.
struct Asked {
    answer: Alone,
    share: f64,
}

impl Asked {
    /// Nothing more comes of asking again with this part of the time.
    fn settles(&self, share: f64) -> bool {
        share <= self.share
            || match &self.answer {
                Alone::Planned(found) => !found.effort.timed_out,
                Alone::Impossible => true,
                Alone::Unknown => false,
            }
    }
}

impl Known {
    fn answer(&self, depth: Depth, share: f64) -> Option<Alone> {
        let best = self.best.as_ref();
        if depth == Depth::Best {
            let any = self.any.as_ref().map(|asked| &asked.answer).into_iter().chain(&self.quick);
            let never = any.into_iter().any(|answer| matches!(answer, Alone::Impossible));
            return if never {
                Some(Alone::Impossible)
            } else {
                best.filter(|asked| asked.settles(share)).map(|asked| asked.answer.clone())
            };
        }
        let all = best.into_iter().chain(&self.any).map(|asked| &asked.answer).chain(&self.quick);
        if let Some(sure) = all.into_iter().find(|answer| !matches!(answer, Alone::Unknown)) {
            return Some(sure.clone());
        }
        match depth {
            Depth::Quick => self.quick.clone(),
            _ => self.any.as_ref().filter(|asked| asked.settles(share)).map(|asked| asked.answer.clone()),
        }
    }
}

impl Search<'_> {
    /// What is known of circuit `c` by itself in an outline, asked as deeply as said with a part of the time left.
    pub(super) fn alone(
        &mut self,
        c: usize,
        (shape, modules): (usize, u32),
        work: &[Option<Chosen>],
        (depth, share): (Depth, f64),
    ) -> Alone {
        if self.shapes[c][shape].coarse {
            return Alone::Unknown;
        }
        let joints = &self.coupled.parts().joints;
        let own: Vec<Option<Chosen>> =
            joints.iter().zip(work).map(|(joint, &chosen)| chosen.filter(|_| joint.on(c).is_some())).collect();
        let key = (c, shape, modules, own);
        if let Some(known) = self.known.get(&key).and_then(|known| known.answer(depth, share)) {
            return known;
        }
        let answer = self.ask(&key, depth, share);
        let known = self.known.entry(key).or_default();
        match depth {
            Depth::Quick => known.quick = Some(answer.clone()),
            Depth::Any => known.any = Some(Asked { answer: answer.clone(), share }),
            Depth::Best => known.best = Some(Asked { answer: answer.clone(), share }),
        }
        answer
    }

    fn ask(&mut self, key: &Key, depth: Depth, share: f64) -> Alone {
        let (c, shape, modules, work) = key;
        let Some(cell) = self.restricted(*c, *modules, work) else { return Alone::Impossible };
        self.study(&cell, (*c, *shape), depth, &self.clock.share(share))
    }

    fn study(&mut self, cell: &Cell, (c, shape): (usize, usize), depth: Depth, clock: &Clock<'_>) -> Alone {
        match study::laid_out(cell, &self.shapes[c][shape].lay, depth, clock) {
            Outcome::Planned(found) => {
                self.count(found.effort);
                Alone::Planned(found)
            }
            Outcome::Impossible(effort) => {
                self.count(effort);
                Alone::Impossible
            }
            Outcome::Stopped(_, effort) => {
                self.count(effort);
                Alone::Unknown
            }
            Outcome::Broken(..) => Alone::Unknown,
        }
    }

    fn count(&mut self, effort: Effort) {
        self.effort.programs += effort.programs;
        self.effort.candidates += effort.candidates;
        self.effort.cuts += effort.cuts;
    }

    /// Circuit `c` by itself with every station's work chosen: the fewest carriers.
    pub(super) fn with_choice(
        &mut self,
        c: usize,
        (shape, modules): (usize, u32),
        chosen: &[Chosen],
        clock: &Clock<'_>,
    ) -> Alone {
        let key = (c, shape, modules, chosen.to_vec());
        if let Some(known) = self.chosen.get(&key) {
            return known.clone();
        }
        let mut parts = self.coupled.cells()[c].parts().clone();
        parts.circuit.fixed.modules = Some(modules);
        for (station, &(mode, heads)) in parts.stations.iter_mut().zip(chosen) {
            (station.fixed.mode, station.fixed.heads) = (Some(mode), Some(heads));
        }
        let Ok(cell) = Cell::new(parts) else { return Alone::Impossible };
        let answer = self.study(&cell, (c, shape), Depth::Best, clock);
        if !matches!(answer, Alone::Unknown) {
            self.chosen.insert(key, answer.clone());
        }
        answer
    }

    /// A circuit's cell with so many modules, and its joints' work where that is chosen.
    pub(super) fn restricted(&self, c: usize, modules: u32, work: &[Option<Chosen>]) -> Option<Cell> {
        let mut parts = self.coupled.cells()[c].parts().clone();
        parts.circuit.fixed.modules = Some(modules);
        for (joint, chosen) in self.coupled.parts().joints.iter().zip(work) {
            if let (Some(station), Some((mode, heads))) = (joint.on(c), chosen) {
                parts.stations[station].fixed.mode = Some(*mode);
                parts.stations[station].fixed.heads = Some(*heads);
            }
        }
        Cell::new(parts).ok()
    }
}
