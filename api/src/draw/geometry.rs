//! Where everything lies, in metres: read from the plan document, the same for every kind of drawing.
//!
//! A flat loop is seen from above: x along the front straight in travel direction, y towards the back, the origin on the
//! track's middle line where the front straight begins. An upright loop is seen from the front, x along the top straight
//! in travel direction, y upwards, the origin where the top straight begins; and once more from above. A cell whose carriers
//! travel from right to left along the front is the mirror image: x still runs from left to right.

use std::f64::consts::{FRAC_PI_2, PI};

use crate::wire::plan::{
    AskedClearance, AskedOpening, Planned, PlannedCellSide, PlannedCircuit, PlannedPlacing, PlannedPlane, PlannedSide,
    PlannedStation, PlannedStraight,
};

/// A point, in metres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Along the front or top straight.
    pub x: f64,
    /// Towards the back, or upwards.
    pub y: f64,
}

/// An upright rectangle, in metres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rect {
    /// Left.
    pub x0: f64,
    /// Lower edge.
    pub y0: f64,
    /// Right.
    pub x1: f64,
    /// Upper edge.
    pub y1: f64,
}

impl Rect {
    /// Its size along x.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.x1 - self.x0
    }

    /// Its size along y.
    #[must_use]
    pub fn width(&self) -> f64 {
        self.y1 - self.y0
    }

    /// The least that holds another one too.
    #[must_use]
    pub fn with(&self, other: &Self) -> Self {
        Self {
            x0: self.x0.min(other.x0),
            y0: self.y0.min(other.y0),
            x1: self.x1.max(other.x1),
            y1: self.y1.max(other.y1),
        }
    }

    /// Larger by so much all round.
    #[must_use]
    pub fn grown(&self, by: f64) -> Self {
        Self { x0: self.x0 - by, y0: self.y0 - by, x1: self.x1 + by, y1: self.y1 + by }
    }
}

impl Rect {
    /// With the clearance of each side.
    #[must_use]
    pub(super) fn with_clearance(&self, sides: &AskedClearance) -> Self {
        Self {
            x0: self.x0 - sides.left_m,
            y0: self.y0 - sides.front_m,
            x1: self.x1 + sides.right_m,
            y1: self.y1 + sides.back_m,
        }
    }
}

/// A step of an outline: where it leads.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Step {
    /// Straight.
    Line(Point),
    /// A quarter of a circle or less, of this radius, to the side to which the loop turns.
    Arc(Point, f64),
}

/// A place on the loop: the point and the direction of travel, in radians from the x axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pose {
    /// Where.
    pub at: Point,
    /// Whereto.
    pub heading: f64,
}

/// Where product comes into the cell, or leaves it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Flow {
    /// Whether it comes in.
    pub(super) infeed: bool,
    /// Where it crosses the edge of a station's floor, or of the cell's end.
    pub(super) at: Point,
    /// Whereto it travels, in radians from the x axis.
    pub(super) heading: f64,
}

/// A loop with what stands round it.
#[derive(Clone, Debug)]
pub struct Layout<'a> {
    /// The circuit of the plan.
    pub circuit: &'a PlannedCircuit,
    /// Floor that the cell and what feeds it take, clearance left out, seen from above.
    pub body: Rect,
    /// Floor of what feeds it.
    pub feed: Option<Rect>,
    /// The same with the clearance.
    pub outer: Rect,
    /// Floor of each station, seen from above; none where it needs none.
    pub frames: Vec<Option<Rect>>,
    /// Where product comes in and leaves, where that was asked.
    pub(super) flows: Vec<Flow>,
    /// Whether carriers travel from right to left along the front.
    pub(super) mirrored: bool,
    /// The floor that is allowed: where the plan places the cell in it, else with the cell in its middle, lying either way.
    pub site: Option<Rect>,
    /// Places of that floor that the cell misses, with their names.
    pub keep_out: Vec<(Rect, Option<String>)>,
}

/// A floor of this length and width round a cell, turned so that the cell fits where it fits at all.
fn site(outer: Rect, (length, width): (f64, f64)) -> Rect {
    const SPARE: f64 = 1e-6;
    let (long, wide) = (length.max(width), length.min(width));
    let lies = outer.length() <= long + SPARE && outer.width() <= wide + SPARE;
    let (along, across) = if lies { (long, wide) } else { (wide, long) };
    let (x, y) = (f64::midpoint(outer.x0, outer.x1), f64::midpoint(outer.y0, outer.y1));
    Rect { x0: x - along / 2.0, y0: y - across / 2.0, x1: x + along / 2.0, y1: y + across / 2.0 }
}

/// From the floor's own axes to those of a cell with this outline, placed so.
pub(super) struct OnFloor {
    outer: Rect,
    at: PlannedPlacing,
}

impl OnFloor {
    /// A rectangle from `(x, y)` of this size along the floor's length and width, in the cell's axes. A cell that is turned
    /// looks along the floor's width, and its back towards the floor's origin.
    fn rect(&self, (x, y): (f64, f64), (long, wide): (f64, f64)) -> Rect {
        let (o, at) = (self.outer, self.at);
        if at.turned {
            let (x0, y0) = (o.x0 + y - at.y_m, o.y0 + o.width() - (x + long - at.x_m));
            Rect { x0, y0, x1: x0 + wide, y1: y0 + long }
        } else {
            let (x0, y0) = (o.x0 + x - at.x_m, o.y0 + y - at.y_m);
            Rect { x0, y0, x1: x0 + long, y1: y0 + wide }
        }
    }

    /// The floor that is allowed, and the places on it that are missed.
    pub(super) fn of(plan: &Planned, outer: Rect) -> (Option<Rect>, Vec<(Rect, Option<String>)>) {
        let floor = plan.asked.floor_length_m.zip(plan.asked.floor_width_m);
        let (Some(floor), Some(at)) = (floor, plan.placing) else {
            return (floor.map(|floor| site(outer, floor)), Vec::new());
        };
        let on = Self { outer, at };
        let missed = plan.asked.keep_out.iter();
        let missed = missed.map(|k| (on.rect((k.x_m, k.y_m), (k.length_m, k.width_m)), k.name.clone()));
        (Some(on.rect((0.0, 0.0), floor)), missed.collect())
    }
}

/// Floor of what feeds a cell, from the front left corner of its loops and stations.
pub(super) fn feed(plan: &Planned, (x, y): (f64, f64)) -> Option<Rect> {
    let of = plan.feed.as_ref()?;
    let (x0, y0) = (x + of.x_m, y + of.y_m);
    Some(Rect { x0, y0, x1: x0 + of.length_m, y1: y0 + of.width_m })
}

impl<'a> Layout<'a> {
    /// Of a circuit of a plan.
    #[must_use]
    pub fn of(plan: &Planned, circuit: &'a PlannedCircuit) -> Self {
        let clearance = plan.asked.sides();
        let deepest = |side| {
            // Floor that is free in front of a station may lie in the clearance.
            let clear = if side == PlannedSide::Front { clearance.front_m } else { clearance.back_m };
            let reach = |s: &PlannedStation| s.depth_m + s.access_m.map_or(0.0, |access| (access - clear).max(0.0));
            circuit.stations.iter().filter(|s| s.stands == side).map(reach).fold(0.0, f64::max)
        };
        let (half, reach) = (circuit.track_width_m / 2.0, circuit.corner_reach_m);
        let (front, back) = (deepest(PlannedSide::Front), deepest(PlannedSide::Back));
        let (y0, y1) = match circuit.plane {
            PlannedPlane::Flat => {
                let side = |deep: f64| (half + deep).max(reach - circuit.radius_m);
                (-side(front), span(circuit) + side(back))
            }
            PlannedPlane::Upright => (-half - front, half + back),
        };
        let own = Rect { x0: -reach, y0, x1: circuit.straight_m + reach, y1 };
        let feed = feed(plan, (own.x0, own.y0));
        let body = feed.map_or(own, |feed| own.with(&feed));
        let frames = circuit.stations.iter().map(|s| frame(circuit, s)).collect();
        let outer = body.with_clearance(&clearance);
        let (site, keep_out) = OnFloor::of(plan, outer);
        let mut layout =
            Self { circuit, body, feed, outer, frames, flows: Vec::new(), mirrored: false, site, keep_out };
        if plan.is_mirrored() {
            layout.mirror();
        }
        layout.flows = layout.flows(plan, (own.x0, own.x1));
        layout
    }

    /// The mirror image of loop and stations, about the middle of the straights.
    pub(super) fn mirror(&mut self) {
        self.mirrored = !self.mirrored;
        let over = |r: Rect| Rect { x0: self.circuit.straight_m - r.x1, x1: self.circuit.straight_m - r.x0, ..r };
        self.frames = self.frames.iter().map(|frame| frame.map(over)).collect();
    }

    /// Where product comes in and leaves, with the ends of the cell at these places.
    pub(super) fn flows(&self, plan: &Planned, (left, right): (f64, f64)) -> Vec<Flow> {
        let flow = |(infeed, asked): (bool, &AskedOpening)| {
            let i = self.circuit.stations.iter().position(|s| s.id == asked.station)?;
            let (station, half) = (&self.circuit.stations[i], self.circuit.track_width_m / 2.0);
            let (x0, x1) = self.zone(station);
            let (low, high) = if self.upright() { (0.0, 0.0) } else { (0.0, self.span()) };
            let front = station.stands == PlannedSide::Front;
            let edge = if front { low - half } else { high + half };
            let (near, far) = match (self.frames.get(i).copied().flatten(), front) {
                (Some(frame), true) => (frame.y1, frame.y0),
                (Some(frame), false) => (frame.y0, frame.y1),
                (None, _) => (edge, edge),
            };
            let (at, outward) = match asked.side {
                PlannedCellSide::Front => (Point { x: f64::midpoint(x0, x1), y: far }, -FRAC_PI_2),
                PlannedCellSide::Back => (Point { x: f64::midpoint(x0, x1), y: far }, FRAC_PI_2),
                PlannedCellSide::Left => (Point { x: left, y: f64::midpoint(near, far) }, PI),
                PlannedCellSide::Right => (Point { x: right, y: f64::midpoint(near, far) }, 0.0),
            };
            Some(Flow { infeed, at, heading: if infeed { outward + PI } else { outward } })
        };
        let asked = [(true, &plan.asked.infeed), (false, &plan.asked.discharge)];
        asked.into_iter().filter_map(|(infeed, asked)| flow((infeed, asked.as_ref()?))).collect()
    }

    /// Whether the loop stands upright.
    #[must_use]
    pub fn upright(&self) -> bool {
        self.circuit.plane == PlannedPlane::Upright
    }

    /// Between the middle lines of the two straights.
    #[must_use]
    pub fn span(&self) -> f64 {
        span(self.circuit)
    }

    /// Whether carriers turn to the left in the ends.
    #[must_use]
    pub fn turns_left(&self) -> bool {
        self.upright() == self.mirrored
    }

    /// 1 where the loop lies towards the back of its first straight, -1 where it lies below it.
    fn turn(&self) -> f64 {
        if self.upright() { -1.0 } else { 1.0 }
    }

    /// A place of the loop, mirrored where the cell is.
    fn seen(&self, at: Point) -> Point {
        if self.mirrored { Point { x: self.circuit.straight_m - at.x, ..at } } else { at }
    }

    /// Where each piece of the middle line begins, along the loop: straight, quarter, cross, quarter, and again.
    fn joints(&self) -> [f64; 9] {
        let c = self.circuit;
        let quarter = c.radius_m * FRAC_PI_2;
        let mut at = [0.0; 9];
        for (i, length) in [c.straight_m, quarter, c.cross_m, quarter].into_iter().cycle().take(8).enumerate() {
            at[i + 1] = at[i] + length;
        }
        at
    }

    /// Length of the middle line as it is drawn.
    #[must_use]
    pub fn drawn_length(&self) -> f64 {
        self.joints()[8]
    }

    /// The place so far along the loop.
    #[must_use]
    pub fn pose(&self, along: f64) -> Pose {
        let pose = self.pose_to_the_right(along);
        let heading = if self.mirrored { PI - pose.heading } else { pose.heading };
        Pose { at: self.seen(pose.at), heading }
    }

    /// As [`Self::pose`], in a cell that is not mirrored.
    fn pose_to_the_right(&self, along: f64) -> Pose {
        let (c, t, joints) = (self.circuit, self.turn(), self.joints());
        let s = along.rem_euclid(joints[8].max(f64::MIN_POSITIVE));
        let piece = (0..8).rev().find(|&i| s >= joints[i]).unwrap_or(0);
        let d = s - joints[piece];
        let (r, far) = (c.radius_m, self.span());
        let arc = |cx: f64, cy: f64, from: f64| {
            let heading = from + t * d / r;
            let normal = heading - t * FRAC_PI_2;
            Pose { at: Point { x: cx + r * normal.cos(), y: cy + r * normal.sin() }, heading }
        };
        let line = |x: f64, y: f64, heading: f64| Pose { at: Point { x, y }, heading };
        match piece {
            0 => line(d, 0.0, 0.0),
            1 => arc(c.straight_m, t * r, 0.0),
            2 => line(c.straight_m + r, t * (r + d), t * FRAC_PI_2),
            3 => arc(c.straight_m, t * (r + c.cross_m), t * FRAC_PI_2),
            4 => line(c.straight_m - d, t * far, t * PI),
            5 => arc(0.0, t * (r + c.cross_m), t * PI),
            6 => line(-r, t * (far - r - d), -t * FRAC_PI_2),
            _ => arc(0.0, t * r, -t * FRAC_PI_2),
        }
    }

    /// The loop so far outside of its middle line: where it begins, and its steps.
    #[must_use]
    pub fn ring(&self, outside: f64) -> (Point, Vec<Step>) {
        let (c, t) = (self.circuit, self.turn());
        let (r, s, far) = ((c.radius_m + outside).max(0.0), c.straight_m, self.span());
        let o = r - c.radius_m;
        let at = |x: f64, y: f64| self.seen(Point { x, y: t * y });
        let low = c.radius_m;
        let high = c.radius_m + c.cross_m;
        let begin = at(0.0, -o);
        let steps = vec![
            Step::Line(at(s, -o)),
            Step::Arc(at(s + r, low), r),
            Step::Line(at(s + r, high)),
            Step::Arc(at(s, far + o), r),
            Step::Line(at(0.0, far + o)),
            Step::Arc(at(-r, high), r),
            Step::Line(at(-r, low)),
            Step::Arc(begin, r),
        ];
        (begin, steps)
    }

    /// The middle line from one place to a later one: where it begins, and its steps.
    #[must_use]
    pub fn stretch(&self, from: f64, to: f64) -> (Point, Vec<Step>) {
        let joints = self.joints();
        let round = joints[8];
        let begin = from.rem_euclid(round.max(f64::MIN_POSITIVE));
        let end = begin + (to - from).clamp(0.0, round);
        let mut steps = Vec::new();
        for lap in [0.0, round] {
            for piece in 0..8 {
                let (a, b) = (joints[piece] + lap, joints[piece + 1] + lap);
                let (a, b) = (a.max(begin), b.min(end));
                if b - a > 1e-9 {
                    let to = if (b - round).abs() < 1e-9 { self.pose(0.0).at } else { self.pose(b).at };
                    let arc = piece % 2 == 1;
                    steps.push(if arc { Step::Arc(to, self.circuit.radius_m) } else { Step::Line(to) });
                }
            }
        }
        (self.pose(begin).at, steps)
    }

    /// Where a zone begins and ends on the x axis.
    #[must_use]
    pub fn zone(&self, station: &PlannedStation) -> (f64, f64) {
        let (a, b) = zone(self.circuit, station);
        if self.mirrored { (self.circuit.straight_m - b, self.circuit.straight_m - a) } else { (a, b) }
    }

    /// Floor that is free in front of a station.
    pub(super) fn access(&self, station: &PlannedStation) -> Option<Rect> {
        let free = station.access_m.filter(|free| *free > 0.0 && station.frame_m > 0.0)?;
        let (a, b) = self.zone(station);
        let (middle, half) = (f64::midpoint(a, b), self.circuit.track_width_m / 2.0 + station.depth_m);
        let far = if self.upright() { 0.0 } else { self.span() };
        let (y0, y1) = match station.stands {
            PlannedSide::Front => (-half - free, -half),
            PlannedSide::Back => (far + half, far + half + free),
        };
        Some(Rect { x0: middle - station.frame_m / 2.0, y0, x1: middle + station.frame_m / 2.0, y1 })
    }

    /// Where the section behind the station of this number begins and ends along the loop; the end may be more than a lap.
    #[must_use]
    pub fn section(&self, i: usize) -> Option<(f64, f64)> {
        let station = self.circuit.stations.get(i)?;
        let section = self.circuit.sections.get(i)?;
        let from = station.start_m + station.zone_m;
        Some((from, from + section.length_m))
    }

    /// Where the carriers of one SKU stand when a station works, along the loop.
    #[must_use]
    pub fn at_work(&self, station: usize, sku: usize) -> Vec<f64> {
        let of = || {
            let s = self.circuit.stations.get(station)?;
            let batch = s.skus.get(sku)?.batch;
            let pitch = self.circuit.skus.get(sku)?.pitch_m;
            let first = s.start_m + s.zone_m / 2.0 + f64::from(batch.saturating_sub(1)) / 2.0 * pitch;
            Some((0..batch).map(|i| first - f64::from(i) * pitch).collect())
        };
        of().unwrap_or_default()
    }

    /// Where the carriers of one SKU stand when the section behind a station is full, the first before the next station.
    #[must_use]
    pub fn slots(&self, section: usize, sku: usize) -> Vec<f64> {
        let of = || {
            let (_, to) = self.section(section)?;
            let slots = self.circuit.sections.get(section)?.skus.get(sku)?.slots;
            let pitch = self.circuit.skus.get(sku)?.pitch_m;
            Some((0..slots).map(|i| to - (f64::from(i) + 0.5) * pitch).collect())
        };
        of().unwrap_or_default()
    }
}

fn span(circuit: &PlannedCircuit) -> f64 {
    2.0 * circuit.radius_m + circuit.cross_m
}

fn zone(circuit: &PlannedCircuit, station: &PlannedStation) -> (f64, f64) {
    let (start, end) = (station.start_m, station.start_m + station.zone_m);
    match station.straight {
        PlannedStraight::Front | PlannedStraight::Top => (start, end),
        PlannedStraight::Back => {
            let corner = 2.0 * circuit.straight_m + circuit.end_m;
            (corner - end, corner - start)
        }
    }
}

fn frame(circuit: &PlannedCircuit, station: &PlannedStation) -> Option<Rect> {
    if station.depth_m <= 0.0 || station.frame_m <= 0.0 {
        return None;
    }
    let (a, b) = zone(circuit, station);
    let (middle, half) = (f64::midpoint(a, b), station.frame_m / 2.0);
    let beside = circuit.track_width_m / 2.0;
    let far = if circuit.plane == PlannedPlane::Flat { span(circuit) } else { 0.0 };
    let (y0, y1) = match station.stands {
        PlannedSide::Front => (-beside - station.depth_m, -beside),
        PlannedSide::Back => (far + beside, far + beside + station.depth_m),
    };
    Some(Rect { x0: middle - half, y0, x1: middle + half, y1 })
}
