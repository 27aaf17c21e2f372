//! When a station stands still: clocks that count its work, and a calendar that counts all time.

use crate::chance::{Counts, Purpose, Stops, Stream};
use crate::units::Micros;
use std::collections::VecDeque;

/// Why a station stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Halt {
    Failure = 0,
    ShortStop = 1,
}

/// Alternates between running and standing; both drawn by number.
#[derive(Clone, Debug)]
pub(super) struct Renewal {
    stops: Stops,
    after: Stream,
    lasting: Stream,
    number: u64,
}

impl Renewal {
    pub(super) fn new(stops: Stops, key: (u64, u32, usize), after: Purpose, lasting: Purpose) -> Self {
        let stream = |purpose| Stream::new(key.0, key.1, key.2, purpose);
        Self { stops, after: stream(after), lasting: stream(lasting), number: 0 }
    }

    /// Time until the next stop, and how long it lasts.
    pub(super) fn next(&mut self) -> (i64, i64) {
        let n = self.number;
        self.number += 1;
        let until = self.stops.between_s * self.stops.between.factor(self.after.draw(n));
        let lasting = self.stops.repair_s * self.stops.repair.factor(self.lasting.draw(n));
        // A stop takes at least the least time there is, so that time goes on.
        (Micros::nearest_s(until).us().max(1), Micros::nearest_s(lasting).us())
    }
}

/// Stops that come with time at work.
#[derive(Clone, Debug)]
pub(super) struct Clock {
    renewal: Renewal,
    left: i64,
    lasting: i64,
    halt: Halt,
}

impl Clock {
    fn new(mut renewal: Renewal, halt: Halt) -> Self {
        let (left, lasting) = renewal.next();
        Self { renewal, left, lasting, halt }
    }

    /// Works for so long; adds what it stood to the sum of its kind.
    pub(super) fn work(&mut self, time: i64, stood: &mut [i64; 2]) {
        self.left -= time;
        while self.left < 0 {
            stood[self.halt as usize] += self.lasting;
            let (left, lasting) = self.renewal.next();
            self.left += left;
            self.lasting = lasting;
        }
    }
}

/// Stops that come with the time of day: one after the other, never two at once.
#[derive(Clone, Debug, Default)]
pub(super) struct Calendar {
    kinds: Vec<(Renewal, i64, i64, Halt)>,
    /// Known stops, in order: start, end, why.
    known: VecDeque<(i64, i64, Halt)>,
    last: i64,
}

impl Calendar {
    /// One stop and no other.
    pub(super) fn once(start: i64, end: i64) -> Self {
        Self { kinds: Vec::new(), known: VecDeque::from([(start, end, Halt::Failure)]), last: end }
    }

    fn add(&mut self, mut renewal: Renewal, halt: Halt) {
        let (until, lasting) = renewal.next();
        self.kinds.push((renewal, until, lasting, halt));
    }

    /// Knows all stops that begin at or before `time`.
    fn know(&mut self, time: i64) {
        while let Some(kind) = self.kinds.iter_mut().min_by_key(|kind| kind.1.max(self.last)) {
            // Who is due while another stop lasts, stops after it.
            let start = kind.1.max(self.last);
            if start > time {
                return;
            }
            let end = start + kind.2;
            self.known.push_back((start, end, kind.3));
            self.last = end;
            let (until, lasting) = kind.0.next();
            (kind.1, kind.2) = (end + until, lasting);
        }
    }

    /// Nothing before `time` will be asked for any more.
    pub(super) fn forget(&mut self, time: i64) {
        while self.known.front().is_some_and(|stop| stop.1 < time) {
            self.known.pop_front();
        }
    }

    /// The first moment from `time` on at which the station runs.
    pub(super) fn up(&mut self, time: i64) -> i64 {
        let mut at = time;
        self.know(at);
        let mut k = 0;
        while let Some(&(start, end, _)) = self.known.get(k) {
            if start > at {
                break;
            }
            at = at.max(end);
            self.know(at);
            k += 1;
        }
        at
    }

    /// When work of this length that begins at `start` is done.
    pub(super) fn finish(&mut self, start: i64, length: i64) -> i64 {
        let mut end = start + length;
        self.know(end);
        let mut k = 0;
        while let Some(&(from, to, _)) = self.known.get(k) {
            // Work that ends as the stop begins is done.
            if from >= end {
                break;
            }
            end += (to - from.max(start)).max(0);
            self.know(end);
            k += 1;
        }
        end
    }

    /// How long it stands between two moments, by kind.
    pub(super) fn standing(&mut self, from: i64, to: i64) -> [i64; 2] {
        self.know(to);
        let mut sums = [0; 2];
        for &(start, end, halt) in &self.known {
            sums[halt as usize] += (end.min(to) - start.max(from)).max(0);
        }
        sums
    }
}

/// Clocks and calendar of a station in one replication.
pub(super) fn halts(
    failures: Option<Stops>,
    short_stops: Option<Stops>,
    key: (u64, u32, usize),
) -> (Vec<Clock>, Option<Calendar>) {
    let mut clocks = Vec::new();
    let mut calendar: Option<Calendar> = None;
    let kinds = [
        (failures, Halt::Failure, Purpose::FailureAfter, Purpose::FailureFor),
        (short_stops, Halt::ShortStop, Purpose::ShortStopAfter, Purpose::ShortStopFor),
    ];
    for (stops, halt, after, lasting) in kinds {
        let Some(stops) = stops else { continue };
        let renewal = Renewal::new(stops, key, after, lasting);
        match stops.counts {
            Counts::Operation => clocks.push(Clock::new(renewal, halt)),
            Counts::Calendar => calendar.get_or_insert_default().add(renewal, halt),
        }
    }
    (clocks, calendar)
}
