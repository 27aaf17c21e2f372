//! The printed plan, as an applications engineer reads it.

use super::COLUMNS;
use super::loop_view::loop_view;
use super::table::{Align, NBSP, Table, heading, paragraph, range, width};
use crate::show::up_to_mm;
use crate::wire::plan::{
    Answer, Asked, AskedOpening, Impossible, PlanDocument, Planned, PlannedCellSide, PlannedCircuit, PlannedMode,
    PlannedPlace, PlannedPlane, PlannedReach, PlannedSide, PlannedSince, PlannedStation, PlannedStraight, Proofs,
    ReachStatus, SearchEffort, Stopped,
};

/// Column of the headline's texts.
const LABEL: usize = 12;

/// The plan on pages of 100 columns.
#[must_use]
pub fn plan_text(document: &PlanDocument) -> String {
    let status = match &document.answer {
        Answer::Planned(_) => "plan",
        Answer::Impossible(_) => "no plan is possible",
        Answer::Stopped(_) => "no plan found in the time given",
    };
    let title = super::table::clip(&format!("{}: {status}", document.name), COLUMNS);
    let body = match &document.answer {
        Answer::Planned(planned) => planned_text(planned),
        Answer::Impossible(impossible) => impossible_text(impossible),
        Answer::Stopped(stopped) => stopped_text(stopped),
    };
    format!("{title}\n{}\n\n{body}", "=".repeat(width(&title)))
}

fn planned_text(planned: &Planned) -> String {
    let mut out = headline(planned);
    for circuit in &planned.circuits {
        out += &heading(&format!("Loop {}", circuit.id));
        out += &loop_view(circuit, planned.is_mirrored());
        out += &heading("Stations, in travel order");
        out += &stations(circuit);
        out += &heading("Sections");
        out += &sections(circuit);
        if !circuit.windows.is_empty() {
            out += &heading("Times across stations");
            out += &windows(circuit);
        }
        out += &heading("SKUs (rates in carriers a minute)");
        out += &skus(circuit);
        out += &super::pairs::pairs(circuit);
        out += &heading("Motors");
        out += &duty(circuit);
    }
    if let Some(feed) = &planned.feed {
        out += &heading("Product stream");
        out += &super::feed::feed(feed);
    }
    out += &heading("Cautions");
    for caution in &planned.cautions {
        out += &paragraph("-", 2, &standards(caution));
    }
    out
}

fn reach_told(reach: &PlannedReach) -> String {
    let rounds = if reach.rounds.len() == 1 { "1 round".to_owned() } else { format!("{} rounds", reach.rounds.len()) };
    if reach.reached {
        format!(
            "reached when simulated: the lower 95 % bound of every SKU's is at least what was asked. Efficiency {:.1} %, worked out in {rounds}:",
            reach.efficiency * 100.0
        )
    } else {
        format!(
            "not reached in {rounds}: this plan, made for an efficiency of {:.1} %, comes nearest when it is simulated:",
            reach.efficiency * 100.0
        )
    }
}

fn reach_rounds(reach: &PlannedReach) -> String {
    let mut table = Table::new(&[
        ("Efficiency", Align::Right),
        ("Floor m²", Align::Right),
        ("carriers", Align::Right),
        ("slots", Align::Right),
        ("worst SKU", Align::Left),
        ("asked", Align::Right),
        ("makes, cases/min", Align::Left),
        ("", Align::Left),
    ]);
    for round in &reach.rounds {
        let or_dash = |text: Option<String>| text.unwrap_or_else(|| "-".to_owned());
        table.row(vec![
            format!("{:.4}", round.efficiency),
            or_dash(round.area_m2.map(|area| format!("{area:.2}"))),
            or_dash(round.carriers.map(|n| n.to_string())),
            or_dash(round.slots.map(|n| n.to_string())),
            or_dash(round.sku.clone()),
            or_dash(round.asked_net_rate_per_min.map(|rate| format!("{rate:.3}"))),
            or_dash(round.net_rate_per_min.map(|rate| format!("{:.3} ± {:.3}", rate.mean, rate.half_width))),
            match round.status {
                ReachStatus::Planned if round.reached => "reached".to_owned(),
                ReachStatus::Planned => "too little".to_owned(),
                ReachStatus::Impossible => "no plan".to_owned(),
                ReachStatus::Stopped => "no plan in the time".to_owned(),
            },
        ]);
    }
    table.print()
}

fn fewest(proof: &Proofs) -> String {
    if proof.carriers.proven {
        "no plan of this floor has fewer: proven".to_owned()
    } else if proof.carriers.bound <= 1 {
        "fewer are not excluded".to_owned()
    } else {
        format!("no plan of this floor has fewer than {}: proven", proof.carriers.bound)
    }
}

/// Where a circuit lies beside others, and what of the whole is its own.
fn its_share(circuit: &PlannedCircuit, place: &PlannedPlace) -> String {
    let carriers = if circuit.carriers == 1 { "carrier" } else { "carriers" };
    let lies = match &place.above {
        Some(below) => format!("over {below}"),
        None => format!("{:.2}\u{a0}m² of the floor", place.floor_share_m2),
    };
    format!(
        "{}: {} {carriers}, {lies}, its straights from {:.3}\u{a0}m on{}",
        circuit.id,
        circuit.carriers,
        place.offset_m,
        if place.price > 0.0 { format!(", price {}", grouped(place.price)) } else { String::new() }
    )
}

/// Keeps the names of standards on one line.
fn standards(text: &str) -> String {
    ["ISO", "EN", "IEC", "ANSI/PMMI", "CFR"]
        .iter()
        .fold(text.to_owned(), |text, body| text.replace(&format!("{body} "), &format!("{body}{NBSP}")))
}

fn headline(planned: &Planned) -> String {
    let f = &planned.footprint;
    let mut out = paragraph(
        "Footprint",
        LABEL,
        &format!(
            "{:.3} x {:.3}\u{a0}m = {:.2}\u{a0}m², {}",
            up_to_mm(f.length_m),
            up_to_mm(f.width_m),
            f.area_m2,
            clearance(&planned.asked)
        ),
    );
    let proof = &planned.proof;
    out += &paragraph(
        "",
        LABEL,
        &if proof.footprint.proven && planned.gap > 1e-9 {
            format!(
                "The least floor of any plan is {:.2}\u{a0}m²: proven. This plan lies within what was asked to count as equal.",
                planned.proven_bound_m2
            )
        } else if proof.footprint.proven {
            "No plan has less floor: proven.".to_owned()
        } else {
            format!(
                "No plan has less floor than {:.2}\u{a0}m²: proven. The gap is {:.2} %; {}.",
                planned.proven_bound_m2,
                planned.gap * 100.0,
                open_end(&planned.effort)
            )
        },
    );
    if let Some(facing) = facing(planned) {
        out += &paragraph("Sides", LABEL, &facing);
    }
    for circuit in &planned.circuits {
        let plane = match circuit.plane {
            PlannedPlane::Flat => "flat",
            PlannedPlane::Upright => "upright",
        };
        let text = format!(
            "{:.3} m round, {plane}, form {}: two straights of {} x {:.0} mm, two ends of {:.3} m",
            circuit.loop_length_m,
            circuit.form,
            circuit.modules_per_straight,
            circuit.module_m * 1e3,
            circuit.end_m
        );
        out += &paragraph("Loop", LABEL, &text);
        if let Some(place) = &circuit.place {
            out += &paragraph("", LABEL, &its_share(circuit, place));
        } else {
            out += &paragraph("Carriers", LABEL, &format!("{}; {}", circuit.carriers, fewest(proof)));
        }
    }
    if planned.circuits.iter().any(|circuit| circuit.place.is_some()) {
        let all: u32 = planned.circuits.iter().map(|circuit| circuit.carriers).sum();
        out += &paragraph("Carriers", LABEL, &format!("{all} on all loops; {}", fewest(proof)));
    }
    if planned.price > 0.0 {
        let cheapest = if proof.price.proven {
            "no plan of this floor and so many carriers costs less: proven".to_owned()
        } else {
            "a cheaper plan of this floor and so many carriers is not excluded".to_owned()
        };
        out += &paragraph("Price", LABEL, &format!("{}; {cheapest}", grouped(planned.price)));
    }
    if let Some(reach) = &planned.reach {
        out += &paragraph("Net rates", LABEL, &reach_told(reach));
        out += &reach_rounds(reach);
    }
    let design = format!(
        "efficiency {:.1} %, headroom {:.1} %: design rate = net rate x {:.4}",
        planned.asked.efficiency * 100.0,
        (planned.asked.headroom - 1.0) * 100.0,
        planned.asked.headroom / planned.asked.efficiency
    );
    out += &paragraph("Rates", LABEL, &design);
    let e = &planned.effort;
    let text = format!(
        "{}, {}, {} refused by the exact check",
        count(e.programs, "program"),
        count(e.candidates, "candidate"),
        e.cuts
    );
    out + &paragraph("Search", LABEL, &text)
}

fn count(n: u32, what: &str) -> String {
    if n == 1 { format!("1 {what}") } else { format!("{n} {what}s") }
}

/// On which sides product comes in and leaves, and which way carriers travel, in words; none where nothing of it was asked.
pub(crate) fn facing(planned: &Planned) -> Option<String> {
    let hand = planned.hand?;
    let of = |(name, opening): (&str, &AskedOpening)| {
        let to = match opening.side {
            PlannedCellSide::Front => "at the front",
            PlannedCellSide::Back => "at the back",
            PlannedCellSide::Left => "to the left",
            PlannedCellSide::Right => "to the right",
        };
        format!("{} at {}, open {to}; ", name.to_lowercase(), opening.station)
    };
    let sides: String = planned.asked.openings().map(of).collect();
    let mirrored = if planned.is_mirrored() { ": the cell is mirrored" } else { "" };
    Some(format!("{sides}carriers travel from {} along the front{mirrored}", hand.words()))
}

/// What is kept free round a cell, in words.
pub(crate) fn clearance(asked: &Asked) -> String {
    if let Some(sides) = asked.clearance_sides {
        let all = [
            ("at the front", sides.front_m),
            ("at the back", sides.back_m),
            ("on the left", sides.left_m),
            ("on the right", sides.right_m),
        ];
        let words: Vec<String> = all.iter().map(|(side, m)| format!("{:.0} mm {side}", m * 1e3)).collect();
        format!("with {} kept free", words.join(", "))
    } else if asked.clearance_m > 0.0 {
        format!("with {:.0} mm kept free all round", asked.clearance_m * 1e3)
    } else {
        "nothing kept free round it".to_owned()
    }
}

/// 1234567.5 as "1 234 567.50"; whole amounts without decimals.
pub(crate) fn grouped(amount: f64) -> String {
    let text = if amount.fract() == 0.0 { format!("{amount:.0}") } else { format!("{amount:.2}") };
    let (whole, rest) = text.split_once('.').map_or((&*text, None), |(w, r)| (w, Some(r)));
    let digits = whole.chars().count();
    let mut out = String::new();
    for (i, c) in whole.chars().enumerate() {
        if i > 0 && (digits - i) % 3 == 0 && out != "-" {
            out.push(' ');
        }
        out.push(c);
    }
    rest.map_or(out.clone(), |rest| format!("{out}.{rest}"))
}

fn stations(circuit: &PlannedCircuit) -> String {
    use Align::{Left, Right};
    let mut table = Table::new(&[
        ("", Right),
        ("Station", Left),
        ("Mode", Left),
        ("Heads", Right),
        ("Batch", Right),
        ("Zone m", Right),
        ("Start m", Right),
        ("Place", Left),
        ("Cycle s", Right),
        ("Does/min", Right),
        ("Spare", Right),
        ("For SKU", Left),
    ]);
    for (i, station) in circuit.stations.iter().enumerate() {
        // The SKU that leaves the station least time.
        let tightest = station.skus.iter().max_by(|a, b| a.share_of_rate.total_cmp(&b.share_of_rate));
        table.row(vec![
            (i + 1).to_string(),
            station.id.clone(),
            match station.mode {
                PlannedMode::Intermittent => "stops".to_owned(),
                PlannedMode::Continuous => "moves".to_owned(),
            },
            station.heads.to_string(),
            range(station.skus.iter().map(|s| s.batch), |b| b.to_string()),
            format!("{:.3}", station.zone_m),
            format!("{:.3}", station.start_m),
            place(station),
            tightest.map_or_else(dash, |t| format!("{:.2}", t.cycle_s)),
            tightest.map_or_else(dash, |t| format!("{:.2}", t.capacity_per_min)),
            tightest.map_or_else(dash, |t| percent(1.0 / t.share_of_rate - 1.0)),
            tightest.map_or_else(dash, |t| t.id.clone()),
        ]);
    }
    let note = "Stops: intermittent, a batch stands while it is worked on. Moves: continuous, work on moving carriers. \
                Cycle, carriers a minute and spare are those of the SKU that leaves the station least time.";
    table.print() + &paragraph("", 0, note)
}

fn place(station: &PlannedStation) -> String {
    match (station.straight, station.stands) {
        (PlannedStraight::Front, PlannedSide::Front) => "front".to_owned(),
        (PlannedStraight::Back, PlannedSide::Back) => "back".to_owned(),
        (PlannedStraight::Top, PlannedSide::Front) => "top, front".to_owned(),
        (PlannedStraight::Top, PlannedSide::Back) => "top, back".to_owned(),
        (PlannedStraight::Front, PlannedSide::Back) => "front, back".to_owned(),
        (PlannedStraight::Back, PlannedSide::Front) => "back, front".to_owned(),
    }
}

pub(super) fn dash() -> String {
    "-".to_owned()
}

/// A share as a percentage with its sign.
fn percent(share: f64) -> String {
    if !share.is_finite() {
        return dash();
    }
    let text = format!("{:+.1} %", share * 100.0);
    if text == "-0.0 %" { "+0.0 %".to_owned() } else { text }
}

fn sections(circuit: &PlannedCircuit) -> String {
    use Align::{Left, Right};
    let mut table = Table::new(&[
        ("From", Left),
        ("To", Left),
        ("Length m", Right),
        ("Ends m", Right),
        ("Slots", Right),
        ("Needed", Right),
        ("Lag s", Right),
        ("Longest s", Right),
        ("At most s", Right),
        ("", Left),
    ]);
    for s in &circuit.sections {
        let longest = s.skus.iter().filter_map(|k| k.longest_s).max_by(f64::total_cmp);
        let mut notes = Vec::new();
        if !s.loaded {
            notes.push("empty".to_owned());
        }
        if s.ride_through_s > 0.0 {
            notes.push(format!("rides {} s", s.ride_through_s));
        }
        table.row(vec![
            s.from.clone(),
            s.to.clone(),
            format!("{:.3}", s.length_m),
            if s.curve_m > 0.0 { format!("{:.3}", s.curve_m) } else { dash() },
            range(s.skus.iter().map(|k| k.slots), |n| n.to_string()),
            range(s.skus.iter().map(|k| k.needed_slots), |n| n.to_string()),
            range(s.skus.iter().map(|k| k.lag_s), |t| format!("{t:.2}")),
            longest.map_or_else(dash, |t| format!("{t:.2}")),
            s.max_s.map_or_else(dash, |t| format!("{t:.2}")),
            notes.join(", "),
        ]);
    }
    let note = "Slots: carriers that fit; needed: for the batches around and the ride-through alone. Lag: from leaving \
                one station to being ready at the next without waiting; longest: with waiting, at the design rate. Rides: \
                absorbs the flow for so long while the station after it stands.";
    table.print() + &paragraph("", 0, note)
}

fn windows(circuit: &PlannedCircuit) -> String {
    use Align::{Left, Right};
    let mut table = Table::new(&[
        ("From", Left),
        ("To", Left),
        ("Counts from", Left),
        ("At least s", Right),
        ("Least s", Right),
        ("Longest s", Right),
        ("At most s", Right),
    ]);
    let two = |t: Option<f64>| t.map_or_else(dash, |t| format!("{t:.2}"));
    for w in &circuit.windows {
        let least = w.skus.iter().filter_map(|k| k.least_s).fold(f64::INFINITY, f64::min);
        let longest = w.skus.iter().filter_map(|k| k.longest_s).fold(f64::NEG_INFINITY, f64::max);
        table.row(vec![
            w.from.clone(),
            w.to.clone(),
            match w.since {
                PlannedSince::TakenIn => "being taken in".to_owned(),
                PlannedSince::Left => "leaving".to_owned(),
            },
            two(w.min_s),
            two(least.is_finite().then_some(least)),
            two(longest.is_finite().then_some(longest)),
            two(w.max_s),
        ]);
    }
    table.print()
}

fn skus(circuit: &PlannedCircuit) -> String {
    use Align::{Left, Right};
    let mut table = Table::new(&[
        ("SKU", Left),
        ("Net cases", Right),
        ("Design", Right),
        ("Exact", Right),
        ("Margin", Right),
        ("RMS N", Right),
        ("Limited by", Left),
    ]);
    for sku in &circuit.skus {
        table.row(vec![
            sku.id.clone(),
            format!("{:.2}", sku.net_rate_cases_per_min),
            format!("{:.3}", sku.design_rate_per_min),
            format!("{:.3}", sku.rate_per_min),
            percent(sku.margin),
            sku.motor_rms_n.map_or_else(dash, |n| format!("{n:.1}")),
            sku.limited_by.says.clone(),
        ]);
    }
    table.print()
}

fn duty(circuit: &PlannedCircuit) -> String {
    let mut out = String::new();
    let worst =
        circuit.skus.iter().filter_map(|s| s.motor_rms_n.map(|n| (n, &s.id))).max_by(|a, b| a.0.total_cmp(&b.0));
    if let Some((rms, sku)) = worst {
        let against = match circuit.continuous_force_n {
            Some(force) if force > 0.0 => {
                format!(", {:.0} % of the continuous force of {force:.1}\u{a0}N", rms / force * 100.0)
            }
            _ => "; no continuous force is given to hold it against".to_owned(),
        };
        out += &paragraph(
            "",
            0,
            &format!("A carrier's force is {rms:.1}\u{a0}N RMS over a lap at most (SKU {sku}){against}."),
        );
    }
    if circuit.acceleration_share < 1.0 {
        let text = format!(
            "Every acceleration is scaled to {:.0} %, since the motors would become too hot otherwise.",
            circuit.acceleration_share * 100.0
        );
        out += &paragraph("", 0, &text);
    }
    let loads = circuit.module_loads.as_ref();
    if let Some(loads) = loads
        && let Some(most) = loads.modules.iter().max_by(|a, b| a.rms_n.total_cmp(&b.rms_n))
    {
        let text = format!(
            "The track's windings work hardest from {:.3} to {:.3}\u{a0}m along the loop: {:.1}\u{a0}N RMS over all carriers that \
             pass (SKU {}).",
            most.start_m,
            most.start_m + most.length_m,
            most.rms_n,
            loads.sku
        );
        out += &paragraph("", 0, &text);
    }
    if out.is_empty() {
        out += "No masses or friction are given, so that there is nothing to compute.\n";
    }
    out
}

fn impossible_text(impossible: &Impossible) -> String {
    let mut out = String::new();
    let conflict = &impossible.conflict;
    if !conflict.requirements.is_empty() {
        let lead = match (conflict.requirements.len(), conflict.minimal) {
            (1, true) => "This requirement cannot be met, with all others given up:",
            (_, true) => {
                "These cannot hold together, with all other requirements given up. Without any one of them the rest can:"
            }
            (_, false) => {
                "These cannot hold together, with all other requirements given up. Time ran out before it was shown that \
                 all of them are needed for that:"
            }
        };
        out += &paragraph("", 0, lead);
        for requirement in &conflict.requirements {
            out += &paragraph("-", 2, &requirement.says);
            out += &format!("  {}\n", requirement.pointer);
        }
        out.push('\n');
    }
    for reason in &impossible.reasons {
        let mut letters = reason.chars();
        let text: String = letters.next().into_iter().flat_map(char::to_uppercase).chain(letters).collect();
        out += &paragraph("", 0, &format!("{text}."));
    }
    out
}

/// What could still close a gap.
fn open_end(effort: &SearchEffort) -> &'static str {
    if effort.time_limit_reached { "more time may close it" } else { "the search could not decide the rest" }
}

fn stopped_text(stopped: &Stopped) -> String {
    let next = if stopped.effort.time_limit_reached {
        "Allow more time."
    } else {
        "The search could not decide some candidates: relax a time limit, or give it a coarser choice."
    };
    let text = format!(
        "Stopped before a plan was found. If there is a plan, it takes at least {:.2}\u{a0}m² of floor: proven. {next}",
        stopped.proven_bound_m2
    );
    paragraph("", 0, &text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn printed_sizes_are_large_enough() {
        for (metres, printed) in [(14.247_584_8, 14.248), (5.2, 5.2), (5.200_000_000_1, 5.2), (0.000_2, 0.001)] {
            assert!((up_to_mm(metres) - printed).abs() < 1e-12, "{metres}");
        }
    }

    #[test]
    fn amounts_and_shares() {
        assert_eq!(grouped(1_234_567.5), "1 234 567.50");
        assert_eq!(grouped(196_000.0), "196 000");
        assert_eq!(grouped(-999.0), "-999");
        assert_eq!(grouped(-123_456.0), "-123 456");
        assert_eq!(percent(-0.0001), "+0.0 %");
        assert_eq!(percent(0.0234), "+2.3 %");
        assert_eq!(percent(f64::INFINITY), "-");
    }
}
