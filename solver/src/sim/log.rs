//! What happens to each carrier over a stretch of the steady state.

use super::timed::{Run, Watch};
use crate::option::Flow;
use crate::ring::Ring;
use crate::units::Micros;

/// What a batch did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Moved {
    /// It was taken in.
    TakenIn,
    /// It left into the section after the station.
    Left,
}

/// One batch at one station, at one time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Move {
    /// When, from the start of the run.
    pub time: Micros,
    /// Which station.
    pub station: usize,
    /// What it did.
    pub moved: Moved,
    /// Its carriers, the first in front.
    pub carriers: Vec<u32>,
    /// When it was taken in: the moment at which its work is done, where that is not as long after as the ring says.
    pub done: Option<Micros>,
}

/// A batch in a station when the stretch begins.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Inside {
    /// When it was taken in.
    pub taken: Micros,
    /// When its work is done, where that is not as long after as the ring says.
    pub done: Option<Micros>,
    /// Its carriers, the first in front.
    pub carriers: Vec<u32>,
}

/// A carrier in a section when the stretch begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Queued {
    /// Which carrier.
    pub carrier: u32,
    /// When it left, or will leave, the station before; its place in that batch.
    pub left: Micros,
    /// When it is ready at the next station.
    pub ready: Micros,
    /// How many of its batch left in front of it.
    pub behind: u32,
}

/// A stretch of the steady state.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Log {
    /// When it begins.
    pub start: Micros,
    /// When it ends.
    pub end: Micros,
    /// Whether the state recurred before, so that this stretch is like any other.
    pub recurs: bool,
    /// Carriers in each section at the start, the first in front.
    pub sections: Vec<Vec<Queued>>,
    /// Batches in each station at the start, the oldest first.
    pub inside: Vec<Vec<Inside>>,
    /// All that happened since, in order of time but for batches that pass through: their leaving is told when they are taken.
    pub moves: Vec<Move>,
}

/// Plays the ring until its state recurs and every carrier has gone round once more, then writes down what happens for so
/// long. None when nothing moves.
#[must_use]
pub fn log(ring: &Ring, watch: &Watch, length: Micros) -> Option<Log> {
    let start = ring.start()?;
    let mut run = Run::new(ring, watch, &start);
    let (_, _, recurs) = run.until_recurrence()?;
    run.lap();
    let begin = Micros::from_us(run.now);
    let (sections, inside) = run.stand();
    run.moves = Some(Vec::new());
    run.play(length.us());
    let moves = run.moves.take().unwrap_or_default();
    Some(Log { start: begin, end: Micros::from_us(begin.us() + length.us()), recurs, sections, inside, moves })
}

impl Run<'_> {
    /// Where every carrier is.
    fn stand(&self) -> (Vec<Vec<Queued>>, Vec<Vec<Inside>>) {
        let mut sections = Vec::new();
        for (i, section) in self.sections.iter().enumerate() {
            let mut all: Vec<Queued> = Vec::new();
            for &(ready, carrier) in &section.queue {
                let left = Micros::from_us(self.left[carrier as usize][i]);
                let behind = all.last().filter(|before| before.left == left).map_or(0, |before| before.behind + 1);
                all.push(Queued { carrier, left, ready: Micros::from_us(ready), behind });
            }
            sections.push(all);
        }
        let inside = self.stations.iter().zip(&self.ring.stations).map(|(station, of)| {
            let took = if of.flow == Flow::Stop { of.cycle } else { of.residence };
            let of_batch = |b: &super::timed::Batch| Inside {
                taken: Micros::from_us(b.done - took.us()),
                done: None,
                carriers: b.carriers.clone(),
            };
            station.inside.iter().map(of_batch).collect()
        });
        (sections, inside.collect())
    }
}
