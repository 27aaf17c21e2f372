//! The track between two stations: slots, lag, and the slots that two neighbours need (model section 5).

use crate::load::Ride;
use crate::track::Form;
use crate::units::{Metres, Seconds, ceil_tolerant, gcd};

/// Limits of one section.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SectionLimits {
    /// Must absorb the flow for so long while the station after it stands.
    pub ride_through: Seconds,
    /// Least length.
    pub min_length: Metres,
    /// Least time between leaving and being ready.
    pub min_time: Seconds,
    /// Most time between leaving and being taken in.
    pub max_time: Option<Seconds>,
    /// Whether carriers are loaded here.
    pub loaded: bool,
}

impl Default for SectionLimits {
    fn default() -> Self {
        Self {
            ride_through: Seconds::ZERO,
            min_length: Metres::ZERO,
            min_time: Seconds::ZERO,
            max_time: None,
            loaded: true,
        }
    }
}

/// Which ends of the loop a section holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Ends {
    /// It lies on one straight.
    None,
    /// It goes round one end.
    One,
    /// It goes round both ends and along the whole straight between them.
    Both,
}

impl Ends {
    /// How many ends.
    #[must_use]
    pub fn count(self) -> u32 {
        match self {
            Self::None => 0,
            Self::One => 1,
            Self::Both => 2,
        }
    }

    /// Arc length inside the section.
    #[must_use]
    pub fn arc(self, form: &Form) -> Metres {
        Metres::from_m(f64::from(self.count()) * form.end_length().m())
    }

    /// Least length of a section that holds these ends on straights of length `straight`.
    #[must_use]
    pub fn least_length(self, form: &Form, straight: Metres) -> Metres {
        let whole = if self == Self::Both { straight.m() } else { 0.0 };
        Metres::from_m(self.arc(form).m() + whole)
    }
}

/// Slots of a section: `floor(length / p + 1e-6)`.
#[must_use]
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
pub fn slots(length: Metres, ride: &Ride) -> u32 {
    (length.m() / ride.pitch.m() + 1e-6).floor().clamp(0.0, 1e9) as u32
}

/// Least length that gives so many slots.
#[must_use]
pub fn length_for(slots: u32, ride: &Ride) -> Metres {
    // The 1e-6 of the rule is left in hand, so that a sum of such lengths cannot lose a slot by rounding.
    Metres::from_m(f64::from(slots) * ride.pitch.m())
}

/// Slots that any section between batches `up` and `down` needs:
/// `b + d - gcd(b, d) + ceil(phi * ride-through)`.
#[must_use]
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
pub fn base_slots(up: u32, down: u32, ride: &Ride, ride_through: Seconds) -> u32 {
    let waiting = ceil_tolerant(ride.phi() * ride_through.s()).clamp(0.0, 1e9) as u32;
    up + down - gcd(up, down) + waiting
}

/// What the ends add to the time of a move: `A (1/v_c - 1/v) + (v - v_c)^2 / (a v)`.
#[must_use]
pub fn ends_time(ride: &Ride, share: f64, form: &Form, ends: Ends, loaded: bool) -> Seconds {
    if ends == Ends::None {
        return Seconds::ZERO;
    }
    let v = ride.limits.speed.m_s();
    let vc = ride.curve_speed(form.radius, loaded).m_s();
    let a = ride.limits_at(share).acceleration.m_s2();
    let arc = ends.arc(form).m();
    Seconds::from_s(arc * (1.0 / vc - 1.0 / v) + (v - vc) * (v - vc) / (a * v))
}

/// From leaving the station before to being ready at the station after.
#[must_use]
pub fn lag(
    ride: &Ride,
    share: f64,
    form: &Form,
    ends: Ends,
    limits: &SectionLimits,
    length: Metres,
    tail: Metres,
) -> Seconds {
    let way = Metres::from_m(length.m() + tail.m());
    let drive = ride.limits_at(share).time(way).s() + ends_time(ride, share, form, ends, limits.loaded).s();
    Seconds::from_s(drive.max(limits.min_time.s()))
}
