//! A plan and all that follows from it.

use super::cautions::CAUTIONS;
use super::feed::feed;
use super::limited::limited_by;
use super::{broken, effort, site};
use crate::check::Document;
use crate::codes::Code;
use crate::finding::Finding;
use crate::read::quoted;
use crate::wire::plan::{
    Asked, AskedClearance, AskedKeepOut, ExactFraction, Planned, PlannedCircuit, PlannedFeed, PlannedFootprint,
    PlannedMode, PlannedModuleLoad, PlannedModuleLoads, PlannedPair, PlannedPlacing, PlannedPlane, PlannedSection,
    PlannedSide, PlannedSince, PlannedSku, PlannedStation, PlannedStraight, PlannedWindow, Proofs, ProvenCount,
    ProvenNumber, SectionSku, StationSku, WindowSku,
};
use loopwright_solver::cell::{Cell, Requirements, Since};
use loopwright_solver::ground::{KeepOut, spot};
use loopwright_solver::load::{grip, span};
use loopwright_solver::option::Mode;
use loopwright_solver::plan::{Numbers, Plan, Straight};
use loopwright_solver::rules::{MOST_STARTS, Paced, exact, module_loads, motor_rms, paced, verdicts};
use loopwright_solver::section::base_slots;
use loopwright_solver::sim::{Times, Watch, run};
use loopwright_solver::study::Found;
use loopwright_solver::throughput::Limit;
use loopwright_solver::track::{Clearance, Footprint, Form, Plane, Side, corner_reach};
use loopwright_solver::units::{CarrierRate, ExactRate, Metres, RATE_TOLERANCE};

/// Everything that takes work, once per SKU.
pub(super) struct Runs {
    pub(super) exact: Vec<(ExactRate, Limit)>,
    pub(super) paced: Vec<Option<Paced>>,
}

impl Runs {
    fn of(cell: &Cell, plan: &Plan, numbers: &Numbers, paced_too: bool) -> Self {
        let skus = 0..cell.parts().skus.len();
        let play = |k: usize| if paced_too { paced(cell, plan, numbers, k, MOST_STARTS) } else { None };
        Self {
            exact: skus.clone().map(|k| exact(&numbers.ring(k, plan.carriers))).collect(),
            paced: skus.map(play).collect(),
        }
    }
}

/// The times of the paced run are told only where they are asked for.
///
/// # Errors
/// A finding when the planner contradicts itself: the plan does not fit the cell, or exact rate and timed run differ.
pub(super) fn planned(document: &Document, found: &Found, paced_too: bool) -> Result<Planned, Finding> {
    let (cell, plan) = (&document.cell, &found.plan);
    let misfit = || broken(&cell.parts().name, &verdicts(cell, plan));
    let numbers = plan.numbers(cell).map_err(|_| misfit())?;
    let form = plan.form(cell).ok_or_else(misfit)?;
    let runs = Runs::of(cell, plan, &numbers, paced_too);
    differ(cell, plan, &numbers, &runs)?;
    let (area, price) = (numbers.footprint.area().m2(), numbers.price.units());
    // Rounding in a bound must not say that the plan is better than possible.
    let bound = found.area.bound.m2().min(area);
    Ok(Planned {
        footprint: footprint(&numbers.footprint),
        proven_bound_m2: bound,
        gap: gap(area, bound),
        price,
        proof: Proofs {
            footprint: ProvenNumber { proven: found.area.proven, bound },
            carriers: ProvenCount { proven: found.carriers.proven, bound: found.carriers.bound },
            price: ProvenNumber { proven: found.price.proven, bound: found.price.bound.units().min(price) },
        },
        effort: effort(found.effort),
        asked: site::asked(asked(&cell.parts().requirements, &cell.parts().keep_out), [cell]),
        placing: placing(&numbers.footprint, &cell.parts().requirements, &cell.parts().keep_out),
        hand: site::told(plan.hand(cell), [cell]),
        reach: None,
        feed: feed_of(cell, plan, &numbers, &runs),
        cautions: CAUTIONS.iter().map(|&text| text.to_owned()).collect(),
        circuits: vec![circuit(cell, plan, &numbers, form, &runs)],
    })
}

/// The timed run of every SKU must have the exact rate: as fractions where its state recurs, else by its slope.
fn differ(cell: &Cell, plan: &Plan, numbers: &Numbers, runs: &Runs) -> Result<(), Finding> {
    let watch = Watch { most_starts: MOST_STARTS, ..Watch::default() };
    for (sku, (k, (exact, _))) in cell.parts().skus.iter().zip(runs.exact.iter().enumerate()) {
        let timed = run(&numbers.ring(k, plan.carriers), &watch);
        let (one, other) = (exact.rate().as_per_second(), timed.rate.rate().as_per_second());
        let same = if timed.recurs { timed.rate == *exact } else { (one - other).abs() <= RATE_TOLERANCE * one };
        if !same {
            let message = format!(
                "{}, SKU {}: exactly {} carriers pass in {} µs, but {} in {} µs in the timed run",
                quoted(&cell.parts().name),
                sku.id,
                exact.carriers,
                exact.micros,
                timed.rate.carriers,
                timed.rate.micros
            );
            return Err(Finding::new(Code::RatesDiffer, "", message));
        }
    }
    Ok(())
}

/// All that follows from anybody's plan, as the keys of a plan document, for the judge. Numbers of the paced run are
/// there only when asked for, and where its state recurs. None when the plan names what the cell does not have.
pub(crate) fn recomputed(cell: &Cell, plan: &Plan, paced_too: bool) -> Option<serde_json::Value> {
    let numbers = plan.numbers(cell).ok()?;
    let form = plan.form(cell)?;
    let mut runs = Runs::of(cell, plan, &numbers, paced_too);
    runs.paced.iter_mut().for_each(|run| *run = run.take().filter(|r| r.0.recurs));
    let circuit = circuit(cell, plan, &numbers, form, &runs);
    Some(serde_json::json!({
        "footprint": footprint(&numbers.footprint),
        "price": numbers.price.units(),
        "asked": site::asked(asked(&cell.parts().requirements, &cell.parts().keep_out), [cell]),
        "hand": site::needed(cell.parts().openings.hands(&plan.spots())),
        "feed": feed_of(cell, plan, &numbers, &runs),
        "circuits": [circuit],
    }))
}

fn feed_of(cell: &Cell, plan: &Plan, numbers: &Numbers, runs: &Runs) -> Option<PlannedFeed> {
    let taken: Vec<CarrierRate> = runs.exact.iter().map(|(rate, _)| rate.rate()).collect();
    let corner = plan.feed_corner(cell, numbers)?;
    feed((cell.parts().feed.as_ref()?, &cell.demands()), cell, corner, &taken)
}

pub(super) fn footprint(of: &Footprint) -> PlannedFootprint {
    PlannedFootprint { length_m: of.length.m(), width_m: of.width.m(), area_m2: of.area().m2() }
}

pub(super) fn asked(asked: &Requirements, keep_out: &[KeepOut]) -> Asked {
    let c = asked.clearance;
    Asked {
        efficiency: asked.efficiency,
        headroom: asked.headroom,
        clearance_m: [c.front, c.back, c.left, c.right].into_iter().map(Metres::m).fold(0.0, f64::max),
        clearance_sides: (c != Clearance::even(c.front)).then(|| AskedClearance {
            front_m: c.front.m(),
            back_m: c.back.m(),
            left_m: c.left.m(),
            right_m: c.right.m(),
        }),
        infeed: None,
        discharge: None,
        floor_length_m: asked.floor.map(|f| f.0.m()),
        floor_width_m: asked.floor.map(|f| f.1.m()),
        keep_out: keep_out
            .iter()
            .map(|k| AskedKeepOut {
                name: Some(k.name.clone()).filter(|name| !name.is_empty()),
                x_m: k.x.m(),
                y_m: k.y.m(),
                length_m: k.length.m(),
                width_m: k.width.m(),
            })
            .collect(),
    }
}

/// Where a footprint lies on the floor, when places must be kept out of.
pub(super) fn placing(of: &Footprint, asked: &Requirements, keep_out: &[KeepOut]) -> Option<PlannedPlacing> {
    let floor = asked.floor.filter(|_| !keep_out.is_empty())?;
    spot(of, floor, keep_out).map(|at| PlannedPlacing { x_m: at.x.m(), y_m: at.y.m(), turned: at.turned })
}

/// `(area - bound) / area`, never negative.
pub(crate) fn gap(area: f64, bound: f64) -> f64 {
    if area > 0.0 { ((area - bound) / area).max(0.0) } else { 0.0 }
}

pub(super) fn circuit(cell: &Cell, plan: &Plan, numbers: &Numbers, form: &Form, runs: &Runs) -> PlannedCircuit {
    let of = &cell.parts().circuit;
    PlannedCircuit {
        id: of.id.clone(),
        form: form.id.clone(),
        plane: match form.plane {
            Plane::Flat => PlannedPlane::Flat,
            Plane::Upright => PlannedPlane::Upright,
        },
        radius_m: form.radius.m(),
        cross_m: form.cross.m(),
        track_width_m: of.track.width.m(),
        corner_reach_m: corner_reach(form, &cell.surroundings()).m(),
        module_m: of.track.module.m(),
        modules_per_straight: plan.modules,
        straight_m: plan.straight(cell).m(),
        end_m: form.end_length().m(),
        loop_length_m: numbers.loop_length.m(),
        carriers: plan.carriers,
        movers_per_carrier: of.carrier.movers,
        carrier_length_m: of.carrier.length.m() * f64::from(of.carrier.movers),
        continuous_force_n: of.carrier.continuous_force.map(|f| f.n() * f64::from(of.carrier.movers)),
        acceleration_share: plan.acceleration_share,
        stations: (0..cell.len()).map(|i| station(cell, plan, numbers, i)).collect(),
        sections: (0..cell.len()).map(|i| section(cell, plan, numbers, form, runs, i)).collect(),
        windows: (0..cell.parts().windows.len()).map(|w| window(cell, runs, w)).collect(),
        skus: (0..cell.parts().skus.len()).map(|k| sku(cell, plan, numbers, form, runs, k)).collect(),
        module_loads: loads(cell, plan, numbers),
        place: None,
    }
}

fn station(cell: &Cell, plan: &Plan, numbers: &Numbers, i: usize) -> PlannedStation {
    let (of, placed, option) = (&cell.parts().stations[i], &plan.stations[i], &numbers.options[i]);
    let skus = cell.parts().skus.iter().zip(cell.rides()).zip(&option.skus);
    PlannedStation {
        id: of.id.clone(),
        mode: match placed.mode {
            Mode::Intermittent => PlannedMode::Intermittent,
            Mode::Continuous => PlannedMode::Continuous,
        },
        heads: placed.heads,
        zone_m: option.zone.m(),
        start_m: placed.start.m(),
        straight: match placed.straight {
            Straight::Front => PlannedStraight::Front,
            Straight::Back => PlannedStraight::Back,
            Straight::Top => PlannedStraight::Top,
        },
        stands: match placed.stands {
            Side::Front => PlannedSide::Front,
            Side::Back => PlannedSide::Back,
        },
        depth_m: of.depth.m(),
        access_m: of.access.map(|access| access.m()),
        frame_m: of.frame.unwrap_or(option.zone).m(),
        price: option.price.units(),
        hands_to: None,
        skus: skus
            .map(|((sku, ride), of)| StationSku {
                id: sku.id.clone(),
                batch: of.batch,
                cycle_s: of.cycle.s(),
                move_in_s: of.move_in.s(),
                residence_s: of.residence.s(),
                tail_m: of.tail.m(),
                speed_m_s: of.speed.map(|v| v.m_s()),
                capacity_per_min: of.capacity.as_per_minute(),
                share_of_rate: ride.phi() / of.capacity.as_per_second(),
            })
            .collect(),
    }
}

fn section(cell: &Cell, plan: &Plan, numbers: &Numbers, form: &Form, runs: &Runs, i: usize) -> PlannedSection {
    let parts = cell.parts();
    let next = (i + 1) % cell.len();
    let limits = &parts.sections[i];
    let sku = |k: usize| {
        let (up, down) = (&numbers.options[i].skus[k], &numbers.options[next].skus[k]);
        let times = runs.paced[k].as_ref().and_then(|p| p.0.sections.get(i));
        SectionSku {
            id: parts.skus[k].id.clone(),
            slots: numbers.slots[i][k],
            needed_slots: base_slots(up.batch, down.batch, &cell.rides()[k], limits.ride_through),
            lag_s: numbers.lags[i][k].s(),
            longest_s: longest(times),
            least_s: least(times),
        }
    };
    PlannedSection {
        from: parts.stations[i].id.clone(),
        to: parts.stations[next].id.clone(),
        length_m: plan.sections[i].m(),
        curve_m: numbers.ends[i].arc(form).m(),
        loaded: limits.loaded,
        ride_through_s: limits.ride_through.s(),
        max_s: limits.max_time.map(|t| t.s()),
        skus: (0..parts.skus.len()).map(sku).collect(),
    }
}

fn longest(times: Option<&Times>) -> Option<f64> {
    times.map(|t| t.longest.seconds())
}

fn least(times: Option<&Times>) -> Option<f64> {
    times.map(|t| t.least.seconds())
}

fn window(cell: &Cell, runs: &Runs, w: usize) -> PlannedWindow {
    let parts = cell.parts();
    let of = &parts.windows[w];
    let sku = |k: usize| {
        let times = runs.paced[k].as_ref().and_then(|p| p.0.windows.get(w));
        WindowSku { id: parts.skus[k].id.clone(), least_s: least(times), longest_s: longest(times) }
    };
    PlannedWindow {
        from: parts.stations[of.from].id.clone(),
        to: parts.stations[of.to].id.clone(),
        since: match of.since {
            Since::TakenIn => PlannedSince::TakenIn,
            Since::Left => PlannedSince::Left,
        },
        max_s: of.max.map(|t| t.s()),
        min_s: of.min.map(|t| t.s()),
        skus: (0..parts.skus.len()).map(sku).collect(),
    }
}

fn sku(cell: &Cell, plan: &Plan, numbers: &Numbers, form: &Form, runs: &Runs, k: usize) -> PlannedSku {
    let (of, ride) = (&cell.parts().skus[k], &cell.rides()[k]);
    let (rate, limit) = &runs.exact[k];
    let run = runs.paced[k].as_ref();
    let moves = ride.mass.kg() > 0.0 || cell.parts().circuit.carrier.friction_force.n() > 0.0;
    PlannedSku {
        id: of.id.clone(),
        net_rate_cases_per_min: of.case_rate.as_per_minute(),
        design_rate_per_min: ride.rate.as_per_minute(),
        rate_per_min: rate.rate().as_per_minute(),
        rate_exact: ExactFraction { carriers: rate.carriers, micros: rate.micros },
        margin: if ride.phi() > 0.0 { rate.rate().as_per_second() / ride.phi() - 1.0 } else { 0.0 },
        paced_rate_per_min: run.map(|p| p.0.rate.rate().as_per_minute()),
        paced_run_recurs: run.map(|p| p.0.recurs),
        limited_by: limited_by(cell, plan, numbers, k, limit),
        motor_rms_n: if moves { motor_rms(cell, plan, numbers, k).map(|f| f.n()) } else { None },
        pitch_m: ride.pitch.m(),
        pair: pair(cell, k),
        acceleration_m_s2: ride.limits_at(plan.acceleration_share).acceleration.m_s2(),
        curve_speed_m_s: ride.curve_speed(form.radius, true).m_s(),
        lap_s: (ride.phi() > 0.0).then(|| f64::from(plan.carriers) / ride.phi()),
    }
}

fn pair(cell: &Cell, k: usize) -> Option<PlannedPair> {
    let (carrier, load) = (&cell.parts().circuit.carrier, &cell.parts().skus[k].load);
    let holds = grip(carrier, load);
    carrier.pair.map(|pair| PlannedPair {
        opening_m: pair.opening(load).m(),
        length_m: span(carrier, load).m(),
        holds_m_s2: holds.is_finite().then_some(holds),
    })
}

/// Of the SKU whose hottest module is the hottest of all.
fn loads(cell: &Cell, plan: &Plan, numbers: &Numbers) -> Option<PlannedModuleLoads> {
    let massive = (0..cell.parts().skus.len()).filter(|&k| cell.rides()[k].mass.kg() > 0.0);
    let each = massive.map(|k| (k, module_loads(cell, plan, numbers, k)));
    let peak = |loads: &[loopwright_solver::rules::ModuleLoad]| loads.iter().map(|l| l.rms.n()).fold(0.0, f64::max);
    let (k, worst) = each.max_by(|a, b| peak(&a.1).total_cmp(&peak(&b.1)).then(b.0.cmp(&a.0)))?;
    let modules = worst
        .iter()
        .map(|l| PlannedModuleLoad { start_m: l.start.m(), length_m: l.length.m(), rms_n: l.rms.n() })
        .collect();
    Some(PlannedModuleLoads { sku: cell.parts().skus[k].id.clone(), modules })
}
