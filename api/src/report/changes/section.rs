//! The section of the report.

use maud::{Markup, html};

use super::matrix::{matrix_chart, needs_sheet};
use super::order::order_chart;
use super::schedule::schedule_chart;
use crate::draw::text::plain;
use crate::report::alternatives::of;
use crate::report::html::Report;
use crate::wire::adjust::{ChangesLie, CountsFrom};
use crate::wire::changeover::{ChangeInFull, ChangeoverDocument, Order, WeekDone};

/// Rows of a picture that fit on a page.
const ROWS: usize = 30;
/// Changes that are listed.
const LISTED: usize = 12;
/// Findings that are listed.
const FINDINGS: usize = 5;
/// SKUs whose running empty and refilling are listed.
const SKUS: usize = 60;

/// A number of the answer of `changeover`, shown otherwise.
fn held(pointer: impl std::fmt::Display, value: f64, shown: impl Fn(f64) -> String) -> Markup {
    of("changeover", format!("/changeover{pointer}"), Some(value), shown)
}

fn minutes(seconds: f64) -> String {
    format!("{:.1}", seconds / 60.0)
}

fn count(value: f64) -> String {
    format!("{value:.0}")
}

/// Every change, the longest as bars, the order of the week.
pub fn changing_over(report: &Report<'_>) -> Markup {
    let Some(document) = &report.wishes.beside.changeover else {
        return html! { p { "No changes from SKU to SKU were given with this report." } };
    };
    let pair = report.wishes.change.as_ref().map(|(from, to)| (from.as_str(), to.as_str()));
    let asked = pair.and_then(|pair| super::change(document, Some(pair)).ok());
    let longest = document.changes.first();
    html! {
        (summary(document))
        h3 { "All changes" }
        @if needs_sheet(document) {
            p { "Every change stands on a sheet of its own." }
            figure class="sheet" { (matrix_chart(document, "lw-changes")) figcaption { "Hatched: over the limit. Framed: the longest." } }
        } @else {
            figure { (matrix_chart(document, "lw-changes")) figcaption { "Hatched: over the limit. Framed: the longest." } }
        }
        (listed(document))
        @for (i, (what, change)) in [("The longest change", longest), ("The change that was asked for", asked)].into_iter().enumerate() {
            @if let Some(change) = change.filter(|c| i == 0 || !longest.is_some_and(|l| l.from == c.from && l.to == c.to)) {
                (in_full(document, what, change, &format!("lw-change-{}", i + 1)))
            }
        }
        @if let Some(order) = &document.order { (the_order(document, order)) }
        @if let Some(week) = &document.week { (the_week(week)) }
        @if !document.findings.is_empty() {
            h3 { "Over the limit, or not within the week" }
            ul { @for finding in document.findings.iter().take(FINDINGS) { li { (finding.message) ". " (finding.what_to_do) } } }
            @if document.findings.len() > FINDINGS { p class="note" { "The first " (FINDINGS) " of " (document.findings.len()) "; the changeover document holds all." } }
        }
        h3 { "Running empty and refilling" }
        div class="wide" { table {
            thead { tr { th { "SKU" } th class="n" { "Running empty s" } th class="n" { "Refilling s" } } }
            tbody { @for (k, s) in document.skus.iter().enumerate().take(SKUS) {
                tr { td { (s.id) }
                    td class="n" { (held(format!("/skus/{k}/run_out_s"), s.run_out_s, |s| format!("{s:.1}"))) }
                    td class="n" { (held(format!("/skus/{k}/refill_s"), s.refill_s, |s| format!("{s:.1}"))) } }
            } }
        } }
        @if document.skus.len() > SKUS { p class="note" { "The first " (SKUS) " of " (document.skus.len()) "; the workbook holds all." } }
        ul { @for caution in &document.cautions { li { (caution) } } }
    }
}

fn summary(document: &ChangeoverDocument) -> Markup {
    let from = match document.counts_from {
        CountsFrom::LastCase => "the last good case",
        CountsFrom::LastIntake => "the last case begun",
    };
    html! {
        p { "A change counts from " (from) " to the first good case of the next SKU, with "
            (held("/operators", document.operators.into(), count)) " people at hand. Of "
            (held("/count/all", document.count.all as f64, count)) " changes, "
            (held("/count/automatic", document.count.automatic as f64, count)) " need no work by hand in the stop; the mean is "
            (held("/mean_s", document.mean_s, minutes)) " minutes. "
            @match document.limit_s {
                None => { "There is no limit." }
                Some(limit) => {
                    (held("/count/over_limit", document.count.over_limit as f64, count)) " take longer than the limit of "
                    (held("/limit_s", limit, minutes)) " minutes."
                }
            }
        }
    }
}

/// The longest changes, and those of the order.
fn listed(document: &ChangeoverDocument) -> Markup {
    html! {
        h3 { "Changes in full" }
        div class="wide" { table {
            thead { tr { th { "From" } th { "To" } th class="n" { "Minutes" } th class="n" { "By hand" } th class="n" { "Moves s" }
                th class="n" { "Refilling s" } th { "Decided by" } } }
            tbody { @for (i, c) in document.changes.iter().enumerate().take(LISTED) {
                @let at = format!("/changes/{i}");
                tr { td { (c.from) } td { (c.to) }
                    td class="n" { (held(format!("{at}/total_s"), c.total_s, minutes)) }
                    td class="n" { (held(format!("{at}/by_hand_s"), c.by_hand_s, minutes)) }
                    td class="n" { (held(format!("{at}/moving_s"), c.moving_s, |s| format!("{s:.1}"))) }
                    td class="n" { (held(format!("{at}/refill_s"), c.refill_s, |s| format!("{s:.1}"))) }
                    td { (c.decided_by) } }
            } }
        } }
        @if document.changes.len() > LISTED { p class="note" { "The longest first. The first " (LISTED) " of " (document.changes.len()) "; the workbook holds all." } }
    }
}

fn in_full(document: &ChangeoverDocument, what: &str, change: &ChangeInFull, id: &str) -> Markup {
    html! {
        h3 { (what) ": from " (change.from) " to " (change.to) }
        figure { (schedule_chart(document, change, ROWS, id))
            figcaption { "Steps outside the stop are drawn next to it; they may be done earlier or later. "
                @if change.by_hand_proven { "No schedule of the steps inside it takes less: proven." } @else { "That no schedule of the steps inside it takes less is not proven." } } }
    }
}

fn the_order(document: &ChangeoverDocument, order: &Order) -> Markup {
    let starts: Vec<usize> = (0..order.lots.len()).step_by(ROWS).collect();
    html! {
        h3 { "Order of the week" }
        p { "Least total change time: " (held("/order/total_s", order.total_s, minutes)) " minutes; no order takes less than "
            (held("/order/proven_bound_s", order.proven_bound_s, minutes)) " minutes, a gap of "
            (held("/order/gap", order.gap, |g| format!("{:.2}\u{a0}%", 100.0 * g))) ". "
            @if let Some(listed) = order.as_listed_s { "Run as the SKUs are listed it would be " (held("/order/as_listed_s", listed, minutes)) " minutes." } }
        @for (i, from) in starts.into_iter().enumerate() {
            figure { (order_chart(document, order, (from, ROWS), &format!("lw-order-{}", i + 1)))
                figcaption { "Lots in their order" @if order.lots.len() > ROWS { ", from number " (from + 1) } "." } }
        }
    }
}

fn the_week(week: &WeekDone) -> Markup {
    let whole = |m: f64| plain(m, 1);
    html! {
        h3 { "The week" }
        table { tbody {
            tr { th { "Planned minutes without breaks" } td { (held("/week/available_min", week.available_min, whole)) } }
            tr { th { "Changes" } td { (held("/week/change_count", week.change_count as f64, count)) ", "
                (held("/week/change_min", week.change_min, whole)) " minutes, "
                @match week.changes { ChangesLie::Inside => "inside the planned time", ChangesLie::Outside => "outside the planned time" } } }
            tr { th { "Availability after changes" } td { (held("/week/availability", week.availability, |a| format!("{a:.3}")))
                "; the design rate allows for " (held("/week/allowed_availability", week.allowed_availability, |a| format!("{a:.3}"))) } }
            @if let Some(run) = week.run_min { tr { th { "Minutes of running" } td { (held("/week/run_min", run, whole)) } } }
            @if let Some(left) = week.left_min {
                tr { th { "Left over" } td { (held("/week/left_min", left, whole)) " minutes" @if left < 0.0 { " (missing)" } } }
            }
        } }
    }
}
