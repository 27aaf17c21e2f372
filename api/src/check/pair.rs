//! What an opposed pair that squeezes must be able to do.

use super::sink::Sink;
use crate::codes::Code;
use crate::finding::Finding;
use crate::read::{escape, quoted};
use crate::wire::cell::{CellDocument, Circuit};
use crate::wire::pair::Pair;

/// Lengths that are equal but for rounding, in millimetres.
const EQUAL_MM: f64 = 1e-6;

/// Reports every pair whose squeeze cannot be made, or cannot hold a load.
pub(super) fn check(document: &CellDocument, sink: &Sink<'_>) {
    for (at, circuit) in document.circuits.iter().enumerate() {
        if let Some(pair) = &circuit.carrier.pair
            && let Some(squeeze) = pair.squeeze_n
        {
            if let Some(peak) = circuit.carrier.peak_force_n
                && squeeze >= peak
            {
                let message = format!(
                    "a squeeze of {squeeze} N does not lie below a mover's peak force of {peak} N, so that nothing is left to move with"
                );
                sink.report(Finding::new(Code::Squeeze, format!("/circuits/{at}/carrier/pair/squeeze_n"), message));
            }
            loads(document, at, circuit, pair, sink);
        }
    }
}

fn loads(document: &CellDocument, at: usize, circuit: &Circuit, pair: &Pair, sink: &Sink<'_>) {
    for (k, sku) in document.skus.iter().enumerate() {
        let Some(load) = sku.loads.get(&circuit.id).filter(|load| load.held) else { continue };
        let place = format!("/skus/{k}/loads/{}", escape(&circuit.id));
        if load.mass_kg > 0.0 && load.friction.is_none() {
            let message = format!(
                "SKU {} is held by a squeeze (/circuits/{at}/carrier/pair/squeeze_n), but its `friction` is not given",
                quoted(&sku.id)
            );
            sink.report(Finding::new(Code::Squeeze, place.clone(), message));
        }
        let apart = load.extent_mm - 2.0 * pair.paddle_offset_mm;
        if apart < circuit.carrier.length_mm - EQUAL_MM {
            let message = format!(
                "with SKU {} between the paddles the movers would stand {apart} mm apart, middle to middle, but each is {} mm long: \
                 they touch before they grip",
                quoted(&sku.id),
                circuit.carrier.length_mm
            );
            let advice = format!(
                "Take paddles that stand further in (`paddle_offset_mm` of {} at most), or shorter movers.",
                (load.extent_mm - circuit.carrier.length_mm) / 2.0
            );
            sink.report(Finding::new(Code::Squeeze, place, message).advise(advice));
        }
    }
}
