//! The section on efficiency: what is taken, what absorbs a stop, and what the simulation comes to where one is given.

use maud::{Markup, html};

use super::alternatives::of;
use super::html::{Report, num};
use super::sections::circuit;
use super::simulation::{STATES, net_rate_chart, states_chart};
use crate::draw::text::plain;
use crate::wire::simulation::{Certain, Estimated, SimulatedSku, SimulationDocument};

/// Charts of states in one report: those of the SKUs that come least beyond what is asked.
const CHARTS: usize = 4;
/// SKUs in one chart of net rates, so that it fits on a page.
const ROWS: usize = 25;

pub(super) fn efficiency(report: &Report<'_>) -> Markup {
    let asked = &report.plan.planned.asked;
    html! {
        p { "The plan takes an efficiency of " (num("/asked/efficiency", asked.efficiency, format!("{:.1} %", asked.efficiency * 100.0)))
            ": net rate over the rate while running. It is an input, not a promise; agree with the customer which stops count (EN 415-11 \
            gives terms). Stops from outside, such as no product, no blanks, no glue or a full discharge, are best counted apart." }
        p { "With the headroom of " (num("/asked/headroom", asked.headroom, format!("{:.1} %", (asked.headroom - 1.0) * 100.0)))
            ", the cell is laid out for " (format!("{:.4}", asked.headroom / asked.efficiency)) " times the net rate: one plus the \
            headroom, over the efficiency." }
        @let each = report.each();
        @let all = each.iter().flat_map(|own| own.circuit.sections.iter().enumerate().map(move |(i, s)| (own, i, s)));
        @let queues: Vec<_> = all.filter(|(.., s)| s.ride_through_s > 0.0).collect();
        @if queues.is_empty() { p { "No section was asked to absorb a stop of the station after it." } }
        @for (own, i, s) in queues {
            p { "The section from " (s.from) " to " (s.to) " absorbs the flow for "
                (num(format!("{}/sections/{i}/ride_through_s", circuit(own)), s.ride_through_s, plain(s.ride_through_s, 2)))
                " s while " (s.to) " stands." }
        }
        @if let Some(simulation) = &report.wishes.beside.simulation { (simulated(simulation)) }
    }
}

/// A mean with its half-width.
fn estimated(pointer: &str, value: Estimated, shown: impl Fn(f64) -> String) -> Markup {
    html! {
        (of("simulation", format!("{pointer}/mean"), Some(value.mean), &shown)) "\u{a0}±\u{a0}"
        (of("simulation", format!("{pointer}/half_width"), Some(value.half_width), &shown))
    }
}

pub(super) fn percent(share: f64) -> String {
    format!("{:.1}\u{a0}%", 100.0 * share)
}

/// What the simulation comes to.
fn simulated(simulation: &SimulationDocument) -> Markup {
    let beyond = |sku: &SimulatedSku| sku.net_rate_per_min.mean / sku.asked_net_rate_per_min.max(1e-9);
    let mut tight: Vec<usize> = (0..simulation.skus.len()).collect();
    tight.sort_by(|a, b| beyond(&simulation.skus[*a]).total_cmp(&beyond(&simulation.skus[*b])));
    tight.truncate(CHARTS);
    let rate = |v: f64| format!("{v:.3}");
    // Stations name their circuit where there are several.
    let several = simulation.skus.iter().flat_map(|sku| &sku.stations).any(|station| station.circuit.is_some());
    html! {
        h3 { "Simulated" }
        p { "Net rate and efficiency of the running cell with its failures, by simulation: "
            (of("simulation", "/run/hours".to_owned(), Some(simulation.run.hours), |h| plain(h, 3))) " hours in each replication, seed "
            (of("simulation", "/run/seed".to_owned(), Some(simulation.run.seed as f64), |s| format!("{s:.0}")))
            @if simulation.run.paced { ", held back to the design rate" } @else { ", as fast as it can" }
            ". Intervals hold the mean with 95 % confidence."
            @if simulation.stopped { " It was stopped before it was done: SKUs are missing, or their intervals are wider than was asked for." } }
        div class="wide" { table {
            thead { tr { th { "SKU" } th class="n" { "Asked cases/min" } th class="n" { "Net cases/min" } th { "Makes it" }
                th class="n" { "Nothing going wrong" } th class="n" { "Efficiency" } th class="n" { "Taken" } th class="n" { "Replications" } th { "Limited by" } } }
            tbody { @for (k, s) in simulation.skus.iter().enumerate() {
                @let at = format!("/skus/{k}");
                tr { td { (s.id) }
                    td class="n" { (of("simulation", format!("{at}/asked_net_rate_per_min"), Some(s.asked_net_rate_per_min), |v| format!("{v:.2}"))) }
                    td class="n" { (estimated(&format!("{at}/net_rate_per_min"), s.net_rate_per_min, rate)) }
                    td { @match s.makes_net_rate { Certain::Yes => "yes", Certain::No => "no", Certain::Open => "open" } }
                    td class="n" { (of("simulation", format!("{at}/undisturbed_rate_per_min"), Some(s.undisturbed_rate_per_min), rate)) }
                    td class="n" { (estimated(&format!("{at}/efficiency"), s.efficiency, percent)) }
                    td class="n" { (of("simulation", format!("{at}/given_efficiency"), Some(s.given_efficiency), percent)) }
                    td class="n" { (of("simulation", format!("{at}/replications"), Some(s.replications.into()), |v| format!("{v:.0}"))) }
                    td { (s.limiting_station) } }
            } }
        } }
        h3 { "Net rate against what is asked" }
        @for (i, skus) in simulation.skus.chunks(ROWS).enumerate() {
            figure { (net_rate_chart(skus, &format!("lw-net-rate-{}", i + 1)))
                figcaption { "Points with their 95 % intervals; the stroke at 100 % is what the customer asks for." } }
        }
        @if simulation.skus.iter().any(|sku| !sku.losses.is_empty()) {
            h3 { "What the cell waited for" }
            p { "Cases a minute that are lost, divided over their causes in proportion to what the cell makes more when each alone is taken away." }
            @for &k in &tight { @let sku = &simulation.skus[k];
                @if !sku.losses.is_empty() { div class="wide" { table {
                    thead { tr { th { "SKU " (sku.id) ": station" } th { "Cause" } th class="n" { "Lost cases/min" } th class="n" { "Gained without it" } } }
                    tbody { @for (i, l) in sku.losses.iter().enumerate() {
                        @let at = format!("/skus/{k}/losses/{i}");
                        tr { td { (l.station) } td { (l.cause.words()) }
                            td class="n" { (of("simulation", format!("{at}/lost_per_min"), Some(l.lost_per_min), rate)) }
                            td class="n" { (of("simulation", format!("{at}/gain_per_min/mean"), Some(l.gain_per_min.mean), |v| format!("{v:+.3}")))
                                " ± " (of("simulation", format!("{at}/gain_per_min/half_width"), Some(l.gain_per_min.half_width), rate)) } }
                    } }
                } } }
            }
        }
        h3 { "What the stations do" }
        p { "Shares of time" @if simulation.skus.len() > CHARTS { ", for the " (CHARTS) " SKUs that come least beyond what is asked" }
            ". A station that waits for carriers or is blocked has time to spare; the one that waits least limits the rate." }
        @for &k in &tight { @let sku = &simulation.skus[k];
            figure { (states_chart(sku, &format!("lw-states-{}", k + 1))) figcaption { "SKU " (sku.id) } }
            div class="wide" { table {
                thead { tr { th { "Station" } @if several { th { "Circuit" } } @for state in &STATES { th class="n" { (state.word) } } th class="n" { "Technical efficiency" } } }
                tbody { @for (i, s) in sku.stations.iter().enumerate() {
                    @let at = format!("/skus/{k}/stations/{i}");
                    tr { td { (s.id) } @if several { td { (s.circuit.as_deref().unwrap_or_default()) } }
                        @for state in &STATES { td class="n" { (of("simulation", format!("{at}/{}", state.key), Some((state.of)(s)), percent)) } }
                        td class="n" { (of("simulation", format!("{at}/technical_efficiency"), s.technical_efficiency, percent)) } }
                } }
            } }
            @if several { (super::several::sections_simulated(sku, &format!("/skus/{k}"))) }
        }
        h3 { "How it was simulated" }
        ul { @for line in &simulation.method { li { (line) } } }
    }
}
