//! Several circuits reduced to what moves, for one SKU: rings, and the stations that two of them share.

use crate::option::Flow;
use crate::ring::Ring;
use std::mem::discriminant;

/// A station that two rings share; each side is `(ring, station)`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Joint {
    /// On one ring.
    pub first: (usize, usize),
    /// On another.
    pub second: (usize, usize),
    /// Cases in a batch; each side takes that many times its carriers a case.
    pub batch: u32,
}

/// Rings that hand cases over to one another.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Net {
    rings: Vec<Ring>,
    joints: Vec<Joint>,
    per_case: Vec<u32>,
}

/// Why there is no net.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoNet {
    /// Not one number of carriers a case for each ring, or one is zero.
    Rings,
    /// The joint with this index names what is not there, or a station that another joint has.
    Names(usize),
    /// The two sides of the joint with this index do not work alike: other batches than its cases take, another way, or
    /// another cycle.
    Unlike(usize),
}

impl Net {
    /// `per_case`: carriers of each ring that one case takes.
    ///
    /// # Errors
    /// [`NoNet`] when the sides of a joint do not fit each other.
    pub fn new(rings: Vec<Ring>, joints: Vec<Joint>, per_case: Vec<u32>) -> Result<Self, NoNet> {
        if rings.is_empty() || rings.len() != per_case.len() || per_case.contains(&0) {
            return Err(NoNet::Rings);
        }
        let mut used = Vec::new();
        for (index, joint) in joints.iter().enumerate() {
            let there = |(ring, station): (usize, usize)| rings.get(ring).and_then(|r| r.stations.get(station));
            let (Some(a), Some(b)) = (there(joint.first), there(joint.second)) else {
                return Err(NoNet::Names(index));
            };
            let sides = [joint.first, joint.second];
            if joint.first.0 == joint.second.0 || sides.iter().any(|side| used.contains(side)) {
                return Err(NoNet::Names(index));
            }
            used.extend(sides);
            let takes = |ring: usize| joint.batch * per_case[ring];
            // Places of a train are each side's own.
            let alike = discriminant(&a.flow) == discriminant(&b.flow) && a.cycle == b.cycle && a.move_in == b.move_in;
            let stops_alike = a.flow != Flow::Stop || a.residence == b.residence;
            if a.batch != takes(joint.first.0) || b.batch != takes(joint.second.0) || !alike || !stops_alike {
                return Err(NoNet::Unlike(index));
            }
        }
        Ok(Self { rings, joints, per_case })
    }

    /// The rings.
    #[must_use]
    pub fn rings(&self) -> &[Ring] {
        &self.rings
    }

    /// The stations that two rings share.
    #[must_use]
    pub fn joints(&self) -> &[Joint] {
        &self.joints
    }

    /// Carriers of a ring that one case takes.
    #[must_use]
    pub fn per_case(&self, ring: usize) -> u32 {
        self.per_case[ring]
    }

    /// The other side of a station that two rings share.
    #[must_use]
    pub fn partner(&self, side: (usize, usize)) -> Option<(usize, usize)> {
        self.joints.iter().find_map(|j| match side {
            s if s == j.first => Some(j.second),
            s if s == j.second => Some(j.first),
            _ => None,
        })
    }
}
