//! Several rings that share stations, carrier by carrier: each ring plays its own rules, and a shared station takes on both at
//! once.

use super::timed::{Run, Times, Watch, WindowWatch};
use crate::net::Net;
use crate::units::{ExactRate, Micros};

/// How to run a net.
#[derive(Clone, Debug, Default)]
pub struct NetWatch {
    /// By ring: station 0 takes batches no closer together than this.
    pub paces: Vec<Option<Micros>>,
    /// By ring: times across several stations.
    pub windows: Vec<Vec<WindowWatch>>,
    /// Give up looking for a recurring state after so many batches of station 0 of the first ring.
    pub most_starts: u64,
}

/// Times on one ring.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RingTimes {
    /// From leaving a station to being taken in at the next, in the steady state; for each section.
    pub sections: Vec<Times>,
    /// The same for each watched window.
    pub windows: Vec<Times>,
}

/// What a run of a net found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TimedNet {
    /// Long-run cases, counted as carriers of the rate: exact when the state recurred, otherwise the slope over the last half.
    pub rate: ExactRate,
    /// Whether the state recurred.
    pub recurs: bool,
    /// By ring.
    pub rings: Vec<RingTimes>,
}

const NONE: Times = Times { least: Micros::ZERO, longest: Micros::ZERO };

/// Plays the net until its state recurs, and then once more to measure times.
#[must_use]
pub fn run_net(net: &Net, watch: &NetWatch) -> TimedNet {
    let watches: Vec<Watch> = (0..net.rings().len())
        .map(|r| Watch {
            pace: watch.paces.get(r).copied().flatten(),
            windows: watch.windows.get(r).cloned().unwrap_or_default(),
            most_starts: watch.most_starts,
        })
        .collect();
    let starts: Option<Vec<Vec<u32>>> = net.rings().iter().map(crate::ring::Ring::start).collect();
    let runs = starts.map(|starts| {
        let each = net.rings().iter().zip(&watches).zip(&starts);
        each.map(|((ring, watch), start)| Run::new(ring, watch, start)).collect()
    });
    let Some(runs) = runs else { return stuck(net, &watches) };
    let mut joint = JointRun { net, runs };
    let Some((period, starts, recurs)) = joint.until_recurrence(watch.most_starts) else { return stuck(net, &watches) };
    if recurs {
        joint.lap();
    }
    joint.runs.iter_mut().for_each(|run| run.measuring = true);
    joint.play(period);
    // Batches of station 0 of the first ring, in cases.
    let batch = i64::from(net.rings()[0].stations[0].batch);
    let told = |times: &[Option<Times>]| times.iter().map(|t| t.unwrap_or(NONE)).collect();
    TimedNet {
        rate: ExactRate::new(starts * batch, period * i64::from(net.per_case(0))),
        recurs,
        rings: joint
            .runs
            .iter()
            .map(|run| RingTimes { sections: told(&run.section_times), windows: told(&run.window_times) })
            .collect(),
    }
}

fn stuck(net: &Net, watches: &[Watch]) -> TimedNet {
    let ring = |(ring, watch): (&crate::ring::Ring, &Watch)| RingTimes {
        sections: vec![NONE; ring.sections.len()],
        windows: vec![NONE; watch.windows.len()],
    };
    TimedNet { rate: ExactRate::STUCK, recurs: true, rings: net.rings().iter().zip(watches).map(ring).collect() }
}

struct JointRun<'a> {
    net: &'a Net,
    runs: Vec<Run<'a>>,
}

impl JointRun<'_> {
    fn now(&self) -> i64 {
        self.runs[0].now
    }

    /// Fires all that can fire now. Returns whether station 0 of the first ring took a batch.
    fn settle(&mut self) -> bool {
        let before = self.runs[0].starts;
        loop {
            let mut changed = false;
            for r in 0..self.runs.len() {
                changed |= self.runs[r].free_slots();
                for i in 0..self.net.rings()[r].stations.len() {
                    while self.runs[r].leave(i) {
                        changed = true;
                    }
                    while self.take(r, i) {
                        changed = true;
                    }
                }
            }
            if !changed {
                return self.runs[0].starts > before;
            }
        }
    }

    fn take(&mut self, ring: usize, station: usize) -> bool {
        let partner = self.net.partner((ring, station));
        let may = self.runs[ring].may_take(station) && partner.is_none_or(|(r, s)| self.runs[r].may_take(s));
        if may {
            self.runs[ring].take_now(station);
            if let Some((r, s)) = partner {
                self.runs[r].take_now(s);
            }
        }
        may
    }

    /// Time goes on to the next moment at which something can happen; false when nothing ever does.
    fn go_on(&mut self) -> bool {
        let Some(next) = self.runs.iter().filter_map(Run::next_event).min() else { return false };
        self.runs.iter_mut().for_each(|run| run.now = next);
        true
    }

    fn state(&self) -> Vec<i64> {
        self.runs.iter().flat_map(Run::state).collect()
    }

    /// Runs until the state after a start of station 0 is one seen before (R. P. Brent's search keeps one state only). Gives
    /// period, batches in it, and whether it really recurred; none when nothing moves any more.
    fn until_recurrence(&mut self, most_starts: u64) -> Option<(i64, i64, bool)> {
        let mut mark: Option<(Vec<i64>, i64, u64)> = None;
        let mut power = 1;
        let mut half: Option<(i64, u64)> = None;
        let count = |now: u64, then: u64| i64::try_from(now - then).unwrap_or(i64::MAX);
        loop {
            if self.settle() {
                let (now, starts) = (self.now(), self.runs[0].starts);
                let state = self.state();
                if let Some((seen, time, then)) = &mark
                    && *seen == state
                {
                    return Some((now - time, count(starts, *then), true));
                }
                if mark.is_none() || starts >= power {
                    power = 2 * starts.max(1);
                    mark = Some((state, now, starts));
                }
                let (half_time, half_starts) = match half {
                    Some(half) => half,
                    None if starts >= most_starts / 2 => *half.insert((now, starts)),
                    None => (now, starts),
                };
                if starts >= most_starts && now > half_time {
                    return Some((now - half_time, count(starts, half_starts), false));
                }
            }
            if !self.go_on() {
                return None;
            }
        }
    }

    /// Goes on until every carrier of every ring has gone round once more.
    fn lap(&mut self) {
        let before: Vec<Vec<u64>> = self.runs.iter().map(|run| run.laps.clone()).collect();
        let behind = |runs: &[Run<'_>]| {
            runs.iter().zip(&before).any(|(run, before)| run.laps.iter().zip(before).any(|(now, then)| now == then))
        };
        while behind(&self.runs) {
            if !self.go_on() {
                return;
            }
            self.settle();
        }
    }

    /// Goes on for so long.
    fn play(&mut self, length: i64) {
        let end = self.now() + length;
        while let Some(next) = self.runs.iter().filter_map(Run::next_event).min() {
            if next > end {
                return;
            }
            self.runs.iter_mut().for_each(|run| run.now = next);
            self.settle();
        }
    }
}

#[cfg(test)]
mod tests;
