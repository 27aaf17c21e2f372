//! From the tree to the published document, all but the stations.

use super::decode::{Item, Object, text};
use super::range::{
    ACCELERATION, AREA, CARRIERS, Counts, EITHER_WAY, FORCE, FRICTION, HALF_WIDTH, HEADROOM, HOURS, ITEMS, JERK,
    LENGTH, MASS, MODULES, MOVERS, PRICE, RATE, REPLICATIONS, RESISTANCE, SEED, SHARE, SIZE, SPEED, TIME, UNIT,
};
use super::sink::Sink;
use super::{adjust, feed, most, site, station};
use crate::codes::Code;
use crate::finding::Finding;
use crate::read::{Node, Value};
use crate::wire::cell::{
    Carrier, Carries, CellDocument, Circuit, FixedLoop, Floor, Form, KeepOut, Load, NetRate, Plane, ReachNetRate,
    Requirements, Segment, Since, Sku, Track, Window,
};
use crate::wire::pair::Pair;
use crate::wire::site::{ClearanceSides, Hand};
use loopwright_solver::load::DEFAULT_STABILITY_FACTOR;

/// The format that is read.
const FORMAT: u32 = 1;

/// Modules in one straight when the document gives no limit.
const DEFAULT_MODULES: u32 = 40;

/// The published document, or none when its format is another one: its keys would then mean nothing here.
pub(super) fn decode(root: &Node, sink: &Sink<'_>) -> Option<CellDocument> {
    if let Some((node, _)) = root.find("/format")
        && match node.value {
            Value::Whole(format) => format != i64::from(FORMAT),
            Value::Number(format) => format != f64::from(FORMAT),
            _ => false,
        }
    {
        let message = format!("`format` is {}; this version reads format {FORMAT}", node.value.describe());
        sink.report(Finding::new(Code::UnsupportedFormat, "/format", message));
        return None;
    }
    let mut o = Object::open(root, String::new(), sink);
    let document = CellDocument {
        format: o.count_needed("format", &Counts(FORMAT, FORMAT)),
        name: o.text("name"),
        requirements: requirements(o.object("requirements"), sink),
        skus: o.list_needed("skus", most::SKUS).iter().map(|item| sku(item, sink)).collect(),
        circuits: o.list_needed("circuits", most::CIRCUITS).iter().map(|item| circuit(item, sink)).collect(),
        segments: o.list("segments", most::SEGMENTS).iter().map(|item| segment(item, sink)).collect(),
        windows: o.list("windows", most::WINDOWS).iter().map(|item| window(item, sink)).collect(),
        stations: o.list_needed("stations", most::STATIONS).iter().map(|item| station::decode(item, sink)).collect(),
        changeover: o.object("changeover").map(adjust::changeover),
        feed: o.object("feed").map(|o| feed::decode(o, sink)),
    };
    o.close();
    Some(document)
}

fn requirements(object: Option<Object<'_, '_>>, sink: &Sink<'_>) -> Requirements {
    let Some(mut o) = object else {
        return Requirements {
            efficiency: 1.0,
            headroom: 1.0,
            clearance_mm: 0.0,
            clearance_sides_mm: None,
            infeed: None,
            discharge: None,
            hand: None,
            floor: None,
            keep_out: Vec::new(),
            footprint_tolerance_m2: 0.0,
            max_price: None,
            reach_net_rate: None,
        };
    };
    let requirements = Requirements {
        efficiency: o.number_or("efficiency", &SHARE, 1.0),
        headroom: o.number_or("headroom", &HEADROOM, 1.0),
        clearance_mm: o.number_or("clearance_mm", &LENGTH, 0.0),
        clearance_sides_mm: o.object("clearance_sides_mm").map(|mut o| {
            let sides = ClearanceSides {
                front: o.number("front", &LENGTH),
                back: o.number("back", &LENGTH),
                left: o.number("left", &LENGTH),
                right: o.number("right", &LENGTH),
            };
            o.close();
            sides
        }),
        infeed: o.object("infeed").map(site::opening),
        discharge: o.object("discharge").map(site::opening),
        hand: if o.has("hand") { Some(o.choice("hand", site::HANDS, Hand::LeftToRight)) } else { None },
        floor: o.object("floor").map(|mut o| {
            let floor =
                Floor { length_mm: o.number_needed("length_mm", &SIZE), width_mm: o.number_needed("width_mm", &SIZE) };
            o.close();
            floor
        }),
        keep_out: o.list("keep_out", most::KEEP_OUT).iter().map(|item| keep_out(item, sink)).collect(),
        footprint_tolerance_m2: o.number_or("footprint_tolerance_m2", &AREA, 0.0),
        max_price: o.number("max_price", &PRICE),
        reach_net_rate: o.object("reach_net_rate").map(reach),
    };
    on_the_floor(&o, &requirements, sink);
    o.close();
    requirements
}

fn reach(mut o: Object<'_, '_>) -> ReachNetRate {
    let reach = ReachNetRate {
        seed: o.count_or("seed", &SEED, 1),
        hours: o.number_or("hours", &HOURS, 8.0),
        half_width: o.number_or("half_width", &HALF_WIDTH, 0.01),
        most_replications: o.count_or("most_replications", &REPLICATIONS, 200),
    };
    o.close();
    reach
}

fn keep_out(item: &Item<'_>, sink: &Sink<'_>) -> KeepOut {
    let mut o = Object::item(item, sink);
    let place = KeepOut {
        name: if o.has("name") { Some(o.text("name")) } else { None },
        x_mm: o.number_or("x_mm", &LENGTH, 0.0),
        y_mm: o.number_or("y_mm", &LENGTH, 0.0),
        length_mm: o.number_needed("length_mm", &SIZE),
        width_mm: o.number_needed("width_mm", &SIZE),
    };
    o.close();
    place
}

/// What must be missed lies on a floor, and on this one.
fn on_the_floor(o: &Object<'_, '_>, requirements: &Requirements, sink: &Sink<'_>) {
    let Some(floor) = &requirements.floor else {
        if !requirements.keep_out.is_empty() {
            o.fault(Code::KeysClash, "keep_out", "`keep_out` is given, but no `floor` on which these places lie");
        }
        return;
    };
    for (index, place) in requirements.keep_out.iter().enumerate() {
        for (key, at, size) in [("x_mm", place.x_mm, floor.length_mm), ("y_mm", place.y_mm, floor.width_mm)] {
            if at >= size {
                let message = format!("`{key}` is {at}, which is beyond the floor of {size} mm");
                sink.report(Finding::new(Code::OutOfRange, format!("/requirements/keep_out/{index}/{key}"), message));
            }
        }
    }
}

fn sku(item: &Item<'_>, sink: &Sink<'_>) -> Sku {
    let mut o = Object::item(item, sink);
    let sku = Sku {
        id: o.text("id"),
        net_rate: net_rate(o.object_needed("net_rate")),
        products_per_stack: o.count_or("products_per_stack", &ITEMS, 1),
        stacks_per_case: o.count_or("stacks_per_case", &ITEMS, 1),
        loads: o.map("loads").iter().map(|item| (item.key.to_owned(), load(item, sink))).collect(),
        measures_mm: o.numbers("measures_mm", &LENGTH).into_iter().collect(),
        groups: o.texts("groups").into_iter().collect(),
        week: o.object("week").map(adjust::sku_week),
    };
    o.close();
    sku
}

fn net_rate(mut o: Object<'_, '_>) -> NetRate {
    let rate = NetRate {
        cases_per_min: o.number("cases_per_min", &RATE),
        products_per_min: o.number("products_per_min", &RATE),
    };
    match (rate.cases_per_min, rate.products_per_min) {
        (None, None) => o.fault_here(Code::OneOf, "the rate has neither `cases_per_min` nor `products_per_min`"),
        (Some(_), Some(_)) => o.fault_here(Code::OneOf, "the rate has both `cases_per_min` and `products_per_min`"),
        _ => {}
    }
    o.close();
    rate
}

fn load(item: &Item<'_>, sink: &Sink<'_>) -> Load {
    let mut o = Object::item(item, sink);
    let load = Load {
        extent_mm: o.number_or("extent_mm", &LENGTH, 0.0),
        mass_kg: o.number_or("mass_kg", &MASS, 0.0),
        base_mm: o.number("base_mm", &SIZE),
        base_across_mm: o.number("base_across_mm", &SIZE),
        cg_height_mm: o.number("cg_height_mm", &LENGTH),
        friction: o.number("friction", &FRICTION),
        held: o.flag_or("held", false),
        stability_factor: o.number_or("stability_factor", &SHARE, DEFAULT_STABILITY_FACTOR),
        max_accel_m_s2: o.number("max_accel_m_s2", &ACCELERATION),
    };
    o.close();
    load
}

fn circuit(item: &Item<'_>, sink: &Sink<'_>) -> Circuit {
    let mut o = Object::item(item, sink);
    let circuit = Circuit {
        id: o.text("id"),
        carries: o.choice_needed("carries", &[("case", Carries::Case), ("stack", Carries::Stack)], Carries::Case),
        items_per_carrier: o.count_or("items_per_carrier", &ITEMS, 1),
        carrier: carrier(o.object_needed("carrier")),
        track: track(o.object_needed("track"), sink),
        max_carriers: o.count("max_carriers", &CARRIERS),
        fixed: o.object("fixed").map(fixed),
        above: if o.has("above") { Some(o.text("above")) } else { None },
        order: o
            .list_needed("order", most::STATIONS)
            .iter()
            .map(|item| text(item.node, &item.pointer, "an entry of `order`", sink))
            .collect(),
        adjustments: adjust::adjustments(&mut o, false, sink),
    };
    o.close();
    circuit
}

fn fixed(mut o: Object<'_, '_>) -> FixedLoop {
    let fixed = FixedLoop {
        form: if o.has("form") { Some(o.text("form")) } else { None },
        modules_per_straight: o.count("modules_per_straight", &MODULES),
        carriers: o.count("carriers", &CARRIERS),
    };
    o.close();
    fixed
}

fn carrier(mut o: Object<'_, '_>) -> Carrier {
    let carrier = Carrier {
        length_mm: o.number_needed("length_mm", &UNIT),
        gap_mm: o.number_or("gap_mm", &LENGTH, 0.0),
        movers_per_carrier: o.count_or("movers_per_carrier", &MOVERS, 1),
        mass_kg: o.number_or("mass_kg", &MASS, 0.0),
        max_speed_m_s: o.number_needed("max_speed_m_s", &SPEED),
        max_accel_m_s2: o.number_needed("max_accel_m_s2", &ACCELERATION),
        max_jerk_m_s3: o.number("max_jerk_m_s3", &JERK),
        peak_force_n: o.number("peak_force_n", &FORCE),
        continuous_force_n: o.number("continuous_force_n", &FORCE),
        friction_force_n: o.number_or("friction_force_n", &RESISTANCE, 0.0),
        pair: o.object("pair").map(pair),
        price: o.number_or("price", &PRICE, 0.0),
    };
    if carrier.pair.is_some() && carrier.movers_per_carrier != 2 {
        o.fault(Code::KeysClash, "pair", "`pair` says how two movers grip, and goes with `movers_per_carrier: 2` only");
    }
    o.close();
    carrier
}

fn pair(mut o: Object<'_, '_>) -> Pair {
    let pair = Pair {
        play_mm: o.number_or("play_mm", &LENGTH, 0.0),
        paddle_offset_mm: o.number_or("paddle_offset_mm", &EITHER_WAY, 0.0),
        paddle_thickness_mm: o.number_or("paddle_thickness_mm", &LENGTH, 0.0),
        squeeze_n: o.number("squeeze_n", &FORCE),
    };
    o.close();
    pair
}

fn track(mut o: Object<'_, '_>, sink: &Sink<'_>) -> Track {
    let track = Track {
        module_mm: o.number_needed("module_mm", &UNIT),
        max_modules: o.count_or("max_modules", &MODULES, DEFAULT_MODULES),
        width_mm: o.number_needed("width_mm", &LENGTH),
        module_price: o.number_or("module_price", &PRICE, 0.0),
        curve_price: o.number_or("curve_price", &PRICE, 0.0),
        forms: o.list_needed("forms", most::FORMS).iter().map(|item| form(item, sink)).collect(),
    };
    o.close();
    track
}

fn form(item: &Item<'_>, sink: &Sink<'_>) -> Form {
    let mut o = Object::item(item, sink);
    let form = Form {
        id: o.text("id"),
        plane: o.choice_needed("plane", &[("flat", Plane::Flat), ("upright", Plane::Upright)], Plane::Flat),
        radius_mm: o.number_needed("radius_mm", &SIZE),
        cross_mm: o.number_or("cross_mm", &LENGTH, 0.0),
    };
    o.close();
    form
}

fn segment(item: &Item<'_>, sink: &Sink<'_>) -> Segment {
    let mut o = Object::item(item, sink);
    let segment = Segment {
        from: o.text("from"),
        to: o.text("to"),
        circuit: if o.has("circuit") { Some(o.text("circuit")) } else { None },
        ride_through_s: o.number_or("ride_through_s", &TIME, 0.0),
        min_length_mm: o.number_or("min_length_mm", &LENGTH, 0.0),
        min_s: o.number_or("min_s", &TIME, 0.0),
        max_s: o.number("max_s", &TIME),
        loaded: o.flag_or("loaded", true),
    };
    limits_in_order(&o, Some(segment.min_s), segment.max_s);
    o.close();
    segment
}

fn window(item: &Item<'_>, sink: &Sink<'_>) -> Window {
    let mut o = Object::item(item, sink);
    let window = Window {
        from: o.text("from"),
        to: o.text("to"),
        circuit: if o.has("circuit") { Some(o.text("circuit")) } else { None },
        since: o.choice("since", &[("taken_in", Since::TakenIn), ("left", Since::Left)], Since::Left),
        max_s: o.number("max_s", &TIME),
        min_s: o.number("min_s", &TIME),
    };
    limits_in_order(&o, window.min_s, window.max_s);
    if window.max_s.is_none() && window.min_s.is_none() {
        o.fault_here(Code::OneOf, "the window has neither `max_s` nor `min_s`");
    }
    o.close();
    window
}

fn limits_in_order(o: &Object<'_, '_>, min: Option<f64>, max: Option<f64>) {
    if let (Some(min), Some(max)) = (min, max)
        && max < min
    {
        o.fault(Code::LimitsCross, "max_s", format!("`max_s` is {max}, which is below `min_s`, {min}"));
    }
}
