//! What the least change of one value is that would do.
//!
//! Every probe is planned anew: a value is said to do only when a plan was found with it, and said to be too little only
//! when it was proven that there is none.

pub mod several;

use crate::adjust::availability;
use crate::cell::{Cell, Parts};
use crate::explain::{Requirement, keeping_only, requirements};
use crate::study::{Clock, Outcome, any_plan};
use crate::units::{CaseRate, Metres, Money, Seconds};

/// Largest multiple of what is asked that is tried.
const MOST_TIMES: f64 = 1024.0;

/// Counts beyond this are not tried.
const MOST_COUNT: f64 = 100_000.0;

/// What the change of one requirement, with all others as asked, comes to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Relief {
    /// Even giving it up does not help: another conflict remains. Proven.
    NotAlone,
    /// Giving it up helps; there is nothing in between.
    GivenUp,
    /// As a multiple of what is asked: this much does (a plan was found), and that much does not (proven).
    Times {
        /// Multiple that does.
        does: f64,
        /// Multiple nearer to what is asked that does not.
        too_little: f64,
    },
    /// Not known: time ran out.
    Unknown,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Way {
    /// A limit from above: more of it is easier.
    Up,
    /// A demand: less of it is easier.
    Down,
    /// A decision, which has no size.
    Off,
}

/// The requirement's size and which way is easier; whole where it counts something.
fn size(cell: &Cell, requirement: Requirement) -> (Way, Option<u32>) {
    use Requirement as R;
    let parts = cell.parts();
    match requirement {
        R::Rate(_) | R::RideThrough(_) | R::MinLength(_) | R::MinTime(_) | R::WindowMin(_) | R::KeepOut(_) => {
            (Way::Down, None)
        }
        R::Floor | R::MaxPrice | R::MaxTime(_) | R::WindowMax(_) | R::LoadAcceleration(_) | R::ChangeLimit => {
            (Way::Up, None)
        }
        R::MaxCarriers => (Way::Up, parts.circuit.max_carriers),
        R::MaxModules => (Way::Up, Some(parts.circuit.track.max_modules)),
        R::Side(_) | R::Infeed | R::Discharge | R::Hand => (Way::Off, None),
        R::FixedMode(_) | R::FixedHeads(_) | R::FixedForm | R::FixedModules | R::FixedCarriers => (Way::Off, None),
    }
}

/// The cell with one requirement at a multiple of what is asked. None where that makes no cell.
#[must_use]
pub fn at_times(cell: &Cell, requirement: Requirement, times: f64) -> Option<Cell> {
    let mut parts = cell.parts().clone();
    set(&mut parts, requirement, times);
    Cell::new(parts).ok()
}

fn whole(count: u32, times: f64) -> u32 {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // Within 0 and MOST_COUNT.
    let scaled = (f64::from(count) * times).round().clamp(1.0, MOST_COUNT) as u32;
    scaled
}

fn set(parts: &mut Parts, requirement: Requirement, times: f64) {
    use Requirement as R;
    let seconds = |s: Seconds| Seconds::from_s(s.s() * times);
    match requirement {
        R::Rate(k) => {
            let rate = &mut parts.skus[k].case_rate;
            *rate = CaseRate::per_second(rate.as_per_second() * times);
        }
        R::Floor => {
            parts.requirements.floor =
                parts.requirements.floor.map(|(a, b)| (Metres::from_m(a.m() * times), Metres::from_m(b.m() * times)));
        }
        R::KeepOut(i) => {
            // Smaller about its middle.
            let place = &mut parts.keep_out[i];
            let (long, wide) = (place.length.m(), place.width.m());
            place.x = Metres::from_m(place.x.m() + long * (1.0 - times) / 2.0);
            place.y = Metres::from_m(place.y.m() + wide * (1.0 - times) / 2.0);
            (place.length, place.width) = (Metres::from_m(long * times), Metres::from_m(wide * times));
        }
        R::MaxCarriers => parts.circuit.max_carriers = parts.circuit.max_carriers.map(|most| whole(most, times)),
        R::MaxPrice => {
            let most = &mut parts.requirements.max_price;
            *most = most.map(|most| Money::from_units(most.units() * times));
        }
        R::MaxModules => parts.circuit.track.max_modules = whole(parts.circuit.track.max_modules, times),
        R::RideThrough(i) => parts.sections[i].ride_through = seconds(parts.sections[i].ride_through),
        R::MinLength(i) => parts.sections[i].min_length = Metres::from_m(parts.sections[i].min_length.m() * times),
        R::MinTime(i) => parts.sections[i].min_time = seconds(parts.sections[i].min_time),
        R::MaxTime(i) => parts.sections[i].max_time = parts.sections[i].max_time.map(seconds),
        R::WindowMax(w) => parts.windows[w].max = parts.windows[w].max.map(seconds),
        R::WindowMin(w) => parts.windows[w].min = parts.windows[w].min.map(seconds),
        R::LoadAcceleration(k) => {
            let load = &mut parts.skus[k].load;
            load.max_acceleration =
                load.max_acceleration.map(|a| crate::units::Acceleration::from_m_s2(a.m_s2() * times));
        }
        R::ChangeLimit => change_limit(parts, times),
        R::Side(_) | R::Infeed | R::Discharge | R::Hand => {}
        R::FixedMode(_) | R::FixedHeads(_) | R::FixedForm | R::FixedModules | R::FixedCarriers => {}
    }
}

/// A longer change takes more of the planned time where changes lie inside it.
fn change_limit(parts: &mut Parts, times: f64) {
    let Some(limit) = parts.changes.limit else { return };
    let longer = Seconds::from_s(limit.s() * times);
    if let Some((planned, changes)) = parts.changes.inside {
        let left = |limit| availability(planned, changes, limit);
        parts.requirements.efficiency *= left(longer) / left(limit);
    }
    parts.changes.limit = Some(longer);
}

/// Whether there is a plan; none when time ran out.
fn possible(cell: Option<&Cell>, clock: &Clock<'_>) -> Option<bool> {
    match any_plan(cell?, &clock.share(0.5)) {
        Outcome::Planned(_) => Some(true),
        Outcome::Impossible(_) => Some(false),
        Outcome::Stopped(..) | Outcome::Broken(..) => None,
    }
}

/// The least change of one requirement of an impossible cell that would do with all else as asked, to an accuracy (a
/// share of what is asked; counts to the last one). For a cell that can be planned the answer means nothing.
#[must_use]
pub fn relief(cell: &Cell, requirement: Requirement, accuracy: f64, clock: &Clock<'_>) -> Relief {
    let kept: Vec<Requirement> = requirements(cell).into_iter().filter(|r| *r != requirement).collect();
    match possible(keeping_only(cell, &kept).as_ref(), clock) {
        Some(true) => {}
        Some(false) => return Relief::NotAlone,
        None => return Relief::Unknown,
    }
    let probe = |times: f64| possible(at_times(cell, requirement, times).as_ref(), clock);
    least_change(size(cell, requirement), accuracy, probe)
}

/// The least change of something of this size that a probe says would do; giving it up does.
fn least_change((way, count): (Way, Option<u32>), accuracy: f64, mut probe: impl FnMut(f64) -> Option<bool>) -> Relief {
    // Less than half a count makes no difference.
    let accuracy = count.map_or(accuracy, |count| 0.5 / f64::from(count.max(1)));
    let snap = |times: f64| count.map_or(times, |count| f64::from(whole(count, times)) / f64::from(count.max(1)));
    let (mut does, mut too_little) = match way {
        Way::Off => return Relief::GivenUp,
        Way::Down => (0.0, 1.0),
        Way::Up => {
            let (mut below, mut times) = (1.0, 2.0);
            loop {
                match probe(times) {
                    Some(true) => break (times, below),
                    Some(false) if times < MOST_TIMES => (below, times) = (times, times * 2.0),
                    Some(false) => return Relief::GivenUp,
                    None => return Relief::Unknown,
                }
            }
        }
    };
    while (does - too_little).abs() > accuracy * (1.0 + 1e-9) {
        let middle = snap(0.5 * (does + too_little));
        if middle == does || middle == too_little {
            break;
        }
        match probe(middle) {
            Some(true) => does = middle,
            Some(false) => too_little = middle,
            // What is known so far holds, if less exactly than was asked.
            None if does < MOST_TIMES => break,
            None => return Relief::Unknown,
        }
    }
    Relief::Times { does, too_little }
}

/// The cell with every demanded rate multiplied.
#[must_use]
pub fn at_rates(cell: &Cell, times: f64) -> Option<Cell> {
    let mut parts = cell.parts().clone();
    for k in 0..parts.skus.len() {
        set(&mut parts, Requirement::Rate(k), times);
    }
    Cell::new(parts).ok()
}

/// How far all rates together can rise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LargestRate {
    /// A plan was found with the rates multiplied by this.
    pub does: f64,
    /// With this it is proven that there is none; none where the search did not get so far.
    pub too_much: Option<f64>,
}

/// The largest multiple of all rates that can be planned, to an accuracy, from `from` on, which is known to do. Takes it
/// that what is impossible at one rate is so at every higher one.
#[must_use]
pub fn largest_rate(cell: &Cell, from: f64, accuracy: f64, clock: &Clock<'_>) -> LargestRate {
    largest(from, accuracy, |times| possible(at_rates(cell, times).as_ref(), clock))
}

/// The largest multiple that a probe says can be planned.
fn largest(from: f64, accuracy: f64, mut probe: impl FnMut(f64) -> Option<bool>) -> LargestRate {
    let (mut does, mut step) = (from, accuracy);
    let mut too_much = loop {
        let next = does + step;
        match probe(next) {
            Some(true) => (does, step) = (next, step * 2.0),
            Some(false) => break next,
            None => return LargestRate { does, too_much: None },
        }
        if does > MOST_TIMES {
            return LargestRate { does, too_much: None };
        }
    };
    while too_much - does > accuracy * (1.0 + 1e-9) {
        let middle = 0.5 * (does + too_much);
        match probe(middle) {
            Some(true) => does = middle,
            Some(false) => too_much = middle,
            None => break,
        }
    }
    LargestRate { does, too_much: Some(too_much) }
}
