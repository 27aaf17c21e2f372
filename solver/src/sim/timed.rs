//! One ring, carrier by carrier.

use super::log::{Move, Moved};
use crate::option::Flow;
use crate::ring::Ring;
use crate::units::{ExactRate, Micros};
use std::collections::VecDeque;

/// A window to watch: from leaving (or being taken in at) `from` to being taken in at `to`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct WindowWatch {
    /// First station.
    pub from: usize,
    /// Last station.
    pub to: usize,
    /// Count from being taken in instead of leaving.
    pub taken_in: bool,
}

/// How to run.
#[derive(Clone, Debug, Default)]
pub struct Watch {
    /// Station 0 takes batches no closer together than this.
    pub pace: Option<Micros>,
    /// Times across several stations.
    pub windows: Vec<WindowWatch>,
    /// Give up looking for a recurring state after so many batches of station 0.
    pub most_starts: u64,
}

/// Least and longest of some time in the steady state.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Times {
    /// Least.
    pub least: Micros,
    /// Longest.
    pub longest: Micros,
}

/// What a run found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Timed {
    /// Long-run rate: exact when the state recurred, otherwise the slope over the last half.
    pub rate: ExactRate,
    /// Whether the state recurred.
    pub recurs: bool,
    /// Time from leaving a station to being taken in at the next, in the steady state; for each section.
    pub sections: Vec<Times>,
    /// The same for each watched window.
    pub windows: Vec<Times>,
}

/// A batch inside a station.
#[derive(Clone, Debug)]
pub(super) struct Batch {
    pub(super) done: i64,
    pub(super) carriers: Vec<u32>,
}

#[derive(Clone, Debug, Default)]
pub(super) struct Section {
    free: u32,
    /// Slots that become free: when, how many. In order of time.
    freeing: VecDeque<(i64, u32)>,
    /// Carriers on their way or waiting: when ready, which. In order.
    pub(super) queue: VecDeque<(i64, u32)>,
}

#[derive(Clone, Debug, Default)]
pub(super) struct Station {
    pub(super) inside: VecDeque<Batch>,
    /// Earliest next take that its own cycle allows.
    next: i64,
}

pub(super) struct Run<'a> {
    pub(super) ring: &'a Ring,
    watch: &'a Watch,
    pub(super) now: i64,
    pub(super) stations: Vec<Station>,
    pub(super) sections: Vec<Section>,
    next_pace: i64,
    pub(super) starts: u64,
    /// When each carrier was last taken in at, and left, each station; `i64::MIN` before.
    taken: Vec<Vec<i64>>,
    pub(super) left: Vec<Vec<i64>>,
    /// What happens, where somebody wants it written down.
    pub(super) moves: Option<Vec<Move>>,
    /// Laps of each carrier: how often station 0 took it.
    pub(super) laps: Vec<u64>,
    pub(super) measuring: bool,
    pub(super) section_times: Vec<Option<Times>>,
    pub(super) window_times: Vec<Option<Times>>,
    /// By station, the next moment at which time alone may let it do something, and whether it must be looked at now. What a
    /// station may do depends on nothing but itself and the sections beside it, so that it is only looked at when its moment
    /// has come or a neighbour has done something. Kept by [`Run::settle`]; whoever fires stations otherwise goes by
    /// [`Run::next_event`].
    wake: Vec<i64>,
    look: Vec<bool>,
}

const NEVER: i64 = i64::MIN;

/// Plays the ring until its state recurs, and then once more to measure times.
#[must_use]
pub fn run(ring: &Ring, watch: &Watch) -> Timed {
    let Some(start) = ring.start() else {
        return stuck(ring, watch);
    };
    let mut run = Run::new(ring, watch, &start);
    let Some((period, passed, recurs)) = run.until_recurrence() else {
        return stuck(ring, watch);
    };
    if recurs {
        run.lap();
        run.measure(period);
    } else {
        // The times of the last stretch are the best there is.
        run.measuring = true;
        run.measure(period);
    }
    let none = Times { least: Micros::ZERO, longest: Micros::ZERO };
    Timed {
        rate: ExactRate::new(passed, period),
        recurs,
        sections: run.section_times.iter().map(|t| t.unwrap_or(none)).collect(),
        windows: run.window_times.iter().map(|t| t.unwrap_or(none)).collect(),
    }
}

/// From the start of the paced run until the first batch that station 0 took has been worked on at `station`; none when that
/// never happens. Carriers that stand elsewhere at the start bring nothing.
#[must_use]
pub fn first_through(ring: &Ring, pace: Micros, station: usize) -> Option<Micros> {
    let residence = ring.stations.get(station)?.residence;
    let watch = Watch { pace: Some(pace), ..Watch::default() };
    let mut run = Run::new(ring, &watch, &ring.start()?);
    loop {
        run.settle();
        // Number 0 is the first carrier that station 0 takes.
        if run.taken.first().is_some_and(|taken| taken[station] != NEVER) {
            return Some(Micros::from_us(run.now + residence.us()));
        }
        run.now = run.next_wake()?;
    }
}

fn stuck(ring: &Ring, watch: &Watch) -> Timed {
    let none = Times { least: Micros::ZERO, longest: Micros::ZERO };
    Timed {
        rate: ExactRate::STUCK,
        recurs: true,
        sections: vec![none; ring.sections.len()],
        windows: vec![none; watch.windows.len()],
    }
}

impl<'a> Run<'a> {
    pub(super) fn new(ring: &'a Ring, watch: &'a Watch, start: &[u32]) -> Self {
        let n = ring.stations.len();
        let carriers = ring.carriers as usize;
        let mut sections = Vec::with_capacity(n);
        // The first carrier to be taken in is number 0: numbers run backwards along the track.
        let mut number = 0;
        for (section, &count) in ring.sections.iter().zip(start).rev() {
            let queue = (0..count).map(|k| (0, number + k)).collect();
            number += count;
            sections.push(Section { free: section.slots - count, freeing: VecDeque::new(), queue });
        }
        sections.reverse();
        Self {
            ring,
            watch,
            now: 0,
            stations: vec![Station::default(); n],
            sections,
            next_pace: 0,
            starts: 0,
            taken: vec![vec![NEVER; n]; carriers],
            left: vec![vec![NEVER; n]; carriers],
            moves: None,
            laps: vec![0; carriers],
            measuring: false,
            section_times: vec![None; n],
            window_times: vec![None; watch.windows.len()],
            wake: vec![NEVER; n],
            look: vec![true; n],
        }
    }

    fn section_before(&self, i: usize) -> usize {
        (i + self.sections.len() - 1) % self.sections.len()
    }

    /// Fires all that can fire now. Returns whether station 0 took a batch.
    fn settle(&mut self) -> bool {
        let n = self.stations.len();
        for (look, wake) in self.look.iter_mut().zip(&self.wake) {
            *look |= *wake <= self.now;
        }
        let mut started = false;
        while self.look.contains(&true) {
            for i in 0..n {
                if self.look[i] {
                    self.free_slots_of(i);
                }
            }
            for i in 0..n {
                if !std::mem::take(&mut self.look[i]) {
                    continue;
                }
                let mut fired = false;
                while self.leave(i) {
                    fired = true;
                }
                while self.take(i) {
                    fired = true;
                    started |= i == 0;
                }
                if fired {
                    let (before, next) = (self.section_before(i), self.ring.next(i));
                    for o in [before, i, next] {
                        self.look[o] = true;
                    }
                } else if self.sections[i].freeing.front().is_some_and(|f| f.0 <= self.now) {
                    // Carriers that take no time to move in have freed their slots since.
                    self.look[i] = true;
                } else {
                    self.wake[i] = self.wake_of(i);
                }
            }
        }
        started
    }

    /// Slots whose carriers have moved in by now.
    pub(super) fn free_slots(&mut self) -> bool {
        let mut changed = false;
        for i in 0..self.sections.len() {
            changed |= self.free_slots_of(i);
        }
        changed
    }

    fn free_slots_of(&mut self, i: usize) -> bool {
        let (now, section) = (self.now, &mut self.sections[i]);
        let mut changed = false;
        while section.freeing.front().is_some_and(|f| f.0 <= now) {
            if let Some((_, count)) = section.freeing.pop_front() {
                section.free += count;
                changed = true;
            }
        }
        changed
    }

    pub(super) fn leave(&mut self, i: usize) -> bool {
        let station = self.ring.stations[i];
        if station.flow == Flow::Through
            || self.sections[i].free < station.batch
            || self.stations[i].inside.front().is_none_or(|b| b.done > self.now)
        {
            return false;
        }
        let Some(batch) = self.stations[i].inside.pop_front() else { return false };
        self.sections[i].free -= station.batch;
        self.drive(i, batch.carriers, self.now);
        true
    }

    /// Carriers leave station `i` at `when` into the section after it, whose slots they have already.
    fn drive(&mut self, i: usize, carriers: Vec<u32>, when: i64) {
        let ready = when + self.ring.sections[i].lag.us();
        self.note(i, Moved::Left, when, &carriers);
        for carrier in carriers {
            self.left[carrier as usize][i] = when;
            self.sections[i].queue.push_back((ready, carrier));
        }
    }

    fn take(&mut self, i: usize) -> bool {
        let may = self.may_take(i);
        if may {
            self.take_now(i);
        }
        may
    }

    /// Whether station `i` can take its batch now.
    pub(super) fn may_take(&self, i: usize) -> bool {
        let station = self.ring.stations[i];
        let before = self.section_before(i);
        let batch = station.batch as usize;
        if self.sections[before].queue.get(batch - 1).is_none_or(|c| c.0 > self.now) {
            return false;
        }
        let own = &self.stations[i];
        let free = match station.flow {
            Flow::Stop => own.inside.is_empty(),
            Flow::Train(places) => own.next <= self.now && own.inside.len() < places as usize,
            Flow::Through => own.next <= self.now && self.sections[i].free >= station.batch,
        };
        free && !(i == 0 && self.watch.pace.is_some() && self.next_pace > self.now)
    }

    /// Takes the batch that [`Run::may_take`] has seen.
    pub(super) fn take_now(&mut self, i: usize) {
        let station = self.ring.stations[i];
        let before = self.section_before(i);
        let batch = station.batch as usize;
        let carriers: Vec<u32> = self.sections[before].queue.drain(..batch).map(|c| c.1).collect();
        self.note_taken(i, before, &carriers);
        self.sections[before].freeing.push_back((self.now + station.move_in.us(), station.batch));
        self.stations[i].next = self.now + station.cycle.us();
        if i == 0 {
            self.starts += 1;
            if let Some(pace) = self.watch.pace {
                self.next_pace = self.now + pace.us();
            }
        }
        if station.flow == Flow::Through {
            self.sections[i].free -= station.batch;
            self.drive(i, carriers, self.now + station.residence.us());
        } else {
            let done = self.now + if station.flow == Flow::Stop { station.cycle } else { station.residence }.us();
            self.stations[i].inside.push_back(Batch { done, carriers });
        }
    }

    fn note(&mut self, station: usize, moved: Moved, when: i64, carriers: &[u32]) {
        if let Some(moves) = &mut self.moves {
            moves.push(Move { time: Micros::from_us(when), station, moved, carriers: carriers.to_vec(), done: None });
        }
    }

    fn note_taken(&mut self, i: usize, before: usize, carriers: &[u32]) {
        self.note(i, Moved::TakenIn, self.now, carriers);
        for &carrier in carriers {
            let c = carrier as usize;
            if i == 0 {
                self.laps[c] += 1;
            }
            if self.measuring {
                widen(&mut self.section_times[before], self.now, self.left[c][before]);
                for (window, times) in self.watch.windows.iter().zip(&mut self.window_times) {
                    if window.to == i {
                        let since = if window.taken_in { &self.taken } else { &self.left };
                        widen(times, self.now, since[c][window.from]);
                    }
                }
            }
            self.taken[c][i] = self.now;
        }
    }

    /// The next moment at which something can happen.
    pub(super) fn next_event(&self) -> Option<i64> {
        let next = (0..self.stations.len()).map(|i| self.wake_of(i)).min()?;
        (next < i64::MAX).then_some(next)
    }

    /// The same after [`Run::settle`], which has it by station.
    fn next_wake(&self) -> Option<i64> {
        self.wake.iter().copied().min().filter(|&next| next < i64::MAX)
    }

    /// The next moment at which time alone may let a station do something; the largest number when none does.
    fn wake_of(&self, i: usize) -> i64 {
        let mut next = i64::MAX;
        let mut consider = |t: i64| {
            if t > self.now && t < next {
                next = t;
            }
        };
        let (station, of) = (&self.stations[i], &self.ring.stations[i]);
        if let Some(f) = self.sections[i].freeing.front() {
            consider(f.0);
        }
        // The carrier that completes the next batch decides.
        if let Some(c) = self.sections[self.section_before(i)].queue.get(of.batch as usize - 1) {
            consider(c.0);
        }
        if let Some(b) = station.inside.front() {
            consider(b.done);
        }
        if of.flow != Flow::Stop {
            consider(station.next);
        }
        if i == 0 && self.watch.pace.is_some() {
            consider(self.next_pace);
        }
        next
    }

    /// Everything that decides the future, relative to now.
    pub(super) fn state(&self) -> Vec<i64> {
        let rest = |t: i64| (t - self.now).max(0);
        let mut state = Vec::with_capacity(64);
        state.push(rest(self.next_pace));
        for (station, section) in self.stations.iter().zip(&self.sections) {
            state.push(i64::from(section.free));
            state.push(rest(station.next));
            for f in &section.freeing {
                state.extend([-1, rest(f.0), i64::from(f.1)]);
            }
            state.push(-2);
            state.extend(section.queue.iter().map(|c| rest(c.0)));
            state.push(-3);
            state.extend(station.inside.iter().map(|b| rest(b.done)));
        }
        state
    }

    /// Runs until the state after a start of station 0 is one seen before (R. P. Brent's search keeps one state only).
    /// Gives period, carriers in it, and whether it really recurred; none when nothing moves any more.
    pub(super) fn until_recurrence(&mut self) -> Option<(i64, i64, bool)> {
        let batch = i64::from(self.ring.stations[0].batch);
        let mut mark: Option<(Vec<i64>, i64, u64)> = None;
        let mut power = 1;
        let (mut half_time, mut half_starts) = (0, 0);
        loop {
            if self.settle() {
                let state = self.state();
                if let Some((seen, time, starts)) = &mark
                    && *seen == state
                {
                    #[allow(clippy::cast_possible_wrap)]
                    return Some((self.now - time, (self.starts - starts) as i64 * batch, true));
                }
                if mark.is_none() || self.starts >= power {
                    power = 2 * self.starts.max(1);
                    mark = Some((state, self.now, self.starts));
                }
                if half_starts == 0 && self.starts >= self.watch.most_starts / 2 {
                    (half_time, half_starts) = (self.now, self.starts);
                }
                if self.starts >= self.watch.most_starts && self.now > half_time {
                    #[allow(clippy::cast_possible_wrap)]
                    return Some((self.now - half_time, (self.starts - half_starts) as i64 * batch, false));
                }
            }
            self.now = self.next_wake()?;
        }
    }

    /// Goes on until every carrier has gone round once more.
    pub(super) fn lap(&mut self) {
        let before = self.laps.clone();
        while self.laps.iter().zip(&before).any(|(now, then)| now == then) {
            let Some(next) = self.next_wake() else { return };
            self.now = next;
            self.settle();
        }
    }

    /// Measures over one period.
    fn measure(&mut self, period: i64) {
        self.measuring = true;
        self.play(period);
    }

    /// Goes on for so long.
    pub(super) fn play(&mut self, length: i64) {
        let end = self.now + length;
        while let Some(next) = self.next_wake() {
            if next > end {
                return;
            }
            self.now = next;
            self.settle();
        }
    }
}

fn widen(times: &mut Option<Times>, now: i64, since: i64) {
    if since == NEVER {
        return;
    }
    let time = Micros::from_us(now - since);
    *times = Some(match *times {
        None => Times { least: time, longest: time },
        Some(t) => Times { least: t.least.min(time), longest: t.longest.max(time) },
    });
}
