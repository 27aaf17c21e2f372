//! What the paced run says without chance: the stop test and the electrical power.

use super::told::Told;
use crate::show::trace_of;
use crate::wire::simulation::{SimulatedModule, SimulatedPower, SimulatedStop};
use crate::wire::trace::{TraceDocument, TraceState};
use loopwright_solver::power::{Drive, Way};
use loopwright_solver::sim::{Scenario, stop_test};
use loopwright_solver::units::Micros;

/// How often power is looked at, in seconds.
const STEP_S: f64 = 0.005;
/// Most looks: a slow loop is looked at less often.
const MOST_STEPS: f64 = 40_000.0;

/// Every section that must absorb a stop.
pub(super) fn stop_tests(told: &Told<'_>) -> Vec<SimulatedStop> {
    let parts = told.document.cell.parts();
    let Some(mut scenario) = Scenario::certain(&told.numbers.ring(told.sku, told.plan.carriers)) else {
        return Vec::new();
    };
    scenario.pace = told.numbers.pace(&told.document.cell, told.sku);
    let wanted = parts.sections.iter().enumerate().filter(|(_, section)| section.ride_through.s() > 0.0);
    let tested = wanted.filter_map(|(i, section)| {
        let found = stop_test(&scenario, i, Micros::nearest(section.ride_through))?;
        Some(SimulatedStop {
            from: parts.stations[i].id.clone(),
            to: parts.stations[(i + 1) % parts.stations.len()].id.clone(),
            ride_through_s: section.ride_through.s(),
            holds: found.blocked == Micros::ZERO,
            blocked_s: found.blocked.seconds(),
            queue_gone_after_s: found.gone_after.map(Micros::seconds),
        })
    });
    tested.collect()
}

/// Power of all carriers over two rounds of the paced run.
pub(super) fn power(told: &Told<'_>) -> Option<SimulatedPower> {
    let parts = told.document.cell.parts();
    let trace = trace_of(told.document, told.plan, told.numbers, told.sku, None).ok()?;
    let track = &parts.circuit.track;
    let way = Way {
        form: told.plan.form(&told.document.cell)?,
        module_m: track.module.m(),
        modules: told.plan.modules,
        friction_n: parts.circuit.carrier.friction_force.n(),
    };
    let rests: Vec<(u32, f64)> =
        trace.carriers.iter().filter_map(|c| c.points.first().map(|point| (c.carrier, point.at_m))).collect();
    let step = STEP_S.max(trace.duration_s / MOST_STEPS);
    let found = way.power(&drives(told, &trace), &rests, trace.duration_s, step);
    let modules = found.modules.iter().map(|m| SimulatedModule {
        start_m: m.start_m,
        length_m: m.length_m,
        most_carriers: m.most_carriers,
        carriers_at_peak: m.carriers_at_peak,
        rms_n: m.rms_n,
    });
    Some(SimulatedPower {
        mean_w: found.mean_w,
        peak_w: found.peak_w,
        peak_at_s: found.peak_at_s,
        over_s: trace.duration_s,
        modules: modules.collect(),
    })
}

fn drives(told: &Told<'_>, trace: &TraceDocument) -> Vec<Drive> {
    let cell = &told.document.cell;
    let ride = &cell.rides()[told.sku];
    let limits = ride.limits_at(told.plan.acceleration_share);
    // The section in which a place lies, or that which begins with the zone there.
    let section = |at_m: f64| {
        let at = at_m.rem_euclid(trace.loop_length_m);
        let starts = || trace.zones.iter().enumerate();
        let passed = starts().filter(|(_, zone)| zone.start_m <= at).max_by(|a, b| a.1.start_m.total_cmp(&b.1.start_m));
        passed.or_else(|| starts().max_by(|a, b| a.1.start_m.total_cmp(&b.1.start_m))).map_or(0, |(i, _)| i)
    };
    let mut all = Vec::new();
    for carrier in &trace.carriers {
        for pair in carrier.points.windows(2) {
            let (from, to) = (pair[0], pair[1]);
            let distance_m = to.at_m - from.at_m;
            if distance_m <= 1e-9 {
                continue;
            }
            let worked = from.state == TraceState::Working;
            let mass = if worked || from.state == TraceState::MovingIn {
                ride.mass
            } else {
                cell.mass_there(section(from.at_m), told.sku)
            };
            all.push(Drive {
                carrier: carrier.carrier,
                start_s: from.t_s,
                lasts_s: to.t_s - from.t_s,
                from_m: from.at_m,
                distance_m,
                mass_kg: mass.kg(),
                limits: (!worked).then_some(limits),
            });
        }
    }
    all
}
