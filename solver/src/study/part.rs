//! One circuit's part of a program over several: its options and lengths, and where its stations stand along their straights.

use super::Clock;
use super::fold::Folds;
use super::program::{Builder, Goal, HAIR};
use super::shapes::Lay;
use super::space::Space;
use crate::cell::Cell;
use crate::milp::Program;
use crate::option::Mode;

/// Ways round of so many SKUs are written down, those that most likely decide first.
const MOST_WAYS: usize = 6;

/// Weighted columns.
pub(crate) type Terms = Vec<(usize, f64)>;

/// An option of a station.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Pick {
    /// One where it is chosen.
    pub(crate) column: usize,
    pub(crate) mode: Mode,
    pub(crate) heads: u32,
    pub(crate) price: f64,
}

/// A circuit's columns, by station.
#[derive(Debug)]
pub(crate) struct Part {
    pub(crate) options: Vec<Vec<Pick>>,
    /// Where the middle of the zone lies, from the start of its straight.
    pub(crate) centres: Vec<Terms>,
    /// Length of the zone.
    pub(crate) zones: Vec<Terms>,
    pub(crate) carriers: usize,
}

/// Adds what every plan of a circuit that is laid out so must keep; `whole_slots` counts them whole for the longest pitch. None
/// where the straights are too short for any plan.
#[must_use]
pub(crate) fn part(
    cell: &Cell,
    lay: &Lay,
    (modules, whole_slots): (u32, bool),
    clock: &Clock<'_>,
    program: &mut Program,
) -> Option<Part> {
    let space = Space::new(cell, clock);
    if space.options.iter().any(Vec::is_empty) {
        return None;
    }
    let folds = Folds::of(&space).only(lay);
    let fold = folds.all.first()?;
    let kept = fold.prune(&space, modules)?;
    let builder = Builder::new(&space, fold, modules, &kept, whole_slots);
    let least = cell.rides().iter().map(|ride| ride.pitch.m()).fold(f64::INFINITY, f64::min);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let fit = (builder.whole() / least).ceil() as u32 + 1;
    let most = cell.parts().circuit.max_carriers.unwrap_or(fit).min(fit);
    let columns = builder.columns(program, Goal::Carriers { most });
    program.columns[columns.carriers].cost = 0.0;
    builder.network(program, &columns);
    builder.lengths(program, &columns);
    for k in ways(&space) {
        builder.round_trip(program, &columns, k);
    }
    builder.carriers_fit(program, &columns);
    let n = space.len();
    let straight = fold.straight_length(&space, modules);
    let mut centres = vec![Terms::new(); n];
    let mut zones = vec![Terms::new(); n];
    let mut options = vec![Vec::new(); n];
    for j in 0..n {
        let i = fold.station(n, j);
        zones[i] = builder.zone_terms(&columns, j, 1.0);
        let pick = |(column, o): (usize, usize)| {
            let option = &space.options[i][o];
            Pick { column, mode: option.mode, heads: option.heads, price: option.price.units() }
        };
        options[i] = builder.picks(&columns, j).map(pick).collect();
    }
    let mut groups = vec![(0, fold.count)];
    if fold.count < n {
        groups.push((fold.count, n));
    }
    // By group: what lies before the first zone, and all up to the end of the last one.
    let mut ends: Vec<(usize, Terms)> = Vec::new();
    for &(from, to) in &groups {
        let before = program.column(0.0, straight, false, 0.0);
        let mut at: Terms = vec![(before, 1.0)];
        for j in from..to {
            centres[fold.station(n, j)] = at.iter().copied().chain(builder.zone_terms(&columns, j, 0.5)).collect();
            at.extend(builder.zone_terms(&columns, j, 1.0));
            if j + 1 < to {
                at.extend(builder.section_terms(&columns, j));
            }
        }
        program.row(at.clone(), f64::NEG_INFINITY, straight + HAIR);
        ends.push((before, at));
    }
    if let [(_, end), (next, _)] = &ends[..] {
        // The other end follows from the length of the whole.
        let arc = space.form(lay.form).end_length().m();
        let mut terms = builder.section_terms(&columns, fold.count - 1);
        terms.extend(end.iter().copied());
        terms.push((*next, -1.0));
        program.row(terms, straight + arc - HAIR, straight + arc + HAIR);
    }
    Some(Part { options, centres, zones, carriers: columns.carriers })
}

/// The SKUs whose ways round are written down.
fn ways(space: &Space<'_>) -> Vec<usize> {
    let rides = space.cell.rides();
    let asks = |k: usize| rides[k].phi() * rides[k].pitch.m();
    let mut all = space.demanded.clone();
    all.sort_by(|&a, &b| asks(b).total_cmp(&asks(a)));
    let fastest = all.iter().copied().max_by(|&a, &b| rides[a].phi().total_cmp(&rides[b].phi()));
    all.truncate(MOST_WAYS);
    all.extend(fastest.filter(|k| !all.contains(k)));
    all
}
