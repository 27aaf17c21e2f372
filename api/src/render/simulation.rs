//! A simulated plan in print.

use super::table::{Align, Table, heading, paragraph};
use crate::wire::simulation::{Certain, Estimated, SimulatedSku, SimulatedTimes, SimulationDocument};

/// The document on pages of 100 columns.
#[must_use]
pub fn simulation_text(document: &SimulationDocument) -> String {
    let run = &document.run;
    let speed = if run.paced { "held back to the design rate" } else { "as fast as it can" };
    let ended = if document.stopped { " Stopped before it was done." } else { "" };
    let mut out = paragraph(
        "",
        0,
        &format!(
            "{}: {} carriers on {}, {speed}. {} h in each replication, seed {}.{ended}",
            document.name, document.carriers, document.circuit, run.hours, run.seed
        ),
    );
    out += &rates(document);
    for sku in &document.skus {
        out += &heading(&format!("SKU {}", sku.id));
        out += &stations(sku);
        out.push('\n');
        out += &sections(sku);
        for window in &sku.windows {
            let limit = window.max_s.map_or_else(String::new, |max| {
                format!(", allowed {max:.2} s, broken by {} of the carriers", percent(window.broken))
            });
            let says = format!(
                "{} to {}: mean {:.2} s, longest {:.2} s{limit}.",
                window.from, window.to, window.stay.mean_s, window.stay.longest_s
            );
            out += &paragraph("-", 2, &says);
        }
        out += &losses(sku);
        out += &certain(sku);
        let says = format!(
            "{} waits least and limits the rate. {}. {} replication{}, {:.0} s of warm-up left out of each.",
            sku.limiting_station,
            laps(sku),
            sku.replications,
            if sku.replications == 1 { "" } else { "s" },
            sku.warm_up_s
        );
        out += &paragraph("", 0, &says);
    }
    out += &heading("How");
    for line in &document.method {
        out += &paragraph("-", 2, line);
    }
    out
}

fn laps(sku: &SimulatedSku) -> String {
    let round = |of: &str, lap: &SimulatedTimes| {
        format!("Round {of}: mean {:.2} s, longest {:.2} s", lap.mean_s, lap.longest_s)
    };
    if sku.laps.is_empty() {
        return round("the loop", &sku.lap);
    }
    sku.laps.iter().map(|of| round(&of.circuit, &of.lap)).collect::<Vec<_>>().join(". ")
}

/// What the cell waited for.
fn losses(sku: &SimulatedSku) -> String {
    if sku.losses.is_empty() {
        return String::new();
    }
    let lost: f64 = sku.losses.iter().map(|loss| loss.lost_per_min).sum();
    let mut out = paragraph("", 0, &format!("What the cell waited for: {lost:.3} cases a minute are lost."));
    let mut table = Table::new(&[
        ("Station", Align::Left),
        ("Cause", Align::Left),
        ("Lost/min", Align::Right),
        ("Of the loss", Align::Right),
        ("Gained without it alone", Align::Left),
    ]);
    for loss in &sku.losses {
        table.row(vec![
            loss.station.clone(),
            loss.cause.words().to_owned(),
            format!("{:.3}", loss.lost_per_min),
            percent(if lost > 0.0 { loss.lost_per_min / lost } else { 0.0 }),
            format!("{:+.3} +- {:.3}", loss.gain_per_min.mean, loss.gain_per_min.half_width),
        ]);
    }
    out += &table.print();
    out
}

/// What no chance is in: the stop test and the power.
fn certain(sku: &SimulatedSku) -> String {
    let mut out = String::new();
    for stop in &sku.stop_tests {
        let held = if stop.holds {
            format!("{} is not blocked", stop.from)
        } else {
            format!("{} is blocked for up to {:.2} s", stop.from, stop.blocked_s)
        };
        let gone = stop.queue_gone_after_s.map_or_else(
            || "the queue does not go away".to_owned(),
            |after| format!("the queue is gone {after:.1} s later"),
        );
        let says =
            format!("When {} stands still for {} s at the worst moment, {held}; {gone}.", stop.to, stop.ride_through_s);
        out += &paragraph("-", 2, &says);
    }
    if let Some(power) = &sku.power {
        let most = power.modules.iter().map(|m| m.most_carriers).max().unwrap_or_default();
        let hottest = power.modules.iter().map(|m| m.rms_n).fold(0.0, f64::max);
        let says = format!(
            "Electrical power at the design rate: mean {:.0} W, peak {:.0} W; at most {most} carriers in one track module, and at most \
             {hottest:.1} N RMS in one.",
            power.mean_w, power.peak_w
        );
        out += &paragraph("-", 2, &says);
    }
    out
}

fn percent(share: f64) -> String {
    format!("{:.1} %", 100.0 * share)
}

fn interval(estimate: Estimated) -> String {
    format!("{:.3} +- {:.3}", estimate.mean, estimate.half_width)
}

fn rates(document: &SimulationDocument) -> String {
    use Align::{Left, Right};
    let columns = [
        ("SKU", Left),
        ("Asked", Right),
        ("Net cases/min", Right),
        ("Makes it", Left),
        ("Undisturbed", Right),
        ("Efficiency", Right),
        ("Given", Right),
    ];
    let mut table = Table::new(&columns);
    for sku in &document.skus {
        let makes = match sku.makes_net_rate {
            Certain::Yes => "yes",
            Certain::No => "no",
            Certain::Open => "open",
        };
        table.row(vec![
            sku.id.clone(),
            format!("{:.3}", sku.asked_net_rate_per_min),
            interval(sku.net_rate_per_min),
            makes.to_owned(),
            format!("{:.3}", sku.undisturbed_rate_per_min),
            interval(sku.efficiency),
            format!("{:.3}", sku.given_efficiency),
        ]);
    }
    table.print()
}

fn stations(sku: &SimulatedSku) -> String {
    use Align::{Left, Right};
    let columns = [
        ("Station", Left),
        ("Works", Right),
        ("No carriers", Right),
        ("Not fed", Right),
        ("Blocked", Right),
        ("Paced", Right),
        ("Failed", Right),
        ("Short stops", Right),
    ];
    let mut table = Table::new(&columns);
    for s in &sku.stations {
        let shares = [s.working, s.starved, s.unfed, s.blocked, s.paced, s.failed, s.short_stop];
        table.row(std::iter::once(s.id.clone()).chain(shares.map(percent)).collect());
    }
    table.print()
}

fn sections(sku: &SimulatedSku) -> String {
    use Align::{Left, Right};
    let columns = [
        ("Section", Left),
        ("Slots", Right),
        ("Held", Right),
        ("p95", Right),
        ("Full", Right),
        ("Queue", Right),
        ("p95", Right),
        ("Stay", Right),
        ("Longest", Right),
        ("Too long", Right),
    ];
    let mut table = Table::new(&columns);
    for s in &sku.sections {
        table.row(vec![
            format!("{} - {}", s.from, s.to),
            s.slots.to_string(),
            format!("{:.2}", s.slots_held.mean),
            s.slots_held.p95.to_string(),
            percent(s.full),
            format!("{:.2}", s.queue.mean),
            s.queue.p95.to_string(),
            format!("{:.2} s", s.stay.mean_s),
            format!("{:.2} s", s.stay.longest_s),
            s.max_s.map_or_else(|| "-".to_owned(), |_| percent(s.broken)),
        ]);
    }
    table.print()
}
