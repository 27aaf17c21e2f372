//! The product stream of a plan.

use crate::wire::plan::{BeltSku, FeedLanes, FeedSku, PlannedBelt, PlannedFeed};
use loopwright_solver::cell::{Carries, Cell};
use loopwright_solver::stream::{Demand, Feed, Flow};
use loopwright_solver::units::{CarrierRate, Metres};

/// What a plan makes of the stream that comes. `taken` is the rate of a circuit's carriers by SKU, and `corner` where its floor
/// begins. None when no number of lanes will do, which a checked cell does not let be.
pub(super) fn feed(
    (of, demands): (&Feed, &[Option<Demand>]),
    into: &Cell,
    corner: (Metres, Metres),
    taken: &[CarrierRate],
) -> Option<PlannedFeed> {
    let lanes = of.lanes(demands);
    if of.stacking.is_some() && lanes.is_none() {
        return None;
    }
    let count = lanes.unwrap_or(1);
    let nothing = Demand::default();
    let flows: Option<Vec<Flow>> =
        (0..demands.len()).map(|k| of.flow(k, demands[k].as_ref().unwrap_or(&nothing), count)).collect();
    let flows = flows?;
    let ids: Vec<&String> = into.parts().skus.iter().map(|sku| &sku.id).collect();
    let belt = |b: usize| {
        let (belt, length) = (&of.belts[b], of.belt_length(b).m());
        let sku = |(id, flow): (&&String, &Flow)| {
            let own = &flow.belts[b];
            let (speed, needed) = (own.speed.m_s(), own.needed_length.m());
            BeltSku {
                id: (*id).clone(),
                gap_m: own.gap.m(),
                speed_m_s: speed,
                speed_up: own.speed_up,
                needed_length_m: needed,
                spare_speed: belt.max_speed.filter(|_| speed > 0.0).map(|most| most.m_s() / speed - 1.0),
                spare_length: length / needed - 1.0,
            }
        };
        PlannedBelt {
            id: belt.id.clone(),
            length_m: length,
            max_speed_m_s: belt.max_speed.map(|v| v.m_s()),
            skus: ids.iter().zip(&flows).map(sku).collect(),
        }
    };
    let sku = |k: usize| {
        let (flow, product) = (&flows[k], &of.products[k]);
        let takes = taken_products(into, product.per_stack, k, taken[k]);
        let delivered = product.delivered.map(|rate| rate.as_per_minute());
        let stacks = flow.stacks.as_per_minute();
        FeedSku {
            id: ids[k].clone(),
            products_per_min: flow.products.as_per_minute(),
            stacks_per_min: stacks,
            cases_per_min: flow.cases.as_per_minute(),
            net_products_per_min: flow.net.as_per_minute(),
            design_products_per_min: flow.design.as_per_minute(),
            taken_products_per_min: takes,
            delivered_per_min: delivered,
            surplus_per_min: delivered.map(|given| (given - takes).max(0.0)),
            lanes: flow.lanes.as_ref().map(|lane| {
                let capacity = lane.capacity.as_per_minute();
                FeedLanes {
                    lane_products_per_min: lane.lane_rate.as_per_minute(),
                    cycle_s: lane.cycle.s(),
                    needed_lanes: lane.needed_lanes,
                    capacity_stacks_per_min: capacity,
                    spare_capacity: if stacks > 0.0 { capacity / stacks - 1.0 } else { 0.0 },
                    needed_buffer: lane.needed_buffer,
                    in_turn: lane.in_turn,
                }
            }),
        }
    };
    let (length, width) = of.size();
    Some(PlannedFeed {
        into: of.into.clone(),
        side: super::site::side(of.side),
        x_m: corner.0.m(),
        y_m: corner.1.m(),
        length_m: length.m(),
        width_m: width.m(),
        belts: (0..of.belts.len()).map(belt).collect(),
        lanes,
        buffer_products: of.stacking.and_then(|s| s.buffer),
        skus: (0..ids.len()).map(sku).collect(),
    })
}

/// Products a minute on so many carriers.
fn taken_products(cell: &Cell, per_stack: u32, sku: usize, carriers: CarrierRate) -> f64 {
    let circuit = &cell.parts().circuit;
    let stacks = match circuit.carries {
        Carries::Case => cell.parts().skus[sku].stacks_per_case,
        Carries::Stack => 1,
    };
    let products = f64::from(circuit.items_per_carrier) * f64::from(stacks) * f64::from(per_stack);
    carriers.as_per_minute() * products
}
