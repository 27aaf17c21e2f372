//! Motor duty (model section 9): RMS force over one lap at the design rate.
//!
//! # Source
//! Method of drive makers for linear axes: root of the mean of the squared force over the cycle. Over one accelerating
//! or braking phase with two linear jerk parts the square of the acceleration integrates to `a_p^2 (t_a - 4/3 t_j)`.

use super::{Breach, Rule, breach};
use crate::cell::Cell;
use crate::option::{Mode, StationOption};
use crate::plan::{Numbers, Plan};
use crate::section::Ends;
use crate::track::{Form, Plane};
use crate::units::{GRAVITY_M_S2, Kilograms, Metres, Newtons};

pub(super) fn verdict(cell: &Cell, plan: &Plan, numbers: &Numbers) -> Vec<Breach> {
    let carrier = &cell.parts().circuit.carrier;
    let Some(allowed) = carrier.continuous_force.map(|f| f.n() * f64::from(carrier.movers)) else {
        return Vec::new();
    };
    let mut found = Vec::new();
    for (k, sku) in cell.parts().skus.iter().enumerate() {
        if let Some(rms) = motor_rms(cell, plan, numbers, k)
            && rms.n() > allowed * (1.0 + 1e-9)
        {
            found.push(breach(
                Rule::Duty,
                format!("SKU {}: RMS force {:.3} N is above the continuous force {allowed:.3} N", sku.id, rms.n()),
            ));
        }
    }
    found
}

/// `F_rms` of a carrier with one SKU at the design rate; none without a demand.
#[must_use]
pub fn motor_rms(cell: &Cell, plan: &Plan, numbers: &Numbers, sku: usize) -> Option<Newtons> {
    let options: Vec<&StationOption> = numbers.options.iter().collect();
    let lengths: Vec<f64> = plan.sections.iter().map(|l| l.m()).collect();
    let lap = Lap { form: plan.form(cell)?, options: &options, ends: &numbers.ends, lengths: &lengths };
    lap.rms(cell, sku, plan.acceleration_share, plan.carriers)
}

/// What a carrier does on its way round.
#[derive(Clone, Copy, Debug)]
pub struct Lap<'a> {
    /// Form of the loop.
    pub form: &'a Form,
    /// Chosen options, in travel order.
    pub options: &'a [&'a StationOption],
    /// Ends in the section after each station.
    pub ends: &'a [Ends],
    /// Length of the section after each station, m.
    pub lengths: &'a [f64],
}

impl Lap<'_> {
    /// `F_rms` of one SKU; none without a demand or carriers. Grows with every length.
    #[must_use]
    pub fn rms(&self, cell: &Cell, sku: usize, share: f64, carriers: u32) -> Option<Newtons> {
        let ride = &cell.rides()[sku];
        if !ride.demanded || ride.phi() <= 0.0 || carriers == 0 {
            return None;
        }
        let lap = f64::from(carriers) / ride.phi();
        let limits = ride.limits_at(share);
        let friction = cell.parts().circuit.carrier.friction_force.n();
        let mut sum = 0.0;
        let mut add = |distance: Metres, mass: Kilograms| {
            let m = limits.over(distance);
            sum += mass.kg().powi(2) * m.acceleration_squared() + friction * friction * m.time.s();
        };
        for (i, (option, length)) in self.options.iter().zip(self.lengths).enumerate() {
            let of = &option.skus[sku];
            add(Metres::from_m(length + of.tail.m()), cell.mass_there(i, sku));
            if option.mode == Mode::Intermittent {
                add(of.move_in_distance, ride.mass);
            }
        }
        // Friction also while work is done moving.
        sum += friction * friction * working_on_the_move(self.options, sku);
        if self.form.plane == Plane::Upright {
            for (i, ends) in self.ends.iter().enumerate().filter(|(_, e)| **e != Ends::None) {
                let speed = ride.curve_speed(self.form.radius, cell.parts().sections[i].loaded).m_s();
                sum += (cell.mass_there(i, sku).kg() * GRAVITY_M_S2).powi(2) / 2.0 * ends.arc(self.form).m() / speed;
            }
        }
        Some(Newtons::from_n((sum / lap).sqrt()))
    }
}

fn working_on_the_move(options: &[&StationOption], sku: usize) -> f64 {
    options.iter().filter(|o| o.mode == Mode::Continuous).map(|o| o.skus[sku].residence.s()).sum()
}

/// RMS force in one stretch of track over all carriers that pass it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ModuleLoad {
    /// Start of the stretch along the loop.
    pub start: Metres,
    /// Its length.
    pub length: Metres,
    /// RMS force that its windings give.
    pub rms: Newtons,
}

/// Where the windings lie in the track, heat gathers per module: RMS force of each straight module and each end, over
/// all carriers of one SKU at the design rate. Each move is followed in small steps from where the middle of the batch
/// starts to where it stops.
#[must_use]
pub fn module_loads(cell: &Cell, plan: &Plan, numbers: &Numbers, sku: usize) -> Vec<ModuleLoad> {
    let (Some(form), ride) = (plan.form(cell), &cell.rides()[sku]) else { return Vec::new() };
    let module = cell.parts().circuit.track.module.m();
    let end = form.end_length().m();
    let mut stretches: Vec<(f64, f64)> = Vec::new();
    let mut at = 0.0;
    for _ in 0..2 {
        for _ in 0..plan.modules {
            stretches.push((at, module));
            at += module;
        }
        stretches.push((at, end));
        at += end;
    }
    let whole = at;
    let mut heat = vec![0.0; stretches.len()];
    let mut add = |place: f64, force: f64, time: f64| {
        let place = place.rem_euclid(whole);
        let i = stretches.partition_point(|s| s.0 <= place).saturating_sub(1);
        heat[i] += force * force * time;
    };
    let friction = cell.parts().circuit.carrier.friction_force.n();
    let limits = ride.limits_at(plan.acceleration_share);
    let mut drive = |from: f64, distance: f64, mass: Kilograms| {
        const STEPS: u32 = 400;
        let m = limits.over(Metres::from_m(distance));
        let step = m.time.s() / f64::from(STEPS);
        for i in 0..STEPS {
            let (place, _, a) = m.at((f64::from(i) + 0.5) * step);
            add(from + place, mass.kg() * a + friction, step);
        }
    };
    let n = cell.len();
    for i in 0..n {
        let (placed, option) = (&plan.stations[i], &numbers.options[i]);
        let of = &option.skus[sku];
        let zone = option.zone.m();
        // The section's move ends where the next zone begins; the move-in goes on from there.
        drive(placed.start.m() + zone - of.tail.m(), plan.sections[i].m() + of.tail.m(), cell.mass_there(i, sku));
        if option.mode == Mode::Intermittent {
            drive(placed.start.m(), of.move_in_distance.m(), ride.mass);
        }
    }
    for (placed, option) in plan.stations.iter().zip(&numbers.options) {
        if option.mode == Mode::Continuous {
            const STEPS: u32 = 200;
            let time = option.skus[sku].residence.s() / f64::from(STEPS);
            for i in 0..STEPS {
                add(placed.start.m() + option.zone.m() * (f64::from(i) + 0.5) / f64::from(STEPS), friction, time);
            }
        }
    }
    stretches
        .iter()
        .zip(heat)
        .map(|(s, h)| ModuleLoad {
            start: Metres::from_m(s.0),
            length: Metres::from_m(s.1),
            // Every carrier passes once a lap, so the flow past it is the design rate.
            rms: Newtons::from_n((h * ride.phi()).sqrt()),
        })
        .collect()
}
