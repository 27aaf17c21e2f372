//! The rules of model section 7 with chance, played by their evolution equations.
//!
//! Carriers never overtake and every station has one way in and one way out, so the moment of each event follows from
//! moments of earlier ones by maximum and sum: a batch is taken in when the last of its carriers is ready, the station
//! is free and what else it needs is there; it leaves when its work is done and the slots it needs are free. The
//! equations need no list of events in order of time (W.-M. Chan and L. W. Schruben, "Optimization models of discrete-event
//! system dynamics", Operations Research 56, 2008; F. Baccelli et al., "Synchronization and Linearity", 1992, chapter 9). Each
//! station is played as far as what came before it allows, and then the next.

use super::feed::Feed;
use super::halts::{Calendar, Clock, halts};
use super::scenario::Scenario;
use super::tally::{Take, Tally};
use crate::chance::{Law, Purpose, Stream};
use crate::option::Flow;
use crate::units::{ExactRate, Micros};

/// Moments in order, the first in front.
#[derive(Clone, Debug)]
struct Moments {
    at: Vec<i64>,
    first: usize,
    len: usize,
}

impl Moments {
    /// Holds at most so many.
    fn holding(most: usize) -> Self {
        Self { at: vec![0; most.max(1).next_power_of_two()], first: 0, len: 0 }
    }

    #[inline]
    fn push(&mut self, time: i64) {
        let mask = self.at.len() - 1;
        let place = (self.first + self.len) & mask;
        self.at[place] = time;
        self.len += 1;
    }

    /// Number `k` from the front, which must be there.
    #[inline]
    fn get(&self, k: usize) -> i64 {
        self.at[(self.first + k) & (self.at.len() - 1)]
    }

    #[inline]
    fn drop(&mut self, k: usize) {
        self.first = (self.first + k) & (self.at.len() - 1);
        self.len -= k;
    }

    fn relative(&self, to: i64, state: &mut Vec<i64>) {
        state.push(i64::try_from(self.len).unwrap_or(i64::MAX));
        state.extend((0..self.len).map(|k| self.get(k) - to));
    }
}

/// The section after a station, as far as it is known.
#[derive(Clone, Debug)]
struct Lane {
    /// When each carrier in it is ready at the next station.
    ready: Moments,
    /// When each slot that nobody holds became free.
    free: Moments,
    lag: i64,
}

#[derive(Clone, Debug)]
struct Bench {
    /// When the work on each batch inside is done, the oldest first.
    done: Moments,
    /// Of a train: when each place that is not held became free.
    places: Moments,
    /// Earliest next take that its own work allows.
    next: i64,
    batches: u64,
    law: Law,
    work: Stream,
    clocks: Vec<Clock>,
    calendar: Option<Calendar>,
    feed: Option<Feed>,
}

/// One replication under way.
#[derive(Clone, Debug)]
pub(super) struct Game<'a> {
    scenario: &'a Scenario,
    lanes: Vec<Lane>,
    benches: Vec<Bench>,
    /// The section before each post.
    before: Vec<usize>,
    /// The other side of a station of two rings.
    partner: Vec<Option<usize>>,
    /// The pace of the first post of each ring, and its earliest next take.
    paces: Vec<Option<i64>>,
    next_pace: Vec<i64>,
    starts: u64,
    last_start: i64,
    end: i64,
    pub(super) tally: Tally<'a>,
}

/// Batches that a station plays at most before the next has its turn.
const TURN: u32 = 256;

/// Later than anything.
const FOREVER: i64 = i64::MAX / 4;

impl<'a> Game<'a> {
    /// Before the first event. Events after `tally`'s end are not played.
    pub(super) fn new(scenario: &'a Scenario, seed: u64, replication: u32, tally: Tally<'a>) -> Self {
        let lanes = scenario.sections.iter().zip(&scenario.start).map(|(section, &count)| {
            let slots = section.slots as usize;
            let mut lane =
                Lane { ready: Moments::holding(slots), free: Moments::holding(slots), lag: section.lag.us() };
            (0..count).for_each(|_| lane.ready.push(0));
            (count..section.slots).for_each(|_| lane.free.push(0));
            lane
        });
        let benches = scenario.posts.iter().enumerate().map(|(i, post)| {
            let (carriers, net_rate) = scenario.on_ring(scenario.ring_of(i).0);
            let places = match post.flow {
                Flow::Stop => 1,
                Flow::Through => 0,
                // More places than carriers are never held.
                Flow::Train(places) => places.clamp(1, carriers / post.batch + 1),
            };
            let mut free = Moments::holding(places as usize);
            (0..places).for_each(|_| free.push(0));
            let key = (seed, replication, i);
            let (clocks, calendar) = halts(post.behaviour.failures, post.behaviour.short_stops, key);
            Bench {
                done: Moments::holding(places as usize),
                places: free,
                next: 0,
                batches: 0,
                law: post.behaviour.work,
                work: Stream::new(seed, replication, i, Purpose::Work),
                clocks,
                calendar,
                feed: post.behaviour.supply.map(|supply| Feed::new(supply, net_rate, post.batch, key)),
            }
        });
        Self {
            lanes: lanes.collect(),
            benches: benches.collect(),
            before: before(scenario),
            partner: partners(scenario),
            paces: (0..scenario.posts.len()).map(|i| scenario.pace_of(i).map(Micros::us)).collect(),
            next_pace: vec![0; scenario.posts.len()],
            scenario,
            starts: 0,
            last_start: 0,
            end: tally.end(),
            tally,
        }
    }

    /// Lets a station stand still once, without chance.
    pub(super) fn stop(&mut self, station: usize, start: i64, length: i64) {
        let owner = self.partner[station].map_or(station, |other| other.min(station));
        self.benches[owner].calendar = Some(Calendar::once(start, start + length));
    }

    /// Plays to the end.
    pub(super) fn play(mut self) -> Tally<'a> {
        while self.round() {}
        let Self { mut tally, mut benches, partner, .. } = self;
        for i in 0..benches.len() {
            let done = (benches[i].done.len > 0).then(|| benches[i].done.get(0));
            // Both sides of a station stand together.
            let owner = partner[i].map_or(i, |other| other.min(i));
            tally.close(i, done, benches[owner].calendar.as_mut());
        }
        tally.finish();
        tally
    }

    /// Every station's turn; whether anything happened.
    fn round(&mut self) -> bool {
        let mut any = false;
        for i in 0..self.benches.len() {
            for _ in 0..TURN {
                let left = self.leave(i);
                if !(self.take(i) || left) {
                    break;
                }
                any = true;
            }
        }
        any
    }

    #[inline]
    fn leave(&mut self, i: usize) -> bool {
        match self.partner[i] {
            Some(owner) if owner < i => {
                // Both sides of a station stand together: the first lends its calendar.
                self.benches[i].calendar = self.benches[owner].calendar.take();
                let left = self.leave_alone(i);
                self.benches[owner].calendar = self.benches[i].calendar.take();
                left
            }
            _ => self.leave_alone(i),
        }
    }

    #[inline]
    fn leave_alone(&mut self, i: usize) -> bool {
        let post = &self.scenario.posts[i];
        let (bench, lane) = (&mut self.benches[i], &mut self.lanes[i]);
        let batch = post.batch as usize;
        if bench.done.len == 0 || lane.free.len < batch {
            return false;
        }
        let done = bench.done.get(0);
        let mut time = done.max(lane.free.get(batch - 1));
        if time > done
            && let Some(calendar) = &mut bench.calendar
        {
            time = calendar.up(time);
        }
        if time > self.end {
            return false;
        }
        self.tally.held(i, time - done);
        bench.done.drop(1);
        bench.places.push(time);
        lane.free.drop(batch);
        if post.flow == Flow::Stop {
            bench.next = time;
            self.tally.blocked(i, done, time, bench.calendar.as_mut());
        }
        for _ in 0..batch {
            lane.ready.push(time + lane.lag);
        }
        self.tally.left(i, time, time, post.batch, lane.lag);
        true
    }

    #[inline]
    fn take(&mut self, i: usize) -> bool {
        if let Some(other) = self.partner[i] {
            // The first side takes for both.
            return i < other && self.take_both(i, other);
        }
        let post = &self.scenario.posts[i];
        let before = self.before[i];
        let batch = post.batch as usize;
        let through = post.flow == Flow::Through;
        if self.lanes[before].ready.len < batch {
            return false;
        }
        let room = if through {
            if self.lanes[i].free.len < batch {
                return false;
            }
            self.lanes[i].free.get(batch - 1)
        } else {
            if self.benches[i].places.len == 0 {
                return false;
            }
            self.benches[i].places.get(0)
        };
        let bench = &mut self.benches[i];
        let ready = self.lanes[before].ready.get(batch - 1);
        let supply = bench.feed.as_mut().map_or(0, |feed| feed.ready(post.batch));
        let paced = self.next_pace[i];
        let took = bench.next.max(ready).max(supply).max(paced);
        let mut time = took.max(room);
        if let Some(calendar) = &mut bench.calendar {
            time = calendar.up(time);
            let oldest = if bench.done.len > 0 { bench.done.get(0) } else { bench.next };
            calendar.forget(oldest.min(bench.next));
        }
        if time > self.end {
            return false;
        }
        if let Some(feed) = &mut bench.feed {
            feed.take(post.batch, time);
        }
        let factor = if bench.law == Law::Constant { 1.0 } else { bench.law.factor(bench.work.draw(bench.batches)) };
        bench.batches += 1;
        let certain = bench.law == Law::Constant;
        let length = |span: super::scenario::Span| if certain { span.whole() } else { span.at(factor) };
        let cycle = length(post.cycle);
        let residence = if post.flow == Flow::Stop { cycle } else { length(post.residence) };
        let mut stood = [0; 2];
        for clock in &mut bench.clocks {
            clock.work(cycle, &mut stood);
        }
        let still = stood[0] + stood[1];
        let finish = |calendar: &mut Option<Calendar>, span: i64| match calendar {
            Some(calendar) => calendar.finish(time, span),
            None => time + span,
        };
        let done = finish(&mut bench.calendar, residence + still);
        let next = if post.flow == Flow::Stop { done } else { finish(&mut bench.calendar, cycle + still) };
        let freed = time + length(post.move_in);
        let take = Take { station: i, from: bench.next, ready, supply, room, time, next, still: stood };
        self.tally.took(&take, post, bench.calendar.as_mut());
        bench.next = next;
        self.put_through(i, [time, freed, done], (room - took).max(0));
        true
    }

    #[inline]
    fn started(&mut self, i: usize, time: i64) {
        if i == 0 {
            self.starts += 1;
            self.last_start = time;
        }
        if let Some(pace) = self.paces[i] {
            self.next_pace[i] = time + pace;
        }
    }

    /// When both sides of a station could take at the earliest: its own work over, carriers ready, room; none while
    /// that is not known.
    fn sides(&self, sides: [usize; 2]) -> Option<[i64; 3]> {
        let mut times = [0; 3];
        for i in sides {
            let batch = self.scenario.posts[i].batch as usize;
            let ready = &self.lanes[self.before[i]].ready;
            let free = if self.scenario.posts[i].flow == Flow::Through {
                &self.lanes[i].free
            } else {
                &self.benches[i].places
            };
            let needed = if self.scenario.posts[i].flow == Flow::Through { batch } else { 1 };
            if ready.len < batch || free.len < needed {
                return None;
            }
            let each = [self.benches[i].next, ready.get(batch - 1), free.get(needed - 1)];
            times.iter_mut().zip(each).for_each(|(all, one)| *all = (*all).max(one));
        }
        Some(times)
    }

    /// A station of two rings takes a batch of each at once. What chance does is the first side's.
    fn take_both(&mut self, i: usize, other: usize) -> bool {
        let sides = [i, other];
        let Some([from, ready, room]) = self.sides(sides) else { return false };
        let oldest = |bench: &Bench| if bench.done.len > 0 { bench.done.get(0).min(bench.next) } else { bench.next };
        let kept = sides.map(|s| oldest(&self.benches[s]));
        let paced = self.next_pace[i].max(self.next_pace[other]);
        let (posts, batch) = (&self.scenario.posts, self.scenario.posts[i].batch);
        let bench = &mut self.benches[i];
        let supply = bench.feed.as_mut().map_or(0, |feed| feed.ready(batch));
        let took = from.max(ready).max(supply).max(paced);
        let mut time = took.max(room);
        if let Some(calendar) = &mut bench.calendar {
            time = calendar.up(time);
            calendar.forget(kept[0].min(kept[1]));
        }
        if time > self.end {
            return false;
        }
        if let Some(feed) = &mut bench.feed {
            feed.take(batch, time);
        }
        let certain = bench.law == Law::Constant;
        let factor = if certain { 1.0 } else { bench.law.factor(bench.work.draw(bench.batches)) };
        bench.batches += 1;
        let length = |span: super::scenario::Span| if certain { span.whole() } else { span.at(factor) };
        let cycle = length(posts[i].cycle);
        let mut still = [0; 2];
        for clock in &mut bench.clocks {
            clock.work(cycle, &mut still);
        }
        let stood = still[0] + still[1];
        let mut finish = |span: i64| match &mut bench.calendar {
            Some(calendar) => calendar.finish(time, span + stood),
            None => time + span + stood,
        };
        let next = finish(cycle);
        let done = sides.map(|s| if posts[s].flow == Flow::Stop { next } else { finish(length(posts[s].residence)) });
        for (side, done) in sides.into_iter().zip(done) {
            let post = &posts[side];
            let freed = time + length(post.move_in);
            let take = Take { station: side, from, ready, supply, room, time, next, still };
            self.tally.took(&take, post, self.benches[i].calendar.as_mut());
            self.benches[side].next = next;
            self.put_through(side, [time, freed, done], (room - took).max(0));
        }
        true
    }

    /// A batch has been taken in: its slots before, its place or slots behind.
    #[inline]
    fn put_through(&mut self, i: usize, [time, freed, done]: [i64; 3], waited: i64) {
        let post = &self.scenario.posts[i];
        let (before, batch) = (self.before[i], post.batch as usize);
        self.tally.crossed(before, i, time, freed, post.batch, |k| {
            let lane = &self.lanes[before];
            lane.ready.get(k) - lane.lag
        });
        self.lanes[before].ready.drop(batch);
        (0..batch).for_each(|_| self.lanes[before].free.push(freed));
        self.started(i, time);
        if post.flow == Flow::Through {
            self.tally.held(i, waited);
            let lane = &mut self.lanes[i];
            lane.free.drop(batch);
            (0..batch).for_each(|_| lane.ready.push(done + lane.lag));
            self.tally.left(i, time, done, post.batch, lane.lag);
        } else {
            self.benches[i].places.drop(1);
            self.benches[i].done.push(done);
        }
    }

    /// Everything that decides the future, relative to the last start of station 0.
    fn state(&self) -> Vec<i64> {
        let to = self.last_start;
        let paced = self.paces.iter().zip(&self.next_pace).filter(|(pace, _)| pace.is_some());
        let mut state: Vec<i64> = paced.map(|(_, next)| (*next).max(to) - to).collect();
        for (lane, bench) in self.lanes.iter().zip(&self.benches) {
            lane.ready.relative(to, &mut state);
            lane.free.relative(to, &mut state);
            bench.done.relative(to, &mut state);
            bench.places.relative(to, &mut state);
            state.push(bench.next - to);
        }
        state
    }
}

fn before(scenario: &Scenario) -> Vec<usize> {
    let ring = |ring: std::ops::Range<usize>| {
        let last = ring.end - 1;
        ring.clone().map(move |i| if i == ring.start { last } else { i - 1 })
    };
    scenario.rings().into_iter().flat_map(ring).collect()
}

fn partners(scenario: &Scenario) -> Vec<Option<usize>> {
    let mut all = vec![None; scenario.posts.len()];
    for &(a, b) in scenario.links.iter().flat_map(|links| &links.pairs) {
        (all[a], all[b]) = (Some(b), Some(a));
    }
    all
}

/// Long-run rate of a scenario without chance, and whether its state recurred: if not, the slope over the last half of so
/// many starts of station 0. Equations of this kind recur after finitely many steps (Baccelli et al. 1992, theorem 3.109).
#[must_use]
pub fn certain_rate(scenario: &Scenario, most_starts: u64) -> (ExactRate, bool) {
    let mut game = Game::new(scenario, 0, 0, Tally::counting(FOREVER));
    let batch = i64::from(scenario.posts[0].batch);
    #[allow(clippy::cast_possible_wrap)]
    let between = |now: &Game<'_>, time: i64, starts: u64| {
        ExactRate::new((now.starts - starts) as i64 * batch, now.last_start - time)
    };
    let mut mark: Option<(Vec<i64>, i64, u64)> = None;
    let (mut power, mut half) = (1, None);
    while game.round() {
        let state = game.state();
        if let Some((seen, time, starts)) = &mark
            && *seen == state
            && game.starts > *starts
        {
            return (between(&game, *time, *starts), true);
        }
        if mark.is_none() || game.starts >= power {
            power = 2 * game.starts.max(1);
            mark = Some((state, game.last_start, game.starts));
        }
        if half.is_none() && game.starts >= most_starts / 2 {
            half = Some((game.last_start, game.starts));
        }
        if let Some((time, starts)) = half
            && game.starts >= most_starts
            && game.last_start > time
        {
            return (between(&game, time, starts), false);
        }
    }
    (ExactRate::STUCK, true)
}

/// When the first batches were taken in and left, for each station, without chance; with one stop where one is given:
/// station, start, length.
#[must_use]
pub fn certain_moments(scenario: &Scenario, end: Micros, stop: Option<(usize, Micros, Micros)>) -> Vec<Passages> {
    let mut game = Game::new(scenario, 0, 0, Tally::recording(scenario, end.us()));
    if let Some((station, start, length)) = stop {
        game.stop(station, start.us(), length.us());
    }
    game.play().passages()
}

/// When batches were taken in and left.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Passages {
    /// Taken in.
    pub taken: Vec<i64>,
    /// Left.
    pub left: Vec<i64>,
    /// How long each batch waited for room: before it left, or before it was taken in where room is reserved then.
    pub held: Vec<i64>,
}
