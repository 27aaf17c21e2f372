//! The rate of a plan's loop over the number of carriers.

use crate::check::Document;
use crate::finding::Finding;
use crate::wire::carriers::{CarriersDocument, CarriersPoint, SkuCarriers};
use loopwright_solver::rules::exact;

/// Numbers of carriers that are looked at for one SKU.
const MOST_POINTS: u32 = 120;

/// Exact rates with other numbers of carriers, of a plan document in JSON.
///
/// # Errors
/// Every finding about what a plan cannot do without.
pub fn carriers_document(document: &Document, plan: &[u8]) -> Result<CarriersDocument, Vec<Finding>> {
    let document = &document.settled(plan);
    let plan = crate::judge::plan_of(document, plan)?;
    let cell = &document.cell;
    let misfit = || vec![Finding::new(crate::Code::CannotDraw, "", "the plan names what the cell does not have")];
    let numbers = plan.numbers(cell).map_err(|_| misfit())?;
    let parts = cell.parts();
    let skus = parts.skus.iter().zip(cell.rides()).enumerate().map(|(k, (sku, ride))| {
        let slots =
            u32::try_from(numbers.ring(k, plan.carriers).sections.iter().map(|s| u64::from(s.slots)).sum::<u64>());
        let slots = slots.unwrap_or(u32::MAX).max(1);
        let every = slots.div_ceil(MOST_POINTS);
        let looked = (1..=slots).filter(|n| n % every == 0 || *n == slots || *n == plan.carriers);
        let points: Vec<CarriersPoint> = looked
            .map(|carriers| {
                let (rate, _) = exact(&numbers.ring(k, carriers));
                CarriersPoint { carriers, rate_per_min: rate.rate().as_per_minute(), makes: rate.makes(ride.rate) }
            })
            .collect();
        let mut made = points.iter().filter(|p| p.makes).map(|p| p.carriers);
        let fewest = made.next();
        SkuCarriers {
            id: sku.id.clone(),
            design_rate_per_min: ride.rate.as_per_minute(),
            fewest,
            most: made.next_back().or(fewest),
            points,
        }
    });
    Ok(CarriersDocument {
        format: 1,
        name: parts.name.clone(),
        circuit: parts.circuit.id.clone(),
        carriers: plan.carriers,
        skus: skus.collect(),
    })
}
