//! Shares the track of every circuit out again, so that the two zones of each hand-off lie at the same place along the floor and
//! the whole is as short as can be, with as little change as will do.

use super::placing::{Body, in_each_others_way};
use super::{CoupledCell, CoupledPlan, Joint, Stand};
use crate::cell::Cell;
use crate::milp::{Answer, Program};
use crate::plan::{Numbers, Plan, Straight};
use crate::rules::frames_apart;
use crate::section::{Ends, base_slots};
use crate::units::Metres;

/// Weight of a metre of track that is moved, beside a metre of floor length.
const MOVED: f64 = 1e-4;

/// Weight of a slot that a section loses.
const LOST: f64 = 1e-3;

/// Seconds that one sharing may take to find.
const SECONDS: f64 = 2.0;

/// How much of the plans' own sharing is kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Keep {
    /// Every section keeps the slots that it has.
    Slots,
    /// Every section has the slots that batches and ride-through need, and all of them together hold the carriers of the SKU
    /// with the longest pitch.
    Carriers,
    /// Every section has the slots that batches and ride-through need.
    Needs,
}

/// A place along the floor: a constant and weighted columns.
#[derive(Clone, Default)]
struct Sum {
    constant: f64,
    terms: Vec<(usize, f64)>,
}

impl Sum {
    fn plus(mut self, constant: f64) -> Self {
        self.constant += constant;
        self
    }

    fn with(mut self, column: usize, weight: f64) -> Self {
        self.terms.push((column, weight));
        self
    }

    fn minus(mut self, other: &Self) -> Self {
        self.constant -= other.constant;
        self.terms.extend(other.terms.iter().map(|&(column, weight)| (column, -weight)));
        self
    }
}

/// One circuit's columns.
struct Line {
    /// Stations of each straight in travel order, with the column of the first zone's start.
    groups: Vec<(Straight, Vec<usize>, usize)>,
    /// By section: its column where it lies on one straight.
    inner: Vec<Option<usize>>,
    /// By station: start of its zone, from the start of its straight.
    starts: Vec<Sum>,
    offset: usize,
}

struct Aligning<'a> {
    coupled: &'a CoupledCell,
    plans: &'a [Plan],
    numbers: &'a [Numbers],
    keep: Keep,
    /// Lengths that sections have at least, by circuit.
    at_least: &'a [Vec<f64>],
    program: Program,
}

/// The plans with their track shared out anew, and the offsets; none where no sharing brings all hand-offs together.
pub(super) fn align(
    coupled: &CoupledCell,
    plans: &[Plan],
    numbers: &[Numbers],
    keep: Keep,
    at_least: &[Vec<f64>],
) -> Option<CoupledPlan> {
    let span = 2.0 * plans.iter().zip(coupled.cells()).map(|(p, cell)| 2.0 + p.straight(cell).m()).sum::<f64>();
    let mut aligning = Aligning { coupled, plans, numbers, keep, at_least, program: Program::default() };
    let lines: Option<Vec<Line>> = (0..plans.len()).map(|c| aligning.line(c, span)).collect();
    let lines = lines?;
    let left = aligning.program.column(-span, span, false, -1.0);
    let right = aligning.program.column(-span, span, false, 1.0);
    for (c, line) in lines.iter().enumerate() {
        aligning.within(c, line, left, right);
    }
    for joint in &coupled.parts().joints {
        aligning.meet(joint, &lines);
    }
    aligning.apart(&lines, span);
    let Answer::Optimal { values, .. } = aligning.program.solve(SECONDS) else { return None };
    let plans = lines.iter().enumerate().map(|(c, line)| aligning.read(c, line, &values)).collect();
    let offsets = lines.iter().map(|line| Metres::from_m(values[line.offset])).collect();
    Some(CoupledPlan { plans, offsets })
}

impl Aligning<'_> {
    fn cell(&self, c: usize) -> &Cell {
        &self.coupled.cells()[c]
    }

    /// Least length of a section, by what is to be kept.
    fn least(&self, c: usize, i: usize) -> f64 {
        let (cell, plan, numbers) = (self.cell(c), &self.plans[c], &self.numbers[c]);
        let parts = cell.parts();
        let next = (i + 1) % cell.len();
        let mut least = parts.sections[i].min_length.m().max(self.at_least[c][i]);
        for (k, ride) in cell.rides().iter().enumerate() {
            let (up, down) = (&numbers.options[i].skus[k], &numbers.options[next].skus[k]);
            let slots = match self.keep {
                Keep::Slots => numbers.slots[i][k],
                Keep::Carriers | Keep::Needs => base_slots(up.batch, down.batch, ride, parts.sections[i].ride_through),
            };
            least = least.max(f64::from(slots) * ride.pitch.m());
        }
        if numbers.ends[i] == Ends::None && plan.stations[i].stands == plan.stations[next].stands {
            // A hand-off's floor is as long as its longer zone; it is in the way of floor only.
            let floor = [i, next].iter().all(|&s| parts.stations[s].depth.m() > 0.0 || self.joint_zone(c, s).is_some());
            let frame = |s: usize| {
                let joint = self.joint_zone(c, s).filter(|_| floor);
                (parts.stations[s].frame.map(Metres::m).or(joint), numbers.options[s].zone.m())
            };
            least = least.max(frames_apart(frame(i), frame(next)));
        }
        // A slot may hang on the last digit.
        if least <= plan.sections[i].m() + 1e-9 { least.min(plan.sections[i].m()) } else { least }
    }

    /// The longer of both zones of a station that hands product over.
    fn joint_zone(&self, c: usize, station: usize) -> Option<f64> {
        let joint = self.coupled.joint_at(Stand { circuit: c, station })?;
        let zone = |s: Stand| self.numbers[s.circuit].options[s.station].zone.m();
        Some(zone(joint.first).max(zone(joint.second)))
    }

    /// Largest length: no longer than it is where carriers must not be long on their way.
    fn most(&self, c: usize, i: usize, span: f64) -> f64 {
        let limited = self.cell(c).parts().sections[i].max_time.is_some();
        if limited { self.plans[c].sections[i].m() } else { span }
    }

    /// Adds the columns of a circuit, and what keeps its sections long enough.
    fn line(&mut self, c: usize, span: f64) -> Option<Line> {
        let (cell, plan) = (&self.coupled.cells()[c], &self.plans[c]);
        let (n, straight) = (cell.len(), plan.straight(cell).m());
        let end = plan.form(cell)?.end_length().m();
        let zone = |s: usize| self.numbers[c].options[s].zone.m();
        let zones: Vec<f64> = (0..n).map(zone).collect();
        let first_on = |straight: Straight| {
            let mut there: Vec<usize> = (0..n).filter(|&s| plan.stations[s].straight == straight).collect();
            there.sort_by(|&a, &b| plan.stations[a].start.m().total_cmp(&plan.stations[b].start.m()));
            (straight, there)
        };
        let offset = if c == 0 {
            self.program.column(0.0, 0.0, false, 0.0)
        } else {
            self.program.column(-span, span, false, 0.0)
        };
        let mut line = Line { groups: Vec::new(), inner: vec![None; n], starts: vec![Sum::default(); n], offset };
        let mut sections: Vec<(usize, Sum)> = Vec::with_capacity(n);
        let groups = [Straight::Front, Straight::Top, Straight::Back].map(first_on);
        for (on, there) in groups.into_iter().filter(|(_, there)| !there.is_empty()) {
            let start = self.program.column(0.0, straight, false, 0.0);
            let mut at = Sum::default().with(start, 1.0);
            for (j, &s) in there.iter().enumerate() {
                line.starts[s] = at.clone();
                at = at.plus(zones[s]);
                if j + 1 < there.len() {
                    let was = plan.sections[s].m();
                    let (least, most) = (self.least(c, s), self.most(c, s, span));
                    let length = self.program.column(least, most.max(least), false, 0.0);
                    self.stay(&Sum::default().with(length, 1.0), was, span);
                    sections.push((s, Sum::default().with(length, 1.0)));
                    line.inner[s] = Some(length);
                    at = at.with(length, 1.0);
                }
            }
            self.program.row(at.terms.clone(), f64::NEG_INFINITY, straight - at.constant);
            line.groups.push((on, there, start));
        }
        // Sections round the ends.
        let count = line.groups.len();
        for g in 0..count {
            let (Some(&last), Some(&first)) = (line.groups[g].1.last(), line.groups[(g + 1) % count].1.first()) else {
                continue;
            };
            let arc = if count == 1 { 2.0 * end + 2.0 * straight } else { end + straight };
            let length = line.starts[first].clone().plus(arc - zones[last]).minus(&line.starts[last]);
            let (least, most) = (self.least(c, last), self.most(c, last, span));
            self.stay(&length, plan.sections[last].m(), span);
            let high = if most < span { most - length.constant } else { f64::INFINITY };
            self.program.row(length.terms.clone(), least - length.constant, high);
            sections.push((last, length));
        }
        if self.keep == Keep::Carriers {
            self.hold_carriers(c, &sections);
        }
        Some(line)
    }

    /// Whole slots in all sections for the carriers of a circuit, with the longest pitch of all SKUs; as many in each as it had,
    /// where that can be.
    fn hold_carriers(&mut self, c: usize, sections: &[(usize, Sum)]) {
        let pitch = self.cell(c).rides().iter().map(|ride| ride.pitch.m()).fold(0.0, f64::max);
        let plan = &self.plans[c];
        let count = f64::from(plan.carriers);
        let mut all = Vec::with_capacity(sections.len());
        for (section, length) in sections {
            let slots = self.program.column(0.0, count, true, 0.0);
            let free = length.clone().with(slots, -pitch);
            self.program.row(free.terms, -free.constant, f64::INFINITY);
            all.push((slots, 1.0));
            // The plan's own were found to make its rates.
            let had = (plan.sections[*section].m() / pitch + 1e-6).floor().min(count);
            let lost = self.program.column(0.0, count, false, LOST);
            self.program.row(vec![(slots, 1.0), (lost, 1.0)], had, f64::INFINITY);
        }
        self.program.row(all, count, f64::INFINITY);
    }

    /// A length stays what it was, as far as it can.
    fn stay(&mut self, length: &Sum, was: f64, span: f64) {
        let more = self.program.column(0.0, 2.0 * span, false, MOVED);
        let less = self.program.column(0.0, 2.0 * span, false, MOVED);
        let mut terms = length.terms.clone();
        terms.extend([(more, -1.0), (less, 1.0)]);
        let there = was - length.constant;
        self.program.row(terms, there, there);
    }

    /// Centre of a station's zone along the floor.
    fn centre(&self, c: usize, s: usize, line: &Line) -> Sum {
        let half = self.numbers[c].options[s].zone.m() / 2.0;
        let offset = Sum::default().with(line.offset, 1.0);
        let start = line.starts[s].clone().plus(half);
        if self.plans[c].stations[s].straight == Straight::Back {
            return offset.plus(self.plans[c].straight(self.cell(c)).m()).minus(&start);
        }
        let mut at = offset.plus(start.constant);
        at.terms.extend(start.terms);
        at
    }

    /// Loop and floors lie between the left and the right of the whole.
    fn within(&mut self, c: usize, line: &Line, left: usize, right: usize) {
        let (cell, plan) = (&self.coupled.cells()[c], &self.plans[c]);
        let Some(form) = plan.form(cell) else { return };
        let reach = Body::of(cell, form).reach;
        self.program.row(vec![(line.offset, 1.0), (left, -1.0)], reach, f64::INFINITY);
        self.program.row(vec![(right, 1.0), (line.offset, -1.0)], plan.straight(cell).m() + reach, f64::INFINITY);
        for (s, station) in cell.parts().stations.iter().enumerate() {
            let Some(frame) = station.frame.map(|f| f.m() / 2.0) else { continue };
            // Zones lie on straights, so that only frames can jut out.
            let at = self.centre(c, s, line);
            let mut terms = at.terms.clone();
            terms.push((left, -1.0));
            self.program.row(terms, frame - at.constant, f64::INFINITY);
            let mut terms: Vec<(usize, f64)> = at.terms.iter().map(|&(column, weight)| (column, -weight)).collect();
            terms.push((right, 1.0));
            self.program.row(terms, frame + at.constant, f64::INFINITY);
        }
    }

    fn meet(&mut self, joint: &Joint, lines: &[Line]) {
        let (one, two) = (joint.first, joint.second);
        let apart = self.centre(one.circuit, one.station, &lines[one.circuit]).minus(&self.centre(
            two.circuit,
            two.station,
            &lines[two.circuit],
        ));
        self.program.row(apart.terms, -apart.constant, -apart.constant);
    }

    /// Floors of stations of different circuits that could overlap lie one behind the other.
    fn apart(&mut self, lines: &[Line], span: f64) {
        let (cells, plans) = (self.coupled.cells(), self.plans);
        let bodies: Option<Vec<Body>> =
            cells.iter().zip(plans).map(|(cell, p)| p.form(cell).map(|form| Body::of(cell, form))).collect();
        let Some(bodies) = bodies else { return };
        let deepest: Vec<(f64, f64)> =
            cells.iter().zip(plans).map(|(cell, p)| p.deepest(cell)).map(|(f, b)| (f.m(), b.m())).collect();
        let stands = |s: Stand| plans[s.circuit].stations[s.station].stands;
        for (one, two) in in_each_others_way(self.coupled, &bodies, &deepest, stands) {
            let half = |s: Stand| self.floor_length(s) / 2.0;
            let needed = half(one) + half(two);
            let centre = |s: Stand| self.centre(s.circuit, s.station, &lines[s.circuit]);
            let apart = centre(two).minus(&centre(one));
            // Which of them comes first.
            let first = self.program.column(0.0, 1.0, true, 0.0);
            let most = 2.0 * span + needed;
            let after = apart.clone().with(first, -most);
            self.program.row(after.terms, needed - most - after.constant, f64::INFINITY);
            let before = apart.with(first, -most);
            self.program.row(before.terms, f64::NEG_INFINITY, -needed - before.constant);
        }
    }

    /// Length of a station's floor.
    fn floor_length(&self, s: Stand) -> f64 {
        let parts = self.coupled.parts();
        let between_rows = self.coupled.joint_at(s).is_some_and(|j| !parts.above(j.first.circuit, j.second.circuit));
        let longer = self.joint_zone(s.circuit, s.station).filter(|_| between_rows);
        let frame = self.cell(s.circuit).parts().stations[s.station].frame.map(Metres::m);
        frame.or(longer).unwrap_or(self.numbers[s.circuit].options[s.station].zone.m())
    }

    /// The plan of a circuit with the lengths found.
    fn read(&self, c: usize, line: &Line, values: &[f64]) -> Plan {
        let (cell, was) = (self.cell(c), &self.plans[c]);
        let straight = was.straight(cell).m();
        let end = was.form(cell).map_or(0.0, |f| f.end_length().m());
        let zone = |s: usize| self.numbers[c].options[s].zone.m();
        let mut plan = was.clone();
        for (on, there, start) in &line.groups {
            let base = if *on == Straight::Back { straight + end } else { 0.0 };
            let mut at = values[*start].clamp(0.0, straight);
            for &s in there {
                plan.stations[s].start = Metres::from_m(base + at);
                at += zone(s);
                if let Some(column) = line.inner[s] {
                    let bounds = self.program.columns[column];
                    let length = values[column].clamp(bounds.low, bounds.high);
                    plan.sections[s] = Metres::from_m(length);
                    at += length;
                }
            }
        }
        let whole = 2.0 * (straight + end);
        for s in (0..cell.len()).filter(|&s| line.inner[s].is_none()) {
            let next = plan.stations[(s + 1) % cell.len()].start.m();
            let from = plan.stations[s].start.m() + zone(s);
            let length = next - from;
            plan.sections[s] = Metres::from_m(if length < -1e-9 || cell.len() == 1 { length + whole } else { length });
        }
        plan
    }
}
