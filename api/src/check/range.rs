//! What numbers of each kind may be. The upper ends are far beyond any cell; they keep sums finite, and catch a value
//! that was meant in another unit. "Above 0" has a least value of its own, so that quotients stay finite too.

use std::fmt;

/// From least to most, both included.
pub(super) struct Range {
    least: f64,
    most: f64,
    above_zero: bool,
}

const fn from_zero(most: f64) -> Range {
    Range { least: 0.0, most, above_zero: false }
}

const fn above_zero(least: f64, most: f64) -> Range {
    Range { least, most, above_zero: true }
}

/// Lengths that may be nothing, in millimetres.
pub(super) const LENGTH: Range = from_zero(1e6);
/// Distances to either side, in millimetres.
pub(super) const EITHER_WAY: Range = Range { least: -1e6, most: 1e6, above_zero: false };
/// Lengths of things, in millimetres.
pub(super) const SIZE: Range = above_zero(0.01, 1e6);
/// Lengths of which a loop holds many, in millimetres.
pub(super) const UNIT: Range = above_zero(1.0, 1e6);
/// Times that may be nothing, in seconds.
pub(super) const TIME: Range = from_zero(1e5);
/// Times of work, in seconds.
pub(super) const DURATION: Range = above_zero(1e-6, 1e5);
/// Times between failures and of repair, in seconds.
pub(super) const LONG_DURATION: Range = above_zero(1e-3, 1e9);
/// Times by hand that may be nothing, in minutes.
pub(super) const MINUTES: Range = from_zero(1e4);
/// Times of a week, in minutes.
pub(super) const SPAN: Range = above_zero(1e-6, 1e5);
/// Times of a week that may be nothing, in minutes.
pub(super) const PAUSE: Range = from_zero(1e5);
/// Cases in a week.
pub(super) const CASES: Range = from_zero(1e9);
/// Speeds of adjustments, in millimetres per second.
pub(super) const SETTING_SPEED: Range = above_zero(1e-3, 1e6);
/// Speeds, in metres per second.
pub(super) const SPEED: Range = above_zero(1e-3, 100.0);
/// Standard deviations over means.
pub(super) const VARIATION: Range = above_zero(1e-3, 10.0);
/// How many times as much.
pub(super) const FACTOR: Range = above_zero(1e-3, 1e3);
/// Accelerations, in metres per second squared.
pub(super) const ACCELERATION: Range = above_zero(1e-3, 1e4);
/// Jerks, in metres per second cubed.
pub(super) const JERK: Range = above_zero(1e-2, 1e7);
/// Masses, in kilograms.
pub(super) const MASS: Range = from_zero(1e5);
/// Forces of motors, in newtons.
pub(super) const FORCE: Range = above_zero(1e-3, 1e7);
/// Friction forces, in newtons.
pub(super) const RESISTANCE: Range = from_zero(1e7);
/// Simulated time, in hours.
pub(super) const HOURS: Range = above_zero(1e-3, 1000.0);
/// Half-widths of intervals, as a share.
pub(super) const HALF_WIDTH: Range = above_zero(1e-6, 1.0);
/// Amounts of money.
pub(super) const PRICE: Range = from_zero(1e12);
/// Rates, per minute.
pub(super) const RATE: Range = above_zero(1e-4, 1e5);
/// Coefficients of friction.
pub(super) const FRICTION: Range = above_zero(1e-3, 10.0);
/// Shares of a whole.
pub(super) const SHARE: Range = above_zero(1e-3, 1.0);
/// Factors upwards.
pub(super) const HEADROOM: Range = Range { least: 1.0, most: 100.0, above_zero: false };
/// Floor areas, in square metres.
pub(super) const AREA: Range = from_zero(1e6);

impl Range {
    pub(super) fn holds(&self, number: f64) -> bool {
        (self.least..=self.most).contains(&number)
    }
}

impl fmt::Display for Range {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.above_zero {
            write!(f, "above 0 (from {} on) and at most {}", self.least, self.most)
        } else {
            write!(f, "at least {} and at most {}", self.least, self.most)
        }
    }
}

/// What a count may be, both ends included.
pub(super) struct Counts(pub(super) u32, pub(super) u32);

/// Replications of a simulation.
pub(super) const REPLICATIONS: Counts = Counts(10, 100_000);
/// Seeds of chance.
pub(super) const SEED: Counts = Counts(0, u32::MAX);
/// Heads and batches.
pub(super) const HEADS: Counts = Counts(1, 64);
/// People.
pub(super) const PEOPLE: Counts = Counts(1, 100);
/// Lots of a SKU in a week.
pub(super) const LOTS: Counts = Counts(0, 100);
/// Carriers' worth of what waits before a station.
pub(super) const ROOM: Counts = Counts(0, 1_000_000);
/// Modules in one straight.
pub(super) const MODULES: Counts = Counts(1, 1000);
/// Movers of one carrier.
pub(super) const MOVERS: Counts = Counts(1, 2);
/// Carriers on a loop.
pub(super) const CARRIERS: Counts = Counts(1, 10_000);
/// Lanes of a stacker.
pub(super) const LANES: Counts = Counts(1, 64);
/// Products that can wait before a lane.
pub(super) const PLACES: Counts = Counts(0, 10_000);
/// Products in a stack, stacks in a case, items on a carrier.
pub(super) const ITEMS: Counts = Counts(1, 10_000);
