//! From what the replications counted to the document.

use crate::check::Document;
use crate::wire::simulation::{
    Certain, Estimated, SimulatedLap, SimulatedLevel, SimulatedSection, SimulatedSku, SimulatedStation, SimulatedTimes,
    SimulatedWindow,
};
use loopwright_solver::cell::{Carries, Sku};
use loopwright_solver::plan::{Numbers, Plan};
use loopwright_solver::sim::{Estimate, Replicated, STATES, Scenario, State, Stays, certain_rate};
use loopwright_solver::units::Micros;

/// How the numbers came about.
pub(super) const METHOD: &[&str] = &[
    "The plan's loop is played by the rules of the planning model in whole microseconds, with what chance does at its \
     stations; without chance the rate is the exact one.",
    "Independent replications; confidence intervals of 95 % from Student's t over their means. The same seed gives the same \
     numbers on any number of threads, and two variants of a cell meet the same luck.",
    "Warm-up: what the MSER rule leaves out of the mean of ten pilot replications, at most half, unless it is given.",
    "Losses: each cause is taken away alone and at most forty of the same replications are played again with the same luck; the loss is \
     divided over the causes in proportion to what that gains.",
    "Terms of ISO 22400-2 (from memory): availability is the share of time at work; technical efficiency is time at work over \
     time at work and standing. Every case counts as good. The time model of EN 415-11 is not used: its text was not at hand.",
    "Batches in work when a station fails go on after the repair; none is lost. At a continuous station a failure holds the batch \
     being worked on and those behind it.",
    "Stop test: paced run without chance; the station after the section stands still at each moment of a period at which it takes a \
     batch in, and between; the worst is told.",
    "Power: paced run without chance; each way is driven from rest to rest under the carrier's limits, also up a queue, at even speed \
     where work is done on the move; slower driving in the ends is left out. Force is mass times acceleration, friction, and the weight \
     on upright ends. It is told of cells of one circuit.",
    "Several circuits: a hand-off takes on both at once, fails and stands once for both; what is fed to it is counted in carriers of the \
     circuit that comes first. Cases are counted behind the last station of that circuit.",
];

/// Gives up looking for a recurring state after so many batches.
pub(super) const MOST_STARTS: u64 = 200_000;

pub(super) struct Told<'a> {
    pub(super) document: &'a Document,
    pub(super) plan: &'a Plan,
    pub(super) numbers: &'a Numbers,
    pub(super) sku: usize,
    pub(super) scenario: &'a Scenario,
}

/// Cases a minute for each carrier a second.
pub(super) fn cases_per_min(document: &Document, sku: usize) -> f64 {
    let parts = document.cell.parts();
    let items = match parts.circuit.carries {
        Carries::Case => 1.0,
        Carries::Stack => f64::from(parts.skus[sku].stacks_per_case),
    };
    60.0 * f64::from(parts.circuit.items_per_carrier) / items
}

impl Told<'_> {
    /// Carriers a second with nothing going wrong.
    fn undisturbed(&self) -> f64 {
        let certain = Scenario::certain(&self.numbers.ring(self.sku, self.plan.carriers));
        let paced = certain.map(|scenario| Scenario { pace: self.scenario.pace, ..scenario });
        paced.map_or(0.0, |scenario| certain_rate(&scenario, MOST_STARTS).0.rate().as_per_second())
    }

    pub(super) fn sku(&self, found: &Replicated) -> SimulatedSku {
        SimulatedSku {
            stop_tests: super::certain::stop_tests(self),
            power: super::certain::power(self),
            ..self.played(found)
        }
    }

    /// What the replications say: all but stop tests, power and losses.
    pub(super) fn played(&self, found: &Replicated) -> SimulatedSku {
        let parts = self.document.cell.parts();
        let said = Said {
            posts: parts.stations.iter().map(|station| station.id.as_str()).collect(),
            circuits: Vec::new(),
            scenario: self.scenario,
            factor: cases_per_min(self.document, self.sku),
            undisturbed: self.undisturbed(),
            sku: &parts.skus[self.sku],
            efficiency: self.document.wire.requirements.efficiency,
        };
        said.sku(found)
    }
}

/// What is said of a scenario, of one circuit or of several.
pub(super) struct Said<'a> {
    /// Id of the station of each post.
    pub(super) posts: Vec<&'a str>,
    /// Ids of the circuits; empty of one.
    pub(super) circuits: Vec<&'a str>,
    pub(super) scenario: &'a Scenario,
    /// Cases a minute for each carrier a second of the first ring.
    pub(super) factor: f64,
    /// Carriers a second with nothing going wrong.
    pub(super) undisturbed: f64,
    pub(super) sku: &'a Sku,
    pub(super) efficiency: f64,
}

impl Said<'_> {
    /// All but stop tests, power and losses.
    pub(super) fn sku(&self, found: &Replicated) -> SimulatedSku {
        let (factor, undisturbed) = (self.factor, self.undisturbed);
        // Without chance the exact rate is known; counting over a stretch would only be near it.
        let by_chance = self.scenario.by_chance();
        let rate = if by_chance { found.rate } else { Estimate { mean: undisturbed, half_width: 0.0 } };
        let net = times(rate, factor);
        let asked = self.sku.case_rate.as_per_minute();
        let n = self.posts.len();
        let replications = if by_chance { u32::try_from(found.rates.len()).unwrap_or(u32::MAX) } else { 1 };
        // Both sides of a hand-off are one station.
        let second = |i: &usize| self.scenario.links.iter().flat_map(|l| &l.pairs).any(|pair| pair.1 == *i);
        let laps = self.circuits.iter().zip(&found.seen.laps);
        SimulatedSku {
            id: self.sku.id.clone(),
            replications,
            warm_up_s: found.warm_up.seconds(),
            reached: !by_chance || found.reached,
            asked_net_rate_per_min: asked,
            makes_net_rate: certain(net, asked),
            net_rate_per_min: net,
            undisturbed_rate_per_min: undisturbed * factor,
            efficiency: if undisturbed > 0.0 { times(rate, 1.0 / undisturbed) } else { times(rate, 0.0) },
            given_efficiency: self.efficiency,
            limiting_station: self.posts[busiest(found)].to_owned(),
            losses: Vec::new(),
            stations: (0..n).filter(|i| !second(i)).map(|i| self.station(found, i)).collect(),
            sections: (0..n).map(|i| self.section(found, i)).collect(),
            windows: (0..self.scenario.windows.len()).map(|w| self.window(found, w)).collect(),
            lap: stay(found.seen.laps.first().copied().unwrap_or_default()),
            laps: laps.map(|(id, stays)| SimulatedLap { circuit: (*id).to_owned(), lap: stay(*stays) }).collect(),
            stop_tests: Vec::new(),
            power: None,
        }
    }

    /// Id of the circuit of a post, where there are several.
    pub(super) fn circuit(&self, post: usize) -> Option<String> {
        let at = self.scenario.rings().into_iter().position(|ring| ring.contains(&post))?;
        self.circuits.get(at).map(|id| (*id).to_owned())
    }

    fn station(&self, found: &Replicated, i: usize) -> SimulatedStation {
        let shares = &found.seen.shares[i];
        let all: i64 = shares.iter().sum();
        let of = |state: State| share(shares[state as usize], all);
        let (working, failed, short_stop) = (of(State::Working), of(State::Failed), of(State::ShortStop));
        let busy = working + failed + short_stop;
        SimulatedStation {
            id: self.posts[i].to_owned(),
            circuit: self.circuit(i),
            working,
            starved: of(State::Starved),
            unfed: of(State::Unfed),
            blocked: of(State::Blocked),
            paced: of(State::Paced),
            failed,
            short_stop,
            technical_efficiency: (busy > 0.0).then(|| working / busy),
        }
    }

    fn section(&self, found: &Replicated, i: usize) -> SimulatedSection {
        let held = &found.seen.slots[i];
        let stays = found.seen.sections[i];
        SimulatedSection {
            from: self.posts[i].to_owned(),
            to: self.posts[self.scenario.after(i)].to_owned(),
            circuit: self.circuit(i),
            slots: self.scenario.sections[i].slots,
            slots_held: level(held),
            queue: level(&found.seen.queues[i]),
            full: share(held.last().copied().unwrap_or(0), held.iter().sum()),
            stay: stay(stays),
            max_s: self.scenario.most[i].map(Micros::seconds),
            broken: part(stays.broken, stays.count),
        }
    }

    fn window(&self, found: &Replicated, w: usize) -> SimulatedWindow {
        let (watch, most) = &self.scenario.windows[w];
        let stays = found.seen.windows[w];
        SimulatedWindow {
            from: self.posts[watch.from].to_owned(),
            to: self.posts[watch.to].to_owned(),
            circuit: self.circuit(watch.from),
            stay: stay(stays),
            max_s: most.map(Micros::seconds),
            broken: part(stays.broken, stays.count),
        }
    }
}

/// The station with the least time of waiting.
fn busiest(found: &Replicated) -> usize {
    let busy = |shares: &[i64; STATES]| {
        shares[State::Working as usize] + shares[State::Failed as usize] + shares[State::ShortStop as usize]
    };
    // Of equals the first in travel order.
    let all = found.seen.shares.iter().map(busy).enumerate();
    all.max_by_key(|&(i, busy)| (busy, std::cmp::Reverse(i))).map_or(0, |(i, _)| i)
}

fn times(estimate: Estimate, factor: f64) -> Estimated {
    Estimated { mean: estimate.mean * factor, half_width: estimate.half_width * factor }
}

fn certain(rate: Estimated, asked: f64) -> Certain {
    // As with the exact rate, a share of 1e-4 counts as nothing.
    let asked = asked * (1.0 - loopwright_solver::units::RATE_TOLERANCE);
    if rate.mean - rate.half_width >= asked {
        Certain::Yes
    } else if rate.mean + rate.half_width < asked {
        Certain::No
    } else {
        Certain::Open
    }
}

#[allow(clippy::cast_precision_loss)]
fn share(part: i64, of: i64) -> f64 {
    if of > 0 { part as f64 / of as f64 } else { 0.0 }
}

#[allow(clippy::cast_precision_loss)]
fn part(part: u64, of: u64) -> f64 {
    if of > 0 { part as f64 / of as f64 } else { 0.0 }
}

#[allow(clippy::cast_precision_loss)]
fn stay(stays: Stays) -> SimulatedTimes {
    let mean_s = if stays.count > 0 { stays.sum as f64 / stays.count as f64 * 1e-6 } else { 0.0 };
    SimulatedTimes { mean_s, longest_s: Micros::from_us(stays.longest).seconds() }
}

/// From the time at each level.
#[allow(clippy::cast_precision_loss)]
fn level(times: &[i64]) -> SimulatedLevel {
    let all: i64 = times.iter().sum();
    let weighted: f64 = (0u32..).zip(times).map(|(k, &time)| f64::from(k) * time as f64).sum();
    let below = |of: f64| {
        let mut passed = 0.0;
        let reached = (0u32..).zip(times).find(|&(_, &time)| {
            passed += time as f64;
            passed >= of * all as f64
        });
        reached.map_or(0, |(k, _)| k)
    };
    let most = (0u32..).zip(times).filter(|&(_, &time)| time > 0).map(|(k, _)| k).last();
    SimulatedLevel {
        mean: if all > 0 { weighted / all as f64 } else { 0.0 },
        median: below(0.5),
        p95: below(0.95),
        most: most.unwrap_or(0),
    }
}
