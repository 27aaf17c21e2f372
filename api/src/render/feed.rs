//! The product stream of a plan, in print.

use super::table::{Align, Table, paragraph};
use crate::wire::plan::{PlannedCellSide, PlannedFeed};

/// Column of its first texts.
const LABEL: usize = 12;

pub(super) fn feed(of: &PlannedFeed) -> String {
    use Align::{Left, Right};
    let side = match of.side {
        PlannedCellSide::Front => "in front",
        PlannedCellSide::Back => "behind",
        PlannedCellSide::Left => "at the left end",
        PlannedCellSide::Right => "at the right end",
    };
    let floor = format!("{:.3} x {:.3}\u{a0}m {side}; hands over at {}", of.length_m, of.width_m, of.into);
    let mut out = paragraph("Floor", LABEL, &floor);
    if let Some(lanes) = of.lanes {
        let wait = match of.buffer_products {
            Some(n) => format!(", {n} products can wait before each"),
            None => String::new(),
        };
        out += &paragraph("Lanes", LABEL, &format!("{lanes}{wait}"));
    }
    out += "\n";
    let mut belts = Table::new(&[
        ("Belt", Left),
        ("SKU", Left),
        ("Gap mm", Right),
        ("Speed m/s", Right),
        ("Fastest", Right),
        ("Spare", Right),
        ("Speed-up", Right),
        ("Length mm", Right),
        ("Needed mm", Right),
    ]);
    let dash = || "-".to_owned();
    let share = |x: f64| format!("{:+.1} %", x * 100.0);
    for belt in &of.belts {
        for sku in &belt.skus {
            belts.row(vec![
                belt.id.clone(),
                sku.id.clone(),
                format!("{:.0}", sku.gap_m * 1e3),
                format!("{:.3}", sku.speed_m_s),
                belt.max_speed_m_s.map_or_else(dash, |v| format!("{v:.3}")),
                sku.spare_speed.map_or_else(dash, share),
                format!("{:.3}", sku.speed_up),
                format!("{:.0}", belt.length_m * 1e3),
                format!("{:.0}", sku.needed_length_m * 1e3),
            ]);
        }
    }
    out += &belts.print();
    let mut skus = Table::new(&[
        ("SKU", Left),
        ("Products", Right),
        ("Stacks", Right),
        ("Cases", Right),
        ("Takes", Right),
        ("Over", Right),
        ("Lane takes", Right),
        ("Cycle s", Right),
        ("Lanes", Right),
        ("Spare", Right),
        ("Wait", Right),
    ]);
    for sku in &of.skus {
        let lane = sku.lanes.as_ref();
        skus.row(vec![
            sku.id.clone(),
            format!("{:.1}", sku.products_per_min),
            format!("{:.2}", sku.stacks_per_min),
            format!("{:.2}", sku.cases_per_min),
            format!("{:.1}", sku.taken_products_per_min),
            sku.surplus_per_min.map_or_else(dash, |over| format!("{over:.1}")),
            lane.map_or_else(dash, |l| format!("{:.1}", l.lane_products_per_min)),
            lane.map_or_else(dash, |l| format!("{:.2}", l.cycle_s)),
            lane.map_or_else(dash, |l| l.needed_lanes.to_string()),
            lane.map_or_else(dash, |l| share(l.spare_capacity)),
            lane.map_or_else(dash, |l| l.needed_buffer.to_string()),
        ]);
    }
    let note = "Rates a minute. Takes: products that the plan can take; over: delivered beyond that. Lanes: needed by the SKU; \
                wait: products that must be able to wait before each lane while it pushes out.";
    out + "\n" + &skus.print() + &paragraph("", 0, note)
}
