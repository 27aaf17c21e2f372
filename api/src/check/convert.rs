//! From the published document, free of faults, to the engine's quantities.

use super::chance::law;
use super::changes;
use super::feed::said;
use super::sink::Sink;
use super::site;
use crate::codes::Code;
use crate::finding::Finding;
use crate::read::quoted;
use crate::wire::cell as wire;
use crate::wire::chance::{Failures, Spread, StopCounts};
use crate::wire::feed as wire_feed;
use loopwright_solver::adjust::Changes;
use loopwright_solver::cell::{Carries, Cell, Circuit, Fault, FixedLoop, Parts, Requirements, Since, Sku, Window};
use loopwright_solver::chance::{Behaviour, Counts, Law, Stops, Supply, Surge};
use loopwright_solver::ground::KeepOut;
use loopwright_solver::load::{Carrier, ForceTooSmall, Load, Pair};
use loopwright_solver::option::Mode;
use loopwright_solver::section::SectionLimits;
use loopwright_solver::station::{
    Continuous, FixedWork, FlowWork, Intermittent, ModePrice, Process, Station, StopWork,
};
use loopwright_solver::stream::{Belt, Feed, MOST_LANES, Product, Stacking};
use loopwright_solver::track::{Clearance, Form, Plane, Side, Track};
use loopwright_solver::units::{
    Acceleration, Area, CaseRate, GRAVITY_M_S2, Jerk, Kilograms, Metres, Money, Newtons, ProductRate, Seconds, Speed,
};

/// Share by which a force may miss a weight before a form counts as unusable: only rounding.
const ROUNDING: f64 = 1e-9;

/// The cell, or none when the physics of the document leaves no motion; that is reported.
pub(super) fn convert(document: &wire::CellDocument, sink: &Sink<'_>) -> Option<Cell> {
    match Cell::new(parts(document, 0)?) {
        Ok(cell) => {
            unusable_forms(&cell, 0, sink);
            Some(cell)
        }
        Err(faults) => {
            report(&faults, document, 0, sink);
            None
        }
    }
}

/// What one circuit of the document, by its index, is made of as a cell of its own.
pub(super) fn parts(document: &wire::CellDocument, index: usize) -> Option<Parts> {
    let circuit = document.circuits.get(index)?;
    let own = index == 0 && document.circuits.len() == 1;
    Some(Parts {
        name: document.name.clone(),
        requirements: Requirements {
            // Changes inside the planned time are made up for by running faster.
            efficiency: document.requirements.efficiency
                * if own { changes::allowed_availability(document) } else { 1.0 },
            ..requirements(&document.requirements)
        },
        skus: document.skus.iter().map(|s| sku(s, &circuit.id)).collect(),
        circuit: self::circuit(circuit),
        stations: travel(document, index)
            .into_iter()
            .map(|s| Station { free: free(document, index, s), ..station(&document.stations[s], &document.skus) })
            .collect(),
        sections: segments(document, index)
            .into_iter()
            .map(|s| s.map_or_else(SectionLimits::default, |s| section(&document.segments[s])))
            .collect(),
        windows: windows(document, index)
            .into_iter()
            .filter_map(|w| window(&document.windows[w], &circuit.order))
            .collect(),
        changes: if own { changes::changes(document) } else { Changes::default() },
        keep_out: document.requirements.keep_out.iter().map(keep_out).collect(),
        feed: document.feed.as_ref().map(|of| feed(of, &document.skus)),
        openings: site::openings(&document.requirements, &circuit.order),
    })
}

fn clearance(from: &wire::Requirements) -> Clearance {
    let sides = from.clearance_sides_mm.as_ref();
    let of = |side: Option<f64>| Metres::from_mm(side.unwrap_or(from.clearance_mm));
    Clearance {
        front: of(sides.and_then(|s| s.front)),
        back: of(sides.and_then(|s| s.back)),
        left: of(sides.and_then(|s| s.left)),
        right: of(sides.and_then(|s| s.right)),
    }
}

/// Floor that a station needs free in front of it beyond the clearance, at the front and at the back. Between two rows of loops
/// there is no clearance.
fn free(document: &wire::CellDocument, circuit: usize, station: usize) -> (Metres, Metres) {
    let Some(access) = document.stations[station].access_mm else { return (Metres::ZERO, Metres::ZERO) };
    let rows: Vec<&String> = document.circuits.iter().filter(|c| c.above.is_none()).map(|c| &c.id).collect();
    let own = document.circuits.get(circuit).map(|c| c.above.as_ref().unwrap_or(&c.id));
    let clearance = clearance(&document.requirements);
    let beyond = |outermost: bool, clearance: Metres| {
        Metres::from_m((access / 1000.0 - if outermost { clearance.m() } else { 0.0 }).max(0.0))
    };
    (beyond(rows.first().copied() == own, clearance.front), beyond(rows.last().copied() == own, clearance.back))
}

/// Indices into `stations` of the document, in travel order of a circuit.
pub(super) fn travel(document: &wire::CellDocument, circuit: usize) -> Vec<usize> {
    let order = document.circuits.get(circuit).map_or(&[][..], |circuit| &circuit.order);
    order.iter().filter_map(|id| document.stations.iter().position(|s| s.id == *id)).collect()
}

/// Whether something that names a circuit, or none, is about this one.
fn about(named: Option<&String>, circuit: &wire::Circuit) -> bool {
    named.is_none_or(|id| *id == circuit.id)
}

/// For every section of a circuit in travel order the index into `segments` of the document, if it is named there.
pub(super) fn segments(document: &wire::CellDocument, circuit: usize) -> Vec<Option<usize>> {
    let Some(circuit) = document.circuits.get(circuit) else { return Vec::new() };
    let neighbours = circuit.order.iter().zip(circuit.order.iter().cycle().skip(1));
    let find = |(from, to): (&String, &String)| {
        let here = |s: &wire::Segment| s.from == *from && s.to == *to && about(s.circuit.as_ref(), circuit);
        document.segments.iter().position(here)
    };
    neighbours.map(find).collect()
}

/// Indices into `windows` of the document of those that are about a circuit.
pub(super) fn windows(document: &wire::CellDocument, circuit: usize) -> Vec<usize> {
    let Some(circuit) = document.circuits.get(circuit) else { return Vec::new() };
    let here = |w: &wire::Window| {
        about(w.circuit.as_ref(), circuit) && circuit.order.contains(&w.from) && circuit.order.contains(&w.to)
    };
    (0..document.windows.len()).filter(|&w| here(&document.windows[w])).collect()
}

fn requirements(from: &wire::Requirements) -> Requirements {
    Requirements {
        efficiency: from.efficiency,
        headroom: from.headroom,
        clearance: clearance(from),
        floor: from.floor.as_ref().map(|f| (Metres::from_mm(f.length_mm), Metres::from_mm(f.width_mm))),
        footprint_tolerance: Area::from_m2(from.footprint_tolerance_m2),
        max_price: from.max_price.map(Money::from_units),
    }
}

fn keep_out(from: &wire::KeepOut) -> KeepOut {
    KeepOut {
        name: from.name.clone().unwrap_or_default(),
        x: Metres::from_mm(from.x_mm),
        y: Metres::from_mm(from.y_mm),
        length: Metres::from_mm(from.length_mm),
        width: Metres::from_mm(from.width_mm),
        asked: true,
    }
}

fn feed(from: &wire_feed::Feed, skus: &[wire::Sku]) -> Feed {
    let nothing = wire_feed::FeedPerSku::default();
    let all = &from.products;
    let product = |sku: &wire::Sku| {
        let own = all.per_sku.get(&sku.id).unwrap_or(&nothing);
        Product {
            length: Metres::from_mm(own.length_mm.unwrap_or(all.length_mm)),
            gap: Metres::from_mm(own.gap_mm.unwrap_or(all.gap_mm)),
            per_stack: sku.products_per_stack,
            stacks_per_case: sku.stacks_per_case,
            delivered: own.delivered_per_min.or(all.delivered_per_min).map(ProductRate::per_minute),
        }
    };
    Feed {
        into: from.into.clone(),
        side: site::side(from.side),
        across: from.runs == wire_feed::FeedRuns::Across,
        width: Metres::from_mm(from.width_mm),
        belts: from
            .belts
            .iter()
            .map(|belt| Belt {
                id: belt.id.clone(),
                gap: belt.gap_mm.map(Metres::from_mm),
                max_speed: belt.max_speed_m_s.map(Speed::from_m_s),
                length: belt.length_mm.map(Metres::from_mm),
            })
            .collect(),
        needed_gap: Metres::from_mm(from.needed_gap_mm),
        stacking: from.stacking.as_ref().map(|of| Stacking {
            lanes: of.lanes,
            max_lanes: of.max_lanes.unwrap_or(MOST_LANES),
            lane_rate: of.lane_products_per_min.map(ProductRate::per_minute),
            push_out: Seconds::from_s(of.push_out_s),
            buffer: of.buffer_products,
            length: Metres::from_mm(of.length_mm),
        }),
        products: skus.iter().map(product).collect(),
    }
}

fn sku(from: &wire::Sku, circuit: &str) -> Sku {
    let products_per_case = f64::from(from.products_per_stack) * f64::from(from.stacks_per_case);
    let cases_per_min = match (from.net_rate.cases_per_min, from.net_rate.products_per_min) {
        (Some(cases), _) => cases,
        (None, products) => products.unwrap_or_default() / products_per_case,
    };
    Sku {
        id: from.id.clone(),
        case_rate: CaseRate::per_minute(cases_per_min),
        demanded: true,
        stacks_per_case: from.stacks_per_case,
        load: from.loads.get(circuit).map_or_else(Load::default, load),
    }
}

fn load(from: &wire::Load) -> Load {
    Load {
        extent: Metres::from_mm(from.extent_mm),
        mass: Kilograms::from_kg(from.mass_kg),
        base: from.base_mm.map(Metres::from_mm),
        base_across: from.base_across_mm.map(Metres::from_mm),
        cg_height: from.cg_height_mm.map(Metres::from_mm),
        friction: from.friction,
        held: from.held,
        stability_factor: from.stability_factor,
        max_acceleration: from.max_accel_m_s2.map(Acceleration::from_m_s2),
    }
}

fn circuit(from: &wire::Circuit) -> Circuit {
    Circuit {
        id: from.id.clone(),
        carries: match from.carries {
            wire::Carries::Case => Carries::Case,
            wire::Carries::Stack => Carries::Stack,
        },
        items_per_carrier: from.items_per_carrier,
        carrier: carrier(&from.carrier),
        track: track(&from.track),
        max_carriers: from.max_carriers,
        fixed: from.fixed.as_ref().map_or_else(FixedLoop::default, |fixed| FixedLoop {
            form: fixed.form.as_ref().and_then(|id| from.track.forms.iter().position(|form| form.id == *id)),
            modules: fixed.modules_per_straight,
            carriers: fixed.carriers,
        }),
    }
}

fn carrier(from: &wire::Carrier) -> Carrier {
    Carrier {
        length: Metres::from_mm(from.length_mm),
        gap: Metres::from_mm(from.gap_mm),
        movers: from.movers_per_carrier,
        mass: Kilograms::from_kg(from.mass_kg),
        max_speed: Speed::from_m_s(from.max_speed_m_s),
        max_acceleration: Acceleration::from_m_s2(from.max_accel_m_s2),
        max_jerk: from.max_jerk_m_s3.map(Jerk::from_m_s3),
        peak_force: from.peak_force_n.map(Newtons::from_n),
        continuous_force: from.continuous_force_n.map(Newtons::from_n),
        friction_force: Newtons::from_n(from.friction_force_n),
        pair: from.pair.as_ref().map(|pair| Pair {
            play: Metres::from_mm(pair.play_mm),
            paddle_offset: Metres::from_mm(pair.paddle_offset_mm),
            paddle_thickness: Metres::from_mm(pair.paddle_thickness_mm),
            squeeze: pair.squeeze_n.map(Newtons::from_n),
        }),
        price: Money::from_units(from.price),
    }
}

fn track(from: &wire::Track) -> Track {
    let form = |form: &wire::Form| Form {
        id: form.id.clone(),
        plane: match form.plane {
            wire::Plane::Flat => Plane::Flat,
            wire::Plane::Upright => Plane::Upright,
        },
        radius: Metres::from_mm(form.radius_mm),
        cross: Metres::from_mm(form.cross_mm),
    };
    Track {
        module: Metres::from_mm(from.module_mm),
        max_modules: from.max_modules,
        width: Metres::from_mm(from.width_mm),
        module_price: Money::from_units(from.module_price),
        curve_price: Money::from_units(from.curve_price),
        forms: from.forms.iter().map(form).collect(),
    }
}

fn section(from: &wire::Segment) -> SectionLimits {
    SectionLimits {
        ride_through: Seconds::from_s(from.ride_through_s),
        min_length: Metres::from_mm(from.min_length_mm),
        min_time: Seconds::from_s(from.min_s),
        max_time: from.max_s.map(Seconds::from_s),
        loaded: from.loaded,
    }
}

fn window(from: &wire::Window, order: &[String]) -> Option<Window> {
    Some(Window {
        from: order.iter().position(|id| *id == from.from)?,
        to: order.iter().position(|id| *id == from.to)?,
        since: match from.since {
            wire::Since::TakenIn => Since::TakenIn,
            wire::Since::Left => Since::Left,
        },
        max: from.max_s.map(Seconds::from_s),
        min: from.min_s.map(Seconds::from_s),
    })
}

fn station(from: &wire::Station, skus: &[wire::Sku]) -> Station {
    let nothing = wire::PerSku::default();
    let own = |sku: &wire::Sku| from.per_sku.get(&sku.id).unwrap_or(&nothing);
    Station {
        id: from.id.clone(),
        depth: Metres::from_mm(from.depth_mm),
        access: from.access_mm.map(Metres::from_mm),
        free: (Metres::ZERO, Metres::ZERO),
        frame: from.frame_length_mm.map(Metres::from_mm),
        margin: Metres::from_mm(from.margin_mm),
        side: match from.side {
            wire::Side::Front => Some(Side::Front),
            wire::Side::Back => Some(Side::Back),
            wire::Side::Either => None,
        },
        intermittent: from.intermittent.as_ref().map(|mode| Intermittent {
            max_batch: mode.max_batch,
            price: price(mode.price, mode.price_per_head),
            work: skus.iter().map(|sku| stop_work(mode, own(sku))).collect(),
        }),
        continuous: from.continuous.as_ref().map(|mode| Continuous {
            max_batch: mode.max_batch,
            max_speed: mode.max_speed_m_s.map(Speed::from_m_s),
            may_wait: mode.may_wait,
            price: price(mode.price, mode.price_per_head),
            work: skus.iter().map(|sku| flow_work(mode, own(sku))).collect(),
        }),
        behaviour: behaviour(from),
        hand_off: None,
        fixed: from.fixed.as_ref().map_or_else(FixedWork::default, |fixed| FixedWork {
            mode: fixed.mode.map(|mode| match mode {
                wire::Mode::Intermittent => Mode::Intermittent,
                wire::Mode::Continuous => Mode::Continuous,
            }),
            heads: fixed.heads,
        }),
    }
}

fn behaviour(from: &wire::Station) -> Behaviour {
    let spread = |given: Option<&Spread>, usual: Law| given.map_or(usual, law);
    let stops = |of: &Failures| Stops {
        between_s: of.mean_time_between_s,
        between: spread(of.between.as_ref(), Law::Exponential),
        repair_s: of.mean_time_to_repair_s,
        repair: spread(of.repair.as_ref(), Law::Exponential),
        counts: match of.counts {
            None | Some(StopCounts::Operation) => Counts::Operation,
            Some(StopCounts::Calendar) => Counts::Calendar,
        },
    };
    Behaviour {
        work: spread(from.work_times.as_ref(), Law::Constant),
        failures: from.failures.as_ref().map(stops),
        short_stops: from.short_stops.as_ref().map(stops),
        supply: from.supply.as_ref().map(|of| Supply {
            over_net_rate: of.over_net_rate,
            gap: spread(of.gaps.as_ref(), Law::Constant),
            outages: of.outages.as_ref().map(stops),
            surge: of.surge.map(|s| Surge { factor: s.factor, every_s: s.every_s, for_s: s.lasts_s }),
            room: of.room_carriers,
        }),
    }
}

fn price(base: f64, per_head: f64) -> ModePrice {
    ModePrice { base: Money::from_units(base), per_head: Money::from_units(per_head) }
}

fn stop_work(mode: &wire::Intermittent, own: &wire::PerSku) -> StopWork {
    StopWork {
        base: Seconds::from_s(own.base_s.unwrap_or(mode.base_s)),
        per_extra: Seconds::from_s(own.per_extra_s.unwrap_or(mode.per_extra_s)),
        settle: Seconds::from_s(own.settle_s.unwrap_or(mode.settle_s)),
        max_batch: own.max_batch.unwrap_or(mode.max_batch),
    }
}

fn flow_work(mode: &wire::Continuous, own: &wire::PerSku) -> FlowWork {
    let process = match mode.process_s {
        Some(process) => Process::Time {
            process: Seconds::from_s(own.process_s.unwrap_or(process)),
            back: own.return_s.or(mode.return_s).map(Seconds::from_s),
        },
        None => {
            let length = own.process_length_mm.or(mode.process_length_mm);
            Process::Length(Metres::from_mm(length.unwrap_or_default()))
        }
    };
    FlowWork { process, max_batch: own.max_batch.unwrap_or(mode.max_batch) }
}

pub(super) fn report(faults: &[Fault], document: &wire::CellDocument, circuit: usize, sink: &Sink<'_>) {
    let mut forces: Vec<(&str, ForceTooSmall)> = Vec::new();
    for fault in faults {
        match fault {
            Fault::Force(index, force) => {
                forces.push((document.skus.get(*index).map_or("", |sku| &sku.id), *force));
            }
            Fault::Feed(short) => sink.report(said(short, document)),
            Fault::Shape(list) => {
                let message = format!("the list {list} of a document that passed its checks does not fit");
                sink.report(Finding::new(Code::OwnFault, "", message));
            }
        }
    }
    // Load plays no part in this fault, so that it hits every SKU or none; one finding is enough.
    if let Some(&(sku, ForceTooSmall { peak, friction })) = forces.first() {
        let others = match forces.len() - 1 {
            0 => String::new(),
            n => format!(" and {n} more"),
        };
        let message = format!(
            "a carrier's peak force of {} N does not exceed its friction of {} N, so that it cannot move SKU {}{others}",
            peak.n(),
            friction.n(),
            quoted(sku),
        );
        let pointer = format!("/circuits/{circuit}/carrier/peak_force_n");
        sink.report(Finding::new(Code::ForceTooSmall, pointer, message));
    }
}

/// Upright forms for which no section can be the return below (model section 6): warned of, since others may do.
pub(super) fn unusable_forms(cell: &Cell, at: usize, sink: &Sink<'_>) {
    let circuit = &cell.parts().circuit;
    let carrier = &circuit.carrier;
    let heaviest = cell.rides().iter().map(|ride| ride.mass.kg()).fold(carrier.mass.kg(), f64::max);
    let lifts = |mass: f64| {
        carrier.peak_force.is_none_or(|peak| {
            let needed = carrier.friction_force.n() + mass * GRAVITY_M_S2;
            peak.n() * f64::from(carrier.movers) >= needed * (1.0 - ROUNDING)
        })
    };
    let ways: Vec<bool> = (0..cell.len())
        .filter(|&i| cell.may_return_below(i))
        .map(|i| lifts(if cell.parts().sections[i].loaded { heaviest } else { carrier.mass.kg() }))
        .collect();
    let reason = if ways.is_empty() {
        "no segment has `loaded: false`, and not every load is held (by a squeeze that carries its weight), so that carriers cannot return below"
    } else if ways.contains(&true) {
        return;
    } else {
        "the peak force cannot lift a carrier up the ends"
    };
    for (index, form) in circuit.track.forms.iter().enumerate().filter(|(_, form)| form.plane == Plane::Upright) {
        let message = format!("the form {} cannot be used: {reason}", quoted(&form.id));
        sink.report(Finding::new(Code::UnusableForm, format!("/circuits/{at}/track/forms/{index}"), message));
    }
}
