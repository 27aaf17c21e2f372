//! When a station stands still: a clock that counts its work, or a calendar that counts all time.

use crate::chance::{Counts, Purpose, Stops, Stream};
use crate::units::Micros;
use std::collections::VecDeque;

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
}

impl Clock {
    fn new(mut renewal: Renewal) -> Self {
        let (left, lasting) = renewal.next();
        Self { renewal, left, lasting }
    }

    /// Works for so long; gives how long it stands in the course of it.
    pub(super) fn work(&mut self, time: i64) -> i64 {
        self.left -= time;
        let mut stood = 0;
        while self.left < 0 {
            stood += self.lasting;
            let (left, lasting) = self.renewal.next();
            self.left += left;
            self.lasting = lasting;
        }
        stood
    }
}

/// Stops that come with the time of day.
#[derive(Clone, Debug)]
pub(super) struct Calendar {
    renewal: Renewal,
    /// The first stop that is not known yet: start, length.
    coming: (i64, i64),
    /// Known stops, in order: start, end.
    known: VecDeque<(i64, i64)>,
}

impl Calendar {
    fn new(mut renewal: Renewal) -> Self {
        let coming = renewal.next();
        Self { renewal, coming, known: VecDeque::new() }
    }

    /// Knows all stops that begin at or before `time`.
    fn know(&mut self, time: i64) {
        while self.coming.0 <= time {
            let end = self.coming.0 + self.coming.1;
            self.known.push_back((self.coming.0, end));
            let (until, lasting) = self.renewal.next();
            self.coming = (end + until, lasting);
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
        while let Some(&(start, end)) = self.known.get(k) {
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
        while let Some(&(from, to)) = self.known.get(k) {
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

    /// How long it stands between two moments.
    pub(super) fn standing(&mut self, from: i64, to: i64) -> i64 {
        self.know(to);
        self.known.iter().map(|&(start, end)| (end.min(to) - start.max(from)).max(0)).sum()
    }
}

/// Clock or calendar of a station in one replication.
pub(super) fn halts(failures: Option<Stops>, key: (u64, u32, usize)) -> (Option<Clock>, Option<Calendar>) {
    let Some(stops) = failures else { return (None, None) };
    let renewal = Renewal::new(stops, key, Purpose::FailureAfter, Purpose::FailureFor);
    match stops.counts {
        Counts::Operation => (Some(Clock::new(renewal)), None),
        Counts::Calendar => (None, Some(Calendar::new(renewal))),
    }
}
