//! The checked domain: one cell with one circuit, in the engine's own quantities.
//!
//! [`Cell::new`] is the only way in. What it holds cannot be inconsistent, so nothing behind it checks again.

use crate::adjust::Changes;
use crate::ground::{KeepOut, spot};
use crate::load::{Carrier, ForceTooSmall, Load, Ride, grip, ride, span};
use crate::openings::Openings;
use crate::section::SectionLimits;
use crate::station::Station;
use crate::stream::{Demand, Feed, Shortfall};
use crate::track::{Clearance, Footprint, Surroundings, Track};
use crate::units::{Area, CarrierRate, CaseRate, GRAVITY_M_S2, Kilograms, Metres, Money, Seconds};

/// What one carrier of the circuit carries.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Carries {
    /// Cases.
    Case,
    /// Stacks.
    Stack,
}

/// What the customer asks of the cell as a whole.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Requirements {
    /// Net rate over the rate while running, in (0, 1].
    pub efficiency: f64,
    /// Design rate over net rate / efficiency, at least 1.
    pub headroom: f64,
    /// Kept free all round.
    pub clearance: Clearance,
    /// The floor, if it is limited.
    pub floor: Option<(Metres, Metres)>,
    /// Plans so close to the least footprint count as equal in floor.
    pub footprint_tolerance: Area,
    /// Most that stations, track and carriers may cost together, if that is limited.
    pub max_price: Option<Money>,
}

/// One product in one pack pattern.
#[derive(Clone, Debug, PartialEq)]
pub struct Sku {
    /// Its id in the document.
    pub id: String,
    /// Net rate of cases.
    pub case_rate: CaseRate,
    /// Whether that rate is demanded; without it the SKU keeps its geometry only (used to find conflicts).
    pub demanded: bool,
    /// Stacks in a case.
    pub stacks_per_case: u32,
    /// What a carrier of the circuit carries.
    pub load: Load,
}

/// What was decided beforehand about the loop.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct FixedLoop {
    /// Its form, by index.
    pub form: Option<usize>,
    /// Modules in each straight.
    pub modules: Option<u32>,
    /// Carriers.
    pub carriers: Option<u32>,
}

/// The loop and its carriers.
#[derive(Clone, Debug, PartialEq)]
pub struct Circuit {
    /// Its id in the document.
    pub id: String,
    /// What a carrier holds.
    pub carries: Carries,
    /// How many of it.
    pub items_per_carrier: u32,
    /// The carrier.
    pub carrier: Carrier,
    /// The track.
    pub track: Track,
    /// Most carriers.
    pub max_carriers: Option<u32>,
    /// What was decided beforehand.
    pub fixed: FixedLoop,
}

/// When a window starts to count.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Since {
    /// From being taken in at the first station.
    TakenIn,
    /// From leaving it.
    Left,
}

/// A time that spans several stations, until being taken in at `to`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Window {
    /// Index of the first station in travel order.
    pub from: usize,
    /// Index of the last.
    pub to: usize,
    /// Start of the count.
    pub since: Since,
    /// Longest time allowed.
    pub max: Option<Seconds>,
    /// Shortest time allowed.
    pub min: Option<Seconds>,
}

/// All that a cell is made of. `sections[i]` follows `stations[i]` in travel order.
#[derive(Clone, Debug, PartialEq)]
pub struct Parts {
    /// Its name.
    pub name: String,
    /// What is asked of the whole.
    pub requirements: Requirements,
    /// Products, at least one.
    pub skus: Vec<Sku>,
    /// The loop.
    pub circuit: Circuit,
    /// In travel order, at least one.
    pub stations: Vec<Station>,
    /// As many as stations.
    pub sections: Vec<SectionLimits>,
    /// Times across several stations.
    pub windows: Vec<Window>,
    /// What changing from SKU to SKU depends on.
    pub changes: Changes,
    /// What the cell must miss on the floor.
    pub keep_out: Vec<KeepOut>,
    /// The product stream that feeds it, where that was given.
    pub feed: Option<Feed>,
    /// On which sides product comes in and leaves, and the hand.
    pub openings: Openings,
}

/// Why parts do not make a cell.
#[derive(Clone, Debug, PartialEq)]
pub enum Fault {
    /// A list is empty or two lists that belong together differ in length; names the list.
    Shape(&'static str),
    /// The motor cannot accelerate the load of the SKU with this index.
    Force(usize, ForceTooSmall),
    /// The product stream does not keep a limit.
    Feed(Shortfall),
}

/// A checked cell.
#[derive(Clone, Debug, PartialEq)]
pub struct Cell {
    parts: Parts,
    rides: Vec<Ride>,
}

impl Cell {
    /// Checks the parts and derives the values of model section 3.
    ///
    /// # Errors
    /// Every [`Fault`] at once.
    pub fn new(parts: Parts) -> Result<Self, Vec<Fault>> {
        let mut faults = Vec::new();
        let n = parts.stations.len();
        if n == 0 {
            faults.push(Fault::Shape("stations"));
        }
        if parts.sections.len() != n {
            faults.push(Fault::Shape("sections"));
        }
        if parts.skus.is_empty() {
            faults.push(Fault::Shape("skus"));
        }
        if parts.circuit.track.forms.is_empty() {
            faults.push(Fault::Shape("forms"));
        }
        let skus = parts.skus.len();
        let whole = parts.stations.iter().all(|s| {
            s.intermittent.as_ref().is_none_or(|m| m.work.len() == skus)
                && s.continuous.as_ref().is_none_or(|m| m.work.len() == skus)
        });
        if !whole {
            faults.push(Fault::Shape("work"));
        }
        if parts.windows.iter().any(|w| w.from >= n || w.to >= n) {
            faults.push(Fault::Shape("windows"));
        }
        if parts.openings.all().any(|opening| opening.station >= n) {
            faults.push(Fault::Shape("openings"));
        }
        if !parts.changes.fits(n, skus) {
            faults.push(Fault::Shape("adjustments"));
        }
        if let Some(feed) = &parts.feed {
            if feed.products.len() != skus || feed.belts.is_empty() || !parts.stations.iter().any(|s| s.id == feed.into)
            {
                faults.push(Fault::Shape("feed"));
            }
            faults.extend(feed_faults(&parts));
        }
        let mut rides = Vec::with_capacity(skus);
        for (index, sku) in parts.skus.iter().enumerate() {
            let rate = carrier_rate(&parts, sku);
            match ride(&parts.circuit.carrier, &sku.load, rate, sku.demanded) {
                Ok(ride) => rides.push(ride),
                Err(force) => faults.push(Fault::Force(index, force)),
            }
        }
        if faults.is_empty() { Ok(Self { parts, rides }) } else { Err(faults) }
    }

    /// What it is made of.
    #[must_use]
    pub fn parts(&self) -> &Parts {
        &self.parts
    }

    /// How each SKU rides, in the order of the SKUs.
    #[must_use]
    pub fn rides(&self) -> &[Ride] {
        &self.rides
    }

    /// Whether a footprint has room on the floor, where that is limited.
    #[must_use]
    pub fn has_room(&self, footprint: &Footprint) -> bool {
        self.parts.requirements.floor.is_none_or(|floor| spot(footprint, floor, &self.parts.keep_out).is_some())
    }

    /// The footprint of the cell with what feeds it, from that of loop and stations.
    #[must_use]
    pub fn with_feed(&self, own: Footprint) -> Footprint {
        let clearance = self.parts.requirements.clearance;
        self.parts.feed.as_ref().map_or(own, |feed| feed.beside(&own, &clearance))
    }

    /// What each SKU asks of the product stream; none where nothing is demanded.
    #[must_use]
    pub fn demands(&self) -> Vec<Option<Demand>> {
        demands(&self.parts)
    }

    /// Number of stations.
    #[must_use]
    pub fn len(&self) -> usize {
        self.parts.stations.len()
    }

    /// Never: a cell has at least one station.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.parts.stations.is_empty()
    }

    /// What the footprint depends on beside form and modules.
    #[must_use]
    pub fn surroundings(&self) -> Surroundings {
        // As in the pitch, an opposed pair is as long as its two movers, or as it opens for the longest load.
        let carrier = &self.parts.circuit.carrier;
        let spans = self.parts.skus.iter().map(|s| span(carrier, &s.load).m());
        Surroundings {
            width: self.parts.circuit.track.width,
            longest: Metres::from_m(spans.fold(carrier.length.m() * f64::from(carrier.movers), f64::max)),
            clearance: self.parts.requirements.clearance,
        }
    }

    /// Mass of a carrier in the section after station `index`: with its load, or without where it is travelled empty.
    #[must_use]
    pub fn mass_there(&self, index: usize, sku: usize) -> Kilograms {
        if self.parts.sections[index].loaded { self.rides[sku].mass } else { self.parts.circuit.carrier.mass }
    }

    /// Whether carriers may be upside down with their loads in the section after station `index`:
    /// it is travelled empty, or every load is held (model section 6), by a squeeze that carries its weight where one is given.
    #[must_use]
    pub fn may_return_below(&self, index: usize) -> bool {
        let carrier = &self.parts.circuit.carrier;
        let hangs = |load: &Load| load.held && grip(carrier, load) >= GRAVITY_M_S2;
        !self.parts.sections[index].loaded || self.parts.skus.iter().all(|s| hangs(&s.load))
    }
}

/// What each SKU asks of the product stream; none where nothing is demanded.
pub(crate) fn demands(parts: &Parts) -> Vec<Option<Demand>> {
    let r = &parts.requirements;
    let demand = |sku: &Sku| {
        let design = CaseRate::per_second(sku.case_rate.as_per_second() * r.headroom / r.efficiency);
        sku.demanded.then_some(Demand { net: sku.case_rate, design })
    };
    parts.skus.iter().map(demand).collect()
}

/// What the product stream does not keep.
pub(crate) fn feed_faults(parts: &Parts) -> Vec<Fault> {
    let short = parts.feed.as_ref().map(|feed| feed.shortfalls(&demands(parts)));
    short.unwrap_or_default().into_iter().map(Fault::Feed).collect()
}

/// `phi = case rate * items per case / items per carrier * headroom / efficiency` (model section 3).
fn carrier_rate(parts: &Parts, sku: &Sku) -> CarrierRate {
    if !sku.demanded {
        return CarrierRate::ZERO;
    }
    let items = match parts.circuit.carries {
        Carries::Case => 1.0,
        Carries::Stack => f64::from(sku.stacks_per_case),
    };
    let r = &parts.requirements;
    CarrierRate::per_second(
        sku.case_rate.as_per_second() * items / f64::from(parts.circuit.items_per_carrier) * r.headroom / r.efficiency,
    )
}
