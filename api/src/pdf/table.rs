//! Tables: columns as wide as their words ask, the head on every page, rows whole where they fit on one.

use super::flow::{Flow, LINE, MM, Mark, WIDE};
use super::font::Fonts;
use super::lines::{Line, lines};
use super::source::Cell;

const SIZE: f32 = 8.0;
/// Free at both sides of a cell.
const ASIDE: f32 = 1.2 * MM;
/// Free above and below a row.
const ABOVE: f32 = 0.7 * MM;

/// Widths of the columns: each at least its longest word, then by what its longest text asks.
fn widths(rows: &[&[Cell]], fonts: &Fonts) -> Vec<f32> {
    let count = rows.iter().map(|r| r.len()).max().unwrap_or(0);
    let (mut least, mut most) = (vec![0.0_f32; count], vec![0.0_f32; count]);
    for (i, cell) in rows.iter().flat_map(|row| row.iter().enumerate()) {
        let whole = lines(&cell.runs, SIZE, f32::INFINITY, fonts);
        most[i] = most[i].max(whole.iter().map(|l| l.wide).fold(0.0, f32::max));
        let words = whole.iter().flat_map(|l| &l.pieces).filter(|p| !p.grey);
        let word = words.map(|p| fonts.face(p.bold).width(&p.text, p.size)).fold(0.0, f32::max);
        least[i] = least[i].max(word);
    }
    for (least, most) in least.iter_mut().zip(&mut most) {
        *least = least.min(60.0 * MM) + 2.0 * ASIDE;
        *most = (*most + 2.0 * ASIDE).max(*least);
    }
    let (low, high): (f32, f32) = (least.iter().sum(), most.iter().sum());
    if low >= WIDE {
        return least.iter().map(|w| w * WIDE / low).collect();
    }
    if high <= WIDE {
        return most.iter().map(|w| w * WIDE / high).collect();
    }
    let share = (WIDE - low) / (high - low);
    least.iter().zip(&most).map(|(low, high)| low + (high - low) * share).collect()
}

/// The lines of a row's cells, each with its place and whether it stands right.
fn broken(row: &[Cell], widths: &[f32], fonts: &Fonts) -> Vec<Vec<Line>> {
    row.iter().zip(widths).map(|(cell, wide)| lines(&cell.runs, SIZE, wide - 2.0 * ASIDE, fonts)).collect()
}

/// Some lines of a row.
fn put(
    flow: &mut Flow<'_>,
    row: &[Cell],
    cells: &[Vec<Line>],
    widths: &[f32],
    from: usize,
    count: usize,
    strong: bool,
) {
    let high = count as f32 * SIZE * LINE + 2.0 * ABOVE;
    let mut x = 0.0;
    for ((cell, all), wide) in row.iter().zip(cells).zip(widths) {
        for (i, line) in all.iter().skip(from).take(count).enumerate() {
            let at = if cell.right { x + wide - ASIDE - line.wide } else { x + ASIDE };
            flow.line(line, at, ABOVE + i as f32 * SIZE * LINE, SIZE);
        }
        x += wide;
    }
    let width = if strong { 0.9 } else { 0.3 };
    flow.put(Mark::Line { from: (0.0, high), to: (WIDE, high), width });
    flow.advance(high);
}

/// A table on as many pages as it takes.
pub fn table(flow: &mut Flow<'_>, head: &[Cell], rows: &[Vec<Cell>]) {
    let of: Vec<&[Cell]> = std::iter::once(head).chain(rows.iter().map(Vec::as_slice)).collect();
    let widths = widths(&of, flow.fonts);
    let tall = |cells: &[Vec<Line>]| cells.iter().map(Vec::len).max().unwrap_or(0);
    let heads = broken(head, &widths, flow.fonts);
    let high = |count: usize| count as f32 * SIZE * LINE + 2.0 * ABOVE;
    let begin = |flow: &mut Flow<'_>| {
        if !head.is_empty() {
            put(flow, head, &heads, &widths, 0, tall(&heads), true);
        }
    };
    flow.need(high(tall(&heads)) + high(2));
    begin(flow);
    for (i, row) in rows.iter().enumerate() {
        let cells = broken(row, &widths, flow.fonts);
        let count = tall(&cells);
        if flow.left() < high(count) {
            flow.page();
            begin(flow);
        }
        let mut from = 0;
        while from < count {
            let room = ((flow.left() - 2.0 * ABOVE) / (SIZE * LINE)).floor().max(1.0) as usize;
            let some = room.min(count - from);
            if i % 2 == 1 {
                flow.put(Mark::Band { at: (0.0, 0.0), size: (WIDE, high(some)) });
            }
            put(flow, row, &cells, &widths, from, some, false);
            from += some;
            if from < count {
                flow.page();
                begin(flow);
            }
        }
    }
    flow.skip(3.0 * MM);
}
