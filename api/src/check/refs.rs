//! What the parts of a document say of one another.

use std::collections::{HashMap, HashSet};

use super::nearest::nearest;
use super::sink::Sink;
use super::{feed, site};
use crate::codes::Code;
use crate::finding::Finding;
use crate::read::{escape, quoted};
use crate::wire::cell::{CellDocument, Circuit};

/// The ids of one kind. An id that was found faulty is empty; then nothing is said of ids that seem to be unknown.
struct Names<'d> {
    what: &'static str,
    all: HashMap<&'d str, usize>,
    in_order: Vec<&'d str>,
    complete: bool,
}

impl<'d> Names<'d> {
    /// Gathers ids and reports those that are used twice.
    fn gather(what: &'static str, list: &str, ids: impl Iterator<Item = &'d String>, sink: &Sink<'_>) -> Self {
        let mut names = Self { what, all: HashMap::new(), in_order: Vec::new(), complete: true };
        for (index, id) in ids.enumerate() {
            if id.is_empty() {
                names.complete = false;
            } else if let Some(first) = names.all.get(id.as_str()) {
                let message = format!("{what} id {} is used twice; {list}/{first} has it already", quoted(id));
                sink.report(Finding::new(Code::DuplicateId, format!("{list}/{index}/id"), message));
            } else {
                names.all.insert(id, index);
                names.in_order.push(id);
            }
        }
        names
    }

    /// What to report of an id that must be one of these.
    fn unknown(&self, id: &str, pointer: String, sink: &Sink<'_>) -> Option<Finding> {
        if id.is_empty() || !self.complete || self.all.contains_key(id) {
            return None;
        }
        let message = format!("no {} has the id {}", self.what, quoted(id));
        let finding = Finding::new(Code::UnknownId, pointer, message);
        let meant = if sink.full() { None } else { nearest(id, self.in_order.iter().copied()) };
        Some(match meant {
            Some(meant) => finding.advise(format!("Did you mean {}?", quoted(meant))),
            None => finding,
        })
    }
}

/// Reports everything that does not fit together.
pub(super) fn check(document: &CellDocument, sink: &Sink<'_>) {
    let skus = Names::gather("SKU", "/skus", document.skus.iter().map(|s| &s.id), sink);
    let circuits = Names::gather("circuit", "/circuits", document.circuits.iter().map(|c| &c.id), sink);
    let stations = Names::gather("station", "/stations", document.stations.iter().map(|s| &s.id), sink);
    for (index, circuit) in document.circuits.iter().enumerate() {
        let list = format!("/circuits/{index}/track/forms");
        let forms = Names::gather("form", &list, circuit.track.forms.iter().map(|f| &f.id), sink);
        if let Some(form) = circuit.fixed.as_ref().and_then(|fixed| fixed.form.as_ref()) {
            let pointer = format!("/circuits/{index}/fixed/form");
            forms.unknown(form, pointer, sink).into_iter().for_each(|finding| sink.report(finding));
        }
        order(index, circuit, &stations, sink);
    }
    for (index, sku) in document.skus.iter().enumerate() {
        for id in sku.loads.keys() {
            let pointer = format!("/skus/{index}/loads/{}", escape(id));
            circuits.unknown(id, pointer, sink).into_iter().for_each(|finding| sink.report_key(finding));
        }
    }
    for (index, station) in document.stations.iter().enumerate() {
        for id in station.per_sku.keys() {
            let pointer = format!("/stations/{index}/per_sku/{}", escape(id));
            skus.unknown(id, pointer, sink).into_iter().for_each(|finding| sink.report_key(finding));
        }
    }
    for (index, window) in document.windows.iter().enumerate() {
        for (key, id) in [("from", &window.from), ("to", &window.to)] {
            let pointer = format!("/windows/{index}/{key}");
            stations.unknown(id, pointer, sink).into_iter().for_each(|finding| sink.report(finding));
        }
    }
    let named = document.segments.iter().map(|s| &s.circuit).enumerate().map(|(i, id)| (format!("/segments/{i}"), id));
    let named = named
        .chain(document.windows.iter().map(|w| &w.circuit).enumerate().map(|(i, id)| (format!("/windows/{i}"), id)));
    for (pointer, id) in named {
        let unknown = id.as_ref().and_then(|id| circuits.unknown(id, format!("{pointer}/circuit"), sink));
        unknown.into_iter().for_each(|finding| sink.report(finding));
    }
    for (index, circuit) in document.circuits.iter().enumerate() {
        let pointer = format!("/circuits/{index}/above");
        let unknown = circuit.above.as_ref().and_then(|id| circuits.unknown(id, pointer, sink));
        unknown.into_iter().for_each(|finding| sink.report(finding));
    }
    if let Some(feed) = &document.feed {
        let unknown = stations.unknown(&feed.into, "/feed/into".to_owned(), sink);
        unknown.into_iter().for_each(|finding| sink.report(finding));
        for id in feed.products.per_sku.keys() {
            let pointer = format!("/feed/products/per_sku/{}", escape(id));
            skus.unknown(id, pointer, sink).into_iter().for_each(|finding| sink.report_key(finding));
        }
        Names::gather("belt", "/feed/belts", feed.belts.iter().map(|b| &b.id), sink);
    }
    for (key, opening) in site::asked(document) {
        let pointer = format!("/requirements/{key}/station");
        stations.unknown(&opening.station, pointer, sink).into_iter().for_each(|finding| sink.report(finding));
    }
    segments(document, &stations, sink);
    usage(document, &stations, sink);
}

fn order(index: usize, circuit: &Circuit, stations: &Names<'_>, sink: &Sink<'_>) {
    let mut seen = HashSet::new();
    for (place, id) in circuit.order.iter().enumerate() {
        let pointer = format!("/circuits/{index}/order/{place}");
        if let Some(finding) = stations.unknown(id, pointer.clone(), sink) {
            sink.report(finding);
        }
        if !id.is_empty() && !seen.insert(id) {
            let message = format!("`order` names the station {} twice", quoted(id));
            sink.report(Finding::new(Code::GivenTwice, pointer, message));
        }
    }
}

/// Whether every order can be relied on: one with a fault in it may have meant any station at any place.
fn orders_are_sound(document: &CellDocument, stations: &Names<'_>) -> bool {
    document.circuits.iter().map(|c| &c.order).all(|order| {
        let mut seen = HashSet::new();
        !order.is_empty() && order.iter().all(|id| stations.all.contains_key(id.as_str()) && seen.insert(id))
    })
}

fn segments(document: &CellDocument, stations: &Names<'_>, sink: &Sink<'_>) {
    let neighbours = |circuit: &Circuit, ends: (&String, &String)| {
        circuit.order.iter().zip(circuit.order.iter().cycle().skip(1)).any(|pair| pair == ends)
    };
    let sure = orders_are_sound(document, stations);
    let mut seen = HashMap::new();
    for (index, segment) in document.segments.iter().enumerate() {
        let unknown = [("from", &segment.from), ("to", &segment.to)]
            .into_iter()
            .filter_map(|(key, id)| stations.unknown(id, format!("/segments/{index}/{key}"), sink));
        let before = unknown.map(|finding| sink.report(finding)).count();
        if before > 0 || segment.from.is_empty() || segment.to.is_empty() {
            continue;
        }
        let ends = (&segment.from, &segment.to);
        let pointer = format!("/segments/{index}");
        let (from, to) = (quoted(ends.0), quoted(ends.1));
        let named = segment.circuit.as_ref();
        let there: Vec<&Circuit> =
            document.circuits.iter().filter(|c| named.is_none_or(|id| *id == c.id) && neighbours(c, ends)).collect();
        if let Some(first) = seen.insert((ends, there.first().map(|c| &c.id)), index) {
            let message = format!("the segment from {from} to {to} is given twice; /segments/{first} has it already");
            sink.report(Finding::new(Code::GivenTwice, pointer, message));
        } else if sure && there.is_empty() && named.is_none_or(|id| document.circuits.iter().any(|c| c.id == *id)) {
            let message = format!("{to} does not follow {from} in the order of a circuit");
            sink.report(Finding::new(Code::NotNeighbours, pointer, message));
        } else if there.len() > 1 {
            two_circuits(pointer, &format!("{to} follows {from}"), sink);
        }
    }
}

/// Something that could be about either of two circuits.
fn two_circuits(pointer: String, what: &str, sink: &Sink<'_>) {
    let message = format!("{what} on two circuits");
    sink.report(Finding::new(Code::OneOf, pointer, message).advise("Say with `circuit` which of them is meant."));
}

fn usage(document: &CellDocument, stations: &Names<'_>, sink: &Sink<'_>) {
    let mut used: HashMap<&str, usize> = HashMap::new();
    for (index, circuit) in document.circuits.iter().enumerate() {
        for (place, id) in circuit.order.iter().enumerate() {
            let count = used.entry(id.as_str()).or_insert(0);
            *count += 1;
            // Twice in one order is reported there.
            if *count == 3 && circuit.order.iter().filter(|other| *other == id).count() == 1 {
                let message = format!("the station {} is in the orders of three circuits", quoted(id));
                let finding = Finding::new(Code::HandOff, format!("/circuits/{index}/order/{place}"), message);
                sink.report(finding.advise("A station can hand product over between two circuits only."));
            }
        }
    }
    if !orders_are_sound(document, stations) {
        return;
    }
    for (&id, &index) in stations.all.iter().filter(|(id, _)| !used.contains_key(*id)) {
        let message = format!("the station {} is in no order and is left out of the plan", quoted(id));
        sink.report(Finding::new(Code::UnusedStation, format!("/stations/{index}"), message));
    }
    feed::ids(document).into_iter().for_each(|finding| sink.report(finding));
    site::unreachable(document).into_iter().for_each(|finding| sink.report(finding));
    for (key, opening) in site::asked(document) {
        let id = opening.station.as_str();
        if stations.all.contains_key(id) && !used.contains_key(id) {
            let message = format!("the station {} is in no order", quoted(id));
            let finding = Finding::new(Code::UnknownId, format!("/requirements/{key}/station"), message);
            sink.report(finding.advise("Name a station of the order, or add this one to it."));
        }
    }
    for (index, window) in document.windows.iter().enumerate() {
        for (key, id) in [("from", window.from.as_str()), ("to", window.to.as_str())] {
            if stations.all.contains_key(id) && !used.contains_key(id) {
                let message = format!("the window counts at the station {}, which is in no order", quoted(id));
                let finding = Finding::new(Code::UnknownId, format!("/windows/{index}/{key}"), message);
                sink.report(finding.advise("Name a station of the order, or add this one to it."));
            }
        }
        window_on_one_circuit(document, index, sink);
    }
}

/// Both stations of a window must be on one circuit, and on no other one together unless it is named.
fn window_on_one_circuit(document: &CellDocument, index: usize, sink: &Sink<'_>) {
    let window = &document.windows[index];
    let anywhere = |id: &String| document.circuits.iter().any(|c| c.order.contains(id));
    if document.circuits.len() < 2 || !(anywhere(&window.from) && anywhere(&window.to)) {
        return;
    }
    let named = window.circuit.as_ref();
    let both = |c: &&Circuit| {
        named.is_none_or(|id| *id == c.id) && c.order.contains(&window.from) && c.order.contains(&window.to)
    };
    let what = format!("{} and {}", quoted(&window.from), quoted(&window.to));
    match document.circuits.iter().filter(both).count() {
        0 => {
            let finding =
                Finding::new(Code::HandOff, format!("/windows/{index}"), format!("{what} are on no circuit together"));
            sink.report(finding.advise("Give a window for each circuit, up to the hand-off and from it on."));
        }
        1 => {}
        _ => two_circuits(format!("/windows/{index}"), &format!("{what} stand together"), sink),
    }
}
