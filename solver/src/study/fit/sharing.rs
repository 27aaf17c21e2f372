//! Sharing out the track: bounds on lengths that sums imply, ways to give out what is left over, and where zones then lie.

use super::{Fit, Miss, Node};
use crate::plan::{Placed, Plan, Straight};
use crate::section::slots;
use crate::study::space::Lie;
use crate::throughput::Limit;
use crate::units::Metres;

/// A sharing is mended at most so often.
const MOST_MENDS: usize = 12;

impl Fit<'_, '_> {
    /// Frames of stations on the same side with others between them on the opposite side.
    pub(super) fn frames_across(&self) -> Vec<(Vec<usize>, f64)> {
        let n = self.space.len();
        let mut all = Vec::new();
        for from in 0..self.fold.count {
            let i = self.fold.station(n, from);
            let next_same =
                (from + 1..self.fold.count).find(|&j| self.fold.sides[self.fold.station(n, j)] == self.fold.sides[i]);
            let Some(to) = next_same.filter(|&to| to > from + 1) else { continue };
            let half = |s: usize| {
                let zone = self.chosen[s].zone.m();
                self.space.cell.parts().stations[s].frame.map_or(0.0, |f| (f.m() - zone) / 2.0)
            };
            let between: f64 = (from + 1..to).map(|j| self.chosen[self.fold.station(n, j)].zone.m()).sum();
            let least = half(i) + half(self.fold.station(n, to)) - between;
            if least > 0.0 {
                all.push(((from..to).map(|j| self.fold.station(n, j)).collect(), least));
            }
        }
        all
    }

    /// Bounds that the sums imply; none when nothing is left.
    pub(super) fn tighten(&self, mut node: Node) -> Option<Node> {
        const HAIR: f64 = 1e-9;
        let rest = self.total - node.low.iter().sum::<f64>();
        if rest < -HAIR * 10.0 {
            return None;
        }
        for i in 0..node.low.len() {
            node.high[i] = node.high[i].min(node.low[i] + rest.max(0.0));
        }
        for (sections, room) in &self.groups {
            let slack = room - sections.iter().map(|&i| node.low[i]).sum::<f64>();
            if slack < -HAIR * 10.0 {
                return None;
            }
            for &i in sections {
                node.high[i] = node.high[i].min(node.low[i] + slack.max(0.0));
            }
        }
        if node.low.iter().zip(&node.high).any(|(l, h)| l > &(h + HAIR)) || self.reach(&node) < self.total - HAIR * 10.0
        {
            return None;
        }
        Some(node)
    }

    /// The most track that the sections of a node can take.
    pub(super) fn reach(&self, node: &Node) -> f64 {
        let mut sum: f64 = node.high.iter().sum();
        for (sections, room) in &self.groups {
            let high: f64 = sections.iter().map(|&i| node.high[i]).sum();
            sum -= (high - room).max(0.0);
        }
        sum
    }

    /// Tries sharings inside a node, and says what they missed: what is left over given out in a few orders, each mended where a section has too few
    /// slots for some SKU.
    pub(super) fn try_sharings(
        &self,
        node: &Node,
        carriers: u32,
        orders: &[Vec<usize>],
    ) -> Result<(Vec<f64>, f64), Vec<Miss>> {
        let mut tried: Vec<Vec<f64>> = Vec::new();
        let mut misses = Vec::new();
        for order in orders {
            let mut base = self.lowest(node);
            for _ in 0..MOST_MENDS {
                if self.clock.over() {
                    return Err(misses);
                }
                let Some(lengths) = self.share_out(node, &base, order) else { break };
                if tried.contains(&lengths) {
                    break;
                }
                let miss = match self.check(&lengths, carriers) {
                    Ok(share) => return Ok((lengths, share)),
                    Err(miss) => miss,
                };
                tracing::trace!(carriers, ?miss, "missed");
                tried.push(lengths);
                let mended = match &miss {
                    Miss::Rate(Limit::Slots(i), k) => self.one_slot_more(node, &mut base, *i, *k),
                    Miss::Rate(Limit::DoNotFit, k) => self.slots_for(node, &mut base, carriers, *k),
                    Miss::Rate(Limit::Holes | Limit::Chain(_), k) => self.cheapest_slot(node, &mut base, *k),
                    Miss::Rate(..) | Miss::Times | Miss::Duty | Miss::Changes => false,
                };
                misses.push(miss);
                if !mended {
                    break;
                }
            }
        }
        Err(misses)
    }

    /// Room that a section has beyond its length.
    fn room(&self, node: &Node, lengths: &[f64], i: usize) -> f64 {
        let rest = self.total - lengths.iter().sum::<f64>();
        let own = node.high[i] - lengths[i];
        let groups = self.groups.iter().filter(|(sections, _)| sections.contains(&i));
        groups
            .map(|(sections, room)| room - sections.iter().map(|&s| lengths[s]).sum::<f64>())
            .fold(rest.min(own), f64::min)
    }

    /// Length that section `i` lacks to its next slot for SKU `k`.
    fn to_next_slot(&self, lengths: &[f64], i: usize, k: usize) -> f64 {
        let ride = &self.space.cell.rides()[k];
        let next = slots(Metres::from_m(lengths[i]), ride) + 1;
        f64::from(next) * ride.pitch.m() - lengths[i]
    }

    fn one_slot_more(&self, node: &Node, lengths: &mut [f64], i: usize, k: usize) -> bool {
        let step = self.to_next_slot(lengths, i, k);
        let fits = step <= self.room(node, lengths, i) + 1e-12;
        if fits {
            lengths[i] += step;
        }
        fits
    }

    /// One slot more where it takes the least track.
    fn cheapest_slot(&self, node: &Node, lengths: &mut [f64], k: usize) -> bool {
        let fitting = (0..lengths.len()).filter(|&i| self.to_next_slot(lengths, i, k) <= self.room(node, lengths, i));
        let best =
            fitting.min_by(|&a, &b| self.to_next_slot(lengths, a, k).total_cmp(&self.to_next_slot(lengths, b, k)));
        best.is_some_and(|i| self.one_slot_more(node, lengths, i, k))
    }

    /// Slots where they take the least track, until all carriers fit.
    fn slots_for(&self, node: &Node, lengths: &mut [f64], carriers: u32, k: usize) -> bool {
        let mut changed = false;
        while self.slots_of(lengths, k).iter().sum::<u32>() < carriers {
            if !self.cheapest_slot(node, lengths, k) {
                return changed;
            }
            changed = true;
        }
        changed
    }

    /// Orders in which sections take the track that is left over: ends first, then each section first.
    pub(super) fn orders(&self, node: &Node) -> Vec<Vec<usize>> {
        let n = node.low.len();
        let mut ends: Vec<usize> = (0..n).filter(|&i| matches!(self.fold.lies[i], Lie::One | Lie::Both)).collect();
        ends.extend((0..n).filter(|&i| !matches!(self.fold.lies[i], Lie::One | Lie::Both)));
        let mut all = vec![ends.clone()];
        for first in ends.clone().into_iter().skip(1) {
            let mut order = ends.clone();
            order.retain(|&i| i != first);
            order.insert(0, first);
            all.push(order);
        }
        all
    }

    /// Lowest lengths of a node, frames that reach past a neighbour kept apart.
    fn lowest(&self, node: &Node) -> Vec<f64> {
        let mut lengths = node.low.clone();
        for (sections, least) in &self.apart {
            let have: f64 = sections.iter().map(|&i| lengths[i]).sum();
            if let Some(&last) = sections.last().filter(|_| have < *least) {
                lengths[last] += least - have;
            }
        }
        lengths
    }

    /// Base lengths, and what is left over given out in this order.
    pub(super) fn share_out(&self, node: &Node, base: &[f64], order: &[usize]) -> Option<Vec<f64>> {
        let mut lengths = base.to_vec();
        let mut rest = self.total - lengths.iter().sum::<f64>();
        let mut room: Vec<f64> = self
            .groups
            .iter()
            .map(|(sections, room)| room - sections.iter().map(|&i| lengths[i]).sum::<f64>())
            .collect();
        if rest < -1e-9 || room.iter().any(|&r| r < -1e-9) {
            return None;
        }
        for &i in order {
            let group = self.groups.iter().position(|(sections, _)| sections.contains(&i));
            let most = (node.high[i] - lengths[i]).min(group.map_or(f64::INFINITY, |g| room[g])).min(rest).max(0.0);
            lengths[i] += most;
            rest -= most;
            if let Some(g) = group {
                room[g] -= most;
            }
        }
        (rest.abs() <= 1e-9).then_some(lengths)
    }

    /// The plan with these lengths.
    pub(in crate::study) fn plan(&self, lengths: &[f64], carriers: u32, share: f64) -> Plan {
        let n = self.space.len();
        let end = self.space.form(self.fold.form).end_length().m();
        let opposite = self.straight + end;
        let mut starts = vec![0.0; n];
        // The first zone begins where the straights leave room: what lies before it on its straight belongs to the last
        // section, what lies behind the last zone to the section round the end.
        let mut at = self.first_start(lengths);
        for j in 0..n {
            let i = self.fold.station(n, j);
            starts[i] = at;
            at += self.chosen[i].zone.m() + lengths[i];
        }
        let stations = (0..n).map(|i| {
            let on_second = (0..self.fold.count).all(|j| self.fold.station(n, j) != i);
            let straight = match (self.fold.straight, on_second) {
                (s, false) => s,
                (_, true) => Straight::Back,
            };
            let offset = if self.fold.straight == Straight::Back { opposite } else { 0.0 };
            Placed {
                mode: self.chosen[i].mode,
                heads: self.chosen[i].heads,
                start: Metres::from_m(starts[i] + offset),
                straight,
                stands: self.fold.sides[i],
            }
        });
        Plan {
            form: self.fold.form,
            modules: self.modules,
            acceleration_share: share,
            carriers,
            stations: stations.collect(),
            sections: lengths.iter().map(|&l| Metres::from_m(l)).collect(),
        }
    }

    /// Where on its straight the first zone begins.
    fn first_start(&self, lengths: &[f64]) -> f64 {
        let n = self.space.len();
        let used = |(sections, room): &(Vec<usize>, f64)| {
            self.straight - room + sections.iter().map(|&i| lengths[i]).sum::<f64>()
        };
        if self.groups.len() < 2 {
            // As far forward as the last section allows is as good as any: the middle of what is left.
            return ((self.straight - used(&self.groups[0])) / 2.0).max(0.0);
        }
        let end = self.space.form(self.fold.form).end_length().m();
        let turn = lengths[self.fold.station(n, self.fold.count - 1)] - end;
        let (front, back) = (used(&self.groups[0]), used(&self.groups[1]));
        // s + front + behind = straight, behind + before = turn, before + back + rest = straight; all at least 0.
        let least = (self.straight - front - turn).max(0.0);
        let most = (self.straight - front).min(2.0 * self.straight - front - turn - back);
        f64::midpoint(least, most.max(least)).clamp(0.0, (self.straight - front).max(0.0))
    }
}
