//! A carrier with its load: pitch, and the accelerations that motor, friction and tipping allow (model section 3).

use crate::motion::Limits;
use crate::units::{Acceleration, CarrierRate, GRAVITY_M_S2, Jerk, Kilograms, Metres, Money, Newtons, Speed};

/// What one carrier carries of one SKU. Everything zero or absent is an empty carrier.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Load {
    /// Length along the track.
    pub extent: Metres,
    /// Mass.
    pub mass: Kilograms,
    /// Base along the direction of motion; none means no tipping limit.
    pub base: Option<Metres>,
    /// Base across the direction of motion; none means as `base`.
    pub base_across: Option<Metres>,
    /// Height of the centre of gravity above the base; none means no tipping limit.
    pub cg_height: Option<Metres>,
    /// Coefficient of static friction; none means no sliding limit.
    pub friction: Option<f64>,
    /// Held by the carrier: neither slides nor tips.
    pub held: bool,
    /// Share of the physical limit that is used.
    pub stability_factor: f64,
    /// A tested value that is not to be exceeded.
    pub max_acceleration: Option<Acceleration>,
}

/// Share of the sliding or tipping limit that is used when the document gives none (common practice, no source).
pub const DEFAULT_STABILITY_FACTOR: f64 = 0.6;

impl Default for Load {
    fn default() -> Self {
        Self {
            extent: Metres::ZERO,
            mass: Kilograms::ZERO,
            base: None,
            base_across: None,
            cg_height: None,
            friction: None,
            held: false,
            stability_factor: DEFAULT_STABILITY_FACTOR,
            max_acceleration: None,
        }
    }
}

/// The carrier of a circuit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Carrier {
    /// Length of one mover's carrier along the track.
    pub length: Metres,
    /// Least gap to the next.
    pub gap: Metres,
    /// One mover, or an opposed pair.
    pub movers: u32,
    /// Mass of the empty carrier.
    pub mass: Kilograms,
    /// Speed limit.
    pub max_speed: Speed,
    /// Acceleration limit.
    pub max_acceleration: Acceleration,
    /// Jerk limit.
    pub max_jerk: Option<Jerk>,
    /// Peak force of one mover.
    pub peak_force: Option<Newtons>,
    /// Continuous (thermal) force of one mover.
    pub continuous_force: Option<Newtons>,
    /// Rolling and sliding resistance of the carrier.
    pub friction_force: Newtons,
    /// How an opposed pair grips; none where its length does not follow the SKU.
    pub pair: Option<Pair>,
    /// Price of one carrier.
    pub price: Money,
}

/// An opposed pair: the load stands between two paddles, each on a mover of its own.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pair {
    /// How much wider than the load the pair opens, to let it in and out.
    pub play: Metres,
    /// From the middle of a mover outwards to the face of its paddle; negative where the paddle stands inwards of it.
    pub paddle_offset: Metres,
    /// Thickness of a paddle along the track, outwards of its face.
    pub paddle_thickness: Metres,
    /// Force with which each paddle presses on the load.
    pub squeeze: Option<Newtons>,
}

impl Pair {
    /// Distance from paddle face to paddle face when the pair is open for `load`: `extent + play`.
    #[must_use]
    pub fn opening(&self, load: &Load) -> Metres {
        Metres::from_m(load.extent.m() + self.play.m())
    }

    /// Whether the paddles reach the load before the movers touch: the middles of the movers stand
    /// `extent - 2 * offset` apart when both paddles touch it, and a mover is `length` long.
    #[must_use]
    pub fn reaches(&self, carrier: &Carrier, load: &Load) -> bool {
        load.extent.m() - 2.0 * self.paddle_offset.m() >= carrier.length.m() - 1e-9
    }
}

/// How one SKU rides on one circuit: the derived values of model section 3.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ride {
    /// Design rate of carriers; zero when no rate is demanded.
    pub rate: CarrierRate,
    /// Whether the rate is demanded (a relaxed demand keeps its geometry only).
    pub demanded: bool,
    /// Distance from carrier to carrier in a queue.
    pub pitch: Metres,
    /// Speed, acceleration (at a share of 1) and jerk along the track.
    pub limits: Limits,
    /// Lateral limit in curves; infinite without limits, or when held by more than a squeeze.
    pub lateral: f64,
    /// Carrier and load together.
    pub mass: Kilograms,
}

/// The motor cannot move the load: `peak force * movers - friction` is not above zero.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ForceTooSmall {
    /// Force of all movers of the carrier.
    pub peak: Newtons,
    /// Friction to overcome.
    pub friction: Newtons,
}

/// What a carrier takes of the track with its load: `max(length * movers, extent)`, and of a pair that follows the SKU
/// `max(2 * length, opening + length - 2 * offset, opening + 2 * thickness)` (movers touching; movers outermost; paddles
/// outermost).
#[must_use]
pub fn span(carrier: &Carrier, load: &Load) -> Metres {
    let movers = carrier.length.m() * f64::from(carrier.movers);
    Metres::from_m(match &carrier.pair {
        None => movers.max(load.extent.m()),
        Some(pair) => {
            let opening = pair.opening(load).m();
            let outer_movers = opening + carrier.length.m() - 2.0 * pair.paddle_offset.m();
            movers.max(outer_movers).max(opening + 2.0 * pair.paddle_thickness.m())
        }
    })
}

/// `p = span + gap`.
#[must_use]
pub fn pitch(carrier: &Carrier, load: &Load) -> Metres {
    Metres::from_m(span(carrier, load).m() + carrier.gap.m())
}

/// Greatest acceleration at which friction under two paddles carries a held load, `2 * mu * squeeze / mass`; infinite where
/// no squeeze is given, or the load weighs nothing. A squeezed load without friction is not held at all.
#[must_use]
pub fn grip(carrier: &Carrier, load: &Load) -> f64 {
    match carrier.pair.and_then(|pair| pair.squeeze) {
        Some(squeeze) if load.held && load.mass.kg() > 0.0 => {
            2.0 * load.friction.unwrap_or(0.0) * squeeze.n() / load.mass.kg()
        }
        _ => f64::INFINITY,
    }
}

/// Sliding `f mu g`, tipping `f g base / (2 h)` and the tested value, whichever is least; infinite when held.
fn stability(load: &Load, base: Option<Metres>) -> f64 {
    if load.held {
        return f64::INFINITY;
    }
    let f = load.stability_factor;
    let slide = load.friction.map_or(f64::INFINITY, |mu| f * mu * GRAVITY_M_S2);
    let tip = match (base, load.cg_height) {
        (Some(base), Some(h)) if h.m() > 0.0 => f * GRAVITY_M_S2 * base.m() / (2.0 * h.m()),
        _ => f64::INFINITY,
    };
    let tested = load.max_acceleration.map_or(f64::INFINITY, Acceleration::m_s2);
    slide.min(tip).min(tested)
}

/// Derives how a load rides.
///
/// # Errors
/// [`ForceTooSmall`] when the peak force leaves nothing to accelerate with.
pub fn ride(carrier: &Carrier, load: &Load, rate: CarrierRate, demanded: bool) -> Result<Ride, ForceTooSmall> {
    let mass = carrier.mass.kg() + load.mass.kg();
    let mut a = carrier.max_acceleration.m_s2();
    if let Some(peak) = carrier.peak_force {
        let peak = peak.n() * f64::from(carrier.movers);
        let net = peak - carrier.friction_force.n();
        if net <= 0.0 {
            return Err(ForceTooSmall { peak: Newtons::from_n(peak), friction: carrier.friction_force });
        }
        a = a.min(net / mass);
    }
    let grip = grip(carrier, load);
    a = a.min(stability(load, load.base)).min(grip);
    Ok(Ride {
        rate,
        demanded,
        pitch: pitch(carrier, load),
        limits: Limits { speed: carrier.max_speed, acceleration: Acceleration::from_m_s2(a), jerk: carrier.max_jerk },
        lateral: stability(load, load.base_across.or(load.base)).min(grip),
        mass: Kilograms::from_kg(mass),
    })
}

impl Ride {
    /// The limits with the circuit's acceleration share (which scales `a`, not the lateral limit).
    #[must_use]
    pub fn limits_at(&self, share: f64) -> Limits {
        Limits { acceleration: Acceleration::from_m_s2(self.limits.acceleration.m_s2() * share), ..self.limits }
    }

    /// Speed in an end of radius `radius`: `v_c = min(v, sqrt(a_lat R))`; full speed for empty carriers.
    #[must_use]
    pub fn curve_speed(&self, radius: Metres, loaded: bool) -> Speed {
        let v = self.limits.speed.m_s();
        if loaded { Speed::from_m_s(v.min((self.lateral * radius.m()).sqrt())) } else { Speed::from_m_s(v) }
    }

    /// `phi` in carriers per second.
    #[must_use]
    pub fn phi(&self) -> f64 {
        self.rate.as_per_second()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Common practice, no source: a uniform block of base 0.1 m and height 0.3 m tips at
    /// g b / h = 3.27 m/s² (centre of gravity at half height); friction 0.5 of cardboard on cardboard slides at 4.90.
    #[test]
    fn tipping_and_sliding() {
        let block = Load {
            base: Some(Metres::from_m(0.1)),
            cg_height: Some(Metres::from_m(0.15)),
            stability_factor: 1.0,
            ..Load::default()
        };
        assert!((stability(&block, block.base) - 3.27).abs() < 0.005);
        let sliding = Load { friction: Some(0.5), stability_factor: 1.0, ..Load::default() };
        assert!((stability(&sliding, None) - 4.903).abs() < 0.001);
        assert!(stability(&Load { held: true, ..block }, block.base).is_infinite());
    }

    /// Curve speed sqrt(mu g R): mu 0.2, R 0.2 m: 0.626 m/s; mu 0.3, R 0.5 m: 1.213 m/s (common practice, no source; recomputed).
    #[test]
    fn curve_speed() {
        let carrier = Carrier {
            length: Metres::from_m(0.1),
            gap: Metres::ZERO,
            movers: 1,
            mass: Kilograms::from_kg(1.0),
            max_speed: Speed::from_m_s(4.0),
            max_acceleration: Acceleration::from_m_s2(10.0),
            max_jerk: None,
            peak_force: None,
            continuous_force: None,
            friction_force: Newtons::ZERO,
            pair: None,
            price: Money::ZERO,
        };
        for (mu, radius, expected) in [(0.2, 0.2, 0.626), (0.3, 0.25, 0.858), (0.3, 0.5, 1.213)] {
            let load = Load { friction: Some(mu), stability_factor: 1.0, ..Load::default() };
            let ride = ride(&carrier, &load, CarrierRate::ZERO, true).expect("no force limit");
            assert!((ride.curve_speed(Metres::from_m(radius), true).m_s() - expected).abs() < 0.001);
            assert!((ride.curve_speed(Metres::from_m(radius), false).m_s() - 4.0).abs() < 1e-12);
        }
    }

    /// Pairs of 0.1 m movers round a 0.2 m load with 10 mm of play (geometry by hand). Paddles over the middles: the movers
    /// are outermost, 0.21 + 0.1; paddles 60 mm outwards of the middles and 20 mm thick: 0.21 + 2 * 0.02, and the movers
    /// lie within 0.21 + 0.1 - 0.12 = 0.19 < 0.2, so that they touch before they grip. Inwards by 50 mm: 0.21 + 0.1 + 0.1.
    #[test]
    fn pairs_follow_the_load() {
        let pair = |offset: f64, thickness: f64| Carrier {
            length: Metres::from_m(0.1),
            gap: Metres::from_m(0.01),
            movers: 2,
            mass: Kilograms::from_kg(1.0),
            max_speed: Speed::from_m_s(4.0),
            max_acceleration: Acceleration::from_m_s2(50.0),
            max_jerk: None,
            peak_force: None,
            continuous_force: None,
            friction_force: Newtons::ZERO,
            pair: Some(Pair {
                play: Metres::from_m(0.01),
                paddle_offset: Metres::from_m(offset),
                paddle_thickness: Metres::from_m(thickness),
                squeeze: Some(Newtons::from_n(30.0)),
            }),
            price: Money::ZERO,
        };
        let load = Load {
            extent: Metres::from_m(0.2),
            mass: Kilograms::from_kg(2.0),
            friction: Some(0.4),
            held: true,
            ..Load::default()
        };
        for (offset, thickness, long, reaches) in
            [(0.0, 0.02, 0.31, true), (0.06, 0.02, 0.25, false), (-0.05, 0.0, 0.41, true), (0.05, 0.0, 0.21, true)]
        {
            let carrier = pair(offset, thickness);
            assert!((span(&carrier, &load).m() - long).abs() < 1e-12, "{offset} {thickness}");
            assert!((pitch(&carrier, &load).m() - long - 0.01).abs() < 1e-12);
            assert_eq!(carrier.pair.is_some_and(|p| p.reaches(&carrier, &load)), reaches, "{offset}");
        }
        // 2 * 0.4 * 30 N / 2 kg = 12 m/s2, along the track and across it; a load of twice the mass is carried at half of it.
        let carrier = pair(0.0, 0.0);
        let ride = ride(&carrier, &load, CarrierRate::ZERO, true).expect("no force limit");
        assert!((ride.limits.acceleration.m_s2() - 12.0).abs() < 1e-12 && (ride.lateral - 12.0).abs() < 1e-12);
        assert!((grip(&carrier, &Load { mass: Kilograms::from_kg(4.0), ..load }) - 6.0).abs() < 1e-12);
        assert!(grip(&carrier, &Load { held: false, ..load }).is_infinite());
    }
}
