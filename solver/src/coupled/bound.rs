//! The floor that loops take at least: as deep as their rows, and as long as they are when their hand-offs meet.

use super::placing::{Body, rows};
use super::search::{SAME_AREA, Search};
use super::states::State;
use super::{CoupledCell, Stand};
use crate::milp::{Answer, Program};
use crate::study::Shape;
use crate::track::{Footprint, Plane, Side};
use crate::units::Metres;

/// Least and greatest.
type Span = (f64, f64);

impl Search<'_> {
    /// The whole is no smaller than this: as deep as its rows, and as long as its loops when their hand-offs meet; none where
    /// they cannot.
    pub(super) fn least_footprint(&self, loops: &[(usize, u32)]) -> Option<Footprint> {
        let (bodies, deepest) = self.outlines(loops);
        let straights: Vec<f64> = loops.iter().enumerate().map(|(c, &outline)| self.straight(c, outline)).collect();
        // Where the middle of a zone can lie, from the start of the front straight along the floor.
        let range = |stand: Stand| {
            let (shape, straight) = (&self.shapes[stand.circuit][loops[stand.circuit].0], straights[stand.circuit]);
            let place = asked_on(self.coupled, stand.circuit).iter().position(|&s| s == stand.station)?;
            let (before, after) = shape.beside[place];
            let (low, high) = (before, straight - after);
            let back = shape.lay.sides[stand.station] == Side::Back && !self.upright(stand.circuit, shape);
            Some(if back { (straight - high, straight - low) } else { (low, high) })
        };
        let mut spans: Vec<Span> =
            bodies.iter().zip(&straights).map(|(body, &s)| (-body.reach, s + body.reach)).collect();
        for (circuit, span) in spans.iter_mut().enumerate() {
            for station in asked_on(self.coupled, circuit) {
                let stand = Stand { circuit, station };
                let (Some(frame), Some((low, high))) = (frame_on_floor(self.coupled, stand), range(stand)) else {
                    continue;
                };
                let half = frame / 2.0;
                *span = (span.0.min(high - half), span.1.max(low + half));
            }
        }
        let mut shifts: Vec<(usize, usize, Span)> = Vec::new();
        for joint in &self.coupled.parts().joints {
            let (one, two) = (range(joint.first)?, range(joint.second)?);
            // The second circuit begins so much further along the floor than the first.
            let shift = (one.0 - two.1, one.1 - two.0);
            let pair = (joint.first.circuit, joint.second.circuit);
            match shifts.iter_mut().find(|s| (s.0, s.1) == pair) {
                Some(known) => known.2 = (known.2.0.max(shift.0), known.2.1.min(shift.1)),
                None => shifts.push((pair.0, pair.1, shift)),
            }
        }
        let length = least_length(&spans, &shifts)?;
        Some(self.footprint(&bodies, &deepest, length))
    }

    fn footprint(&self, bodies: &[Body], deepest: &[(f64, f64)], length: f64) -> Footprint {
        let clearance = self.coupled.parts().requirements.clearance;
        let across = rows(self.coupled, bodies, deepest).across;
        let own = Footprint {
            length: Metres::from_m(length + clearance.along()),
            width: Metres::from_m(across + clearance.across()),
        };
        self.coupled.with_feed(own)
    }

    /// Bodies and deepest stations of loops.
    fn outlines(&self, loops: &[(usize, u32)]) -> (Vec<Body>, Vec<(f64, f64)>) {
        let (mut bodies, mut deepest) = (Vec::with_capacity(loops.len()), Vec::with_capacity(loops.len()));
        for (c, &(s, _)) in loops.iter().enumerate() {
            let shape = &self.shapes[c][s];
            bodies.push(self.bodies[c][shape.lay.form]);
            deepest.push((shape.deepest.0.m(), shape.deepest.1.m()));
        }
        (bodies, deepest)
    }

    /// Length of the straights of circuit `c` in an outline.
    pub(super) fn straight(&self, c: usize, (_, modules): (usize, u32)) -> f64 {
        f64::from(modules) * self.coupled.cells()[c].parts().circuit.track.module.m()
    }

    /// The floor area of a state where loops and stations are so long together.
    pub(super) fn area_at(&self, state: &State, length: f64) -> f64 {
        let (bodies, deepest) = self.outlines(&state.loops);
        self.footprint(&bodies, &deepest, length).area().m2()
    }

    /// The greatest length along the floor with which a state takes no more than an area.
    pub(super) fn longest(&self, state: &State, area: f64) -> f64 {
        let (bodies, deepest) = self.outlines(&state.loops);
        let fits = |length: f64| self.footprint(&bodies, &deepest, length).area().m2() <= area + SAME_AREA;
        if !area.is_finite() {
            return f64::INFINITY;
        }
        let (mut low, mut high) = (0.0, 1.0);
        while fits(high) {
            (low, high) = (high, 2.0 * high);
        }
        while high - low > 1e-10 {
            let middle = f64::midpoint(low, high);
            if fits(middle) { low = middle } else { high = middle }
        }
        low
    }

    pub(super) fn upright(&self, c: usize, shape: &Shape) -> bool {
        self.coupled.cells()[c].parts().circuit.track.forms[shape.lay.form].plane == Plane::Upright
    }
}

/// Least length of floor that holds all loops, each from `span` round the start of its straight, when the second of each pair
/// begins by some shift within a span after the first; none when no shifts will do. A rounding less, so that it is a bound.
fn least_length(spans: &[Span], shifts: &[(usize, usize, Span)]) -> Option<f64> {
    const SLACK: f64 = 1e-9;
    if shifts.iter().any(|(_, _, shift)| shift.0 > shift.1 + SLACK) {
        return None;
    }
    let longest = spans.iter().map(|s| s.1 - s.0).fold(0.0, f64::max);
    if let ([one, two], [(_, _, shift)]) = (spans, shifts) {
        // Where the shorter lies within the longer there is no more to gain; else as near to that as can be.
        let (left, right) = (one.0 - two.0, one.1 - two.1);
        let within = (left.min(right), left.max(right));
        let at = within.0.max(shift.0).min(within.1.max(shift.0)).min(shift.1);
        return Some((one.1.max(two.1 + at) - one.0.min(two.0 + at)).max(longest));
    }
    let far = 2.0 * spans.iter().map(|s| s.1 - s.0).sum::<f64>();
    let mut program = Program::default();
    let starts: Vec<usize> = spans.iter().map(|_| program.column(-far, far, false, 0.0)).collect();
    let (left, right) = (program.column(-far, far, false, -1.0), program.column(-far, far, false, 1.0));
    for (&start, span) in starts.iter().zip(spans) {
        program.row(vec![(start, 1.0), (left, -1.0)], -span.0, f64::INFINITY);
        program.row(vec![(right, 1.0), (start, -1.0)], span.1, f64::INFINITY);
    }
    for &(one, two, shift) in shifts {
        program.row(vec![(starts[two], 1.0), (starts[one], -1.0)], shift.0 - SLACK, shift.1 + SLACK);
    }
    match program.solve(1.0) {
        Answer::Optimal { value, .. } => Some((value - SLACK).max(longest)),
        Answer::Infeasible => None,
        Answer::Unknown => Some(longest),
    }
}

/// The stations of a circuit of which it matters where on their straight they stand: those that hand product over, and those whose
/// frames may jut out.
pub(super) fn asked_on(coupled: &CoupledCell, circuit: usize) -> Vec<usize> {
    let matters = |&station: &usize| {
        let stand = Stand { circuit, station };
        coupled.joint_at(stand).is_some() || frame_on_floor(coupled, stand).is_some()
    };
    (0..coupled.cells()[circuit].len()).filter(matters).collect()
}

/// The frame that a station was given, where it takes floor at all, m.
pub(super) fn frame_on_floor(coupled: &CoupledCell, stand: Stand) -> Option<f64> {
    let station = &coupled.cells()[stand.circuit].parts().stations[stand.station];
    let depth = coupled.joint_at(stand).map_or(station.depth, |joint| coupled.joint_depth(joint));
    station.frame.filter(|_| depth.m() > 0.0).map(Metres::m)
}
