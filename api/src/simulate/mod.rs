//! Simulation of a planned cell, from documents to the simulation document.

mod accumulate;
mod certain;
mod coupled;
mod losses;
mod rates;
#[cfg(test)]
mod tests;
mod told;

pub use accumulate::{accumulate, check_accumulation};
pub(crate) use rates::{Operated, Rates};

use crate::alternatives::Doing;
use crate::check::Document;
use crate::codes::Code;
use crate::finding::Finding;
use crate::wire::simulation::{FORMAT, SimulationDocument, SimulationRun};
use loopwright_solver::operation::scenario;
use loopwright_solver::plan::{Numbers, Plan};
use loopwright_solver::sim::{Asked, Listener, replicate};
use loopwright_solver::units::Micros;
use std::num::NonZero;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Most simulated seconds of one run, over all its replications: a bound on the work that a request may ask for.
const MOST_SECONDS: f64 = 1e11;

/// Simulates a plan document in JSON.
///
/// # Errors
/// Every finding: what a plan cannot do without, what is out of range in `run`, a SKU that is not there.
pub fn simulate(
    document: &Document,
    plan: &[u8],
    run: &SimulationRun,
    doing: &Doing<'_>,
) -> Result<SimulationDocument, Vec<Finding>> {
    let document = &document.settled(plan);
    let mut findings = check_run(document, run, "/run");
    if let Some(several) = &document.coupled {
        let planned = crate::judge::coupled_plan_of(several, plan);
        if let Err(more) = &planned {
            findings.extend(more.iter().cloned());
        }
        let (Ok(plan), true) = (planned, findings.is_empty()) else { return Err(findings) };
        return coupled::simulated(document, &several.cell, &plan, run, doing);
    }
    let planned = crate::judge::plan_of(document, plan);
    if let Err(more) = &planned {
        findings.extend(more.iter().cloned());
    }
    let (Ok(plan), true) = (planned, findings.is_empty()) else { return Err(findings) };
    of_plan(document, &plan, run, doing)
}

/// Simulates a plan of the engine's.
///
/// # Errors
/// The plan does not fit the cell.
pub(crate) fn of_plan(
    document: &Document,
    plan: &Plan,
    run: &SimulationRun,
    doing: &Doing<'_>,
) -> Result<SimulationDocument, Vec<Finding>> {
    let numbers = plan.numbers(&document.cell).map_err(|_| vec![misfit()])?;
    simulated(document, plan, &numbers, run, doing)
}

fn simulated(
    document: &Document,
    plan: &Plan,
    numbers: &Numbers,
    run: &SimulationRun,
    doing: &Doing<'_>,
) -> Result<SimulationDocument, Vec<Finding>> {
    let cell = &document.cell;
    let parts = cell.parts();
    let wanted = wanted(document, run);
    let ear = Ear { doing, before: AtomicUsize::new(0), of: wanted.len() };
    let mut skus = Vec::new();
    for &k in &wanted {
        if doing.over() {
            break;
        }
        let Some(scenario) = scenario(cell, numbers, k, plan.carriers, run.paced) else {
            return Err(vec![do_not_fit()]);
        };
        let told = told::Told { document, plan, numbers, sku: k, scenario: &scenario };
        let asked = asked(run, scenario.by_chance());
        match replicate(&scenario, &asked, &ear) {
            Some(found) => {
                let mut of = told.sku(&found);
                if scenario.by_chance() {
                    let lost = of.undisturbed_rate_per_min - of.net_rate_per_min.mean;
                    let posts: Vec<&str> = parts.stations.iter().map(|station| station.id.as_str()).collect();
                    let factor = told::cases_per_min(document, k);
                    of.losses = losses::losses(&posts, factor, &scenario, &found, (&asked, lost), &Quiet(doing));
                }
                skus.push(of);
            }
            None => break,
        }
        ear.before.fetch_add(1, Ordering::Relaxed);
    }
    Ok(SimulationDocument {
        format: FORMAT,
        name: parts.name.clone(),
        circuit: parts.circuit.id.clone(),
        carriers: plan.carriers,
        run: run.clone(),
        method: told::METHOD.iter().map(|&line| line.to_owned()).collect(),
        stopped: skus.len() < wanted.len() || (doing.over() && skus.iter().any(|sku| !sku.reached)),
        skus,
    })
}

fn misfit() -> Finding {
    Finding::new(Code::CannotDraw, "", "the plan names what the cell does not have")
}

fn do_not_fit() -> Finding {
    Finding::new(Code::CannotDraw, "/carriers", "the plan's carriers do not fit its sections")
}

/// Everything that is wrong with a run; `at` is where it stands.
#[must_use]
pub fn check_run(document: &Document, run: &SimulationRun, at: &str) -> Vec<Finding> {
    let mut findings = Vec::new();
    let mut within = |key: &str, value: f64, least: f64, most: f64| {
        if !(value >= least && value <= most) {
            let says = format!("it must be from {least} to {most}, and is {value}");
            findings.push(Finding::new(Code::OutOfRange, format!("{at}/{key}"), says));
        }
    };
    within("hours", run.hours, 1e-3, 1000.0);
    within("warm_up_s", run.warm_up_s.unwrap_or(0.0), 0.0, 1e6);
    within("least_replications", f64::from(run.least_replications), 2.0, 1e5);
    within("most_replications", f64::from(run.most_replications), f64::from(run.least_replications), 1e5);
    within("half_width", run.half_width, 1e-6, 1.0);
    #[expect(clippy::cast_precision_loss, reason = "only to compare with what is exact")]
    within("seed", run.seed as f64, 0.0, 9_007_199_254_740_991.0);
    let seconds = run.hours * 3600.0 * f64::from(run.most_replications);
    if findings.is_empty() && seconds > MOST_SECONDS {
        let says = format!("{} replications of {} h are more than can be simulated", run.most_replications, run.hours);
        findings.push(Finding::new(Code::TooMany, format!("{at}/most_replications"), says));
    }
    let known = &document.cell.parts().skus;
    if let Some(id) = run.sku.as_ref().filter(|id| known.iter().all(|sku| sku.id != **id)) {
        let says = format!("there is no SKU {}", crate::read::quoted(id));
        findings.push(Finding::new(Code::UnknownId, format!("{at}/sku"), says));
    }
    findings
}

/// Indices of the SKUs that are simulated.
pub(crate) fn wanted(document: &Document, run: &SimulationRun) -> Vec<usize> {
    let skus = &document.cell.parts().skus;
    (0..skus.len()).filter(|&k| run.sku.as_ref().is_none_or(|id| *id == skus[k].id)).collect()
}

fn asked(run: &SimulationRun, by_chance: bool) -> Asked {
    Asked {
        seed: run.seed,
        length: Micros::nearest_s(run.hours * 3600.0),
        warm_up: run.warm_up_s.map(Micros::nearest_s),
        // Without chance every replication is the same; two are needed for a spread, which is nothing.
        least: if by_chance { run.least_replications } else { 2 },
        most: if by_chance { run.most_replications } else { 2 },
        half_width: run.half_width,
        threads: std::thread::available_parallelism().map_or(1, NonZero::get),
    }
}

/// Only whether to stop.
pub(super) struct Quiet<'a>(pub(super) &'a Doing<'a>);

impl Listener for Quiet<'_> {
    fn done(&self, _: u32, _: u32) {}

    fn stop(&self) -> bool {
        self.0.over()
    }
}

/// Hands the news of the replications on: each SKU counts as one part.
struct Ear<'a> {
    doing: &'a Doing<'a>,
    before: AtomicUsize,
    of: usize,
}

/// Steps of progress in which a SKU is told.
const STEPS: usize = 100;

impl Listener for Ear<'_> {
    fn done(&self, replications: u32, most: u32) {
        let within = STEPS * replications as usize / most.max(1) as usize;
        self.doing.tell(self.before.load(Ordering::Relaxed) * STEPS + within.min(STEPS), self.of * STEPS);
    }

    fn stop(&self) -> bool {
        self.doing.over()
    }
}
