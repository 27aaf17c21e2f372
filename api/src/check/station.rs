//! From the tree to the published document: stations.

use super::adjust;
use super::chance::{failures, spread, supply};
use super::decode::{Item, Object};
use super::range::{DURATION, HEADS, LENGTH, PEOPLE, PRICE, SIZE, SPEED, TIME};
use super::sink::Sink;
use crate::codes::Code;
use crate::finding::Finding;
use crate::wire::cell::{Continuous, FixedWork, Intermittent, Mode, PerSku, Side, Station};

/// Which keys an entry of `per_sku` may have.
#[derive(Clone, Copy)]
struct Modes {
    intermittent: bool,
    process: bool,
    length: bool,
}

pub(super) fn decode(item: &Item<'_>, sink: &Sink<'_>) -> Station {
    const SIDES: &[(&str, Side)] = &[("front", Side::Front), ("back", Side::Back), ("either", Side::Either)];
    let mut o = Object::item(item, sink);
    let mut station = Station {
        id: o.text("id"),
        depth_mm: o.number_or("depth_mm", &LENGTH, 0.0),
        access_mm: o.number("access_mm", &LENGTH),
        frame_length_mm: o.number("frame_length_mm", &SIZE),
        margin_mm: o.number_or("margin_mm", &LENGTH, 0.0),
        side: o.choice("side", SIDES, Side::Either),
        intermittent: o.object("intermittent").map(intermittent),
        continuous: o.object("continuous").map(continuous),
        per_sku: std::collections::BTreeMap::new(),
        failures: o.object("failures").map(|o| failures(o, true)),
        short_stops: o.object("short_stops").map(|o| failures(o, true)),
        work_times: o.object("work_times").map(spread),
        supply: o.object("supply").map(supply),
        fixed: o.object("fixed").map(fixed),
        adjustments: adjust::adjustments(&mut o, true, sink),
        room_for_people: o.count("room_for_people", &PEOPLE),
    };
    fixed_is_to_be_had(&station, &o.path("fixed"), sink);
    let modes = Modes {
        intermittent: station.intermittent.is_some(),
        process: station.continuous.as_ref().is_some_and(|mode| mode.process_s.is_some()),
        length: station.continuous.as_ref().is_some_and(|mode| mode.process_length_mm.is_some()),
    };
    let no_mode = station.intermittent.is_none() && station.continuous.is_none();
    if no_mode {
        o.fault_here(Code::NoMode, "the station has neither `intermittent` nor `continuous`");
    }
    // A station without a valid way of working is reported once, not again for every SKU.
    let unclear = no_mode || (station.continuous.is_some() && modes.process == modes.length);
    for item in o.map("per_sku") {
        station.per_sku.insert(item.key.to_owned(), per_sku(&item, if unclear { None } else { Some(modes) }, sink));
    }
    o.close();
    station
}

fn fixed(mut o: Object<'_, '_>) -> FixedWork {
    const MODES: &[(&str, Option<Mode>)] =
        &[("intermittent", Some(Mode::Intermittent)), ("continuous", Some(Mode::Continuous))];
    let fixed = FixedWork { mode: o.choice("mode", MODES, None), heads: o.count("heads", &HEADS) };
    o.close();
    fixed
}

/// What is decided beforehand must be among what the station can do.
fn fixed_is_to_be_had(station: &Station, pointer: &str, sink: &Sink<'_>) {
    let Some(fixed) = &station.fixed else { return };
    let heads = |mode: Mode| match mode {
        Mode::Intermittent => station.intermittent.as_ref().map(|mode| mode.max_batch),
        Mode::Continuous => station.continuous.as_ref().map(|mode| mode.max_batch),
    };
    let modes = [Mode::Intermittent, Mode::Continuous];
    let of_mode = |mode: Mode| if mode == Mode::Intermittent { "intermittent" } else { "continuous" };
    if let Some(mode) = fixed.mode.filter(|&mode| heads(mode).is_none()) {
        let word = of_mode(mode);
        let message = format!("`mode` is fixed to {word}, but the station has no `{word}`");
        let finding = Finding::new(Code::NoMode, format!("{pointer}/mode"), message);
        sink.report(finding.advise(format!("Give the station `{word}`, or fix another way of working.")));
        return;
    }
    let most = modes.into_iter().filter(|&mode| fixed.mode.is_none_or(|m| m == mode)).filter_map(heads).max();
    if let (Some(fixed), Some(most)) = (fixed.heads, most)
        && fixed > most
    {
        let message = format!("`heads` is fixed to {fixed}; the station has at most {most}");
        let finding = Finding::new(Code::OutOfRange, format!("{pointer}/heads"), message);
        sink.report(finding.advise("Fix no more heads than `max_batch` of that way of working."));
    }
}

fn intermittent(mut o: Object<'_, '_>) -> Intermittent {
    let mode = Intermittent {
        base_s: o.number_needed("base_s", &TIME),
        per_extra_s: o.number_or("per_extra_s", &TIME, 0.0),
        settle_s: o.number_or("settle_s", &TIME, 0.0),
        max_batch: o.count_or("max_batch", &HEADS, 1),
        price: o.number_or("price", &PRICE, 0.0),
        price_per_head: o.number_or("price_per_head", &PRICE, 0.0),
    };
    o.close();
    mode
}

fn continuous(mut o: Object<'_, '_>) -> Continuous {
    let mode = Continuous {
        process_s: o.number("process_s", &DURATION),
        process_length_mm: o.number("process_length_mm", &LENGTH),
        return_s: o.number("return_s", &TIME),
        max_batch: o.count_or("max_batch", &HEADS, 1),
        max_speed_m_s: o.number("max_speed_m_s", &SPEED),
        may_wait: o.flag_or("may_wait", true),
        price: o.number_or("price", &PRICE, 0.0),
        price_per_head: o.number_or("price_per_head", &PRICE, 0.0),
    };
    match (mode.process_s, mode.process_length_mm) {
        (None, None) => o.fault_here(Code::OneOf, "`continuous` has neither `process_s` nor `process_length_mm`"),
        (Some(_), Some(_)) => o.fault_here(Code::OneOf, "`continuous` has both `process_s` and `process_length_mm`"),
        (None, Some(_)) if mode.return_s.is_some() => {
            o.fault(Code::KeysClash, "return_s", "`return_s` goes with `process_s` only");
        }
        _ => {}
    }
    o.close();
    mode
}

fn per_sku(item: &Item<'_>, modes: Option<Modes>, sink: &Sink<'_>) -> PerSku {
    let mut o = Object::item(item, sink);
    let own = PerSku {
        base_s: o.number("base_s", &TIME),
        per_extra_s: o.number("per_extra_s", &TIME),
        settle_s: o.number("settle_s", &TIME),
        process_s: o.number("process_s", &DURATION),
        return_s: o.number("return_s", &TIME),
        process_length_mm: o.number("process_length_mm", &LENGTH),
        max_batch: o.count("max_batch", &HEADS),
    };
    if let Some(modes) = modes {
        let belongs = [
            ("base_s", modes.intermittent, "`intermittent`"),
            ("per_extra_s", modes.intermittent, "`intermittent`"),
            ("settle_s", modes.intermittent, "`intermittent`"),
            ("process_s", modes.process, "`continuous` with `process_s`"),
            ("return_s", modes.process, "`continuous` with `process_s`"),
            ("process_length_mm", modes.length, "`continuous` with `process_length_mm`"),
        ];
        for (key, fits, mode) in belongs {
            if !fits && o.has(key) {
                o.fault(Code::KeysClash, key, format!("`{key}` belongs to {mode}, which the station does not have"));
            }
        }
    }
    o.close();
    own
}
