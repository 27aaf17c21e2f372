//! From the engine's changes on a plan to the published document.

use std::collections::HashMap;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

use super::changes_said::{decided_by, over_limit, place};
use super::{PlanAnswer, plan_document_watched};
use crate::check::Document;
use crate::codes::Code;
use crate::finding::Finding;
use crate::judge::read_plan;
use crate::read::quoted;
use crate::wire::adjust::{ChangesLie, CountsFrom, OrderShape};
use crate::wire::changeover::{
    ChangeCount, ChangeInFull, ChangeoverAnswer, ChangeoverDocument, ChangeoverSku, ChangeoverStatus, Lot, Order,
    PlannedMove, PlannedStep, StepPhase, WeekDone,
};
use loopwright_solver::changeover::{Changeover, Planned};
use loopwright_solver::plan::Plan;
use loopwright_solver::sequence::{Costs, Shape, least_order};
use loopwright_solver::study::{Clock, Watch};
use loopwright_solver::units::Micros;

const FORMAT: u32 = 1;

/// Changes that are given in full because they are the longest.
const LONGEST: usize = 5;

/// Changes that are given in full at most.
const MOST_IN_FULL: usize = 120;

/// Findings about changes over the limit at most.
const MOST_OVER: usize = 20;

/// An order is looked for so long at most.
const ORDER_LIMIT: Duration = Duration::from_secs(5);

/// Said wherever changes are.
pub const CHANGE_CAUTIONS: &[&str] = &[
    "Times by hand are those of the cell document. Time each change that matters three times on the built cell before it is \
     promised.",
    "Automatic moves run beside work by hand only where guards keep people and moves apart (ISO 12100 risk assessment, \
     ISO 14120 guards, ISO 14119 interlocks); anywhere else set `moves_wait`.",
    "Whoever reaches into the cell first isolates and locks what can move, press or burn: drives, magnets, air, hot glue \
     (OSHA 29 CFR 1910.147 and the local code).",
];

/// Who hears how far the work on changes has come: the search for a plan, where there is none, then the parts.
pub trait Listener: Watch {
    /// So many of so many parts are done: one for the changes from each SKU, and one for the order.
    fn parts(&self, done: usize, of: usize);
}

impl Listener for super::Nobody {
    fn parts(&self, _: usize, _: usize) {}
}

/// Works out the changes of a cell on a plan document, or on the plan that is made where none is given.
///
/// # Errors
/// Findings about the plan document, or about the pair that is asked for; or the planner contradicts itself.
pub fn changeover(
    document: &Document,
    plan: Option<&[u8]>,
    pair: Option<(&str, &str)>,
    limit: Duration,
    cancel: &AtomicBool,
) -> Result<ChangeoverAnswer, Vec<Finding>> {
    changeover_watched(document, plan, pair, limit, cancel, &super::Nobody)
}

/// [`changeover`], telling how far it has come.
///
/// # Errors
/// As there.
pub fn changeover_watched(
    document: &Document,
    plan: Option<&[u8]>,
    pair: Option<(&str, &str)>,
    limit: Duration,
    cancel: &AtomicBool,
    listener: &dyn Listener,
) -> Result<ChangeoverAnswer, Vec<Finding>> {
    let document = &plan.map_or(std::borrow::Cow::Borrowed(document), |plan| document.settled(plan));
    let pair = pair.map(|(from, to)| pair_of(document, from, to)).transpose()?;
    let mut answer =
        ChangeoverAnswer { format: FORMAT, status: ChangeoverStatus::NoPlan, changeover: None, plan: None };
    let found = match plan {
        Some(bytes) => read_plan(document, bytes)?,
        None => match plan_document_watched(document, limit, cancel, listener) {
            PlanAnswer::Answer(made) => {
                let text = serde_json::to_vec(&made).unwrap_or_default();
                answer.plan = Some(*made);
                read_plan(document, &text)?
            }
            PlanAnswer::Fault(finding) => return Err(vec![*finding]),
        },
    };
    if let Some(plan) = found {
        let clock = Clock::new(limit.min(ORDER_LIMIT), cancel);
        answer.status = ChangeoverStatus::WorkedOut;
        answer.changeover = Some(changeover_document(document, &plan, pair, &clock, listener)?);
    }
    Ok(answer)
}

/// The SKUs of a change by their ids.
///
/// # Errors
/// There is no such SKU.
pub(crate) fn pair_of(document: &Document, from: &str, to: &str) -> Result<(usize, usize), Vec<Finding>> {
    Ok((sku(document, from)?, sku(document, to)?))
}

fn sku(document: &Document, id: &str) -> Result<usize, Vec<Finding>> {
    document.wire.skus.iter().position(|s| s.id == id).ok_or_else(|| {
        let finding = Finding::new(Code::UnknownId, "", format!("no SKU has the id {}", quoted(id)));
        vec![finding.advise("Name two SKUs of the cell.")]
    })
}

/// The changes of one plan; those of `pair` in full too.
///
/// # Errors
/// A finding: the plan names what the cell does not have.
pub fn changeover_document(
    document: &Document,
    plan: &Plan,
    pair: Option<(usize, usize)>,
    clock: &Clock<'_>,
    listener: &dyn Listener,
) -> Result<ChangeoverDocument, Vec<Finding>> {
    let cell = &document.cell;
    let changes = &cell.parts().changes;
    let changeover = Changeover::of(cell, plan).map_err(|_| {
        let message = "the plan names a form, or an option of a station, that the cell does not have";
        vec![Finding::new(Code::DoesNotHold, "", message).advise("Put the plan to the judge; it says which.")]
    })?;
    let n = cell.parts().skus.len();
    let row = |i: usize| {
        listener.parts(i, n + 1);
        (0..n).map(|j| changeover.total(i, j)).collect()
    };
    let matrix: Vec<Vec<Micros>> = (0..n).map(row).collect();
    listener.parts(n, n + 1);
    let order = order(document, &matrix, clock);
    listener.parts(n + 1, n + 1);
    let lasting = longest_first(&matrix);
    let mut wanted: Vec<(usize, usize)> = lasting.iter().take(LONGEST).copied().collect();
    wanted.extend(pair);
    if let Some((_, runs)) = &order {
        wanted.extend((0..runs.len()).map(|i| (runs[(i + runs.len() - 1) % runs.len()], runs[i])));
    }
    let mut full: Vec<(usize, usize)> = Vec::new();
    for pair in wanted.into_iter().filter(|(from, to)| from != to) {
        if !full.contains(&pair) && full.len() < MOST_IN_FULL {
            full.push(pair);
        }
    }
    let limit = changes.limit.map(Micros::nearest);
    let over: Vec<(usize, usize)> =
        lasting.iter().copied().take_while(|&(i, j)| limit.is_some_and(|limit| matrix[i][j] > limit)).collect();
    let mut findings: Vec<Finding> = (over.iter().take(MOST_OVER))
        .filter_map(|&(i, j)| Some(over_limit(document, &changeover, &changeover.change(i, j), limit?)))
        .collect();
    let in_full: Vec<ChangeInFull> = full.iter().map(|&(i, j)| change(document, &changeover, i, j)).collect();
    let week = order.as_ref().and_then(|(order, _)| week(document, order, &in_full, &mut findings));
    #[allow(clippy::cast_precision_loss)]
    let mean_s = lasting.iter().map(|&(i, j)| matrix[i][j].seconds()).sum::<f64>() / lasting.len().max(1) as f64;
    Ok(ChangeoverDocument {
        format: FORMAT,
        name: cell.parts().name.clone(),
        counts_from: document.wire.changeover.as_ref().map_or(CountsFrom::LastCase, |c| c.counts_from),
        operators: changes.operators,
        limit_s: changes.limit.map(|l| l.s()),
        skus: (document.wire.skus.iter().zip(changeover.flows()))
            .map(|(sku, flow)| ChangeoverSku {
                id: sku.id.clone(),
                run_out_s: flow.run_out.seconds(),
                refill_s: flow.refill.seconds(),
            })
            .collect(),
        count: ChangeCount {
            all: lasting.len(),
            automatic: lasting.iter().filter(|&&(i, j)| changeover.is_automatic(i, j)).count(),
            over_limit: over.len(),
        },
        mean_s,
        matrix_s: matrix.iter().map(|row| row.iter().map(|t| t.seconds()).collect()).collect(),
        changes: in_full,
        order: order.map(|(order, _)| order),
        week,
        findings,
        cautions: CHANGE_CAUTIONS.iter().map(|&text| text.to_owned()).collect(),
    })
}

fn longest_first(matrix: &[Vec<Micros>]) -> Vec<(usize, usize)> {
    let n = matrix.len();
    let mut pairs: Vec<(usize, usize)> = (0..n).flat_map(|i| (0..n).map(move |j| (i, j))).collect();
    pairs.retain(|(i, j)| i != j);
    pairs.sort_by_key(|&(i, j)| (std::cmp::Reverse(matrix[i][j]), i, j));
    pairs
}

fn shape(document: &Document) -> OrderShape {
    let week = document.wire.changeover.as_ref().and_then(|c| c.week.as_ref());
    week.map_or(OrderShape::Cyclic, |week| week.order)
}

/// The order, and its SKUs by index.
fn order(document: &Document, matrix: &[Vec<Micros>], clock: &Clock<'_>) -> Option<(Order, Vec<usize>)> {
    let shape = shape(document);
    let engine = match shape {
        OrderShape::Cyclic => Shape::Cyclic,
        OrderShape::Open => Shape::Open,
    };
    let skus = &document.wire.skus;
    let lots: Vec<u32> = skus.iter().map(|s| s.week.as_ref().map_or(1, |w| w.lots)).collect();
    let costs = Costs::new(matrix.len(), |i, j| matrix[i][j].us());
    let found = least_order(&costs, &lots, engine, clock).ok()?;
    let seconds = |us: i64| Micros::from_us(us).seconds();
    let faster = crate::check::allowed_availability(&document.wire);
    let before = |i: usize| match (i, shape) {
        (0, OrderShape::Open) => None,
        (0, OrderShape::Cyclic) => found.runs.last().copied(),
        _ => Some(found.runs[i - 1]),
    };
    let lot = |(i, &k): (usize, &usize)| {
        let cases = skus[k].week.as_ref().and_then(|w| w.cases).map(|cases| cases / f64::from(lots[k]));
        Lot {
            sku: skus[k].id.clone(),
            change_s: before(i).map_or(0.0, |from| matrix[from][k].seconds()),
            cases,
            run_min: cases.map(|c| c / document.cell.parts().skus[k].case_rate.as_per_minute() * faster),
        }
    };
    let listed: Vec<usize> = (0..lots.len()).filter(|&k| lots[k] > 0).collect();
    let as_listed = lots.iter().all(|&l| l < 2).then(|| {
        let along: f64 = listed.windows(2).map(|w| matrix[w[0]][w[1]].seconds()).sum();
        let back = match (shape, listed.first(), listed.last()) {
            (OrderShape::Cyclic, Some(&first), Some(&last)) => matrix[last][first].seconds(),
            _ => 0.0,
        };
        along + back
    });
    let order = Order {
        shape,
        lots: found.runs.iter().enumerate().map(lot).collect(),
        total_s: seconds(found.cost),
        proven_bound_s: seconds(found.bound),
        gap: found.gap(),
        proven: found.proven(),
        as_listed_s: as_listed,
    };
    Some((order, found.runs))
}

fn change(document: &Document, changeover: &Changeover<'_>, from: usize, to: usize) -> ChangeInFull {
    let skus = &document.wire.skus;
    let change = changeover.change(from, to);
    let finish = |planned: &Planned| Micros::from_us(planned.schedule.finish).seconds();
    let mut steps = Vec::new();
    let phases = [
        (StepPhase::Before, &change.before),
        (StepPhase::Stopped, &change.stopped),
        (StepPhase::Behind, &change.behind),
    ];
    for (phase, planned) in phases {
        steps.extend(planned_steps(document, planned, phase));
    }
    let mut moves: Vec<PlannedMove> = (change.moves.iter())
        .map(|m| {
            let (at, adjustment) = place(document, m.mover);
            PlannedMove { at, adjustment, travel_mm: m.travel.mm(), time_s: m.time.seconds() }
        })
        .collect();
    moves.sort_by(|a, b| b.time_s.total_cmp(&a.time_s));
    ChangeInFull {
        from: skus[from].id.clone(),
        to: skus[to].id.clone(),
        total_s: change.total.seconds(),
        run_out_s: change.run_out.seconds(),
        by_hand_s: finish(&change.stopped),
        by_hand_proven: change.stopped.schedule.proven(),
        moving_s: change.moving.seconds(),
        work_s: change.work.seconds(),
        refill_s: change.refill.seconds(),
        before_s: finish(&change.before),
        behind_s: finish(&change.behind),
        decided_by: decided_by(document, &change),
        steps,
        moves,
    }
}

/// Steps with the people who do them: at each start the free ones with the lowest numbers.
fn planned_steps(document: &Document, planned: &Planned, phase: StepPhase) -> Vec<PlannedStep> {
    let changes = &document.cell.parts().changes;
    let all: Vec<_> = changes.steps().collect();
    let mut order: Vec<usize> = (0..planned.steps.len()).collect();
    order.sort_by_key(|&i| (planned.schedule.start[i], planned.times[i], i));
    let mut free_from: HashMap<u32, i64> = HashMap::new();
    let mut steps = Vec::new();
    for i in order {
        let (adjustment, step) = all[planned.steps[i]];
        let (start, time) = (planned.schedule.start[i], planned.times[i]);
        let free = (1..=changes.operators).filter(|p| free_from.get(p).is_none_or(|&from| from <= start));
        let people: Vec<u32> = free.take(step.people as usize).collect();
        people.iter().for_each(|&p| {
            free_from.insert(p, start + time.us());
        });
        steps.push(PlannedStep {
            at: super::changes_said::owner(document, adjustment.at),
            adjustment: adjustment.id.clone(),
            step: step.id.clone(),
            phase,
            start_s: Micros::from_us(start).seconds(),
            time_s: time.seconds(),
            people,
        });
    }
    steps
}

fn week(document: &Document, order: &Order, in_full: &[ChangeInFull], findings: &mut Vec<Finding>) -> Option<WeekDone> {
    let asked = document.wire.changeover.as_ref()?.week.as_ref()?;
    let available_min = asked.planned_min - asked.breaks_min;
    let change_min = order.total_s / 60.0;
    let inside = asked.changes == ChangesLie::Inside;
    let run_min: Option<f64> = order.lots.iter().map(|l| l.run_min).sum();
    let left_min = run_min.map(|run| available_min - run - if inside { change_min } else { 0.0 });
    if let Some(missing) = left_min.filter(|&left| left < -1e-6) {
        let message = format!(
            "the lots{} take {:.0} minutes longer than the {available_min:.0} that are planned",
            if inside { " and their changes" } else { "" },
            -missing
        );
        findings.push(Finding::new(Code::WeekTooShort, "/changeover/week", message));
    }
    no_time_outside(order, in_full, findings);
    let change_count = order.lots.iter().filter(|l| l.change_s > 0.0).count();
    Some(WeekDone {
        available_min,
        changes: asked.changes,
        change_count,
        change_min,
        availability: if inside { ((available_min - change_min) / available_min).max(0.0) } else { 1.0 },
        allowed_availability: crate::check::allowed_availability(&document.wire),
        run_min,
        left_min,
    })
}

/// While a lot runs, the steps behind the change before it and those before the next one are done.
fn no_time_outside(order: &Order, in_full: &[ChangeInFull], findings: &mut Vec<Finding>) {
    let n = order.lots.len();
    let find = |from: &str, to: &str| in_full.iter().find(|c| c.from == from && c.to == to);
    for i in 0..n {
        let lot = &order.lots[i];
        let closed = order.shape == OrderShape::Cyclic;
        let before = (closed || i > 0).then(|| find(&order.lots[(i + n - 1) % n].sku, &lot.sku)).flatten();
        let next = (closed || i + 1 < n).then(|| find(&lot.sku, &order.lots[(i + 1) % n].sku)).flatten();
        let needed = before.map_or(0.0, |c| c.behind_s) + next.map_or(0.0, |c| c.before_s);
        if let Some(run) = lot.run_min.filter(|&run| needed > run * 60.0) {
            let message = format!(
                "the lot of SKU {} runs for {run:.1} minutes, but {:.1} minutes of steps are to be done meanwhile",
                quoted(&lot.sku),
                needed / 60.0
            );
            findings.push(Finding::new(Code::NoTimeOutside, "/skus", message));
        }
    }
}
