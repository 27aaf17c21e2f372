//! The floor that a cell may take, and what stands on it already.

use crate::track::Footprint;
use crate::units::{LENGTH_TOLERANCE_M, Metres};

/// A rectangle of the floor that the cell must miss: a column, a door, a way.
#[derive(Clone, Debug, PartialEq)]
pub struct KeepOut {
    /// What it is, where that was said.
    pub name: String,
    /// Its least place along the floor's length.
    pub x: Metres,
    /// Its least place along the floor's width.
    pub y: Metres,
    /// Its size along the floor's length.
    pub length: Metres,
    /// Its size along the floor's width.
    pub width: Metres,
    /// Whether it must be missed (a relaxed one is only remembered).
    pub asked: bool,
}

/// Where the rectangle of a cell lies on the floor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spot {
    /// Its least place along the floor's length.
    pub x: Metres,
    /// Its least place along the floor's width.
    pub y: Metres,
    /// Whether the cell's length lies along the floor's width.
    pub turned: bool,
}

impl Spot {
    /// Whether a footprint lies within the floor here and misses every rectangle.
    #[must_use]
    pub fn is_free(&self, footprint: &Footprint, floor: (Metres, Metres), keep_out: &[KeepOut]) -> bool {
        let slack = LENGTH_TOLERANCE_M;
        let (long, wide) = size(footprint, self.turned);
        let (x, y) = (self.x.m(), self.y.m());
        let inside = x >= -slack && y >= -slack && x + long <= floor.0.m() + slack && y + wide <= floor.1.m() + slack;
        let misses = |k: &KeepOut| {
            x + long <= k.x.m() + slack
                || k.x.m() + k.length.m() <= x + slack
                || y + wide <= k.y.m() + slack
                || k.y.m() + k.width.m() <= y + slack
        };
        inside && keep_out.iter().filter(|k| k.asked).all(misses)
    }
}

fn size(footprint: &Footprint, turned: bool) -> (f64, f64) {
    let (length, width) = (footprint.length.m(), footprint.width.m());
    if turned { (width, length) } else { (length, width) }
}

/// Somewhere on the floor where a footprint misses every rectangle, turned or not; none where there is no such place.
///
/// Whatever place is free, the footprint can be pushed towards the floor's origin until the floor's edge or the far edge of a
/// rectangle stops it, one way and the other, again and again; so some place is free exactly if one is free whose corner has
/// its x at 0 or at such an edge, and its y likewise. What fits leaves room for anything smaller.
#[must_use]
pub fn spot(footprint: &Footprint, floor: (Metres, Metres), keep_out: &[KeepOut]) -> Option<Spot> {
    let asked = || keep_out.iter().filter(|k| k.asked);
    let xs = || std::iter::once(0.0).chain(asked().map(|k| k.x.m() + k.length.m()));
    let ys = || std::iter::once(0.0).chain(asked().map(|k| k.y.m() + k.width.m()));
    for turned in [false, true] {
        // The place nearest to the origin first, so that the same document gives the same place.
        for x in sorted(xs()) {
            for y in sorted(ys()) {
                let spot = Spot { x: Metres::from_m(x), y: Metres::from_m(y), turned };
                if spot.is_free(footprint, floor, keep_out) {
                    return Some(spot);
                }
            }
        }
    }
    None
}

fn sorted(places: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut all: Vec<f64> = places.map(|at| at.max(0.0)).collect();
    all.sort_by(f64::total_cmp);
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    fn metres(m: f64) -> Metres {
        Metres::from_m(m)
    }

    fn column(x: f64, y: f64, length: f64, width: f64) -> KeepOut {
        KeepOut {
            name: String::new(),
            x: metres(x),
            y: metres(y),
            length: metres(length),
            width: metres(width),
            asked: true,
        }
    }

    fn footprint(length: f64, width: f64) -> Footprint {
        Footprint { length: metres(length), width: metres(width) }
    }

    /// By hand: a column in the middle of a hall of 10 x 6 m leaves strips of 4.5 m beside it and of 2.5 m over it.
    #[test]
    fn beside_a_column() {
        let (floor, column) = ((metres(10.0), metres(6.0)), [column(4.5, 2.5, 1.0, 1.0)]);
        let at = |length: f64, width: f64| spot(&footprint(length, width), floor, &column);
        assert_eq!(at(4.5, 6.0), Some(Spot { x: metres(0.0), y: metres(0.0), turned: false }));
        assert_eq!(at(6.0, 4.5), Some(Spot { x: metres(0.0), y: metres(0.0), turned: true }));
        assert_eq!(at(10.0, 2.5), Some(Spot { x: metres(0.0), y: metres(0.0), turned: false }));
        assert_eq!(at(4.51, 2.51).map(|spot| spot.turned), Some(true), "only turned does it stand beside the column");
        assert_eq!(at(4.6, 4.6), None);
        assert_eq!(at(10.0, 2.6), None);
    }

    /// Against every place of a fine grid, for rectangles whose edges lie on it: both find the same to be possible.
    #[test]
    fn as_a_search_of_the_whole_grid() {
        let mut state = 17u64;
        let mut below = |n: u64| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            f64::from(u32::try_from((state >> 33) % n).unwrap())
        };
        let mut free = 0;
        for case in 0..400 {
            let floor = (metres(4.0 + below(8)), metres(4.0 + below(8)));
            let columns: Vec<KeepOut> =
                (0..1 + case % 4).map(|_| column(below(10), below(10), 1.0 + below(3), 1.0 + below(3))).collect();
            let cell = footprint(1.0 + below(7), 1.0 + below(7));
            let somewhere = (0..12).flat_map(|x| (0..12).map(move |y| (x, y))).any(|(x, y)| {
                [false, true].into_iter().any(|turned| {
                    let spot = Spot { x: metres(f64::from(x)), y: metres(f64::from(y)), turned };
                    spot.is_free(&cell, floor, &columns)
                })
            });
            let found = spot(&cell, floor, &columns);
            assert_eq!(found.is_some(), somewhere, "case {case}: {cell:?} {floor:?} {columns:?}");
            assert!(found.is_none_or(|spot| spot.is_free(&cell, floor, &columns)));
            free += usize::from(somewhere);
        }
        assert!((50..350).contains(&free), "{free}");
    }
}
