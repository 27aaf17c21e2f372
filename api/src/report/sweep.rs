//! Footprint over the number that was swept, from a sweep document.

use maud::{Markup, PreEscaped, html};

use super::frame::{Axis, SMALL, STYLE, axes, n};
use crate::draw::text;
use crate::wire::alternatives::{Ended, SweepDocument, SweepTarget};

/// Series of a second number that are drawn apart.
const SERIES: usize = 4;

/// The chart, 180 mm wide: floor and its proven bound, and where the best way of working of a station changes.
#[must_use]
pub fn sweep_chart(sweep: &SweepDocument, id: &str) -> Markup {
    const WIDE: f64 = 180.0;
    const HIGH: f64 = 100.0;
    const LEFT: f64 = 22.0;
    const TOP: f64 = 18.0;
    let mut seconds: Vec<f64> = Vec::new();
    for second in sweep.points.iter().filter_map(|p| p.second.as_ref()) {
        if !seconds.contains(second) {
            seconds.push(*second);
        }
    }
    let series: Vec<Option<f64>> =
        if seconds.is_empty() { vec![None] } else { seconds.into_iter().take(SERIES).map(Some).collect() };
    let of = |second: Option<f64>| {
        sweep.points.iter().filter(move |p| p.second == second).filter_map(|p| {
            let area = p.plan.footprint.as_ref().filter(|_| p.plan.status == Ended::Planned)?.area_m2;
            Some((p.value, area, p.plan.proven_bound_m2.unwrap_or(area)))
        })
    };
    let x = Axis::holding(sweep.points.iter().map(|p| p.value), LEFT, WIDE - 8.0);
    let areas = series.iter().flat_map(|s| of(*s).flat_map(|(_, area, bound)| [area, bound]).collect::<Vec<_>>());
    let y = Axis::holding(areas, HIGH - 14.0, TOP);
    let name = sweep.axes.first().map_or_else(String::new, |axis| match axis.of {
        SweepTarget::Times => format!("multiple of {}", axis.at),
        SweepTarget::Value => axis.at.clone(),
    });
    // Names that would lie on one another are left out; the strokes stay.
    let mut free = f64::NEG_INFINITY;
    let mut marks = Vec::new();
    for c in sweep.crossovers.iter().filter(|c| c.second.is_none()) {
        let at = x.at(f64::midpoint(c.from, c.to));
        let named = at >= free && at < WIDE - 26.0;
        if named {
            free = at + 28.0;
        }
        marks.push((at, named.then(|| text::clipped(&c.station, SMALL, 24.0))));
    }
    html! {
        svg xmlns="http://www.w3.org/2000/svg" id=(id) class="lw-chart" role="img" viewBox=(format!("0 0 {WIDE} {HIGH}"))
            width=(format!("{WIDE}mm")) height=(format!("{HIGH}mm")) {
            title { "Floor against " (name) }
            desc { "Least floor of each planned point, the proven bound, and changes of the best way of working." }
            style { (PreEscaped(STYLE)) }
            rect class="lw-chart-paper" x="0" y="0" width=(WIDE) height=(HIGH) {}
            (axes(&x, &y, (&text::clipped(&name, SMALL, 120.0), "floor, m²")))
            @for (at, station) in &marks {
                line class="lw-chart-mark" x1=(n(*at)) y1=(n(TOP)) x2=(n(*at)) y2=(n(HIGH - 14.0)) {}
                @if let Some(station) = station {
                    text class="lw-chart-text" x=(n(at + 1.0)) y=(n(TOP + 4.0)) font-size=(SMALL) { (station) }
                }
            }
            @for (i, second) in series.iter().enumerate() {
                @let points: Vec<_> = of(*second).collect();
                g class="lw-chart-series" data-second=[second] {
                    polyline class="lw-chart-bound" points=(points.iter().map(|p| format!("{},{}", n(x.at(p.0)), n(y.at(p.2)))).collect::<Vec<_>>().join(" ")) {}
                    polyline class="lw-chart-line" points=(points.iter().map(|p| format!("{},{}", n(x.at(p.0)), n(y.at(p.1)))).collect::<Vec<_>>().join(" ")) {}
                    @for p in &points {
                        (mark(i, x.at(p.0), y.at(p.1), p.0, p.1))
                    }
                }
                @if let Some(second) = second {
                    (mark(i, LEFT + 44.0 + i as f64 * 32.0, TOP - 5.3, 0.0, 0.0))
                    text class="lw-chart-text" x=(n(LEFT + 47.0 + i as f64 * 32.0)) y=(n(TOP - 4.0)) font-size=(SMALL) { (text::plain(*second, 4)) }
                }
            }
        }
    }
}

/// The sign of a point: circle, square, triangle or diamond, so that series stay apart without colour.
fn mark(series: usize, x: f64, y: f64, value: f64, area: f64) -> Markup {
    let d = match series {
        0 => "M-1.1 0A1.1 1.1 0 1 0 1.1 0A1.1 1.1 0 1 0 -1.1 0Z",
        1 => "M-1 -1L1 -1L1 1L-1 1Z",
        2 => "M0 -1.3L1.2 1L-1.2 1Z",
        _ => "M0 -1.4L1.4 0L0 1.4L-1.4 0Z",
    };
    html! {
        path class="lw-chart-point" data-value=(value) data-area-m2=(area)
            transform=(format!("translate({} {})", n(x), n(y))) d=(d) {}
    }
}
