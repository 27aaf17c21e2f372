//! Whether a plan of a coupled cell holds: each circuit by itself, then rates, times, places, floor and price of all together.

use super::join::numbers_of;
use super::placing::{OVERLAP_M, Placed, centre, place};
use super::search::SAME_PLACE;
use super::{CoupledCell, CoupledPlan, Joint};
use crate::cell::{Cell, Since};
use crate::net::{self, Net};
use crate::plan::{Numbers, Plan};
use crate::rules::{Breach, MOST_STARTS, Rule, alone, beside, breach, longest_allowed, section_name, window_breach};
use crate::sim::{NetWatch, TimedNet, WindowWatch, run_net};
use crate::throughput::{NetLimit, Times, net_rate, net_rate_or_miss};
use crate::units::{CarrierRate, ExactRate, Micros, Money, lcm};

/// Something that does not hold, and on which circuit; none where it is about all of them.
#[derive(Clone, Debug, PartialEq)]
pub struct JointBreach {
    /// Circuit by index.
    pub circuit: Option<usize>,
    /// What.
    pub breach: Breach,
}

fn of_all(rule: Rule, says: String) -> JointBreach {
    JointBreach { circuit: None, breach: breach(rule, says) }
}

/// The rings of one SKU with what links them; none where a case takes no whole number of carriers.
#[must_use]
pub fn net(coupled: &CoupledCell, plan: &CoupledPlan, numbers: &[Numbers], sku: usize) -> Option<Net> {
    let rings = numbers.iter().zip(&plan.plans).map(|(n, p)| n.ring(sku, p.carriers)).collect();
    let cases: Option<Vec<u32>> = (0..plan.plans.len()).map(|c| coupled.carriers_per_case(c, sku)).collect();
    let cases = cases?;
    let joint = |j: &Joint| {
        let batch = numbers[j.first.circuit].options[j.first.station].skus[sku].batch / cases[j.first.circuit];
        net::Joint { first: (j.first.circuit, j.first.station), second: (j.second.circuit, j.second.station), batch }
    };
    Net::new(rings, coupled.parts().joints.iter().map(joint).collect(), cases).ok()
}

/// Cases a second that a SKU asks for; none where it asks for none.
#[must_use]
pub fn design_rate(coupled: &CoupledCell, sku: usize) -> Option<CarrierRate> {
    let parts = coupled.parts();
    let of = &parts.circuits.first()?.parts.skus[sku];
    let r = &parts.requirements;
    of.demanded.then(|| CarrierRate::per_second(of.case_rate.as_per_second() * r.headroom / r.efficiency))
}

/// Exact long-run cases a second of one SKU, and what limits it; none where the events are too many or the plan does not fit.
#[must_use]
pub fn rate(
    coupled: &CoupledCell,
    plan: &CoupledPlan,
    numbers: &[Numbers],
    sku: usize,
) -> Option<(ExactRate, NetLimit)> {
    net_rate(&net(coupled, plan, numbers, sku)?)
}

/// Paces of the first stations of all circuits, each `b / phi`, in whole steps of one length, so that none drifts away from
/// the others: the step is the time of a case over the least common multiple of carriers a case, in whole microseconds.
pub(super) fn paces(coupled: &CoupledCell, numbers: &[Numbers], sku: usize) -> Option<Vec<Micros>> {
    let target = design_rate(coupled, sku).filter(|target| target.as_per_second() > 0.0)?;
    let cases: Option<Vec<u32>> = (0..numbers.len()).map(|c| coupled.carriers_per_case(c, sku)).collect();
    let cases = cases?;
    let steps = cases.iter().fold(1, |all, &q| lcm(all, q));
    let step = Micros::nearest_s(1.0 / target.as_per_second() / f64::from(steps));
    let pace = |(n, &q): (&Numbers, &u32)| i64::from(n.options[0].skus[sku].batch) * i64::from(steps / q) * step.us();
    Some(numbers.iter().zip(&cases).map(pace).map(Micros::from_us).collect())
}

/// The paced run of one SKU on all circuits; none without a demand.
#[must_use]
pub fn paced(
    coupled: &CoupledCell,
    plan: &CoupledPlan,
    numbers: &[Numbers],
    sku: usize,
    most_starts: u64,
) -> Option<TimedNet> {
    let net = net(coupled, plan, numbers, sku)?;
    let paces = paces(coupled, numbers, sku)?;
    let windows = coupled.cells().iter().map(|cell| {
        let watched = cell.parts().windows.iter().map(|w| WindowWatch {
            from: w.from,
            to: w.to,
            taken_in: w.since == Since::TakenIn,
        });
        watched.collect()
    });
    let watch = NetWatch { paces: paces.into_iter().map(Some).collect(), windows: windows.collect(), most_starts };
    Some(run_net(&net, &watch))
}

/// Price of all circuits together.
#[must_use]
pub fn price(numbers: &[Numbers]) -> Money {
    numbers.iter().fold(Money::ZERO, |sum, n| sum + n.price)
}

/// Everything about a plan that does not hold; empty when it is good.
#[must_use]
pub fn verdicts(coupled: &CoupledCell, plan: &CoupledPlan) -> Vec<JointBreach> {
    let cells = coupled.cells();
    if plan.plans.len() != cells.len() || plan.offsets.len() != cells.len() {
        let says = format!("the plan has {} circuits; the cell has {}", plan.plans.len(), cells.len());
        return vec![of_all(Rule::Names, says)];
    }
    let mut found: Vec<JointBreach> = Vec::new();
    for (circuit, (cell, own)) in cells.iter().zip(&plan.plans).enumerate() {
        let of_circuit = |breach| JointBreach { circuit: Some(circuit), breach };
        found.extend(alone(cell, own).into_iter().map(of_circuit));
    }
    let each = |(cell, own): (&Cell, &Plan)| cell.parts().openings.hands(&own.spots()).contains(&true);
    // What one circuit does not keep by itself is said already.
    if !plan.hands(coupled).contains(&true) && cells.iter().zip(&plan.plans).all(each) {
        let says = "neither way of travel along the front leaves infeed and discharge open on the sides that are asked";
        found.push(of_all(Rule::Stands, says.to_owned()));
    }
    let Some(numbers) = numbers_of(coupled, &plan.plans) else { return found };
    found.extend(joints(coupled, plan, &numbers));
    if found.iter().any(|b| b.breach.rule == Rule::Joint) {
        // A net of unlike halves has no rate.
        return found;
    }
    found.extend(rates(coupled, plan, &numbers));
    found.extend(times(coupled, plan, &numbers));
    if let Some(placed) = place(coupled, plan, &numbers) {
        found.extend(floor(coupled, &placed));
    }
    let asked = coupled.parts().requirements.max_price;
    if let Some(most) = asked.filter(|most| price(&numbers).units() > most.units() * (1.0 + 1e-9) + 1e-9) {
        let says = format!("the price is {:.2}; at most {:.2} is allowed", price(&numbers).units(), most.units());
        found.push(of_all(Rule::Price, says));
    }
    found
}

/// As [`verdicts`], but only whether all of them are kept; what fails soonest is looked at first.
pub(super) fn holds(coupled: &CoupledCell, plan: &CoupledPlan) -> bool {
    let Some(numbers) = numbers_of(coupled, &plan.plans) else { return false };
    let fits = |(cell, own): (&crate::cell::Cell, &crate::plan::Plan)| {
        cell.parts().circuit.max_carriers.is_none_or(|most| own.carriers <= most)
            && cell.parts().circuit.fixed.carriers.is_none_or(|fixed| own.carriers == fixed)
    };
    if !coupled.cells().iter().zip(&plan.plans).all(fits) {
        return false;
    }
    missed(coupled, plan, &numbers).is_none() && verdicts(coupled, plan).is_empty()
}

/// An SKU whose rate the plan does not make, and what limits it where that is known; none when it makes all of them.
pub(super) fn missed(
    coupled: &CoupledCell,
    plan: &CoupledPlan,
    numbers: &[Numbers],
) -> Option<(usize, Option<NetLimit>)> {
    let mut order: Vec<usize> = (0..coupled.cells()[0].parts().skus.len()).collect();
    // The fastest SKU fails first as a rule.
    order.sort_by(|&a, &b| {
        let phi = |k: usize| coupled.cells()[0].rides()[k].phi();
        phi(b).total_cmp(&phi(a))
    });
    order.into_iter().find_map(|k| {
        let target = design_rate(coupled, k)?;
        let made =
            net(coupled, plan, numbers, k).and_then(|net| net_rate_or_miss(&net, Some(target), &mut Times::default()));
        match made {
            Some((rate, _)) if rate.makes(target) => None,
            made => Some((k, made.map(|(_, limit)| limit))),
        }
    })
}

/// Both sides of a hand-off work alike, and lie at the same place along the floor.
fn joints(coupled: &CoupledCell, plan: &CoupledPlan, numbers: &[Numbers]) -> Vec<JointBreach> {
    let mut found = Vec::new();
    for joint in &coupled.parts().joints {
        let (one, two) = (joint.first, joint.second);
        let at = |s: super::Stand| {
            let (cell, own) = (&coupled.cells()[s.circuit], &plan.plans[s.circuit]);
            plan.offsets[s.circuit].m() + centre(own, &numbers[s.circuit].options, cell, s.station)
        };
        let of = |s: super::Stand| &plan.plans[s.circuit].stations[s.station];
        let name = &coupled.cells()[one.circuit].parts().stations[one.station].id;
        if (of(one).mode, of(one).heads) != (of(two).mode, of(two).heads) {
            let says = format!(
                "hand-off {name}: {} with {} heads on one circuit, {} with {} on the other",
                of(one).mode.word(),
                of(one).heads,
                of(two).mode.word(),
                of(two).heads
            );
            found.push(of_all(Rule::Joint, says));
        }
        let apart = (at(one) - at(two)).abs();
        if apart > SAME_PLACE.max(1e-6) {
            let says = format!("hand-off {name}: its two zones lie {:.3} mm apart along the floor", apart * 1e3);
            found.push(of_all(Rule::Placing, says));
        }
    }
    found
}

fn rates(coupled: &CoupledCell, plan: &CoupledPlan, numbers: &[Numbers]) -> Vec<JointBreach> {
    let mut found = Vec::new();
    for (k, sku) in coupled.cells()[0].parts().skus.iter().enumerate() {
        let Some(target) = design_rate(coupled, k) else { continue };
        let made = rate(coupled, plan, numbers, k).map(|(rate, _)| rate);
        if made.is_none_or(|rate| !rate.makes(target)) {
            let able =
                made.map_or_else(|| "an unknown number of".to_owned(), |r| format!("{:.4}", r.rate().as_per_minute()));
            let says = format!(
                "SKU {}: all circuits together make {able} cases a minute, below the design rate {:.4}",
                sku.id,
                target.as_per_minute()
            );
            found.push(of_all(Rule::Rate, says));
        }
    }
    found
}

/// Longest times of sections, and windows, in the paced run of all circuits.
fn times(coupled: &CoupledCell, plan: &CoupledPlan, numbers: &[Numbers]) -> Vec<JointBreach> {
    let cells = coupled.cells();
    let mut found = Vec::new();
    let asked = |cell: &crate::cell::Cell| {
        cell.parts().sections.iter().any(|s| s.max_time.is_some()) || !cell.parts().windows.is_empty()
    };
    if !cells.iter().any(asked) {
        return found;
    }
    for (k, sku) in cells[0].parts().skus.iter().enumerate() {
        let Some(timed) = paced(coupled, plan, numbers, k, MOST_STARTS) else { continue };
        for (circuit, (cell, times)) in cells.iter().zip(&timed.rings).enumerate() {
            let parts = cell.parts();
            for (i, (limits, at)) in parts.sections.iter().zip(&times.sections).enumerate() {
                let Some(max) = limits.max_time.filter(|&max| at.longest > longest_allowed(max)) else { continue };
                let says = format!(
                    "SKU {}, section {}: the longest time is {:.6} s; at most {:.6} s are allowed",
                    sku.id,
                    section_name(cell, i),
                    at.longest.seconds(),
                    max.s()
                );
                found.push(JointBreach { circuit: Some(circuit), breach: breach(Rule::Dwell, says) });
            }
            for (window, at) in parts.windows.iter().zip(&times.windows) {
                let of = window_breach(cell, &sku.id, window, at.least, at.longest);
                found.extend(of.map(|breach| JointBreach { circuit: Some(circuit), breach }));
            }
        }
    }
    found
}

/// Station floors do not overlap, stand on no loop, and the whole fits the floor.
fn floor(coupled: &CoupledCell, placed: &Placed) -> Vec<JointBreach> {
    let mut found = Vec::new();
    let name = |s: super::Stand| &coupled.cells()[s.circuit].parts().stations[s.station].id;
    for (i, (one, a)) in placed.floors.iter().enumerate() {
        for (two, b) in &placed.floors[..i] {
            let overlap = a.overlap(b);
            if overlap > OVERLAP_M {
                let says = format!(
                    "stations {} and {}: their floors overlap by {:.1} mm",
                    name(*two),
                    name(*one),
                    overlap * 1e3
                );
                found.push(of_all(Rule::Stands, says));
            }
        }
    }
    if let (Some(feed), Some(corner)) = (coupled.feed(), placed.feed) {
        let clearance = coupled.parts().requirements.clearance;
        let all = beside((&placed.own_footprint, &placed.footprint), feed.size(), corner, &clearance);
        found.extend(all.into_iter().map(|breach| JointBreach { circuit: None, breach }));
    }
    if let Some(floor) = coupled.parts().requirements.floor
        && !coupled.has_room(&placed.footprint)
    {
        let says = format!(
            "footprint {:.3} x {:.3} m does not fit the floor of {:.3} x {:.3} m",
            placed.footprint.length.m(),
            placed.footprint.width.m(),
            floor.0.m(),
            floor.1.m()
        );
        found.push(of_all(Rule::Floor, says));
    }
    found
}
