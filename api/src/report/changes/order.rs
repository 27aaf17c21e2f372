//! The order of the week: each lot's change and running, one after another.

use maud::{Markup, html};

use crate::draw::text;
use crate::report::frame::{Axis, SMALL, bar, n, picture, words};
use crate::wire::adjust::{ChangesLie, OrderShape};
use crate::wire::changeover::{ChangeoverDocument, Lot, Order};

const WIDE: f64 = 180.0;
const LEFT: f64 = 48.0;
const RIGHT: f64 = 52.0;
const ROW: f64 = 6.4;
const TOP: f64 = 24.0;
const BAR: f64 = 4.4;

const CHANGE: (&str, &str) = ("lw-c2", "cross");
const RUN: (&str, &str) = ("lw-c1", "");

/// Cases in groups of three.
fn cases(lot: &Lot) -> String {
    lot.cases.map_or_else(|| "–".to_owned(), |c| text::mm(c / 1000.0))
}

/// The lots from `from` on, as many as `most`, 180 mm wide.
#[must_use]
pub fn order_chart(document: &ChangeoverDocument, order: &Order, (from, most): (usize, usize), id: &str) -> Markup {
    let mut at = 0.0;
    let mut begin = Vec::new();
    for lot in &order.lots {
        begin.push(at);
        at += lot.change_s / 60.0 + lot.run_min.unwrap_or(0.0);
    }
    let shown: Vec<(usize, &Lot)> = order.lots.iter().enumerate().skip(from).take(most).collect();
    let bottom = TOP + shown.len() as f64 * ROW;
    // What is there for running, and for the changes where they lie inside of it.
    let there = document.week.as_ref().map(|w| match w.changes {
        ChangesLie::Inside => (w.available_min, "planned time"),
        ChangesLie::Outside => (w.available_min + w.change_min, "planned time and changes"),
    });
    let hours = [0.0, at, there.map_or(0.0, |t| t.0)].into_iter().map(|m| m / 60.0);
    let x = Axis::holding(hours, LEFT, WIDE - RIGHT);
    let place = |minutes: f64| x.at(minutes / 60.0);
    let shape = match order.shape {
        OrderShape::Cyclic => "repeats",
        OrderShape::Open => "does not repeat",
    };
    let proof = if order.proven { "no order takes less: proven" } else { "least order not proven" };
    let inside = html! {
        (bar(id, CHANGE, (4.0, 2.0), (5.0, 4.0)))
        (words("change", (10.5, 5.4), "start"))
        (bar(id, RUN, (34.0, 2.0), (5.0, 4.0)))
        (words("running", (40.5, 5.4), "start"))
        (words(&format!("{:.1} min of changes; {proof}; {shape}", order.total_s / 60.0), (4.0, 13.4), "start"))
        (words("change min", (WIDE - RIGHT + 19.0, TOP - 2.6), "end"))
        (words("cases", (WIDE - 18.0, TOP - 2.6), "end"))
        (words("run min", (WIDE - 2.0, TOP - 2.6), "end"))
        @for (at, tick) in x.ticks() {
            line class="lw-chart-grid" x1=(n(at)) y1=(n(TOP)) x2=(n(at)) y2=(n(bottom)) {}
            (words(&tick, (at, bottom + 5.0), "middle"))
        }
        (words("hours of changes and running", (LEFT, bottom + 10.0), "start"))
        @for (row, (i, lot)) in shown.iter().enumerate() {
            @let y = TOP + row as f64 * ROW;
            @let change = begin[*i] + lot.change_s / 60.0;
            @let end = change + lot.run_min.unwrap_or(0.0);
            (words(&text::clipped(&format!("{} {}", i + 1, lot.sku), SMALL, LEFT - 6.0), (LEFT - 2.0, y + 4.5), "end"))
            g class="lw-chart-lot" data-sku=(lot.sku) data-change-s=(lot.change_s) data-run-min=[lot.run_min] {
                @if change > begin[*i] {
                    (bar(id, CHANGE, (place(begin[*i]), y + 1.0), (place(change) - place(begin[*i]), BAR)))
                }
                @if end > change { (bar(id, RUN, (place(change), y + 1.0), (place(end) - place(change), BAR))) }
            }
            (words(&format!("{:.1}", lot.change_s / 60.0), (WIDE - RIGHT + 19.0, y + 4.5), "end"))
            (words(&cases(lot), (WIDE - 18.0, y + 4.5), "end"))
            (words(&lot.run_min.map_or_else(|| "–".to_owned(), |m| format!("{m:.0}")), (WIDE - 2.0, y + 4.5), "end"))
        }
        @if let Some((minutes, says)) = there {
            @let at = place(minutes);
            line class="lw-chart-target" x1=(n(at)) y1=(n(TOP - 3.0)) x2=(n(at)) y2=(n(bottom + 1.0)) {}
            (words(says, (at, TOP - 4.0), "end"))
        }
    };
    let about = "Each lot of the week in its order: the change before it and the time that it runs.";
    picture(id, (WIDE, bottom + 12.0), ("Order of the week", about), &inside)
}
