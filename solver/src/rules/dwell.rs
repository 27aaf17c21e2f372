//! Longest times in sections, and windows across stations, in the steady state of the paced run (model sections 5 and 7).

use super::{Breach, Rule, breach, section_name};
use crate::cell::{Cell, Since, Window};
use crate::plan::{Numbers, Plan};
use crate::sim::{Timed, Watch, WindowWatch, run};
use crate::units::{Micros, Seconds};

/// A run gives up looking for a recurring state after so many batches of the first station.
pub const MOST_STARTS: u64 = 100_000;

/// The paced run of one SKU.
#[derive(Clone, Debug)]
pub struct Paced(pub Timed);

/// Plays the paced run of one SKU; none without a demand.
#[must_use]
pub fn paced(cell: &Cell, plan: &Plan, numbers: &Numbers, sku: usize, most_starts: u64) -> Option<Paced> {
    let pace = numbers.pace(cell, sku)?;
    let windows = cell.parts().windows.iter().map(|w| WindowWatch {
        from: w.from,
        to: w.to,
        taken_in: w.since == Since::TakenIn,
    });
    let watch = Watch { pace: Some(pace), windows: windows.collect(), most_starts };
    Some(Paced(run(&numbers.ring(sku, plan.carriers), &watch)))
}

/// A limit in whole microseconds, as the run knows times.
#[must_use]
pub fn longest_allowed(limit: Seconds) -> Micros {
    Micros::nearest(limit)
}

/// Whether every section and window limit holds in a paced run.
#[must_use]
pub fn windows_hold(cell: &Cell, paced: &Paced) -> bool {
    let parts = cell.parts();
    let sections = parts.sections.iter().zip(&paced.0.sections);
    sections.into_iter().all(|(s, t)| s.max_time.is_none_or(|max| t.longest <= longest_allowed(max)))
        && parts.windows.iter().zip(&paced.0.windows).all(|(w, t)| {
            w.max.is_none_or(|max| t.longest <= longest_allowed(max))
                && w.min.is_none_or(|min| t.least >= longest_allowed(min))
        })
}

pub(super) fn verdict(cell: &Cell, plan: &Plan, numbers: &Numbers) -> Vec<Breach> {
    let parts = cell.parts();
    let mut found = Vec::new();
    if parts.sections.iter().all(|s| s.max_time.is_none()) && parts.windows.is_empty() {
        return found;
    }
    for (k, sku) in parts.skus.iter().enumerate() {
        let Some(paced) = paced(cell, plan, numbers, k, MOST_STARTS) else { continue };
        for (i, (limits, times)) in parts.sections.iter().zip(&paced.0.sections).enumerate() {
            if let Some(max) = limits.max_time
                && times.longest > longest_allowed(max)
            {
                found.push(breach(
                    Rule::Dwell,
                    format!(
                        "SKU {}, section {}: the longest time is {:.6} s; at most {:.6} s are allowed",
                        sku.id,
                        section_name(cell, i),
                        times.longest.seconds(),
                        max.s()
                    ),
                ));
            }
        }
        for (window, times) in parts.windows.iter().zip(&paced.0.windows) {
            found.extend(window_breach(cell, &sku.id, window, times.least, times.longest));
        }
    }
    found
}

/// What a window's limits say of its least and longest time.
pub(crate) fn window_breach(cell: &Cell, sku: &str, window: &Window, least: Micros, longest: Micros) -> Option<Breach> {
    let stations = &cell.parts().stations;
    let name = format!("SKU {sku}, window {} to {}", stations[window.from].id, stations[window.to].id);
    if let Some(max) = window.max
        && longest > longest_allowed(max)
    {
        return Some(breach(
            Rule::Window,
            format!("{name}: the longest time is {:.6} s; at most {:.6} s are allowed", longest.seconds(), max.s()),
        ));
    }
    if let Some(min) = window.min
        && least < longest_allowed(min)
    {
        return Some(breach(
            Rule::Window,
            format!("{name}: the least time is {:.6} s; at least {:.6} s are asked", least.seconds(), min.s()),
        ));
    }
    None
}
