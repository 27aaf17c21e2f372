//! What is certain about all sharings within a node's bounds, and what holds for one of them.

use super::starts::SUSPECTS;
use super::{Fit, Miss, Node};
use crate::option::StationOption;
use crate::ring::{Ring, RingSection, RingStation};
use crate::rules::{Lap, exact_or_miss};
use crate::section::{Ends, lag, slots};
use crate::throughput::{Limit, rate_or_miss};
use crate::units::{ExactRate, Metres, RATE_TOLERANCE, Seconds};
use std::borrow::Cow;

/// Steps of the acceleration share that is tried when motors would be overloaded.
const SHARE_STEPS: u32 = 100;

/// Finer steps within one of those.
const FINE_STEPS: u32 = 100;

/// A hair in hand for rates that a relaxation misses: no plan within the tolerance is cut off.
pub(super) const RELAXED: f64 = 1.0 - 1.1 * RATE_TOLERANCE;

/// Something is missed for certain.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Certain {
    WithThese,
    AlsoWithMore,
}

/// An acceleration share and the chosen options at it.
pub(super) struct Pace<'a> {
    pub(super) share: f64,
    options: Vec<Cow<'a, StationOption>>,
}

/// Least and largest lengths of the sections.
pub(super) type Bounds = (Vec<f64>, Vec<f64>);

impl Fit<'_, '_> {
    pub(super) fn pace(&self, share: f64) -> Pace<'_> {
        let cell = self.space.cell;
        let options = if share >= 1.0 {
            self.chosen.iter().map(|&o| Cow::Borrowed(o)).collect()
        } else {
            let stations = cell.parts().stations.iter().zip(&self.chosen);
            stations
                .map(|(station, chosen)| {
                    let mut all = station.options(cell.rides(), share).into_iter();
                    let found = all.find(|o| o.mode == chosen.mode && o.heads == chosen.heads);
                    found.map_or(Cow::Borrowed(*chosen), Cow::Owned)
                })
                .collect()
        };
        Pace { share, options }
    }

    /// The relaxation of a node: whether something is missed whatever the sharing; none when nothing is certain. Narrows
    /// the node's acceleration shares on the way.
    pub(super) fn misses(&self, node: &mut Node, carriers: u32, all: bool) -> Option<Certain> {
        // Shorter sections heat motors less, so no sharing may accelerate harder than this.
        let Some(share) = self.coolest(&node.low, carriers) else { return Some(Certain::WithThese) };
        node.share.1 = node.share.1.min(share);
        if share >= 1.0 {
            // Only overloaded motors are a reason for less.
            node.share.0 = if self.cool(&node.high, carriers, 1.0) { 1.0 } else { node.share.0 };
        }
        if node.share.0 > node.share.1 {
            return Some(Certain::WithThese);
        }
        let pace = self.pace(node.share.1);
        for k in 0..self.space.cell.rides().len() {
            if !self.fit_slots(&node.low, &node.high, k, carriers) {
                return Some(Certain::AlsoWithMore);
            }
        }
        // What missed lately will likely miss again; what else misses comes to the front when all are looked at.
        let looked_at = if all { usize::MAX } else { SUSPECTS };
        for (place, k) in self.suspects().into_iter().enumerate() {
            let certain = if place < looked_at {
                self.misses_rate(node, carriers, k, &pace)
            } else {
                // Mostly known by now.
                (!self.has_kind(node, carriers, k, &pace)).then_some(Certain::WithThese)
            };
            if certain.is_some() {
                self.first_next_time(k);
                return certain;
            }
        }
        if let Some(keeping) = self.space.keeping.as_ref().filter(|_| self.too_long.get())
            && self.misses_changes(keeping, node, carriers, &pace, true)
        {
            return Some(Certain::WithThese);
        }
        if !self.timed() {
            return None;
        }
        if node.share.0 < 1.0 {
            node.share.0 = node.share.0.max(self.slowest(node, carriers, node.share.1));
        }
        self.misses_times(node, carriers, &pace).then_some(Certain::WithThese)
    }

    fn misses_rate(&self, node: &Node, carriers: u32, k: usize, pace: &Pace<'_>) -> Option<Certain> {
        let ride = &self.space.cell.rides()[k];
        let same = self.one_batch(k);
        let lags = self.lags(&node.low, k, pace);
        let usable = same.map_or(carriers, |b| carriers / b * b);
        let rest = self.rest_time(&node.low, &node.high, &lags, (k, pace.share));
        let round_trip = self.round_trip(k, &lags, pace) + rest;
        if f64::from(usable) < ride.phi() * RELAXED * round_trip {
            return Some(Certain::WithThese);
        }
        if let Some(b) = same {
            // Of equal batches only whole ones count, wherever they start.
            let most: Vec<u32> = self.slots_of(&node.high, k).into_iter().map(|s| s / b * b).collect();
            if u64::from(usable) <= most.iter().map(|&s| u64::from(s)).sum() {
                let ring = self.ring(k, &most, &lags, usable, pace);
                let (rate, limit) = self.rate_or_miss_driving(&ring, k, rest);
                if !rate.makes(ride.rate) {
                    // What carriers do not limit more of them do not mend.
                    let more = pace.share >= 1.0 && !matches!(limit, Limit::Carriers | Limit::Stuck);
                    return Some(if more { Certain::AlsoWithMore } else { Certain::WithThese });
                }
            }
        }
        self.start_that_makes(node, carriers, k, pace).is_none().then_some(Certain::WithThese)
    }

    /// Whether a ring of SKU `k` makes its rate, and what misses it.
    fn rate_or_miss(&self, ring: &Ring, k: usize) -> (ExactRate, Limit) {
        exact_or_miss(ring, Some(self.space.cell.rides()[k].rate), &mut self.times.borrow_mut()[k])
    }

    /// As [`Self::rate_or_miss`] for a ring at the lowest lengths, when what is left over takes `rest` seconds to drive.
    pub(super) fn rate_or_miss_driving(&self, ring: &Ring, k: usize, rest: f64) -> (ExactRate, Limit) {
        let Some(longer) = Self::driving(ring, rest) else { return self.rate_or_miss(ring, k) };
        let target = self.space.cell.rides()[k].rate;
        rate_or_miss(&longer, Some(target), &mut self.times.borrow_mut()[k])
            .unwrap_or_else(|| self.rate_or_miss(ring, k))
    }

    pub(super) fn skus(&self) -> Vec<usize> {
        self.order.borrow().clone()
    }

    /// The SKUs, those that missed lately first, whatever the choice.
    fn suspects(&self) -> Vec<usize> {
        self.space.suspects.borrow().clone()
    }

    /// What missed once will likely miss again: it is looked at first.
    fn first_next_time(&self, k: usize) {
        for order in [&self.order, &self.space.suspects] {
            let mut order = order.borrow_mut();
            if let Some(at) = order.iter().position(|&o| o == k) {
                order[..=at].rotate_right(1);
            }
        }
    }

    /// The batch size, if all stations have one.
    fn one_batch(&self, k: usize) -> Option<u32> {
        let first = self.chosen[0].skus[k].batch;
        self.chosen.iter().all(|o| o.skus[k].batch == first).then_some(first)
    }

    /// An acceleration share below which no sharing in the node makes the rates, by the way round alone.
    fn slowest(&self, node: &Node, carriers: u32, share: f64) -> f64 {
        let rides = self.space.cell.rides();
        let makes = |share: f64| {
            let pace = self.pace(share);
            self.space.demanded.iter().all(|&k| {
                let round_trip = self.round_trip(k, &self.lags(&node.low, k, &pace), &pace);
                f64::from(carriers) >= rides[k].phi() * RELAXED * round_trip
            })
        };
        let (mut low, mut high) = (0.0, share);
        while high - low > 1e-3 {
            let middle = f64::midpoint(low, high);
            if makes(middle) { high = middle } else { low = middle }
        }
        low.max(1e-3)
    }

    /// Everything that a sharing must keep to. Gives the acceleration share.
    ///
    /// Where motors ask for less acceleration, the largest share that they allow is taken; a smaller one only where time
    /// limits ask for it (slower moves leave carriers less to wait).
    pub(super) fn check(&self, lengths: &[f64], carriers: u32) -> Result<f64, Miss> {
        let share = self.coolest(lengths, carriers).ok_or(Miss::Duty)?;
        let miss = match self.check_at(lengths, carriers, share) {
            Ok(()) => return Ok(share),
            Err(miss) => miss,
        };
        if share >= 1.0 || !matches!(miss, Miss::Times) {
            return Err(miss);
        }
        let mut steps = (share * f64::from(SHARE_STEPS)).ceil();
        while steps > 1.0 {
            steps -= 1.0;
            let share = steps / f64::from(SHARE_STEPS);
            if !self.cool(lengths, carriers, share) {
                break;
            }
            match self.check_at(lengths, carriers, share) {
                Ok(()) => return Ok(share),
                Err(Miss::Times) => {}
                Err(_) => break,
            }
        }
        Err(miss)
    }

    fn check_at(&self, lengths: &[f64], carriers: u32, share: f64) -> Result<(), Miss> {
        let cell = self.space.cell;
        for k in 0..cell.rides().len() {
            if u64::from(carriers) > self.slots_of(lengths, k).iter().map(|&s| u64::from(s)).sum() {
                return Err(Miss::Rate(Limit::DoNotFit, k));
            }
        }
        let pace = self.pace(share);
        if share < 1.0 && !pace.options.iter().all(|o| o.makes(cell.rides())) {
            return Err(Miss::Duty);
        }
        for k in self.skus() {
            let ride = &cell.rides()[k];
            let lags = self.lags(lengths, k, &pace);
            if f64::from(carriers) < ride.phi() * RELAXED * self.round_trip(k, &lags, &pace) {
                return Err(Miss::Rate(Limit::Carriers, k));
            }
            let ring = self.ring(k, &self.slots_of(lengths, k), &lags, carriers, &pace);
            let (rate, limit) = self.rate_or_miss(&ring, k);
            if !rate.makes(ride.rate) {
                self.first_next_time(k);
                return Err(Miss::Rate(limit, k));
            }
        }
        if self.timed() && !self.times_hold(lengths, carriers, &pace) {
            return Err(Miss::Times);
        }
        if !self.changes_hold(lengths, carriers, share) {
            return Err(Miss::Changes);
        }
        Ok(())
    }

    /// Whether motors stay cool on these lengths.
    fn cool(&self, lengths: &[f64], carriers: u32, share: f64) -> bool {
        let cell = self.space.cell;
        let carrier = &cell.parts().circuit.carrier;
        let Some(force) = carrier.continuous_force else { return true };
        let allowed = force.n() * f64::from(carrier.movers);
        let ends: Vec<Ends> = self.fold.lies.iter().map(|l| l.ends()).collect();
        let lap = Lap { form: self.space.form(self.fold.form), options: &self.chosen, ends: &ends, lengths };
        let mut loads = self.space.demanded.iter().map(|&k| lap.rms(cell, k, share, carriers));
        loads.all(|rms| rms.is_none_or(|f| f.n() <= allowed))
    }

    /// The largest acceleration share at which motors stay cool on these lengths; none when they never do.
    fn coolest(&self, lengths: &[f64], carriers: u32) -> Option<f64> {
        let cool = |share: f64| self.cool(lengths, carriers, share);
        if cool(1.0) {
            return Some(1.0);
        }
        // Friction counts for longer when moves are slow, so it need not get cooler all the way down.
        let at = |step: u32, fine: u32| f64::from(step * FINE_STEPS + fine) / f64::from(SHARE_STEPS * FINE_STEPS);
        let step = (1..SHARE_STEPS).rev().find(|&step| cool(at(step, 0)))?;
        let (mut low, mut high) = (0, FINE_STEPS);
        while high - low > 1 {
            let middle = u32::midpoint(low, high);
            if cool(at(step, middle)) { low = middle } else { high = middle }
        }
        Some(at(step, low))
    }

    /// Residences, lags and forced waits.
    pub(super) fn round_trip(&self, k: usize, lags: &[f64], pace: &Pace<'_>) -> f64 {
        let n = pace.options.len();
        (0..n)
            .map(|i| {
                let (up, down) = (&pace.options[i].skus[k], &pace.options[(i + 1) % n].skus[k]);
                let wait = self.space.waits.of(up.batch, down.batch).mean(up.cycle.s(), down.cycle.s());
                up.residence.s() + lags[i] + wait
            })
            .sum()
    }

    /// Carriers start in the last sections; whether these have the same slots throughout the node.
    pub(super) fn start_is_known(&self, node: &Node, k: usize, carriers: u32) -> bool {
        let mut left = carriers;
        let (low, high) = (self.slots_of(&node.low, k), self.slots_of(&node.high, k));
        for (&least, &most) in low.iter().zip(&high).rev() {
            if left <= least {
                return true;
            }
            if least != most {
                return false;
            }
            left -= least;
        }
        left == 0
    }

    pub(super) fn slots_of(&self, lengths: &[f64], k: usize) -> Vec<u32> {
        let ride = &self.space.cell.rides()[k];
        lengths.iter().map(|&l| slots(Metres::from_m(l), ride)).collect()
    }

    pub(super) fn lags(&self, lengths: &[f64], k: usize, pace: &Pace<'_>) -> Vec<f64> {
        let cell = self.space.cell;
        let form = self.space.form(self.fold.form);
        let lag_of = |(i, &length): (usize, &f64)| {
            let (limits, ends) = (&cell.parts().sections[i], self.fold.lies[i].ends());
            let tail = self.chosen[i].skus[k].tail;
            lag(&cell.rides()[k], pace.share, form, ends, limits, Metres::from_m(length), tail).s()
        };
        lengths.iter().enumerate().map(lag_of).collect()
    }

    pub(super) fn ring(&self, k: usize, slots: &[u32], lags: &[f64], carriers: u32, pace: &Pace<'_>) -> Ring {
        Ring {
            stations: pace.options.iter().map(|o| RingStation::of(&o.skus[k])).collect(),
            sections: slots.iter().zip(lags).map(|(&s, &l)| RingSection::new(s, Seconds::from_s(l))).collect(),
            carriers,
        }
    }
}
