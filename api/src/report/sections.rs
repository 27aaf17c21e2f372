//! The sections of the report.

use maud::{Markup, html};

use super::alternatives::of;
use super::basis::{Status, inputs, shown};
use super::carriers::carriers_chart;
use super::html::{Report, num};
use super::load::load_chart;
use super::parts::parts;
use super::standards::{METHOD, SEVERAL, STANDARDS};
use super::time_distance::time_distance_chart;
use crate::draw::text::{mm, plain};
use crate::wire::plan::PlannedMode;

/// Load charts in one report: those of the SKUs with the least margin.
const CHARTS: usize = 4;

pub(super) fn circuit(report: &Report<'_>) -> String {
    format!("/circuits/{}", report.place())
}

/// 1234567.5 as "1 234 567.50", with spaces that don't break.
pub(super) fn money(amount: f64) -> String {
    crate::render::grouped(amount).replace(' ', "\u{a0}")
}

/// What is said of a proof beside its number.
pub(super) fn proof(proven: bool, yes: &'static str, no: &'static str) -> &'static str {
    if proven { yes } else { no }
}

pub(super) fn floor_tile(report: &Report<'_>) -> Markup {
    let p = report.plan.planned;
    html! {
        div { dt { "Floor" } dd {
            (num("/footprint/length_m", p.footprint.length_m, plain(p.footprint.length_m, 2))) " × "
            (num("/footprint/width_m", p.footprint.width_m, plain(p.footprint.width_m, 2))) " m"
        } dd class="more" {
            (num("/footprint/area_m2", p.footprint.area_m2, format!("{:.2}", p.footprint.area_m2))) " m²; "
            (proof(p.proof.footprint.proven, "no plan has less floor: proven", "least floor not proven"))
        } }
    }
}

pub(super) fn price_and_gap_tiles(report: &Report<'_>) -> Markup {
    let p = report.plan.planned;
    html! {
        div { dt { "Price of the parts" } dd { (num("/price", p.price, money(p.price))) }
            dd class="more" { (proof(p.proof.price.proven, "least for this floor and these carriers: proven", "least not proven")) } }
        div { dt { "Gap" } dd { (num("/gap", p.gap, format!("{:.2} %", p.gap * 100.0))) }
            dd class="more" { "proven bound " (num("/proven_bound_m2", p.proven_bound_m2, format!("{:.2}", p.proven_bound_m2))) " m²" } }
    }
}

/// The SKU with the least spare rate of the circuit, of several of their first: they make the same rate of cases.
pub(super) fn skus_tile(report: &Report<'_>) -> Markup {
    let (c, at) = (report.circuit, circuit(report));
    let tightest = c.skus.iter().enumerate().min_by(|a, b| a.1.margin.total_cmp(&b.1.margin));
    html! {
        div { dt { "SKUs" } dd { (c.skus.len()) }
            dd class="more" { @if let Some((k, sku)) = tightest {
                "least spare rate " (num(format!("{at}/skus/{k}/margin"), sku.margin, format!("{:+.1} %", sku.margin * 100.0)))
                " (" (sku.id) ")"
            } } }
    }
}

/// What every SKU makes, and what is kept free.
pub(super) fn made(report: &Report<'_>) -> Markup {
    let p = report.plan.planned;
    html! {
        p { "Every SKU makes its design rate, which is its net rate divided by the efficiency of "
            (num("/asked/efficiency", p.asked.efficiency, format!("{:.1} %", p.asked.efficiency * 100.0)))
            " and raised by a headroom of "
            (num("/asked/headroom", p.asked.headroom, format!("{:.1} %", (p.asked.headroom - 1.0) * 100.0)))
            ". "
            @if p.asked.clearance_sides.is_some() {
                "The footprint is counted " (crate::render::clearance(&p.asked)) "; this is floor space, not guarding."
            } @else {
                (num("/asked/clearance_m", p.asked.clearance_m, mm(p.asked.clearance_m)))
                " mm are kept free all round; this is floor space, not guarding."
            } }
        @if let Some(facing) = crate::render::facing(p) { p { "Sides: " (facing) "." } }
    }
}

pub(super) fn summary(report: &Report<'_>) -> Markup {
    let (p, c, at) = (report.plan.planned, report.circuit, circuit(report));
    html! {
        dl class="tiles" {
            (floor_tile(report))
            div { dt { "Carriers" } dd { (num(format!("{at}/carriers"), c.carriers.into(), c.carriers.to_string())) }
                dd class="more" { (proof(p.proof.carriers.proven, "fewest on this floor: proven", "fewest not proven")) } }
            (price_and_gap_tiles(report))
            div { dt { "Loop" } dd { (num(format!("{at}/loop_length_m"), c.loop_length_m, plain(c.loop_length_m, 3))) " m" }
                dd class="more" { (c.form) ", two straights of "
                    (num(format!("{at}/modules_per_straight"), c.modules_per_straight.into(), c.modules_per_straight.to_string()))
                    " modules" } }
            (skus_tile(report))
        }
        (made(report))
    }
}

pub(super) fn stations(report: &Report<'_>) -> Markup {
    let at = circuit(report);
    html! {
        h3 { "Stations, in travel order" }
        div class="wide" { table {
            thead { tr { th class="n" { "" } th { "Station" } th { "Works" } th class="n" { "Heads" } th class="n" { "Zone mm" }
                th class="n" { "Starts at m" } th { "Stands" } th class="n" { "Floor mm" } th class="n" { "Price" } } }
            tbody { @for (i, s) in report.circuit.stations.iter().enumerate() {
                @let at = format!("{at}/stations/{i}");
                tr { td class="n" { (report.number(i)) } td { (s.id) @if let Some(other) = &s.hands_to { span class="hand-off" { "hand-off with " (other) } } }
                    td { @if s.mode == PlannedMode::Intermittent { "on a standing batch" } @else { "on moving carriers" } }
                    td class="n" { (num(format!("{at}/heads"), s.heads.into(), s.heads.to_string())) }
                    td class="n" { (num(format!("{at}/zone_m"), s.zone_m, mm(s.zone_m))) }
                    td class="n" { (num(format!("{at}/start_m"), s.start_m, format!("{:.3}", s.start_m))) }
                    td { @match s.stands { crate::wire::plan::PlannedSide::Front => "front", crate::wire::plan::PlannedSide::Back => "back" } }
                    td class="n" { (num(format!("{at}/frame_m"), s.frame_m, mm(s.frame_m))) " × " (num(format!("{at}/depth_m"), s.depth_m, mm(s.depth_m))) }
                    td class="n" { (num(format!("{at}/price"), s.price, super::several::paid(report, s).map_or_else(|| money(s.price), |with| format!("with {with}")))) }
                } } }
        } }
    }
}

pub(super) fn sections(report: &Report<'_>) -> Markup {
    let (at, sku) = (circuit(report), report.sku);
    let name = report.circuit.skus.get(sku).map_or("", |s| &s.id);
    let seconds = |value: Option<f64>, pointer: String| {
        html! {
            @if let Some(value) = value { (num(pointer, value, format!("{value:.2}"))) } @else { "–" }
        }
    };
    html! {
        h3 { "Sections, SKU " (name) }
        div class="wide" { table {
            thead { tr { th { "" } th { "From" } th { "To" } th class="n" { "Length mm" } th class="n" { "In ends mm" } th class="n" { "Slots" }
                th class="n" { "Needed" } th class="n" { "Lag s" } th class="n" { "Longest s" } th class="n" { "At most s" } } }
            tbody { @for (i, s) in report.circuit.sections.iter().enumerate() {
                @let at = format!("{at}/sections/{i}");
                tr { td { (report.letter(i)) } td { (s.from) } td { (s.to) @if !s.loaded { " (empty)" } }
                    td class="n" { (num(format!("{at}/length_m"), s.length_m, mm(s.length_m))) }
                    td class="n" { (num(format!("{at}/curve_m"), s.curve_m, mm(s.curve_m))) }
                    @if let Some(k) = s.skus.get(sku) {
                        @let at = format!("{at}/skus/{sku}");
                        td class="n" { (num(format!("{at}/slots"), k.slots.into(), k.slots.to_string())) }
                        td class="n" { (num(format!("{at}/needed_slots"), k.needed_slots.into(), k.needed_slots.to_string())) }
                        td class="n" { (num(format!("{at}/lag_s"), k.lag_s, format!("{:.2}", k.lag_s))) }
                        td class="n" { (seconds(k.longest_s, format!("{at}/longest_s"))) }
                    }
                    td class="n" { (seconds(s.max_s, format!("{at}/max_s"))) }
                } } }
        } }
    }
}

pub(super) fn basis(report: &Report<'_>) -> Markup {
    let all = inputs(report.document, &report.wishes.sources);
    let count = |status: Status| all.iter().filter(|i| i.status == status).count();
    html! {
        p { (all.len()) " inputs: " (count(Status::Measured)) " measured, " (count(Status::Given)) " given, "
            (count(Status::Assumed)) " assumed, " (count(Status::Default)) " left at their defaults. Given means that the cell \
            document states it; it says nothing about how well it is known. The key is a JSON pointer into the cell document." }
        div class="wide" { table {
            thead { tr { th { "Input" } th class="n" { "Value" } th { "Unit" } th { "Status" } th { "Source" } } }
            tbody { @for input in &all {
                tr { td { (input.name) span class="pointer" data-input=(input.pointer) { (input.pointer) } }
                    td class="n" { (shown(&input.value)) } td { (input.unit) }
                    td class=[input.status.open().then_some("open")] { (input.status.word()) } td { (input.source) } }
            } }
        } }
    }
}

pub(super) fn rates(report: &Report<'_>) -> Markup {
    let (at, c) = (circuit(report), report.circuit);
    let mut tight: Vec<usize> = (0..c.skus.len()).collect();
    tight.sort_by(|a, b| c.skus[*a].margin.total_cmp(&c.skus[*b].margin));
    tight.truncate(CHARTS);
    html! {
        p { "Rates in carriers a minute. The exact rate is the long-run rate of the carriers' run without random stops; the \
             margin is what it has over the design rate." }
        div class="wide" { table {
            thead { tr { th { "SKU" } th class="n" { "Net cases/min" } th class="n" { "Design" } th class="n" { "Exact" }
                th class="n" { "Margin" } th class="n" { "Pitch mm" } th class="n" { "Accel. m/s²" } th class="n" { "Force RMS N" } th { "Limited by" } } }
            tbody { @for (k, s) in c.skus.iter().enumerate() {
                @let at = format!("{at}/skus/{k}");
                tr { td { (s.id) }
                    td class="n" { (num(format!("{at}/net_rate_cases_per_min"), s.net_rate_cases_per_min, format!("{:.2}", s.net_rate_cases_per_min))) }
                    td class="n" { (num(format!("{at}/design_rate_per_min"), s.design_rate_per_min, format!("{:.2}", s.design_rate_per_min))) }
                    td class="n" { (num(format!("{at}/rate_per_min"), s.rate_per_min, format!("{:.2}", s.rate_per_min))) }
                    td class="n" { (num(format!("{at}/margin"), s.margin, format!("{:+.1} %", s.margin * 100.0))) }
                    td class="n" { (num(format!("{at}/pitch_m"), s.pitch_m, mm(s.pitch_m))) }
                    td class="n" { (num(format!("{at}/acceleration_m_s2"), s.acceleration_m_s2, format!("{:.2}", s.acceleration_m_s2))) }
                    td class="n" { @if let Some(n) = s.motor_rms_n { (num(format!("{at}/motor_rms_n"), n, format!("{n:.1}"))) } @else { "–" } }
                    td { (s.limited_by.says) } }
            } }
        } }
        @if c.skus.iter().any(|s| s.pair.is_some()) {
            h3 { "Opposed pairs" }
            p { "How wide a pair opens for each SKU, what it then takes of the track, and the acceleration that friction under its \
                 squeezed paddles carries. The squeeze is not taken off the motors' force." }
            div class="wide" { table {
                thead { tr { th { "SKU" } th class="n" { "Opens mm" } th class="n" { "Length mm" } th class="n" { "Carries m/s²" } } }
                tbody { @for (k, s) in c.skus.iter().enumerate() { @if let Some(pair) = &s.pair {
                    @let at = format!("{at}/skus/{k}/pair");
                    tr { td { (s.id) }
                        td class="n" { (num(format!("{at}/opening_m"), pair.opening_m, mm(pair.opening_m))) }
                        td class="n" { (num(format!("{at}/length_m"), pair.length_m, mm(pair.length_m))) }
                        td class="n" { @if let Some(a) = pair.holds_m_s2 { (num(format!("{at}/holds_m_s2"), a, format!("{a:.2}"))) } @else { "–" } } }
                } } }
            } }
        }
        h3 { "Load of the stations" }
        p { "A carrier's share of each station's cycle against the time that it may take at the design rate"
            @if c.skus.len() > CHARTS { ", for the " (CHARTS) " SKUs with the least margin" } "." }
        @for &k in &tight {
            figure { (load_chart(report.plan, c, k, &report.chart("lw-load", k))) figcaption { "SKU " (c.skus[k].id) } }
        }
        @if let Some(trace) = &report.wishes.trace {
            h3 { "Carriers over time" }
            p { "Where every carrier is over a stretch of the paced run of SKU " (trace.sku)
                @if trace.recurs { ", when its state recurs" } @else { "; its state did not recur in the time that was run" }
                ". Strokes between events are straight, though carriers speed up and brake." }
            figure { (time_distance_chart(trace, "lw-time-distance")) figcaption { "Bands are the zones of the stations; a stroke that leaves at the top comes in at the bottom." } }
        }
        @if let Some(carriers) = &report.wishes.carriers {
            h3 { "Rate against carriers" }
            p { "All else as planned. The rate rises while carriers are too few for the way round, and falls when free places run out. At zero the loop would block itself: batches leave carriers over that stand in the way." }
            @for k in &tight { @if let Some(sku) = carriers.skus.get(*k) {
                figure { (carriers_chart(carriers, sku, &format!("lw-carriers-{}", k + 1))) figcaption { "SKU " (sku.id)
                    "; carriers that make the design rate: " (crate::render::enough(sku)) } }
            } }
        }
        @if !c.windows.is_empty() {
            h3 { "Times across stations" }
            div class="wide" { table {
                thead { tr { th { "From" } th { "To" } th { "SKU" } th class="n" { "Least s" } th class="n" { "Longest s" } th class="n" { "At most s" } } }
                tbody { @for (i, w) in c.windows.iter().enumerate() { @for (k, s) in w.skus.iter().enumerate() {
                    @let own = format!("{at}/windows/{i}/skus/{k}");
                    tr { td { (w.from) } td { (w.to) } td { (s.id) }
                        td class="n" { @if let Some(t) = s.least_s { (num(format!("{own}/least_s"), t, format!("{t:.2}"))) } }
                        td class="n" { @if let Some(t) = s.longest_s { (num(format!("{own}/longest_s"), t, format!("{t:.2}"))) } }
                        td class="n" { @if let Some(t) = w.max_s { (num(format!("{at}/windows/{i}/max_s"), t, format!("{t:.2}"))) } } }
                } } }
            } }
        }
    }
}

pub(super) fn limits(report: &Report<'_>) -> Markup {
    let c = report.circuit;
    let mut groups: Vec<(&str, String, Vec<&str>)> = Vec::new();
    for sku in &c.skus {
        match groups.iter_mut().find(|g| g.0 == sku.limited_by.says) {
            Some(group) => group.2.push(&sku.id),
            None => groups.push((&sku.limited_by.says, super::remedy(&sku.limited_by), vec![&sku.id])),
        }
    }
    html! {
        div class="wide" { table {
            thead { tr { th { "The rate is limited by" } th { "What would raise it" } th { "SKUs" } } }
            tbody { @for (says, remedy, skus) in &groups {
                tr { td { (says) } td { (remedy) } td { (skus.join(", ")) } }
            } }
        } }
        @if c.acceleration_share < 1.0 {
            p { "Every acceleration is scaled to " (num(format!("{}/acceleration_share", circuit(report)), c.acceleration_share, format!("{:.0} %", c.acceleration_share * 100.0)))
                " of its limit, since the motors would become too hot otherwise: stronger motors would shorten the moves." }
        }
        (super::alternatives::levers(&report.wishes.beside))
        p class="note" { "What raises one rate may leave another limit next to it. Plan the changed cell again to know what it brings." }
    }
}

pub(super) fn prices(report: &Report<'_>) -> Markup {
    let all = parts(report.plan);
    let total: f64 = all.iter().map(|p| f64::from(p.count) * p.each).sum();
    html! {
        div class="wide" { table {
            thead { tr { th { "Part" } th class="n" { "Count" } th class="n" { "Each" } th class="n" { "Together" } th { "Key of the price" } } }
            tbody { @for p in &all {
                tr { td { (p.name) } td class="n" { (p.count) } td class="n" { (money(p.each)) } td class="n" { (money(f64::from(p.count) * p.each)) }
                    td { span class="pointer" { (p.pointer) } } }
            } }
            tfoot { tr { td { "Total" } td {} td {} td class="n" { (num("/price", total, money(total))) } td {} } }
        } }
        p class="note" { "Parts that the cell document prices, in its currency. Controls, guarding, infeeds, design, assembly, \
            commissioning and transport are not in it." }
    }
}

pub(super) fn acceptance(report: &Report<'_>) -> Markup {
    let c = report.circuit;
    let each = report.each();
    let tightest = c.skus.iter().enumerate().min_by(|a, b| a.1.margin.total_cmp(&b.1.margin));
    let fastest = c.skus.iter().enumerate().max_by(|a, b| a.1.design_rate_per_min.total_cmp(&b.1.design_rate_per_min));
    let pitches = each.iter().flat_map(|own| own.circuit.skus.iter().enumerate());
    let longest = pitches.max_by(|a, b| a.1.pitch_m.total_cmp(&b.1.pitch_m));
    html! {
        p { "To be agreed with the order; durations and shares are common practice, no source." }
        ol {
            li { "Materials: the real products, blanks and glue, the worst of each among them; who supplies and who disposes." }
            li { "Dry run of 24 hours with " @for (i, own) in each.iter().enumerate() {
                @if i > 0 { " + " } (num(format!("{}/carriers", circuit(own)), own.circuit.carriers.into(), own.circuit.carriers.to_string()))
            } " carriers." }
            @for (what, pick) in [("the least margin", tightest), ("the highest rate", fastest), ("the longest pitch", longest)] {
                @if let Some((k, s)) = pick {
                    li { "SKU " (s.id) " (" (what) "): one hour at "
                        @for (i, own) in each.iter().enumerate() { @if let Some(s) = own.circuit.skus.get(k) {
                            @if i > 0 { ", " }
                            (num(format!("{}/skus/{k}/design_rate_per_min", circuit(own)), s.design_rate_per_min, format!("{:.2}", s.design_rate_per_min)))
                            " carriers a minute" @if report.several() { " on " (own.circuit.id) }
                        } }
                        " while running, and "
                        (num(format!("{}/skus/{k}/net_rate_cases_per_min", circuit(report)), s.net_rate_cases_per_min, format!("{:.2}", s.net_rate_cases_per_min)))
                        " cases a minute net over a shift." }
                }
            }
            @for own in &each { @for (i, w) in own.circuit.windows.iter().enumerate() { @if let Some(most) = w.max_s {
                li { "Time from " (w.from) " to " (w.to) " measured on twenty carriers: "
                    (num(format!("{}/windows/{i}/max_s", circuit(own)), most, format!("{most:.2}"))) " s at most." }
            } } }
            li { "Good packs: share and reasons of rejects, counted; 99.5 % is usual." }
            li { "Emergency stop, guards and interlocks, and noise, by the standards named in this report." }
        }
    }
}

pub(super) fn questions(report: &Report<'_>) -> Markup {
    let all = inputs(report.document, &report.wishes.sources);
    let open: Vec<_> = all.iter().filter(|i| i.status.open()).collect();
    let mut missing: Vec<(&str, Vec<String>)> = Vec::new();
    for (pointer, question) in super::basis::missing(report.document) {
        match missing.iter_mut().find(|m| m.0 == question) {
            Some(same) => same.1.push(pointer),
            None => missing.push((question, vec![pointer])),
        }
    }
    html! {
        p { "What was left at its default, was assumed, or was not given at all. Each answer can change the plan." }
        h3 { "Not given" }
        @if missing.is_empty() { p { "Nothing that is asked for is missing." } }
        @else { table { thead { tr { th { "Question" } th { "Key" } } }
            tbody { @for (question, pointers) in &missing { tr { td { (question) } td { @for p in pointers { span class="pointer" { (p) } } } } } } } }
        h3 { "Assumed or left at the default" }
        @if open.is_empty() { p { "Nothing." } }
        @else { table { thead { tr { th { "Is this right?" } th class="n" { "Value" } th { "Unit" } th { "Status" } } }
            tbody { @for i in &open { tr { td { (i.name) span class="pointer" { (i.pointer) } } td class="n" { (shown(&i.value)) } td { (i.unit) } td { (i.status.word()) } } } } } }
    }
}

pub(super) fn cautions(report: &Report<'_>) -> Markup {
    html! {
        ul { @for caution in &report.plan.planned.cautions { li { (caution) } } }
        h3 { "Standards to start from" }
        p class="note" { "Titles and editions are from memory; look up the edition in force before you cite one." }
        table { thead { tr { th { "Standard" } th { "What it is about" } } }
            tbody { @for (name, about) in STANDARDS { tr { td { (name) } td { (about) } } } } }
    }
}

pub(super) fn method(report: &Report<'_>) -> Markup {
    let p = report.plan.planned;
    html! {
        table { tbody { @for (what, how) in METHOD { tr { th { (what) } td { (how) } } }
            @if report.several() { tr { th { (SEVERAL.0) } td { (SEVERAL.1) } } } } }
        h3 { "Proof" }
        table { tbody {
            tr { th { "Proven bound of the floor" } td { (num("/proof/footprint/bound", p.proof.footprint.bound, format!("{:.4}", p.proof.footprint.bound))) " m²" } }
            tr { th { "Gap" } td { (num("/gap", p.gap, format!("{:.4} %", p.gap * 100.0))) } }
            tr { th { "Programs, candidates, refused" } td {
                (num("/effort/programs", p.effort.programs.into(), p.effort.programs.to_string())) ", "
                (num("/effort/candidates", p.effort.candidates.into(), p.effort.candidates.to_string())) ", "
                (num("/effort/cuts", p.effort.cuts.into(), p.effort.cuts.to_string())) } }
            tr { th { "Time limit reached" } td { @if p.effort.time_limit_reached { "yes" } @else { "no" } } }
        } }
        h3 { "Documents" }
        table { tbody {
            tr { th { "Program" } td { "Loopwright " (env!("CARGO_PKG_VERSION")) } }
            tr { th { "Plan document, SHA-256 of its compact JSON" } td { code { (report.plan.hash()) } } }
            tr { th { "Seed" } td {
                @if let Some(simulation) = &report.wishes.beside.simulation {
                    (of("simulation", "/run/seed".to_owned(), Some(simulation.run.seed as f64), |s| format!("{s:.0}"))) " for the simulation; "
                }
                "planning and exact rates use no random numbers" } }
        } }
    }
}
