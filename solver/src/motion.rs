//! Least rest-to-rest move under limits of speed, acceleration and jerk.
//!
//! # Units
//! SI throughout: m, s, m/s, m/s², m/s³.
//!
//! # Source
//! Seven-phase profile with its short-move cases: L. Biagiotti, C. Melchiorri, *Trajectory Planning for
//! Automatic Machines and Robots*, Springer 2008, section 3.4 (structure); without a jerk limit it is the
//! trapezoid of constant acceleration.

use crate::units::{Acceleration, Jerk, Metres, Seconds, Speed};

/// What a move must keep to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Largest speed, above 0.
    pub speed: Speed,
    /// Largest acceleration and deceleration, above 0.
    pub acceleration: Acceleration,
    /// Largest jerk, above 0; none means no jerk limit.
    pub jerk: Option<Jerk>,
}

/// A move from rest to rest: accelerate, cruise, brake (the mirror of accelerating).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Move {
    /// Duration of all of it.
    pub time: Seconds,
    /// Highest speed reached.
    pub peak_speed: Speed,
    /// Highest acceleration reached.
    pub peak_acceleration: Acceleration,
    /// One acceleration phase, its two jerk parts included.
    pub accelerating: Seconds,
    /// One jerk part (0 without a jerk limit).
    pub jerk_part: Seconds,
    /// At constant speed.
    pub cruising: Seconds,
}

impl Limits {
    /// The least-time move over `distance` (at least 0; nothing moves for 0 or less).
    #[must_use]
    pub fn over(&self, distance: Metres) -> Move {
        let (s, v, a) = (distance.m(), self.speed.m_s(), self.acceleration.m_s2());
        if s <= 0.0 {
            return Move::default();
        }
        match self.jerk {
            None => trapezoid(s, v, a),
            Some(j) => seven_phase(s, v, a, j.m_s3()),
        }
    }

    /// The least time for each metre that a move of `distance` becomes longer, by however much, in s/m.
    ///
    /// At full speed that is `1/v`. Below it each further metre takes less time than the one before, and the last ones less
    /// than `1/v`, since the ramps get steeper on the way: a time of `2 (p/a + a/j)` with `p (p + a²/j) = a s` has the slope
    /// `1/(p + a²/2j)` at peak speed `p`; `4 (s/2j)^(1/3)`, where full acceleration is never reached, `2/(3p)`. So the mean up to
    /// where full speed is reached is the least there is, or what comes behind it.
    #[must_use]
    pub fn least_pace(&self, distance: Metres) -> f64 {
        let (v, a, s) = (self.speed.m_s(), self.acceleration.m_s2(), distance.m());
        let Some(j) = self.jerk.map(Jerk::m_s3) else { return 1.0 / v };
        let ramp = if v * j > a * a { v / a + a / j } else { 2.0 * (v / j).sqrt() };
        let full = v * ramp;
        if s >= full * (1.0 - 1e-9) {
            return 1.0 / v;
        }
        ((2.0 * ramp - self.time(distance).s()) / (full - s)).min(1.0 / v)
    }

    /// Only the time of [`Limits::over`].
    #[must_use]
    pub fn time(&self, distance: Metres) -> Seconds {
        self.over(distance).time
    }
}

fn trapezoid(s: f64, v: f64, a: f64) -> Move {
    let (peak, cruise) = if s * a >= v * v { (v, s / v - v / a) } else { ((s * a).sqrt(), 0.0) };
    profile(peak, a, peak / a, 0.0, cruise)
}

/// Cases (i) speed reached, (ii) acceleration reached but not speed, (iii) neither.
fn seven_phase(s: f64, v: f64, a: f64, j: f64) -> Move {
    // The acceleration phase up to full speed, and the acceleration that it reaches.
    let (ta_full, tj_full) =
        if v * j > a * a { (v / a + a / j, a / j) } else { (2.0 * (v / j).sqrt(), (v / j).sqrt()) };
    if s >= v * ta_full {
        return profile(v, tj_full * j, ta_full, tj_full, s / v - ta_full);
    }
    let tj = a / j;
    if s >= 2.0 * a * tj * tj {
        let half = a * tj;
        let peak = ((half * half + 4.0 * a * s).sqrt() - half) / 2.0;
        return profile(peak, a, peak / a + tj, tj, 0.0);
    }
    let tj = (s / (2.0 * j)).cbrt();
    profile(j * tj * tj, j * tj, 2.0 * tj, tj, 0.0)
}

fn profile(peak_speed: f64, peak_acceleration: f64, ta: f64, tj: f64, cruise: f64) -> Move {
    let cruise = cruise.max(0.0);
    Move {
        time: Seconds::from_s(2.0 * ta + cruise),
        peak_speed: Speed::from_m_s(peak_speed),
        peak_acceleration: Acceleration::from_m_s2(peak_acceleration),
        accelerating: Seconds::from_s(ta),
        jerk_part: Seconds::from_s(tj),
        cruising: Seconds::from_s(cruise),
    }
}

impl Move {
    /// Place, speed and acceleration at time `t` after the start, in m, m/s and m/s².
    #[must_use]
    pub fn at(&self, t: f64) -> (f64, f64, f64) {
        let total = self.time.s();
        let t = t.clamp(0.0, total);
        let (ta, tc) = (self.accelerating.s(), self.cruising.s());
        let ramp = self.ramp(ta).0;
        if t <= ta {
            self.ramp(t)
        } else if t <= ta + tc {
            let v = self.peak_speed.m_s();
            (ramp + v * (t - ta), v, 0.0)
        } else {
            // Braking mirrors the ramp in time.
            let (place, speed, acc) = self.ramp(total - t);
            (2.0 * ramp + self.peak_speed.m_s() * tc - place, speed, -acc)
        }
    }

    /// Place, speed, acceleration at time `t` of the accelerating phase.
    fn ramp(&self, t: f64) -> (f64, f64, f64) {
        let (ta, tj, a) = (self.accelerating.s(), self.jerk_part.s(), self.peak_acceleration.m_s2());
        if tj <= 0.0 {
            return (0.5 * a * t * t, a * t, a);
        }
        let j = a / tj;
        if t <= tj {
            return (j * t * t * t / 6.0, 0.5 * j * t * t, j * t);
        }
        let (s1, v1) = (j * tj * tj * tj / 6.0, 0.5 * j * tj * tj);
        let flat = ta - 2.0 * tj;
        if t <= tj + flat {
            let u = t - tj;
            return (s1 + v1 * u + 0.5 * a * u * u, v1 + a * u, a);
        }
        let (s2, v2) = (s1 + v1 * flat + 0.5 * a * flat * flat, v1 + a * flat);
        let u = t - tj - flat;
        (s2 + v2 * u + 0.5 * a * u * u - j * u * u * u / 6.0, v2 + a * u - 0.5 * j * u * u, a - j * u)
    }

    /// Integral of acceleration squared over the move, m²/s³: two phases of `a_p² (t_a - 4/3 t_j)`
    /// (model section 9; the two linear jerk parts of a phase hold a third of `a_p² t_j` each).
    #[must_use]
    pub fn acceleration_squared(&self) -> f64 {
        let a = self.peak_acceleration.m_s2();
        2.0 * a * a * (self.accelerating.s() - 4.0 / 3.0 * self.jerk_part.s())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn limits(v: f64, a: f64, j: Option<f64>) -> Limits {
        Limits { speed: Speed::from_m_s(v), acceleration: Acceleration::from_m_s2(a), jerk: j.map(Jerk::from_m_s3) }
    }

    /// Values recomputed with an independent time-optimal trajectory library to nine digits, after the cases of
    /// Biagiotti & Melchiorri (2008), section 3.4.
    #[test]
    fn seven_phase_values() {
        for (s, v, a, j, expected, flat) in [
            (10.0, 5.0, 10.0, 30.0, 2.833_333, 2.5),
            (1.0, 2.0, 10.0, 100.0, 0.8, 0.7),
            (0.5, 2.0, 10.0, 100.0, 0.558_258, 0.45),
            (0.05, 2.0, 10.0, 100.0, 0.251_984, 0.141_421),
            (0.02, 2.0, 10.0, 100.0, 0.185_664, 0.089_443),
            (0.3, 0.2, 10.0, 100.0, 1.589_443, 1.52),
            (2.0, 4.0, 40.0, 2000.0, 0.62, 0.6),
        ] {
            let t = limits(v, a, Some(j)).time(Metres::from_m(s)).s();
            assert!((t - expected).abs() < 1e-6, "s={s} v={v} a={a} j={j}: {t} instead of {expected}");
            let t = limits(v, a, None).time(Metres::from_m(s)).s();
            assert!((t - flat).abs() < 1e-6, "trapezoid s={s} v={v} a={a}: {t} instead of {flat}");
        }
    }

    /// A small generator of our own: the test must not depend on a global random state.
    struct Random(u64);
    impl Random {
        fn unit(&mut self) -> f64 {
            self.0 ^= self.0 << 13;
            self.0 ^= self.0 >> 7;
            self.0 ^= self.0 << 17;
            #[allow(clippy::cast_precision_loss)]
            let x = (self.0 >> 11) as f64;
            x / (1u64 << 53) as f64
        }
        fn log(&mut self, lo: f64, hi: f64) -> f64 {
            (lo.ln() + self.unit() * (hi.ln() - lo.ln())).exp()
        }
    }

    #[test]
    fn a_hundred_thousand_random_moves_keep_every_limit() {
        let mut random = Random(0x5eed_1234_5678_9abc);
        for case in 0..100_000 {
            let (s, v) = (random.log(1e-4, 30.0), random.log(0.01, 5.0));
            let (a, j) = (random.log(0.1, 60.0), if case % 3 == 0 { None } else { Some(random.log(1.0, 5e4)) });
            let what = format!("case {case}: s={s} v={v} a={a} j={j:?}");
            let m = limits(v, a, j).over(Metres::from_m(s));
            let (mut last, steps) = ((0.0, 0.0, 0.0), 40);
            let total = m.time.s();
            for i in 0..=steps {
                let now = m.at(total * f64::from(i) / f64::from(steps));
                assert!(now.1 <= v * (1.0 + 1e-9) && now.1 >= -1e-9 * v, "{what}: speed {}", now.1);
                assert!(now.2.abs() <= a * (1.0 + 1e-9), "{what}: acceleration {}", now.2);
                assert!(now.0 >= last.0 - 1e-9, "{what}: moved back");
                if let Some(j) = j {
                    let step = total / f64::from(steps);
                    assert!((now.2 - last.2).abs() <= j * step * (1.0 + 1e-6) + 1e-9, "{what}: jerk");
                }
                last = now;
            }
            assert!((last.0 - s).abs() < 1e-9 * s.max(1.0), "{what}: ended at {}", last.0);
            let lower = limits(v * 0.9, a * 0.8, j.map(|j| j * 0.7)).time(Metres::from_m(s)).s();
            let longer = limits(v, a, j).time(Metres::from_m(s * 1.1)).s();
            assert!(lower >= total - 1e-12 && longer >= total - 1e-12, "{what}: faster with less, or over more");
            let stiff = limits(v, a, Some(1e12)).time(Metres::from_m(s)).s();
            let none = limits(v, a, None).time(Metres::from_m(s)).s();
            assert!((stiff - none).abs() < 1e-3 * none, "{what}: does not tend to the trapezoid");
        }
    }

    /// No further stretch takes less time than its length at the least pace; and near full speed one does take less than at
    /// full speed.
    #[test]
    fn no_stretch_is_driven_at_less_than_the_least_pace() {
        let mut random = Random(0x5eed_9876_5432_1abc);
        let mut under = 0;
        for case in 0..100_000 {
            let (v, a) = (random.log(0.01, 5.0), random.log(0.1, 60.0));
            let limits = limits(v, a, if case % 3 == 0 { None } else { Some(random.log(1.0, 5e4)) });
            let (s, more) = (random.log(1e-4, 30.0), random.log(1e-3, 3.0));
            let time = |s: f64| limits.time(Metres::from_m(s)).s();
            let takes = time(s + more) - time(s);
            assert!(
                takes >= more * limits.least_pace(Metres::from_m(s)) * (1.0 - 1e-9) - 1e-11,
                "case {case}: {s} m and {more} m, {limits:?}"
            );
            under += u32::from(takes < more / v * (1.0 - 1e-6));
        }
        assert!(under > 100, "{under}");
    }

    /// Linear-axis example: 5 kg, 300 mm, 1 m/s, 0.1 s to speed, cycle 0.45 s: RMS 33.333 N (drive makers'
    /// method of the RMS over the cycle; recomputed).
    #[test]
    fn rms_of_a_linear_axis() {
        let m = limits(1.0, 10.0, None).over(Metres::from_m(0.3));
        let rms = (25.0 * m.acceleration_squared() / 0.45).sqrt();
        assert!((rms - 33.333).abs() < 1e-3, "{rms}");
    }

    #[test]
    fn squared_acceleration_is_the_integral() {
        let m = limits(2.0, 10.0, Some(100.0)).over(Metres::from_m(0.5));
        let n = 200_000;
        let dt = m.time.s() / f64::from(n);
        let sum: f64 = (0..n).map(|i| m.at((f64::from(i) + 0.5) * dt).2.powi(2) * dt).sum();
        assert!((sum - m.acceleration_squared()).abs() < 1e-4, "{sum}");
    }
}
