//! Starts that all SKUs have in common.
//!
//! Where the carriers of an SKU start depends on the slots of the last sections. An SKU that makes its rate from some starts
//! only allows these sections only some numbers of slots, and so only some lengths. Each SKU by itself may find a start
//! within a node's bounds while no lengths suit all of them: what one SKU does not allow is out for all, and what that
//! leaves to the others is looked at again.

use super::quick::QuickMap;
use super::starts::{KindsWalk, wait_of};
use super::verdict::Pace;
use super::{FINEST, Fit, Node, Split, longer_first};

/// Rounds of looking at all SKUs, each with the bounds that the one before left.
const MOST_ROUNDS: usize = 2;

/// Lengths so close to a step of the slots are not told apart, m.
const HAIR: f64 = 1e-9;

/// Lengths of a section that are out, from and to.
type Gap = (f64, f64);

/// What of a node is left, by the starts that all SKUs have in common.
pub(super) struct Common {
    pub(super) node: Node,
    /// Where to split it: round lengths that are out.
    pub(super) split: Option<Split>,
}

/// Which slots of the sections lead to a start that makes the rate.
struct Slots {
    /// By section, by slots beyond the least.
    lead: Vec<Vec<bool>>,
    /// Sections before this one may have any slots: carriers start behind them.
    free: usize,
    known: QuickMap<(usize, u32, u64), bool>,
}

impl Fit<'_, '_> {
    /// The node without the lengths that some SKU does not allow; none when nothing is left.
    pub(super) fn common_starts(&self, mut node: Node, carriers: u32) -> Option<Common> {
        let pace = self.pace(node.share.1);
        for round in 1.. {
            let mut gaps: Vec<Vec<Gap>> = vec![Vec::new(); node.low.len()];
            for &k in &self.space.demanded {
                if self.phases[k].is_some() {
                    self.add_gaps(&node, carriers, k, &pace, &mut gaps)?;
                }
            }
            let (mut narrowed, mut split) = (false, None);
            let mut widest = FINEST;
            for (i, gaps) in gaps.iter_mut().enumerate() {
                let (low, high) = (node.low[i], node.high[i]);
                join(gaps);
                for &(from, to) in gaps.iter() {
                    if from <= node.low[i] {
                        node.low[i] = node.low[i].max(to);
                    } else if to >= node.high[i] {
                        node.high[i] = node.high[i].min(from);
                    } else if to - from > widest {
                        widest = to - from;
                        split = Some(longer_first(i, to));
                    }
                }
                narrowed |= node.low[i] > low + HAIR || node.high[i] < high - HAIR;
            }
            node = self.tighten(node)?;
            if !narrowed || round == MOST_ROUNDS {
                return Some(Common { node, split });
            }
        }
        None
    }

    /// Adds the lengths that SKU `k` does not allow; none when it allows none at all.
    fn add_gaps(&self, node: &Node, carriers: u32, k: usize, pace: &Pace<'_>, gaps: &mut [Vec<Gap>]) -> Option<()> {
        let Some(mut walk) = self.kinds_walk(node, carriers, k, pace) else { return Some(()) };
        let lead = walk.least.iter().zip(&walk.most).map(|(l, m)| vec![false; (m - l) as usize + 1]).collect();
        let mut slots = Slots { lead, free: 0, known: QuickMap::default() };
        let spare = walk.spare;
        match self.every_kind(&mut walk, &mut slots, node.low.len(), carriers, (0, spare)) {
            Some(true) => {}
            Some(false) => return None,
            // Too many to look at: nothing is certain.
            None => return Some(()),
        }
        let pitch = self.space.cell.rides()[k].pitch.m();
        for (i, gaps) in gaps.iter_mut().enumerate().skip(slots.free) {
            let step = |slots: u32| (f64::from(slots) - 1e-6) * pitch;
            for (more, _) in slots.lead[i].iter().enumerate().filter(|(_, leads)| !**leads) {
                #[allow(clippy::cast_possible_truncation)]
                let count = walk.least[i] + more as u32;
                gaps.push((step(count) - HAIR, step(count + 1) + HAIR));
            }
        }
        Some(())
    }

    /// As [`Self::some_kind`], but looks at all starts; none when they are too many.
    fn every_kind(
        &self,
        walk: &mut KindsWalk<'_>,
        slots: &mut Slots,
        before: usize,
        left: u32,
        (code, spare): (u64, f64),
    ) -> Option<bool> {
        if spare < 0.0 {
            return Some(false);
        }
        let Some(i) = before.checked_sub(1) else {
            return Some(left == 0 && self.kind_makes(walk.phases, walk.k, code, &walk.start));
        };
        let (least, most) = (walk.least[i], walk.most[i]);
        if left <= least {
            let ends = self.ends_well(walk, i, left, (code, spare));
            if ends {
                slots.free = slots.free.max(before);
            }
            return Some(ends);
        }
        if let Some(&known) = slots.known.get(&(i, left, code)) {
            return Some(known);
        }
        walk.steps = walk.steps.checked_sub(1)?;
        let mut found = false;
        for count in least..=most {
            if count >= left {
                if self.ends_well(walk, i, left, (code, spare)) {
                    slots.lead[i][(count - least) as usize..].fill(true);
                    slots.free = slots.free.max(i);
                    found = true;
                }
                break;
            }
            walk.start[i] = count;
            let next = code + walk.phases.part(i, walk.carriers - left + count);
            let spare = spare - wait_of(&walk.waits[i], count);
            if self.every_kind(walk, slots, i, left - count, (next, spare))? {
                slots.lead[i][(count - least) as usize] = true;
                found = true;
            }
        }
        walk.start[i] = 0;
        slots.known.insert((i, left, code), found);
        Some(found)
    }
}

/// Makes one of lengths that touch, in ascending order.
fn join(gaps: &mut Vec<Gap>) {
    gaps.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut joined: Vec<Gap> = Vec::with_capacity(gaps.len());
    for &(from, to) in gaps.iter() {
        match joined.last_mut() {
            // What lies between two steps less than a hair apart is out with them.
            Some(last) if from <= last.1 + HAIR => last.1 = last.1.max(to),
            _ => joined.push((from, to)),
        }
    }
    *gaps = joined;
}
