//! Tables, legend, scale bar, floor and title block.

use maud::html;

use super::geometry::Layout;
use super::measures::missed;
use super::paper::{Area, Label, Paper, SMALL, num};
use super::sheet::{LINE, STRIP, Sheet};
use super::views::{balloon, chevron, hatch};
use super::{Job, text};
use crate::wire::plan::{Planned, PlannedMode, PlannedStation};

/// A column of a table: heading, width, whether it holds numbers.
type Column = (&'static str, f64, bool);

const STATIONS: [Column; 7] = [
    ("", 9.0, true),
    ("Station", 33.0, false),
    ("Works", 17.0, false),
    ("Heads", 13.0, true),
    ("Batch", 13.0, true),
    ("Zone", 13.0, true),
    ("Floor", 26.0, true),
];
const SECTIONS: [Column; 7] = [
    ("", 9.0, true),
    ("Section from", 31.0, false),
    ("to", 31.0, false),
    ("Length", 15.0, true),
    ("Ends", 13.0, true),
    ("Slots", 12.0, true),
    ("Lag s", 13.0, true),
];

/// Lines that the tables of a plan need.
pub(super) fn lines(job: &Job<'_>) -> usize {
    notes(job).len() + job.layout.circuit.stations.len() + job.layout.circuit.sections.len() + 6
}

fn notes(job: &Job<'_>) -> Vec<String> {
    let c = job.layout.circuit;
    let mut all = Vec::new();
    if let Some(sku) = c.skus.get(job.sku) {
        all.push(format!("Carriers, batches and slots: SKU {}, pitch {} mm.", sku.id, text::mm(sku.pitch_m)));
        all.push(format!(
            "Design rate {} carriers/min, exact rate {}.",
            text::plain(sku.design_rate_per_min, 2),
            text::plain(sku.rate_per_min, 2)
        ));
    }
    all.extend(facing(&job.layout));
    all.push("Dimensions in millimetres, rounded to whole ones.".to_owned());
    all.push("Width of carriers not to scale; the track's width holds".to_owned());
    all.push("track, carrier and load together.".to_owned());
    all.push("Clearance is floor space. It is no guarding.".to_owned());
    all
}

/// What is to be known of a cell that is mirrored.
fn facing(layout: &Layout<'_>) -> Option<String> {
    layout.mirrored.then(|| "Mirrored: travel from right to left along the front.".to_owned())
}

/// Stations and sections by number and letter, then the notes.
pub(super) fn tables(paper: &mut Paper, job: &Job<'_>, sheet: &Sheet) {
    let c = job.layout.circuit;
    let column = sheet.column();
    let most = sheet.lines();
    let mut y = column.y + 1.5;
    let fits = most.saturating_sub(notes(job).len() + 6);
    let shown = if c.stations.len() + c.sections.len() <= fits { usize::MAX } else { (fits / 2).saturating_sub(1) };
    head(paper, column.x, &mut y, &STATIONS);
    for (i, s) in c.stations.iter().enumerate().take(shown) {
        station_line(paper, (column.x, &mut y), job, i + 1, s);
    }
    more(paper, column.x, &mut y, c.stations.len().saturating_sub(shown));
    y += LINE * 0.6;
    head(paper, column.x, &mut y, &SECTIONS);
    for (i, s) in c.sections.iter().enumerate().take(shown) {
        let (slots, lag) = s.skus.get(job.sku).map_or((0, 0.0), |k| (k.slots, k.lag_s));
        let ends = if s.curve_m > 0.0 { text::mm(s.curve_m) } else { "–".to_owned() };
        let to = if s.loaded { s.to.clone() } else { format!("{} (empty)", s.to) };
        let (length, slots, lag) = (text::mm(s.length_m), slots.to_string(), format!("{lag:.2}"));
        let row = [&text::letter(i), &s.from, &to, &length, &ends, &slots, &lag];
        line(paper, column.x, &mut y, &SECTIONS, row.map(String::as_str));
    }
    more(paper, column.x, &mut y, c.sections.len().saturating_sub(shown));
    y += LINE * 0.6;
    for note in notes(job) {
        y += LINE;
        let words = text::clipped(&note, SMALL, column.w - 4.0);
        paper.label(&Label::new(words, (column.x + 2.5, y - 1.3)).start().class("lw-soft"));
    }
}

fn head(paper: &mut Paper, x: f64, y: &mut f64, columns: &[Column; 7]) {
    line(paper, x, y, columns, columns.map(|(name, _, _)| name));
    let wide: f64 = columns.iter().map(|c| c.1).sum();
    paper.line("lw-rule", (x, *y), (x + wide, *y));
}

fn more(paper: &mut Paper, x: f64, y: &mut f64, hidden: usize) {
    if hidden > 0 {
        *y += LINE;
        let words = format!("and {hidden} more, in the plan document");
        paper.label(&Label::new(words, (x + 2.5, *y - 1.3)).start().class("lw-plain"));
    }
}

fn line(paper: &mut Paper, x: f64, y: &mut f64, columns: &[Column; 7], cells: [&str; 7]) {
    *y += LINE;
    let mut left = x;
    for ((_, wide, number), cell) in columns.iter().zip(cells) {
        if !cell.is_empty() {
            let words = text::clipped(cell, SMALL, wide - 2.0);
            let label = Label::new(words, (left + 1.5, *y - 1.4)).class("lw-plain lw-number");
            let label =
                if *number { Label { at: (left + wide - 1.0, label.at.1), ..label }.end() } else { label.start() };
            paper.label(&label);
        }
        left += wide;
    }
}

/// Signs and what they mean, the scale bar, and the cell on the floor that it may take.
pub(super) fn strip(paper: &mut Paper, job: &Job<'_>, sheet: &Sheet, per_m: f64, site_seen: bool) {
    let a = sheet.strip();
    paper.line("lw-rule", (a.x, a.y), (a.x + a.w, a.y));
    legend(paper, a);
    scale_bar(paper, (a.x + 140.0, a.y + 12.0), per_m);
    let corner = Area { x: a.x + a.w - 60.0, y: a.y + 2.0, w: 58.0, h: STRIP - 4.0 };
    if site_seen { site_sign(paper, job, corner) } else { site(paper, job, corner) }
}

fn legend(paper: &mut Paper, a: Area) {
    const ROW: f64 = 7.6;
    let words = [
        "zone: a batch stops, work on all at once",
        "zone: work on moving carriers",
        "carrier in working position, load",
        "slot of a queue",
        "station with its number",
        "section with its letter",
        "clearance line",
        "middle line of track, travel",
    ];
    for (i, words) in words.into_iter().enumerate() {
        let x = a.x + 2.0 + if i < 4 { 0.0 } else { 84.0 };
        let middle = a.y + 4.4 + (i % 4) as f64 * ROW;
        let sign = Area { x, y: middle - 2.6, w: 11.0, h: 5.2 };
        match i {
            0 => {
                paper.rect("lw-zone lw-zone-stops", sign);
                paper.path("lw-hatch", &hatch(sign));
            }
            1 => paper.rect("lw-zone lw-zone-moves", sign),
            2 => {
                paper.rect("lw-carrier", Area { x: x + 1.5, y: middle - 2.6, w: 8.0, h: 5.2 });
                paper.rect("lw-load", Area { x: x + 0.5, y: middle - 1.7, w: 10.0, h: 3.4 });
            }
            3 => paper.rect("lw-slot", Area { x: x + 1.5, y: middle - 2.6, w: 8.0, h: 5.2 }),
            4 => {
                paper.rect("lw-frame", Area { y: middle - 3.4, h: 6.8, ..sign });
                balloon(paper, (x + 5.5, middle), "1");
            }
            5 => {
                paper.put(html! {
                    rect class="lw-tag" x=(num(x + 3.1)) y=(num(middle - 2.3)) width="4.8" height="4.6" rx="1" {}
                });
                paper.label(&Label::new("A", (x + 5.5, middle + SMALL * 0.36)).class("lw-plain lw-strong"));
            }
            6 => paper.line("lw-clearance", (x, middle), (x + 11.0, middle)),
            _ => {
                paper.line("lw-path", (x, middle), (x + 11.0, middle));
                chevron(paper, (x + 5.5, middle), 0.0);
            }
        }
        paper.label(&Label::new(words, (x + 13.5, middle + SMALL * 0.36)).start().class("lw-plain"));
    }
}

/// A bar of whole metres, or of parts of one.
fn scale_bar(paper: &mut Paper, (x, y): (f64, f64), per_m: f64) {
    const LENGTHS: [f64; 13] = [0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0];
    const MOST: f64 = 48.0;
    let metres = LENGTHS.into_iter().rev().find(|m| m * per_m <= MOST).unwrap_or(0.01);
    let parts = 4;
    let part = metres * per_m / f64::from(parts);
    paper.put(html! { g class="lw-scale-bar" data-length-m=(metres) data-length-mm=(num(metres * per_m)) {} });
    for i in 0..parts {
        let class = if i % 2 == 0 { "lw-bar" } else { "lw-bar-open" };
        paper.rect(class, Area { x: x + f64::from(i) * part, y, w: part, h: 1.6 });
    }
    let ends = [(0.0, "0".to_owned()), (metres, format!("{} m", text::plain(metres, 2)))];
    for (at, words) in ends {
        paper.label(&Label::new(words, (x + at * per_m, y + 6.0)).class("lw-plain lw-number"));
    }
}

/// The sign of the floor that is drawn round the cell.
fn site_sign(paper: &mut Paper, job: &Job<'_>, room: Area) {
    let y = room.y + 4.0;
    paper.line("lw-site", (room.x + 2.0, y), (room.x + 16.0, y));
    let says = if job.layout.keep_out.is_empty() { "the cell in its middle" } else { "and places kept out of" };
    for (i, words) in ["floor that is allowed,", says].into_iter().enumerate() {
        let at = (room.x + 18.5, y + SMALL * 0.36 + i as f64 * LINE);
        paper.label(&Label::new(words, at).start().class("lw-plain"));
    }
}

/// A key plan, small: the floor that is allowed, with the cell in its middle.
fn site(paper: &mut Paper, job: &Job<'_>, room: Area) {
    let Some(floor) = job.layout.site else { return };
    let (long, wide, outer) = (floor.length(), floor.width(), job.layout.outer);
    let k = ((room.w - 6.0) / long).min((room.h - 8.0) / wide);
    let site = Area { x: room.x + (room.w - long * k) / 2.0, y: room.y + 1.0, w: long * k, h: wide * k };
    paper.put(html! {
        rect id=(job.id("site")) class="lw-site" data-length-m=(long) data-width-m=(wide) data-to-scale="no" x=(num(site.x))
            y=(num(site.y)) width=(num(site.w)) height=(num(site.h)) {}
    });
    let (cw, ch) = (outer.length() * k, outer.width() * k);
    let (x, y) = (site.x + (outer.x0 - floor.x0) * k, site.y + (floor.y1 - outer.y1) * k);
    paper.rect("lw-cell-outline", Area { x, y, w: cw, h: ch });
    for (i, (place, _)) in job.layout.keep_out.iter().enumerate() {
        let (x, y) = (site.x + (place.x0 - floor.x0) * k, site.y + (floor.y1 - place.y1) * k);
        let area = Area { x, y, w: place.length() * k, h: place.width() * k };
        missed(paper, area, &job.id(&format!("site-out-{}", i + 1)), (place.length(), place.width()));
    }
    let words = format!("floor {} × {}, key plan", text::mm(long), text::mm(wide));
    paper.label(&Label::new(words, (room.x + room.w / 2.0, site.y + site.h + 5.0)).class("lw-plain"));
}

/// A row of the title block: height, font size, classes, and each field with its width.
type Row = (f64, f64, &'static str, Vec<(f64, String)>);

/// What the title block says of the drawing itself.
pub(super) struct Says {
    pub(super) scale: u32,
    /// What is drawn.
    pub(super) of: String,
    /// How long the loop is, or the loops are.
    pub(super) round: String,
    pub(super) carriers: u32,
}

/// The title block, with the data fields of ISO 7200 that are known here.
pub(super) fn title(paper: &mut Paper, job: &Job<'_>, planned: &Planned, sheet: &Sheet, says: &Says) {
    let a = sheet.title();
    paper.rect("lw-outline", a);
    let given = |what: &str, value: &Option<String>| format!("{what} {}", value.as_deref().unwrap_or("–"));
    let titles = job.titles;
    let area = format!("Area {} m²", text::plain(planned.footprint.area_m2, 2));
    let size = format!("Floor {} × {}", text::mm(planned.footprint.length_m), text::mm(planned.footprint.width_m));
    let name_size = if text::width(job.name, 5.0) * 1.1 > a.w - 4.0 { SMALL } else { 5.0 };
    let rows: [Row; 7] = [
        (8.0, 4.6, "lw-plain lw-strong", vec![(124.0, titles.company.clone().unwrap_or_else(|| "–".to_owned()))]),
        (9.0, name_size, "lw-plain lw-strong", vec![(124.0, job.name.to_owned())]),
        (7.4, SMALL, "lw-plain", vec![(124.0, says.of.clone())]),
        (
            7.4,
            SMALL,
            "lw-plain",
            vec![(28.0, format!("Scale 1:{}", says.scale)), (20.0, sheet.name.to_owned()), (42.0, size), (34.0, area)],
        ),
        (
            7.4,
            SMALL,
            "lw-plain",
            vec![
                (48.0, says.round.clone()),
                (42.0, format!("{} carriers", says.carriers)),
                (34.0, given("Date", &titles.date)),
            ],
        ),
        (
            7.4,
            SMALL,
            "lw-plain",
            vec![
                (48.0, given("Drawn by", &titles.author)),
                (42.0, given("No.", &titles.number)),
                (34.0, format!("Plan {}", job.hash)),
            ],
        ),
        (
            7.4,
            SMALL,
            "lw-plain lw-strong",
            vec![(124.0, "Estimate for a proposal. Not a release to build.".to_owned())],
        ),
    ];
    let mut y = a.y;
    for (high, size, class, cells) in rows {
        let mut x = a.x;
        for (i, (wide, words)) in cells.iter().enumerate() {
            let room = if class.contains("strong") { (wide - 4.0) / 1.1 } else { wide - 3.0 };
            let label = Label::new(text::clipped(words, size, room), (x + 2.0, y + high / 2.0 + size * 0.36));
            paper.label(&label.start().size(size).class(class));
            if i > 0 {
                paper.line("lw-rule", (x, y), (x, y + high));
            }
            x += wide;
        }
        y += high;
        paper.line("lw-rule", (a.x, y), (a.x + a.w, y));
    }
}

/// Lines that the tables of several circuits need.
pub(super) fn lines_of_all(jobs: &[Job<'_>]) -> usize {
    let facing = jobs.first().and_then(|job| facing(&job.layout)).iter().count();
    jobs.iter().map(|job| job.layout.circuit.stations.len() + 2).sum::<usize>() + 8 + facing
}

/// Stations of several circuits by number, then the notes. Sections stand on the drawings of the circuits.
pub(super) fn tables_of_all(paper: &mut Paper, jobs: &[Job<'_>], sheet: &Sheet) {
    let column = sheet.column();
    let mut y = column.y + 1.5;
    head(paper, column.x, &mut y, &STATIONS);
    let mut notes = Vec::new();
    for job in jobs {
        let c = job.layout.circuit;
        y += LINE;
        let words = format!("loop {}: {} round, {} carriers", c.id, text::mm(c.loop_length_m), c.carriers);
        paper.label(&Label::new(words, (column.x + 2.5, y - 1.3)).start().class("lw-plain lw-strong"));
        for (i, s) in c.stations.iter().enumerate() {
            let Some(number) = job.number(i) else { continue };
            station_line(paper, (column.x, &mut y), job, number, s);
        }
        if let Some(sku) = c.skus.get(job.sku) {
            let (asked, does) = (text::plain(sku.design_rate_per_min, 2), text::plain(sku.rate_per_min, 2));
            notes.push(format!("Loop {}: design rate {asked} carriers/min, exact rate {does}.", c.id));
        }
    }
    y += LINE * 0.6;
    notes.extend(jobs.first().and_then(|job| facing(&job.layout)));
    notes.push("Batches of a hand-off are those of the loop it is listed with.".to_owned());
    notes.push("Zones, sections and slots: see the drawing of each loop.".to_owned());
    notes.push("Dimensions in millimetres, rounded to whole ones.".to_owned());
    notes.push("Clearance is floor space. It is no guarding.".to_owned());
    for note in notes {
        y += LINE;
        let words = text::clipped(&note, SMALL, column.w - 4.0);
        paper.label(&Label::new(words, (column.x + 2.5, y - 1.3)).start().class("lw-soft"));
    }
}

fn station_line(paper: &mut Paper, (x, y): (f64, &mut f64), job: &Job<'_>, number: usize, s: &PlannedStation) {
    let batch = s.skus.get(job.sku).map_or(0, |k| k.batch);
    let mode = if s.mode == PlannedMode::Intermittent { "stops" } else { "moves" };
    let floor =
        if s.depth_m > 0.0 { format!("{} × {}", text::mm(s.frame_m), text::mm(s.depth_m)) } else { "none".to_owned() };
    let (heads, zone) = (s.heads.to_string(), text::mm(s.zone_m));
    let row = [&number.to_string(), &s.id, mode, &heads, &batch.to_string(), &zone, &floor];
    line(paper, x, y, &STATIONS, row);
}
