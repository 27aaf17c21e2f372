//! Where the carriers of an SKU start: in the last sections, so that it depends on their slots; and whether it makes its rate
//! from any start that a node allows.

use super::phase::Phases;
use super::quick::QuickMap;
use super::verdict::{Bounds, Pace};
use super::{Fit, Node};
use crate::section::slots;
use crate::units::{Metres, Micros};

/// Starts that one relaxation looks at.
const MOST_STARTS: usize = 60;

/// Steps of the walk over starts.
const MOST_STEPS: usize = 400;

/// Steps of the walk over kinds of starts.
const MOST_KIND_STEPS: usize = 4_000;

/// SKUs that missed last, whose starts are looked at closely.
pub(super) const SUSPECTS: usize = 5;

/// Rings that are remembered; then anew, so that long searches do not fill the memory.
const MOST_SEEN: usize = 50_000;

/// Looks at starts, shared by stations and SKUs.
const START_WORK: usize = 2_500;

/// A look at all starts of one SKU within a node.
struct Starts<'a> {
    k: usize,
    carriers: u32,
    pace: &'a Pace<'a>,
    /// Rings that may still be rated, and steps of the walk.
    left: usize,
    steps: usize,
    kinds: Option<KindsWalk<'a>>,
}

/// Which kinds of starts can be had by the slots of the sections alone.
pub(super) struct KindsWalk<'a> {
    pub(super) k: usize,
    pub(super) carriers: u32,
    pub(super) phases: &'a Phases,
    pub(super) least: Vec<u32>,
    pub(super) most: Vec<u32>,
    /// Seconds of waiting, beyond the least, that a start with so many carriers in a section forces, up to whole offsets.
    pub(super) waits: &'a [Vec<f64>],
    /// Seconds that may be waited so on a whole way round.
    pub(super) spare: f64,
    /// Carriers in each section on the way.
    pub(super) start: Vec<u32>,
    /// Whether a start that makes the rate can be had, by sections before, carriers left and remainders so far.
    known: QuickMap<(usize, u32, u64), bool>,
    pub(super) steps: usize,
}

impl Fit<'_, '_> {
    /// Where carriers start depends on the slots of the last sections: bounds within the node's with which the SKU makes its
    /// rate when all else is at its best; none when it certainly makes it with no start. (Adding a slot or shortening a way
    /// never slows, for one start.)
    pub(super) fn start_that_makes(&self, node: &Node, carriers: u32, k: usize, pace: &Pace<'_>) -> Option<Bounds> {
        let mut kinds = self.kinds_walk(node, carriers, k, pace);
        let spare = kinds.as_ref().map_or(0.0, |walk| walk.spare);
        if kinds.as_mut().is_some_and(|walk| !self.some_kind(walk, node.low.len(), carriers, (0, spare))) {
            return None;
        }
        let mut starts = Starts { k, carriers, pace, steps: MOST_STEPS, left: self.starts_for(k), kinds };
        self.some_start(&mut starts, (node.low.len(), carriers, (0, spare)), &node.low, &node.high)
    }

    /// Whether, as far as the kinds of starts tell, an SKU makes its rate from some start that a node allows.
    pub(super) fn has_kind(&self, node: &Node, carriers: u32, k: usize, pace: &Pace<'_>) -> bool {
        let walk = self.kinds_walk(node, carriers, k, pace);
        walk.is_none_or(|mut walk| {
            let spare = walk.spare;
            self.some_kind(&mut walk, node.low.len(), carriers, (0, spare))
        })
    }

    pub(super) fn kinds_walk(&self, node: &Node, carriers: u32, k: usize, pace: &Pace<'_>) -> Option<KindsWalk<'_>> {
        self.phases[k].as_ref().map(|phases| KindsWalk {
            k,
            carriers,
            phases,
            least: self.slots_of(&node.low, k),
            most: self.slots_of(&node.high, k),
            waits: self.waits_by_start(k),
            spare: self.spare(node, carriers, k, pace),
            start: vec![0; node.low.len()],
            known: QuickMap::default(),
            steps: MOST_KIND_STEPS,
        })
    }

    /// How many starts are looked at for one SKU: many for those that missed last, few for the rest.
    fn starts_for(&self, k: usize) -> usize {
        let place = self.space.suspects.borrow().iter().position(|&o| o == k).unwrap_or(usize::MAX);
        if place < SUSPECTS {
            MOST_STARTS
        } else {
            (START_WORK / (self.chosen.len() * self.space.demanded.len())).clamp(1, MOST_STARTS)
        }
    }

    /// Whether a start can be had whose kind makes the rate at best, when `left` carriers are still to be placed in the
    /// sections before `before` and those behind have the remainders `code` and leave so many seconds for waiting (which the
    /// remainders tell, too).
    fn some_kind(&self, walk: &mut KindsWalk<'_>, before: usize, left: u32, (code, spare): (u64, f64)) -> bool {
        if spare < 0.0 {
            return false;
        }
        let Some(i) = before.checked_sub(1) else {
            return left == 0 && self.kind_makes(walk.phases, walk.k, code, &walk.start);
        };
        if left <= walk.least[i] {
            return self.ends_well(walk, i, left, (code, spare));
        }
        if let Some(&known) = walk.known.get(&(i, left, code)) {
            return known;
        }
        if walk.steps == 0 {
            // Too many to look at: nothing is certain.
            return true;
        }
        walk.steps -= 1;
        let mut found = false;
        for slots in walk.least[i]..=walk.most[i] {
            if slots >= left {
                found = self.ends_well(walk, i, left, (code, spare));
                break;
            }
            walk.start[i] = slots;
            let next = code + walk.phases.part(i, walk.carriers - left + slots);
            let spare = spare - wait_of(&walk.waits[i], slots);
            if self.some_kind(walk, i, left - slots, (next, spare)) {
                found = true;
                break;
            }
        }
        walk.start[i] = 0;
        walk.known.insert((i, left, code), found);
        found
    }

    /// Whether the rate is made at best when all that are left start in section `i`.
    pub(super) fn ends_well(&self, walk: &mut KindsWalk<'_>, i: usize, left: u32, (code, spare): (u64, f64)) -> bool {
        let waits: f64 = walk.waits[..i].iter().map(|waits| wait_of(waits, 0)).sum();
        if spare < waits + wait_of(&walk.waits[i], left) {
            return false;
        }
        walk.start[i] = left;
        let code = code + walk.phases.rest(i, walk.carriers);
        let makes = self.kind_makes(walk.phases, walk.k, code, &walk.start);
        walk.start[i] = 0;
        makes
    }

    fn some_start(
        &self,
        starts: &mut Starts<'_>,
        (before, left, (code, spare)): (usize, u32, (u64, f64)),
        low: &[f64],
        high: &[f64],
    ) -> Option<Bounds> {
        let here = |makes: bool| makes.then(|| (low.to_vec(), high.to_vec()));
        if starts.steps == 0 || self.clock.over() {
            // Too many to look at: nothing is certain.
            return here(true);
        }
        starts.steps -= 1;
        let ride = &self.space.cell.rides()[starts.k];
        let count = |length: f64| slots(Metres::from_m(length), ride);
        let rest = (self.total - low.iter().sum::<f64>()).max(0.0);
        let reach = |i: usize| high[i].min(low[i] + rest);
        let Some(i) = before.checked_sub(1) else {
            return here(left == 0 && self.makes_at_best(starts, low, high));
        };
        let (least, most) = (count(low[i]), count(reach(i)));
        if left <= least {
            return here(self.makes_at_best(starts, low, high));
        }
        for slots in least..=most {
            let (mut low, mut high) = (low.to_vec(), high.to_vec());
            low[i] = low[i].max((f64::from(slots) - 1e-6) * ride.pitch.m());
            if low.iter().sum::<f64>() > self.total + 1e-7 {
                return None;
            }
            if slots >= left {
                // All that are left start here, however many slots more there are.
                return self.makes_at_best(starts, &low, &high).then_some((low, high));
            }
            let placed = starts.carriers - left + slots;
            let next = starts.kinds.as_ref().map_or(0, |walk| code + walk.phases.part(i, placed));
            let spare = starts.kinds.as_ref().map_or(0.0, |walk| spare - wait_of(&walk.waits[i], slots));
            if !self.leads_on(starts, i, left - slots, (next, spare), slots) {
                continue;
            }
            high[i] = high[i].min((f64::from(slots + 1) - 1e-6) * ride.pitch.m() - 1e-9).max(low[i]);
            let found = self.some_start(starts, (i, left - slots, (next, spare)), &low, &high);
            if found.is_some() {
                return found;
            }
        }
        None
    }

    /// Whether, with so many slots in section `i`, some start is left whose kind makes the rate at best.
    fn leads_on(&self, starts: &mut Starts<'_>, i: usize, left: u32, at: (u64, f64), slots: u32) -> bool {
        let Some(walk) = &mut starts.kinds else { return true };
        walk.start[i] = slots;
        walk.start[..i].fill(0);
        self.some_kind(walk, i, left, at)
    }

    fn makes_at_best(&self, starts: &mut Starts<'_>, low: &[f64], high: &[f64]) -> bool {
        if starts.left == 0 {
            return true;
        }
        starts.left -= 1;
        let (k, pace) = (starts.k, starts.pace);
        let rest = (self.total - low.iter().sum::<f64>()).max(0.0);
        let reach: Vec<f64> = low.iter().zip(high).map(|(l, h)| h.min(l + rest + 1e-9)).collect();
        let lags = self.lags(low, k, pace);
        let ring = self.ring(k, &self.slots_of(&reach, k), &lags, starts.carriers, pace);
        let rest = self.rest_time(low, &reach, &lags, (k, pace.share));
        let look = (k, ring.sections.clone(), Micros::nearest_s(rest).us(), pace.share.to_bits());
        if let Some(&makes) = self.seen.borrow().get(&look) {
            return makes;
        }
        let makes = self.rate_or_miss_driving(&ring, k, rest).0.makes(self.space.cell.rides()[k].rate);
        let mut seen = self.seen.borrow_mut();
        if seen.len() >= MOST_SEEN {
            seen.clear();
        }
        seen.insert(look, makes);
        makes
    }
}

/// Waiting when so many carriers start in a section.
pub(super) fn wait_of(waits: &[f64], start: u32) -> f64 {
    let offsets = u32::try_from(waits.len()).unwrap_or(1).max(1);
    waits.get((start % offsets) as usize).copied().unwrap_or(0.0)
}
