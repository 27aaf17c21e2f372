//! The plan as DXF: real millimetres, layers by kind, blocks for stations and carriers, dimensions as lines and text.
//!
//! Release 12, which every drawing program reads, is a list of pairs of lines, a group code and its value; it is written
//! here by hand, since the library for it (dxf 0.6) takes times and identifiers from clock and chance, and gives handles
//! twice where there are blocks.

use super::geometry::{Flow, Layout, Point, Rect, Step};
use super::{Drawable, Job, Titles, text};
use crate::wire::plan::{PlannedCircuit, PlannedSide, PlannedStraight};

/// Layers with the colour numbers of the format; 7 is black on white paper.
const LAYERS: &[(&str, u8)] = &[
    ("CLEARANCE", 8),
    ("STATIONS", 7),
    ("TRACK", 7),
    ("MIDDLE", 8),
    ("ZONES", 5),
    ("CARRIERS", 3),
    ("SLOTS", 8),
    ("DIMENSIONS", 1),
    ("TEXT", 7),
    ("FRONT", 7),
    ("SITE", 8),
    ("KEEP_OUT", 1),
    ("FEED", 4),
    ("FLOW", 1),
];
/// Height of capitals, in millimetres of the cell.
const HIGH: f64 = 75.0;
/// From dimension line to dimension line.
pub(super) const STEP: f64 = 220.0;
/// Bodies of one section or zone that are drawn.
const MOST_BODIES: usize = 400;

/// The plan of one circuit for one SKU as a DXF document.
#[must_use]
pub fn drawing_dxf(plan: &Drawable<'_>, circuit: &PlannedCircuit, sku: usize) -> String {
    let titles = Titles::default();
    let job = Job {
        layout: Layout::of(plan.planned, circuit),
        cell: plan.cell,
        name: &plan.document.name,
        sku,
        titles: &titles,
        hash: plan.short_hash(),
        prefix: "",
        numbers: None,
        letters: 0,
    };
    let mut sheet = Sheet::default();
    sheet.blocks(&job);
    sheet.ground(&job);
    sheet.stations(&job);
    sheet.track(&job);
    sheet.bodies(&job);
    sheet.dimensions(&job.layout);
    let of = format!("loop {}", circuit.id);
    sheet.notes(&job, &of, 5.0);
    sheet.written(job.layout.outer)
}

/// Blocks and entities so far.
#[derive(Default)]
pub(super) struct Sheet {
    blocks: Tags,
    entities: Tags,
    /// Where the loop lies that is drawn: the origin, or its place among several.
    at: Option<Point>,
    /// What the names of its carriers and slots end in.
    ending: String,
}

/// Pairs of group code and value.
#[derive(Clone, Default)]
struct Tags(Vec<Tag>);

/// A pair, or a place, which can be moved.
#[derive(Clone)]
enum Tag {
    Value(u16, String),
    Place(u16, Point),
}

impl Tags {
    fn tag(mut self, code: u16, value: impl std::fmt::Display) -> Self {
        self.0.push(Tag::Value(code, value.to_string()));
        self
    }

    fn place(mut self, code: u16, p: Point) -> Self {
        self.0.push(Tag::Place(code, p));
        self
    }

    fn and(mut self, other: &Self) -> Self {
        self.0.extend_from_slice(&other.0);
        self
    }

    /// The same elsewhere.
    fn moved(mut self, by: Point) -> Self {
        for tag in &mut self.0 {
            if let Tag::Place(_, at) = tag {
                *at = Point { x: at.x + by.x, y: at.y + by.y };
            }
        }
        self
    }

    /// As the format writes them. Places are in millimetres; x, y and z have group codes ten apart.
    fn written(&self) -> String {
        let mm = |metres: f64| text::plain(metres * 1000.0, 6);
        let pair = |code: u16, value: &str| format!("{code:>3}\r\n{value}\r\n");
        let each = |tag: &Tag| match tag {
            Tag::Value(code, value) => pair(*code, value),
            Tag::Place(code, p) => pair(*code, &mm(p.x)) + &pair(code + 10, &mm(p.y)) + &pair(code + 20, "0"),
        };
        self.0.iter().map(each).collect()
    }
}

/// Characters beyond ASCII as the format writes them.
fn ascii(words: &str) -> String {
    let mut out = String::new();
    for c in words.chars() {
        match c {
            '×' => out.push('x'),
            '\u{a0}' => out.push(' '),
            c if c.is_ascii() && !c.is_ascii_control() => out.push(c),
            c => out += &format!("\\U+{:04X}", u32::from(c)),
        }
    }
    out
}

fn entity(kind: &str, layer: &str) -> Tags {
    Tags::default().tag(0, kind).tag(8, layer)
}

fn stroke(layer: &str, a: Point, b: Point) -> Tags {
    entity("LINE", layer).place(10, a).place(11, b)
}

fn outline(layer: &str, r: Rect) -> [Tags; 4] {
    let at = |x, y| Point { x, y };
    let corners = [at(r.x0, r.y0), at(r.x1, r.y0), at(r.x1, r.y1), at(r.x0, r.y1)];
    std::array::from_fn(|i| stroke(layer, corners[i], corners[(i + 1) % 4]))
}

fn centred(size: (f64, f64)) -> Rect {
    Rect { x0: -size.0 / 2.0, y0: -size.1 / 2.0, x1: size.0 / 2.0, y1: size.1 / 2.0 }
}

impl Sheet {
    /// What is drawn from here on lies on a loop among several, or on the floor of all.
    pub(super) fn go_to(&mut self, at: Option<Point>, ending: &str) {
        self.at = at;
        ending.clone_into(&mut self.ending);
    }

    fn put(&mut self, entities: impl IntoIterator<Item = Tags>) {
        for entity in entities {
            let entity = match self.at {
                Some(at) => entity.moved(at),
                None => entity,
            };
            self.entities.0.extend(entity.0);
        }
    }

    fn block(&mut self, name: &str, entities: &[Tags]) {
        let origin = Point { x: 0.0, y: 0.0 };
        let head = entity("BLOCK", "0").tag(2, name).tag(70, 0).place(10, origin).tag(3, name);
        let whole = entities.iter().fold(head, Tags::and).and(&entity("ENDBLK", "0"));
        self.blocks.0.extend(whole.0);
    }

    fn insert(&mut self, layer: &str, name: &str, at: Point, radians: f64) {
        let degrees = text::plain(radians.to_degrees(), 9);
        self.put([entity("INSERT", layer).tag(2, name).place(10, at).tag(50, degrees)]);
    }

    /// With its middle at a place (group codes 72 and 73: centred, middle).
    fn text(&mut self, layer: &str, words: &str, at: Point, degrees: f64) {
        let text = entity("TEXT", layer).place(10, at).tag(40, HIGH).tag(1, ascii(words)).tag(50, degrees);
        self.put([text.tag(72, 1).place(11, at).tag(73, 2)]);
    }

    /// A block for each station's floor, its origin at the middle of the zone on the track's edge; for carrier and load.
    pub(super) fn blocks(&mut self, job: &Job<'_>) {
        for (i, station) in job.layout.circuit.stations.iter().enumerate() {
            let Some(number) = job.number(i) else { continue };
            let half = station.frame_m / 2.0;
            let out = if station.stands == PlannedSide::Front { -station.depth_m } else { station.depth_m };
            let mut frame = Rect { x0: -half, y0: out.min(0.0), x1: half, y1: out.max(0.0) };
            // Between two loops a hand-off takes what lies between them.
            if let Some(own) = job.layout.frames[i].filter(|_| station.hands_to.is_some() && self.at.is_some()) {
                let (half, deep) = (own.length() / 2.0, own.width());
                let front = station.stands == PlannedSide::Front;
                frame = Rect {
                    x0: -half,
                    y0: if front { -deep } else { 0.0 },
                    x1: half,
                    y1: if front { 0.0 } else { deep },
                };
            }
            self.block(&format!("STATION_{number}"), &outline("STATIONS", frame));
        }
        let ahead = |by: f64, size: (f64, f64)| {
            let at = centred(size);
            Rect { x0: at.x0 + by, x1: at.x1 + by, ..at }
        };
        let parts = job.carrier_parts();
        let mut carrier: Vec<Tags> =
            parts.into_iter().flat_map(|(by, size)| outline("CARRIERS", ahead(by, size))).collect();
        carrier.extend(job.load_size().into_iter().flat_map(|size| outline("CARRIERS", centred(size))));
        self.block(&format!("CARRIER{}", self.ending), &carrier);
        self.block(&format!("SLOT{}", self.ending), &outline("SLOTS", centred(job.carrier_size())));
    }

    /// The clearance, the floor that is allowed, places that are missed, and what feeds the cell.
    pub(super) fn ground(&mut self, job: &Job<'_>) {
        let layout = &job.layout;
        self.put(outline("CLEARANCE", layout.outer));
        if let Some(site) = layout.site {
            self.put(outline("SITE", site));
            let words = format!("Floor that is allowed, {} x {}", text::mm(site.length()), text::mm(site.width()));
            let y = site.y1.max(layout.outer.y1 + 2.0 * STEP / 1000.0) + HIGH * 1.5 / 1000.0;
            self.text("SITE", &words, Point { x: f64::midpoint(site.x0, site.x1), y }, 0.0);
        }
        for (place, name) in &layout.keep_out {
            self.put(outline("KEEP_OUT", *place));
            let at = |x, y| Point { x, y };
            self.put([
                stroke("KEEP_OUT", at(place.x0, place.y0), at(place.x1, place.y1)),
                stroke("KEEP_OUT", at(place.x0, place.y1), at(place.x1, place.y0)),
            ]);
            let size = format!("{} x {}", text::mm(place.length()), text::mm(place.width()));
            let words = name.as_ref().map_or_else(|| size.clone(), |name| format!("{name} {size}"));
            self.text("KEEP_OUT", &words, at(f64::midpoint(place.x0, place.x1), place.y1 + HIGH / 1000.0), 0.0);
        }
        if let Some(feed) = layout.feed {
            self.put(outline("FEED", feed));
            let words = format!("Feed {} x {}", text::mm(feed.length()), text::mm(feed.width()));
            let middle = Point { x: f64::midpoint(feed.x0, feed.x1), y: f64::midpoint(feed.y0, feed.y1) };
            self.text("FEED", &words, middle, if feed.width() > feed.length() { 90.0 } else { 0.0 });
        }
    }

    pub(super) fn stations(&mut self, job: &Job<'_>) {
        let layout = &job.layout;
        for free in layout.circuit.stations.iter().filter_map(|s| layout.access(s)) {
            self.put(outline("CLEARANCE", free));
        }
        for flow in &layout.flows {
            self.flow(flow);
        }
        for (i, (station, frame)) in layout.circuit.stations.iter().zip(&layout.frames).enumerate() {
            let (Some(frame), Some(number)) = (frame, job.number(i)) else { continue };
            let front = station.stands == PlannedSide::Front;
            let x = f64::midpoint(frame.x0, frame.x1);
            self.insert(
                "STATIONS",
                &format!("STATION_{number}"),
                Point { x, y: if front { frame.y1 } else { frame.y0 } },
                0.0,
            );
            let at = Point { x, y: f64::midpoint(frame.y0, frame.y1) };
            self.text("TEXT", &format!("{number} {}", station.id), at, 90.0);
        }
    }

    /// An arrow where product comes in or leaves.
    fn flow(&mut self, flow: &Flow) {
        let (cos, sin) = (flow.heading.cos(), flow.heading.sin());
        let at = |ahead: f64, left: f64| Point {
            x: flow.at.x + ahead * cos - left * sin,
            y: flow.at.y + ahead * sin + left * cos,
        };
        let (tail, tip) = if flow.infeed { (-0.4, 0.0) } else { (0.0, 0.4) };
        let strokes = [at(tail, 0.0), at(tip - 0.1, 0.06), at(tip - 0.1, -0.06)];
        self.put(strokes.map(|from| stroke("FLOW", from, at(tip, 0.0))));
        let words = if flow.infeed { "INFEED" } else { "DISCHARGE" };
        let beyond = if flow.infeed { tail - 0.1 } else { tip + 0.1 };
        self.text("FLOW", words, at(beyond, 0.0), 0.0);
    }

    /// How much higher the front view of an upright loop lies than the view from above.
    fn lift(layout: &Layout<'_>) -> f64 {
        let c = layout.circuit;
        if layout.upright() { layout.outer.y1 + 1.0 + layout.span() + c.track_width_m / 2.0 } else { 0.0 }
    }

    pub(super) fn track(&mut self, job: &Job<'_>) {
        let layout = &job.layout;
        let (c, half, lift) = (layout.circuit, layout.circuit.track_width_m / 2.0, Self::lift(layout));
        let layer = |flat| if layout.upright() { "FRONT" } else { flat };
        for (outside, name) in [(half, layer("TRACK")), (-half, layer("TRACK")), (0.0, layer("MIDDLE"))] {
            self.ring(name, layout, outside, lift);
        }
        if layout.upright() {
            let over = c.radius_m + half;
            self.put(outline("TRACK", Rect { x0: -over, y0: -half, x1: c.straight_m + over, y1: half }));
        }
        for station in &c.stations {
            let (x0, x1) = layout.zone(station);
            let y = if station.straight == PlannedStraight::Back { layout.span() } else { 0.0 };
            let zone = Rect { x0, y0: y - half, x1, y1: y + half };
            self.put(outline("ZONES", zone));
            if layout.upright() {
                self.put(outline("FRONT", Rect { y0: lift - half, y1: lift + half, ..zone }));
            }
        }
    }

    fn ring(&mut self, layer: &str, layout: &Layout<'_>, outside: f64, lift: f64) {
        let (mut at, steps) = layout.ring(outside);
        let up = |p: Point| Point { y: p.y + lift, ..p };
        for step in steps {
            let to = match step {
                Step::Line(to) | Step::Arc(to, _) => to,
            };
            match step {
                Step::Line(to) if (to.x - at.x).hypot(to.y - at.y) > 1e-9 => self.put([stroke(layer, up(at), up(to))]),
                Step::Arc(to, radius) if radius > 1e-9 => {
                    self.put([quarter(layer, (up(at), up(to)), radius, layout.turns_left())]);
                }
                _ => {}
            }
            at = to;
        }
    }

    pub(super) fn bodies(&mut self, job: &Job<'_>) {
        let layout = &job.layout;
        let lift = Self::lift(layout);
        let (carrier, slot) = (format!("CARRIER{}", self.ending), format!("SLOT{}", self.ending));
        for i in 0..layout.circuit.stations.len() {
            for along in layout.at_work(i, job.sku).into_iter().take(MOST_BODIES) {
                let pose = layout.pose(along);
                self.insert("CARRIERS", &carrier, pose.at, pose.heading);
            }
            for along in layout.slots(i, job.sku).into_iter().take(MOST_BODIES) {
                let pose = layout.pose(along);
                let layer = if layout.upright() { "FRONT" } else { "SLOTS" };
                self.insert(layer, &slot, Point { y: pose.at.y + lift, ..pose.at }, pose.heading);
            }
        }
    }

    /// A dimension along x at the height `y`, or along y at the place `x`; extension lines come from `from`.
    pub(super) fn dimension(&mut self, level: bool, (a, b): (f64, f64), at: f64, from: f64) {
        let spot = |along: f64, across: f64| {
            if level { Point { x: along, y: across } } else { Point { x: across, y: along } }
        };
        self.put([stroke("DIMENSIONS", spot(a, at), spot(b, at))]);
        for end in [a, b] {
            self.put([stroke("DIMENSIONS", spot(end, from), spot(end, at))]);
            let p = spot(end, at);
            let tick = HIGH / 2.0 / 1000.0;
            let (low, high) = (Point { x: p.x - tick, y: p.y - tick }, Point { x: p.x + tick, y: p.y + tick });
            self.put([stroke("DIMENSIONS", low, high)]);
        }
        let over = HIGH * 0.8 / 1000.0;
        let middle = spot(f64::midpoint(a, b), if level { at + over } else { at - over });
        self.text("DIMENSIONS", &text::mm(b - a), middle, if level { 0.0 } else { 90.0 });
    }

    fn dimensions(&mut self, layout: &Layout<'_>) {
        let (c, body, outer) = (layout.circuit, layout.body, layout.outer);
        let row = |i: f64| i * STEP / 1000.0;
        let mut zones: Vec<(f64, f64, bool)> = c
            .stations
            .iter()
            .map(|s| (layout.zone(s).0, layout.zone(s).1, s.straight == PlannedStraight::Back))
            .collect();
        zones.sort_by(|a, b| a.0.total_cmp(&b.0));
        for back in [false, true] {
            let mut at = 0.0;
            let y = if back { outer.y1 + row(1.0) } else { outer.y0 - row(1.0) };
            let from = if back { outer.y1 } else { outer.y0 };
            let here: Vec<_> = zones.iter().filter(|z| z.2 == back).flat_map(|z| [z.0, z.1]).collect();
            if here.is_empty() {
                continue;
            }
            for next in here.into_iter().chain([c.straight_m]) {
                if next - at > 1e-6 {
                    self.dimension(true, (at, next), y, from);
                }
                at = next;
            }
        }
        for (i, (a, b)) in [(0.0, c.straight_m), (body.x0, body.x1), (outer.x0, outer.x1)].into_iter().enumerate() {
            self.dimension(true, (a, b), outer.y0 - row(2.0 + i as f64), outer.y0);
        }
        for (i, (a, b)) in [(body.y0, body.y1), (outer.y0, outer.y1)].into_iter().enumerate() {
            self.dimension(false, (a, b), outer.x1 + row(1.0 + i as f64), outer.x1);
        }
        for (station, frame) in c.stations.iter().zip(&layout.frames) {
            if let Some(frame) = frame.filter(|_| station.depth_m > 0.0) {
                self.dimension(false, (frame.y0, frame.y1), frame.x0 - 0.06, frame.x0);
            }
        }
        let words = format!("R{}", text::mm(c.radius_m));
        let centre =
            Point { x: c.straight_m, y: if layout.upright() { Self::lift(layout) - c.radius_m } else { c.radius_m } };
        self.text(if layout.upright() { "FRONT" } else { "DIMENSIONS" }, &words, centre, 0.0);
    }

    /// What is drawn, below as many rows of dimensions.
    pub(super) fn notes(&mut self, job: &Job<'_>, of: &str, below: f64) {
        let outer = job.layout.outer;
        let sku = job.layout.circuit.skus.get(job.sku).map_or("", |s| &s.id);
        let lines = [
            format!("{}: plan of {of}, SKU {sku}, millimetres", job.name),
            format!("Plan {}. Estimate for a proposal, not a release to build. Clearance is no guarding.", job.hash),
        ];
        for (i, words) in lines.iter().enumerate() {
            let y = outer.y0 - (below + i as f64 * 0.7) * STEP / 1000.0;
            self.text("TEXT", words, Point { x: f64::midpoint(outer.x0, outer.x1), y }, 0.0);
        }
    }

    pub(super) fn written(self, outer: Rect) -> String {
        let section =
            |name: &str, inside: &Tags| Tags::default().tag(0, "SECTION").tag(2, name).and(inside).tag(0, "ENDSEC");
        let (low, high) = (Point { x: outer.x0, y: outer.y0 }, Point { x: outer.x1, y: outer.y1 });
        let header = Tags::default().tag(9, "$ACADVER").tag(1, "AC1009");
        let header = header.tag(9, "$EXTMIN").place(10, low).tag(9, "$EXTMAX").place(10, high);
        let table = |name: &str, rows: usize| Tags::default().tag(0, "TABLE").tag(2, name).tag(70, rows);
        let line = Tags::default().tag(0, "LTYPE").tag(2, "CONTINUOUS").tag(70, 0).tag(3, "Solid line").tag(72, 65);
        let lines = table("LTYPE", 1).and(&line.tag(73, 0).tag(40, 0)).tag(0, "ENDTAB");
        let layers = LAYERS.iter().fold(table("LAYER", LAYERS.len()), |all, (name, colour)| {
            all.tag(0, "LAYER").tag(2, name).tag(70, 0).tag(62, colour).tag(6, "CONTINUOUS")
        });
        let tables = lines.and(&layers.tag(0, "ENDTAB"));
        let all = section("HEADER", &header).and(&section("TABLES", &tables)).and(&section("BLOCKS", &self.blocks));
        all.and(&section("ENTITIES", &self.entities)).tag(0, "EOF").written()
    }
}

/// The arc of at most half a circle between two points; the format draws it counterclockwise.
fn quarter(layer: &str, (a, b): (Point, Point), radius: f64, left: bool) -> Tags {
    let (dx, dy) = (b.x - a.x, b.y - a.y);
    let chord = dx.hypot(dy);
    let aside = (radius * radius - chord * chord / 4.0).max(0.0).sqrt();
    let turn = if left { 1.0 } else { -1.0 };
    let centre = Point {
        x: f64::midpoint(a.x, b.x) - turn * aside * dy / chord,
        y: f64::midpoint(a.y, b.y) + turn * aside * dx / chord,
    };
    let angle = |p: Point| (p.y - centre.y).atan2(p.x - centre.x).to_degrees().rem_euclid(360.0);
    let (from, to) = if left { (a, b) } else { (b, a) };
    let arc = entity("ARC", layer).place(10, centre).tag(40, text::plain(radius * 1000.0, 6));
    arc.tag(50, text::plain(angle(from), 9)).tag(51, text::plain(angle(to), 9))
}
