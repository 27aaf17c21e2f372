//! What the report says of a cell of several circuits: all of them together, and each by itself.

use maud::{Markup, html};

use super::alternatives::of;
use super::efficiency::percent;
use super::html::{Report, num};
use super::parts::parts;
use super::sections::{self, circuit as at, money, proof};
use crate::draw::text::{mm, plain};
use crate::wire::plan::{PlannedCircuit, PlannedMode, PlannedModuleLoad, PlannedPlane, PlannedStation};
use crate::wire::simulation::SimulatedSku;

/// How the titles of the parts about one circuit begin.
pub(super) const CIRCUIT: &str = "Circuit";

/// Styles of these parts; reports of one circuit do without.
pub(super) const STYLE: &str = "td .hand-off{display:block;font-size:.85em;color:var(--fine)}.sum td{font-weight:700}";

/// A number that no key of the plan holds: the sum over all circuits of the one with this name.
fn sum(key: &str, value: f64, shown: impl Into<String>) -> Markup {
    let (pointer, shown) = (format!("/circuits/*/{key}"), shown.into());
    html! { data value=(value) data-sum=(pointer) title=(pointer) { (shown) } }
}

/// The circuit with which a hand-off is paid, where that is not the one that is looked at.
pub(super) fn paid<'a>(report: &Report<'a>, station: &PlannedStation) -> Option<&'a str> {
    let before = report.plan.planned.circuits.iter().take(report.place());
    let other = station.hands_to.as_ref()?;
    before.map(|c| c.id.as_str()).find(|id| id == other)
}

/// Where a circuit lies, in words.
pub(super) fn lies(circuits: &[PlannedCircuit], i: usize) -> String {
    let over = |c: &PlannedCircuit| c.place.as_ref().and_then(|place| place.above.clone());
    match over(&circuits[i]) {
        Some(below) => format!("above {below}"),
        None => match circuits[..i].iter().rev().find(|c| over(c).is_none()) {
            Some(before) => format!("behind {}", before.id),
            None => "at the front".to_owned(),
        },
    }
}

pub(super) fn summary(report: &Report<'_>) -> Markup {
    let p = report.plan.planned;
    let each = report.each();
    let carriers: u32 = p.circuits.iter().map(|c| c.carriers).sum();
    html! {
        dl class="tiles" {
            (sections::floor_tile(report))
            div { dt { "Carriers" } dd { (sum("carriers", carriers.into(), carriers.to_string())) }
                dd class="more" { "on " (each.len()) " circuits; "
                    (proof(p.proof.carriers.proven, "fewest on this floor: proven", "fewest not proven")) } }
            (sections::price_and_gap_tiles(report))
            div { dt { "Loops" } dd { @for (i, own) in each.iter().enumerate() { @if i > 0 { " + " }
                (num(format!("{}/loop_length_m", at(own)), own.circuit.loop_length_m, plain(own.circuit.loop_length_m, 2))) } " m" }
                dd class="more" { @for (i, own) in each.iter().enumerate() { @if i > 0 { ", " } (own.circuit.id) } } }
            (sections::skus_tile(report))
        }
        (sections::made(report))
        (circuits(report, &each))
        (hand_offs(report, &each))
    }
}

fn circuits(report: &Report<'_>, each: &[Report<'_>]) -> Markup {
    let p = report.plan.planned;
    let carriers: u32 = p.circuits.iter().map(|c| c.carriers).sum();
    html! {
        h3 { "Circuits" }
        div class="wide" { table {
            thead { tr { th { "Circuit" } th { "Lies" } th { "Form" } th class="n" { "Modules" } th class="n" { "Loop m" }
                th class="n" { "Carriers" } th class="n" { "Share of floor m²" } th class="n" { "Share of price" } } }
            tbody { @for (i, own) in each.iter().enumerate() {
                @let (c, at) = (own.circuit, at(own));
                tr { td { (c.id) } td { (lies(&p.circuits, i)) }
                    td { (c.form) @if c.plane == PlannedPlane::Upright { ", upright" } }
                    td class="n" { "2 × " (num(format!("{at}/modules_per_straight"), c.modules_per_straight.into(), c.modules_per_straight.to_string())) }
                    td class="n" { (num(format!("{at}/loop_length_m"), c.loop_length_m, plain(c.loop_length_m, 3))) }
                    td class="n" { (num(format!("{at}/carriers"), c.carriers.into(), c.carriers.to_string())) }
                    @if let Some(place) = &c.place {
                        td class="n" { (num(format!("{at}/place/floor_share_m2"), place.floor_share_m2, format!("{:.2}", place.floor_share_m2))) }
                        td class="n" { (num(format!("{at}/place/price"), place.price, money(place.price))) }
                    } @else { td {} td {} }
                } } }
            tfoot { tr { td { "Together" } td {} td {} td {}
                td class="n" { (sum("loop_length_m", p.circuits.iter().map(|c| c.loop_length_m).sum(), plain(p.circuits.iter().map(|c| c.loop_length_m).sum(), 3))) }
                td class="n" { (sum("carriers", carriers.into(), carriers.to_string())) }
                td class="n" { (num("/footprint/area_m2", p.footprint.area_m2, format!("{:.2}", p.footprint.area_m2))) }
                td class="n" { (num("/price", p.price, money(p.price))) } } }
        } }
        p class="note" { "Floor is shared out midway between neighbouring loops; a circuit above another takes none. A hand-off is counted \
            once, with the circuit that comes first." }
    }
}

fn hand_offs(report: &Report<'_>, each: &[Report<'_>]) -> Markup {
    let sku = report.sku;
    let all = each.iter().flat_map(|own| own.circuit.stations.iter().enumerate().map(move |(i, s)| (own, i, s)));
    let all = all.filter(|(own, _, s)| s.hands_to.is_some() && paid(own, s).is_none());
    let other = |s: &PlannedStation| {
        let own = each.iter().find(|own| Some(&own.circuit.id) == s.hands_to.as_ref())?;
        let i = own.circuit.stations.iter().position(|there| there.id == s.id)?;
        Some((own, i, &own.circuit.stations[i]))
    };
    // Carriers that it takes of a circuit at once.
    let batch = |own: &Report<'_>, i: usize, s: &PlannedStation| {
        let pointer = format!("{}/stations/{i}/skus/{sku}/batch", at(own));
        html! { @if let Some(k) = s.skus.get(sku) { (num(pointer, k.batch.into(), k.batch.to_string())) " of " (own.circuit.id) } }
    };
    html! {
        h3 { "Hand-offs, SKU " (report.circuit.skus.get(sku).map_or("", |s| &s.id)) }
        p { "A hand-off stands on two circuits and takes on both at once." }
        div class="wide" { table {
            thead { tr { th class="n" { "" } th { "Station" } th { "Circuits" } th { "Works" } th class="n" { "Heads" } th { "Carriers at once" } th class="n" { "Price" } } }
            tbody { @for (own, i, s) in all {
                @let own_at = format!("{}/stations/{i}", at(own));
                tr { td class="n" { (own.number(i)) } td { (s.id) }
                    td { (own.circuit.id) ", " (s.hands_to.as_deref().unwrap_or_default()) }
                    td { @if s.mode == PlannedMode::Intermittent { "on a standing batch" } @else { "on moving carriers" } }
                    td class="n" { (num(format!("{own_at}/heads"), s.heads.into(), s.heads.to_string())) }
                    td { (batch(own, i, s)) @if let Some((there, j, s)) = other(s) { ", " (batch(there, j, s)) } }
                    td class="n" { (num(format!("{own_at}/price"), s.price, money(s.price))) }
                } } }
        } }
    }
}

/// The drawing of all circuits, and what feeds them.
pub(super) fn layout(report: &Report<'_>, sheet: Markup) -> Markup {
    html! {
        p { "All circuits on one floor. Stations are numbered and sections lettered through all of them, as in the parts on each circuit; a \
            hand-off has one number." }
        (super::feed::feed(report))
        (sheet)
    }
}

/// One circuit by itself: where it lies, its stations and sections, rates, times and motors.
pub(super) fn circuit(report: &Report<'_>) -> Markup {
    let (c, at) = (report.circuit, at(report));
    html! {
        p { (num(format!("{at}/carriers"), c.carriers.into(), c.carriers.to_string())) " carriers on a loop of "
            (num(format!("{at}/loop_length_m"), c.loop_length_m, plain(c.loop_length_m, 3))) " m: form " (c.form) ", two straights of "
            (num(format!("{at}/modules_per_straight"), c.modules_per_straight.into(), c.modules_per_straight.to_string()))
            " modules, " (num(format!("{at}/straight_m"), c.straight_m, mm(c.straight_m))) " mm each, "
            @if c.plane == PlannedPlane::Upright { "one above the other, " }
            "radius " (num(format!("{at}/radius_m"), c.radius_m, mm(c.radius_m))) " mm. It lies "
            (lies(&report.plan.planned.circuits, report.place()))
            @if let Some(place) = &c.place {
                "; its middle line is " (num(format!("{at}/place/middle_m"), place.middle_m, mm(place.middle_m)))
                " mm from the front, and its straights begin " (num(format!("{at}/place/offset_m"), place.offset_m, mm(place.offset_m)))
                " mm from the left end, clearance not counted"
            }
            "." }
        (sections::stations(report))
        (sections::sections(report))
        h3 { "Rates" }
        (sections::rates(report))
        (motors(report))
    }
}

/// Force on carriers and windings; nothing where no masses are given.
fn motors(report: &Report<'_>) -> Markup {
    let (c, at) = (report.circuit, at(report));
    let forces = c.skus.iter().enumerate().filter_map(|(k, s)| Some((k, s.id.as_str(), s.motor_rms_n?)));
    let hardest = forces.max_by(|a, b| a.2.total_cmp(&b.2));
    let modules = c.module_loads.iter().flat_map(|loads| loads.modules.iter().enumerate().map(move |m| (loads, m)));
    let most = modules.max_by(|a: &(_, (usize, &PlannedModuleLoad)), b| a.1.1.rms_n.total_cmp(&b.1.1.rms_n));
    let newtons = |n: f64| format!("{n:.1}");
    html! {
        @if hardest.is_some() || most.is_some() { h3 { "Motors" } }
        @if let Some((k, id, rms)) = hardest {
            p { "Force of a carrier, root mean square over a lap at the design rate: " (num(format!("{at}/skus/{k}/motor_rms_n"), rms, newtons(rms)))
                " N at most, with SKU " (id)
                @if let Some(held) = c.continuous_force_n { "; its movers can give " (num(format!("{at}/continuous_force_n"), held, newtons(held))) " N continuously" }
                "." }
        }
        @if let Some((loads, (m, module))) = most {
            @let own = format!("{at}/module_loads/modules/{m}");
            p { "The windings that are loaded most, with SKU " (loads.sku) ", begin at " (num(format!("{own}/start_m"), module.start_m, format!("{:.3}", module.start_m)))
                " m of the loop, " (num(format!("{own}/length_m"), module.length_m, mm(module.length_m))) " mm long: "
                (num(format!("{own}/rms_n"), module.rms_n, newtons(module.rms_n))) " N from all carriers that pass." }
        }
    }
}

/// The bill of parts, circuit by circuit.
pub(super) fn prices(report: &Report<'_>) -> Markup {
    let all = parts(report.plan);
    let total: f64 = all.iter().map(super::parts::Part::together).sum();
    html! {
        div class="wide" { table {
            thead { tr { th { "Part" } th class="n" { "Count" } th class="n" { "Each" } th class="n" { "Together" } th { "Key of the price" } } }
            tbody { @for (i, own) in report.each().iter().enumerate() {
                @let own_parts: Vec<_> = all.iter().filter(|p| p.circuit == i).collect();
                @let together: f64 = own_parts.iter().map(|p| p.together()).sum();
                @for p in own_parts {
                    tr { td { (p.name) } td class="n" { (p.count) } td class="n" { (money(p.each)) } td class="n" { (money(p.together())) }
                        td { span class="pointer" { (p.pointer) } } }
                }
                tr class="sum" { td { (CIRCUIT) " " (own.circuit.id) } td {} td {}
                    td class="n" { (num(format!("{}/place/price", at(own)), together, money(together))) } td {} }
            } }
            tfoot { tr { td { "Total" } td {} td {} td class="n" { (num("/price", total, money(total))) } td {} } }
        } }
        p class="note" { "Parts that the cell document prices, in its currency. A hand-off is counted once, with the circuit that comes \
            first. Controls, guarding, infeeds, design, assembly, commissioning and transport are not in it." }
    }
}

/// Sections and rounds of a simulated SKU, circuit by circuit.
pub(super) fn sections_simulated(sku: &SimulatedSku, at: &str) -> Markup {
    let value = |key: String, value: f64, shown: &dyn Fn(f64) -> String| of("simulation", key, Some(value), shown);
    let two = |v: f64| format!("{v:.2}");
    html! {
        div class="wide" { table {
            thead { tr { th { "Circuit" } th { "Section" } th class="n" { "Slots" } th class="n" { "Held, mean" } th class="n" { "Waiting, mean" }
                th class="n" { "Waiting, most" } th class="n" { "Full" } th class="n" { "Stay s, mean" } th class="n" { "Longest s" } } }
            tbody { @for (i, s) in sku.sections.iter().enumerate() {
                @let at = format!("{at}/sections/{i}");
                tr { td { (s.circuit.as_deref().unwrap_or_default()) } td { (s.from) " to " (s.to) }
                    td class="n" { (value(format!("{at}/slots"), s.slots.into(), &|v| format!("{v:.0}"))) }
                    td class="n" { (value(format!("{at}/slots_held/mean"), s.slots_held.mean, &two)) }
                    td class="n" { (value(format!("{at}/queue/mean"), s.queue.mean, &two)) }
                    td class="n" { (value(format!("{at}/queue/most"), s.queue.most.into(), &|v| format!("{v:.0}"))) }
                    td class="n" { (value(format!("{at}/full"), s.full, &percent)) }
                    td class="n" { (value(format!("{at}/stay/mean_s"), s.stay.mean_s, &two)) }
                    td class="n" { (value(format!("{at}/stay/longest_s"), s.stay.longest_s, &two)) }
                } } }
        } }
        p { "Time of a carrier once round: " @for (i, of) in sku.laps.iter().enumerate() {
            @if i > 0 { "; " } (of.circuit) " " (value(format!("{at}/laps/{i}/lap/mean_s"), of.lap.mean_s, &two)) " s in the mean, "
            (value(format!("{at}/laps/{i}/lap/longest_s"), of.lap.longest_s, &two)) " s at most"
        } "." }
    }
}
