//! Charts of a simulated plan: what each station does with its time, and the net rate with its confidence interval against
//! what is asked.

use maud::{Markup, html};

use super::frame::{Axis, SMALL, bar, n, picture, words};
use crate::codes::Code;
use crate::draw::text;
use crate::finding::Finding;
use crate::read::quoted;
use crate::wire::plan::PlannedCircuit;
use crate::wire::simulation::{Certain, SimulatedSku, SimulatedStation, SimulationDocument};

const WIDE: f64 = 180.0;
const LEFT: f64 = 44.0;
const ROW: f64 = 7.5;
const TOP: f64 = 22.0;

/// A state in which a station can be.
pub struct State {
    /// In words.
    pub word: &'static str,
    /// Key of its share in the document.
    pub key: &'static str,
    /// Its share of time.
    pub of: fn(&SimulatedStation) -> f64,
    /// Ground and pattern.
    look: (&'static str, &'static str),
}

/// The states in the order in which they are stacked. Grounds and patterns differ without colour too.
pub const STATES: [State; 7] = [
    State { word: "works", key: "working", of: |s| s.working, look: ("lw-c1", "") },
    State { word: "no carriers", key: "starved", of: |s| s.starved, look: ("lw-c4", "") },
    State { word: "not fed", key: "unfed", of: |s| s.unfed, look: ("lw-c4", "dots") },
    State { word: "blocked", key: "blocked", of: |s| s.blocked, look: ("lw-c3", "") },
    State { word: "held back", key: "paced", of: |s| s.paced, look: ("lw-c2", "dots") },
    State { word: "failed", key: "failed", of: |s| s.failed, look: ("lw-c2", "cross") },
    State { word: "short stops", key: "short_stop", of: |s| s.short_stop, look: ("lw-c2", "hatch") },
];

/// Holds a simulation against the circuits of the plan.
///
/// # Errors
/// It is that of another plan.
pub fn of_the_plan(simulation: &SimulationDocument, circuits: &[PlannedCircuit]) -> Result<(), Finding> {
    let mut stations: Vec<&str> = Vec::new();
    for station in circuits.iter().flat_map(|c| &c.stations) {
        // Of a hand-off only the first place is told.
        if circuits.len() == 1 || !stations.contains(&station.id.as_str()) {
            stations.push(&station.id);
        }
    }
    let sections: Vec<(&str, &str)> =
        circuits.iter().flat_map(|c| &c.sections).map(|s| (s.from.as_str(), s.to.as_str())).collect();
    let known = |sku: &SimulatedSku| {
        circuits.iter().all(|c| c.skus.iter().any(|k| k.id == sku.id))
            && sku.stations.iter().map(|s| s.id.as_str()).eq(stations.iter().copied())
            && (circuits.len() == 1
                || sku.sections.iter().map(|s| (s.from.as_str(), s.to.as_str())).eq(sections.iter().copied()))
    };
    let ids: Vec<&str> = circuits.iter().map(|c| c.id.as_str()).collect();
    let (ids, carriers) = (ids.join(" + "), circuits.iter().map(|c| c.carriers).sum::<u32>());
    let of_it = simulation.circuit == ids && simulation.carriers == carriers;
    if of_it && simulation.skus.iter().all(known) {
        return sound(simulation);
    }
    let says = format!(
        "the simulation is that of another plan: circuit {}, {} carriers; here it is {}, {carriers} carriers, with its own stations \
         and SKUs",
        quoted(&simulation.circuit),
        simulation.carriers,
        quoted(&ids),
    );
    Err(Finding::new(Code::CannotDraw, "/simulation", says))
}

/// Shares make no more than the whole, and rates can be drawn.
fn sound(simulation: &SimulationDocument) -> Result<(), Finding> {
    const MOST: f64 = 1e9;
    for (k, sku) in simulation.skus.iter().enumerate() {
        let net = sku.net_rate_per_min;
        let rates = [net.mean, net.half_width, sku.undisturbed_rate_per_min, sku.asked_net_rate_per_min];
        if !rates.into_iter().all(|rate| (0.0..=MOST).contains(&rate)) {
            let says = format!("rates of {} cannot be drawn", quoted(&sku.id));
            return Err(Finding::new(Code::CannotDraw, format!("/simulation/skus/{k}"), says));
        }
        for (i, station) in sku.stations.iter().enumerate() {
            let shares = STATES.iter().map(|state| (state.of)(station));
            if shares.clone().any(|share| !(0.0..=1.0).contains(&share)) || shares.sum::<f64>() > 1.0 + 1e-6 {
                let says = format!("shares of time of {} are not within the whole", quoted(&station.id));
                return Err(Finding::new(Code::CannotDraw, format!("/simulation/skus/{k}/stations/{i}"), says));
            }
        }
    }
    Ok(())
}

/// Shares of time of each station for one SKU, stacked to the whole; only states that occur. 180 mm wide.
#[must_use]
pub fn states_chart(sku: &SimulatedSku, id: &str) -> Markup {
    let right = WIDE - 22.0;
    let shown: Vec<&State> = STATES.iter().filter(|state| sku.stations.iter().any(|s| (state.of)(s) > 0.0)).collect();
    let bottom = TOP + sku.stations.len() as f64 * ROW;
    let x = Axis::exactly(0.0, 100.0, LEFT, right);
    let about = "Share of time that each station works, waits for carriers or for what is fed, is blocked, is held back or stands.";
    let inside = html! {
        @for (i, state) in shown.iter().enumerate() {
            @let at = 6.0 + i as f64 * if shown.len() > 5 { 24.5 } else { 34.0 };
            (bar(id, state.look, (at, 2.0), (5.0, 4.0)))
            (words(state.word, (at + 6.5, 5.4), "start"))
        }
        (pointer((8.5, 12.0)))
        (words("waits least for others: limits the rate", (12.5, 13.4), "start"))
        (words("works %", (WIDE - 2.0, TOP - 2.6), "end"))
        @for (at, tick) in x.ticks() {
            line class="lw-chart-grid" x1=(n(at)) y1=(n(TOP)) x2=(n(at)) y2=(n(bottom)) {}
            (words(&tick, (at, bottom + 5.0), "middle"))
        }
        (words("share of time, %", (LEFT, bottom + 10.0), "start"))
        @for (i, station) in sku.stations.iter().enumerate() {
            @let y = TOP + i as f64 * ROW;
            @if station.id == sku.limiting_station { (pointer((3.0, y + 3.7))) }
            (words(&text::clipped(&station.id, SMALL, LEFT - 9.0), (LEFT - 2.0, y + 5.0), "end"))
            g class="lw-chart-bar" data-station=(station.id) data-working=(station.working) data-starved=(station.starved)
                data-unfed=(station.unfed) data-short_stop=(station.short_stop)
                data-blocked=(station.blocked) data-paced=(station.paced) data-failed=(station.failed) {
                @for (j, state) in STATES.iter().enumerate() {
                    @let before: f64 = STATES.iter().take(j).map(|s| (s.of)(station)).sum();
                    @let share = (state.of)(station);
                    @if share > 0.0 {
                        (bar(id, state.look, (x.at(100.0 * before), y + 1.2), (x.at(100.0 * share) - LEFT, 5.0)))
                    }
                }
            }
            (words(&format!("{:.1}", 100.0 * station.working), (WIDE - 2.0, y + 5.0), "end"))
        }
    };
    picture(id, (WIDE, bottom + 12.0), (&format!("What the stations do, SKU {}", sku.id), about), &inside)
}

/// A small arrow that points at the station that limits the rate.
fn pointer((x, y): (f64, f64)) -> Markup {
    html! { path class="lw-chart-full" transform=(format!("translate({} {})", n(x), n(y))) d="M-1.5 -1.3L1 0L-1.5 1.3Z" {} }
}

/// Sign of a net rate: whether it makes what is asked.
fn sign(makes: Certain, (x, y): (f64, f64)) -> Markup {
    let at = format!("translate({} {})", n(x), n(y));
    match makes {
        Certain::Yes => html! { circle class="lw-chart-full" transform=(at) r="0.9" {} },
        Certain::No => html! { path class="lw-chart-own" transform=(at) d="M-1.1 -1.1L1.1 1.1M-1.1 1.1L1.1 -1.1" {} },
        Certain::Open => html! { circle class="lw-chart-point" transform=(at) r="0.9" {} },
    }
}

/// Sign of the rate with nothing going wrong.
fn undisturbed((x, y): (f64, f64)) -> Markup {
    html! { path class="lw-chart-point" transform=(format!("translate({} {})", n(x), n(y))) d="M0 -1.7L1.3 0L0 1.7L-1.3 0Z" {} }
}

/// Net rate of these SKUs with its 95 % interval, and the undisturbed rate, in percent of what is asked. 180 mm wide.
#[must_use]
pub fn net_rate_chart(skus: &[SimulatedSku], id: &str) -> Markup {
    let right = WIDE - 46.0;
    let bottom = TOP + skus.len() as f64 * ROW;
    let share = |value: f64, sku: &SimulatedSku| 100.0 * value / sku.asked_net_rate_per_min.max(1e-9);
    let held = skus.iter().flat_map(|s| {
        let net = s.net_rate_per_min;
        [net.mean - net.half_width, net.mean + net.half_width, s.undisturbed_rate_per_min].map(|v| share(v, s))
    });
    let x = Axis::holding(held.chain([100.0]), LEFT, right);
    let target = x.at(100.0);
    let about = "Net rate with its 95 % confidence interval and the rate with nothing going wrong, in percent of what is asked.";
    let kinds = [(Certain::Yes, "makes it"), (Certain::No, "does not"), (Certain::Open, "open")];
    let inside = html! {
        @for (i, (makes, says)) in kinds.into_iter().enumerate() {
            @let at = 6.0 + i as f64 * 26.0;
            (sign(makes, (at + 1.5, 4.0)))
            (words(says, (at + 5.0, 5.4), "start"))
        }
        (undisturbed((86.0, 4.0)))
        (words("nothing going wrong", (88.5, 5.4), "start"))
        line class="lw-chart-target" x1="130" y1="1.8" x2="130" y2="6.2" {}
        (words("asked", (132.5, 5.4), "start"))
        (words("cases a minute", (WIDE - 2.0, TOP - 2.6), "end"))
        @for (at, tick) in x.ticks() {
            line class="lw-chart-grid" x1=(n(at)) y1=(n(TOP)) x2=(n(at)) y2=(n(bottom)) {}
            (words(&tick, (at, bottom + 5.0), "middle"))
        }
        (words("net rate in percent of what is asked", (LEFT, bottom + 10.0), "start"))
        line class="lw-chart-target" x1=(n(target)) y1=(n(TOP - 2.0)) x2=(n(target)) y2=(n(bottom + 1.0)) {}
        @for (i, sku) in skus.iter().enumerate() {
            @let y = TOP + (i as f64 + 0.5) * ROW;
            @let net = sku.net_rate_per_min;
            @let (low, high) = (x.at(share(net.mean - net.half_width, sku)), x.at(share(net.mean + net.half_width, sku)));
            @let most = x.at(share(sku.undisturbed_rate_per_min, sku));
            (words(&text::clipped(&sku.id, SMALL, LEFT - 4.0), (LEFT - 2.0, y + 1.3), "end"))
            (undisturbed((most, y)))
            g class="lw-chart-interval" data-sku=(sku.id) data-mean=(net.mean) data-half-width=(net.half_width)
                data-asked=(sku.asked_net_rate_per_min) {
                path class="lw-chart-whisker" d=(format!("M{0} {1}V{2}M{3} {1}V{2}M{0} {4}H{3}", n(low), n(y - 2.2), n(y + 2.2), n(high), n(y))) {}
                (sign(sku.makes_net_rate, (x.at(share(net.mean, sku)), y)))
            }
            (words(&format!("{:.2} ± {:.2} of {}", net.mean, net.half_width, text::plain(sku.asked_net_rate_per_min, 2)), (WIDE - 2.0, y + 1.3), "end"))
        }
    };
    picture(id, (WIDE, bottom + 12.0), ("Net rate against what is asked", about), &inside)
}
