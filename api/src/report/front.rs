//! The plans that no other beats: floor against carriers, with their prices.

use maud::{Markup, html};

use super::frame::{Axis, SMALL, axes, n, picture};
use crate::draw::text;
use crate::render::grouped;
use crate::wire::alternatives::FrontDocument;

/// The chart, 180 mm wide: each plan a point at its carriers and floor, its price beside it where that finds room.
#[must_use]
pub fn front_chart(front: &FrontDocument, id: &str) -> Markup {
    const WIDE: f64 = 180.0;
    const HIGH: f64 = 100.0;
    const LEFT: f64 = 22.0;
    const TOP: f64 = 18.0;
    let known: Vec<_> = front
        .plans
        .iter()
        .filter_map(|p| Some((f64::from(p.carriers?), p.footprint.as_ref()?.area_m2, p.price.unwrap_or_default())))
        .collect();
    let x = Axis::holding(known.iter().map(|p| p.0), LEFT, WIDE - 26.0);
    let y = Axis::holding(known.iter().map(|p| p.1), HIGH - 16.0, TOP);
    // A text that would lie on another is left out; the table has it.
    let mut taken: Vec<(f64, f64)> = Vec::new();
    let mut named = Vec::new();
    for &(carriers, area, price) in &known {
        let (at, level) = (x.at(carriers), y.at(area));
        let free = price > 0.0 && taken.iter().all(|t| (t.1 - level).abs() > 4.4 || (t.0 - at).abs() > 24.0);
        if free {
            taken.push((at, level));
        }
        named.push(free);
    }
    let inside = html! {
        (axes(&x, &y, ("carriers", "floor, m²")))
        @for (&(carriers, area, price), named) in known.iter().zip(named) {
            circle class="lw-chart-point" cx=(n(x.at(carriers))) cy=(n(y.at(area))) r="1.1" data-carriers=(carriers)
                data-area-m2=(area) data-price=(price) {}
            @if named {
                text class="lw-chart-text" x=(n(x.at(carriers) + 2.4)) y=(n(y.at(area) + 1.3)) font-size=(SMALL) {
                    (text::clipped(&grouped(price), SMALL, 22.0))
                }
            }
        }
    };
    let about = "Every plan that no other beats in floor, carriers and price together; prices beside the points.";
    picture(id, (WIDE, HIGH), ("Plans that no other beats", about), &inside)
}
