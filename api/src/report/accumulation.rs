//! The accumulation curve: net rate against the seconds that a section absorbs.

use maud::{Markup, html};

use super::frame::{Axis, SMALL, axes, n, picture};
use crate::wire::accumulation::AccumulationDocument;

/// The chart, 180 mm wide: net rates with their confidence intervals, what the customer asks for, what the document asks for
/// now, and the point after which more does not pay.
#[must_use]
pub fn accumulation_chart(document: &AccumulationDocument, id: &str) -> Markup {
    const WIDE: f64 = 180.0;
    const HIGH: f64 = 90.0;
    const LEFT: f64 = 22.0;
    const TOP: f64 = 20.0;
    let known: Vec<_> =
        document.points.iter().enumerate().filter_map(|(i, p)| Some((i, p, p.net_rate_per_min?))).collect();
    let x = Axis::holding(document.points.iter().map(|p| p.ride_through_s), LEFT, WIDE - 8.0);
    let rates = known.iter().flat_map(|(.., r)| [r.mean - r.half_width, r.mean + r.half_width]);
    let y = Axis::holding(rates.chain([document.asked_net_rate_per_min]), HIGH - 16.0, TOP);
    let line: Vec<String> =
        known.iter().map(|(_, p, r)| format!("{},{}", n(x.at(p.ride_through_s)), n(y.at(r.mean)))).collect();
    let asked = y.at(document.asked_net_rate_per_min);
    let about =
        "Simulated cases a minute at each ride-through with their 95 % confidence intervals, and what is asked.";
    let title = format!("Net rate against accumulation, {} to {}", document.asked.from, document.asked.to);
    let inside = html! {
        (axes(&x, &y, ("ride-through, s", "cases a minute")))
        line class="lw-chart-target" x1=(n(LEFT)) y1=(n(asked)) x2=(n(WIDE - 8.0)) y2=(n(asked)) {}
        polyline class="lw-chart-line" points=(line.join(" ")) {}
        @for (i, point, rate) in &known {
            @let (at, mean) = (x.at(point.ride_through_s), y.at(rate.mean));
            @let (low, high) = (y.at(rate.mean - rate.half_width), y.at(rate.mean + rate.half_width));
            line class="lw-chart-line" x1=(n(at)) y1=(n(low)) x2=(n(at)) y2=(n(high)) {}
            line class="lw-chart-line" x1=(n(at - 1.2)) y1=(n(low)) x2=(n(at + 1.2)) y2=(n(low)) {}
            line class="lw-chart-line" x1=(n(at - 1.2)) y1=(n(high)) x2=(n(at + 1.2)) y2=(n(high)) {}
            circle class="lw-chart-point" cx=(n(at)) cy=(n(mean)) r="1" data-ride-through-s=(point.ride_through_s)
                data-net-rate-per-min=(rate.mean) data-half-width=(rate.half_width) {}
            @if document.enough == u32::try_from(*i).ok() {
                circle class="lw-chart-own" cx=(n(at)) cy=(n(mean)) r="2.4" data-enough=(point.ride_through_s) {}
            }
        }
        circle class="lw-chart-own" cx=(n(LEFT + 46.0)) cy=(n(TOP - 5.3)) r="2.4" {}
        text class="lw-chart-text" x=(n(LEFT + 50.0)) y=(n(TOP - 4.0)) font-size=(SMALL) { "enough" }
        line class="lw-chart-target" x1=(n(LEFT + 78.0)) y1=(n(TOP - 5.3)) x2=(n(LEFT + 86.0)) y2=(n(TOP - 5.3)) {}
        text class="lw-chart-text" x=(n(LEFT + 88.0)) y=(n(TOP - 4.0)) font-size=(SMALL) { "net rate asked" }
    };
    picture(id, (WIDE, HIGH), (&title, about), &inside)
}
