//! The outlines that a circuit's loop can have, for plans that lie beside others.

use super::Clock;
use super::fold::Folds;
use super::space::Space;
use crate::cell::Cell;
use crate::units::Metres;

/// An outline of a loop with its stations; only the number of modules is open.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shape {
    /// Form of the ends, by index.
    pub form: usize,
    /// Deepest stations at the front and at the back.
    pub deepest: (Metres, Metres),
    /// No plan of this outline has fewer modules a straight.
    pub least_modules: u32,
}

/// Every outline that some way of laying the circuit out has; each once.
#[must_use]
pub fn shapes(cell: &Cell, clock: &Clock<'_>) -> Vec<Shape> {
    let space = Space::new(cell, clock);
    let mut all: Vec<Shape> = Vec::new();
    if space.options.iter().any(Vec::is_empty) {
        return all;
    }
    let folds = Folds::of(&space);
    for fold in folds.all.iter().chain(&folds.left_out) {
        let Some(least_modules) = fold.least_modules(&space) else { continue };
        match all.iter_mut().find(|s| s.form == fold.form && s.deepest == fold.deepest) {
            Some(shape) => shape.least_modules = shape.least_modules.min(least_modules),
            None => all.push(Shape { form: fold.form, deepest: fold.deepest, least_modules }),
        }
    }
    all
}
