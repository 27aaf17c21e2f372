//! Quantities of the engine: one private SI number each, read and made only with the unit's name.
//!
//! Dimension is not the danger here; *what is counted* is. Carriers, cases and products per second
//! are all 1/s, so [`CarrierRate`], [`CaseRate`], [`ProductRate`] and [`StackRate`] are kept apart, and [`Micros`] is the integer
//! time of the exact path, so that ties are ties.

/// Standard gravity in m/s² (ISO 80000-3; the conventional value of the third CGPM, 1901).
pub const GRAVITY_M_S2: f64 = 9.80665;

/// Relative tolerance of "makes the rate" (model section 7).
pub const RATE_TOLERANCE: f64 = 1e-4;

/// Slack in metres by which two lengths count as equal.
pub const LENGTH_TOLERANCE_M: f64 = 1e-9;

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $make:ident, $read:ident $(, $make2:ident, $read2:ident, $factor:expr)?) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
        pub struct $name(f64);
        impl $name {
            /// Nothing of it.
            pub const ZERO: Self = Self(0.0);
            /// From the SI unit.
            #[must_use]
            pub const fn $make(value: f64) -> Self { Self(value) }
            /// In the SI unit.
            #[must_use]
            pub const fn $read(self) -> f64 { self.0 }
            $(
                /// From the unit that documents use.
                #[must_use]
                pub fn $make2(value: f64) -> Self { Self(value * $factor) }
                /// In the unit that documents use.
                #[must_use]
                pub fn $read2(self) -> f64 { self.0 / $factor }
            )?
        }
    };
}

quantity!(
    /// A length.
    Metres, from_m, m, from_mm, mm, 1e-3
);
quantity!(
    /// A duration on the continuous path (rows, closed forms).
    Seconds, from_s, s
);
quantity!(
    /// A mass.
    Kilograms, from_kg, kg
);
quantity!(
    /// A force.
    Newtons, from_n, n
);
quantity!(
    /// A speed.
    Speed, from_m_s, m_s
);
quantity!(
    /// An acceleration.
    Acceleration, from_m_s2, m_s2
);
quantity!(
    /// A jerk.
    Jerk, from_m_s3, m_s3
);
quantity!(
    /// A floor area.
    Area, from_m2, m2
);
quantity!(
    /// Carriers per second past a point of one circuit.
    CarrierRate, per_second, as_per_second, per_minute, as_per_minute, 1.0 / 60.0
);
quantity!(
    /// Cases per second out of the cell.
    CaseRate, per_second, as_per_second, per_minute, as_per_minute, 1.0 / 60.0
);
quantity!(
    /// Products per second past a point of the product stream.
    ProductRate, per_second, as_per_second, per_minute, as_per_minute, 1.0 / 60.0
);
quantity!(
    /// Stacks per second out of the product stream.
    StackRate, per_second, as_per_second, per_minute, as_per_minute, 1.0 / 60.0
);
quantity!(
    /// An amount in the user's own currency.
    Money, from_units, units
);

impl std::ops::Add for Money {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl std::ops::Mul<f64> for Money {
    type Output = Self;
    fn mul(self, count: f64) -> Self {
        Self(self.0 * count)
    }
}

/// Whole microseconds: the only time that the exact rate and the timed run know.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Micros(i64);

impl Micros {
    /// No time.
    pub const ZERO: Self = Self(0);

    /// The one place where seconds become whole microseconds: rounded to nearest, halves away from zero.
    #[must_use]
    pub fn nearest(time: Seconds) -> Self {
        Self::nearest_s(time.s())
    }

    /// As [`Micros::nearest`], from a plain number of seconds.
    #[must_use]
    #[allow(clippy::cast_possible_truncation)]
    pub fn nearest_s(seconds: f64) -> Self {
        // The cast saturates; callers hold times below a day or so.
        Self((seconds * 1e6).round() as i64)
    }

    /// From a count of microseconds.
    #[must_use]
    pub const fn from_us(us: i64) -> Self {
        Self(us)
    }

    /// The count of microseconds.
    #[must_use]
    pub const fn us(self) -> i64 {
        self.0
    }

    /// In seconds.
    #[must_use]
    #[allow(clippy::cast_precision_loss)]
    pub fn seconds(self) -> f64 {
        self.0 as f64 * 1e-6
    }
}

/// Greatest common divisor.
#[must_use]
pub fn gcd(a: u32, b: u32) -> u32 {
    if b == 0 { a } else { gcd(b, a % b) }
}

/// Least common multiple.
#[must_use]
pub fn lcm(a: u32, b: u32) -> u32 {
    a / gcd(a, b) * b
}

/// Rounds up, taking off 1e-9 first (model section 5: "other roundings up").
#[must_use]
pub fn ceil_tolerant(x: f64) -> f64 {
    (x - 1e-9).ceil()
}

/// An exact rate: whole carriers in whole microseconds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ExactRate {
    /// Carriers that pass.
    pub carriers: i64,
    /// In this many microseconds.
    pub micros: i64,
}

impl ExactRate {
    /// Nothing ever moves.
    pub const STUCK: Self = Self { carriers: 0, micros: 1 };

    /// In lowest terms, so that equal rates compare equal. `micros` must be positive.
    #[must_use]
    pub fn new(carriers: i64, micros: i64) -> Self {
        fn gcd(a: i64, b: i64) -> i64 {
            if b == 0 { a } else { gcd(b, a % b) }
        }
        let g = gcd(carriers, micros).max(1);
        Self { carriers: carriers / g, micros: micros / g }
    }

    /// As a quantity.
    #[must_use]
    #[allow(clippy::cast_precision_loss)]
    pub fn rate(self) -> CarrierRate {
        CarrierRate::per_second(self.carriers as f64 / self.micros as f64 * 1e6)
    }

    /// Whether it is at least `target` within [`RATE_TOLERANCE`].
    #[must_use]
    pub fn makes(self, target: CarrierRate) -> bool {
        self.rate().as_per_second() >= target.as_per_second() * (1.0 - RATE_TOLERANCE)
    }
}
