//! Ways to lay a circuit out: form, which station begins the front, how many stand there, which side each stands on.

use super::chain::Chain;
use super::shapes::Lay;
use super::space::{Lie, Space};
use crate::openings::{Hand, Openings, Spot};
use crate::plan::Straight;
use crate::rules::may_stand_upright;
use crate::track::{CellSide, Footprint, Plane, Side, footprint};
use crate::units::{LENGTH_TOLERANCE_M, Metres};

/// Sides of an upright loop are tried one by one for at most so many stations that could stand on either.
const MOST_FREE_SIDES: usize = 12;

/// One way to lay the circuit out; only the number of modules is open.
#[derive(Clone, Debug)]
pub(super) struct Fold {
    pub(super) form: usize,
    /// Station at the start of the first straight.
    pub(super) first: usize,
    /// Stations on that straight; the others stand on the opposite one.
    pub(super) count: usize,
    pub(super) straight: Straight,
    /// Side of each station, by station.
    pub(super) sides: Vec<Side>,
    /// How the section after each station lies, by station.
    pub(super) lies: Vec<Lie>,
    /// Deepest stations at the front and at the back.
    pub(super) deepest: (Metres, Metres),
}

/// All folds to try; and, where there are too many sides to try, folds that are at least as short as those left out.
pub(super) struct Folds {
    pub(super) all: Vec<Fold>,
    pub(super) left_out: Vec<Fold>,
}

impl Folds {
    pub(super) fn of(space: &Space<'_>) -> Self {
        let mut folds = Self { all: Vec::new(), left_out: Vec::new() };
        let fixed = space.cell.parts().circuit.fixed.form;
        for (form, f) in space.cell.parts().circuit.track.forms.iter().enumerate() {
            if fixed.is_some_and(|fixed| fixed != form) {
                continue;
            }
            match f.plane {
                Plane::Flat => folds.flat(space, form),
                Plane::Upright => folds.upright(space, form),
            }
        }
        folds
    }

    /// Only the folds that are laid out so.
    pub(super) fn only(mut self, lay: &Lay) -> Self {
        let same = |fold: &Fold| {
            fold.form == lay.form && fold.first == lay.first && fold.count == lay.count && fold.sides == lay.sides
        };
        self.all.retain(same);
        self.left_out.clear();
        self
    }

    fn flat(&mut self, space: &Space<'_>, form: usize) {
        let n = space.len();
        for first in 0..n {
            for count in 1..=n {
                let mut sides = vec![Side::Back; n];
                for j in 0..count {
                    sides[(first + j) % n] = Side::Front;
                }
                if allowed(space, &sides) {
                    self.push(space, form, first, count, Straight::Front, sides);
                }
            }
            // With one straight empty, front and back are mirror images: the back only where the front is not allowed.
            let (front, back) = (vec![Side::Front; n], vec![Side::Back; n]);
            let open = space.cell.parts().openings.hands(&spots(first, n, Straight::Front, &front));
            if !(allowed(space, &front) && open.contains(&true)) && allowed(space, &back) {
                self.push(space, form, first, n, Straight::Back, back);
            }
        }
    }

    fn upright(&mut self, space: &Space<'_>, form: usize) {
        let n = space.len();
        let stations = &space.cell.parts().stations;
        // Frames matter when one is longer than a zone that it may have.
        let wide = (0..n).any(|i| {
            let least = space.options[i].iter().map(|o| o.zone.m()).fold(f64::INFINITY, f64::min);
            stations[i].frame.is_some_and(|f| f.m() > least + LENGTH_TOLERANCE_M)
        });
        let asked: Vec<Option<Side>> = stations.iter().map(|s| s.side).collect();
        for first in 0..n {
            if !may_stand_upright(space.cell, (first + n - 1) % n) {
                continue;
            }
            for sides in opened(&space.cell.parts().openings, first, &asked) {
                self.upright_from(space, form, first, &sides, wide);
            }
        }
    }

    /// Upright, from this station, with the sides of some stations given.
    fn upright_from(&mut self, space: &Space<'_>, form: usize, first: usize, given: &[Option<Side>], wide: bool) {
        let n = given.len();
        let free: Vec<usize> = (0..n).filter(|&i| given[i].is_none()).collect();
        let with = |chosen: &dyn Fn(usize) -> Side| {
            let mut sides: Vec<Side> = given.iter().map(|side| side.unwrap_or(Side::Front)).collect();
            for (bit, &i) in free.iter().enumerate() {
                sides[i] = chosen(bit);
            }
            sides
        };
        let mut choices = Vec::new();
        let too_many = wide && free.len() > MOST_FREE_SIDES;
        if wide && !too_many {
            for mask in 0..1u32 << free.len() {
                choices.push(with(&|bit| if mask >> bit & 1 == 1 { Side::Back } else { Side::Front }));
            }
        } else {
            // The least depth has all free stations on one side.
            choices.push(with(&|_| Side::Front));
            choices.push(with(&|_| Side::Back));
        }
        for sides in &choices {
            self.push(space, form, first, n, Straight::Top, sides.clone());
        }
        if too_many {
            // No sides take less depth than one of these, and none less length than without frames.
            for sides in choices {
                let mut fold = fold(space, form, first, n, Straight::Top, sides);
                for lie in fold.lies.iter_mut().filter(|lie| **lie == Lie::Beside) {
                    *lie = Lie::Across;
                }
                self.left_out.push(fold);
            }
        }
    }

    /// Adds a fold, where it leaves infeed and discharge open as asked.
    fn push(
        &mut self,
        space: &Space<'_>,
        form: usize,
        first: usize,
        count: usize,
        straight: Straight,
        sides: Vec<Side>,
    ) {
        let fold = fold(space, form, first, count, straight, sides);
        if fold.hands(space).contains(&true) {
            self.all.push(fold);
        }
    }
}

fn fold(space: &Space<'_>, form: usize, first: usize, count: usize, straight: Straight, sides: Vec<Side>) -> Fold {
    let n = space.len();
    let mut lies = vec![Lie::Beside; n];
    for j in 0..n {
        let (i, next) = ((first + j) % n, (first + j + 1) % n);
        lies[i] = if j + 1 == n {
            if count < n { Lie::One } else { Lie::Both }
        } else if j + 1 == count {
            Lie::One
        } else if sides[i] == sides[next] {
            Lie::Beside
        } else {
            Lie::Across
        };
    }
    let depth = |side: Side| {
        let stations = space.cell.parts().stations.iter().zip(&sides);
        Metres::from_m(stations.filter(|(_, s)| **s == side).map(|(s, _)| s.reach(side).m()).fold(0.0, f64::max))
    };
    let deepest = (depth(Side::Front), depth(Side::Back));
    Fold { form, first, count, straight, sides, lies, deepest }
}

/// Where the stations of a fold stand, in their order along the floor.
fn spots(first: usize, count: usize, straight: Straight, sides: &[Side]) -> Vec<Spot> {
    let n = sides.len();
    let mut spots = vec![(Side::Front, 0.0); n];
    let mut along = 0.0;
    for j in 0..n {
        let i = (first + j) % n;
        along += 1.0;
        spots[i] = (sides[i], if j < count && straight != Straight::Back { along } else { -along });
    }
    spots
}

/// The sides that infeed and discharge leave to the stations of an upright loop that begins with `first`, and what was asked of
/// them: every way to have both, with the sides that are open in it.
fn opened(openings: &Openings, first: usize, asked: &[Option<Side>]) -> Vec<Vec<Option<Side>>> {
    let n = asked.len();
    let mut all: Vec<Vec<Option<Side>>> = Vec::new();
    for hand in Hand::BOTH.into_iter().filter(|&hand| openings.hand.is_none_or(|asked| asked == hand)) {
        let mut ways = vec![asked.to_vec()];
        for opening in openings.all() {
            let end = if hand == Hand::LeftToRight { CellSide::Left } else { CellSide::Right };
            let place = |station: usize| (station + n - first) % n;
            // Stations nearer to the end that is asked for stand on the other side.
            let nearer = |station: usize| {
                let (own, other) = (place(opening.station), place(station));
                opening.side.is_end() && if opening.side == end { other < own } else { other > own }
            };
            let stands = |side: Side| match opening.side {
                CellSide::Front => side == Side::Front,
                CellSide::Back => side == Side::Back,
                CellSide::Left | CellSide::Right => true,
            };
            let with = |way: &Vec<Option<Side>>, side: Side| {
                let mut way = way.clone();
                for (station, given) in way.iter_mut().enumerate() {
                    let wanted = match station {
                        _ if station == opening.station => side,
                        _ if nearer(station) => side.other(),
                        _ => continue,
                    };
                    if given.is_some_and(|given| given != wanted) {
                        return None;
                    }
                    *given = Some(wanted);
                }
                Some(way)
            };
            let both = [Side::Front, Side::Back];
            ways = ways
                .iter()
                .flat_map(|way| both.into_iter().filter(|&side| stands(side)).filter_map(|side| with(way, side)))
                .collect();
        }
        ways.retain(|way| !all.contains(way));
        all.extend(ways);
    }
    all
}

fn allowed(space: &Space<'_>, sides: &[Side]) -> bool {
    space.cell.parts().stations.iter().zip(sides).all(|(s, side)| s.side.is_none_or(|asked| asked == *side))
}

/// What of a fold survives the length of its straights: `[position in run]` lists of options, and of pairs.
pub(super) struct Kept {
    pub(super) options: Vec<Vec<bool>>,
    pub(super) pairs: Vec<Vec<bool>>,
}

impl Fold {
    /// For each hand, whether infeed and discharge are open as asked.
    pub(super) fn hands(&self, space: &Space<'_>) -> [bool; 2] {
        space.cell.parts().openings.hands(&spots(self.first, self.count, self.straight, &self.sides))
    }

    /// Station at a position of the run.
    pub(super) fn station(&self, n: usize, position: usize) -> usize {
        (self.first + position) % n
    }

    /// Footprint with so many modules, what feeds the cell included.
    pub(super) fn footprint(&self, space: &Space<'_>, modules: u32) -> Footprint {
        let module = space.cell.parts().circuit.track.module;
        let (front, back) = self.deepest;
        let around = space.cell.surroundings();
        space.cell.with_feed(footprint(space.form(self.form), &around, module, modules, front, back))
    }

    pub(super) fn straight_length(&self, space: &Space<'_>, modules: u32) -> f64 {
        f64::from(modules) * space.cell.parts().circuit.track.module.m()
    }

    /// Least length of the section after station `i` for a pair, ends included.
    pub(super) fn need(&self, space: &Space<'_>, i: usize, pair: usize, straight: f64) -> f64 {
        let lie = self.lies[i];
        let least = lie.ends().least_length(space.form(self.form), Metres::from_m(straight)).m();
        space.lengths(self.form, i, lie).need[pair].max(if lie.ends().count() == 0 { 0.0 } else { least })
    }

    /// Least way from the start of a station's straight to the middle of its zone, and from there to the straight's end.
    pub(super) fn least_beside(&self, space: &Space<'_>, station: usize) -> (f64, f64) {
        let n = space.len();
        let at = (station + n - self.first) % n;
        let (from, to) = if at < self.count { (0, self.count) } else { (self.count, n) };
        let mut chain = self.lengths(space, 0.0);
        chain.node[at].iter_mut().for_each(|zone| *zone /= 2.0);
        (Self::part(&chain, from, at + 1).row().best, Self::part(&chain, at, to).row().best)
    }

    /// Zones and needs as weights, by position, on straights of a length.
    fn lengths(&self, space: &Space<'_>, straight: f64) -> Chain {
        let n = space.len();
        let node = (0..n).map(|j| space.options[self.station(n, j)].iter().map(|o| o.zone.m()).collect()).collect();
        let pair = (0..n)
            .map(|j| {
                let i = self.station(n, j);
                let lengths = space.lengths(self.form, i, self.lies[i]);
                let least = if self.lies[i].ends().count() == 0 {
                    0.0
                } else {
                    self.lies[i].ends().least_length(space.form(self.form), Metres::from_m(straight)).m()
                };
                // A section that may not be as long as it must be is not to be had.
                let pairs = lengths.need.iter().zip(&lengths.most);
                pairs
                    .map(|(&need, &most)| if need.max(least) > most + 1e-9 { f64::INFINITY } else { need.max(least) })
                    .collect()
            })
            .collect();
        Chain { node, pair }
    }

    /// The parts of a chain from position `from` to before `to`, as a chain in a row.
    fn part(chain: &Chain, from: usize, to: usize) -> Chain {
        Chain { node: chain.node[from..to].to_vec(), pair: chain.pair[from..to].to_vec() }
    }

    /// The fewest modules that could hold the fold, by the least lengths of each straight and of the whole loop; none
    /// when no number does.
    pub(super) fn least_modules(&self, space: &Space<'_>) -> Option<u32> {
        let n = space.len();
        let track = &space.cell.parts().circuit.track;
        let module = track.module.m();
        let mut straight = 0.0f64;
        let chain = self.lengths(space, 0.0);
        let mut parts = vec![(0, self.count)];
        if self.count < n {
            parts.push((self.count, n));
        }
        for (from, to) in parts {
            straight = straight.max(Self::part(&chain, from, to).row().best);
        }
        let ends = 2.0 * space.form(self.form).end_length().m();
        straight = straight.max((space.least_round(self.form, &self.lies, &|| chain.ring_best()) - ends) / 2.0);
        if !straight.is_finite() {
            return None;
        }
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let modules = (straight / module - 1e-9).ceil().max(1.0) as u32;
        (modules <= track.max_modules).then_some(modules)
    }

    /// Options and pairs that fit with so many modules; none when nothing does.
    pub(super) fn prune(&self, space: &Space<'_>, modules: u32) -> Option<Kept> {
        let n = space.len();
        let straight = self.straight_length(space, modules);
        let mut chain = self.lengths(space, straight);
        let tolerance = 1e-7;
        let mut parts = vec![(0, self.count)];
        if self.count < n {
            parts.push((self.count, n));
        }
        for (from, to) in parts {
            let through = Self::part(&chain, from, to).row();
            if through.best > straight + tolerance {
                return None;
            }
            for j in from..to {
                cut(&mut chain.node[j], &through.node[j - from], straight + tolerance);
                if j + 1 < to {
                    cut(&mut chain.pair[j], &through.pair[j - from], straight + tolerance);
                }
            }
        }
        let whole = 2.0 * straight + 2.0 * space.form(self.form).end_length().m() + tolerance;
        let through = chain.ring();
        if through.best > whole {
            return None;
        }
        let kept = |rows: &[Vec<f64>]| rows.iter().map(|r| r.iter().map(|&x| x <= whole).collect()).collect();
        Some(Kept { options: kept(&through.node), pairs: kept(&through.pair) })
    }
}

/// What is only to be had at more than `most` is not to be had.
fn cut(weights: &mut [f64], through: &[f64], most: f64) {
    for (w, &t) in weights.iter_mut().zip(through) {
        if t > most {
            *w = f64::INFINITY;
        }
    }
}
