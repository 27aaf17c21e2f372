//! Opposed pairs: how wide they open, and what their squeeze carries.

use super::table::{Align, Table, heading, paragraph};
use super::text::dash;
use crate::wire::plan::PlannedCircuit;

/// Nothing where no pair follows its load.
pub(super) fn pairs(circuit: &PlannedCircuit) -> String {
    use Align::{Left, Right};
    let mut table = Table::new(&[
        ("SKU", Left),
        ("Opens mm", Right),
        ("Length mm", Right),
        ("Pitch mm", Right),
        ("Carries m/s2", Right),
        ("Takes m/s2", Right),
    ]);
    let followed: Vec<_> = circuit.skus.iter().filter_map(|sku| sku.pair.map(|pair| (sku, pair))).collect();
    if followed.is_empty() {
        return String::new();
    }
    for (sku, pair) in followed {
        table.row(vec![
            sku.id.clone(),
            format!("{:.1}", pair.opening_m * 1000.0),
            format!("{:.1}", pair.length_m * 1000.0),
            format!("{:.1}", sku.pitch_m * 1000.0),
            pair.holds_m_s2.map_or_else(dash, |a| format!("{a:.2}")),
            format!("{:.2}", sku.acceleration_m_s2),
        ]);
    }
    heading("Opposed pairs")
        + &table.print()
        + &paragraph(
            "",
            0,
            "Opens: from paddle to paddle. Length: of the open pair along the track. Carries: what friction under the squeezed \
             paddles holds; takes: the acceleration of this plan. The squeeze is not taken off the motors' force.",
        )
}
