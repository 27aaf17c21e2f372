//! From the study of several circuits to the plan document.

use super::cautions::CAUTIONS;
use super::conflict::{shortfall, told_of};
use super::feed::feed;
use super::limited::limited_by;
use super::planned::{Runs, asked, circuit, footprint, gap, placing};
use super::{PlanAnswer, Reasons, effort, site};
use crate::check::{Coupled, Document};
use crate::codes::Code;
use crate::finding::Finding;
use crate::read::quoted;
use crate::wire::plan::{
    Answer, Conflict, ConflictRequirement, FORMAT, Impossible, LimitKind, LimitedBy, PlanDocument, Planned,
    PlannedCircuit, PlannedFeed, PlannedPlace, Proofs, ProvenCount, ProvenNumber, SearchEffort, Stopped,
};
use loopwright_solver::cell::Cell;
use loopwright_solver::coupled::{
    Asked, CoupledCell, CoupledFound, CoupledOutcome, CoupledPlan, JointBreach, Placed, Stand, conflict, net, paced,
    place, price, rate, study,
};
use loopwright_solver::explain::shortfalls;
use loopwright_solver::plan::Numbers;
use loopwright_solver::rules::{MOST_STARTS, Paced};
use loopwright_solver::sim::{NetWatch, Timed, TimedNet, run_net};
use loopwright_solver::study::{Clock, Watch};
use loopwright_solver::throughput::{Limit, NetLimit};
use loopwright_solver::units::{CarrierRate, ExactRate, RATE_TOLERANCE};
use std::sync::atomic::AtomicBool;
use std::time::Duration;

pub(super) fn answer(
    document: &Document,
    coupled: &Coupled,
    limit: Duration,
    cancel: &AtomicBool,
    reasons: Reasons,
    watch: &dyn Watch,
) -> PlanAnswer {
    let cell = &coupled.cell;
    let answer = match study(cell, &Clock::new(limit, cancel).watched(watch)) {
        CoupledOutcome::Planned(found) => match planned(cell, &found) {
            Ok(planned) => Answer::Planned(Box::new(planned)),
            Err(finding) => return PlanAnswer::Fault(Box::new(finding)),
        },
        CoupledOutcome::Impossible(spent) => {
            let clock = (reasons != Reasons::None).then(|| Clock::new(limit * reasons.times(), cancel));
            Answer::Impossible(impossible(document, coupled, effort(spent), clock.as_ref()))
        }
        CoupledOutcome::Stopped(bound, spent) => {
            Answer::Stopped(Stopped { proven_bound_m2: bound.m2(), effort: effort(spent) })
        }
        CoupledOutcome::Broken(_, breaches) => return PlanAnswer::Fault(Box::new(broken(cell, &breaches))),
    };
    PlanAnswer::Answer(Box::new(PlanDocument { format: FORMAT, name: cell.parts().name.clone(), answer }))
}

fn broken(cell: &CoupledCell, breaches: &[JointBreach]) -> Finding {
    let circuit = |b: &JointBreach| b.circuit.map_or_else(String::new, |c| format!("circuit {}: ", id(cell, c)));
    let says: Vec<String> =
        breaches.iter().map(|b| format!("{}{}: {}", circuit(b), b.breach.rule.word(), b.breach.says)).collect();
    let message = format!("the plan found for {} breaks rules: {}", quoted(&cell.parts().name), says.join("; "));
    Finding::new(Code::OwnFault, "", message)
}

fn id(cell: &CoupledCell, circuit: usize) -> &str {
    &cell.cells()[circuit].parts().circuit.id
}

/// All that follows from a plan of several circuits.
struct Truth {
    placed: Placed,
    price: f64,
    feed: Option<PlannedFeed>,
    circuits: Vec<PlannedCircuit>,
}

fn planned(cell: &CoupledCell, found: &CoupledFound) -> Result<Planned, Finding> {
    let misfit = || broken(cell, &loopwright_solver::coupled::verdicts(cell, &found.plan));
    let truth = truth(cell, &found.plan, true).ok_or_else(misfit)?;
    differ(cell, &found.plan)?;
    let area = truth.placed.footprint.area().m2();
    // The search adds its area up in another order: what is proven is so to the last digit but for rounding.
    let bound = if found.area.proven && (area - found.area.bound.m2()).abs() < 1e-9 {
        area
    } else {
        found.area.bound.m2().min(area)
    };
    Ok(Planned {
        footprint: footprint(&truth.placed.footprint),
        proven_bound_m2: bound,
        gap: gap(area, bound),
        price: truth.price,
        proof: Proofs {
            footprint: ProvenNumber { proven: found.area.proven, bound },
            carriers: ProvenCount { proven: found.carriers.proven, bound: found.carriers.bound },
            price: ProvenNumber { proven: found.price.proven, bound: found.price.bound.units().min(truth.price) },
        },
        effort: effort(found.effort),
        asked: site::asked(asked(&cell.parts().requirements, cell.keep_out()), cell.cells()),
        placing: placing(&truth.placed.footprint, &cell.parts().requirements, cell.keep_out()),
        hand: site::told(found.plan.hand(cell), cell.cells()),
        reach: None,
        feed: truth.feed,
        cautions: CAUTIONS.iter().map(|&text| text.to_owned()).collect(),
        circuits: truth.circuits,
    })
}

fn numbers(cell: &CoupledCell, plan: &CoupledPlan) -> Option<Vec<Numbers>> {
    cell.cells().iter().zip(&plan.plans).map(|(own, p)| p.numbers(own).ok()).collect()
}

/// The numbers of a plan; none when it names what the cell does not have.
fn truth(cell: &CoupledCell, plan: &CoupledPlan, paced_too: bool) -> Option<Truth> {
    let numbers = numbers(cell, plan)?;
    let placed = place(cell, plan, &numbers)?;
    let skus = 0..cell.cells()[0].parts().skus.len();
    let rates: Option<Vec<(ExactRate, NetLimit)>> = skus.clone().map(|k| rate(cell, plan, &numbers, k)).collect();
    let rates = rates?;
    let play = |k: usize| if paced_too { paced(cell, plan, &numbers, k, MOST_STARTS) } else { None };
    let timed: Vec<Option<TimedNet>> = skus.map(play).collect();
    let circuits: Option<Vec<PlannedCircuit>> =
        (0..plan.plans.len()).map(|c| one(cell, plan, &numbers, &placed, (&rates, &timed), c)).collect();
    let feed = feed_of(cell, &placed, &rates);
    Some(Truth { price: price(&numbers).units(), feed, circuits: circuits?, placed })
}

/// Into the first circuit on which the station is that it feeds.
fn feed_of(cell: &CoupledCell, placed: &Placed, rates: &[(ExactRate, NetLimit)]) -> Option<PlannedFeed> {
    let of = cell.feed()?;
    let c = cell.cells().iter().position(|own| own.parts().stations.iter().any(|s| s.id == of.into))?;
    let per_case = |k: usize| cell.carriers_per_case(c, k).unwrap_or(1);
    let taken: Vec<CarrierRate> =
        rates.iter().enumerate().map(|(k, (rate, _))| carriers(*rate, per_case(k)).rate()).collect();
    feed((of, &cell.demands()), &cell.cells()[c], placed.feed?, &taken)
}

/// All that follows from anybody's plan of several circuits, as the keys of a plan document, for the judge. None when the plan
/// names what the cell does not have.
pub(crate) fn recomputed_coupled(cell: &CoupledCell, plan: &CoupledPlan, paced_too: bool) -> Option<serde_json::Value> {
    let truth = truth(cell, plan, paced_too)?;
    Some(serde_json::json!({
        "footprint": footprint(&truth.placed.footprint),
        "price": truth.price,
        "asked": site::asked(asked(&cell.parts().requirements, cell.keep_out()), cell.cells()),
        "hand": site::needed(plan.hands(cell)),
        "feed": truth.feed,
        "circuits": truth.circuits,
    }))
}

/// A rate of cases as one of a circuit's carriers.
fn carriers(of: ExactRate, per_case: u32) -> ExactRate {
    ExactRate::new(of.carriers * i64::from(per_case), of.micros)
}

fn one(
    cell: &CoupledCell,
    plan: &CoupledPlan,
    numbers: &[Numbers],
    placed: &Placed,
    (rates, timed): (&[(ExactRate, NetLimit)], &[Option<TimedNet>]),
    c: usize,
) -> Option<PlannedCircuit> {
    let (own, of) = (&cell.cells()[c], &plan.plans[c]);
    let form = of.form(own)?;
    let per_case = |k: usize| cell.carriers_per_case(c, k).unwrap_or(1);
    let of_ring = |(k, run): (usize, &Option<TimedNet>)| {
        run.as_ref().map(|net| {
            let ring = &net.rings[c];
            Paced(Timed {
                rate: carriers(net.rate, per_case(k)),
                recurs: net.recurs,
                sections: ring.sections.clone(),
                windows: ring.windows.clone(),
            })
        })
    };
    let runs = Runs {
        exact: rates.iter().enumerate().map(|(k, (r, _))| (carriers(*r, per_case(k)), Limit::Unknown)).collect(),
        paced: timed.iter().enumerate().map(of_ring).collect(),
    };
    let mut circuit = circuit(own, of, &numbers[c], form, &runs);
    for (k, sku) in circuit.skus.iter_mut().enumerate() {
        sku.limited_by = limit_told(cell, plan, numbers, k, &rates[k].1);
    }
    for (s, station) in circuit.stations.iter_mut().enumerate() {
        let stand = Stand { circuit: c, station: s };
        let Some(joint) = cell.joint_at(stand) else { continue };
        let other = if joint.first == stand { joint.second } else { joint.first };
        station.hands_to = Some(id(cell, other.circuit).to_owned());
        station.depth_m = cell.joint_depth(joint).m();
    }
    circuit.place = Some(PlannedPlace {
        offset_m: plan.offsets[c].m() - placed.least_x.m(),
        middle_m: placed.middle[c].m(),
        above: cell.parts().circuits[c].above.map(|below| id(cell, below).to_owned()),
        floor_share_m2: share(cell, placed, c),
        price: numbers[c].price.units(),
    });
    Some(circuit)
}

/// The band of floor of a circuit: up to midway between its loop and the next, the whole length of the cell.
fn share(cell: &CoupledCell, placed: &Placed, c: usize) -> f64 {
    let rows = cell.parts().rows();
    let Some(at) = rows.iter().position(|&row| row == c) else { return 0.0 };
    let clearance = cell.parts().requirements.clearance.front.m();
    let border = |one: usize, two: usize| f64::midpoint(placed.loops[one].y.1, placed.loops[two].y.0) + clearance;
    let from = if at == 0 { 0.0 } else { border(rows[at - 1], c) };
    let to = rows.get(at + 1).map_or(placed.footprint.width.m(), |&next| border(c, next));
    (to - from) * placed.footprint.length.m()
}

/// What limits all circuits together.
fn limit_told(cell: &CoupledCell, plan: &CoupledPlan, numbers: &[Numbers], k: usize, limit: &NetLimit) -> LimitedBy {
    let of = |c: usize, limit: &Limit| limited_by(&cell.cells()[c], &plan.plans[c], &numbers[c], k, limit);
    match limit {
        NetLimit::One(c, limit) => {
            let told = of(*c, limit);
            let says = format!("circuit {}: {}", id(cell, *c), told.says);
            LimitedBy { circuits: vec![id(cell, *c).to_owned()], says, ..told }
        }
        NetLimit::Several(parts) => {
            let each: Vec<(usize, LimitedBy)> = parts.iter().map(|(c, limit)| (*c, of(*c, limit))).collect();
            let says: Vec<String> = each.iter().map(|(c, l)| format!("circuit {}: {}", id(cell, *c), l.says)).collect();
            LimitedBy {
                kind: LimitKind::Chain,
                station: None,
                from: None,
                to: None,
                circuits: each.iter().map(|(c, _)| id(cell, *c).to_owned()).collect(),
                stations: each
                    .iter()
                    .flat_map(|(_, l)| l.stations.iter().chain(&l.station).chain(&l.to).cloned())
                    .collect(),
                says: format!("circuits wait for each other; {}", says.join("; ")),
            }
        }
    }
}

/// The timed run of every SKU on all circuits must have the exact rate.
fn differ(cell: &CoupledCell, plan: &CoupledPlan) -> Result<(), Finding> {
    let Some(numbers) = numbers(cell, plan) else { return Ok(()) };
    for (k, sku) in cell.cells()[0].parts().skus.iter().enumerate() {
        let (Some((exact, _)), Some(net)) = (rate(cell, plan, &numbers, k), net(cell, plan, &numbers, k)) else {
            continue;
        };
        let timed = run_net(&net, &NetWatch { most_starts: MOST_STARTS, ..NetWatch::default() });
        let (one, other) = (exact.rate().as_per_second(), timed.rate.rate().as_per_second());
        let same = if timed.recurs { timed.rate == exact } else { (one - other).abs() <= RATE_TOLERANCE * one };
        if !same {
            let message = format!(
                "{}, SKU {}: exactly {} cases pass in {} µs, but {} in {} µs in the timed run",
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

fn impossible(document: &Document, coupled: &Coupled, effort: SearchEffort, clock: Option<&Clock<'_>>) -> Impossible {
    let cell = &coupled.cell;
    let Some(clock) = clock else {
        return Impossible {
            conflict: Conflict { requirements: Vec::new(), minimal: false },
            reasons: Vec::new(),
            effort,
        };
    };
    let found = conflict(cell, clock);
    let mut reasons: Vec<String> = Vec::new();
    for (own, source) in cell.cells().iter().zip(&coupled.sources) {
        let short = shortfalls(own);
        let circuit = source.value_at(&format!("{}/id", source.circuit())).unwrap_or_default();
        reasons.extend(
            short.iter().map(|s| format!("circuit {}: {}", circuit.as_str().unwrap_or_default(), shortfall(own, s))),
        );
    }
    if reasons.is_empty() && found.requirements.is_empty() {
        reasons.push("physics and geometry leave no plan, whatever requirement is given up".to_owned());
    }
    let requirements = found.requirements.iter().filter_map(|asked| asked_of(document, coupled, *asked)).collect();
    Impossible { conflict: Conflict { requirements, minimal: found.minimal }, reasons, effort }
}

/// A requirement of one circuit or of all, in the document's words.
pub(crate) fn asked_of(document: &Document, coupled: &Coupled, asked: Asked) -> Option<ConflictRequirement> {
    let cell = &coupled.cell;
    let (c, requirement) = match asked {
        Asked::Whole(requirement) => (0, requirement),
        Asked::Of(c, requirement) => (c, requirement),
    };
    let mut own = cell.cells().get(c)?.parts().clone();
    if matches!(asked, Asked::Whole(_)) {
        own.requirements = cell.parts().requirements;
        own.keep_out = cell.keep_out().to_vec();
    }
    let own = Cell::new(own).ok()?;
    let mut told = told_of(document, (&own, coupled.sources.get(c)?), requirement);
    if matches!(asked, Asked::Of(..)) {
        told.says = format!("circuit {}: {}", id(cell, c), told.says);
    }
    Some(told)
}
