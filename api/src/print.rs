//! What the customer sees, by file name: one table for the command line and the service.

use crate::draw::{Drawable, Titles, drawing_dxf, plan_svg};
use crate::finding::Finding;
use crate::wire::cell::CellDocument;
use crate::wire::plan::PlanDocument;

/// One thing that can be printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Print {
    /// The plan drawing.
    DrawingSvg,
    /// The same in real millimetres, for drawing programs.
    DrawingDxf,
}

impl Print {
    /// All of them, each with its file name and media type.
    pub const ALL: &[(Self, &'static str, &'static str)] = &[
        (Self::DrawingSvg, "drawing.svg", "image/svg+xml; charset=utf-8"),
        (Self::DrawingDxf, "drawing.dxf", "image/vnd.dxf"),
    ];

    /// The one of this file name.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.iter().find(|(_, known, _)| *known == name).map(|(print, ..)| *print)
    }

    /// Its media type.
    #[must_use]
    pub fn media(self) -> &'static str {
        Self::ALL.iter().find(|(print, ..)| *print == self).map_or("application/octet-stream", |(.., media)| media)
    }
}

/// What is printed of a plan.
#[derive(Clone, Debug, Default)]
pub struct Wishes {
    /// SKU whose carriers are drawn; the first where none is named.
    pub sku: Option<String>,
    /// What the user writes into title block or cover.
    pub titles: Titles,
}

/// Prints a plan of a cell; the same documents and wishes give the same bytes.
///
/// # Errors
/// The documents do not fit together, or a wish names what is not there.
pub fn print(what: Print, cell: &CellDocument, plan: &PlanDocument, wishes: &Wishes) -> Result<Vec<u8>, Finding> {
    let plan = Drawable::new(cell, plan)?;
    let sku = plan.sku(wishes.sku.as_deref())?;
    // Planned cells have one circuit; of several, the first is drawn.
    let Some(circuit) = plan.planned.circuits.first() else { return Ok(Vec::new()) };
    match what {
        Print::DrawingSvg => Ok(plan_svg(&plan, circuit, sku, &wishes.titles, "lw-").into_bytes()),
        Print::DrawingDxf => Ok(drawing_dxf(&plan, circuit, sku).into_bytes()),
    }
}
