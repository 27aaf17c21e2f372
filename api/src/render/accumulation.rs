//! The printed accumulation curve.

use super::COLUMNS;
use super::table::{Align, Table, clip, paragraph, width};
use crate::wire::accumulation::AccumulationDocument;
use crate::wire::plan::ReachStatus;

/// The curve on pages of 100 columns.
#[must_use]
pub fn accumulation_text(document: &AccumulationDocument) -> String {
    let asked = &document.asked;
    let title =
        clip(&format!("{}: what accumulation from {} to {} buys", document.name, asked.from, asked.to), COLUMNS);
    let mut out = format!("{title}\n{}\n\n", "=".repeat(width(&title)));
    out += &paragraph("", 0, &format!("{}.", document.says));
    let narrow = if document.reached { "" } else { "; some intervals are wider than was asked" };
    out += &paragraph(
        "",
        0,
        &format!(
            "SKU {}, {:.3} cases a minute asked; {:.1} s of ride-through in the document. Each point is planned anew and simulated {} times with the same luck{narrow}.",
            document.sku, document.asked_net_rate_per_min, document.given_ride_through_s, document.replications
        ),
    );
    out.push('\n');
    let mut table = Table::new(&[
        ("Ride s", Align::Right),
        ("Slots", Align::Right),
        ("Floor m²", Align::Right),
        ("Carriers", Align::Right),
        ("Price", Align::Right),
        ("Cases/min", Align::Left),
        ("More than before", Align::Left),
        ("", Align::Left),
    ]);
    for (i, point) in document.points.iter().enumerate() {
        let or_dash = |text: Option<String>| text.unwrap_or_else(|| "-".to_owned());
        table.row(vec![
            format!("{:.2}", point.ride_through_s),
            or_dash(point.slots.map(|n| n.to_string())),
            or_dash(point.area_m2.map(|area| format!("{area:.2}"))),
            or_dash(point.carriers.map(|n| n.to_string())),
            or_dash(point.price.map(super::grouped)),
            or_dash(point.net_rate_per_min.map(|r| format!("{:.3} ± {:.3}", r.mean, r.half_width))),
            or_dash(point.gain_per_min.map(|g| format!("{:+.3} ± {:.3}", g.mean, g.half_width))),
            match point.status {
                ReachStatus::Planned if document.enough == u32::try_from(i).ok() => "enough",
                ReachStatus::Planned => "",
                ReachStatus::Impossible => "no plan",
                ReachStatus::Stopped => "no plan in the time",
            }
            .to_owned(),
        ]);
    }
    out + &table.print()
}
