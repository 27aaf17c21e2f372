//! What would help, by planning anew.

use std::sync::atomic::AtomicBool;
use std::time::Duration;

use super::Doing;
use super::edit::changed;
use super::levers::levers;
use super::short::{Told, told};
use crate::check::Document;
use crate::finding::Finding;
use crate::read::short;
use crate::show::{Reasons, asked_of, told as requirement_told};
use crate::wire::alternatives::{
    Ended, ExplainDocument, Explained, FORMAT, Helped, Lever, RatesOnFloor, Relaxed, ReliefKind,
};
use crate::wire::plan::{ConflictRequirement, Planned};
use loopwright_solver::cell::Cell;
use loopwright_solver::coupled::Asked;
use loopwright_solver::explain::{Requirement, conflict};
use loopwright_solver::relief::{LargestRate, Relief, largest_rate, relief, several};
use loopwright_solver::study::Clock;
use loopwright_solver::units::Metres;

/// Part of the time for the plan itself.
const FIRST: u32 = 4;

/// Explains a document: with a plan, what each limit costs, each relaxed by `step` of itself; without one, which
/// requirements cannot hold together and the least change of each. `accuracy` is a share of what is asked.
///
/// # Errors
/// A finding when the planner contradicts itself.
pub fn explain(document: &Document, step: f64, accuracy: f64, doing: &Doing<'_>) -> Result<ExplainDocument, Finding> {
    let first = told(Ok(document), Reasons::None, doing.left() / FIRST, doing)?;
    let (explained, complete) = match (&first.planned, first.short.status) {
        (Some(planned), _) => helped(document, &first, planned, (step, accuracy), doing)?,
        (None, Ended::Impossible) => relaxed(document, accuracy, doing),
        _ => (Explained::Unknown {}, false),
    };
    Ok(ExplainDocument { format: FORMAT, name: document.wire.name.clone(), plan: first.short, complete, explained })
}

fn helped(
    document: &Document,
    first: &Told,
    planned: &Planned,
    (step, accuracy): (f64, f64),
    doing: &Doing<'_>,
) -> Result<(Explained, bool), Finding> {
    let floor = (planned.footprint.length_m, planned.footprint.width_m);
    let base = rates(document, floor, (1.0, accuracy), doing.left() / FIRST, doing.cancel);
    let limits = levers(document, step);
    let results = doing.each(&limits, |limit, share| {
        let changed = changed(document, &limit.changes);
        let told = told(changed.as_ref().map_err(Vec::as_slice), Reasons::None, share / 2, doing)?;
        // What is easier can do at least the rates that were possible before.
        let rates = match (&changed, &told.planned) {
            (Ok(document), Some(_)) if !doing.over() => {
                Some(rates(document, floor, (base.does, accuracy), share / 2, doing.cancel))
            }
            _ => None,
        };
        Ok::<_, Finding>((told.short, rates))
    });
    let mut complete = base.too_much.is_some();
    let mut all = Vec::new();
    for (limit, result) in limits.into_iter().zip(results) {
        let (plan, rates) = result?;
        // A change that no longer makes a document is none that helps.
        if plan.status == Ended::Refused {
            continue;
        }
        complete &= plan.proven && rates.is_some_and(|r| r.too_much.is_some());
        let saved = |a: Option<f64>, b: Option<f64>| Some(a? - b?);
        let area = |short: &crate::wire::alternatives::Short| short.footprint.map(|f| f.area_m2);
        all.push(Lever {
            says: limit.says,
            changes: limit.changes,
            floor_saved_m2: saved(area(&first.short), area(&plan)),
            carriers_saved: first.short.carriers.zip(plan.carriers).map(|(a, b)| i64::from(a) - i64::from(b)),
            price_saved: saved(first.short.price, plan.price),
            rates,
            plan,
        });
    }
    all.sort_by(|a, b| worth(b).partial_cmp(&worth(a)).unwrap_or(std::cmp::Ordering::Equal));
    Ok((Explained::Helped(Helped { step, rates: base, levers: all }), complete))
}

/// Floor saved to the hundredth of a square metre, then carriers, then rate, then price.
fn worth(lever: &Lever) -> (f64, i64, f64, f64) {
    let floor = (lever.floor_saved_m2.unwrap_or(f64::NEG_INFINITY) * 100.0).round();
    let rate = lever.rates.map_or(0.0, |r| r.does);
    (floor, lever.carriers_saved.unwrap_or(i64::MIN), rate, lever.price_saved.unwrap_or(f64::NEG_INFINITY))
}

/// The largest rates on a rectangle of floor.
fn rates(
    document: &Document,
    (length, width): (f64, f64),
    (from, accuracy): (f64, f64),
    limit: Duration,
    cancel: &AtomicBool,
) -> RatesOnFloor {
    // A hair more, so that the plan itself fits whatever was rounded.
    let hair = 1.0 + 1e-9;
    let floor = (Metres::from_m(length * hair), Metres::from_m(width * hair));
    let clock = Clock::new(limit, cancel);
    let LargestRate { does, too_much } = if let Some(coupled) = &document.coupled {
        several::largest_rate(&coupled.cell, floor, from, accuracy, &clock)
    } else {
        let mut parts = document.cell.parts().clone();
        parts.requirements.floor = Some(floor);
        match Cell::new(parts) {
            Ok(cell) => largest_rate(&cell, from, accuracy, &clock),
            Err(_) => LargestRate { does: from, too_much: None },
        }
    };
    RatesOnFloor { does, too_much }
}

fn relaxed(document: &Document, accuracy: f64, doing: &Doing<'_>) -> (Explained, bool) {
    let clock = Clock::new(doing.left() / 2, doing.cancel);
    // Each requirement in words, whether it counts something, and how far it must be relaxed.
    let (minimal, rows): (bool, Vec<(ConflictRequirement, bool, Relief)>) = if let Some(coupled) = &document.coupled {
        let found = loopwright_solver::coupled::conflict(&coupled.cell, &clock);
        let reliefs = doing.each(&found.requirements, |&asked, share| {
            several::relief(&coupled.cell, asked, accuracy, &Clock::new(share, doing.cancel))
        });
        let row = |(&asked, relief): (&Asked, Relief)| {
            let (Asked::Whole(requirement) | Asked::Of(_, requirement)) = asked;
            Some((asked_of(document, coupled, asked)?, counts(requirement), relief))
        };
        (found.minimal, found.requirements.iter().zip(reliefs).filter_map(row).collect())
    } else {
        let found = conflict(&document.cell, &clock);
        let reliefs = doing.each(&found.requirements, |&requirement, share| {
            relief(&document.cell, requirement, accuracy, &Clock::new(share, doing.cancel))
        });
        let row = |(&requirement, relief): (&Requirement, Relief)| {
            (requirement_told(document, requirement), counts(requirement), relief)
        };
        (found.minimal, found.requirements.iter().zip(reliefs).map(row).collect())
    };
    let exact = |(_, counts, relief): &(ConflictRequirement, bool, Relief)| match relief {
        Relief::Times { does, too_little } => *counts || (does - too_little).abs() <= accuracy * (1.0 + 1e-6),
        other => *other != Relief::Unknown,
    };
    let complete = minimal && rows.iter().all(exact);
    let rows = rows.into_iter().map(|(asked, counts, relief)| row(asked, counts, relief));
    (Explained::Conflict { relaxed: rows.collect(), minimal }, complete)
}

fn row(asked: ConflictRequirement, counts: bool, relief: Relief) -> Relaxed {
    let (kind, does, too_little) = match relief {
        Relief::NotAlone => (ReliefKind::NotAlone, None, None),
        Relief::GivenUp => (ReliefKind::GivenUp, None, None),
        Relief::Unknown => (ReliefKind::Unknown, None, None),
        Relief::Times { does, too_little } => (ReliefKind::Changed, Some(does), Some(too_little)),
    };
    let would_do = match relief {
        Relief::NotAlone => "changing this alone does not do: another conflict remains".to_owned(),
        Relief::GivenUp => "giving it up would do; no size of it does".to_owned(),
        Relief::Unknown => "not decided; more time may help".to_owned(),
        Relief::Times { does, too_little } => changed_words(&asked.value, counts, does, too_little),
    };
    Relaxed { pointer: asked.pointer, value: asked.value, says: asked.says, relief: kind, does, too_little, would_do }
}

fn counts(requirement: Requirement) -> bool {
    matches!(requirement, Requirement::MaxCarriers | Requirement::MaxModules)
}

/// The value that would do, rounded to the easier side.
fn changed_words(asked: &serde_json::Value, counts: bool, does: f64, too_little: f64) -> String {
    let easier_is_more = does > 1.0;
    let rounded = |value: f64| {
        let digits = 10f64.powf(3.0 - value.abs().max(1e-9).log10().ceil());
        let scaled = value * digits;
        // To three figures; away from what is too little.
        (if easier_is_more { (scaled - 1e-9).ceil() } else { (scaled + 1e-9).floor() }) / digits
    };
    let percent = format!("{:+.1} %", (does - 1.0) * 100.0);
    let not = format!("{:+.1} % is proven not to", (too_little - 1.0) * 100.0);
    match asked {
        serde_json::Value::Number(n) if counts => {
            format!("{} would do ({percent})", (n.as_f64().unwrap_or_default() * does).round())
        }
        serde_json::Value::Number(n) => {
            format!("{} would do ({percent}); {not}", short(rounded(n.as_f64().unwrap_or_default() * does)))
        }
        serde_json::Value::Object(sides) => {
            let each: Vec<String> =
                sides.values().filter_map(serde_json::Value::as_f64).map(|side| short(rounded(side * does))).collect();
            format!("{} mm would do ({percent}); {not}", each.join(" x "))
        }
        _ => format!("{percent} would do; {not}"),
    }
}
