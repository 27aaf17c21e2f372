//! From the tree to the published document: what chance does, and whether the efficiency asked for fits it.

use super::decode::Object;
use super::range::{FACTOR, LONG_DURATION, ROOM, VARIATION};
use super::sink::Sink;
use crate::codes::Code;
use crate::finding::Finding;
use crate::read::quoted;
use crate::wire::chance::{Distribution, Failures, Spread, StopCounts, Supply, Surge};
use loopwright_solver::cell::Cell;
use loopwright_solver::chance::Law;

/// `own`: whether it is something of the station's own, for which work or all time can count.
pub(super) fn failures(mut o: Object<'_, '_>, own: bool) -> Failures {
    const COUNTS: &[(&str, Option<StopCounts>)] =
        &[("operation", Some(StopCounts::Operation)), ("calendar", Some(StopCounts::Calendar))];
    let failures = Failures {
        mean_time_between_s: o.number_needed("mean_time_between_s", &LONG_DURATION),
        mean_time_to_repair_s: o.number_needed("mean_time_to_repair_s", &LONG_DURATION),
        counts: o.choice("counts", COUNTS, None),
        between: o.object("between").map(spread),
        repair: o.object("repair").map(spread),
    };
    if !own && failures.counts.is_some() {
        o.fault(
            Code::KeysClash,
            "counts",
            "`counts` goes with a station's own stops; outages count the time in which it comes",
        );
    }
    o.close();
    failures
}

pub(super) fn spread(mut o: Object<'_, '_>) -> Spread {
    const NAMES: &[(&str, Distribution)] = &[
        ("constant", Distribution::Constant),
        ("exponential", Distribution::Exponential),
        ("uniform", Distribution::Uniform),
        ("triangular", Distribution::Triangular),
        ("gamma", Distribution::Gamma),
        ("lognormal", Distribution::Lognormal),
    ];
    let distribution = o.choice_needed("distribution", NAMES, Distribution::Constant);
    let free = !matches!(distribution, Distribution::Constant | Distribution::Exponential);
    let variation =
        if free { Some(o.number_needed("variation", &VARIATION)) } else { o.number("variation", &VARIATION) };
    let spread = Spread { distribution, variation };
    match (variation, law(&spread).most_variation()) {
        (Some(_), _) if !free => {
            o.fault(Code::KeysClash, "variation", "`variation` does not go with `constant` and `exponential`");
        }
        (Some(given), Some(most)) if given > most => {
            let message = format!("`variation` is {given}; this distribution can have at most {most:.4}");
            o.fault(Code::OutOfRange, "variation", message);
        }
        _ => {}
    }
    o.close();
    spread
}

/// The engine's name of a distribution.
pub(super) fn law(from: &Spread) -> Law {
    let variation = from.variation.unwrap_or_default();
    match from.distribution {
        Distribution::Constant => Law::Constant,
        Distribution::Exponential => Law::Exponential,
        Distribution::Uniform => Law::Uniform(variation),
        Distribution::Triangular => Law::Triangular(variation),
        Distribution::Gamma => Law::Gamma(variation),
        Distribution::Lognormal => Law::Lognormal(variation),
    }
}

pub(super) fn supply(mut o: Object<'_, '_>) -> Supply {
    let supply = Supply {
        over_net_rate: o.number_needed("over_net_rate", &FACTOR),
        gaps: o.object("gaps").map(spread),
        outages: o.object("outages").map(|o| failures(o, false)),
        surge: o.object("surge").map(surge),
        room_carriers: o.count_or("room_carriers", &ROOM, 0),
    };
    o.close();
    supply
}

fn surge(mut o: Object<'_, '_>) -> Surge {
    let surge = Surge {
        factor: o.number_needed("factor", &FACTOR),
        every_s: o.number_needed("every_s", &LONG_DURATION),
        lasts_s: o.number_needed("lasts_s", &LONG_DURATION),
    };
    if surge.lasts_s >= surge.every_s {
        o.fault(
            Code::LimitsCross,
            "lasts_s",
            format!("a surge lasts {} s, and the next begins after {} s", surge.lasts_s, surge.every_s),
        );
    }
    o.close();
    surge
}

/// Says where the efficiency that is asked for is more than the stations' stops leave. It is no error: stations faster than the rate
/// make up for stops.
pub(super) fn efficiency(asked: f64, cell: &Cell, sink: &Sink<'_>) {
    let stations = &cell.parts().stations;
    let least = stations.iter().min_by(|a, b| a.behaviour.availability().total_cmp(&b.behaviour.availability()));
    let Some(least) = least else { return };
    let alone = least.behaviour.availability();
    let together = 1.0 / (1.0 + stations.iter().map(|s| s.behaviour.lost()).sum::<f64>());
    let at = "/requirements/efficiency";
    if asked > alone + 1e-12 {
        let message = format!(
            "an efficiency of {asked} is above the availability of station {}, which is {alone:.4}",
            quoted(&least.id)
        );
        sink.report(Finding::new(Code::EfficiencyAbove, at, message));
    } else if asked > together + 1e-12 {
        let message = format!(
            "an efficiency of {asked} is above {together:.4}, which is what stations without accumulation between them reach"
        );
        sink.report(Finding::new(Code::EfficiencyHigh, at, message));
    }
}
