//! Which requirements cannot hold together.
//!
//! A requirement is something that the customer or the engineer asks and could give up; physics and geometry are not
//! among them. A deletion filter over the requirements leaves a set that cannot hold together with all else relaxed, while
//! every set with one of them left out can.

use crate::cell::{Cell, Parts};
use crate::load::Load;
use crate::option::{Mode, StationOption};
use crate::study::{Clock, Outcome, any_plan};
use crate::units::{CarrierRate, Metres, Seconds};

/// Something that was asked and could be given up. Stations, sections (by the station before), SKUs and windows by index.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Requirement {
    /// A SKU's rate.
    Rate(usize),
    /// The floor.
    Floor,
    /// A place on the floor that must be missed, by index.
    KeepOut(usize),
    /// Most carriers.
    MaxCarriers,
    /// Most that the cell may cost.
    MaxPrice,
    /// Most modules in a straight.
    MaxModules,
    /// Ride-through of a section.
    RideThrough(usize),
    /// Least length of a section.
    MinLength(usize),
    /// Least time of a section.
    MinTime(usize),
    /// Longest time of a section.
    MaxTime(usize),
    /// Longest time of a window.
    WindowMax(usize),
    /// Least time of a window.
    WindowMin(usize),
    /// Side on which a station must stand.
    Side(usize),
    /// Side on which product comes in.
    Infeed,
    /// Side on which it leaves.
    Discharge,
    /// Which way carriers travel along the front.
    Hand,
    /// Tested acceleration of a SKU's load.
    LoadAcceleration(usize),
    /// A station's way of working, decided beforehand.
    FixedMode(usize),
    /// A station's heads, decided beforehand.
    FixedHeads(usize),
    /// The loop's form, decided beforehand.
    FixedForm,
    /// Modules in each straight, decided beforehand.
    FixedModules,
    /// Carriers, decided beforehand.
    FixedCarriers,
    /// Longest change from SKU to SKU, where plans must keep it.
    ChangeLimit,
}

/// Part of the time left that one question may take, so that a hard one leaves time for the others.
pub(crate) const PROBE_SHARE: f64 = 0.2;

/// Modules that a straight may have when their limit is relaxed.
const RELAXED_MODULES: u32 = 1000;

/// Every requirement that a cell states, those first that explain least, so that rates and floor stay when they can.
#[must_use]
pub fn requirements(cell: &Cell) -> Vec<Requirement> {
    let parts = cell.parts();
    let mut all = Vec::new();
    let stated = |asked: bool, r: Requirement| asked.then_some(r);
    for (k, sku) in parts.skus.iter().enumerate() {
        all.extend(stated(sku.load.max_acceleration.is_some() && !sku.load.held, Requirement::LoadAcceleration(k)));
    }
    for (i, station) in parts.stations.iter().enumerate() {
        all.extend(stated(station.side.is_some(), Requirement::Side(i)));
    }
    all.extend(stated(parts.openings.infeed.is_some(), Requirement::Infeed));
    all.extend(stated(parts.openings.discharge.is_some(), Requirement::Discharge));
    all.extend(stated(parts.openings.hand.is_some() && parts.openings.ends(), Requirement::Hand));
    for (i, s) in parts.sections.iter().enumerate() {
        all.extend(stated(s.min_length.m() > 0.0, Requirement::MinLength(i)));
        all.extend(stated(s.min_time.s() > 0.0, Requirement::MinTime(i)));
        all.extend(stated(s.ride_through.s() > 0.0, Requirement::RideThrough(i)));
        all.extend(stated(s.max_time.is_some(), Requirement::MaxTime(i)));
    }
    for (w, window) in parts.windows.iter().enumerate() {
        all.extend(stated(window.min.is_some(), Requirement::WindowMin(w)));
        all.extend(stated(window.max.is_some(), Requirement::WindowMax(w)));
    }
    for (i, station) in parts.stations.iter().enumerate() {
        all.extend(stated(station.fixed.mode.is_some(), Requirement::FixedMode(i)));
        all.extend(stated(station.fixed.heads.is_some(), Requirement::FixedHeads(i)));
    }
    all.extend(stated(parts.circuit.fixed.form.is_some(), Requirement::FixedForm));
    all.extend(stated(parts.circuit.fixed.modules.is_some(), Requirement::FixedModules));
    all.extend(stated(parts.circuit.fixed.carriers.is_some(), Requirement::FixedCarriers));
    all.extend(stated(parts.changes.kept_limit().is_some(), Requirement::ChangeLimit));
    all.push(Requirement::MaxModules);
    all.extend(stated(parts.circuit.max_carriers.is_some(), Requirement::MaxCarriers));
    all.extend(stated(parts.requirements.max_price.is_some(), Requirement::MaxPrice));
    for (i, place) in parts.keep_out.iter().enumerate() {
        all.extend(stated(place.asked, Requirement::KeepOut(i)));
    }
    all.extend(stated(parts.requirements.floor.is_some(), Requirement::Floor));
    for (k, sku) in parts.skus.iter().enumerate() {
        all.extend(stated(sku.demanded, Requirement::Rate(k)));
    }
    all
}

/// Gives a requirement up.
pub(crate) fn relax(parts: &mut Parts, requirement: Requirement) {
    match requirement {
        Requirement::Rate(k) => parts.skus[k].demanded = false,
        Requirement::Floor => parts.requirements.floor = None,
        Requirement::KeepOut(i) => parts.keep_out[i].asked = false,
        Requirement::MaxCarriers => parts.circuit.max_carriers = None,
        Requirement::MaxPrice => parts.requirements.max_price = None,
        Requirement::MaxModules => {
            parts.circuit.track.max_modules = parts.circuit.track.max_modules.max(RELAXED_MODULES);
        }
        Requirement::RideThrough(i) => parts.sections[i].ride_through = Seconds::ZERO,
        Requirement::MinLength(i) => parts.sections[i].min_length = Metres::ZERO,
        Requirement::MinTime(i) => parts.sections[i].min_time = Seconds::ZERO,
        Requirement::MaxTime(i) => parts.sections[i].max_time = None,
        Requirement::WindowMax(w) => parts.windows[w].max = None,
        Requirement::WindowMin(w) => parts.windows[w].min = None,
        Requirement::Side(i) => parts.stations[i].side = None,
        Requirement::Infeed => parts.openings.infeed = None,
        Requirement::Discharge => parts.openings.discharge = None,
        Requirement::Hand => parts.openings.hand = None,
        Requirement::FixedMode(i) => parts.stations[i].fixed.mode = None,
        Requirement::FixedHeads(i) => parts.stations[i].fixed.heads = None,
        Requirement::FixedForm => parts.circuit.fixed.form = None,
        Requirement::FixedModules => parts.circuit.fixed.modules = None,
        Requirement::FixedCarriers => parts.circuit.fixed.carriers = None,
        Requirement::ChangeLimit => parts.changes.keep_limit = false,
        Requirement::LoadAcceleration(k) => {
            parts.skus[k].load = Load { max_acceleration: None, ..parts.skus[k].load };
        }
    }
}

/// The cell with only these requirements; all others relaxed. None only if the parts no longer make a cell.
#[must_use]
pub fn keeping_only(cell: &Cell, kept: &[Requirement]) -> Option<Cell> {
    let mut parts = cell.parts().clone();
    for requirement in requirements(cell) {
        if !kept.contains(&requirement) {
            relax(&mut parts, requirement);
        }
    }
    Cell::new(parts).ok()
}

/// Requirements that cannot hold together.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Conflict {
    /// The set; empty when physics and geometry alone leave no plan.
    pub requirements: Vec<Requirement>,
    /// Whether leaving out any one of them was shown to help. False when time ran out on the way.
    pub minimal: bool,
}

/// Finds a smallest set by leaving out requirements as long as the rest still cannot be planned: in halves at first, then
/// one at a time.
#[must_use]
pub fn conflict(cell: &Cell, clock: &Clock<'_>) -> Conflict {
    let (requirements, minimal) = deletion(requirements(cell), |rest| {
        match keeping_only(cell, rest).map(|relaxed| any_plan(&relaxed, &clock.share(PROBE_SHARE))) {
            Some(Outcome::Impossible(_)) => Probe::Impossible,
            Some(Outcome::Planned(_)) | None => Probe::Possible,
            Some(Outcome::Stopped(..) | Outcome::Broken(..)) => Probe::Unknown,
        }
    });
    Conflict { requirements, minimal }
}

/// What asking for some requirements only said.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Probe {
    /// They cannot hold together.
    Impossible,
    /// They can.
    Possible,
    /// Not shown either way.
    Unknown,
}

/// Leaves out of a set that cannot hold together whatever is not needed for that; whether every one left was shown to be.
pub(crate) fn deletion<R: Copy>(all: Vec<R>, mut ask: impl FnMut(&[R]) -> Probe) -> (Vec<R>, bool) {
    let mut kept = all;
    let mut minimal = true;
    let mut chunk = kept.len().div_ceil(2).max(1);
    loop {
        let mut at = 0;
        while at < kept.len() {
            let end = (at + chunk).min(kept.len());
            let mut rest = kept.clone();
            rest.drain(at..end);
            match ask(&rest) {
                Probe::Impossible => kept = rest,
                Probe::Possible => at = end,
                Probe::Unknown => {
                    // Not shown either way: keep them and say so.
                    minimal = false;
                    at = end;
                }
            }
        }
        if chunk == 1 {
            return (kept, minimal);
        }
        chunk = chunk.div_ceil(2);
    }
}

/// A station none of whose options makes a SKU's rate.
#[derive(Clone, Debug, PartialEq)]
pub struct Shortfall {
    /// Station.
    pub station: usize,
    /// SKU.
    pub sku: usize,
    /// Its design rate.
    pub needed: CarrierRate,
    /// The most that any option of the station could do for it.
    pub best: CarrierRate,
    /// That option.
    pub mode: Mode,
    /// Its heads.
    pub heads: u32,
}

/// Every station that no option makes fast enough, with the SKU that it misses by most.
#[must_use]
pub fn shortfalls(cell: &Cell) -> Vec<Shortfall> {
    let rides = cell.rides();
    let mut all = Vec::new();
    for (station, of) in cell.parts().stations.iter().enumerate() {
        let options = of.allowed_options(rides, 1.0);
        if options.iter().any(|o| o.makes(rides)) {
            continue;
        }
        let mut worst: Option<(f64, Shortfall)> = None;
        for (sku, ride) in rides.iter().enumerate().filter(|(_, r)| r.phi() > 0.0) {
            let able = |o: &&StationOption| o.skus[sku].capacity.as_per_second();
            let Some(best) = options.iter().max_by(|a, b| able(a).total_cmp(&able(b))) else { continue };
            let share = able(&best) / ride.phi();
            let short = Shortfall {
                station,
                sku,
                needed: ride.rate,
                best: best.skus[sku].capacity,
                mode: best.mode,
                heads: best.heads,
            };
            if worst.as_ref().is_none_or(|(s, _)| share < *s) {
                worst = Some((share, short));
            }
        }
        all.extend(worst.map(|(_, short)| short));
    }
    all
}
