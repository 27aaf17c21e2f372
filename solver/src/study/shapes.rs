//! The ways to lay a circuit's loop out, for plans that lie beside others.

use super::Clock;
use super::fold::{Fold, Folds};
use super::space::Space;
use crate::cell::Cell;
use crate::track::Side;
use crate::units::Metres;

/// Which stations stand on which straight and side.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Lay {
    /// Form of the ends, by index.
    pub form: usize,
    /// Station at the start of the first straight.
    pub first: usize,
    /// Stations on that straight.
    pub count: usize,
    /// Side of each station.
    pub sides: Vec<Side>,
}

/// A loop laid out; only the number of modules, the options and the sharing of the track are open.
#[derive(Clone, Debug, PartialEq)]
pub struct Shape {
    /// How it is laid out.
    pub lay: Lay,
    /// Deepest stations at the front and at the back.
    pub deepest: (Metres, Metres),
    /// No plan laid out so has fewer modules a straight.
    pub least_modules: u32,
    /// For each of the stations asked for: least way from the start of its straight to the middle of its zone, and from there
    /// to the end of the straight.
    pub beside: Vec<(f64, f64)>,
    /// For each hand, whether infeed and discharge are open as asked.
    pub hands: [bool; 2],
    /// Stands for ways that are too many to be listed, all at least as long: nothing can be planned from it.
    pub coarse: bool,
}

/// Every way to lay the circuit out, and where on their straights some of its stations can stand.
#[must_use]
pub fn shapes(cell: &Cell, asked: &[usize], clock: &Clock<'_>) -> Vec<Shape> {
    let space = Space::new(cell, clock);
    if space.options.iter().any(Vec::is_empty) {
        return Vec::new();
    }
    let folds = Folds::of(&space);
    let shape = |(fold, coarse): (&Fold, bool)| {
        Some(Shape {
            lay: Lay { form: fold.form, first: fold.first, count: fold.count, sides: fold.sides.clone() },
            deepest: fold.deepest,
            least_modules: fold.least_modules(&space)?,
            beside: asked.iter().map(|&station| fold.least_beside(&space, station)).collect(),
            // Ways that are left out may be open either way.
            hands: if coarse { [true; 2] } else { fold.hands(&space) },
            coarse,
        })
    };
    let all = folds.all.iter().map(|fold| (fold, false)).chain(folds.left_out.iter().map(|fold| (fold, true)));
    all.filter_map(shape).collect()
}
