//! Words for changes: what decides them, and what would mend them.

use crate::check::Document;
use crate::codes::Code;
use crate::finding::Finding;
use crate::read::quoted;
use loopwright_solver::adjust::At;
use loopwright_solver::changeover::{Change, Changeover, Mended, Mover, Remedy};
use loopwright_solver::units::Micros;

/// Remedies that are named at most.
const MOST_REMEDIES: usize = 3;

/// Steps that are named at most.
const MOST_STEPS: usize = 8;

/// Id of the station or circuit.
pub(super) fn owner(document: &Document, at: At) -> String {
    let parts = document.cell.parts();
    match at {
        At::Station(i) => parts.stations.get(i).map_or_else(String::new, |s| s.id.clone()),
        At::Carriers => parts.circuit.id.clone(),
    }
}

/// Where something moves, and what it is called.
pub(super) fn place(document: &Document, mover: Mover) -> (String, String) {
    match mover {
        Mover::Adjustment(index) => {
            let adjustment = &document.cell.parts().changes.adjustments[index];
            (owner(document, adjustment.at), adjustment.id.clone())
        }
        Mover::Spacing => (owner(document, At::Carriers), "spacing".to_owned()),
        Mover::Opening => (owner(document, At::Carriers), "opening".to_owned()),
    }
}

/// Minutes, or seconds where it is less than one.
pub(super) fn duration(time: Micros) -> String {
    if time.us() < 60_000_000 {
        format!("{:.1} s", time.seconds())
    } else {
        format!("{:.1} min", time.seconds() / 60.0)
    }
}

fn step_name(document: &Document, number: usize) -> String {
    let changes = &document.cell.parts().changes;
    changes.steps().nth(number).map_or_else(String::new, |(adjustment, step)| {
        format!("{}/{}/{}", owner(document, adjustment.at), adjustment.id, step.id)
    })
}

/// What the time of the stop hangs on: the longest move, or steps that follow one another without a pause.
pub(super) fn decided_by(document: &Document, change: &Change) -> String {
    let moving = || {
        let longest = change.moves.iter().max_by_key(|m| m.time);
        longest.map_or_else(
            || "nothing is to be set".to_owned(),
            |m| {
                let (at, what) = place(document, m.mover);
                format!("the move {at}/{what}, {}", duration(m.time))
            },
        )
    };
    if change.stopped.steps.is_empty() || change.stopped.schedule.finish < change.moving.us() {
        return moving();
    }
    let planned = &change.stopped;
    let end = |i: usize| planned.schedule.start[i] + planned.times[i].us();
    let mut chain = Vec::new();
    let mut at = (0..planned.steps.len()).find(|&i| end(i) == planned.schedule.finish);
    while let Some(i) = at {
        chain.push(format!("{} ({})", step_name(document, planned.steps[i]), duration(planned.times[i])));
        let start = planned.schedule.start[i];
        at = (0..planned.steps.len()).find(|&b| start > 0 && end(b) == start && planned.times[b].us() > 0);
    }
    chain.reverse();
    let more = chain.len().saturating_sub(MOST_STEPS);
    chain.truncate(MOST_STEPS);
    let rest = if more > 0 { format!(" and {more} more") } else { String::new() };
    let after = if document.cell.parts().changes.moves_wait && change.moving.us() > 0 {
        format!("; then {}", moving())
    } else {
        String::new()
    };
    format!("by hand: {}{rest}{after}", chain.join(", then "))
}

fn remedy(document: &Document, mended: &Mended) -> String {
    let how = match mended.remedy {
        Remedy::Operators(people) => format!("with {people} people at hand"),
        Remedy::Outside(step) => format!("with {} outside the stop", step_name(document, step)),
        Remedy::Automatic(index) => {
            let (at, what) = place(document, Mover::Adjustment(index));
            format!("with {at}/{what} setting itself")
        }
    };
    format!("{how} it takes {}", duration(mended.total))
}

/// What to report of a change over the limit.
pub(super) fn over_limit(document: &Document, changeover: &Changeover<'_>, change: &Change, limit: Micros) -> Finding {
    let skus = &document.wire.skus;
    let message = format!(
        "the change from {} to {} takes {}; {} are allowed; {}",
        quoted(&skus[change.from].id),
        quoted(&skus[change.to].id),
        duration(change.total),
        duration(limit),
        decided_by(document, change)
    );
    let remedies = changeover.remedies(change);
    let enough: Vec<String> =
        (remedies.iter().filter(|m| m.total <= limit).rev()).take(MOST_REMEDIES).map(|m| remedy(document, m)).collect();
    let what_to_do = match (enough.is_empty(), remedies.first()) {
        (false, _) => format!("Any of these is enough: {}.", enough.join("; ")),
        (true, Some(best)) => format!("No single remedy is enough; {}.", remedy(document, best)),
        (true, None) => {
            "Neither people nor steps shorten it: shorten moves, or running empty and refilling.".to_owned()
        }
    };
    Finding::new(Code::OverLimit, "/changeover/limit_min", message).advise(what_to_do)
}
