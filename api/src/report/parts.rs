//! The bill of parts with prices, from the plan's counts and the cell's prices.

use crate::draw::Drawable;
use crate::wire::cell::CellDocument;
use crate::wire::plan::{PlannedCircuit, PlannedMode, PlannedStation};

/// One kind of part.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// What it is.
    pub name: String,
    /// How many.
    pub count: u32,
    /// Price of one.
    pub each: f64,
    /// Where the price stands in the cell document.
    pub pointer: String,
    /// Number of the circuit to which it is counted.
    pub circuit: usize,
}

impl Part {
    /// Price of all of them.
    #[must_use]
    pub fn together(&self) -> f64 {
        f64::from(self.count) * self.each
    }
}

/// Track, carriers, stations and heads of all circuits. A hand-off is counted once, with the circuit that comes first.
#[must_use]
pub fn parts(plan: &Drawable<'_>) -> Vec<Part> {
    let mut all = Vec::new();
    let mut counted = Vec::new();
    for (at, circuit) in plan.planned.circuits.iter().enumerate() {
        of_circuit(plan.cell, (at, circuit), &mut counted, &mut all);
    }
    all
}

fn of_circuit<'a>(
    cell: &CellDocument,
    (at, planned): (usize, &'a PlannedCircuit),
    counted: &mut Vec<&'a str>,
    all: &mut Vec<Part>,
) {
    let Some((i, circuit)) = cell.circuits.iter().enumerate().find(|(_, c)| c.id == planned.id) else { return };
    let mut add = |name: String, count: u32, each: f64, pointer: String| {
        all.push(Part { name, count, each, pointer, circuit: at });
    };
    let track = |key: &str| format!("/circuits/{i}/track/{key}");
    let straight = planned.modules_per_straight.saturating_mul(2);
    add(format!("{}: straight module", planned.id), straight, circuit.track.module_price, track("module_price"));
    add(format!("{}: end {}", planned.id, planned.form), 2, circuit.track.curve_price, track("curve_price"));
    let pointer = format!("/circuits/{i}/carrier/price");
    add(format!("{}: carrier", planned.id), planned.carriers, circuit.carrier.price, pointer);
    for station in &planned.stations {
        if counted.contains(&station.id.as_str()) {
            continue;
        }
        counted.push(&station.id);
        let Some((base, head, pointer)) = prices(cell, station) else { continue };
        add(format!("station {}", station.id), 1, base, format!("{pointer}/price"));
        add(format!("head of {}", station.id), station.heads, head, format!("{pointer}/price_per_head"));
    }
}

/// Price of a station in its way of working, of one head, and where both stand.
fn prices(cell: &CellDocument, planned: &PlannedStation) -> Option<(f64, f64, String)> {
    let (i, station) = cell.stations.iter().enumerate().find(|(_, s)| s.id == planned.id)?;
    match planned.mode {
        PlannedMode::Intermittent => {
            let mode = station.intermittent.as_ref()?;
            Some((mode.price, mode.price_per_head, format!("/stations/{i}/intermittent")))
        }
        PlannedMode::Continuous => {
            let mode = station.continuous.as_ref()?;
            Some((mode.price, mode.price_per_head, format!("/stations/{i}/continuous")))
        }
    }
}
