//! Simulation of several circuits that hand product over to one another.

use super::losses::losses;
use super::told::{METHOD, MOST_STARTS, Said};
use super::{Ear, Quiet, asked};
use crate::alternatives::Doing;
use crate::check::Document;
use crate::codes::Code;
use crate::finding::Finding;
use crate::wire::simulation::{FORMAT, SimulatedSku, SimulatedStop, SimulationDocument, SimulationRun};
use loopwright_solver::coupled::{CoupledCell, CoupledPlan, scenario, without_chance};
use loopwright_solver::plan::Numbers;
use loopwright_solver::sim::{Replicated, Scenario, certain_rate, replicate, stop_test};
use loopwright_solver::units::Micros;
use std::sync::atomic::{AtomicUsize, Ordering};

/// One SKU at a time.
struct Cell<'a> {
    document: &'a Document,
    coupled: &'a CoupledCell,
    plan: &'a CoupledPlan,
    numbers: &'a [Numbers],
    run: &'a SimulationRun,
}

pub(super) fn simulated(
    document: &Document,
    coupled: &CoupledCell,
    plan: &CoupledPlan,
    run: &SimulationRun,
    doing: &Doing<'_>,
) -> Result<SimulationDocument, Vec<Finding>> {
    let misfit = |says: &str| vec![Finding::new(Code::CannotDraw, "/circuits", says)];
    let numbers: Result<Vec<Numbers>, _> =
        coupled.cells().iter().zip(&plan.plans).map(|(cell, plan)| plan.numbers(cell)).collect();
    let numbers = numbers.map_err(|_| misfit("the plan names what the cell does not have"))?;
    let cell = Cell { document, coupled, plan, numbers: &numbers, run };
    let known = &coupled.cells()[0].parts().skus;
    let wanted: Vec<usize> =
        (0..known.len()).filter(|&k| run.sku.as_ref().is_none_or(|id| *id == known[k].id)).collect();
    let ear = Ear { doing, before: AtomicUsize::new(0), of: wanted.len() };
    let mut skus = Vec::new();
    for &k in &wanted {
        if doing.over() {
            break;
        }
        let fits =
            || misfit("the plan's carriers do not fit its sections, or its hand-offs do not work alike on both sides");
        let played = scenario(coupled, plan, &numbers, k, run.paced).ok_or_else(fits)?;
        let Some(sku) = cell.sku(k, &played, &ear, doing) else { break };
        skus.push(sku);
        ear.before.fetch_add(1, Ordering::Relaxed);
    }
    let ids: Vec<&str> = cell.circuits();
    Ok(SimulationDocument {
        format: FORMAT,
        name: coupled.parts().name.clone(),
        circuit: ids.join(" + "),
        carriers: plan.plans.iter().map(|plan| plan.carriers).sum(),
        run: run.clone(),
        method: METHOD.iter().map(|&line| line.to_owned()).collect(),
        stopped: skus.len() < wanted.len() || (doing.over() && skus.iter().any(|sku| !sku.reached)),
        skus,
    })
}

/// What replications of one SKU come to, without losses and stop tests.
pub(super) fn rates_of(
    document: &Document,
    coupled: &CoupledCell,
    (plan, numbers): (&CoupledPlan, &[Numbers]),
    (k, run): (usize, &SimulationRun),
    (played, found): (&Scenario, &Replicated),
) -> Option<SimulatedSku> {
    let cell = Cell { document, coupled, plan, numbers, run };
    Some(cell.said(k, played)?.sku(found))
}

impl Cell<'_> {
    fn circuits(&self) -> Vec<&str> {
        self.coupled.cells().iter().map(|cell| cell.parts().circuit.id.as_str()).collect()
    }

    /// What is said of a SKU that is played.
    fn said<'s>(&'s self, k: usize, played: &'s Scenario) -> Option<Said<'s>> {
        let certain = without_chance(self.coupled, self.plan, self.numbers, k, self.run.paced)?;
        let posts = self.coupled.cells().iter().flat_map(|cell| &cell.parts().stations);
        let per_case = self.coupled.carriers_per_case(0, k)?;
        Some(Said {
            posts: posts.map(|station| station.id.as_str()).collect(),
            circuits: self.circuits(),
            scenario: played,
            factor: 60.0 / f64::from(per_case),
            undisturbed: certain_rate(&certain, MOST_STARTS).0.rate().as_per_second(),
            sku: &self.coupled.cells()[0].parts().skus[k],
            efficiency: self.document.wire.requirements.efficiency,
        })
    }

    /// None when it was stopped.
    fn sku(&self, k: usize, played: &Scenario, ear: &Ear<'_>, doing: &Doing<'_>) -> Option<SimulatedSku> {
        let said = self.said(k, played)?;
        let asked = asked(self.run, played.by_chance());
        let found = replicate(played, &asked, ear)?;
        let mut of = said.sku(&found);
        if played.by_chance() {
            let lost = of.undisturbed_rate_per_min - of.net_rate_per_min.mean;
            of.losses = losses(&said.posts, said.factor, played, &found, (&asked, lost), &Quiet(doing));
        }
        of.stop_tests = self.stop_tests(k, &said);
        Some(of)
    }

    /// Every section that must absorb a stop.
    fn stop_tests(&self, k: usize, said: &Said<'_>) -> Vec<SimulatedStop> {
        let Some(paced) = without_chance(self.coupled, self.plan, self.numbers, k, true) else { return Vec::new() };
        let sections = self.coupled.cells().iter().flat_map(|cell| &cell.parts().sections);
        let wanted = sections.enumerate().filter(|(_, section)| section.ride_through.s() > 0.0);
        let tested = wanted.filter_map(|(i, section)| {
            let found = stop_test(&paced, i, Micros::nearest(section.ride_through))?;
            Some(SimulatedStop {
                from: said.posts[i].to_owned(),
                to: said.posts[paced.after(i)].to_owned(),
                ride_through_s: section.ride_through.s(),
                holds: found.blocked == Micros::ZERO,
                blocked_s: found.blocked.seconds(),
                queue_gone_after_s: found.gone_after.map(Micros::seconds),
            })
        });
        tested.collect()
    }
}
