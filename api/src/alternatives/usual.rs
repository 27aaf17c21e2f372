//! The usual variants: each way of working, each form.

use crate::check::Document;
use crate::wire::alternatives::{Change, Variant};
use crate::wire::cell::{Circuit, Station};
use crate::wire::plan::{Planned, PlannedMode};

fn fix(id: &str, mode: &str) -> Change {
    // Heads that were fixed for one way of working say nothing about the other.
    Change {
        at: format!("stations/{}/fixed", escaped(id)),
        to: Some(serde_json::json!({ "mode": mode })),
        ..Change::default()
    }
}

/// An id as a step of a place.
pub(super) fn escaped(id: &str) -> String {
    id.replace('~', "~0").replace('/', "~1")
}

/// All stations one way, where they can; each station alone the other way than in `plan`; only each form, and without
/// each. What would change nothing is left out, so with one way of working and one form the list is empty.
#[must_use]
pub fn usual(document: &Document, plan: Option<&Planned>) -> Vec<Variant> {
    let wire = &document.wire;
    let on_loop = |s: &&Station| wire.circuits.iter().any(|circuit| circuit.order.contains(&s.id));
    let both: Vec<&Station> =
        wire.stations.iter().filter(on_loop).filter(|s| s.intermittent.is_some() && s.continuous.is_some()).collect();
    let mut all = Vec::new();
    if !both.is_empty() {
        for (name, mode) in [("all intermittent", "intermittent"), ("all continuous", "continuous")] {
            let changes = both.iter().map(|s| fix(&s.id, mode)).collect();
            all.push(Variant { name: name.to_owned(), changes });
        }
    }
    for station in &both {
        let mut placed = plan.iter().flat_map(|p| &p.circuits).flat_map(|c| &c.stations);
        let Some(placed) = placed.find(|s| s.id == station.id) else { continue };
        let other = match placed.mode {
            PlannedMode::Intermittent => "continuous",
            PlannedMode::Continuous => "intermittent",
        };
        all.push(Variant { name: format!("{} {other}", station.id), changes: vec![fix(&station.id, other)] });
    }
    for circuit in &wire.circuits {
        forms(circuit, wire.circuits.len() > 1, &mut all);
    }
    if let Some(asked) = wire.changeover.as_ref().filter(|c| c.limit_min.is_some()) {
        let change = Change { at: "changeover/keep_limit".to_owned(), ..Change::default() };
        let (name, change) = if asked.keep_limit {
            ("changes may take longer", Change { leave_out: true, ..change })
        } else {
            ("every change within the limit", Change { to: Some(true.into()), ..change })
        };
        all.push(Variant { name: name.to_owned(), changes: vec![change] });
    }
    all
}

/// Each form of a loop alone, and the rest without it; `named` where there are several loops.
fn forms(circuit: &Circuit, named: bool, all: &mut Vec<Variant>) {
    let forms = &circuit.track.forms;
    let at = |key: &str| format!("circuits/{}/{key}", escaped(&circuit.id));
    let called = if named { format!("{}: ", circuit.id) } else { String::new() };
    if forms.len() > 1 {
        for form in forms {
            let to = Some(form.id.clone().into());
            let changes = vec![Change { at: at("fixed/form"), to, ..Change::default() }];
            all.push(Variant { name: format!("{called}only form {}", form.id), changes });
        }
    }
    // With two forms, the one without is the other alone.
    if forms.len() > 2 {
        for form in forms {
            let place = at(&format!("track/forms/{}", escaped(&form.id)));
            let changes = vec![Change { at: place, leave_out: true, ..Change::default() }];
            all.push(Variant { name: format!("{called}without form {}", form.id), changes });
        }
    }
}
