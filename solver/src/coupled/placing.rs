//! How the loops of a coupled cell lie on the floor: rows beside each other, hand-offs between them.
//!
//! Along the floor, x runs in the travel direction of front straights; across it, y runs from the front to the back.

use super::{CoupledCell, CoupledPlan, Joint, Stand};
use crate::cell::Cell;
use crate::openings::Hand;
use crate::option::StationOption;
use crate::plan::{Numbers, Plan, Straight};
use crate::track::{Clearance, Footprint, Form, Plane, Side, corner_reach};
use crate::units::Metres;

/// Floors may overlap by no more than this, m.
pub(super) const OVERLAP_M: f64 = 1e-6;

/// A rectangle of floor, in metres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rect {
    /// Least and greatest x.
    pub x: (f64, f64),
    /// Least and greatest y.
    pub y: (f64, f64),
}

impl Rect {
    /// How deep two rectangles reach into each other: the lesser of both overlaps, below zero when they are apart.
    #[must_use]
    pub fn overlap(&self, other: &Self) -> f64 {
        let along = self.x.1.min(other.x.1) - self.x.0.max(other.x.0);
        along.min(self.y.1.min(other.y.1) - self.y.0.max(other.y.0))
    }
}

/// A circuit's loop, seen from above.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Body {
    /// From the middle line of the loop to the outer edge of its straights.
    pub(super) edge: f64,
    /// How far the ends reach beyond that edge.
    pub(super) corner: f64,
    /// How far the ends reach beyond the straights, along the floor.
    pub(super) reach: f64,
}

impl Body {
    pub(super) fn of(cell: &Cell, form: &Form) -> Self {
        let around = cell.surroundings();
        let reach = corner_reach(form, &around).m();
        let outer = form.radius.m() + around.width.m() / 2.0;
        match form.plane {
            Plane::Flat => Self { edge: form.cross.m() / 2.0 + outer, corner: (reach - outer).max(0.0), reach },
            Plane::Upright => Self { edge: around.width.m() / 2.0, corner: 0.0, reach },
        }
    }

    /// What the loop takes on one side, from its middle line, with stations of this depth.
    pub(super) fn side(&self, deepest: f64) -> f64 {
        self.edge + deepest.max(self.corner)
    }
}

/// What the rows of a coupled cell take across the floor.
pub(super) struct Rows {
    /// Middle line of each circuit, by circuit; those over another one have its middle line.
    pub(super) middle: Vec<f64>,
    /// All of them together.
    pub(super) across: f64,
}

/// Rows from the bodies of all circuits and their deepest stations at front and back, hand-offs between rows left out.
pub(super) fn rows(coupled: &CoupledCell, bodies: &[Body], deepest: &[(f64, f64)]) -> Rows {
    let parts = coupled.parts();
    let order = parts.rows();
    let in_row = |row: usize| (0..bodies.len()).filter(move |&c| c == row || parts.circuits[c].above == Some(row));
    let front = |row: usize| in_row(row).map(|c| bodies[c].side(deepest[c].0)).fold(0.0, f64::max);
    let back = |row: usize| in_row(row).map(|c| bodies[c].side(deepest[c].1)).fold(0.0, f64::max);
    let mut middle = vec![0.0; bodies.len()];
    let Some(&first) = order.first() else { return Rows { middle, across: 0.0 } };
    middle[first] = front(first);
    let mut last = first;
    for pair in order.windows(2) {
        let (one, two) = (pair[0], pair[1]);
        let between = |j: &&Joint| j.first.circuit == one && j.second.circuit == two;
        let reach = parts.joints.iter().filter(between).map(|j| coupled.joint_depth(j).m()).fold(0.0, f64::max);
        let linked = bodies[one].edge + reach + bodies[two].edge;
        middle[two] = middle[one] + linked.max(back(one) + front(two));
        last = two;
    }
    for (circuit, own) in parts.circuits.iter().enumerate() {
        if let Some(below) = own.above {
            middle[circuit] = middle[below];
        }
    }
    let across = middle[last] + back(last);
    Rows { middle, across }
}

/// How a plan lies on the floor.
#[derive(Clone, Debug, PartialEq)]
pub struct Placed {
    /// Bounding rectangle with clearance, of loops and stations and what feeds them.
    pub footprint: Footprint,
    /// The same of loops and stations alone.
    pub own_footprint: Footprint,
    /// Where the floor of what feeds them begins, from the front left corner of loops and stations without clearance, seen
    /// from the front.
    pub feed: Option<(Metres, Metres)>,
    /// Middle line of each circuit, from the front of the cell without clearance.
    pub middle: Vec<Metres>,
    /// The same for each circuit's loop with its ends.
    pub loops: Vec<Rect>,
    /// Floor of each station, once: a hand-off is listed on its first circuit.
    pub floors: Vec<(Stand, Rect)>,
    /// Least x of everything; offsets are counted from any origin.
    pub least_x: Metres,
}

/// From where to where a station's floor reaches across the cell.
fn floor_across(coupled: &CoupledCell, bodies: &[Body], rows: &Rows, stand: Stand, stands: Side) -> (f64, f64) {
    let c = stand.circuit;
    let (y, edge) = (rows.middle[c], bodies[c].edge);
    match coupled.joint_at(stand) {
        Some(j) if !coupled.parts().above(j.first.circuit, j.second.circuit) => {
            let (one, two) = (j.first.circuit, j.second.circuit);
            (rows.middle[one] + bodies[one].edge, rows.middle[two] - bodies[two].edge)
        }
        _ => {
            let depth = coupled.cells()[c].parts().stations[stand.station].depth.m();
            match stands {
                Side::Front => (y - edge - depth, y - edge),
                Side::Back => (y + edge, y + edge + depth),
            }
        }
    }
}

/// Pairs of stations of different circuits whose floors would overlap at the same place along the cell: one of them lies further
/// on. Hand-offs count on their first circuit.
pub(super) fn in_each_others_way(
    coupled: &CoupledCell,
    bodies: &[Body],
    deepest: &[(f64, f64)],
    stands: impl Fn(Stand) -> Side,
) -> Vec<(Stand, Stand)> {
    let rows = rows(coupled, bodies, deepest);
    let mut floors: Vec<(Stand, (f64, f64))> = Vec::new();
    for (circuit, cell) in coupled.cells().iter().enumerate() {
        for station in 0..cell.len() {
            let stand = Stand { circuit, station };
            if coupled.joint_at(stand).is_none_or(|joint| joint.first == stand) {
                floors.push((stand, floor_across(coupled, bodies, &rows, stand, stands(stand))));
            }
        }
    }
    let mut pairs = Vec::new();
    for (i, (one, a)) in floors.iter().enumerate() {
        for (two, b) in &floors[i + 1..] {
            if one.circuit != two.circuit && a.1.min(b.1) - a.0.max(b.0) > OVERLAP_M {
                pairs.push((*one, *two));
            }
        }
    }
    pairs
}

/// Centre of a station's zone along the floor, from the start of its circuit's front straight.
pub(super) fn centre(plan: &Plan, options: &[StationOption], cell: &Cell, station: usize) -> f64 {
    plan.centre(cell, options, station).m()
}

/// Lays a plan out. `numbers` are those of its circuits; none when a form is not there.
#[must_use]
pub fn place(coupled: &CoupledCell, plan: &CoupledPlan, numbers: &[Numbers]) -> Option<Placed> {
    let cells = coupled.cells();
    let bodies: Option<Vec<Body>> =
        cells.iter().zip(&plan.plans).map(|(cell, p)| p.form(cell).map(|form| Body::of(cell, form))).collect();
    let bodies = bodies?;
    let deepest: Vec<(f64, f64)> =
        cells.iter().zip(&plan.plans).map(|(cell, p)| p.deepest(cell)).map(|(f, b)| (f.m(), b.m())).collect();
    let rows = rows(coupled, &bodies, &deepest);
    let mut loops = Vec::with_capacity(cells.len());
    let mut floors = Vec::new();
    for (c, (cell, own)) in cells.iter().zip(&plan.plans).enumerate() {
        let (o, length, body) = (plan.offsets[c].m(), own.straight(cell).m(), &bodies[c]);
        let half = body.edge + body.corner;
        let y = rows.middle[c];
        loops.push(Rect { x: (o - body.reach, o + length + body.reach), y: (y - half, y + half) });
        for (s, station) in cell.parts().stations.iter().enumerate() {
            let stand = Stand { circuit: c, station: s };
            let joint = coupled.joint_at(stand);
            if joint.is_some_and(|j| j.second == stand) {
                continue;
            }
            let mut long = station.frame.map_or(numbers[c].options[s].zone.m(), Metres::m);
            let at = o + centre(own, &numbers[c].options, cell, s);
            let between_rows = joint.filter(|j| !coupled.parts().above(j.first.circuit, j.second.circuit));
            if let (Some(j), None) = (between_rows, station.frame) {
                long = long.max(numbers[j.second.circuit].options[j.second.station].zone.m());
            }
            let across = floor_across(coupled, &bodies, &rows, stand, own.stations[s].stands);
            if across.1 > across.0 {
                floors.push((stand, Rect { x: (at - long / 2.0, at + long / 2.0), y: across }));
            }
        }
    }
    let all = loops.iter().chain(floors.iter().map(|(_, rect)| rect));
    let (low, high) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), r| (l.min(r.x.0), h.max(r.x.1)));
    let clearance = coupled.parts().requirements.clearance;
    let size = |more: &Clearance| Footprint {
        length: Metres::from_m(high - low + more.along()),
        width: Metres::from_m(rows.across + more.across()),
    };
    let feed = coupled.feed().and_then(|feed| {
        let station = |cell: &Cell| cell.parts().stations.iter().position(|s| s.id == feed.into);
        let (c, s) = cells.iter().enumerate().find_map(|(c, cell)| station(cell).map(|s| (c, s)))?;
        let form = plan.plans[c].form(&cells[c])?;
        let half = if form.plane == Plane::Flat { form.radius.m() + form.cross.m() / 2.0 } else { 0.0 };
        let aside = match plan.plans[c].stations[s].straight {
            Straight::Front => -half,
            Straight::Back => half,
            Straight::Top => 0.0,
        };
        let x = plan.offsets[c].m() + centre(&plan.plans[c], &numbers[c].options, &cells[c], s) - low;
        let x = if plan.hand(coupled) == Hand::LeftToRight { x } else { high - low - x };
        Some(feed.corner(&size(&Clearance::ZERO), (Metres::from_m(x), Metres::from_m(rows.middle[c] + aside))))
    });
    let own_footprint = size(&clearance);
    Some(Placed {
        footprint: coupled.with_feed(own_footprint),
        own_footprint,
        feed,
        middle: rows.middle.into_iter().map(Metres::from_m).collect(),
        loops,
        floors,
        least_x: Metres::from_m(low),
    })
}
