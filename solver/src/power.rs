//! Electrical power of a circuit in the paced run, from the motion of all carriers: force times speed, recovered energy not counted.
//!
//! # Source
//! Mechanics: `F = m a + F_f + m g sin(slope)`, `P = max(0, F v)`. Losses in windings and drives are not in it.

use crate::motion::{Limits, Move};
use crate::track::{Form, Plane};
use crate::units::{GRAVITY_M_S2, Metres};

/// A stretch of time in which a carrier moves.
#[derive(Clone, Copy, Debug)]
pub struct Drive {
    /// Which carrier.
    pub carrier: u32,
    /// Start, in seconds.
    pub start_s: f64,
    /// How long there is for it, in seconds.
    pub lasts_s: f64,
    /// Place of its middle at the start, in metres along the loop.
    pub from_m: f64,
    /// How far, in metres.
    pub distance_m: f64,
    /// Mass with what it carries, in kilograms.
    pub mass_kg: f64,
    /// From rest to rest under these limits; none: at even speed.
    pub limits: Option<Limits>,
}

/// The loop that carriers move on.
#[derive(Clone, Copy, Debug)]
pub struct Way<'a> {
    /// Form of its ends.
    pub form: &'a Form,
    /// Length of a module, in metres.
    pub module_m: f64,
    /// Modules in one straight.
    pub modules: u32,
    /// Friction of one carrier, in newtons.
    pub friction_n: f64,
}

/// One track module or end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ModulePower {
    /// Where it begins along the loop, in metres.
    pub start_m: f64,
    /// Its length, in metres.
    pub length_m: f64,
    /// Most carriers in it at once.
    pub most_carriers: u32,
    /// Carriers in it at the moment of the peak.
    pub carriers_at_peak: u32,
    /// Root of the mean square of the forces in it, in newtons.
    pub rms_n: f64,
}

/// Power of the circuit.
#[derive(Clone, Debug, PartialEq)]
pub struct Power {
    /// Mean over time, in watts.
    pub mean_w: f64,
    /// Highest at one moment, in watts.
    pub peak_w: f64,
    /// When, in seconds from the start of the stretch.
    pub peak_at_s: f64,
    /// Straight modules and ends, along the loop.
    pub modules: Vec<ModulePower>,
}

impl Way<'_> {
    /// Modules of the first straight, an end, the other straight, the other end: start and length.
    fn stretches(&self) -> Vec<(f64, f64)> {
        let end = self.form.end_length().m();
        let mut all = Vec::new();
        let mut at = 0.0;
        for _ in 0..2 {
            for _ in 0..self.modules {
                all.push((at, self.module_m));
                at += self.module_m;
            }
            all.push((at, end));
            at += end;
        }
        all
    }

    fn round(&self) -> f64 {
        2.0 * (f64::from(self.modules) * self.module_m + self.form.end_length().m())
    }

    /// Sine of the slope in travel direction: upright loops go down in the first end and up in the second.
    fn slope(&self, place: f64) -> f64 {
        if self.form.plane == Plane::Flat {
            return 0.0;
        }
        let (straight, end) = (f64::from(self.modules) * self.module_m, self.form.end_length().m());
        let place = place.rem_euclid(self.round());
        let (within, sign) = if place < straight {
            return 0.0;
        } else if place < straight + end {
            (place - straight, -1.0)
        } else if place < 2.0 * straight + end {
            return 0.0;
        } else {
            (place - 2.0 * straight - end, 1.0)
        };
        let radius = self.form.radius.m();
        let quarter = std::f64::consts::FRAC_PI_2 * radius;
        let from_flat = within.min(end - within);
        sign * if from_flat < quarter { (from_flat / radius).sin() } else { 1.0 }
    }

    /// Power of all carriers over `[0, length_s]`, looked at every `step_s`: between two looks a peak may be missed by what the
    /// force grows in that time. `rests` are places of carriers that the drives do not tell, from their first drive on they
    /// follow from it: `(carrier, place)` at the start.
    #[must_use]
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, clippy::cast_precision_loss)]
    pub fn power(&self, drives: &[Drive], rests: &[(u32, f64)], length_s: f64, step_s: f64) -> Power {
        let stretches = self.stretches();
        let round = self.round();
        let at = |place: f64| {
            let place = place.rem_euclid(round);
            stretches.partition_point(|s| s.0 <= place).saturating_sub(1)
        };
        let carriers = rests.iter().map(|r| r.0 as usize + 1).max().unwrap_or(0);
        let mut own: Vec<Vec<(&Drive, Option<Move>)>> = vec![Vec::new(); carriers];
        for drive in drives {
            if let Some(list) = own.get_mut(drive.carrier as usize) {
                list.push((drive, drive.limits.map(|limits| limits.over(Metres::from_m(drive.distance_m)))));
            }
        }
        own.iter_mut().for_each(|list| list.sort_by(|a, b| a.0.start_s.total_cmp(&b.0.start_s)));
        let mut places: Vec<f64> = vec![0.0; carriers];
        rests.iter().for_each(|&(carrier, place)| places[carrier as usize] = place);
        let mut next = vec![0_usize; carriers];
        let steps = ((length_s / step_s).ceil() as usize).max(1);
        let dt = length_s / steps as f64;
        let (mut sum, mut peak, mut peak_at) = (0.0, 0.0, 0.0);
        let mut squares = vec![0.0; stretches.len()];
        let mut most = vec![0_u32; stretches.len()];
        let mut at_peak = vec![0_u32; stretches.len()];
        let mut here = vec![0_u32; stretches.len()];
        for step in 0..steps {
            let t = (step as f64 + 0.5) * dt;
            here.fill(0);
            let mut together = 0.0;
            for (c, list) in own.iter().enumerate() {
                while list.get(next[c] + 1).is_some_and(|following| following.0.start_s <= t) {
                    next[c] += 1;
                }
                let (mut force, mut speed) = (0.0, 0.0);
                if let Some((drive, way)) = list.get(next[c]).filter(|(drive, _)| drive.start_s <= t) {
                    let since = t - drive.start_s;
                    let (gone, v, a) = match way {
                        // Done: what the profile says of its last moment no longer holds.
                        Some(way) if since >= way.time.s() => (drive.distance_m, 0.0, 0.0),
                        Some(way) => way.at(since),
                        None if since < drive.lasts_s && drive.lasts_s > 0.0 => {
                            let v = drive.distance_m / drive.lasts_s;
                            (v * since, v, 0.0)
                        }
                        None => (drive.distance_m, 0.0, 0.0),
                    };
                    places[c] = drive.from_m + gone;
                    // At rest on a slope the weight is still to be held.
                    let friction = if v > 0.0 { self.friction_n } else { 0.0 };
                    force = drive.mass_kg * (a + GRAVITY_M_S2 * self.slope(places[c])) + friction;
                    speed = v;
                }
                let stretch = at(places[c]);
                here[stretch] += 1;
                squares[stretch] += force * force * dt;
                together += (force * speed).max(0.0);
            }
            sum += together * dt;
            most.iter_mut().zip(&here).for_each(|(m, &h)| *m = (*m).max(h));
            if together > peak {
                (peak, peak_at) = (together, t);
                at_peak.clone_from(&here);
            }
        }
        let modules = stretches.iter().enumerate().map(|(i, &(start_m, length_m))| ModulePower {
            start_m,
            length_m,
            most_carriers: most[i],
            carriers_at_peak: at_peak[i],
            rms_n: (squares[i] / length_s).sqrt(),
        });
        Power { mean_w: sum / length_s, peak_w: peak, peak_at_s: peak_at, modules: modules.collect() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{Acceleration, Speed};

    fn form(plane: Plane) -> Form {
        Form { id: String::new(), plane, radius: Metres::from_m(0.4), cross: Metres::from_m(0.2) }
    }

    /// By hand: 3 kg over 2 m at 2 m/s and 4 m/s2 with 5 N of friction: 0.5 s, 0.5 s, 0.5 s. At the end of speeding up (12 + 5) N
    /// times 2 m/s = 34 W. Work: kinetic energy 6 J and friction over the 1.5 m before braking 7.5 J; while it brakes at 4 m/s2 the
    /// motor is driven. Twice as many carriers at the same time need twice as much.
    #[test]
    fn one_move_by_hand() {
        let form = form(Plane::Flat);
        let way = Way { form: &form, module_m: 0.5, modules: 6, friction_n: 5.0 };
        let limits = Limits { speed: Speed::from_m_s(2.0), acceleration: Acceleration::from_m_s2(4.0), jerk: None };
        let drive = |carrier, from_m| Drive {
            carrier,
            start_s: 1.0,
            lasts_s: 3.0,
            from_m,
            distance_m: 2.0,
            mass_kg: 3.0,
            limits: Some(limits),
        };
        let one = way.power(&[drive(0, 0.25)], &[(0, 0.25)], 5.0, 0.001);
        assert!((one.peak_w - 34.0).abs() < 0.1 && (one.peak_at_s - 1.5).abs() < 0.002, "{one:?}");
        assert!((one.mean_w * 5.0 - 13.5).abs() < 0.05, "{one:?}");
        // Square of force over time: 17^2 and 7^2 for half a second each, 5^2 in between.
        let heat: f64 = one.modules.iter().map(|m| m.rms_n * m.rms_n * 5.0).sum();
        assert!((heat - (17.0 * 17.0 + 7.0 * 7.0 + 25.0) * 0.5).abs() < 0.5, "{heat}");
        let two = way.power(&[drive(0, 0.25), drive(1, 0.3)], &[(0, 0.25), (1, 0.3)], 5.0, 0.001);
        assert!((two.peak_w - 2.0 * one.peak_w).abs() < 1e-9 && (two.mean_w - 2.0 * one.mean_w).abs() < 1e-9);
        assert_eq!(
            (one.modules[0].most_carriers, two.modules[0].most_carriers, two.modules[13].most_carriers),
            (1, 2, 0)
        );
    }

    /// Up an end costs the weight times the height, down again nothing is counted: m g (2 R + cross).
    #[test]
    fn climbing_costs_the_height() {
        let form = form(Plane::Upright);
        let way = Way { form: &form, module_m: 0.5, modules: 2, friction_n: 0.0 };
        let end = form.end_length().m();
        let even = |from_m: f64| Drive {
            carrier: 0,
            start_s: 0.0,
            lasts_s: 10.0,
            from_m,
            distance_m: end,
            mass_kg: 2.0,
            limits: None,
        };
        let up = way.power(&[even(2.0 + end)], &[(0, 0.0)], 10.0, 0.001);
        assert!((up.mean_w * 10.0 - 2.0 * GRAVITY_M_S2).abs() < 0.02, "{up:?}");
        let down = way.power(&[even(1.0)], &[(0, 0.0)], 10.0, 0.001);
        assert!(down.mean_w.abs() < 1e-9, "{down:?}");
    }
}
