//! Drawings of a plan, from the plan document and the cell document alone: every number on them is in one of the two.

mod dims;
mod dxf;
pub mod geometry;
mod measures;
mod paper;
mod sheet;
mod tables;
pub mod text;
mod views;
mod whole;
mod whole_dxf;

use maud::{PreEscaped, html};

use crate::codes::Code;
use crate::finding::Finding;
use crate::read::quoted;
use crate::wire::cell::CellDocument;
use crate::wire::plan::{Answer, PlanDocument, Planned, PlannedCircuit};
use geometry::Layout;
use measures::{ROUND, round_site};
use paper::{Area, Label, Paper, View, num};
use sheet::Sheet;

pub use dxf::drawing_dxf;
pub use whole::whole_svg;
pub use whole_dxf::whole_dxf;

/// The styles of all drawings. They stand in every SVG too; a page whose policy takes no styles inside of its elements
/// links to them instead.
pub const STYLE: &str = include_str!("drawing.css");

/// What the user writes into the title block.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Titles {
    /// The legal owner.
    pub company: Option<String>,
    /// Who made the drawing.
    pub author: Option<String>,
    /// Date of issue, as it is to be printed.
    pub date: Option<String>,
    /// Number of the drawing.
    pub number: Option<String>,
}

/// A plan that can be drawn: its documents fit together and its sizes are sound.
#[derive(Clone, Debug)]
pub struct Drawable<'a> {
    /// The cell.
    pub cell: &'a CellDocument,
    /// The document that holds the plan.
    pub document: &'a PlanDocument,
    /// The plan in it.
    pub planned: &'a Planned,
}

/// No sheet or screen shows more.
const FARTHEST_M: f64 = 1e4;
/// Agreement of a footprint with its loop.
const TOLERANCE_M: f64 = 1e-6;

/// Reads a plan document in JSON.
///
/// # Errors
/// A finding: it is none.
pub fn read_plan(bytes: &[u8]) -> Result<PlanDocument, Finding> {
    serde_json::from_slice(bytes).map_err(|error| unfit("", format!("the plan document cannot be read: {error}")))
}

fn unfit(pointer: impl Into<String>, message: impl Into<String>) -> Finding {
    Finding::new(Code::CannotDraw, pointer, message)
}

impl<'a> Drawable<'a> {
    /// Holds the documents against each other.
    ///
    /// # Errors
    /// There is no plan, it belongs to another cell, or its sizes contradict each other.
    pub fn new(cell: &'a CellDocument, document: &'a PlanDocument) -> Result<Self, Finding> {
        let Answer::Planned(planned) = &document.answer else {
            return Err(unfit("/status", "the document holds no plan"));
        };
        if planned.circuits.is_empty() {
            return Err(unfit("/circuits", "the plan has no circuit"));
        }
        for (i, circuit) in planned.circuits.iter().enumerate() {
            let pointer = format!("/circuits/{i}");
            sound(cell, planned, circuit, &pointer)?;
            if planned.circuits.len() > 1 && circuit.place.is_none() {
                return Err(unfit(pointer, "it is not said where the circuit lies beside the others"));
            }
            let outer = Layout::of(planned, circuit).outer;
            let f = &planned.footprint;
            let off = (outer.length() - f.length_m).abs().max((outer.width() - f.width_m).abs());
            if planned.circuits.len() == 1 && off > TOLERANCE_M {
                let message = format!(
                    "the footprint is {} x {} m; loop, stations and clearance take {} x {} m",
                    f.length_m,
                    f.width_m,
                    outer.length(),
                    outer.width()
                );
                return Err(unfit("/footprint", message));
            }
        }
        if !planned.circuits.iter().map(|c| &c.id).eq(cell.circuits.iter().map(|c| &c.id)) {
            return Err(unfit("/circuits", "its circuits are not those of the cell"));
        }
        Ok(Self { cell, document, planned })
    }

    /// Number of a SKU; of the first where none is named.
    ///
    /// # Errors
    /// None has the id.
    pub fn sku(&self, id: Option<&str>) -> Result<usize, Finding> {
        let Some(id) = id else { return Ok(0) };
        self.cell.skus.iter().position(|s| s.id == id).ok_or_else(|| {
            let known: Vec<String> = self.cell.skus.iter().take(10).map(|s| quoted(&s.id)).collect();
            Finding::new(Code::UnknownId, "", format!("{} is no SKU of the cell", quoted(id)))
                .advise(format!("Name one of its SKUs: {}.", known.join(", ")))
        })
    }

    /// The first eight digits of the SHA-256 of the plan document, written as compact JSON.
    #[must_use]
    pub fn short_hash(&self) -> String {
        self.hash().chars().take(8).collect()
    }

    /// The SHA-256 of the plan document, written as compact JSON.
    #[must_use]
    pub fn hash(&self) -> String {
        use sha2::Digest;
        // Plain records always can be written.
        let bytes = serde_json::to_vec(self.document).unwrap_or_default();
        sha2::Sha256::digest(&bytes).iter().map(|b| format!("{b:02x}")).collect()
    }
}

fn sound(cell: &CellDocument, planned: &Planned, c: &PlannedCircuit, at: &str) -> Result<(), Finding> {
    if !cell.circuits.iter().any(|known| known.id == c.id) {
        return Err(unfit(format!("{at}/id"), format!("the cell has no circuit {}", quoted(&c.id))));
    }
    let ids = |skus: Vec<&str>| skus.iter().copied().eq(cell.skus.iter().map(|s| s.id.as_str()));
    let lists = c.stations.iter().map(|s| s.skus.iter().map(|k| k.id.as_str()).collect::<Vec<_>>());
    let lists = lists.chain(c.sections.iter().map(|s| s.skus.iter().map(|k| k.id.as_str()).collect()));
    if !lists.chain([c.skus.iter().map(|k| k.id.as_str()).collect()]).all(ids) {
        return Err(unfit(at, "its SKUs are not those of the cell"));
    }
    if c.sections.len() != c.stations.len() {
        return Err(unfit(format!("{at}/sections"), "there is not one section for each station"));
    }
    let held = |name: &str, value: f64, least: f64| {
        if value.is_finite() && (least..=FARTHEST_M).contains(&value) {
            return Ok(());
        }
        Err(unfit(
            format!("{at}/{name}"),
            format!("{value} m cannot be drawn; it must be from {least} to {FARTHEST_M} m"),
        ))
    };
    held("straight_m", c.straight_m, 1e-3)?;
    held("radius_m", c.radius_m, 1e-3)?;
    held("module_m", c.module_m, 1e-3)?;
    held("cross_m", c.cross_m, 0.0)?;
    held("track_width_m", c.track_width_m, 0.0)?;
    held("corner_reach_m", c.corner_reach_m, 0.0)?;
    held("carrier_length_m", c.carrier_length_m, 0.0)?;
    held("loop_length_m", c.loop_length_m, 1e-3)?;
    held("end_m", c.end_m, 0.0)?;
    held("clearance_m", planned.asked.clearance_m, 0.0)?;
    if let Some(feed) = &planned.feed {
        let all = [("x_m", feed.x_m, -FARTHEST_M), ("y_m", feed.y_m, -FARTHEST_M)];
        let all = all.into_iter().chain([("length_m", feed.length_m, 0.0), ("width_m", feed.width_m, 0.0)]);
        for (name, value, least) in all {
            if !(value.is_finite() && (least..=FARTHEST_M).contains(&value)) {
                return Err(unfit(format!("/feed/{name}"), format!("{value} m cannot be drawn")));
            }
        }
    }
    for (i, s) in c.stations.iter().enumerate() {
        let all = [("zone_m", s.zone_m), ("start_m", s.start_m), ("depth_m", s.depth_m), ("frame_m", s.frame_m)];
        all.into_iter().try_for_each(|(name, value)| held(&format!("stations/{i}/{name}"), value, 0.0))?;
    }
    for (i, s) in c.sections.iter().enumerate() {
        held(&format!("sections/{i}/length_m"), s.length_m, 0.0)?;
    }
    for (i, s) in c.skus.iter().enumerate() {
        held(&format!("skus/{i}/pitch_m"), s.pitch_m, 1e-3)?;
    }
    let drawn = Layout::of(planned, c).drawn_length();
    if (drawn - c.loop_length_m).abs() > TOLERANCE_M {
        let message = format!("the loop is {} m round; straights and ends make {drawn} m", c.loop_length_m);
        return Err(unfit(format!("{at}/loop_length_m"), message));
    }
    Ok(())
}

/// What the parts of a drawing have in common.
struct Job<'a> {
    layout: Layout<'a>,
    cell: &'a CellDocument,
    name: &'a str,
    sku: usize,
    titles: &'a Titles,
    hash: String,
    prefix: &'a str,
    /// Numbers of its stations where they are not simply counted; none for one that is numbered elsewhere.
    numbers: Option<Vec<Option<usize>>>,
    /// Letters of sections that are used up before.
    letters: usize,
}

impl Job<'_> {
    /// Number of a station.
    fn number(&self, station: usize) -> Option<usize> {
        self.numbers.as_ref().map_or(Some(station + 1), |numbers| numbers.get(station).copied().flatten())
    }

    /// An id of an element.
    fn id(&self, what: &str) -> String {
        format!("{}{what}", self.prefix)
    }

    /// Length along the track, of a pair when it is open, and the width as it is drawn: documents give none.
    fn carrier_size(&self) -> (f64, f64) {
        const SHARE: f64 = 0.8;
        let circuit = self.layout.circuit;
        let open = circuit.skus.get(self.sku).and_then(|sku| sku.pair).map(|pair| pair.length_m);
        (open.unwrap_or(circuit.carrier_length_m), SHARE * circuit.track_width_m)
    }

    /// Parts of a carrier in working position, each as far ahead of its middle as is said, with its length and width: the
    /// carrier itself, or the movers and paddles of a pair that is closed round its load.
    fn carrier_parts(&self) -> Vec<(f64, (f64, f64))> {
        let (long, wide) = self.carrier_size();
        let whole = vec![(0.0, (long, wide))];
        let circuit = self.layout.circuit;
        let Some(carrier) = self.cell.circuits.iter().find(|c| c.id == circuit.id).map(|c| &c.carrier) else {
            return whole;
        };
        let Some(pair) = &carrier.pair else { return whole };
        let metres = |mm: f64| mm / 1000.0;
        let mover = metres(carrier.length_mm);
        let extent = self.load_size().map_or(0.0, |load| load.0);
        // Closed round the load, or as far as the movers let it.
        let middles = (extent - 2.0 * metres(pair.paddle_offset_mm)).max(mover);
        let face = middles / 2.0 + metres(pair.paddle_offset_mm);
        // A paddle without thickness is drawn as thick as a sheet.
        let thick = metres(pair.paddle_thickness_mm.max(4.0));
        [1.0, -1.0]
            .into_iter()
            .flat_map(|ahead| {
                [(ahead * middles / 2.0, (mover, 0.6 * wide)), (ahead * (face + thick / 2.0), (thick, wide))]
            })
            .collect()
    }

    /// Length along the track and width of the load, where there is one.
    fn load_size(&self) -> Option<(f64, f64)> {
        const SHARE: f64 = 0.55;
        let load = self.cell.skus.get(self.sku)?.loads.get(&self.layout.circuit.id)?;
        let across = load.base_across_mm.or(load.base_mm).map(|mm| mm / 1000.0);
        let long = load.extent_mm / 1000.0;
        (long > 0.0).then(|| (long, across.unwrap_or(SHARE * self.layout.circuit.track_width_m)))
    }
}

/// The plan drawing of one circuit for one SKU as an SVG document. `prefix` begins every id in it.
#[must_use]
pub fn plan_svg(plan: &Drawable<'_>, circuit: &PlannedCircuit, sku: usize, titles: &Titles, prefix: &str) -> String {
    let job = Job {
        layout: Layout::of(plan.planned, circuit),
        cell: plan.cell,
        name: &plan.document.name,
        sku,
        titles,
        hash: plan.short_hash(),
        prefix,
        numbers: None,
        letters: 0,
    };
    let sheet = Sheet::for_lines(tables::lines(&job));
    let mut paper = Paper::default();
    paper.rect("lw-paper", Area { x: 0.0, y: 0.0, w: sheet.w, h: sheet.h });
    let lies = if job.layout.upright() { upright(&mut paper, &job, &sheet) } else { flat(&mut paper, &job, &sheet) };
    let scale = lies.scale;
    tables::strip(&mut paper, &job, &sheet, lies.per_m(), lies.site);
    tables::tables(&mut paper, &job, &sheet);
    let kind = if job.layout.upright() { "Front view and plan" } else { "Plan" };
    let of = format!("{kind} of loop {}, SKU {}", circuit.id, circuit.skus.get(sku).map_or("", |s| &s.id));
    let round = format!("Loop {} round", text::mm(circuit.loop_length_m));
    tables::title(
        &mut paper,
        &job,
        plan.planned,
        &sheet,
        &tables::Says { scale, of, round, carriers: circuit.carriers },
    );
    paper.rect("lw-border", sheet.border());
    let column = sheet.column();
    paper.line("lw-rule", (column.x, column.y), (column.x, column.y + column.h));
    let name = format!("{}: plan of loop {}", plan.document.name, circuit.id);
    let sku = circuit.skus.get(sku).map_or("", |s| &s.id);
    let about = format!(
        "Scale 1:{scale}. Footprint {} by {} mm, {} carriers, {} stations, SKU {sku}.",
        text::mm(plan.planned.footprint.length_m),
        text::mm(plan.planned.footprint.width_m),
        circuit.carriers,
        circuit.stations.len()
    );
    svg(&sheet, scale, &job.id("plan"), &name, &about, paper)
}

fn svg(sheet: &Sheet, scale: u32, id: &str, name: &str, about: &str, paper: Paper) -> String {
    let (w, h) = (num(sheet.w), num(sheet.h));
    let markup = html! {
        svg xmlns="http://www.w3.org/2000/svg" id=(id) class="lw-drawing" role="img" width=(format!("{w}mm"))
            height=(format!("{h}mm")) viewBox=(format!("0 0 {w} {h}")) data-scale=(scale) data-sheet=(sheet.name) {
            title { (name) }
            desc { (about) }
            style { (PreEscaped(STYLE)) }
            (paper.into_markup())
        }
    };
    markup.into_string() + "\n"
}

/// How a plan lies on its sheet: the scale's denominator, paper round the cell, and whether the allowed floor is drawn
/// round it.
struct Lies {
    scale: u32,
    round: (f64, f64, f64, f64),
    site: bool,
}

impl Lies {
    /// At the largest scale for the cell. The allowed floor is drawn round it, to scale, where it fits at that scale or at
    /// one that makes the cell little smaller; else it stands in a key plan. `high` is what the field needs besides the floor
    /// and the paper below it: millimetres, and metres of the cell.
    fn of(job: &Job<'_>, sheet: &Sheet, paper_mm: f64, high_m: f64) -> Self {
        let (field, outer) = (sheet.field(), job.layout.outer);
        let (left, _, right, bottom) = ROUND;
        let room = (field.w - left - right, field.h - paper_mm - bottom);
        let scale = sheet::scale((outer.length(), outer.width() + high_m), room);
        let with_site = |n: u32| {
            let per_m = 1000.0 / f64::from(n);
            let round = round_site(&job.layout, per_m);
            let (left, top, right, bottom) = round;
            let above = paper_mm + top - ROUND.1;
            let fits = outer.length() * per_m + left + right <= field.w
                && (outer.width() + high_m) * per_m + above + bottom <= field.h;
            fits.then_some(Self { scale: n, round, site: true })
        };
        // Places that are missed are to be seen and measured, at whatever scale.
        let far = !job.layout.keep_out.is_empty();
        let near = job.layout.site.and_then(|_| sheet::near(scale, far).find_map(with_site));
        near.unwrap_or(Self { scale, round: ROUND, site: false })
    }

    fn per_m(&self) -> f64 {
        1000.0 / f64::from(self.scale)
    }
}

/// One view, in the middle of the field.
fn flat(paper: &mut Paper, job: &Job<'_>, sheet: &Sheet) -> Lies {
    let lies = Lies::of(job, sheet, ROUND.1, 0.0);
    let (field, outer, per_m) = (sheet.field(), job.layout.outer, lies.per_m());
    let (left, top, right, bottom) = lies.round;
    let room = (field.w - left - right, field.h - top - bottom);
    let x = field.x + left + (room.0 - outer.length() * per_m) / 2.0 - outer.x0 * per_m;
    let y = field.y + top + (room.1 - outer.width() * per_m) / 2.0 + outer.y1 * per_m;
    let view = View { origin: (x, y), per_m };
    floor_seen(paper, job, &view, &lies);
    measures::radius(paper, &job.layout, &view);
    views::names(paper, job, &view);
    views::flows(paper, job, &view);
    views::letters(paper, job, &view);
    lies
}

/// The view from above with its dimensions, and round it the allowed floor.
fn floor_seen(paper: &mut Paper, job: &Job<'_>, view: &View, lies: &Lies) {
    if lies.site {
        measures::site(paper, &job.layout, view, &job.id("site"));
    }
    views::from_above(paper, job, view);
    views::feed_name(paper, job, view);
    measures::floor(paper, &job.layout, view);
    if lies.site {
        measures::site_sizes(paper, &job.layout, view);
    }
}

/// The front view, and under it the view from above.
fn upright(paper: &mut Paper, job: &Job<'_>, sheet: &Sheet) -> Lies {
    const TITLE: f64 = 12.0;
    const BETWEEN: f64 = 16.0;
    let c = job.layout.circuit;
    let high = job.layout.span() + c.track_width_m;
    let lies = Lies::of(job, sheet, TITLE + BETWEEN, high);
    let (field, outer, per_m) = (sheet.field(), job.layout.outer, lies.per_m());
    let (left, over, right, bottom) = lies.round;
    // The allowed floor may reach up between the views.
    let over = over - ROUND.1;
    let room = (field.w - left - right, field.h - TITLE - BETWEEN - over - bottom);
    let spare = (room.1 - (outer.width() + high) * per_m) / 2.0;
    let x = field.x + left + (room.0 - outer.length() * per_m) / 2.0 - outer.x0 * per_m;
    let top = field.y + TITLE + spare / 2.0;
    let front = View { origin: (x, top + c.track_width_m / 2.0 * per_m), per_m };
    let floor = top + high * per_m + BETWEEN + over + spare / 2.0;
    let above = View { origin: (x, floor + outer.y1 * per_m), per_m };
    let reach = if lies.site { job.layout.site.map_or(0.0, |s| (s.y1 - outer.y1).max(0.0) * per_m) } else { 0.0 };
    let caption = |words: &str, y: f64| Label::new(words, (field.x + 4.0, y)).start().class("lw-plain lw-strong");
    paper.label(&caption("Front view", top - 4.0));
    paper.label(&caption("View from above", floor - 4.0 - reach));
    views::loop_view(paper, job, &front);
    views::numbers(paper, job, &front);
    measures::heights(paper, &job.layout, &front);
    measures::radius(paper, &job.layout, &front);
    views::letters(paper, job, &front);
    floor_seen(paper, job, &above, &lies);
    views::names(paper, job, &above);
    views::flows(paper, job, &above);
    lies
}
