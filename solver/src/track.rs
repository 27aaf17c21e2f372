//! Loop geometry: two straights of whole modules joined by two ends (model section 6).

use crate::units::{Area, Metres};

/// In which plane the loop lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Plane {
    /// Both straights at the same height; stations on either.
    Flat,
    /// One straight above the other; stations on the top one only.
    Upright,
}

/// One buildable form of end.
#[derive(Clone, Debug, PartialEq)]
pub struct Form {
    /// Its id in the document.
    pub id: String,
    /// Plane of the loop.
    pub plane: Plane,
    /// Radius of the track's middle line in the ends.
    pub radius: Metres,
    /// Straight piece across, in the middle of each end.
    pub cross: Metres,
}

impl Form {
    /// Length of one end, `A = pi R + cross`.
    #[must_use]
    pub fn end_length(&self) -> Metres {
        Metres::from_m(std::f64::consts::PI * self.radius.m() + self.cross.m())
    }
}

/// Track of a circuit.
#[derive(Clone, Debug, PartialEq)]
pub struct Track {
    /// Length of one straight module.
    pub module: Metres,
    /// Most modules in one straight.
    pub max_modules: u32,
    /// Width of track, carrier and load together.
    pub width: Metres,
    /// Price of one straight module.
    pub module_price: crate::units::Money,
    /// Price of one end.
    pub curve_price: crate::units::Money,
    /// Forms to choose from, at least one.
    pub forms: Vec<Form>,
}

/// Where a zone lies along the loop, or on which side a station's floor is taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Side {
    /// The front.
    Front,
    /// The back.
    Back,
}

impl Side {
    /// The other one.
    #[must_use]
    pub fn other(self) -> Self {
        match self {
            Self::Front => Self::Back,
            Self::Back => Self::Front,
        }
    }
}

/// A side of a cell, seen from above with its front below.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum CellSide {
    /// In front of the deepest stations there.
    Front,
    /// Behind the deepest stations there.
    Back,
    /// The left end, seen from the front.
    Left,
    /// The right end.
    Right,
}

impl CellSide {
    /// Whether it is an end of the cell.
    #[must_use]
    pub fn is_end(self) -> bool {
        matches!(self, Self::Left | Self::Right)
    }
}

/// Bounding rectangle of a cell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Footprint {
    /// Along the straights (`W`).
    pub length: Metres,
    /// Across (`H`).
    pub width: Metres,
}

impl Footprint {
    /// `W * H`.
    #[must_use]
    pub fn area(&self) -> Area {
        Area::from_m2(self.length.m() * self.width.m())
    }

    /// Whether it fits a floor, lying either way.
    #[must_use]
    pub fn fits(&self, floor: (Metres, Metres)) -> bool {
        let tolerance = crate::units::LENGTH_TOLERANCE_M;
        let (w, h, a, b) = (self.length.m(), self.width.m(), floor.0.m() + tolerance, floor.1.m() + tolerance);
        (w <= a && h <= b) || (w <= b && h <= a)
    }
}

/// Floor kept free on each side of a cell.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Clearance {
    /// At the front.
    pub front: Metres,
    /// At the back.
    pub back: Metres,
    /// At the end where the front straight begins.
    pub left: Metres,
    /// At the other end.
    pub right: Metres,
}

impl Clearance {
    /// None.
    pub const ZERO: Self = Self { front: Metres::ZERO, back: Metres::ZERO, left: Metres::ZERO, right: Metres::ZERO };

    /// The same on every side.
    #[must_use]
    pub const fn even(clearance: Metres) -> Self {
        Self { front: clearance, back: clearance, left: clearance, right: clearance }
    }

    /// What both ends take together, in metres.
    #[must_use]
    pub fn along(&self) -> f64 {
        self.left.m() + self.right.m()
    }

    /// What front and back take together, in metres.
    #[must_use]
    pub fn across(&self) -> f64 {
        self.front.m() + self.back.m()
    }

    /// A footprint without it.
    #[must_use]
    pub fn off(&self, whole: &Footprint) -> Footprint {
        Footprint {
            length: Metres::from_m(whole.length.m() - self.along()),
            width: Metres::from_m(whole.width.m() - self.across()),
        }
    }
}

/// What the footprint depends on beside form and modules.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surroundings {
    /// Width of track, carrier and load together.
    pub width: Metres,
    /// Longest of carrier and loads (`E`).
    pub longest: Metres,
    /// Kept free all round.
    pub clearance: Clearance,
}

/// Reach of a body of length `longest` in the middle of an end: `r = sqrt((R + width/2)^2 + (E/2)^2)`.
#[must_use]
pub fn corner_reach(form: &Form, around: &Surroundings) -> Metres {
    let outer = form.radius.m() + around.width.m() / 2.0;
    Metres::from_m(outer.hypot(around.longest.m() / 2.0))
}

/// Footprint of a loop of `modules` a straight whose deepest stations reach `front` and `back` (model section 6).
#[must_use]
pub fn footprint(
    form: &Form,
    around: &Surroundings,
    module: Metres,
    modules: u32,
    front: Metres,
    back: Metres,
) -> Footprint {
    let r = corner_reach(form, around).m();
    let (along, across) = (around.clearance.along(), around.clearance.across());
    let length = f64::from(modules) * module.m() + 2.0 * r + along;
    let width = match form.plane {
        Plane::Flat => {
            let outer = form.radius.m() + around.width.m() / 2.0;
            let side = |deepest: Metres| form.cross.m() / 2.0 + (outer + deepest.m()).max(r);
            side(front) + side(back) + across
        }
        Plane::Upright => around.width.m() + front.m() + back.m() + across,
    };
    Footprint { length: Metres::from_m(length), width: Metres::from_m(width) }
}

/// Length round the loop.
#[must_use]
pub fn loop_length(form: &Form, module: Metres, modules: u32) -> Metres {
    Metres::from_m(2.0 * f64::from(modules) * module.m() + 2.0 * form.end_length().m())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn form(plane: Plane, radius: f64, cross: f64) -> Form {
        Form { id: "f".into(), plane, radius: Metres::from_m(radius), cross: Metres::from_m(cross) }
    }

    /// Racetrack: straights of 3 m and radius 0.4 m make a loop of 8.513 m (recomputed by hand).
    #[test]
    fn racetrack_length() {
        let length = loop_length(&form(Plane::Flat, 0.4, 0.0), Metres::from_m(0.5), 6).m();
        assert!((length - 8.513).abs() < 5e-4, "{length}");
    }

    /// Worked by hand from the formulas of model section 6.
    #[test]
    fn footprints() {
        let around = Surroundings {
            width: Metres::from_m(0.3),
            longest: Metres::from_m(0.26),
            clearance: Clearance::even(Metres::from_m(0.7)),
        };
        let half = Metres::from_m(0.5);
        let f = footprint(&form(Plane::Flat, 0.4, 0.1), &around, half, 8, Metres::from_m(1.5), Metres::ZERO);
        let r = (0.55f64 * 0.55 + 0.13 * 0.13).sqrt();
        assert!((f.length.m() - (4.0 + 2.0 * r + 1.4)).abs() < 1e-12);
        assert!((f.width.m() - (0.1 + 2.05 + r + 1.4)).abs() < 1e-12);
        let f = footprint(&form(Plane::Upright, 0.3, 0.0), &around, half, 8, Metres::from_m(1.5), Metres::from_m(0.2));
        assert!((f.width.m() - (0.3 + 1.7 + 1.4)).abs() < 1e-12);
        let around = Surroundings {
            clearance: Clearance {
                front: Metres::from_m(1.2),
                back: Metres::from_m(0.3),
                left: Metres::ZERO,
                right: Metres::from_m(0.5),
            },
            ..around
        };
        let sides =
            footprint(&form(Plane::Upright, 0.3, 0.0), &around, half, 8, Metres::from_m(1.5), Metres::from_m(0.2));
        assert!((sides.width.m() - (0.3 + 1.7 + 1.5)).abs() < 1e-12);
        assert!((sides.length.m() - (f.length.m() - 1.4 + 0.5)).abs() < 1e-12);
        assert!(f.fits((f.width, f.length)) && !f.fits((f.width, Metres::from_m(f.length.m() - 0.01))));
    }
}
