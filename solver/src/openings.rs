//! On which sides of a cell product comes in and leaves, and the cell's hand (model section 9d).
//!
//! Seen from above with the front below, carriers travel along front and top straights from left to right; a cell of the other
//! hand is the same one mirrored. Neither floor nor rates change with the hand, only what lies on the left and what on the right.

use crate::track::{CellSide, Side};

/// Which way carriers travel along front and top straights, seen from the front.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Hand {
    /// As a cell is drawn where nothing is asked.
    LeftToRight,
    /// Mirrored.
    RightToLeft,
}

impl Hand {
    /// Both, the usual one first.
    pub const BOTH: [Self; 2] = [Self::LeftToRight, Self::RightToLeft];
}

/// A side of the cell to which a station must be open.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Opening {
    /// Station, in travel order.
    pub station: usize,
    /// The side.
    pub side: CellSide,
}

/// What is asked of one circuit.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Openings {
    /// Where product comes in.
    pub infeed: Option<Opening>,
    /// Where it leaves.
    pub discharge: Option<Opening>,
    /// The hand; either where nothing is asked.
    pub hand: Option<Hand>,
}

/// Where a station stands: its side of the loop, and how far along front straights, in any measure that keeps the order.
pub type Spot = (Side, f64);

impl Opening {
    /// Whether nothing stands in between: at the front and the back, the station stands there itself; at an end, no other
    /// station on its side of the loop stands nearer to that end.
    #[must_use]
    pub fn is_free(&self, spots: &[Spot], hand: Hand) -> bool {
        let Some(&(side, at)) = spots.get(self.station) else { return false };
        let in_row = spots.iter().enumerate().filter(|(i, spot)| *i != self.station && spot.0 == side);
        let mut places = in_row.map(|(_, spot)| spot.1);
        match (self.side, hand) {
            (CellSide::Front, _) => side == Side::Front,
            (CellSide::Back, _) => side == Side::Back,
            (CellSide::Left, Hand::LeftToRight) | (CellSide::Right, Hand::RightToLeft) => places.all(|x| x > at),
            (CellSide::Right, Hand::LeftToRight) | (CellSide::Left, Hand::RightToLeft) => places.all(|x| x < at),
        }
    }
}

impl Openings {
    /// Infeed and discharge, where they are asked.
    pub fn all(&self) -> impl Iterator<Item = Opening> {
        self.infeed.into_iter().chain(self.discharge)
    }

    /// Whether an end of the cell is asked for anywhere.
    #[must_use]
    pub fn ends(&self) -> bool {
        self.all().any(|opening| opening.side.is_end())
    }

    /// Whether stations that stand so have all that is asked, with this hand.
    #[must_use]
    pub fn hold(&self, spots: &[Spot], hand: Hand) -> bool {
        self.hand.is_none_or(|asked| asked == hand) && self.all().all(|opening| opening.is_free(spots, hand))
    }

    /// For each hand of [`Hand::BOTH`], whether all that is asked is had with it.
    #[must_use]
    pub fn hands(&self, spots: &[Spot]) -> [bool; 2] {
        Hand::BOTH.map(|hand| self.hold(spots, hand))
    }

    /// The hand of a cell whose stations stand so: the usual one where both will do. Where none will do, the one that is asked
    /// for, else the usual one.
    #[must_use]
    pub fn hand(&self, spots: &[Spot]) -> Hand {
        let known = Hand::BOTH.into_iter().find(|&hand| self.hold(spots, hand));
        known.or(self.hand).unwrap_or(Hand::LeftToRight)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ROW: [Spot; 4] = [(Side::Front, 0.0), (Side::Front, 1.0), (Side::Back, -2.0), (Side::Back, -3.0)];

    fn free(station: usize, side: CellSide, hand: Hand) -> bool {
        Opening { station, side }.is_free(&ROW, hand)
    }

    /// Two stations at the front, then two at the back, on which carriers come back to the left.
    #[test]
    fn the_outermost_of_a_side_is_open_to_its_end() {
        use CellSide::{Back, Front, Left, Right};
        let open = |side, hand| -> Vec<usize> { (0..4).filter(|&s| free(s, side, hand)).collect() };
        assert_eq!(open(Left, Hand::LeftToRight), [0, 3]);
        assert_eq!(open(Right, Hand::LeftToRight), [1, 2]);
        assert_eq!(open(Left, Hand::RightToLeft), [1, 2]);
        assert_eq!(open(Right, Hand::RightToLeft), [0, 3]);
        for hand in Hand::BOTH {
            assert_eq!((open(Front, hand), open(Back, hand)), (vec![0, 1], vec![2, 3]));
        }
    }

    #[test]
    fn the_hand_follows_what_is_asked() {
        let left = |station| Some(Opening { station, side: CellSide::Left });
        let asked = |infeed, discharge, hand| Openings { infeed, discharge, hand };
        assert_eq!(Openings::default().hand(&ROW), Hand::LeftToRight);
        assert_eq!(asked(left(0), left(3), None).hand(&ROW), Hand::LeftToRight);
        assert_eq!(asked(left(1), left(2), None).hand(&ROW), Hand::RightToLeft);
        assert_eq!(asked(None, None, Some(Hand::RightToLeft)).hands(&ROW), [false, true]);
        assert_eq!(asked(left(0), None, Some(Hand::RightToLeft)).hands(&ROW), [false, false]);
        assert_eq!(asked(left(0), left(2), None).hands(&ROW), [false, false], "no hand has both");
        assert_eq!(asked(left(9), None, None).hands(&ROW), [false, false], "no such station");
    }
}
