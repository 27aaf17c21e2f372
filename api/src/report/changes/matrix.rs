//! All changes from SKU to SKU as a picture: minutes in cells, shades by length, over the limit hatched, the longest framed.

use maud::{Markup, html};

use crate::draw::text;
use crate::report::frame::{SMALL, n, picture, words};
use crate::wire::changeover::ChangeoverDocument;

/// SKUs up to which cells are roomy.
const ROOMY: usize = 10;
/// SKUs up to which there are numbers in the cells; beyond, shades and hatches alone.
const NUMBERED: usize = 60;
/// Side of a picture without numbers.
const DENSE: f64 = 280.0;
/// Widest name.
const NAME: f64 = 36.0;
/// Shade of the longest change; ink on it keeps its contrast.
const DARKEST: f64 = 0.35;
/// Width of the page of a report.
const PAGE: f64 = 180.0;
/// Margin of a sheet of its own.
const MARGIN: f64 = 10.0;

/// How large things are.
struct Sizes {
    cell: (f64, f64),
    left: f64,
    top: f64,
    whole: (f64, f64),
    margin: f64,
}

/// Minutes in a cell: one decimal where there is room, or below ten.
fn number(seconds: f64, roomy: bool) -> String {
    let minutes = seconds / 60.0;
    if roomy || minutes < 9.95 { format!("{minutes:.1}") } else { format!("{minutes:.0}") }
}

/// Whether a change is over the limit.
#[must_use]
pub fn over(document: &ChangeoverDocument, seconds: f64) -> bool {
    document.limit_s.is_some_and(|limit| seconds > limit * (1.0 + 1e-9))
}

fn pairs(document: &ChangeoverDocument) -> impl Iterator<Item = (usize, usize, f64)> {
    let rows = document.matrix_s.iter().enumerate();
    rows.flat_map(|(i, row)| row.iter().enumerate().filter(move |(j, _)| i != *j).map(move |(j, s)| (i, j, *s)))
}

fn sizes(document: &ChangeoverDocument) -> Sizes {
    let count = document.skus.len();
    let name = document.skus.iter().map(|s| text::width(&s.id, SMALL)).fold(0.0, f64::max).min(NAME) + 4.0;
    let cell = if count > NUMBERED {
        let side = DENSE / count as f64;
        (side, side)
    } else {
        let roomy = count <= ROOMY;
        let widest = pairs(document).map(|(_, _, s)| text::width(&number(s, roomy), SMALL)).fold(0.0, f64::max);
        let (least, high): (f64, f64) = if roomy { (11.0, 7.0) } else { (5.6, 4.6) };
        (least.max(widest + 1.2), high)
    };
    let wide = (name + cell.0 * count as f64 + 3.0).max(150.0);
    // Wider than a page: a sheet of its own, with a margin.
    let margin = if wide > PAGE { MARGIN } else { 0.0 };
    let (left, top) = (margin + name, margin + 16.0 + name);
    let high = top + cell.1 * count as f64 + 3.0 + margin;
    Sizes { cell, left, top, whole: (if margin > 0.0 { wide + 2.0 * margin } else { PAGE }, high), margin }
}

/// Whether the picture needs a sheet of its own.
#[must_use]
pub fn needs_sheet(document: &ChangeoverDocument) -> bool {
    sizes(document).whole.0 > PAGE
}

/// The picture; 180 mm wide where it finds room on that.
#[must_use]
pub fn matrix_chart(document: &ChangeoverDocument, id: &str) -> Markup {
    let count = document.skus.len();
    let Sizes { cell: (w, h), left, top, whole, margin } = sizes(document);
    let longest = pairs(document).map(|(_, _, s)| s).fold(0.0, f64::max);
    let at = |i: usize, j: usize| (left + j as f64 * w, top + i as f64 * h);
    // Of many names, as many as keep apart.
    let every = ((SMALL + 1.0) / w.min(h)).ceil().max(1.0) as usize;
    let inside = html! {
        (legend(document, id, longest, (margin.max(4.0), margin + 2.0)))
        @for (j, sku) in document.skus.iter().enumerate().filter(|(j, _)| j % every == 0) {
            @let (name, (x, y)) = (text::clipped(&sku.id, SMALL, NAME), at(j, j));
            (words(&name, (left - 2.0, y + h / 2.0 + 1.3), "end"))
            @let (x, y) = (x + w / 2.0 + 1.3, top - 2.0);
            text class="lw-chart-text" x=(n(x)) y=(n(y)) font-size=(SMALL) transform=(format!("rotate(-90 {} {})", n(x), n(y))) { (name) }
        }
        @for i in 0..count {
            @let (x, y) = at(i, i);
            rect class="lw-c4" x=(n(x)) y=(n(y)) width=(n(w)) height=(n(h)) {}
        }
        @for (i, j, seconds) in pairs(document) {
            @let (x, y) = at(i, j);
            @let shade = DARKEST * seconds / longest.max(1e-9);
            rect class="lw-chart-shade" x=(n(x)) y=(n(y)) width=(n(w)) height=(n(h)) fill-opacity=(text::plain(shade, 3))
                data-from=(document.skus[i].id) data-to=(document.skus[j].id) data-seconds=(seconds)
                data-over=[over(document, seconds).then_some("yes")] {}
            @if over(document, seconds) {
                rect class="lw-chart-over" x=(n(x)) y=(n(y)) width=(n(w)) height=(n(h)) fill=(format!("url(#{id}-fine)")) {}
            }
        }
        // Frames and numbers over all grounds.
        @for (i, j, _) in pairs(document).filter(|p| longest > 0.0 && p.2 >= longest * (1.0 - 1e-9)) {
            @let (x, y) = at(i, j);
            rect class="lw-chart-worst" x=(n(x + 0.4)) y=(n(y + 0.4)) width=(n((w - 0.8).max(0.2))) height=(n((h - 0.8).max(0.2))) {}
        }
        @if count <= NUMBERED {
            @for (i, j, seconds) in pairs(document) {
                @let (x, y) = at(i, j);
                text class=(if over(document, seconds) { "lw-chart-text lw-chart-halo" } else { "lw-chart-text" }) x=(n(x + w / 2.0)) y=(n(y + h / 2.0 + 1.3)) font-size=(SMALL) text-anchor="middle" {
                    (number(seconds, count <= ROOMY))
                }
            }
        }
    };
    let about = "Minutes of every change, from the SKU of the row to that of the column. Hatched: over the limit. Framed: the longest.";
    picture(id, whole, ("Changes from SKU to SKU", about), &inside)
}

fn legend(document: &ChangeoverDocument, id: &str, longest: f64, (x, y): (f64, f64)) -> Markup {
    const STEPS: u32 = 5;
    const STEP: f64 = 4.0;
    let minutes = |s: f64| format!("{:.1}", s / 60.0);
    html! {
        @for i in 0..STEPS {
            @let shade = DARKEST * (f64::from(i) + 1.0) / f64::from(STEPS);
            rect class="lw-chart-shade" x=(n(x + f64::from(i) * STEP)) y=(n(y)) width=(n(STEP)) height="4" fill-opacity=(text::plain(shade, 3)) {}
        }
        (words(&format!("up to {} min", minutes(longest)), (x + 22.0, y + 3.4), "start"))
        rect class="lw-chart-worst" x=(n(x + 54.4)) y=(n(y + 0.4)) width="5.2" height="3.2" {}
        (words("longest", (x + 62.0, y + 3.4), "start"))
        @if let Some(limit) = document.limit_s {
            rect class="lw-chart-shade" x=(n(x + 80.0)) y=(n(y)) width="6" height="4" fill-opacity="0" {}
            rect class="lw-chart-over" x=(n(x + 80.0)) y=(n(y)) width="6" height="4" fill=(format!("url(#{id}-fine)")) {}
            (words(&format!("over the limit of {} min", minutes(limit)), (x + 88.0, y + 3.4), "start"))
        }
        (words("Minutes from the SKU of the row to that of the column", (x, y + 10.4), "start"))
    }
}
