//! Slots and least lengths of sections (model section 5), and the slots that two neighbours need to make the rate.

use super::{Breach, Rule, breach, section_name};
use crate::cell::Cell;
use crate::load::Ride;
use crate::option::{Flow, SkuOption};
use crate::plan::{Numbers, Plan};
use crate::section::{SectionLimits, base_slots, length_for, slots};
use crate::units::{Metres, RATE_TOLERANCE, gcd, lcm};

pub(super) fn verdict(cell: &Cell, plan: &Plan, numbers: &Numbers) -> Vec<Breach> {
    let parts = cell.parts();
    let n = cell.len();
    let mut found = Vec::new();
    for (i, limits) in parts.sections.iter().enumerate() {
        let length = plan.sections[i].m();
        if length < limits.min_length.m() - 1e-9 {
            found.push(breach(
                Rule::Slots,
                format!(
                    "section {}: {length:.6} m; at least {:.6} m are asked",
                    section_name(cell, i),
                    limits.min_length.m()
                ),
            ));
        }
        let (up, down) = (&numbers.options[i], &numbers.options[(i + 1) % n]);
        for (k, (sku, ride)) in parts.skus.iter().zip(cell.rides()).enumerate() {
            let need = base_slots(up.skus[k].batch, down.skus[k].batch, ride, limits.ride_through);
            let have = numbers.slots[i][k];
            if have < need {
                found.push(breach(
                    Rule::Slots,
                    format!("SKU {}, section {}: {have} slots; {need} are needed", sku.id, section_name(cell, i)),
                ));
            }
        }
    }
    found
}

/// Below this share of the design rate no plan counts as making it: the tolerance of "makes the rate", and a little for
/// times rounded to microseconds.
const RELAXED: f64 = 1.0 - 1.1 * RATE_TOLERANCE;

/// Two neighbouring stations as one SKU meets them.
#[derive(Clone, Copy, Debug)]
pub struct PairNeeds<'a> {
    /// How the SKU rides.
    pub ride: &'a Ride,
    /// The station before.
    pub up: &'a SkuOption,
    /// The station after.
    pub down: &'a SkuOption,
    /// Limits of the section between.
    pub limits: &'a SectionLimits,
}

/// Least length of a section, at least `from`, on which these two stations *alone* (the one before never starved, the
/// one after never blocked) make the design rate. `lag` gives the section's lag at a length. No plan that makes the rate
/// can have less; infinite when none does below `most`.
#[must_use]
pub fn least_slots(pair: &PairNeeds<'_>, from: Metres, most: Metres, lag: impl Fn(Metres) -> f64) -> Metres {
    let PairNeeds { ride, up, down, limits } = *pair;
    let base = base_slots(up.batch, down.batch, ride, limits.ride_through);
    let mut length = length_for(base, ride).m().max(from.m());
    if !ride.demanded {
        return Metres::from_m(length);
    }
    let group = gcd(up.batch, down.batch);
    loop {
        if length > most.m() {
            return Metres::from_m(f64::INFINITY);
        }
        let have = slots(Metres::from_m(length), ride);
        if makes(pair, have, lag(Metres::from_m(length))) {
            return Metres::from_m(length);
        }
        // Carriers pass in whole groups: slots that make up no further one only make the way longer.
        length = length_for((have / group + 1) * group, ride).m();
    }
}

/// Whether the pair alone makes the rate with so many slots and this lag.
fn makes(pair: &PairNeeds<'_>, have: u32, lag: f64) -> bool {
    let PairNeeds { ride, up, down, .. } = *pair;
    let phi = ride.phi() * RELAXED;
    let g = gcd(up.batch, down.batch);
    let inside = if up.flow == Flow::Through { up.residence.s() } else { 0.0 };
    // The time for which a carrier takes its slot, beside any waiting.
    let taken = inside + lag + down.move_in.s();
    let usable = have / g * g;
    // A strictly periodic schedule at the design rate needs no more than this (take and leave times linear in the
    // number of carriers; floor and ceiling cost b - g and d - g).
    if f64::from(usable) >= phi * taken + f64::from(up.batch + down.batch - 2 * g) {
        return true;
    }
    // On average each slot is taken for so long.
    if f64::from(usable) < phi * taken {
        return false;
    }
    if up.batch == down.batch {
        return true;
    }
    no_slower(pair, usable, inside + lag, phi)
}

/// The unfolded graph of the two stations has no cycle that takes longer than its carriers may at rate `phi`.
fn no_slower(pair: &PairNeeds<'_>, usable: u32, drive: f64, phi: f64) -> bool {
    let (up, down) = (pair.up, pair.down);
    let (b, d, c) = (i64::from(up.batch), i64::from(down.batch), i64::from(usable));
    let iteration = i64::from(lcm(up.batch, down.batch));
    let (leaves, takes) = (iteration / b, iteration / d);
    #[allow(clippy::cast_precision_loss)]
    let round = iteration as f64 / phi;
    // (from, to, weight): nodes 0..leaves are leaves of the station before, then takes of the one after, then (for a
    // train) takes of the one before. An index outside the iteration costs or gives a round.
    let before = leaves + takes;
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let mut arcs: Vec<(usize, usize, f64)> = Vec::with_capacity((4 * leaves + 2 * takes) as usize);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, clippy::cast_precision_loss)]
    let mut arc = |from: (i64, i64, i64), to: (i64, i64), time: f64| {
        let (first, count, index) = from;
        let node = first + index.rem_euclid(count);
        arcs.push((node as usize, (to.0 + to.1) as usize, time + index.div_euclid(count) as f64 * round));
    };
    for n in 0..leaves {
        match up.flow {
            Flow::Train(places) => {
                arc((before, leaves, n), (0, n), up.residence.s());
                arc((before, leaves, n - 1), (before, n), up.cycle.s());
                arc((0, leaves, n - i64::from(places)), (before, n), 0.0);
            }
            Flow::Stop | Flow::Through => arc((0, leaves, n - 1), (0, n), up.cycle.s()),
        }
        let batches = -(-((n + 1) * b - c)).div_euclid(d);
        arc((leaves, takes, batches - 1), (0, n), down.move_in.s());
    }
    for m in 0..takes {
        arc((leaves, takes, m - 1), (leaves, m), down.cycle.s());
        let batches = -(-((m + 1) * d)).div_euclid(b);
        arc((0, leaves, batches - 1), (leaves, m), drive);
    }
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let nodes = (2 * leaves + takes) as usize;
    // Any times are a start; even ones keep most waits, so that few are moved.
    #[allow(clippy::cast_precision_loss)]
    let even = |count: i64| (0..count).map(move |n| n as f64 * round / count as f64);
    let mut at: Vec<f64> = even(leaves).chain(even(takes).map(|t| t + drive)).collect();
    at.extend(even(leaves).map(|t| t - up.residence.s()));
    for _ in 0..=nodes {
        let mut changed = false;
        for &(from, to, weight) in &arcs {
            // A hair in hand, so that rounding never cuts off a plan.
            if at[from] + weight > at[to] + 1e-9 {
                at[to] = at[from] + weight;
                changed = true;
            }
        }
        if !changed {
            return true;
        }
    }
    false
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::motion::Limits;
    use crate::ring::{Ring, RingSection, RingStation};
    use crate::sim::tests::Random;
    use crate::throughput::rate;
    use crate::units::{Acceleration, CarrierRate, Kilograms, Micros, Seconds, Speed};

    fn ride(phi: f64) -> Ride {
        Ride {
            rate: CarrierRate::per_second(phi),
            demanded: true,
            pitch: Metres::from_m(0.2),
            limits: Limits { speed: Speed::from_m_s(2.0), acceleration: Acceleration::from_m_s2(5.0), jerk: None },
            lateral: 9.0,
            mass: Kilograms::from_kg(1.0),
        }
    }

    /// The pair alone, written out as a ring: a huge section brings carriers to the first station and takes them from
    /// the second, so neither starves nor blocks.
    #[test]
    #[allow(clippy::cast_possible_truncation, clippy::cast_precision_loss)]
    fn pair_needs_agree_with_the_event_graph() {
        let mut r = Random(5);
        let (mut yes, mut no) = (0, 0);
        for case in 0..20_000 {
            let time = |r: &mut Random, most: u64| 0.1 * (1 + r.below(most)) as f64;
            let option = |r: &mut Random| {
                let cycle = time(r, 20);
                let flow = match r.below(3) {
                    0 => Flow::Stop,
                    1 => Flow::Train(3),
                    _ => Flow::Through,
                };
                let residence = match flow {
                    Flow::Stop => cycle,
                    // A train's zone is never longer than its places.
                    Flow::Train(p) => cycle * f64::from(p) - 0.05,
                    Flow::Through => time(r, 30),
                };
                SkuOption {
                    batch: 1 + r.below(6) as u32,
                    cycle: Seconds::from_s(cycle),
                    move_in: Seconds::from_s(0.5 * cycle),
                    residence: Seconds::from_s(residence),
                    tail: Metres::ZERO,
                    move_in_distance: Metres::ZERO,
                    speed: None,
                    capacity: CarrierRate::ZERO,
                    flow,
                }
            };
            let (up, down) = (option(&mut r), option(&mut r));
            let slowest = (f64::from(up.batch) / up.cycle.s()).min(f64::from(down.batch) / down.cycle.s());
            let ride = ride(slowest * (0.5 + 0.5 * r.below(100) as f64 / 100.0));
            let lag = time(&mut r, 30);
            let g = gcd(up.batch, down.batch);
            let have = (up.batch + down.batch - g + r.below(12) as u32) / g * g;
            let pair = PairNeeds { ride: &ride, up: &up, down: &down, limits: &SectionLimits::default() };
            let ring = Ring {
                stations: vec![RingStation::of(&up), RingStation::of(&down)],
                sections: vec![
                    RingSection { slots: have, lag: Micros::nearest_s(lag) },
                    RingSection { slots: 5_000 * up.batch * down.batch, lag: Micros::ZERO },
                ],
                carriers: 2_500 * up.batch * down.batch,
            };
            let exact = rate(&ring).expect("small").0.makes(ride.rate);
            let said = makes(&pair, have, lag);
            assert_eq!(said, exact, "case {case}: {have} slots, lag {lag}, {up:?} {down:?} at {}", ride.phi());
            if said { yes += 1 } else { no += 1 }
        }
        assert!(yes > 2_000 && no > 2_000, "{yes} {no}");
    }
}
