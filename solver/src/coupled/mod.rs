//! Cells of several circuits that hand product over to one another, planned together.
//!
//! Every circuit is a [`Cell`] of its own in which a hand-off knows the carriers of the other side. What a circuit cannot do
//! by itself it cannot do beside another one either, so the plans of its own are a relaxation; `judge` looks at all of
//! them together, and `placing` says how they lie on the floor.

mod align;
mod bound;
mod explain;
mod join;
mod joined;
mod judge;
mod leap;
mod operation;
mod placing;
mod search;
mod settle;
mod single;
mod states;

pub use explain::{Asked, Conflict, conflict, keeping_only, requirements};
pub use judge::{JointBreach, design_rate, net, paced, price, rate, verdicts};
pub use operation::{scenario, without_chance};
pub use placing::{Placed, Rect, place};
pub use search::{CoupledFound, CoupledOutcome, any_plan, study};

use crate::cell::{Carries, Cell, Fault, Parts, Requirements, demands, feed_faults};
use crate::ground::{KeepOut, spot};
use crate::openings::{Hand, Spot};
use crate::plan::Plan;
use crate::station::{HandOff, ModePrice, Station};
use crate::stream::{Demand, Feed};
use crate::track::{Clearance, Footprint, Side};
use crate::units::{Area, Metres};

/// A station on a circuit, both by index.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Stand {
    /// Circuit, in the order of the document.
    pub circuit: usize,
    /// Station, in travel order.
    pub station: usize,
}

/// A station that two circuits share.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Joint {
    /// On the circuit that comes first in the document.
    pub first: Stand,
    /// On the other.
    pub second: Stand,
}

/// One circuit of a coupled cell.
#[derive(Clone, Debug, PartialEq)]
pub struct CircuitParts {
    /// The circuit as a cell of its own. What is asked of the whole cell in it (floor, clearance, price) is not looked at.
    pub parts: Parts,
    /// The circuit over which it lies.
    pub above: Option<usize>,
}

/// All that a coupled cell is made of.
#[derive(Clone, Debug, PartialEq)]
pub struct CoupledParts {
    /// Its name.
    pub name: String,
    /// What is asked of the whole.
    pub requirements: Requirements,
    /// At least one.
    pub circuits: Vec<CircuitParts>,
    /// Stations that two circuits share.
    pub joints: Vec<Joint>,
}

/// Why parts do not make a coupled cell.
#[derive(Clone, Debug, PartialEq)]
pub enum CoupledFault {
    /// A joint names what is not there, or the two sides are not one station; names the joint by index.
    Joint(usize),
    /// The two circuits of a joint do not lie beside or over each other.
    NotNeighbours(usize),
    /// One case of this SKU does not take a whole number of carriers of this circuit.
    NotWhole {
        /// Joint by index.
        joint: usize,
        /// Circuit by index.
        circuit: usize,
        /// SKU by index.
        sku: usize,
    },
    /// No hand-off links this circuit to those before it.
    Apart(usize),
    /// A circuit lies over one that is not there, or that lies over another one itself.
    Above(usize),
    /// A fault within one circuit.
    Within(usize, Fault),
}

/// A checked cell of several circuits.
#[derive(Clone, Debug, PartialEq)]
pub struct CoupledCell {
    parts: CoupledParts,
    cells: Vec<Cell>,
}

/// A plan of a coupled cell: one for each circuit, and where each lies along the floor.
#[derive(Clone, Debug, PartialEq)]
pub struct CoupledPlan {
    /// In the order of the circuits.
    pub plans: Vec<Plan>,
    /// Where the front (or top) straight of each begins along the floor.
    pub offsets: Vec<Metres>,
}

/// Carriers of a circuit that one case takes: `items per case / items per carrier`; none when that is not a whole number.
#[must_use]
pub fn carriers_per_case(carries: Carries, stacks_per_case: u32, items_per_carrier: u32) -> Option<u32> {
    let items = if carries == Carries::Stack { stacks_per_case } else { 1 };
    (items_per_carrier > 0 && items > 0 && items.is_multiple_of(items_per_carrier)).then(|| items / items_per_carrier)
}

impl CoupledCell {
    /// Checks the parts and derives each circuit's own cell.
    ///
    /// # Errors
    /// Every [`CoupledFault`] at once.
    pub fn new(parts: CoupledParts) -> Result<Self, Vec<CoupledFault>> {
        let mut faults = structure(&parts);
        if !faults.is_empty() {
            return Err(faults);
        }
        let mut alone: Vec<Parts> = parts.circuits.iter().map(|c| within(&parts.requirements, &c.parts)).collect();
        let mut cells = Vec::with_capacity(alone.len());
        for (circuit, own) in alone.iter().enumerate() {
            match Cell::new(own.clone()) {
                Ok(cell) => cells.push(cell),
                Err(all) => faults.extend(all.into_iter().map(|fault| CoupledFault::Within(circuit, fault))),
            }
        }
        // It feeds the whole cell, and is a part of every circuit's parts: looked at once.
        faults.extend(
            parts.circuits.first().into_iter().flat_map(|c| feed_faults(&c.parts)).map(|f| CoupledFault::Within(0, f)),
        );
        let per_case: Vec<Vec<Option<u32>>> = alone.iter().map(per_case).collect();
        for (index, joint) in parts.joints.iter().enumerate() {
            for circuit in [joint.first.circuit, joint.second.circuit] {
                let missing = per_case[circuit].iter().position(Option::is_none);
                faults.extend(missing.map(|sku| CoupledFault::NotWhole { joint: index, circuit, sku }));
            }
        }
        if !faults.is_empty() {
            return Err(faults);
        }
        for joint in &parts.joints {
            let over = parts.above(joint.first.circuit, joint.second.circuit);
            for (here, there, first) in [(joint.first, joint.second, true), (joint.second, joint.first, false)] {
                let numbers = |circuit: usize| per_case[circuit].iter().map(|q| q.unwrap_or(1)).collect();
                let station = &mut alone[here.circuit].stations[here.station];
                station.hand_off = Some(HandOff {
                    per_case: numbers(here.circuit),
                    partner: cells[there.circuit].rides().to_vec(),
                    partner_per_case: numbers(there.circuit),
                });
                share_out(station, first, over);
            }
        }
        let mut cells = Vec::with_capacity(alone.len());
        for (circuit, own) in alone.into_iter().enumerate() {
            match Cell::new(own) {
                Ok(cell) => cells.push(cell),
                Err(all) => faults.extend(all.into_iter().map(|fault| CoupledFault::Within(circuit, fault))),
            }
        }
        if faults.is_empty() { Ok(Self { parts, cells }) } else { Err(faults) }
    }

    /// What it is made of.
    #[must_use]
    pub fn parts(&self) -> &CoupledParts {
        &self.parts
    }

    /// Each circuit as a cell of its own: hand-offs know the other side, have no depth of their own beside the track, and
    /// are paid for on the circuit that comes first.
    #[must_use]
    pub fn cells(&self) -> &[Cell] {
        &self.cells
    }

    /// Carriers of a circuit that one case of a SKU takes, where that is a whole number.
    #[must_use]
    pub fn carriers_per_case(&self, circuit: usize, sku: usize) -> Option<u32> {
        let parts = self.cells[circuit].parts();
        let per_carrier = parts.circuit.items_per_carrier;
        carriers_per_case(parts.circuit.carries, parts.skus[sku].stacks_per_case, per_carrier)
    }

    /// What all circuits together must miss on the floor.
    #[must_use]
    pub fn keep_out(&self) -> &[KeepOut] {
        self.parts.circuits.first().map_or(&[], |circuit| &circuit.parts.keep_out)
    }

    /// The product stream that feeds the cell, where that was given.
    #[must_use]
    pub fn feed(&self) -> Option<&Feed> {
        self.parts.circuits.first().and_then(|circuit| circuit.parts.feed.as_ref())
    }

    /// What each SKU asks of the product stream; none where nothing is demanded.
    #[must_use]
    pub fn demands(&self) -> Vec<Option<Demand>> {
        self.parts.circuits.first().map(|circuit| demands(&circuit.parts)).unwrap_or_default()
    }

    /// The footprint of the cell with what feeds it, from that of loops and stations.
    #[must_use]
    pub fn with_feed(&self, own: Footprint) -> Footprint {
        self.feed().map_or(own, |feed| feed.beside(&own, &self.parts.requirements.clearance))
    }

    /// Whether a footprint has room on the floor, where that is limited.
    #[must_use]
    pub fn has_room(&self, footprint: &Footprint) -> bool {
        self.parts.requirements.floor.is_none_or(|floor| spot(footprint, floor, self.keep_out()).is_some())
    }

    /// Depth of the floor that a joint takes.
    #[must_use]
    pub fn joint_depth(&self, joint: &Joint) -> Metres {
        self.parts.circuits[joint.first.circuit].parts.stations[joint.first.station].depth
    }

    /// The joint in which a station takes part.
    #[must_use]
    pub fn joint_at(&self, stand: Stand) -> Option<&Joint> {
        self.parts.joints.iter().find(|j| j.first == stand || j.second == stand)
    }
}

impl CoupledPlan {
    /// For each hand of [`Hand::BOTH`], whether infeed and discharge are open as asked.
    #[must_use]
    pub fn hands(&self, cell: &CoupledCell) -> [bool; 2] {
        let spots: Vec<Vec<Spot>> = self.plans.iter().map(Plan::spots).collect();
        Hand::BOTH.map(|hand| cell.cells.iter().zip(&spots).all(|(own, spots)| own.parts().openings.hold(spots, hand)))
    }

    /// Which way carriers travel along the front of all loops: the usual one where both will do. Where none will do, the one
    /// that is asked for, else the usual one.
    #[must_use]
    pub fn hand(&self, cell: &CoupledCell) -> Hand {
        let known = Hand::BOTH.into_iter().zip(self.hands(cell)).find(|(_, open)| *open).map(|(hand, _)| hand);
        let asked = cell.cells.first().and_then(|own| own.parts().openings.hand);
        known.or(asked).unwrap_or(Hand::LeftToRight)
    }
}

impl CoupledParts {
    /// Whether one of two circuits lies over the other.
    #[must_use]
    pub fn above(&self, one: usize, other: usize) -> bool {
        self.circuits[one].above == Some(other) || self.circuits[other].above == Some(one)
    }

    /// The circuits that have a row of floor of their own, front first.
    #[must_use]
    pub fn rows(&self) -> Vec<usize> {
        (0..self.circuits.len()).filter(|&c| self.circuits[c].above.is_none()).collect()
    }
}

impl Joint {
    /// Its stand on a circuit, if it has one there.
    #[must_use]
    pub fn on(&self, circuit: usize) -> Option<usize> {
        [self.first, self.second].into_iter().find(|s| s.circuit == circuit).map(|s| s.station)
    }
}

/// What is asked of the whole cell is looked at by the joint verdicts, not circuit by circuit.
fn within(asked: &Requirements, parts: &Parts) -> Parts {
    let requirements = Requirements {
        clearance: Clearance::ZERO,
        floor: None,
        footprint_tolerance: Area::from_m2(0.0),
        max_price: None,
        ..*asked
    };
    Parts { requirements, keep_out: Vec::new(), feed: None, ..parts.clone() }
}

fn per_case(parts: &Parts) -> Vec<Option<u32>> {
    let circuit = &parts.circuit;
    let of = |stacks| carriers_per_case(circuit.carries, stacks, circuit.items_per_carrier);
    parts.skus.iter().map(|sku| of(sku.stacks_per_case)).collect()
}

/// Each side's share of a hand-off: where it stands, and what is counted once only.
fn share_out(station: &mut Station, first: bool, over: bool) {
    if over {
        // Both stand on the same straight: the front one where nothing else is asked.
        station.side = Some(station.side.unwrap_or(Side::Front));
    } else {
        station.side = Some(if first { Side::Back } else { Side::Front });
    }
    // Between two rows its floor is the gap; over another circuit it is the lower one's.
    if !over || !first {
        station.depth = Metres::ZERO;
        station.free = (Metres::ZERO, Metres::ZERO);
    }
    if !first {
        let free = ModePrice::default();
        station.intermittent.iter_mut().for_each(|mode| mode.price = free);
        station.continuous.iter_mut().for_each(|mode| mode.price = free);
    }
}

fn structure(parts: &CoupledParts) -> Vec<CoupledFault> {
    let mut faults = Vec::new();
    let n = parts.circuits.len();
    for (circuit, own) in parts.circuits.iter().enumerate() {
        let Some(below) = own.above else { continue };
        if below >= n || below == circuit || parts.circuits[below].above.is_some() {
            faults.push(CoupledFault::Above(circuit));
        }
    }
    if !faults.is_empty() {
        return faults;
    }
    let rows = parts.rows();
    let row = |circuit: usize| rows.iter().position(|&c| c == circuit);
    let mut linked: Vec<usize> = (0..n).collect();
    for (index, joint) in parts.joints.iter().enumerate() {
        let there = |s: Stand| parts.circuits.get(s.circuit).and_then(|c| c.parts.stations.get(s.station));
        let (one, two) = (joint.first.circuit, joint.second.circuit);
        let (Some(a), Some(b)) = (there(joint.first), there(joint.second)) else {
            faults.push(CoupledFault::Joint(index));
            continue;
        };
        if a.id != b.id || one >= two {
            faults.push(CoupledFault::Joint(index));
            continue;
        }
        let beside = row(one).zip(row(two)).is_some_and(|(r, s)| s == r + 1);
        if !(beside || parts.above(one, two)) {
            faults.push(CoupledFault::NotNeighbours(index));
        }
        let (from, to) = (linked[one], linked[two]);
        linked.iter_mut().filter(|l| **l == to).for_each(|l| *l = from);
    }
    let first = linked.first().copied().unwrap_or(0);
    faults.extend((1..n).filter(|&c| linked[c] != first).map(CoupledFault::Apart));
    faults
}
