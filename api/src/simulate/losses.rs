//! What the cell waited for: the loss divided over its causes.
//!
//! Each cause is taken away alone and the same replications are played again with the same luck; what the cell then makes more
//! is what that cause costs by itself. Causes overlap (a station may stand while it would have waited anyway) and help each
//! other, so that these gains do not add up to the loss; the loss is divided in proportion to them, and adds up.

use crate::wire::simulation::{LossCause, SimulatedGain, SimulatedLoss};
use loopwright_solver::chance::Law;
use loopwright_solver::sim::{Asked, Estimate, Listener, Replicated, Scenario, replicate};

/// Replications that are played again without each cause.
const MOST_AGAIN: usize = 40;

/// Cases a minute that are lost, by cause: `posts` are the ids of the stations, `factor` cases a minute for each carrier a second; empty where nothing is left to chance or time ran out.
pub(super) fn losses(
    posts: &[&str],
    factor: f64,
    scenario: &Scenario,
    found: &Replicated,
    (asked, lost): (&Asked, f64),
    listener: &dyn Listener,
) -> Vec<SimulatedLoss> {
    let count = found.rates.len().min(MOST_AGAIN);
    let again = Asked {
        warm_up: Some(found.warm_up),
        least: u32::try_from(count).unwrap_or(u32::MAX),
        most: u32::try_from(count).unwrap_or(u32::MAX),
        ..*asked
    };
    let mut all = Vec::new();
    for (i, station) in posts.iter().enumerate() {
        for cause in LossCause::ALL {
            let mut without = scenario.clone();
            let behaviour = &mut without.posts[i].behaviour;
            let there = match cause {
                LossCause::Failures => behaviour.failures.take().is_some(),
                LossCause::ShortStops => behaviour.short_stops.take().is_some(),
                LossCause::Supply => behaviour.supply.take().is_some(),
                LossCause::WorkTimes => std::mem::replace(&mut behaviour.work, Law::Constant) != Law::Constant,
            };
            if !there {
                continue;
            }
            let Some(better) = replicate(&without, &again, listener).filter(|r| r.rates.len() == count) else {
                return Vec::new();
            };
            let gains: Vec<f64> = better.rates.iter().zip(&found.rates).map(|(a, b)| (a - b) * factor).collect();
            let gain = Estimate::of(&gains);
            let gain = SimulatedGain { mean: gain.mean, half_width: gain.half_width };
            all.push(SimulatedLoss { station: (*station).to_owned(), cause, gain_per_min: gain, lost_per_min: 0.0 });
        }
    }
    let sum: f64 = all.iter().map(|loss| loss.gain_per_min.mean.max(0.0)).sum();
    let even = 1.0 / all.len().max(1) as f64;
    for loss in &mut all {
        // Where no cause alone costs anything, none is to blame more than another.
        let share = if sum > 0.0 { loss.gain_per_min.mean.max(0.0) / sum } else { even };
        loss.lost_per_min = lost.max(0.0) * share;
    }
    all
}
