//! Alternatives and levers in the report, from the documents of `compare`, `explain` and `sweep` where they are given.

use maud::{Markup, html};

use super::sections::money;
use super::sweep::sweep_chart;
use crate::wire::alternatives::{CompareDocument, Ended, ExplainDocument, Explained, Short, SweepDocument};

/// Levers that are listed.
const LEVERS: usize = 20;

/// Documents that were made beside the plan.
#[derive(Clone, Debug, Default)]
pub struct Beside {
    /// Variants of the cell side by side.
    pub compare: Option<CompareDocument>,
    /// What would help.
    pub explain: Option<ExplainDocument>,
    /// Plans over a range.
    pub sweep: Option<SweepDocument>,
}

fn ended(plan: &Short) -> &'static str {
    match plan.status {
        Ended::Planned if plan.proven => "planned, proven",
        Ended::Planned => "planned",
        Ended::Impossible => "impossible: proven",
        Ended::Stopped => "not found in the time given",
        Ended::Refused => "refused",
    }
}

fn area(plan: &Short) -> String {
    plan.footprint.as_ref().map_or_else(|| "–".to_owned(), |f| format!("{:.2}", f.area_m2))
}

fn or_dash<T>(value: Option<T>, shown: impl Fn(T) -> String) -> String {
    value.map_or_else(|| "–".to_owned(), shown)
}

/// Variants, and how the floor moves with a number.
pub(super) fn alternatives(beside: &Beside) -> Markup {
    html! {
        @if beside.compare.is_none() && beside.sweep.is_none() {
            p { "No comparison and no sweep was given with this report." }
        }
        @if let Some(compare) = &beside.compare {
            div class="wide" { table {
                thead { tr { th { "Variant" } th { "Answer" } th class="n" { "Floor m²" } th class="n" { "Carriers" } th class="n" { "Price" } th { "Differs in" } } }
                tbody { @for v in &compare.variants {
                    tr { td { (v.name) } td { (ended(&v.plan)) } td class="n" { (area(&v.plan)) }
                        td class="n" { (or_dash(v.plan.carriers, |c| c.to_string())) } td class="n" { (or_dash(v.plan.price, money)) }
                        td { (v.marks.join("; ")) } }
                } }
            } }
            @let first: Vec<_> = compare.differences.iter().filter(|d| d.than == 0).collect();
            @if !first.is_empty() {
                h3 { "Why they differ from the first" }
                ul { @for d in first { @if let Some(v) = compare.variants.get(d.of as usize) { li { (v.name) ": " (d.says) } } } }
            }
        }
        @if let Some(sweep) = &beside.sweep {
            figure { (sweep_chart(sweep, "lw-sweep")) figcaption { "Least floor (points), proven bound (dashes). Upright strokes: the best way of working of a station changes." } }
        }
    }
}

/// What would help, planned anew.
pub(super) fn levers(beside: &Beside) -> Markup {
    html! {
        @if let Some(explain) = &beside.explain {
            @match &explain.explained {
                Explained::Helped(helped) => {
                    h3 { "Limits relaxed by " (format!("{:.0} %", helped.step * 100.0)) ", each planned anew" }
                    p { "On this floor all rates together can rise to " (format!("{:.3}", helped.rates.does)) " times what is asked." }
                    div class="wide" { table {
                        thead { tr { th { "Relaxed" } th class="n" { "Floor saved m²" } th class="n" { "Carriers saved" } th class="n" { "Price saved" } } }
                        tbody { @for l in helped.levers.iter().take(LEVERS) {
                            tr { td { (l.says) } td class="n" { (or_dash(l.floor_saved_m2, |m| format!("{m:+.2}"))) }
                                td class="n" { (or_dash(l.carriers_saved, |c| format!("{c:+}"))) } td class="n" { (or_dash(l.price_saved, money)) } }
                        } }
                    } }
                    @if helped.levers.len() > LEVERS { p class="note" { "The first " (LEVERS) " of " (helped.levers.len()) ", in the order of the document." } }
                }
                _ => p { "The explanation that was given belongs to a cell without a plan." }
            }
        }
    }
}
