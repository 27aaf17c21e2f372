//! What a plan cannot do without, from a plan document to the engine's plan.

use super::look::{Findings, Look};
use crate::check::Document;
use crate::codes::Code;
use crate::finding::Finding;
use crate::read::quoted;
use loopwright_solver::cell::Cell;
use loopwright_solver::coupled::{CoupledCell, CoupledPlan};
use loopwright_solver::option::Mode;
use loopwright_solver::plan::{Placed, Plan, Straight};
use loopwright_solver::track::{Side, loop_length};
use loopwright_solver::units::Metres;

/// More is no loop that a document can ask for; keeps counts finite.
const MOST_MODULES: u32 = 1000;
const MOST_CARRIERS: u32 = 10_000;
const MOST_HEADS: u32 = 1000;
const FARTHEST_M: f64 = 1e7;

/// Below this a carrier would take longer than a shift for a metre.
const LEAST_SHARE: f64 = 1e-3;

/// A plan and where it stands in its document.
pub(super) struct Read {
    pub(super) plan: Plan,
    /// Pointer to the circuit.
    pub(super) pointer: String,
}

/// A plan of several circuits, in the order of the cell.
pub(super) struct ReadCoupled {
    pub(super) plan: CoupledPlan,
    /// Pointers to the circuits.
    pub(super) pointers: Vec<String>,
}

impl Read {
    /// None with findings when the plan cannot be judged; none without when there is no plan in the document.
    pub(super) fn of(document: &Document, top: &Look<'_>, findings: &mut Findings) -> Option<Self> {
        if !holds_a_plan(top, findings)? {
            return None;
        }
        let circuit = only_circuit(document, top, findings)?;
        let plan = plan(&document.cell, &circuit, findings);
        plan.filter(|_| findings.is_empty()).map(|plan| Self { plan, pointer: circuit.pointer })
    }
}

impl ReadCoupled {
    /// As [`Read::of`].
    pub(super) fn of(coupled: &CoupledCell, top: &Look<'_>, findings: &mut Findings) -> Option<Self> {
        if !holds_a_plan(top, findings)? {
            return None;
        }
        let circuits = top.list_needed("circuits", findings)?;
        let ids: Vec<&str> = coupled.cells().iter().map(|cell| &*cell.parts().circuit.id).collect();
        let found = in_order(&circuits, "id", &ids, "circuit", "/circuits", findings);
        let mut read = Self { plan: CoupledPlan { plans: Vec::new(), offsets: Vec::new() }, pointers: Vec::new() };
        for (cell, circuit) in coupled.cells().iter().zip(found) {
            let Some(circuit) = circuit else { continue };
            read.plan.plans.extend(plan(cell, &circuit, findings));
            let place = circuit.key("place").unwrap_or_else(|| {
                let pointer = circuit.pointer.clone();
                let finding =
                    Finding::new(Code::MissingKey, pointer, "`place` is missing: where the circuit lies on the floor");
                findings.push(finding);
                circuit.clone()
            });
            if place.pointer != circuit.pointer {
                read.plan
                    .offsets
                    .extend(place.number_needed("offset_m", -FARTHEST_M, FARTHEST_M, findings).map(Metres::from_m));
            }
            read.pointers.push(circuit.pointer);
        }
        findings.is_empty().then_some(read)
    }
}

/// Whether there is a plan in the document; none with findings when it cannot be read.
fn holds_a_plan(top: &Look<'_>, findings: &mut Findings) -> Option<bool> {
    if !top.value.is_object() {
        findings.push(Finding::new(Code::WrongType, "", "the plan is not an object with keys"));
        return None;
    }
    if let Some(format) = top.key("format")
        && format.value.as_f64() != Some(f64::from(super::FORMAT))
    {
        let message = format!("`format` is {}; this version reads format {}", format.value, super::FORMAT);
        findings.push(Finding::new(Code::UnsupportedFormat, "/format", message));
        return None;
    }
    // A document without a status is taken at its word that it holds a plan.
    if top.key("status").is_none() {
        return Some(true);
    }
    top.choice_needed("status", &[("planned", true), ("impossible", false), ("stopped", false)], findings)
}

fn only_circuit<'a>(document: &Document, top: &Look<'a>, findings: &mut Findings) -> Option<Look<'a>> {
    let circuits = top.list_needed("circuits", findings)?;
    let id = &document.cell.parts().circuit.id;
    let [circuit] = &circuits[..] else {
        let message = format!("the plan has {} circuits; the cell has one, {}", circuits.len(), quoted(id));
        findings.push(Finding::new(Code::UnknownId, "/circuits", message).advise("Give one circuit."));
        return None;
    };
    if let Some(given) = circuit.key("id")
        && given.value.as_str() != Some(id)
    {
        let message = format!("the plan's circuit is {}; the cell's is {}", given.value, quoted(id));
        findings.push(Finding::new(Code::UnknownId, given.pointer, message));
        return None;
    }
    Some(circuit.clone())
}

/// Every finding is noted before any of them ends the reading.
fn plan(cell: &Cell, circuit: &Look<'_>, findings: &mut Findings) -> Option<Plan> {
    let parts = cell.parts();
    let forms: Vec<(&str, usize)> = parts.circuit.track.forms.iter().enumerate().map(|(i, f)| (&*f.id, i)).collect();
    let form = circuit.choice_needed("form", &forms, findings);
    let modules = circuit.count_needed("modules_per_straight", MOST_MODULES, findings);
    let carriers = circuit.count_needed("carriers", MOST_CARRIERS, findings);
    let share = match circuit.key("acceleration_share") {
        Some(share) => share.number(LEAST_SHARE, 1.0, findings),
        None => Some(1.0),
    };
    // A section longer than the loop would hold more carriers than can be counted.
    let longest = match (form.and_then(|i| parts.circuit.track.forms.get(i)), modules) {
        (Some(form), Some(modules)) => loop_length(form, parts.circuit.track.module, modules).m(),
        _ => FARTHEST_M,
    };
    let stations = stations(cell, circuit, findings);
    let sections = sections(cell, circuit, longest, findings);
    Some(Plan {
        form: form?,
        modules: modules?,
        acceleration_share: share?,
        carriers: carriers?,
        stations: stations?,
        sections: sections?,
    })
}

fn stations(cell: &Cell, circuit: &Look<'_>, findings: &mut Findings) -> Option<Vec<Placed>> {
    let ids: Vec<&str> = cell.parts().stations.iter().map(|s| &*s.id).collect();
    let list = circuit.list_needed("stations", findings)?;
    let found = in_order(&list, "id", &ids, "station", &format!("{}/stations", circuit.pointer), findings);
    found.into_iter().map(|look| placed(look.as_ref()?, findings)).collect::<Vec<_>>().into_iter().collect()
}

fn placed(station: &Look<'_>, findings: &mut Findings) -> Option<Placed> {
    let modes = [("intermittent", Mode::Intermittent), ("continuous", Mode::Continuous)];
    let straights = [("front", Straight::Front), ("back", Straight::Back), ("top", Straight::Top)];
    let sides = [("front", Side::Front), ("back", Side::Back)];
    let mode = station.choice_needed("mode", &modes, findings);
    let heads = station.count_needed("heads", MOST_HEADS, findings);
    let start = station.number_needed("start_m", -FARTHEST_M, FARTHEST_M, findings);
    let straight = station.choice_needed("straight", &straights, findings);
    let stands = station.choice_needed("stands", &sides, findings);
    Some(Placed { mode: mode?, heads: heads?, start: Metres::from_m(start?), straight: straight?, stands: stands? })
}

fn sections(cell: &Cell, circuit: &Look<'_>, longest: f64, findings: &mut Findings) -> Option<Vec<Metres>> {
    let ids: Vec<&str> = cell.parts().stations.iter().map(|s| &*s.id).collect();
    let list = circuit.list_needed("sections", findings)?;
    let found = in_order(&list, "from", &ids, "station", &format!("{}/sections", circuit.pointer), findings);
    let length = |(i, look): (usize, Option<Look<'_>>), findings: &mut Findings| {
        let look = look?;
        let next = ids[(i + 1) % ids.len()];
        if let Some(to) = look.key("to")
            && to.value.as_str() != Some(next)
        {
            let message = format!("`to` is {}; the station after {} is {}", to.value, quoted(ids[i]), quoted(next));
            findings
                .push(Finding::new(Code::NotNeighbours, to.pointer, message).advise("Name the station that follows."));
        }
        look.number_needed("length_m", 0.0, longest + 1e-6, findings).map(Metres::from_m)
    };
    let lengths: Vec<_> = found.into_iter().enumerate().map(|each| length(each, findings)).collect();
    lengths.into_iter().collect()
}

/// The entries of a list in the order of these ids; notes those that are missing, given twice or not known.
fn in_order<'a>(
    list: &[Look<'a>],
    key: &str,
    ids: &[&str],
    what: &str,
    pointer: &str,
    findings: &mut Findings,
) -> Vec<Option<Look<'a>>> {
    let mut found: Vec<Option<Look<'a>>> = vec![None; ids.len()];
    for look in list {
        let Some(id) = look.text_needed(key, findings) else { continue };
        let at = format!("{}/{key}", look.pointer);
        match ids.iter().position(|known| *known == id) {
            None => {
                let message = format!("{} is no {what} of the cell", quoted(id));
                findings.push(Finding::new(Code::UnknownId, at, message));
            }
            Some(i) if found[i].is_some() => {
                let message = format!("{} is given twice", quoted(id));
                findings.push(Finding::new(Code::DuplicateId, at, message).advise("Keep one of the two."));
            }
            Some(i) => found[i] = Some(look.clone()),
        }
    }
    for (id, _) in ids.iter().zip(&found).filter(|(_, look)| look.is_none()) {
        let message = format!("nothing is given whose `{key}` is the {what} {}", quoted(id));
        findings.push(Finding::new(Code::MissingKey, pointer, message).advise("Add an entry for it."));
    }
    found
}
