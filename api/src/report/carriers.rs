//! The rate over the number of carriers: it rises while carriers are too few, stays while something else limits it, and falls
//! when free places run out.

use maud::{Markup, PreEscaped, html};

use super::frame::{Axis, SMALL, STYLE, axes, n};
use crate::wire::carriers::{CarriersDocument, SkuCarriers};

/// The chart of one SKU, 180 mm wide, with the design rate and the plan's own number of carriers.
#[must_use]
pub fn carriers_chart(document: &CarriersDocument, sku: &SkuCarriers, id: &str) -> Markup {
    const WIDE: f64 = 180.0;
    const HIGH: f64 = 84.0;
    const LEFT: f64 = 22.0;
    const TOP: f64 = 18.0;
    let x = Axis::holding(sku.points.iter().map(|p| f64::from(p.carriers)).chain([0.0]), LEFT, WIDE - 8.0);
    let rates = sku.points.iter().map(|p| p.rate_per_min).chain([0.0, sku.design_rate_per_min]);
    let y = Axis::holding(rates, HIGH - 14.0, TOP);
    let place = |carriers: u32, rate: f64| (n(x.at(f64::from(carriers))), n(y.at(rate)));
    let line: Vec<String> = sku
        .points
        .iter()
        .map(|p| {
            let (x, y) = place(p.carriers, p.rate_per_min);
            format!("{x},{y}")
        })
        .collect();
    let own = sku.points.iter().find(|p| p.carriers == document.carriers);
    let target = y.at(sku.design_rate_per_min);
    html! {
        svg xmlns="http://www.w3.org/2000/svg" id=(id) class="lw-chart" role="img" viewBox=(format!("0 0 {WIDE} {HIGH}"))
            width=(format!("{WIDE}mm")) height=(format!("{HIGH}mm")) {
            title { "Rate against carriers, SKU " (sku.id) }
            desc { "Exact long-run rate with each number of carriers, the design rate, and the plan's own number." }
            style { (PreEscaped(STYLE)) }
            rect class="lw-chart-paper" x="0" y="0" width=(WIDE) height=(HIGH) {}
            (axes(&x, &y, ("carriers on the loop", "carriers a minute")))
            line class="lw-chart-target" x1=(n(LEFT)) y1=(n(target)) x2=(n(WIDE - 8.0)) y2=(n(target)) {}
            polyline class="lw-chart-line" points=(line.join(" ")) {}
            @for p in &sku.points {
                @let (x, y) = place(p.carriers, p.rate_per_min);
                circle class="lw-chart-point" cx=(x) cy=(y) r="0.7" data-carriers=(p.carriers) data-rate-per-min=(p.rate_per_min) {}
            }
            @if let Some(own) = own {
                @let (x, y) = place(own.carriers, own.rate_per_min);
                circle class="lw-chart-own" cx=(x) cy=(y) r="2" {}
            }
            circle class="lw-chart-own" cx=(n(LEFT + 46.0)) cy=(n(TOP - 5.3)) r="2" {}
            text class="lw-chart-text" x=(n(LEFT + 50.0)) y=(n(TOP - 4.0)) font-size=(SMALL) { "this plan" }
            line class="lw-chart-target" x1=(n(LEFT + 78.0)) y1=(n(TOP - 5.3)) x2=(n(LEFT + 86.0)) y2=(n(TOP - 5.3)) {}
            text class="lw-chart-text" x=(n(LEFT + 88.0)) y=(n(TOP - 4.0)) font-size=(SMALL) { "design rate" }
        }
    }
}
