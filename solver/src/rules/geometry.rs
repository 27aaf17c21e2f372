//! Zones stand whole on straights in travel order; zones and sections add up to the loop (model section 6).

use super::{Breach, Rule, breach, section_name};
use crate::cell::Cell;
use crate::plan::{Numbers, Plan, Straight};
use crate::section::Ends;
use crate::track::Plane;

/// Lengths in a plan are good to this many metres.
const TOLERANCE_M: f64 = 1e-6;

pub(super) fn verdict(cell: &Cell, plan: &Plan, numbers: &Numbers) -> Vec<Breach> {
    let Some(form) = plan.form(cell) else { return Vec::new() };
    let parts = cell.parts();
    let straight = plan.straight(cell).m();
    let end = form.end_length().m();
    let whole = numbers.loop_length.m();
    let mut found = Vec::new();
    let mut says = |text: String| found.push(breach(Rule::Geometry, text));
    let n = cell.len();
    let mut sum = 0.0;
    for i in 0..n {
        let (station, placed, zone) = (&parts.stations[i], &plan.stations[i], numbers.options[i].zone.m());
        let from = match (placed.straight, form.plane) {
            (Straight::Front, Plane::Flat) | (Straight::Top, Plane::Upright) => 0.0,
            (Straight::Back, Plane::Flat) => straight + end,
            _ => {
                says(format!("station {}: this form has no such straight", station.id));
                continue;
            }
        };
        let start = placed.start.m();
        if start < from - TOLERANCE_M || start + zone > from + straight + TOLERANCE_M {
            says(format!(
                "station {}: its zone from {start:.6} to {:.6} m does not stand whole on its straight from {from:.6} to {:.6} m",
                station.id,
                start + zone,
                from + straight
            ));
        }
        let length = plan.sections[i].m();
        sum += zone + length;
        let next = plan.stations[(i + 1) % n].start.m();
        let reached = start + zone + length;
        // Travel order is closed: only whole turns may lie between.
        let off = (reached - next).rem_euclid(whole);
        if off.min(whole - off) > TOLERANCE_M {
            says(format!(
                "section {}: {length:.6} m from the zone's end at {:.6} m does not reach the next zone at {next:.6} m",
                section_name(cell, i),
                start + zone
            ));
        }
        let least = numbers.ends[i].least_length(form, plan.straight(cell)).m();
        let least = if numbers.ends[i] == Ends::None { 0.0 } else { least };
        if length < least - TOLERANCE_M {
            says(format!(
                "section {}: {length:.6} m is shorter than the ends that it holds, {least:.6} m",
                section_name(cell, i)
            ));
        }
    }
    if (sum - whole).abs() > TOLERANCE_M {
        says(format!("zones and sections add up to {sum:.6} m; the loop is {whole:.6} m long"));
    }
    if !(plan.acceleration_share > 0.0 && plan.acceleration_share <= 1.0) {
        says(format!("acceleration_share {} is not in (0, 1]", plan.acceleration_share));
    }
    found
}
