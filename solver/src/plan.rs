//! A finished plan: what was chosen, where it lies, how many carriers. The input of every judge.

use crate::cell::Cell;
use crate::openings::{Hand, Spot};
use crate::option::{Mode, StationOption};
use crate::ring::{Ring, RingSection, RingStation};
use crate::section::{Ends, lag, slots};
use crate::track::{Footprint, Form, Plane, Side, corner_reach, footprint, loop_length};
use crate::units::{Metres, Micros, Money, Seconds};

/// The straight on which a zone stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Straight {
    /// Front straight of a flat loop.
    Front,
    /// Back straight of a flat loop.
    Back,
    /// Top straight of an upright loop.
    Top,
}

/// A station as planned.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Placed {
    /// Way of working.
    pub mode: Mode,
    /// Tool positions.
    pub heads: u32,
    /// Start of its zone along the loop, from the start of the front (or top) straight.
    pub start: Metres,
    /// Straight of its zone.
    pub straight: Straight,
    /// Side of the cell that its depth takes.
    pub stands: Side,
}

/// A plan. `sections[i]` follows `stations[i]`, both in travel order.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// Index of the form.
    pub form: usize,
    /// Modules in each straight.
    pub modules: u32,
    /// Scales the acceleration of every SKU, in (0, 1].
    pub acceleration_share: f64,
    /// Carriers.
    pub carriers: u32,
    /// Stations in travel order.
    pub stations: Vec<Placed>,
    /// Lengths of the sections.
    pub sections: Vec<Metres>,
}

/// What follows from a cell and a plan by arithmetic alone.
#[derive(Clone, Debug)]
pub struct Numbers {
    /// The option of each station.
    pub options: Vec<StationOption>,
    /// The ends that each section holds, by where its stations lie.
    pub ends: Vec<Ends>,
    /// Slots, `[section][sku]`.
    pub slots: Vec<Vec<u32>>,
    /// Lags, `[section][sku]`.
    pub lags: Vec<Vec<Seconds>>,
    /// Length round the loop.
    pub loop_length: Metres,
    /// Bounding rectangle with clearance, of loop and stations and what feeds them.
    pub footprint: Footprint,
    /// The same of loop and stations alone.
    pub own_footprint: Footprint,
    /// Price of the plan.
    pub price: Money,
}

/// A plan names something that the cell does not have.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Misfit {
    /// Other numbers of stations or sections than the cell's.
    Count,
    /// No such form.
    Form,
    /// The station with this index has no such mode, or not so many heads.
    Option(usize),
}

impl Plan {
    /// The form.
    #[must_use]
    pub fn form<'a>(&self, cell: &'a Cell) -> Option<&'a Form> {
        cell.parts().circuit.track.forms.get(self.form)
    }

    /// Length of a straight.
    #[must_use]
    pub fn straight(&self, cell: &Cell) -> Metres {
        Metres::from_m(f64::from(self.modules) * cell.parts().circuit.track.module.m())
    }

    /// The ends in the section after station `i`, read from the straights and starts.
    #[must_use]
    pub fn ends(&self, i: usize) -> Ends {
        let (from, to) = (&self.stations[i], &self.stations[(i + 1) % self.stations.len()]);
        if from.straight != to.straight {
            Ends::One
        } else if to.start.m() > from.start.m() {
            Ends::None
        } else {
            Ends::Both
        }
    }

    /// Derives the numbers.
    ///
    /// # Errors
    /// [`Misfit`] when the plan names something that the cell does not have.
    pub fn numbers(&self, cell: &Cell) -> Result<Numbers, Misfit> {
        let parts = cell.parts();
        let n = cell.len();
        if self.stations.len() != n || self.sections.len() != n {
            return Err(Misfit::Count);
        }
        let form = self.form(cell).ok_or(Misfit::Form)?;
        let mut options = Vec::with_capacity(n);
        for (i, (station, placed)) in parts.stations.iter().zip(&self.stations).enumerate() {
            let option = station
                .options(cell.rides(), self.acceleration_share)
                .into_iter()
                .find(|o| o.mode == placed.mode && o.heads == placed.heads);
            options.push(option.ok_or(Misfit::Option(i))?);
        }
        let ends: Vec<Ends> = (0..n).map(|i| self.ends(i)).collect();
        let (mut all_slots, mut lags) = (Vec::with_capacity(n), Vec::with_capacity(n));
        for i in 0..n {
            let length = self.sections[i];
            all_slots.push(cell.rides().iter().map(|r| slots(length, r)).collect());
            let lag_of = |(k, ride): (usize, &crate::load::Ride)| {
                let tail = options[i].skus[k].tail;
                lag(ride, self.acceleration_share, form, ends[i], &parts.sections[i], length, tail)
            };
            lags.push(cell.rides().iter().enumerate().map(lag_of).collect());
        }
        let (front, back) = self.deepest(cell);
        let track = &parts.circuit.track;
        let own_footprint = footprint(form, &cell.surroundings(), track.module, self.modules, front, back);
        Ok(Numbers {
            price: self.price(cell, &options),
            ends,
            slots: all_slots,
            lags,
            loop_length: loop_length(form, track.module, self.modules),
            footprint: cell.with_feed(own_footprint),
            own_footprint,
            options,
        })
    }

    /// Deepest station at the front and at the back, with what must be free in front of it beyond the clearance.
    #[must_use]
    pub fn deepest(&self, cell: &Cell) -> (Metres, Metres) {
        let deepest = |side: Side| {
            let depths = cell.parts().stations.iter().zip(&self.stations).filter(|(_, p)| p.stands == side);
            Metres::from_m(depths.map(|(s, _)| s.reach(side).m()).fold(0.0, f64::max))
        };
        (deepest(Side::Front), deepest(Side::Back))
    }

    /// Centre of a station's zone along the floor, from the start of the front (or top) straight.
    #[must_use]
    pub fn centre(&self, cell: &Cell, options: &[StationOption], station: usize) -> Metres {
        let placed = &self.stations[station];
        let middle = placed.start.m() + options[station].zone.m() / 2.0;
        Metres::from_m(match placed.straight {
            Straight::Front | Straight::Top => middle,
            Straight::Back => {
                let (straight, end) = (self.straight(cell).m(), self.form(cell).map_or(0.0, |f| f.end_length().m()));
                2.0 * straight + end - middle
            }
        })
    }

    /// Where the stations stand, for what is asked of the cell's sides.
    #[must_use]
    pub fn spots(&self) -> Vec<Spot> {
        let along = |p: &Placed| if p.straight == Straight::Back { -p.start.m() } else { p.start.m() };
        self.stations.iter().map(|p| (p.stands, along(p))).collect()
    }

    /// Which way carriers travel along the front, as what is asked of the cell's sides has it.
    #[must_use]
    pub fn hand(&self, cell: &Cell) -> Hand {
        cell.parts().openings.hand(&self.spots())
    }

    /// Where the floor of what feeds the cell begins, from the front left corner of loop and stations, seen from
    /// the front; none without a feed.
    #[must_use]
    pub fn feed_corner(&self, cell: &Cell, numbers: &Numbers) -> Option<(Metres, Metres)> {
        let (feed, form) = (cell.parts().feed.as_ref()?, self.form(cell)?);
        let station = cell.parts().stations.iter().position(|s| s.id == feed.into)?;
        let (around, front) = (cell.surroundings(), self.deepest(cell).0.m());
        let reach = corner_reach(form, &around).m();
        // The front straight's middle line, from the front.
        let front = match form.plane {
            Plane::Flat => (around.width.m() / 2.0 + front).max(reach - form.radius.m()),
            Plane::Upright => around.width.m() / 2.0 + front,
        };
        let back = front + 2.0 * form.radius.m() + form.cross.m();
        let y = if self.stations[station].straight == Straight::Back { back } else { front };
        let x = reach + self.centre(cell, &numbers.options, station).m();
        let own = around.clearance.off(&numbers.own_footprint);
        let x = if self.hand(cell) == Hand::LeftToRight { x } else { own.length.m() - x };
        Some(feed.corner(&own, (Metres::from_m(x), Metres::from_m(y))))
    }

    fn price(&self, cell: &Cell, options: &[StationOption]) -> Money {
        let circuit = &cell.parts().circuit;
        let stations = options.iter().fold(Money::ZERO, |sum, o| sum + o.price);
        stations
            + circuit.track.module_price * (2.0 * f64::from(self.modules))
            + circuit.track.curve_price * 2.0
            + circuit.carrier.price * f64::from(self.carriers)
    }

    /// Whether the loop is upright.
    #[must_use]
    pub fn upright(&self, cell: &Cell) -> bool {
        self.form(cell).is_some_and(|f| f.plane == Plane::Upright)
    }
}

impl Numbers {
    /// The ring of one SKU.
    #[must_use]
    pub fn ring(&self, sku: usize, carriers: u32) -> Ring {
        Ring {
            stations: self.options.iter().map(|o| RingStation::of(&o.skus[sku])).collect(),
            sections: self.slots.iter().zip(&self.lags).map(|(s, l)| RingSection::new(s[sku], l[sku])).collect(),
            carriers,
        }
    }

    /// Station 0's pace for one SKU in the paced run: `b / phi`. None without a demand.
    #[must_use]
    pub fn pace(&self, cell: &Cell, sku: usize) -> Option<Micros> {
        let ride = &cell.rides()[sku];
        (ride.demanded && ride.phi() > 0.0)
            .then(|| Micros::nearest_s(f64::from(self.options[0].skus[sku].batch) / ride.phi()))
    }
}
