//! Changing over: pictures, and the section of the report. All of it is made of the changeover document.

mod matrix;
mod order;
mod schedule;
mod section;

pub use matrix::{matrix_chart, over};
pub use order::order_chart;
pub use schedule::schedule_chart;
pub(super) use section::changing_over;

use maud::Markup;

use crate::codes::Code;
use crate::draw::Drawable;
use crate::finding::Finding;
use crate::read::quoted;
use crate::wire::changeover::{ChangeInFull, ChangeoverAnswer, ChangeoverDocument};

/// A picture of changes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Picture {
    /// All changes from SKU to SKU.
    Matrix,
    /// One change as bars.
    Schedule,
    /// The order of the week.
    Order,
}

/// Rows of a picture that stands by itself.
const MOST_ROWS: usize = 500;

fn unfit(pointer: impl Into<String>, says: impl Into<String>) -> Finding {
    Finding::new(Code::CannotDraw, pointer, says)
}

/// The changes in an answer.
///
/// # Errors
/// There are none: no plan was found.
pub fn changes_of(answer: ChangeoverAnswer) -> Result<ChangeoverDocument, Finding> {
    answer
        .changeover
        .ok_or_else(|| unfit("/changeover", "the document holds no changes: there was no plan to change over on"))
}

/// The change between these SKUs; the longest where none are named.
///
/// # Errors
/// The document does not hold it in full.
pub fn change<'a>(document: &'a ChangeoverDocument, pair: Option<(&str, &str)>) -> Result<&'a ChangeInFull, Finding> {
    let found = match pair {
        None => document.changes.first(),
        Some((from, to)) => document.changes.iter().find(|c| c.from == from && c.to == to),
    };
    found.ok_or_else(|| {
        let says = match pair {
            None => "the document holds no change in full".to_owned(),
            Some((from, to)) => {
                format!("the document does not hold the change from {} to {} in full", quoted(from), quoted(to))
            }
        };
        unfit("/changeover/changes", says).advise("Ask for the change by its SKUs: `from` and `to` of `changeover`.")
    })
}

/// A picture of changes, as a document of its own.
///
/// # Errors
/// The document does not hold what is to be shown.
pub fn changes_svg(
    document: &ChangeoverDocument,
    picture: Picture,
    pair: Option<(&str, &str)>,
) -> Result<Vec<u8>, Finding> {
    sound(document)?;
    let markup: Markup = match picture {
        Picture::Matrix => matrix_chart(document, "lw-changes"),
        Picture::Schedule => schedule_chart(document, change(document, pair)?, MOST_ROWS, "lw-change"),
        Picture::Order => match &document.order {
            Some(order) => order_chart(document, order, (0, MOST_ROWS), "lw-order"),
            None => return Err(unfit("/changeover/order", "the document holds no order")),
        },
    };
    Ok((markup.into_string() + "\n").into_bytes())
}

/// Holds the changes against the cell of a plan.
///
/// # Errors
/// They are those of another cell, or numbers in them cannot be drawn.
pub fn of_the_cell(document: &ChangeoverDocument, plan: &Drawable<'_>) -> Result<(), Finding> {
    let skus = document.skus.iter().map(|s| s.id.as_str());
    if document.name != plan.document.name || !skus.eq(plan.cell.skus.iter().map(|s| s.id.as_str())) {
        let says =
            format!("the changes are those of another cell: {}, {} SKUs", quoted(&document.name), document.skus.len());
        return Err(unfit("/changeover", says));
    }
    sound(document)
}

/// Numbers are finite, not below zero and of a size that can be drawn; the matrix is square.
fn sound(document: &ChangeoverDocument) -> Result<(), Finding> {
    /// Three years.
    const MOST_S: f64 = 1e8;
    let fits = |s: &f64| (0.0..=MOST_S).contains(s);
    let n = document.skus.len();
    let matrix = &document.matrix_s;
    if matrix.len() != n || matrix.iter().any(|row| row.len() != n || !row.iter().all(fits)) {
        return Err(unfit("/changeover/matrix_s", format!("the matrix is not one of {n} by {n} times")));
    }
    if document.limit_s.is_some_and(|limit| !fits(&limit)) {
        return Err(unfit("/changeover/limit_s", "the limit cannot be drawn"));
    }
    for (i, c) in document.changes.iter().enumerate() {
        let parts = [c.total_s, c.run_out_s, c.by_hand_s, c.moving_s, c.work_s, c.refill_s, c.before_s, c.behind_s];
        let steps = c.steps.iter().flat_map(|s| [s.start_s, s.time_s]);
        if !parts.into_iter().chain(steps).chain(c.moves.iter().map(|m| m.time_s)).all(|s| fits(&s)) {
            return Err(unfit(format!("/changeover/changes/{i}"), "times of the change cannot be drawn"));
        }
    }
    let lots = document.order.iter().flat_map(|o| &o.lots).flat_map(|l| [l.change_s, l.run_min.unwrap_or(0.0)]);
    let week = document.week.iter().flat_map(|w| [w.available_min, w.change_min]);
    if !lots.chain(week).all(|s| fits(&s)) {
        return Err(unfit("/changeover/order", "times of the order cannot be drawn"));
    }
    Ok(())
}
