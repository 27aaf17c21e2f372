//! Dimensions by the habits of ISO 129-1: thin dimension and extension lines, oblique strokes as terminators, text over
//! the line, read from below or from the right; chains inside, overall dimensions outside; where a piece of a chain is
//! too short for its text, the text stands farther out with a leader.

use super::paper::{Label, Paper, SMALL, Spot};
use super::text;

/// From one dimension line to the next.
pub const STEP: f64 = 7.0;
/// From the outline to the first dimension line.
pub const FIRST: f64 = 9.0;
/// Rows in which texts that find no room over their piece may stand.
const ROWS: usize = 3;
/// From row to row.
const ROW: f64 = 4.3;
/// A terminator's half.
const TICK: f64 = 1.1;

/// One piece of a chain on the sheet, from place to place along it, and what it measures.
#[derive(Clone, Debug)]
pub struct Piece {
    /// From here along the line.
    pub from: f64,
    /// To here.
    pub to: f64,
    /// The text.
    pub text: String,
}

/// Where a dimension line lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Along {
    /// Level; texts that find no room go up.
    Above,
    /// Level; texts that find no room go down.
    Below,
    /// Upright, read from the right; texts that find no room go to the left.
    Left,
    /// Upright; texts that find no room go to the right.
    Right,
}

impl Along {
    fn level(self) -> bool {
        matches!(self, Self::Above | Self::Below)
    }

    /// Away from what is measured, along x or y of the sheet.
    fn out(self) -> f64 {
        if matches!(self, Self::Above | Self::Left) { -1.0 } else { 1.0 }
    }

    fn spot(self, along: f64, across: f64) -> Spot {
        if self.level() { (along, across) } else { (across, along) }
    }
}

/// Pieces of less than this on the sheet are none.
const NOTHING: f64 = 0.02;

/// How far the texts of a chain reach out beyond its line.
#[must_use]
pub fn reach(pieces: &[Piece]) -> f64 {
    let tight = pieces.iter().any(|p| !fits(p));
    if tight { 2.0 * ROW } else { 0.0 }
}

fn fits(piece: &Piece) -> bool {
    let long = (piece.to - piece.from).abs();
    long < NOTHING || text::width(&piece.text, SMALL) + 1.6 <= long
}

/// A chain of dimensions on the line at `across`; `origins` says from where the extension lines come, at the ends of
/// the pieces.
pub fn chain(paper: &mut Paper, along: Along, across: f64, pieces: &[Piece], origin: impl Fn(f64) -> f64) {
    let pieces: Vec<&Piece> = pieces.iter().filter(|p| (p.to - p.from).abs() >= NOTHING).collect();
    let (Some(first), Some(last)) = (pieces.first(), pieces.last()) else { return };
    let mut ends: Vec<f64> = pieces.iter().flat_map(|p| [p.from, p.to]).collect();
    ends.dedup_by(|a, b| (*a - *b).abs() < NOTHING);
    for end in ends {
        let from = origin(end) + along.out();
        let to = across + along.out() * 1.6;
        if (to - from) * along.out() > 0.5 {
            paper.line("lw-extension", along.spot(end, from), along.spot(end, to));
        }
        let (x, y) = along.spot(end, across);
        paper.line("lw-tick", (x - TICK, y + TICK), (x + TICK, y - TICK));
    }
    paper.line("lw-dimension", along.spot(first.from, across), along.spot(last.to, across));
    let (roomy, tight): (Vec<&Piece>, Vec<&Piece>) = pieces.into_iter().partition(|p| fits(p));
    for piece in roomy {
        let label = at(along, f64::midpoint(piece.from, piece.to), across - 1.0, &piece.text);
        if paper.label_where_free([label]).is_none() {
            apart(paper, along, across, piece);
        }
    }
    for piece in tight {
        apart(paper, along, across, piece);
    }
}

fn at(along: Along, middle: f64, base: f64, words: &str) -> Label {
    let label = Label::new(words, along.spot(middle, base)).class("lw-text lw-number");
    if along.level() { label } else { label.turned() }
}

/// A text out of the line, with a leader from the middle of its piece.
fn apart(paper: &mut Paper, along: Along, across: f64, piece: &Piece) {
    let middle = f64::midpoint(piece.from, piece.to);
    let wide = text::width(&piece.text, SMALL);
    let row = |i: usize| {
        // Base lines below and to the right lie a text's height farther out.
        let lift = if along.out() > 0.0 { 2.9 } else { 0.0 };
        across + along.out() * (1.6 + lift + (i as f64 + if along.out() < 0.0 { 0.8 } else { 0.0 }) * ROW)
    };
    let shifts = [0.0, 0.3, -0.3, 0.6, -0.6, 0.9, -0.9, 1.3, -1.3, 1.8, -1.8, 2.4, -2.4];
    let places = (0..ROWS + 3).flat_map(|i| shifts.map(|s| (row(i), middle + s * wide)));
    let Some(label) = paper.label_where_free(places.map(|(base, m)| at(along, m, base, &piece.text))) else { return };
    let area = label.area();
    let near = if along.level() {
        if along.out() > 0.0 { area.y } else { area.y + area.h }
    } else if along.out() > 0.0 {
        area.x
    } else {
        area.x + area.w
    };
    let (low, high) = if along.level() { (area.x, area.x + area.w) } else { (area.y, area.y + area.h) };
    paper.line("lw-leader", along.spot(middle, across), along.spot(middle.clamp(low, high), near));
}
