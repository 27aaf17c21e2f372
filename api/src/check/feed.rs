//! The product stream: from the tree to the published document, from there to the engine's quantities, and what it does not
//! keep, in words.

use super::decode::{Item, Object};
use super::most;
use super::range::{LANES, LENGTH, PLACES, RATE, SIZE, SPEED, TIME};
use super::sink::Sink;
use super::site::SIDES;
use crate::codes::Code;
use crate::finding::Finding;
use crate::read::quoted;
use crate::wire::cell::CellDocument;
use crate::wire::feed::{Belt, Feed, FeedPerSku, FeedProducts, FeedRuns, Stacking};
use crate::wire::site::CellSide;
use loopwright_solver::stream::{self, Demand, Shortfall};
use loopwright_solver::units::ProductRate;

/// Share by which more may come than the cell takes: only rounding.
const ROUNDING: f64 = 1e-9;

pub(super) fn decode(mut o: Object<'_, '_>, sink: &Sink<'_>) -> Feed {
    const RUNS: &[(&str, FeedRuns)] = &[("along", FeedRuns::Along), ("across", FeedRuns::Across)];
    let feed = Feed {
        into: o.text("into"),
        side: o.choice_needed("side", SIDES, CellSide::Front),
        runs: o.choice("runs", RUNS, FeedRuns::Along),
        width_mm: o.number_needed("width_mm", &SIZE),
        products: products(o.object_needed("products"), sink),
        belts: o.list_needed("belts", most::BELTS).iter().map(|item| belt(item, sink)).collect(),
        needed_gap_mm: o.number_or("needed_gap_mm", &LENGTH, 0.0),
        stacking: o.object("stacking").map(stacking),
    };
    o.close();
    feed
}

fn products(mut o: Object<'_, '_>, sink: &Sink<'_>) -> FeedProducts {
    let products = FeedProducts {
        length_mm: o.number_needed("length_mm", &SIZE),
        gap_mm: o.number_or("gap_mm", &LENGTH, 0.0),
        delivered_per_min: o.number("delivered_per_min", &RATE),
        per_sku: o.map("per_sku").iter().map(|item| (item.key.to_owned(), per_sku(item, sink))).collect(),
    };
    o.close();
    products
}

fn per_sku(item: &Item<'_>, sink: &Sink<'_>) -> FeedPerSku {
    let mut o = Object::item(item, sink);
    let own = FeedPerSku {
        length_mm: o.number("length_mm", &SIZE),
        gap_mm: o.number("gap_mm", &LENGTH),
        delivered_per_min: o.number("delivered_per_min", &RATE),
    };
    o.close();
    own
}

fn belt(item: &Item<'_>, sink: &Sink<'_>) -> Belt {
    let mut o = Object::item(item, sink);
    let belt = Belt {
        id: o.text("id"),
        gap_mm: o.number("gap_mm", &LENGTH),
        max_speed_m_s: o.number("max_speed_m_s", &SPEED),
        length_mm: o.number("length_mm", &SIZE),
    };
    o.close();
    belt
}

fn stacking(mut o: Object<'_, '_>) -> Stacking {
    let stacking = Stacking {
        lanes: o.count("lanes", &LANES),
        max_lanes: o.count("max_lanes", &LANES),
        lane_products_per_min: o.number("lane_products_per_min", &RATE),
        push_out_s: o.number_or("push_out_s", &TIME, 0.0),
        buffer_products: o.count("buffer_products", &PLACES),
        length_mm: o.number_or("length_mm", &LENGTH, 0.0),
    };
    if stacking.lanes.is_some() && stacking.max_lanes.is_some() {
        o.fault(Code::KeysClash, "max_lanes", "`max_lanes` is a limit where lanes are derived, but `lanes` is given");
    }
    o.close();
    stacking
}

/// What the stream asks of the rest of the document: the station that it feeds is in an order, and nothing is named that is
/// not there.
pub(super) fn ids(document: &CellDocument) -> Option<Finding> {
    let feed = document.feed.as_ref()?;
    let used = document.circuits.iter().any(|c| c.order.contains(&feed.into));
    let there = document.stations.iter().any(|s| s.id == feed.into);
    (there && !used).then(|| {
        let message = format!("the product stream feeds the station {}, which is in no order", quoted(&feed.into));
        let finding = Finding::new(Code::UnknownId, "/feed/into", message);
        finding.advise("Name a station of the order, or add this one to it.")
    })
}

/// Index of what a SKU has of its own, or none.
fn own<'d>(document: &'d CellDocument, feed: &'d Feed, sku: usize) -> Option<&'d FeedPerSku> {
    feed.products.per_sku.get(&document.skus.get(sku)?.id)
}

/// The place of a key of the products that a SKU has: its own where it gives one.
fn product_key(document: &CellDocument, feed: &Feed, sku: usize, key: &str, has: fn(&FeedPerSku) -> bool) -> String {
    match document.skus.get(sku).filter(|_| own(document, feed, sku).is_some_and(has)) {
        Some(of) => format!("/feed/products/per_sku/{}/{key}", crate::read::escape(&of.id)),
        None => format!("/feed/products/{key}"),
    }
}

/// A limit that is not kept, with both numbers, the place, and what to do.
pub(super) fn said(short: &Shortfall, document: &CellDocument) -> Finding {
    let Some(feed) = &document.feed else {
        return Finding::new(Code::OwnFault, "", "a product stream that is not there does not keep a limit");
    };
    let sku = |k: usize| document.skus.get(k).map_or_else(String::new, |sku| quoted(&sku.id));
    let belt = |b: usize| feed.belts.get(b).map_or_else(String::new, |belt| quoted(&belt.id));
    match *short {
        Shortfall::Delivered { sku: k, gives, needs } => {
            let message = format!(
                "SKU {}: {:.4} products a minute are delivered; its net rate takes {:.4}",
                sku(k),
                gives.as_per_minute(),
                needs.as_per_minute()
            );
            let pointer = product_key(document, feed, k, "delivered_per_min", |own| own.delivered_per_min.is_some());
            Finding::new(Code::FeedShort, pointer, message)
        }
        Shortfall::TooSlow { belt: b, sku: k, needs } => {
            let most = feed.belts.get(b).and_then(|of| of.max_speed_m_s).unwrap_or_default();
            let message = format!(
                "the belt {} would run at {:.4} m/s with SKU {}; its fastest is {most} m/s",
                belt(b),
                needs.m_s(),
                sku(k)
            );
            Finding::new(Code::BeltSpeed, format!("/feed/belts/{b}/max_speed_m_s"), message)
        }
        Shortfall::TooShort { belt: b, sku: k, needs } => {
            let length = feed.belts.get(b).and_then(|of| of.length_mm).unwrap_or_default();
            let message = format!(
                "the belt {} is {length} mm long; with SKU {} it takes {:.1} mm to hold a product and the gap behind it",
                belt(b),
                sku(k),
                needs.mm()
            );
            Finding::new(Code::BeltShort, format!("/feed/belts/{b}/length_mm"), message)
        }
        Shortfall::Gap { sku: k, gap } => {
            let message = format!(
                "SKU {} leaves the last belt with gaps of {:.1} mm; {} mm are needed",
                sku(k),
                gap.mm(),
                feed.needed_gap_mm
            );
            Finding::new(Code::FeedGap, "/feed/needed_gap_mm", message)
        }
        Shortfall::Lanes { sku: k, needs, there } => {
            let needs = needs.map_or_else(|| "more than any number".to_owned(), |needs| needs.to_string());
            let given = feed.stacking.as_ref().is_some_and(|s| s.lanes.is_some());
            let key = match &feed.stacking {
                Some(s) if given || s.max_lanes.is_some() => {
                    if given {
                        "/lanes"
                    } else {
                        "/max_lanes"
                    }
                }
                _ => "",
            };
            let message = format!(
                "SKU {} needs {needs} lanes to be stacked; {}{there}",
                sku(k),
                if given { "there are " } else { "there may be at most " }
            );
            Finding::new(Code::LanesShort, format!("/feed/stacking{key}"), message)
        }
        Shortfall::Buffer { sku: k, needs, lanes } => {
            let there = feed.stacking.as_ref().and_then(|s| s.buffer_products).unwrap_or_default();
            let message = format!(
                "with {lanes} lanes {needs} products of SKU {} come to each while it pushes out; {there} can wait there",
                sku(k)
            );
            Finding::new(Code::BufferShort, "/feed/stacking/buffer_products", message)
        }
    }
}

/// Says where more comes than the cell takes at its design rate: it can be planned, but the machine before must be held back.
pub(super) fn surplus(document: &CellDocument, feed: &stream::Feed, demands: &[Option<Demand>], sink: &Sink<'_>) {
    let Some(wire) = &document.feed else { return };
    for (k, (product, demand)) in feed.products.iter().zip(demands).enumerate() {
        let (Some(gives), Some(demand), Some(sku)) = (product.delivered, demand, document.skus.get(k)) else {
            continue;
        };
        let takes = product.of_cases(demand.design);
        if gives.as_per_second() <= takes.as_per_second() * (1.0 + ROUNDING) {
            continue;
        }
        let stacks = |rate: ProductRate| product.stacks(rate).as_per_minute();
        let message = format!(
            "SKU {}: {:.4} products a minute are delivered, {:.4} stacks or {:.4} cases; the cell takes {:.4} cases at its \
             design rate, {:.4} products",
            quoted(&sku.id),
            gives.as_per_minute(),
            stacks(gives),
            product.cases(gives).as_per_minute(),
            product.cases(takes).as_per_minute(),
            takes.as_per_minute()
        );
        let pointer = product_key(document, wire, k, "delivered_per_min", |own| own.delivered_per_min.is_some());
        sink.report(Finding::new(Code::FeedOver, pointer, message));
    }
}
