//! The load of the stations for one SKU: what a carrier's share of a cycle is made of, against the time that it may take.

use maud::{Markup, PreEscaped, html};

use super::frame::{SMALL, STYLE, nice};
use crate::draw::{Drawable, text};
use crate::wire::plan::{PlannedCircuit, PlannedMode};

/// Seconds for each carrier.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Load {
    /// Moving in.
    pub moving: f64,
    /// Settling.
    pub settling: f64,
    /// Work.
    pub work: f64,
    /// Waiting, at the design rate.
    pub waiting: f64,
}

/// Load of each station for one SKU, and the seconds that a carrier may take at the design rate.
#[must_use]
pub fn loads(plan: &Drawable<'_>, circuit: &PlannedCircuit, sku: usize) -> (Vec<Load>, f64) {
    let target = circuit.skus.get(sku).map_or(0.0, |s| 60.0 / s.design_rate_per_min);
    let of = |station: &crate::wire::plan::PlannedStation| {
        let Some(k) = station.skus.get(sku) else {
            return Load { moving: 0.0, settling: 0.0, work: 0.0, waiting: 0.0 };
        };
        let each = 1.0 / f64::from(k.batch.max(1));
        let cell = plan.cell.stations.iter().find(|s| s.id == station.id);
        let settle = cell.and_then(|s| s.intermittent.as_ref()).map_or(0.0, |mode| mode.settle_s);
        let (moving, settling) = match station.mode {
            PlannedMode::Intermittent => (k.move_in_s, settle),
            PlannedMode::Continuous => (0.0, 0.0),
        };
        let work = (k.cycle_s - moving - settling).max(0.0);
        let waiting = (target - k.cycle_s * each).max(0.0);
        Load { moving: moving * each, settling: settling * each, work: work * each, waiting }
    };
    (circuit.stations.iter().map(of).collect(), target)
}

/// The chart, 180 mm wide.
#[must_use]
pub fn load_chart(plan: &Drawable<'_>, circuit: &PlannedCircuit, sku: usize, id: &str) -> Markup {
    const ROW: f64 = 7.5;
    const LEFT: f64 = 44.0;
    const WIDE: f64 = 180.0;
    let (loads, target) = loads(plan, circuit, sku);
    let longest = loads.iter().map(|l| l.moving + l.settling + l.work + l.waiting).fold(target, f64::max);
    let step = nice(longest / 6.0);
    let end = (longest * 1.02 / step).ceil() * step;
    let k = (WIDE - LEFT - 8.0) / end;
    let top = 16.0;
    let high = top + loads.len() as f64 * ROW + 12.0;
    let name = circuit.skus.get(sku).map_or("", |s| &s.id);
    let n = |v: f64| text::plain(v, 3);
    let bottom = top + loads.len() as f64 * ROW;
    let kinds = [("lw-c1", "moving in"), ("lw-c2", "settling"), ("lw-c3", "work"), ("lw-c4", "waiting")];
    let mut ticks = Vec::new();
    let mut at = 0.0;
    while at <= end + step / 2.0 {
        ticks.push(at);
        at += step;
    }
    html! {
        svg xmlns="http://www.w3.org/2000/svg" id=(id) class="lw-chart" role="img" viewBox=(format!("0 0 {WIDE} {}", n(high)))
            width=(format!("{WIDE}mm")) height=(format!("{}mm", n(high))) data-target-s=(target) {
            title { "Load of the stations, SKU " (name) }
            desc { "Seconds for each carrier: moving in, settling, work and waiting, against the design rate." }
            style { (PreEscaped(STYLE)) }
            defs {
                pattern id=(format!("{id}-hatch")) width="1.8" height="1.8" patternUnits="userSpaceOnUse"
                    patternTransform="rotate(45)" { line x1="0" y1="0" x2="0" y2="1.8" class="lw-chart-hatch" {} }
            }
            rect class="lw-chart-paper" x="0" y="0" width=(WIDE) height=(n(high)) {}
            @for (i, (class, words)) in kinds.iter().enumerate() {
                @let x = LEFT + i as f64 * 31.0;
                rect class=(class) x=(n(x)) y="2" width="5" height="4" {}
                @if i == 1 { rect x=(n(x)) y="2" width="5" height="4" fill=(format!("url(#{id}-hatch)")) {} }
                text class="lw-chart-text" x=(n(x + 6.5)) y="5.4" font-size=(SMALL) { (words) }
            }
            @for tick in &ticks {
                @let x = LEFT + tick * k;
                line class="lw-chart-grid" x1=(n(x)) y1=(n(top)) x2=(n(x)) y2=(n(bottom)) {}
                text class="lw-chart-text" x=(n(x)) y=(n(bottom + 5.0)) font-size=(SMALL) text-anchor="middle" { (text::plain(*tick, 3)) }
            }
            text class="lw-chart-text" x=(n(LEFT)) y=(n(bottom + 10.0)) font-size=(SMALL) { "seconds a carrier" }
            @for (i, (station, load)) in circuit.stations.iter().zip(&loads).enumerate() {
                @let y = top + i as f64 * ROW;
                text class="lw-chart-text" x=(n(LEFT - 2.0)) y=(n(y + 5.0)) font-size=(SMALL) text-anchor="end" {
                    (text::clipped(&station.id, SMALL, LEFT - 4.0))
                }
                @let parts = [load.moving, load.settling, load.work, load.waiting];
                g class="lw-chart-bar" data-station=(station.id) data-moving-s=(load.moving) data-settling-s=(load.settling)
                    data-work-s=(load.work) data-waiting-s=(load.waiting) {
                    @for (j, part) in parts.iter().enumerate() {
                        @let x = LEFT + parts.iter().take(j).sum::<f64>() * k;
                        @if *part > 0.0 {
                            rect class=(kinds[j].0) x=(n(x)) y=(n(y + 1.2)) width=(n(part * k)) height="5" {}
                            @if j == 1 {
                                rect x=(n(x)) y=(n(y + 1.2)) width=(n(part * k)) height="5" fill=(format!("url(#{id}-hatch)")) {}
                            }
                        }
                    }
                }
            }
            @let x = LEFT + target * k;
            line class="lw-chart-target" x1=(n(x)) y1=(n(top - 3.0)) x2=(n(x)) y2=(n(bottom + 1.0)) {}
            text class="lw-chart-text" x=(n(x.min(WIDE - 30.0))) y=(n(top - 4.0)) font-size=(SMALL) text-anchor="middle" {
                "design rate " (format!("{target:.2}")) " s"
            }
        }
    }
}
