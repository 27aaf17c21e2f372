//! Every choice of options on a fold that so many carriers could serve, by plain enumeration: where few are left, that is
//! quicker than solving the program again after each cut.
//!
//! The same necessary conditions as the program's: lengths of the straights and of the loop, and the way round of each SKU.

use super::chain::Chain;
use super::program::{Builder, Cut};
use super::search::{PRUNING_SKUS, Search};
use super::site::{Doubt, Site};

/// More choices are not listed.
const MOST_LISTED: usize = 4_000;

/// Steps before the list is given up.
const MOST_STEPS: usize = 400_000;

/// Options by station, and the fewest carriers that could do.
pub(super) type Listed = (Vec<usize>, u32);

/// Price of the stations, and options by station.
pub(super) type Priced = (f64, Vec<usize>);

/// A sum round the loop that must not pass a limit.
struct Sum {
    chain: Chain,
    limit: f64,
    /// Least rest behind each option of each position, back to the first option.
    rest: Vec<Vec<f64>>,
}

struct Walk<'a, 'b, 'c> {
    builder: &'a Builder<'b, 'c>,
    most: u32,
    sums: Vec<Sum>,
    /// Least length behind each option of each position on its straight.
    straight_rest: Vec<Vec<f64>>,
    steps: usize,
    found: Vec<Listed>,
}

/// All choices that at most so many carriers could serve, fewest carriers first; none when there are too many to list.
/// `skus` bound the ways round on the way; all are looked at in the end. Stations cost at most `below`, where that is given.
pub(super) fn every_choice(
    builder: &Builder<'_, '_>,
    most: u32,
    skus: &[usize],
    below: Option<f64>,
) -> Option<Vec<Listed>> {
    let lengths = builder.lengths_chain();
    let straight_rest = straight_rest(builder, &lengths);
    let mut sums = vec![Sum { limit: builder.whole() + builder.hair(), rest: Vec::new(), chain: lengths }];
    for &k in skus {
        let (chain, given) = builder.way_round(k);
        let limit = f64::from(most) * (1.0 + 1e-9) / builder.phi(k) - given;
        sums.push(Sum { chain, limit, rest: Vec::new() });
    }
    let limit = below.into_iter().chain(builder.money_left()).reduce(f64::min);
    if let Some(limit) = limit {
        sums.push(Sum { chain: builder.prices_chain(), limit, rest: Vec::new() });
    }
    let mut walk = Walk { builder, most, sums, straight_rest, steps: MOST_STEPS, found: Vec::new() };
    for first in 0..walk.sums[0].chain.node[0].len() {
        walk.sums.iter_mut().for_each(|sum| sum.rest = sum.chain.rest_to(first));
        let at: Vec<f64> = walk.sums.iter().map(|sum| sum.chain.node[0][first]).collect();
        let straight = at[0];
        if walk.possible(0, first, &at, straight) && !walk.on(&mut vec![first], &at, straight) {
            return None;
        }
    }
    walk.found.sort_by(|a, b| a.1.cmp(&b.1).then_with(|| a.0.cmp(&b.0)));
    Some(walk.found)
}

/// Least length behind each option on its straight.
fn straight_rest(builder: &Builder<'_, '_>, lengths: &Chain) -> Vec<Vec<f64>> {
    let n = lengths.node.len();
    let mut rest: Vec<Vec<f64>> = lengths.node.iter().map(|row| vec![0.0; row.len()]).collect();
    for j in (0..n - 1).rev() {
        if builder.ends_straight(j) {
            continue;
        }
        let width = lengths.node[j + 1].len();
        for o in 0..lengths.node[j].len() {
            let ways = (0..width).map(|q| lengths.pair[j][o * width + q] + lengths.node[j + 1][q] + rest[j + 1][q]);
            rest[j][o] = ways.fold(f64::INFINITY, f64::min);
        }
    }
    rest
}

impl Walk<'_, '_, '_> {
    fn possible(&self, j: usize, o: usize, at: &[f64], straight: f64) -> bool {
        straight + self.straight_rest[j][o] <= self.builder.straight_room()
            && self.sums.iter().zip(at).all(|(sum, at)| at + sum.rest[j][o] <= sum.limit + 1e-9 * sum.limit.abs())
    }

    /// On from a chosen row of options; false when there is too much to list.
    fn on(&mut self, chosen: &mut Vec<usize>, at: &[f64], straight: f64) -> bool {
        let j = chosen.len() - 1;
        let n = self.straight_rest.len();
        if j + 1 == n {
            return self.list(chosen);
        }
        let (o, width) = (chosen[j], self.straight_rest[j + 1].len());
        for q in 0..width {
            if self.steps == 0 {
                return false;
            }
            self.steps -= 1;
            let next: Vec<f64> = (self.sums.iter().zip(at))
                .map(|(sum, at)| at + sum.chain.pair[j][o * width + q] + sum.chain.node[j + 1][q])
                .collect();
            let added = next[0] - at[0];
            let straight =
                if self.builder.ends_straight(j) { self.sums[0].chain.node[j + 1][q] } else { straight + added };
            if next.iter().all(|x| x.is_finite()) && self.possible(j + 1, q, &next, straight) {
                chosen.push(q);
                let whole = self.on(chosen, &next, straight);
                chosen.pop();
                if !whole {
                    return false;
                }
            }
        }
        true
    }

    fn list(&mut self, chosen: &[usize]) -> bool {
        let choice = self.builder.by_station(chosen);
        if let Some(carriers) =
            self.builder.carriers_for(&choice).filter(|&c| c <= self.most.min(self.builder.affordable(&choice)))
        {
            if self.found.len() == MOST_LISTED {
                return false;
            }
            self.found.push((choice, carriers));
        }
        true
    }
}

impl Search<'_, '_> {
    /// Every choice that is left at a place which the program did not decide soon; none when there are too many.
    pub(super) fn listed(&self, site: &Site) -> Option<Vec<Listed>> {
        let most = self.most_carriers(site);
        let fold = &self.folds[site.place.fold];
        let Some(kept) = self.kept_for(site, fold, most) else { return Some(Vec::new()) };
        let builder = Builder::new(self.space, fold, site.place.modules, &kept, false);
        let listed = every_choice(&builder, most, &self.active[..self.active.len().min(PRUNING_SKUS)], None);
        tracing::debug!(area = site.place.area, most, choices = listed.as_ref().map(Vec::len), "listed");
        listed
    }

    /// Every choice at a place that so many carriers could serve and whose stations cost at most `below`, cheapest first; none
    /// when there are too many.
    pub(super) fn listed_by_price(&self, builder: &Builder<'_, '_>, carriers: u32, below: f64) -> Option<Vec<Priced>> {
        let skus = &self.active[..self.active.len().min(PRUNING_SKUS)];
        let listed = every_choice(builder, carriers, skus, Some(below))?;
        let priced = listed.into_iter().map(|(choice, _)| (self.space.price_of(&choice), choice));
        let mut all: Vec<Priced> = priced.filter(|(price, _)| *price <= below).collect();
        all.sort_by(|a, b| a.0.total_cmp(&b.0).then_with(|| a.1.cmp(&b.1)));
        tracing::debug!(carriers, below, choices = all.len(), "listed by price");
        Some(all)
    }

    /// Puts all choices to the exact check, fewest carriers first. False when something is left undecided.
    pub(super) fn through(&mut self, site: &mut Site, all: Vec<Listed>) -> bool {
        for (choice, asked) in all {
            let most = self.most_carriers(site);
            if asked > most {
                break;
            }
            let known = site.cuts.iter().filter(|cut| cut.choice == choice);
            let known = known.map(|cut| cut.carriers.unwrap_or(u32::MAX)).max().unwrap_or(0);
            let least = asked.max(known).max(self.fewest_allowed());
            if least > most {
                continue;
            }
            if self.clock.over() {
                self.undecided.push((site.place.area, asked));
                return false;
            }
            let tried = self.try_choice(site, &choice, least, most, site.effort);
            if let Some((carriers, open)) = tried.unsure {
                site.doubts.push(Doubt { choice: choice.clone(), carriers, open });
            }
            site.cuts.push(Cut { choice, carriers: tried.needs, in_doubt: tried.unsure.is_some() });
            self.effort.cuts += 1;
        }
        site.excluded = self.most_of_interest(site);
        site.doubts.is_empty()
    }
}
