//! The report: one HTML document that loads nothing and prints on A4. Every number of the plan carries the JSON pointer of
//! its key in `data-key`.

use std::borrow::Cow;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::alternatives::alternatives;
use super::{sections, several};
use crate::check::Document;
use crate::draw::text::letter;
use crate::draw::{Drawable, plan_svg, whole_svg};
use crate::print::Wishes;
use crate::wire::plan::PlannedCircuit;

const STYLE: &str = include_str!("report.css");

/// Sections that begin a page in print, and one of several circuits.
const NEW_PAGE: [&str; 3] = ["Layout", "Basis of design", "Cautions and standards"];

/// What all sections look at.
pub(super) struct Report<'a> {
    pub(super) document: &'a Document,
    pub(super) plan: &'a Drawable<'a>,
    pub(super) circuit: &'a PlannedCircuit,
    pub(super) sku: usize,
    pub(super) wishes: &'a Wishes,
}

impl<'a> Report<'a> {
    /// Whether the cell has several circuits.
    pub(super) fn several(&self) -> bool {
        self.plan.planned.circuits.len() > 1
    }

    /// Number of the circuit in the plan.
    pub(super) fn place(&self) -> usize {
        self.plan.planned.circuits.iter().position(|c| std::ptr::eq(c, self.circuit)).unwrap_or(0)
    }

    /// The same report, looking at each circuit in turn.
    pub(super) fn each(&self) -> Vec<Self> {
        let Report { document, plan, sku, wishes, .. } = *self;
        let circuits: &'a [PlannedCircuit] = &plan.planned.circuits;
        circuits.iter().map(|circuit| Report { document, plan, circuit, sku, wishes }).collect()
    }

    /// Number of a station on the drawing, where those of all circuits are counted through and a hand-off once.
    pub(super) fn number(&self, station: usize) -> usize {
        let id = &self.circuit.stations[station].id;
        let mut known: Vec<&str> = Vec::new();
        for other in self.plan.planned.circuits.iter().flat_map(|c| &c.stations) {
            if !known.contains(&other.id.as_str()) {
                known.push(&other.id);
            }
        }
        known.iter().position(|other| other == id).map_or(station + 1, |at| at + 1)
    }

    /// Letter of a section on the drawing, those of the circuits before being used up.
    pub(super) fn letter(&self, section: usize) -> String {
        let before = self.plan.planned.circuits.iter().take(self.place());
        letter(before.map(|c| c.sections.len()).sum::<usize>() + section)
    }

    /// Id of a chart for a SKU; of one circuit without its number.
    pub(super) fn chart(&self, kind: &str, sku: usize) -> String {
        let sku = sku + 1;
        if self.several() { format!("{kind}-{}-{sku}", self.place() + 1) } else { format!("{kind}-{sku}") }
    }
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
    let parts = if report.several() { of_several(&report) } else { of_one(&report) };
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (name) ": report" }
                style { (PreEscaped(STYLE)) @if report.several() { (PreEscaped(several::STYLE)) } }
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
                        section id=(format!("part-{}", i + 1)) class=[own_page(title).then_some("new-page")] {
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

fn own_page(title: &str) -> bool {
    NEW_PAGE.contains(&title) || title.starts_with(several::CIRCUIT)
}

/// Parts of the report with their titles.
type Parts = Vec<(Cow<'static, str>, Markup)>;

fn of_one(report: &Report<'_>) -> Parts {
    let drawing = plan_svg(report.plan, report.circuit, report.sku, &report.wishes.titles, "lw-");
    let parts = [
        ("Summary", sections::summary(report)),
        ("Layout", layout(report, &drawing)),
        ("Basis of design", sections::basis(report)),
        ("Rate study", sections::rates(report)),
        ("What limits, and what would help", sections::limits(report)),
        ("Alternatives", alternatives(&report.wishes.beside)),
        ("Parts and prices", sections::prices(report)),
        ("Efficiency", super::efficiency::efficiency(report)),
        ("Changing over", super::changes::changing_over(report)),
        ("Acceptance test, proposed", sections::acceptance(report)),
        ("Open questions", sections::questions(report)),
        ("Cautions and standards", sections::cautions(report)),
        ("Method and proof", sections::method(report)),
    ];
    parts.into_iter().map(|(title, part)| (title.into(), part)).collect()
}

/// What is not worked out for several circuits has no part: changing over.
fn of_several(report: &Report<'_>) -> Parts {
    let drawing = whole_svg(report.plan, report.sku, &report.wishes.titles, "lw-");
    let mut parts: Parts =
        vec![("Summary".into(), several::summary(report)), ("Layout".into(), several::layout(report, sheet(&drawing)))];
    for circuit in report.each() {
        parts.push((format!("{} {}", several::CIRCUIT, circuit.circuit.id).into(), several::circuit(&circuit)));
    }
    let rest = [
        ("Basis of design", sections::basis(report)),
        ("What limits, and what would help", sections::limits(report)),
        ("Alternatives", alternatives(&report.wishes.beside)),
        ("Parts and prices", several::prices(report)),
        ("Efficiency", super::efficiency::efficiency(report)),
        ("Acceptance test, proposed", sections::acceptance(report)),
        ("Open questions", sections::questions(report)),
        ("Cautions and standards", sections::cautions(report)),
        ("Method and proof", sections::method(report)),
    ];
    parts.extend(rest.into_iter().map(|(title, part)| (title.into(), part)));
    parts
}

fn layout(report: &Report<'_>, drawing: &str) -> Markup {
    html! {
        (sections::stations(report))
        (sections::sections(report))
        (super::feed::feed(report))
        (sheet(drawing))
    }
}

/// The drawing, on a page of its own in print.
fn sheet(drawing: &str) -> Markup {
    html! {
        figure class="sheet" {
            (PreEscaped(drawing))
            figcaption { "The plan to scale on a sheet; `drawing.svg` and `drawing.dxf` hold it by itself." }
        }
    }
}
