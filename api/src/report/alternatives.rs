//! Alternatives and levers in the report, from the documents of `compare`, `explain` and `sweep` where they are given.

use maud::{Markup, html};

use super::accumulation::accumulation_chart;
use super::front::front_chart;
use super::sections::money;
use super::sweep::sweep_chart;
use crate::draw::text::plain;
use crate::wire::accumulation::AccumulationDocument;
use crate::wire::alternatives::{
    CompareDocument, ComparedOperation, ComparedSku, Ended, ExplainDocument, Explained, FrontDocument, Short,
    SweepDocument,
};
use crate::wire::changeover::ChangeoverDocument;
use crate::wire::plan::PlannedMode;
use crate::wire::simulation::SimulationDocument;

/// Levers that are listed.
const LEVERS: usize = 20;
/// Points of a sweep that are listed.
const POINTS: usize = 60;

/// Documents that were made beside the plan.
#[derive(Clone, Debug, Default)]
pub struct Beside {
    /// Variants of the cell side by side.
    pub compare: Option<CompareDocument>,
    /// What would help.
    pub explain: Option<ExplainDocument>,
    /// The plans that no other beats.
    pub front: Option<FrontDocument>,
    /// Plans over a range.
    pub sweep: Option<SweepDocument>,
    /// Every change from SKU to SKU, and the order of the week.
    pub changeover: Option<ChangeoverDocument>,
    /// The plan in operation.
    pub simulation: Option<SimulationDocument>,
    /// What accumulation buys.
    pub accumulation: Option<AccumulationDocument>,
}

pub(super) fn ended(plan: &Short) -> &'static str {
    match plan.status {
        Ended::Planned if plan.proven => "planned, proven",
        Ended::Planned => "planned",
        Ended::Impossible => "impossible: proven",
        Ended::Stopped => "not found in the time given",
        Ended::Refused => "refused",
    }
}

/// Stations of a plan that work on moving carriers.
pub(super) fn on_the_move(plan: &Short) -> String {
    let moving = plan.stations.iter().filter(|s| s.mode == PlannedMode::Continuous).map(|s| s.id.as_str());
    moving.collect::<Vec<_>>().join(", ")
}

/// Whether a front may lack plans.
pub(super) fn missing(front: &FrontDocument) -> &'static str {
    if front.complete { "None is missing: proven." } else { "Others may be missing: the search ended before." }
}

/// A number with the document that holds it and its key there; a dash where there is none.
pub(super) fn of(document: &str, pointer: String, value: Option<f64>, shown: impl Fn(f64) -> String) -> Markup {
    html! {
        @if let Some(value) = value {
            data value=(value) data-of=(document) data-key=(pointer) title=(format!("{document}: {pointer}")) { (shown(value)) }
        } @else { "–" }
    }
}

/// Floor, carriers and price of a plan in three cells.
fn sizes(document: &str, at: &str, plan: &Short) -> Markup {
    let area = plan.footprint.as_ref().map(|f| f.area_m2);
    html! {
        td class="n" { (of(document, format!("{at}/plan/footprint/area_m2"), area, |m| format!("{m:.2}"))) }
        td class="n" { (of(document, format!("{at}/plan/carriers"), plan.carriers.map(f64::from), |c| format!("{c}"))) }
        td class="n" { (of(document, format!("{at}/plan/price"), plan.price, money)) }
    }
}

/// Least efficiency of a plan with its interval, and its SKU, in two cells.
fn efficiency(at: &str, of: Option<&ComparedOperation>) -> Markup {
    let least = of.and_then(ComparedOperation::least);
    let number = |key: &str, (i, sku): (usize, &ComparedSku), value: fn(&ComparedSku) -> f64| {
        let pointer = format!("{at}/simulated/skus/{i}/efficiency/{key}");
        self::of("compare", pointer, Some(value(sku)), |share| format!("{:.1}", 100.0 * share))
    };
    html! {
        @if let Some(least) = least {
            td class="n" { (number("mean", least, |s| s.efficiency.mean)) " ± " (number("half_width", least, |s| s.efficiency.half_width)) }
            td { (least.1.id) }
        } @else { td class="n" { "–" } td {} }
    }
}

/// Variants, and how the floor moves with a number.
pub(super) fn alternatives(beside: &Beside) -> Markup {
    html! {
        @if beside.compare.is_none() && beside.sweep.is_none() && beside.accumulation.is_none() && beside.front.is_none() {
            p { "No comparison and no sweep was given with this report." }
        }
        @if let Some(compare) = &beside.compare {
            div class="wide" { table {
                thead { tr { th { "Variant" } th { "Answer" } th class="n" { "Floor m²" } th class="n" { "Carriers" } th class="n" { "Price" }
                    @if compare.simulated.is_some() { th class="n" { "Efficiency %" } th { "Of SKU" } } th { "Differs in" } } }
                tbody { @for (i, v) in compare.variants.iter().enumerate() {
                    tr { td { (v.name) } td { (ended(&v.plan)) } (sizes("compare", &format!("/variants/{i}"), &v.plan))
                        @if compare.simulated.is_some() { (efficiency(&format!("/variants/{i}"), v.simulated.as_ref())) }
                        td { (v.marks.join("; ")) } }
                } }
            } }
            @if let Some(simulated) = &compare.simulated {
                ul { @for note in &simulated.notes { li { (note) } } }
            }
            @let first: Vec<_> = compare.differences.iter().filter(|d| d.than == 0).collect();
            @if !first.is_empty() {
                h3 { "Why they differ from the first" }
                ul { @for d in first { @if let Some(v) = compare.variants.get(d.of as usize) { li { (v.name) ": " (d.says) } } } }
            }
        }
        @if let Some(front) = &beside.front {
            h3 { "Plans that no other beats" }
            figure { (front_chart(front, "lw-front")) figcaption { "Each plan at its carriers and floor, its price beside it. "
                (missing(front)) } }
            div class="wide" { table {
                thead { tr { th { "Plan" } th class="n" { "Floor m²" } th class="n" { "Carriers" } th class="n" { "Price" } th { "On moving carriers" } } }
                tbody { @for (i, plan) in front.plans.iter().enumerate().take(POINTS) {
                    tr { td { (i + 1) }
                        td class="n" { (of("front", format!("/plans/{i}/footprint/area_m2"), plan.footprint.as_ref().map(|f| f.area_m2), |m| format!("{m:.2}"))) }
                        td class="n" { (of("front", format!("/plans/{i}/carriers"), plan.carriers.map(f64::from), |c| format!("{c}"))) }
                        td class="n" { (of("front", format!("/plans/{i}/price"), plan.price, money)) }
                        td { (on_the_move(plan)) } }
                } }
            } }
            @if front.plans.len() > POINTS {
                p class="note" { "The first " (POINTS) " of " (front.plans.len()) " plans, " (front.plans.len() - POINTS) " more are not listed here; the workbook holds all." }
            }
        }
        @if let Some(curve) = &beside.accumulation {
            h3 { "What accumulation from " (curve.asked.from) " to " (curve.asked.to) " buys" }
            p { (curve.says) "." }
            figure { (accumulation_chart(curve, "lw-accumulation")) figcaption { "Simulated net rate of SKU " (curve.sku) " with its 95 % confidence interval; each point is planned anew and meets the same luck." } }
        }
        @if let Some(sweep) = &beside.sweep {
            h3 { "Floor over a range" }
            figure { (sweep_chart(sweep, "lw-sweep")) figcaption { "Least floor (points), proven bound (dashes). Upright strokes: the best way of working of a station changes." } }
            div class="wide" { table {
                thead { tr { th class="n" { "Value" } @if sweep.axes.len() > 1 { th class="n" { "Second" } } th { "Answer" } th class="n" { "Floor m²" } th class="n" { "Carriers" } th class="n" { "Price" } } }
                tbody { @for (i, point) in sweep.points.iter().enumerate().take(POINTS) {
                    @let at = format!("/points/{i}");
                    tr { td class="n" { (of("sweep", format!("{at}/value"), Some(point.value), |v| plain(v, 4))) }
                        @if sweep.axes.len() > 1 { td class="n" { (of("sweep", format!("{at}/second"), point.second, |v| plain(v, 4))) } }
                        td { (ended(&point.plan)) } (sizes("sweep", &at, &point.plan)) }
                } }
            } }
            @if sweep.points.len() > POINTS { p class="note" { "The first " (POINTS) " of " (sweep.points.len()) " points; the workbook holds all." } }
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
                    p { "On this floor all rates together can rise to " (of("explain", "/rates/does".to_owned(), Some(helped.rates.does), |d| format!("{d:.3}"))) " times what is asked." }
                    div class="wide" { table {
                        thead { tr { th { "Relaxed" } th class="n" { "Floor saved m²" } th class="n" { "Carriers saved" } th class="n" { "Price saved" } } }
                        tbody { @for (i, l) in helped.levers.iter().enumerate().take(LEVERS) {
                            @let at = format!("/levers/{i}");
                            tr { td { (l.says) }
                                td class="n" { (of("explain", format!("{at}/floor_saved_m2"), l.floor_saved_m2, |m| format!("{m:+.2}"))) }
                                td class="n" { (of("explain", format!("{at}/carriers_saved"), l.carriers_saved.map(|c| c as f64), |c| format!("{c:+}"))) }
                                td class="n" { (of("explain", format!("{at}/price_saved"), l.price_saved, money)) } }
                        } }
                    } }
                    @if helped.levers.len() > LEVERS { p class="note" { "The first " (LEVERS) " of " (helped.levers.len()) ", in the order of the document." } }
                }
                _ => p { "The explanation that was given belongs to a cell without a plan." }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wire::alternatives::FORMAT;

    #[test]
    fn a_long_front_says_how_many_plans_are_not_listed() {
        let plan = Short {
            status: Ended::Planned,
            footprint: None,
            proven_bound_m2: None,
            proven: true,
            loop_length_m: None,
            form: None,
            modules_per_straight: None,
            carriers: Some(7),
            price: Some(1.0),
            stations: Vec::new(),
            skus: Vec::new(),
            reasons: Vec::new(),
        };
        let page = |count: usize| {
            let plans = vec![plan.clone(); count];
            let front = FrontDocument {
                format: FORMAT,
                name: "Long".to_owned(),
                complete: true,
                zones: 1,
                plans,
                reasons: Vec::new(),
            };
            alternatives(&Beside { front: Some(front), ..Beside::default() }).into_string()
        };
        let long = page(POINTS + 3);
        assert!(long.contains("The first 60 of 63 plans, 3 more are not listed here"), "{long}");
        assert_eq!(long.matches("data-of=\"front\" data-key=\"/plans/").count(), 2 * POINTS);
        assert!(!page(POINTS).contains("not listed here"));
    }
}
