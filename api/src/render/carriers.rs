//! Rates over the number of carriers, in print.

use super::table::{Align, Table, paragraph};
use crate::wire::carriers::{CarriersDocument, SkuCarriers};

/// The numbers of carriers that make the design rate, as `13-14, 16`; not every number between need do, since batches may
/// leave a carrier over that blocks the loop.
#[must_use]
pub fn enough(sku: &SkuCarriers) -> String {
    let mut runs: Vec<(u32, u32)> = Vec::new();
    let mut open = false;
    for p in &sku.points {
        match runs.last_mut() {
            Some(run) if open && p.makes => run.1 = p.carriers,
            _ if p.makes => runs.push((p.carriers, p.carriers)),
            _ => {}
        }
        open = p.makes;
    }
    let shown: Vec<String> =
        runs.iter().map(|(a, b)| if a == b { a.to_string() } else { format!("{a}-{b}") }).collect();
    if shown.is_empty() { "none".to_owned() } else { shown.join(", ") }
}

/// One line for each SKU.
#[must_use]
pub fn carriers_text(document: &CarriersDocument) -> String {
    use Align::{Left, Right};
    let columns =
        [("SKU", Left), ("Design", Right), ("Enough", Right), ("Here", Right), ("Highest", Right), ("With", Right)];
    let mut table = Table::new(&columns);
    for sku in &document.skus {
        let count = |n: Option<u32>| n.map_or_else(|| "-".to_owned(), |n| n.to_string());
        let here = sku.points.iter().find(|p| p.carriers == document.carriers);
        // Of equal rates, the one with the fewest carriers.
        let highest = sku.points.iter().rev().max_by(|a, b| a.rate_per_min.total_cmp(&b.rate_per_min));
        table.row(vec![
            sku.id.clone(),
            format!("{:.3}", sku.design_rate_per_min),
            enough(sku),
            here.map_or_else(|| "-".to_owned(), |p| format!("{:.3}", p.rate_per_min)),
            highest.map_or_else(|| "-".to_owned(), |p| format!("{:.3}", p.rate_per_min)),
            count(highest.map(|p| p.carriers)),
        ]);
    }
    let note = format!(
        "Carriers a minute, all else as planned with {} carriers. Enough: numbers of carriers that make the design rate. \
         Highest: the highest rate, and the fewest carriers with it.",
        document.carriers
    );
    table.print() + &paragraph("", 0, &note)
}
