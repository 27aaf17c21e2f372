//! What is counted while a scenario is played.

use super::flow::Passages;
use super::halts::Calendar;
use super::scenario::{Post, Scenario};
use crate::option::Flow;
use std::collections::VecDeque;

/// What a station does, or why it does not.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// Works (moving in and settling too).
    Working = 0,
    /// Waits for carriers.
    Starved = 1,
    /// Waits for what is fed from outside.
    Unfed = 2,
    /// Its carriers cannot leave, or it may not take any before there is room behind it.
    Blocked = 3,
    /// Held back by the pace.
    Paced = 4,
    /// Stands with a failure.
    Failed = 5,
    /// Stands for a short while.
    ShortStop = 6,
}

/// How many states there are.
pub const STATES: usize = 7;

/// A batch being taken in, and what it waited for.
pub(super) struct Take {
    pub(super) station: usize,
    /// The station's own work was over.
    pub(super) from: i64,
    pub(super) ready: i64,
    pub(super) supply: i64,
    pub(super) room: i64,
    pub(super) time: i64,
    pub(super) next: i64,
    /// Stops that came with this batch's work, by kind.
    pub(super) still: [i64; 2],
}

/// Time at each level of something that goes up and down.
#[derive(Clone, Debug)]
pub(super) struct Level {
    ups: VecDeque<(i64, u32)>,
    downs: VecDeque<(i64, u32)>,
    level: u32,
    since: i64,
    /// Microseconds at each level.
    pub(super) at: Vec<i64>,
}

impl Level {
    fn new(level: u32, most: u32, since: i64) -> Self {
        let at = vec![0; most as usize + 1];
        Self { ups: VecDeque::new(), downs: VecDeque::new(), level, since, at }
    }

    fn up(&mut self, time: i64, by: u32, span: (i64, i64)) {
        self.ups.push_back((time, by));
        self.merge(span);
    }

    fn down(&mut self, time: i64, by: u32, span: (i64, i64)) {
        self.downs.push_back((time, by));
        self.merge(span);
    }

    /// Both kinds come in order, but not one with the other: only what lies before the later news of both is certain.
    fn merge(&mut self, span: (i64, i64)) {
        while let (Some(&up), Some(&down)) = (self.ups.front(), self.downs.front()) {
            self.step(up, down, span);
        }
    }

    fn step(&mut self, up: (i64, u32), down: (i64, u32), span: (i64, i64)) {
        // Slots become free before they are taken again.
        if down.0 <= up.0 && self.level >= down.1 {
            self.downs.pop_front();
            self.change(down.0, -i64::from(down.1), span);
        } else {
            self.ups.pop_front();
            self.change(up.0, i64::from(up.1), span);
        }
    }

    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    fn change(&mut self, time: i64, by: i64, span: (i64, i64)) {
        let length = time.min(span.1) - self.since.max(span.0);
        if length > 0 {
            let most = self.at.len() - 1;
            self.at[(self.level as usize).min(most)] += length;
        }
        self.since = self.since.max(time);
        self.level = (i64::from(self.level) + by).max(0) as u32;
    }

    fn finish(&mut self, span: (i64, i64)) {
        const LATER: (i64, u32) = (i64::MAX, 0);
        while let (up, down) = (self.ups.front().copied(), self.downs.front().copied())
            && (up.is_some() || down.is_some())
        {
            self.step(up.unwrap_or(LATER), down.unwrap_or((i64::MAX, u32::MAX)), span);
        }
        self.change(span.1, 0, span);
    }
}

/// Times of carriers: how many, their sum, the longest, how many above what is allowed.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Stays {
    /// How many.
    pub count: u64,
    /// Of all together, in microseconds.
    pub sum: i128,
    /// The longest, in microseconds.
    pub longest: i64,
    /// How many took longer than allowed.
    pub broken: u64,
}

impl Stays {
    fn note(&mut self, time: i64, most: Option<i64>) {
        self.count += 1;
        self.sum += i128::from(time);
        self.longest = self.longest.max(time);
        self.broken += u64::from(most.is_some_and(|most| time > most));
    }

    /// Both together.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        Self {
            count: self.count + other.count,
            sum: self.sum + other.sum,
            longest: self.longest.max(other.longest),
            broken: self.broken + other.broken,
        }
    }
}

/// A window's carriers under way: when each passed its start.
#[derive(Clone, Debug)]
struct Passing {
    since: VecDeque<i64>,
    stays: Stays,
}

/// What is looked at beyond the count.
#[derive(Clone, Debug)]
struct Details {
    shares: Vec<[i64; STATES]>,
    slots: Vec<Level>,
    queues: Vec<Level>,
    sections: Vec<Stays>,
    windows: Vec<Passing>,
    laps: Vec<Stays>,
    lap_starts: Vec<VecDeque<i64>>,
    /// By post: its ring, where it is the first of it.
    first_of: Vec<Option<usize>>,
}

/// Counts of one replication.
#[derive(Clone, Debug)]
pub(super) struct Tally<'a> {
    scenario: Option<&'a Scenario>,
    /// The post behind which is counted: the last of the first ring.
    counted: usize,
    span: (i64, i64),
    bin: i64,
    /// Carriers that left the last station, in each equal part of the whole run.
    pub(super) bins: Vec<u32>,
    /// The same within the span that counts.
    pub(super) out: u64,
    details: Option<Box<Details>>,
    record: Option<Vec<Passages>>,
}

/// Before anything happened.
const NEVER: i64 = i64::MIN;

impl<'a> Tally<'a> {
    fn new(scenario: Option<&'a Scenario>, start: i64, end: i64, bins: usize) -> Self {
        let bin = end / i64::try_from(bins).unwrap_or(1).max(1) + 1;
        let counted = scenario.map_or(0, |s| s.rings()[0].end - 1);
        Self { scenario, counted, span: (start, end), bin, bins: vec![0; bins], out: 0, details: None, record: None }
    }

    /// Nothing but the count.
    pub(super) fn counting(end: i64) -> Self {
        Self::new(None, 0, end, 0)
    }

    /// The count in equal parts of the run, and what leaves after `start`.
    pub(super) fn binned(scenario: &'a Scenario, start: i64, end: i64, bins: usize) -> Self {
        Self::new(Some(scenario), start, end, bins)
    }

    /// Every moment.
    pub(super) fn recording(scenario: &'a Scenario, end: i64) -> Self {
        let record = Some(vec![Passages::default(); scenario.posts.len()]);
        Self { record, ..Self::new(Some(scenario), 0, end, 0) }
    }

    /// Everything from `start` on.
    pub(super) fn detailed(scenario: &'a Scenario, start: i64, end: i64, bins: usize) -> Self {
        let n = scenario.posts.len();
        let levels = |queue: bool| {
            let level = |(i, (section, &count)): (usize, (&crate::ring::RingSection, &u32))| {
                let carriers = scenario.on_ring(scenario.ring_of(i).0).0;
                Level::new(count, if queue { section.slots.min(carriers) } else { section.slots }, 0)
            };
            scenario.sections.iter().zip(&scenario.start).enumerate().map(level).collect::<Vec<_>>()
        };
        let windows = scenario.windows.iter().map(|(window, _)| {
            // Carriers between the two at the start passed no beginning of the window; at the same station, all of them.
            let mut under_way = 0;
            let mut section = window.from;
            loop {
                under_way += scenario.start[section];
                section = scenario.after(section);
                if section == window.to {
                    break;
                }
            }
            Passing { since: (0..under_way).map(|_| NEVER).collect(), stays: Stays::default() }
        });
        let details = Details {
            shares: vec![[0; STATES]; n],
            slots: levels(false),
            queues: levels(true),
            sections: vec![Stays::default(); n],
            windows: windows.collect(),
            laps: vec![Stays::default(); scenario.rings().len()],
            lap_starts: vec![VecDeque::new(); scenario.rings().len()],
            first_of: (0..n)
                .map(|i| Some(scenario.ring_of(i)).filter(|(_, of)| of.start == i).map(|(r, _)| r))
                .collect(),
        };
        Self { details: Some(Box::new(details)), ..Self::new(Some(scenario), start, end, bins) }
    }

    pub(super) fn end(&self) -> i64 {
        self.span.1
    }

    pub(super) fn passages(self) -> Vec<Passages> {
        self.record.unwrap_or_default()
    }

    #[inline]
    pub(super) fn took(&mut self, take: &Take, post: &Post, calendar: Option<&mut Calendar>) {
        if let Some(record) = &mut self.record {
            record[take.station].taken.push(take.time);
        }
        let Some(details) = &mut self.details else { return };
        let span = self.span;
        let mut credit = Credit { shares: &mut details.shares[take.station], span, calendar };
        // One after the other: no carriers, then nothing fed, then no room; the rest is the pace or a stop.
        let mut at = take.from;
        let waits = [(take.ready, State::Starved), (take.supply, State::Unfed), (take.room, State::Blocked)];
        for (until, state) in waits {
            credit.add(state, at, until);
            at = at.max(until);
        }
        credit.add(State::Paced, at, take.time);
        let still = take.still[0] + take.still[1];
        credit.add(State::Working, take.time, take.next - still);
        let mid = take.next - take.still[1];
        credit.add(State::Failed, take.next - still, mid);
        credit.add(State::ShortStop, mid, take.next);
        if let Some(ring) = details.first_of[take.station] {
            let carriers = self.scenario.map_or(0, |s| s.on_ring(ring).0 as usize);
            details.lap(ring, take.time, post.batch, span, carriers);
        }
    }

    /// A batch waited so long for room.
    #[inline]
    pub(super) fn held(&mut self, station: usize, time: i64) {
        if let Some(record) = &mut self.record {
            record[station].held.push(time);
        }
    }

    /// A batch was done and left later.
    #[inline]
    pub(super) fn blocked(&mut self, station: usize, done: i64, left: i64, calendar: Option<&mut Calendar>) {
        let Some(details) = &mut self.details else { return };
        Credit { shares: &mut details.shares[station], span: self.span, calendar }.add(State::Blocked, done, left);
    }

    /// Carriers leave at `time`, having had their slots since `held`.
    #[inline]
    pub(super) fn left(&mut self, station: usize, held: i64, time: i64, batch: u32, lag: i64) {
        if let Some(record) = &mut self.record {
            record[station].left.push(time);
        }
        if self.scenario.is_some() && station == self.counted && time <= self.span.1 {
            if let Some(bin) = usize::try_from(time / self.bin).ok().and_then(|k| self.bins.get_mut(k)) {
                *bin += batch;
            }
            if time > self.span.0 {
                self.out += u64::from(batch);
            }
        }
        let Some(details) = &mut self.details else { return };
        details.slots[station].up(held, batch, self.span);
        details.queues[station].up(time + lag, batch, self.span);
        if let Some(scenario) = self.scenario {
            for ((window, _), passing) in scenario.windows.iter().zip(&mut details.windows) {
                if window.from == station && !window.taken_in {
                    (0..batch).for_each(|_| passing.since.push_back(time));
                }
            }
        }
    }

    /// Carriers are taken out of the section; `left` tells when each had left the station before.
    #[inline]
    pub(super) fn crossed(
        &mut self,
        section: usize,
        station: usize,
        time: i64,
        freed: i64,
        batch: u32,
        left: impl Fn(usize) -> i64,
    ) {
        let (Some(details), Some(scenario)) = (&mut self.details, self.scenario) else { return };
        let span = self.span;
        let counts = time > span.0 && time <= span.1;
        details.slots[section].down(freed, batch, span);
        details.queues[section].down(time, batch, span);
        if counts {
            let most = scenario.most[section].map(crate::units::Micros::us);
            (0..batch as usize).for_each(|k| details.sections[section].note(time - left(k), most));
        }
        for ((window, most), passing) in scenario.windows.iter().zip(&mut details.windows) {
            if window.to == station {
                for _ in 0..batch {
                    if let Some(since) = passing.since.pop_front().filter(|&since| since != NEVER && counts) {
                        passing.stays.note(time - since, most.map(crate::units::Micros::us));
                    }
                }
            }
            if window.from == station && window.taken_in {
                (0..batch).for_each(|_| passing.since.push_back(time));
            }
        }
    }

    /// What a station does from its last event to the end.
    pub(super) fn close(&mut self, station: usize, done: Option<i64>, calendar: Option<&mut Calendar>) {
        let (Some(details), Some(scenario)) = (&mut self.details, self.scenario) else { return };
        let known: i64 = details.shares[station].iter().sum();
        let end = self.span.1;
        let rest_from = end - (end - self.span.0 - known);
        // Blocked with a batch inside that is done; otherwise it waits for carriers.
        let blocked = scenario.posts[station].flow == Flow::Stop && done.is_some_and(|done| done <= rest_from);
        let state = if blocked { State::Blocked } else { State::Starved };
        Credit { shares: &mut details.shares[station], span: self.span, calendar }.add(state, rest_from, end);
    }

    /// Everything has been told.
    pub(super) fn finish(&mut self) {
        let Some(details) = &mut self.details else { return };
        for level in details.slots.iter_mut().chain(&mut details.queues) {
            level.finish(self.span);
        }
    }

    /// What was seen; none where only the count was asked for.
    pub(super) fn seen(self) -> Option<Seen> {
        let details = *self.details?;
        Some(Seen {
            shares: details.shares,
            slots: details.slots.into_iter().map(|level| level.at).collect(),
            queues: details.queues.into_iter().map(|level| level.at).collect(),
            sections: details.sections,
            windows: details.windows.into_iter().map(|window| window.stays).collect(),
            laps: details.laps,
        })
    }
}

impl Details {
    fn lap(&mut self, ring: usize, time: i64, batch: u32, span: (i64, i64), carriers: usize) {
        let (starts, laps) = (&mut self.lap_starts[ring], &mut self.laps[ring]);
        for _ in 0..batch {
            if starts.len() >= carriers
                && let Some(before) = starts.pop_front()
                && time > span.0
            {
                laps.note(time - before, None);
            }
            starts.push_back(time);
        }
    }
}

struct Credit<'a> {
    shares: &'a mut [i64; STATES],
    span: (i64, i64),
    calendar: Option<&'a mut Calendar>,
}

impl Credit<'_> {
    #[inline]
    fn add(&mut self, state: State, from: i64, to: i64) {
        let (from, to) = (from.max(self.span.0), to.min(self.span.1));
        if to <= from {
            return;
        }
        let mut time = to - from;
        if let Some(calendar) = &mut self.calendar {
            let [failed, short] = calendar.standing(from, to);
            self.shares[State::Failed as usize] += failed;
            self.shares[State::ShortStop as usize] += short;
            time -= failed + short;
        }
        self.shares[state as usize] += time;
    }
}

/// What was seen in one replication, or in several together.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Seen {
    /// Microseconds of each station in each state.
    pub shares: Vec<[i64; STATES]>,
    /// Microseconds with so many slots of each section held.
    pub slots: Vec<Vec<i64>>,
    /// Microseconds with so many carriers waiting in each section.
    pub queues: Vec<Vec<i64>>,
    /// Times of carriers in each section.
    pub sections: Vec<Stays>,
    /// Times of carriers in each window.
    pub windows: Vec<Stays>,
    /// Times of carriers round the loop, of each ring.
    pub laps: Vec<Stays>,
}

impl Seen {
    /// Adds another replication of the same scenario.
    pub fn add(&mut self, other: &Self) {
        fn all<T>(own: &mut [T], other: &[T], mut add: impl FnMut(&mut T, &T)) {
            own.iter_mut().zip(other).for_each(|(a, b)| add(a, b));
        }
        fn times(own: &mut [i64], other: &[i64]) {
            own.iter_mut().zip(other).for_each(|(a, b)| *a += b);
        }
        all(&mut self.shares, &other.shares, |a, b| times(a, b));
        all(&mut self.slots, &other.slots, |a, b| times(a, b));
        all(&mut self.queues, &other.queues, |a, b| times(a, b));
        all(&mut self.sections, &other.sections, |a, b| *a = a.and(*b));
        all(&mut self.windows, &other.windows, |a, b| *a = a.and(*b));
        all(&mut self.laps, &other.laps, |a, b| *a = a.and(*b));
    }
}
