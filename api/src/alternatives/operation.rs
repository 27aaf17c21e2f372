//! The plans of a comparison simulated with what goes wrong, all of them with the same luck.

use super::difference::efficiency_says;
use super::edit::changed;
use super::planning::{Doing, Nobody};
use super::short::Told;
use crate::check::Document;
use crate::finding::Finding;
use crate::simulate::{Operated, Rates};
use crate::wire::alternatives::{ComparedEfficiency, ComparedOperation, ComparedRun, ComparedSku, Difference, Variant};
use crate::wire::plan::{Answer, FORMAT, PlanDocument, Planned};
use crate::wire::simulation::SimulationRun;

/// What each plan makes, by variant.
pub(super) struct Played {
    run: SimulationRun,
    each: Vec<PlayedPlan>,
}

/// What one plan makes, by SKU; nothing where there is no plan.
struct PlayedPlan {
    rates: Vec<Rates>,
    /// How many SKUs were asked for.
    wanted: usize,
}

/// A plan as its document has it, so that it is simulated as the document would be.
fn written(document: &Document, planned: &Planned) -> Vec<u8> {
    let answer = Answer::Planned(Box::new(planned.clone()));
    // Plain records always can be written.
    serde_json::to_vec(&PlanDocument { format: FORMAT, name: document.wire.name.clone(), answer }).unwrap_or_default()
}

/// Simulates every plan, SKU by SKU, over the cores.
///
/// # Errors
/// A plan of our own that does not fit its cell.
pub(super) fn play(
    document: &Document,
    all: &[(Variant, Told)],
    run: &SimulationRun,
    doing: &Doing<'_>,
) -> Result<Played, Finding> {
    let mut ready = Vec::new();
    for (variant, told) in all {
        let Some(planned) = &told.planned else {
            ready.push(None);
            continue;
        };
        let changed = changed(document, &variant.changes).map_err(|mut findings| findings.swap_remove(0))?;
        ready.push(Some(Operated::of(&changed, &written(&changed, planned), run)?));
    }
    let parts: Vec<(usize, &Operated, usize)> = ready
        .iter()
        .enumerate()
        .filter_map(|(at, one)| one.as_ref().map(|one| (at, one)))
        .flat_map(|(at, one)| one.skus.iter().map(move |&sku| (at, one, sku)))
        .collect();
    let threads = doing.threads_each(parts.len());
    let found = doing.each(&parts, |&(_, one, sku), limit| one.rates(sku, run, threads, &doing.part(limit, &Nobody)));
    let wanted = ready.iter().map(|one| one.as_ref().map_or(0, |one| one.skus.len()));
    let mut each: Vec<PlayedPlan> = wanted.map(|wanted| PlayedPlan { rates: Vec::new(), wanted }).collect();
    for ((at, ..), rates) in parts.into_iter().zip(found) {
        each[at].rates.extend(rates?);
    }
    Ok(Played { run: run.clone(), each })
}

impl PlayedPlan {
    /// Whether every SKU had its replications.
    fn complete(&self) -> bool {
        self.rates.len() == self.wanted && self.rates.iter().all(|rates| !rates.stopped)
    }

    fn by_chance(&self) -> bool {
        self.rates.iter().any(|rates| rates.by_chance)
    }

    /// The SKU with the least efficiency; of equals the first.
    fn least(&self) -> Option<&Rates> {
        self.rates.iter().min_by(|a, b| a.told.efficiency.mean.total_cmp(&b.told.efficiency.mean))
    }
}

impl Played {
    /// What the plan of a variant makes.
    pub(super) fn of(&self, variant: usize) -> Option<ComparedOperation> {
        let plan = self.each.get(variant)?;
        let sku = |rates: &Rates| ComparedSku {
            id: rates.told.id.clone(),
            replications: rates.told.replications,
            reached: rates.told.reached,
            net_rate_per_min: rates.told.net_rate_per_min,
            undisturbed_rate_per_min: rates.told.undisturbed_rate_per_min,
            efficiency: rates.told.efficiency,
        };
        Some(ComparedOperation {
            by_chance: plan.by_chance(),
            complete: plan.complete(),
            least_sku: plan.least()?.told.id.clone(),
            skus: plan.rates.iter().map(sku).collect(),
        })
    }

    /// Puts how far the efficiencies are apart to a difference.
    pub(super) fn beside(&self, difference: Difference) -> Difference {
        let plan = |at: u32| self.each.get(usize::try_from(at).ok()?);
        let apart = || {
            let than = plan(difference.than)?.least()?;
            let of = plan(difference.of)?.rates.iter().find(|rates| rates.told.id == than.told.id)?;
            Some(ComparedEfficiency { sku: than.told.id.clone(), gain: of.over(than) })
        };
        match apart() {
            Some(apart) => {
                let says = difference.says.clone() + &efficiency_says(&apart);
                Difference { efficiency: Some(apart), says, ..difference }
            }
            None => difference,
        }
    }

    /// How it was done; `names` are those of the variants.
    pub(super) fn told(&self, names: &[&str]) -> ComparedRun {
        let mut notes = vec![
            format!(
                "Every plan is simulated with what goes wrong and the same seed, {}: all variants meet the same luck.",
                self.run.seed
            ),
            "Efficiency is the net rate over the rate with nothing going wrong, here of the SKU for which it is least; its interval \
             is of 95 % confidence."
                .to_owned(),
        ];
        let played: Vec<(&str, &PlayedPlan)> =
            names.iter().copied().zip(&self.each).filter(|(_, plan)| !plan.rates.is_empty()).collect();
        let calm: Vec<&str> = played.iter().filter(|(_, plan)| !plan.by_chance()).map(|(name, _)| *name).collect();
        if !calm.is_empty() && calm.len() == played.len() {
            notes.push(
                "Nothing goes wrong in the document: it gives no failures, no short stops, no supply and no spread of work times. \
                 Every plan makes its exact rate."
                    .to_owned(),
            );
        } else if !calm.is_empty() {
            notes.push(format!("Nothing goes wrong in: {}.", calm.join(", ")));
        }
        let stopped = self.each.iter().any(|plan| !plan.complete());
        if stopped {
            notes.push("The simulation ended before every plan had its replications: allow more time.".to_owned());
        }
        ComparedRun { run: self.run.clone(), notes, stopped }
    }
}
