//! Plans in operation in short: what each makes of each SKU, and nothing else of the simulation document.

use super::coupled::rates_of;
use super::told::Told;
use super::{Quiet, asked, do_not_fit, misfit, wanted};
use crate::alternatives::Doing;
use crate::check::Document;
use crate::finding::Finding;
use crate::wire::simulation::{SimulatedGain, SimulatedSku, SimulationRun};
use loopwright_solver::coupled::CoupledPlan;
use loopwright_solver::operation::scenario;
use loopwright_solver::plan::{Numbers, Plan};
use loopwright_solver::sim::{Asked, Estimate, Replicated, Scenario, replicate};

/// A plan that can be played.
pub(crate) struct Operated {
    document: Document,
    of: Loops,
    /// Indices of the SKUs that are asked for.
    pub(crate) skus: Vec<usize>,
}

/// The plan of one loop, or of several.
enum Loops {
    One(Plan, Numbers),
    Several(CoupledPlan, Vec<Numbers>),
}

/// What a plan makes of one SKU.
pub(crate) struct Rates {
    /// As the simulation document has it, without losses, stop tests and power.
    pub(crate) told: SimulatedSku,
    /// Whether anything is left to chance.
    pub(crate) by_chance: bool,
    /// Whether it was broken off before it had its replications.
    pub(crate) stopped: bool,
    /// Efficiency in each replication; none without chance.
    each: Vec<f64>,
}

impl Operated {
    /// Reads a plan document in JSON, as simulating it does.
    ///
    /// # Errors
    /// It does not fit the cell.
    pub(crate) fn of(document: &Document, plan: &[u8], run: &SimulationRun) -> Result<Self, Finding> {
        let document = document.settled(plan).into_owned();
        let first = |found: Vec<Finding>| found.into_iter().next().unwrap_or_else(misfit);
        let of = if let Some(coupled) = &document.coupled {
            let plan = crate::judge::coupled_plan_of(coupled, plan).map_err(first)?;
            let numbers = coupled.cell.cells().iter().zip(&plan.plans).map(|(cell, own)| own.numbers(cell));
            let numbers: Vec<Numbers> = numbers.collect::<Result<_, _>>().map_err(|_| misfit())?;
            Loops::Several(plan, numbers)
        } else {
            let plan = crate::judge::plan_of(&document, plan).map_err(first)?;
            let numbers = plan.numbers(&document.cell).map_err(|_| misfit())?;
            Loops::One(plan, numbers)
        };
        let skus = wanted(&document, run);
        Ok(Self { document, of, skus })
    }

    /// Plays one SKU; none where it was broken off before two replications were done.
    ///
    /// # Errors
    /// The carriers do not fit.
    pub(crate) fn rates(
        &self,
        sku: usize,
        run: &SimulationRun,
        threads: usize,
        doing: &Doing<'_>,
    ) -> Result<Option<Rates>, Finding> {
        let scenario = self.scenario(sku, run).ok_or_else(do_not_fit)?;
        let by_chance = scenario.by_chance();
        let asked = Asked { threads, ..asked(run, by_chance) };
        let Some(found) = replicate(&scenario, &asked, &Quiet(doing)) else { return Ok(None) };
        let told = self.told((sku, run), &scenario, &found).ok_or_else(do_not_fit)?;
        // Net rates are the replications' rates times one factor, and so are efficiencies.
        let factor = if found.rate.mean > 0.0 { told.efficiency.mean / found.rate.mean } else { 0.0 };
        let each = if by_chance { found.rates.iter().map(|rate| rate * factor).collect() } else { Vec::new() };
        Ok(Some(Rates { stopped: !told.reached && told.replications < asked.most, told, by_chance, each }))
    }
}

impl Operated {
    fn scenario(&self, sku: usize, run: &SimulationRun) -> Option<Scenario> {
        match &self.of {
            Loops::One(plan, numbers) => scenario(&self.document.cell, numbers, sku, plan.carriers, run.paced),
            Loops::Several(plan, numbers) => {
                let coupled = self.document.coupled.as_ref()?;
                loopwright_solver::coupled::scenario(&coupled.cell, plan, numbers, sku, run.paced)
            }
        }
    }

    fn told(
        &self,
        (sku, run): (usize, &SimulationRun),
        scenario: &Scenario,
        found: &Replicated,
    ) -> Option<SimulatedSku> {
        let document = &self.document;
        match &self.of {
            Loops::One(plan, numbers) => Some(Told { document, plan, numbers, sku, scenario }.played(found)),
            Loops::Several(plan, numbers) => {
                let coupled = document.coupled.as_ref()?;
                rates_of(document, &coupled.cell, (plan, numbers), (sku, run), (scenario, found))
            }
        }
    }
}

impl Rates {
    /// Efficiency over that of another plan, by pairs of replications with the same luck, as many as both have.
    pub(crate) fn over(&self, other: &Self) -> SimulatedGain {
        let exact = |rates: &Self| rates.told.efficiency.mean;
        let differences: Vec<f64> = match (self.by_chance, other.by_chance) {
            (true, true) => self.each.iter().zip(&other.each).map(|(a, b)| a - b).collect(),
            (true, false) => self.each.iter().map(|a| a - exact(other)).collect(),
            (false, true) => other.each.iter().map(|b| exact(self) - b).collect(),
            (false, false) => vec![exact(self) - exact(other)],
        };
        let Estimate { mean, half_width } = Estimate::of(&differences);
        SimulatedGain { mean, half_width }
    }
}
