//! A coupled plan in operation: what is simulated for one SKU on all circuits.

use super::judge::{net, paces};
use super::{CoupledCell, CoupledPlan};
use crate::chance::Behaviour;
use crate::operation::{behaves, watched};
use crate::plan::Numbers;
use crate::sim::Scenario;

/// All rings of one SKU with what chance does at their stations; as fast as they can, or no faster than the design rate. A
/// hand-off behaves as one station: its first side says how. None when carriers do not fit, or a case takes no whole number.
#[must_use]
pub fn scenario(
    coupled: &CoupledCell,
    plan: &CoupledPlan,
    numbers: &[Numbers],
    sku: usize,
    paced: bool,
) -> Option<Scenario> {
    let mut scenario = without_chance(coupled, plan, numbers, sku, paced)?;
    let rings = scenario.rings();
    let asked = coupled.parts().requirements;
    for (c, (cell, ring)) in coupled.cells().iter().zip(&rings).enumerate() {
        behaves(cell, &numbers[c], sku, &mut scenario.posts[ring.clone()]);
        let net_rate = cell.rides()[sku].phi() * asked.efficiency / asked.headroom;
        if let Some(links) = &mut scenario.links {
            links.rings[c].net_rate = net_rate;
        }
    }
    let pairs = scenario.links.as_ref().map(|links| links.pairs.clone()).unwrap_or_default();
    for (_, second) in pairs {
        scenario.posts[second].behaviour = Behaviour::default();
    }
    Some(scenario)
}

/// As [`scenario`], with nothing left to chance.
#[must_use]
pub fn without_chance(
    coupled: &CoupledCell,
    plan: &CoupledPlan,
    numbers: &[Numbers],
    sku: usize,
    paced: bool,
) -> Option<Scenario> {
    let net = net(coupled, plan, numbers, sku)?;
    let paces = if paced { paces(coupled, numbers, sku)?.into_iter().map(Some).collect() } else { Vec::new() };
    let mut scenario = Scenario::certain_net(&net, &paces)?;
    let rings = scenario.rings();
    for (cell, ring) in coupled.cells().iter().zip(rings) {
        let (most, windows) = watched(cell);
        scenario.most[ring.clone()].copy_from_slice(&most);
        scenario.windows.extend(windows.into_iter().map(|(mut window, most)| {
            window.from += ring.start;
            window.to += ring.start;
            (window, most)
        }));
    }
    Some(scenario)
}
