//! The report: one HTML document that loads nothing and prints on A4. Every number of the plan carries the JSON pointer of
//! its key in `data-key`.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::alternatives::alternatives;
use super::sections;
use crate::check::Document;
use crate::draw::{Drawable, plan_svg};
use crate::print::Wishes;
use crate::wire::plan::PlannedCircuit;

const STYLE: &str = include_str!("report.css");

/// Sections that begin a page in print.
const NEW_PAGE: [&str; 3] = ["Layout", "Basis of design", "Cautions and standards"];

/// What all sections look at.
pub(super) struct Report<'a> {
    pub(super) document: &'a Document,
    pub(super) plan: &'a Drawable<'a>,
    pub(super) circuit: &'a PlannedCircuit,
    pub(super) sku: usize,
    pub(super) wishes: &'a Wishes,
}

/// A number of the plan document with its key.
pub(super) fn num(pointer: impl Into<String>, value: f64, shown: impl Into<String>) -> Markup {
    let (pointer, shown) = (pointer.into(), shown.into());
    html! { data value=(value) data-key=(pointer) title=(pointer) { (shown) } }
}

/// The report of one circuit, drawn for one SKU.
#[must_use]
pub fn report_html(
    document: &Document,
    plan: &Drawable<'_>,
    circuit: &PlannedCircuit,
    sku: usize,
    wishes: &Wishes,
) -> String {
    let report = Report { document, plan, circuit, sku, wishes };
    let name = &plan.document.name;
    let titles = &wishes.titles;
    let drawing = plan_svg(plan, circuit, sku, titles, "lw-");
    let parts: [(&str, Markup); 13] = [
        ("Summary", sections::summary(&report)),
        ("Layout", layout(&report, &drawing)),
        ("Basis of design", sections::basis(&report)),
        ("Rate study", sections::rates(&report)),
        ("What limits, and what would help", sections::limits(&report)),
        ("Alternatives", alternatives(&wishes.beside)),
        ("Parts and prices", sections::prices(&report)),
        ("Efficiency", super::efficiency::efficiency(&report)),
        ("Changing over", super::changes::changing_over(&report)),
        ("Acceptance test, proposed", sections::acceptance(&report)),
        ("Open questions", sections::questions(&report)),
        ("Cautions and standards", sections::cautions(&report)),
        ("Method and proof", sections::method(&report)),
    ];
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (name) ": report" }
                style { (PreEscaped(STYLE)) }
            }
            body {
                header {
                    div class="owner" {
                        @if let Some(logo) = &wishes.logo { img class="logo" src=(logo) alt=(titles.company.as_deref().unwrap_or("Logo")); }
                        @if let Some(company) = &titles.company { p class="company" { (company) } }
                    }
                    h1 { (name) }
                    p class="kind" { "Plan of a packaging cell: report for a proposal" }
                    p class="fields" {
                        @for (what, value) in [("No.", &titles.number), ("Date", &titles.date), ("Issued by", &titles.author)] {
                            @if let Some(value) = value { span { (what) " " (value) } }
                        }
                        span { "Plan document " code { (plan.short_hash()) } }
                    }
                    p class="warning" {
                        "This is an estimate for a proposal, not a release to build. Read the cautions before anything is built."
                    }
                }
                nav { ol { @for (i, (title, _)) in parts.iter().enumerate() { li { a href=(format!("#part-{}", i + 1)) { (title) } } } } }
                main {
                    @for (i, (title, part)) in parts.iter().enumerate() {
                        section id=(format!("part-{}", i + 1)) class=[NEW_PAGE.contains(title).then_some("new-page")] {
                            h2 { span class="count" { (i + 1) } (title) }
                            (part)
                        }
                    }
                }
                footer { p { "Made with Loopwright " (env!("CARGO_PKG_VERSION")) ". The same documents give the same bytes." } }
            }
        }
    };
    page.into_string() + "\n"
}

fn layout(report: &Report<'_>, drawing: &str) -> Markup {
    html! {
        (sections::stations(report))
        (sections::sections(report))
        (super::feed::feed(report))
        figure class="sheet" {
            (PreEscaped(drawing))
            figcaption { "The plan to scale on a sheet; `drawing.svg` and `drawing.dxf` hold it by itself." }
        }
    }
}
