//! Places of all carriers over time, from a trace document: zones of the stations as bands, one stroke for each carrier.

use maud::{Markup, PreEscaped, html};

use super::frame::{Axis, SMALL, STYLE, axes, n};
use crate::codes::Code;
use crate::draw::text;
use crate::finding::Finding;
use crate::wire::plan::PlannedCircuit;
use crate::wire::trace::{TraceCarrier, TraceDocument, TracePoint, TraceState, TraceZone};

/// Most cycles of the design rate that a chart shows legibly.
const CYCLES: f64 = 40.0;
/// Pieces of strokes on one chart; more would only be a grey sheet.
const MOST_PIECES: usize = 200_000;
/// Agreement of the trace with the plan.
const TOLERANCE_M: f64 = 1e-6;

/// How long a chart of the plan's carriers is, in seconds: once round the loop at the design rate, or forty carriers where
/// that is less.
#[must_use]
pub fn stretch_s(circuit: &PlannedCircuit, sku: usize) -> Option<f64> {
    let rate = circuit.skus.get(sku)?.design_rate_per_min;
    let stretch = 60.0 / rate * f64::from(circuit.carriers).clamp(4.0, CYCLES);
    (stretch.is_finite() && stretch > 0.0).then_some(stretch.min(3600.0))
}

/// Holds the trace against the plan that it is printed with.
///
/// # Errors
/// It belongs to another loop, or its numbers cannot be drawn.
pub fn of_the_plan(trace: &TraceDocument, circuit: &PlannedCircuit) -> Result<(), Finding> {
    let misfit = |says: String| Err(Finding::new(Code::CannotDraw, "/trace", says));
    if trace.circuit != circuit.id || !circuit.skus.iter().any(|s| s.id == trace.sku) {
        return misfit("the trace belongs to another circuit or SKU than the plan".to_owned());
    }
    if (trace.loop_length_m - circuit.loop_length_m).abs().is_nan()
        || (trace.loop_length_m - circuit.loop_length_m).abs() > TOLERANCE_M
    {
        let says = format!("its loop is {} m round; the plan's is {} m", trace.loop_length_m, circuit.loop_length_m);
        return misfit(says);
    }
    let zones = trace.zones.iter().map(|z| z.station.as_str());
    if !zones.eq(circuit.stations.iter().map(|s| s.id.as_str())) {
        return misfit("its stations are not those of the plan".to_owned());
    }
    if !(trace.duration_s > 0.0 && trace.duration_s <= 3600.0) {
        return misfit(format!("{} s cannot be drawn; it must be above 0 and at most 3600 s", trace.duration_s));
    }
    Ok(())
}

/// What a stroke says of a carrier.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Driving,
    Waiting,
    Working,
}

impl Kind {
    const ALL: [(Self, &'static str, &'static str); 3] = [
        (Self::Driving, "lw-chart-drive", "driving"),
        (Self::Working, "lw-chart-work", "in a station"),
        (Self::Waiting, "lw-chart-wait", "waiting"),
    ];

    fn of(state: TraceState) -> Self {
        match state {
            TraceState::Driving => Self::Driving,
            TraceState::Queueing | TraceState::Blocked | TraceState::Standing => Self::Waiting,
            TraceState::MovingIn | TraceState::Working => Self::Working,
        }
    }
}

/// A straight piece from time and place to time and place, within one lap: places run from 0 to the length of the loop.
type Piece = (Kind, (f64, f64), (f64, f64));

/// The pieces of a carrier within the stretch.
fn pieces(carrier: &TraceCarrier, length: f64, duration: f64, most: usize) -> Vec<Piece> {
    let mut all = Vec::new();
    for pair in carrier.points.windows(2) {
        let [from, to] = pair else { continue };
        piece(from, to, (length, duration), most, &mut all);
    }
    all
}

fn piece(from: &TracePoint, to: &TracePoint, (length, duration): (f64, f64), most: usize, all: &mut Vec<Piece>) {
    let along = |t: f64| {
        if to.t_s > from.t_s {
            from.at_m + (to.at_m - from.at_m) * (t - from.t_s) / (to.t_s - from.t_s)
        } else {
            to.at_m
        }
    };
    let (begin, end) = (from.t_s.max(0.0), to.t_s.min(duration));
    if begin > end || !along(begin).is_finite() || !along(end).is_finite() {
        return;
    }
    let (mut t, mut at) = (begin, along(begin));
    let last = along(end);
    let mut lap = (at / length).floor();
    // A piece that begins where a lap ends belongs to the next one; each round of the loop ends at the next lap.
    while all.len() < most {
        let edge = (lap + 1.0) * length;
        if last <= edge || last <= at {
            all.push((Kind::of(from.state), (t, at - lap * length), (end, last - lap * length)));
            return;
        }
        let crossing = t + (end - t) * (edge - at) / (last - at);
        all.push((Kind::of(from.state), (t, at - lap * length), (crossing, length)));
        (t, at, lap) = (crossing, edge, lap + 1.0);
    }
}

/// The pieces of one kind as one path.
fn path(pieces: &[Piece], kind: Kind, x: &Axis, y: &Axis) -> String {
    let mut d = String::new();
    let mut pen = None;
    for (_, from, to) in pieces.iter().filter(|p| p.0 == kind) {
        if pen != Some(*from) {
            d += &format!("M{} {}", n(x.at(from.0)), n(y.at(from.1)));
        }
        d += &format!("L{} {}", n(x.at(to.0)), n(y.at(to.1)));
        pen = Some(*to);
    }
    d
}

/// A zone within one lap, one or two stretches.
fn bands(zone: &TraceZone, length: f64) -> Vec<(f64, f64)> {
    let (from, to) = (zone.start_m, zone.start_m + zone.length_m);
    if to <= length { vec![(from, to)] } else { vec![(from.min(length), length), (0.0, (to - length).min(length))] }
}

/// Heights of names that shall stand beside these places, in order upwards: moved apart where they would overlap.
fn apart(wanted: &[f64], gap: f64, top: f64, bottom: f64) -> Vec<f64> {
    let mut at: Vec<f64> = Vec::with_capacity(wanted.len());
    for place in wanted {
        let below = at.last().map_or(bottom, |last| last - gap);
        at.push(place.min(below));
    }
    let mut above = top;
    for place in at.iter_mut().rev() {
        *place = place.max(above);
        above = *place + gap;
    }
    at
}

/// The chart, 180 mm wide.
#[must_use]
pub fn time_distance_chart(trace: &TraceDocument, id: &str) -> Markup {
    const WIDE: f64 = 180.0;
    const LEFT: f64 = 18.0;
    const RIGHT: f64 = 142.0;
    const TOP: f64 = 18.0;
    const GAP: f64 = 4.4;
    const NAMES: f64 = WIDE - RIGHT - 12.0;
    let length = trace.loop_length_m;
    let tall = (trace.zones.len() as f64 * GAP + 6.0).max(104.0);
    let (bottom, high) = (TOP + tall, TOP + tall + 14.0);
    let x = Axis::exactly(0.0, trace.duration_s, LEFT, RIGHT);
    let y = Axis::exactly(0.0, length, bottom, TOP);
    let mut named: Vec<(f64, usize)> = trace
        .zones
        .iter()
        .enumerate()
        .map(|(i, z)| (y.at((z.start_m + z.length_m / 2.0).rem_euclid(length)), i))
        .collect();
    named.sort_by(|a, b| b.0.total_cmp(&a.0));
    let places = apart(&named.iter().map(|p| p.0).collect::<Vec<_>>(), GAP, TOP, bottom);
    let mut left = MOST_PIECES;
    let mut lines = Vec::new();
    for carrier in &trace.carriers {
        let of = pieces(carrier, length, trace.duration_s, left);
        left = left.saturating_sub(of.len());
        lines.push((carrier.carrier, of));
    }
    html! {
        svg xmlns="http://www.w3.org/2000/svg" id=(id) class="lw-chart" role="img" viewBox=(format!("0 0 {WIDE} {}", n(high)))
            width=(format!("{WIDE}mm")) height=(format!("{}mm", n(high))) data-duration-s=(trace.duration_s) data-loop-m=(length)
            data-left-mm=(LEFT) data-right-mm=(RIGHT) data-top-mm=(TOP) data-bottom-mm=(n(bottom)) {
            title { "Carriers over time, SKU " (trace.sku) }
            desc { "Place of every carrier along the loop over " (text::plain(trace.duration_s, 2)) " s; zones of the stations as bands." }
            style { (PreEscaped(STYLE)) }
            rect class="lw-chart-paper" x="0" y="0" width=(WIDE) height=(n(high)) {}
            @for (i, zone) in trace.zones.iter().enumerate() { @for (from, to) in bands(zone, length) {
                rect class="lw-chart-zone" data-station=(zone.station) data-number=(i + 1) x=(n(LEFT)) y=(n(y.at(to)))
                    width=(n(RIGHT - LEFT)) height=(n(y.at(from) - y.at(to))) {}
            } }
            (axes(&x, &y, ("seconds", "metres along the loop")))
            @for (j, (kind, class, words)) in Kind::ALL.into_iter().enumerate() {
                @let at = LEFT + 54.0 + j as f64 * 34.0;
                line class=(class) x1=(n(at)) y1=(n(TOP - 5.3)) x2=(n(at + 8.0)) y2=(n(TOP - 5.3)) {}
                text class="lw-chart-text" x=(n(at + 10.0)) y=(n(TOP - 4.0)) font-size=(SMALL) { (words) }
                @for (carrier, pieces) in &lines {
                    @let d = path(pieces, kind, &x, &y);
                    @if !d.is_empty() { path class=(class) data-carrier=(carrier) d=(d) {} }
                }
            }
            @for ((wanted, i), at) in named.iter().zip(&places) {
                polyline class="lw-chart-leader" points=(format!("{},{} {},{} {},{}", n(RIGHT), n(*wanted), n(RIGHT + 4.0), n(*at), n(RIGHT + 6.0), n(*at))) {}
                text class="lw-chart-text" x=(n(RIGHT + 7.0)) y=(n(at + 1.3)) font-size=(SMALL) {
                    (text::clipped(&format!("{} {}", i + 1, trace.zones[*i].station), SMALL, NAMES))
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn point(t_s: f64, at_m: f64, state: TraceState) -> TracePoint {
        TracePoint { t_s, at_m, state }
    }

    #[test]
    fn laps_are_cut_at_the_start_of_the_loop() {
        let points = vec![
            point(-1.0, 7.0, TraceState::Driving),
            point(3.0, 23.0, TraceState::Queueing),
            point(9.0, 23.0, TraceState::Working),
        ];
        let all = pieces(&TraceCarrier { carrier: 0, points }, 10.0, 5.0, 100);
        let shown: Vec<_> = all.iter().map(|(_, from, to)| (*from, *to)).collect();
        // 4 m/s from 11 m at 0 s: one lap ends at 2.25 s; from 3 s on it waits, and the stretch ends at 5 s.
        assert_eq!(shown, [((0.0, 1.0), (2.25, 10.0)), ((2.25, 0.0), (3.0, 3.0)), ((3.0, 3.0), (5.0, 3.0))]);
        assert!(all[2].0 == Kind::Waiting && all[0].0 == Kind::Driving);
    }

    #[test]
    fn names_stand_apart_and_within() {
        for wanted in [vec![50.0, 49.0, 48.5, 20.0], vec![10.0, 10.0, 10.0], vec![60.0, 60.0, 12.0, 11.0]] {
            let at = apart(&wanted, 4.0, 10.0, 60.0);
            assert!(at.windows(2).all(|p| p[0] - p[1] >= 4.0 - 1e-9), "{at:?}");
            assert!(at.iter().all(|y| (10.0..=60.0).contains(y)), "{at:?}");
        }
    }

    #[test]
    fn nothing_endless_is_drawn() {
        let far = TraceCarrier {
            carrier: 0,
            points: vec![point(0.0, 0.0, TraceState::Driving), point(1.0, 1e300, TraceState::Driving)],
        };
        assert!(pieces(&far, 1.0, 10.0, 1000).len() <= 1000);
    }
}
