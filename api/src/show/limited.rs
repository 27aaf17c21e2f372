//! What limits a rate, in the words of the trade.

use crate::wire::plan::{LimitKind, LimitedBy};
use loopwright_solver::cell::Cell;
use loopwright_solver::plan::{Numbers, Plan};
use loopwright_solver::throughput::Limit;

/// What limits the rate of one SKU.
pub(super) fn limited_by(cell: &Cell, plan: &Plan, numbers: &Numbers, sku: usize, limit: &Limit) -> LimitedBy {
    let stations = &cell.parts().stations;
    let id = |i: usize| stations[i % stations.len()].id.clone();
    let slots = |i: usize| count(numbers.slots[i][sku], "slot");
    let plain = |kind: LimitKind, says: String| LimitedBy {
        kind,
        station: None,
        from: None,
        to: None,
        circuits: Vec::new(),
        stations: Vec::new(),
        says,
    };
    match limit {
        Limit::Station(i) => {
            let of = &numbers.options[*i].skus[sku];
            let says = format!("{}: {} at a time takes {:.2} s", id(*i), of.batch, of.cycle.s());
            LimitedBy { station: Some(id(*i)), ..plain(LimitKind::Station, says) }
        }
        Limit::Carriers => {
            plain(LimitKind::Carriers, format!("{} on the loop are too few for more", count(plan.carriers, "carrier")))
        }
        Limit::Slots(i) => {
            let are = if numbers.slots[*i][sku] == 1 { "is" } else { "are" };
            let says = format!("{} before {} {are} too few for more", slots(*i), id(i + 1));
            LimitedBy { from: Some(id(*i)), to: Some(id(i + 1)), ..plain(LimitKind::Slots, says) }
        }
        Limit::Holes => {
            let all: u64 = numbers.slots.iter().map(|s| u64::from(s[sku])).sum();
            let free = all.saturating_sub(u64::from(plan.carriers));
            plain(LimitKind::Holes, format!("{free} free of {all} slots all round are too few for more"))
        }
        Limit::Chain(sections) => {
            let names: Vec<String> = sections.iter().map(|&i| id(i + 1)).collect();
            let says = format!("slots before {} together are too few for more", list(&names));
            LimitedBy { stations: names, ..plain(LimitKind::Chain, says) }
        }
        Limit::DoNotFit => {
            plain(LimitKind::DoNotFit, format!("{} do not fit the slots", count(plan.carriers, "carrier")))
        }
        Limit::Unknown => plain(
            LimitKind::Unknown,
            "not known: the rate was timed, since batches have too large a common multiple".to_owned(),
        ),
        Limit::Stuck => plain(LimitKind::Stuck, "nothing can ever move".to_owned()),
    }
}

fn count(n: u32, what: &str) -> String {
    if n == 1 { format!("1 {what}") } else { format!("{n} {what}s") }
}

/// "a", "a and b", "a, b and c".
fn list(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}
