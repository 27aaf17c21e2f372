//! What adjustments and steps say of SKUs and of one another, and the engine's record of them.

use std::collections::HashMap;

use super::sink::Sink;
use super::{convert, most};
use crate::codes::Code;
use crate::finding::Finding;
use crate::read::quoted;
use crate::wire::adjust as wire;
use crate::wire::cell::{CellDocument, Load, Mode, Sku};
use loopwright_solver::adjust::{Adjustment, At, Changes, CountsFrom, Setting, Step, Way, availability};
use loopwright_solver::option;
use loopwright_solver::units::{Metres, Seconds};

/// An adjustment with its place.
struct Placed<'d> {
    at: At,
    owner: &'d str,
    pointer: String,
    wire: &'d wire::Adjustment,
}

/// Those of the stations in travel order, then those of the circuit.
fn placed(document: &CellDocument) -> Vec<Placed<'_>> {
    let mut all = Vec::new();
    for (i, index) in convert::travel(document, 0).into_iter().enumerate() {
        let station = &document.stations[index];
        for (a, wire) in station.adjustments.iter().enumerate() {
            let pointer = format!("/stations/{index}/adjustments/{a}");
            all.push(Placed { at: At::Station(i), owner: &station.id, pointer, wire });
        }
    }
    if let Some(circuit) = document.circuits.first() {
        for (a, wire) in circuit.adjustments.iter().enumerate() {
            let pointer = format!("/circuits/0/adjustments/{a}");
            all.push(Placed { at: At::Carriers, owner: &circuit.id, pointer, wire });
        }
    }
    all
}

/// Numbers of all steps by their full names.
fn numbers(all: &[Placed<'_>]) -> HashMap<String, usize> {
    let mut numbers = HashMap::new();
    let steps = all.iter().flat_map(|p| p.wire.by_hand.iter().map(move |s| full(p, &s.id)));
    for (number, name) in steps.enumerate() {
        numbers.entry(name).or_insert(number);
    }
    numbers
}

fn full(placed: &Placed<'_>, step: &str) -> String {
    format!("{}/{}/{step}", placed.owner, placed.wire.id)
}

fn find(numbers: &HashMap<String, usize>, placed: &Placed<'_>, name: &str) -> Option<usize> {
    numbers.get(&full(placed, name)).or_else(|| numbers.get(name)).copied()
}

/// What an adjustment follows.
enum Followed<'d> {
    Length(fn(&Load) -> Option<f64>),
    Measure(&'d str),
    Group(&'d str),
    Count(fn(&Sku) -> u32),
    Id,
}

fn followed<'d>(document: &CellDocument, name: &'d str) -> Option<Followed<'d>> {
    Some(match name {
        "extent_mm" => Followed::Length(|load| Some(load.extent_mm)),
        "base_mm" => Followed::Length(|load| load.base_mm),
        "base_across_mm" => Followed::Length(|load| load.base_across_mm),
        "cg_height_mm" => Followed::Length(|load| load.cg_height_mm),
        "products_per_stack" => Followed::Count(|sku| sku.products_per_stack),
        "stacks_per_case" => Followed::Count(|sku| sku.stacks_per_case),
        "id" => Followed::Id,
        _ if document.skus.iter().any(|sku| sku.measures_mm.contains_key(name)) => Followed::Measure(name),
        _ if document.skus.iter().any(|sku| sku.groups.contains_key(name)) => Followed::Group(name),
        _ => return None,
    })
}

/// What a SKU asks for, in millimetres where it is a length; none where it says nothing.
fn length(followed: &Followed<'_>, sku: &Sku, circuit: &str) -> Option<f64> {
    match followed {
        Followed::Length(of) => sku.loads.get(circuit).map_or(Some(0.0), of),
        Followed::Measure(name) => sku.measures_mm.get(*name).copied(),
        _ => None,
    }
}

/// Reports everything that does not fit together.
pub(super) fn check(document: &CellDocument, sink: &Sink<'_>) {
    let all = placed(document);
    let operators = document.changeover.as_ref().map_or(1, |c| c.operators);
    let steps: usize = all.iter().map(|p| p.wire.by_hand.len()).sum();
    if steps > most::STEPS {
        let message = format!("the cell has {steps} steps by hand; at most {} are allowed", most::STEPS);
        sink.report(Finding::new(Code::TooMany, "", message).advise("Describe what is done together as one step."));
        return;
    }
    let numbers = numbers(&all);
    twice(&all, sink);
    for placed in &all {
        follows(document, placed, sink);
        let room = match placed.at {
            At::Station(i) => convert::travel(document, 0).get(i).and_then(|&s| document.stations[s].room_for_people),
            At::Carriers => None,
        };
        for (index, step) in placed.wire.by_hand.iter().enumerate() {
            let pointer = format!("{}/by_hand/{index}", placed.pointer);
            let people = operators.min(room.unwrap_or(u32::MAX));
            if step.people > people {
                let message = format!("the step {} needs {} people; there are {people}", quoted(&step.id), step.people);
                let advice = "Raise `operators` or `room_for_people`, or let fewer do it.";
                // `people` has a default of 1, which always fits, so that it is there.
                sink.report(Finding::new(Code::OutOfRange, format!("{pointer}/people"), message).advise(advice));
            }
            for (place, name) in step.after.iter().enumerate() {
                if !name.is_empty() && find(&numbers, placed, name).is_none() {
                    let message = format!("no step has the id {}", quoted(name));
                    let finding = Finding::new(Code::UnknownId, format!("{pointer}/after/{place}"), message);
                    sink.report(
                        finding.advise("Name a step of this adjustment, or another as STATION/ADJUSTMENT/STEP."),
                    );
                }
            }
        }
    }
    order(&all, &numbers, sink);
    lots(document, sink);
}

fn twice(all: &[Placed<'_>], sink: &Sink<'_>) {
    let mut seen = HashMap::new();
    for placed in all.iter().filter(|p| !p.wire.id.is_empty()) {
        if let Some(first) = seen.insert((placed.at == At::Carriers, placed.owner, &placed.wire.id), &placed.pointer) {
            let message =
                format!("the adjustment id {} is used twice; {first} has it already", quoted(&placed.wire.id));
            sink.report(Finding::new(Code::DuplicateId, format!("{}/id", placed.pointer), message));
        }
        let mut steps = HashMap::new();
        for (index, step) in placed.wire.by_hand.iter().enumerate().filter(|(_, s)| !s.id.is_empty()) {
            if let Some(first) = steps.insert(&step.id, index) {
                let message = format!("the step id {} is used twice; entry {first} has it already", quoted(&step.id));
                let pointer = format!("{}/by_hand/{index}/id", placed.pointer);
                sink.report(Finding::new(Code::DuplicateId, pointer, message));
            }
        }
    }
}

fn follows(document: &CellDocument, placed: &Placed<'_>, sink: &Sink<'_>) {
    let name = &placed.wire.follows;
    if name.is_empty() {
        return;
    }
    let Some(followed) = followed(document, name) else {
        let message = format!("{} is no measure and no group of any SKU", quoted(name));
        let finding = Finding::new(Code::UnknownId, format!("{}/follows", placed.pointer), message);
        sink.report(finding.advise("Name a key of `measures_mm` or `groups` of the SKUs, or one of their loads."));
        return;
    };
    let circuit = document.circuits.first().map_or("", |c| c.id.as_str());
    if matches!(followed, Followed::Length(_) | Followed::Measure(_)) {
        for (index, sku) in document.skus.iter().enumerate() {
            if length(&followed, sku, circuit).is_none() {
                let message =
                    format!("the adjustment {} follows {}, which is not given", quoted(&placed.wire.id), quoted(name));
                sink.report(Finding::new(Code::MissingKey, format!("/skus/{index}"), message));
            }
        }
    } else if placed.wire.automatic.as_ref().is_some_and(|a| a.speed_mm_s.is_some()) {
        let message = format!("the speed has no travel: {} is no measure", quoted(name));
        sink.report(Finding::new(Code::KeysClash, format!("{}/automatic/speed_mm_s", placed.pointer), message));
    }
}

/// Steps must not wait in a circle, and what is done outside the stop must not lie between steps inside.
fn order(all: &[Placed<'_>], numbers: &HashMap<String, usize>, sink: &Sink<'_>) {
    let mut steps = Vec::new();
    for placed in all {
        for (index, step) in placed.wire.by_hand.iter().enumerate() {
            let after: Vec<usize> = step.after.iter().filter_map(|name| find(numbers, placed, name)).collect();
            steps.push((format!("{}/by_hand/{index}", placed.pointer), step, after));
        }
    }
    let n = steps.len();
    let mut before = vec![false; n * n];
    for (j, (_, _, after)) in steps.iter().enumerate() {
        after.iter().for_each(|&i| before[i * n + j] = true);
    }
    for through in 0..n {
        for i in 0..n {
            if before[i * n + through] {
                (0..n).for_each(|j| before[i * n + j] |= before[through * n + j]);
            }
        }
    }
    if let Some(j) = (0..n).find(|j| before[j * n + j]) {
        let message = format!("the step {} waits for itself", quoted(&steps[j].1.id));
        sink.report(Finding::new(Code::Circular, format!("{}/after", steps[j].0), message));
        return;
    }
    let inside = |i: usize| steps[i].1.stop == wire::Stop::Inside;
    for j in (0..n).filter(|&j| !inside(j)) {
        let between = (0..n).any(|i| inside(i) && before[i * n + j]) && (0..n).any(|k| inside(k) && before[j * n + k]);
        if between {
            let message = format!("the step {} lies between steps inside the stop", quoted(&steps[j].1.id));
            let finding = Finding::new(Code::KeysClash, format!("{}/stop", steps[j].0), message);
            sink.report(finding.advise("Do it inside the stop, or leave out one of the steps in `after`."));
        }
    }
}

/// What changes inside the planned time leave must be something.
fn lots(document: &CellDocument, sink: &Sink<'_>) {
    if let Some(asked) = &document.changeover
        && budget(document).is_some_and(|share| share < 1e-3)
        && let Some(week) = &asked.week
    {
        let message = format!(
            "{} changes of {} minutes leave nothing of {} planned minutes",
            changes_a_week(document),
            asked.limit_min.unwrap_or_default(),
            week.planned_min - week.breaks_min,
        );
        sink.report(Finding::new(Code::OutOfRange, "/changeover/week/planned_min", message));
    }
}

/// Changes in a week: one for every lot, and none before the first where the week does not repeat.
fn changes_a_week(document: &CellDocument) -> u32 {
    let lots: u32 = document.skus.iter().map(|s| s.week.as_ref().map_or(1, |w| w.lots)).sum();
    let open = document.changeover.as_ref().and_then(|c| c.week.as_ref()).map(|w| w.order);
    match open {
        Some(wire::OrderShape::Open) => lots.saturating_sub(1),
        _ if lots < 2 => 0,
        _ => lots,
    }
}

/// Share of the planned time that is left when every change takes as long as it may; 1 where changes lie outside.
pub(crate) fn allowed_availability(document: &CellDocument) -> f64 {
    budget(document).unwrap_or(1.0)
}

/// The same, none where changes lie outside.
fn budget(document: &CellDocument) -> Option<f64> {
    let (planned, changes) = inside(document)?;
    let limit = document.changeover.as_ref()?.limit_min?;
    Some(availability(planned, changes, Seconds::from_s(60.0 * limit)))
}

/// Planned time, breaks taken off, and the changes that lie inside it; none where they lie outside.
fn inside(document: &CellDocument) -> Option<(Seconds, u32)> {
    let week = document.changeover.as_ref()?.week.as_ref().filter(|w| w.changes == wire::ChangesLie::Inside)?;
    Some((Seconds::from_s(60.0 * (week.planned_min - week.breaks_min)), changes_a_week(document)))
}

/// The engine's record of a document without faults.
pub(super) fn changes(document: &CellDocument) -> Changes {
    let all = placed(document);
    let numbers = numbers(&all);
    let circuit = document.circuits.first().map_or("", |c| c.id.as_str());
    let asked = document.changeover.as_ref();
    Changes {
        adjustments: all.iter().map(|p| adjustment(p, document, circuit, &numbers)).collect(),
        operators: asked.map_or(1, |c| c.operators),
        room: convert::travel(document, 0).into_iter().map(|i| document.stations[i].room_for_people).collect(),
        limit: asked.and_then(|c| c.limit_min).map(|m| Seconds::from_s(60.0 * m)),
        keep_limit: asked.is_some_and(|c| c.keep_limit),
        inside: inside(document),
        counts_from: match asked.map(|c| c.counts_from) {
            Some(wire::CountsFrom::LastIntake) => CountsFrom::LastIntake,
            _ => CountsFrom::LastCase,
        },
        moves_wait: asked.is_some_and(|c| c.moves_wait),
    }
}

fn adjustment(
    placed: &Placed<'_>,
    document: &CellDocument,
    circuit: &str,
    numbers: &HashMap<String, usize>,
) -> Adjustment {
    let from = placed.wire;
    let settings = match followed(document, &from.follows) {
        Some(followed @ (Followed::Length(_) | Followed::Measure(_))) => {
            let of = |sku| Setting::Measure(Metres::from_mm(length(&followed, sku, circuit).unwrap_or_default()));
            document.skus.iter().map(of).collect()
        }
        Some(Followed::Group(name)) => {
            // A SKU that names none is in a group with the others that name none.
            let mut groups = vec![None];
            let mut of = |sku: &Sku| {
                let group = sku.groups.get(name).cloned();
                let at = groups.iter().position(|g| *g == group).unwrap_or_else(|| {
                    groups.push(group);
                    groups.len() - 1
                });
                Setting::Group(at)
            };
            document.skus.iter().map(&mut of).collect()
        }
        Some(Followed::Count(of)) => document.skus.iter().map(|sku| Setting::Group(of(sku) as usize)).collect(),
        Some(Followed::Id) | None => (0..document.skus.len()).map(Setting::Group).collect(),
    };
    let minutes = |m: f64| Seconds::from_s(60.0 * m);
    let step = |step: &wire::Step| Step {
        id: step.id.clone(),
        time: minutes(step.minutes),
        each: minutes(step.minutes_each),
        people: step.people,
        outside: step.stop == wire::Stop::Outside,
        after: step.after.iter().filter_map(|name| find(numbers, placed, name)).collect(),
    };
    Adjustment {
        id: from.id.clone(),
        at: placed.at,
        follows: from.follows.clone(),
        mode: from.mode.map(|mode| match mode {
            Mode::Intermittent => option::Mode::Intermittent,
            Mode::Continuous => option::Mode::Continuous,
        }),
        settings,
        tolerance: Metres::from_mm(from.tolerance_mm),
        way: match &from.automatic {
            Some(automatic) => Way::Automatic {
                base: Seconds::from_s(automatic.base_s),
                seconds_per_m: automatic.speed_mm_s.map_or(0.0, |speed| 1e3 / speed),
            },
            None => Way::ByHand(from.by_hand.iter().map(step).collect()),
        },
    }
}
