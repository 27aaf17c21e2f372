//! The mixed-integer program of a state: all circuits on loops of given lengths, with their hand-offs at the same places along
//! the floor. It holds necessary conditions only, so that its optimum is a bound for every plan of the state.

use super::Stand;
use super::bound::frame_on_floor;
use super::placing::{Body, OVERLAP_M, in_each_others_way};
use super::search::Search;
use super::states::{Chosen, State};
use crate::milp::{Answer, Program};
use crate::study::{self, Clock, Found, Part, Terms};
use crate::track::Side;

/// What lengths along the floor that must be equal may differ by, m.
const HAIR: f64 = 1e-7;

/// Way of working and heads of every station, by circuit.
pub(super) type Choice = Vec<Vec<Chosen>>;

/// What is minimised.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Goal {
    /// Length along the floor, at most so much, m.
    Length(f64),
    /// Carriers on all circuits, at most so many; and the length at most so much.
    Carriers(u32, f64),
    /// Price of stations and carriers, at most so much, with so many carriers; and the length at most so much.
    Price(f64, u32, f64),
}

/// What the program says.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Said {
    /// A choice, with the carriers that it is thought to need by circuit, and the objective.
    Choice(Choice, Vec<u32>, f64),
    Infeasible,
    Unknown,
}

/// A state's program.
pub(super) struct Joined {
    program: Program,
    parts: Vec<Part>,
    /// Left and right end of the whole.
    ends: (usize, usize),
    carrier_prices: Vec<f64>,
}

impl Joined {
    /// None when some circuit cannot be laid out so at all. `whole_slots`: slots are counted whole, which says more and takes longer.
    pub(super) fn of(search: &Search<'_>, state: &State, whole_slots: bool, clock: &Clock<'_>) -> Option<Self> {
        let work: Vec<Option<Chosen>> = state.work.iter().flatten().copied().map(Some).collect();
        let mut program = Program::default();
        let mut parts = Vec::with_capacity(state.loops.len());
        for (c, &outline) in state.loops.iter().enumerate() {
            let cell = search.restricted(c, outline.1, &work)?;
            let lay = &search.shapes[c][outline.0].lay;
            parts.push(study::part(&cell, lay, (outline.1, whole_slots), clock, &mut program)?);
        }
        let span = 2.0 * (0..state.loops.len()).map(|c| 2.0 + search.straight(c, state.loops[c])).sum::<f64>();
        let ends = (program.column(-span, span, false, 0.0), program.column(-span, span, false, 0.0));
        let money = |cell: &crate::cell::Cell| cell.parts().circuit.carrier.price.units();
        let carrier_prices = search.coupled.cells().iter().map(money).collect();
        let mut joined = Self { program, parts, ends, carrier_prices };
        joined.place(search, state, span);
        Some(joined)
    }

    /// Where everything lies along the floor.
    fn place(&mut self, search: &Search<'_>, state: &State, span: f64) {
        let coupled = search.coupled;
        let shape = |c: usize| &search.shapes[c][state.loops[c].0];
        let bodies: Vec<Body> = (0..self.parts.len()).map(|c| search.bodies[c][shape(c).lay.form]).collect();
        let offsets: Vec<usize> = (0..self.parts.len())
            .map(|c| {
                let far = if c == 0 { 0.0 } else { span };
                self.program.column(-far, far, false, 0.0)
            })
            .collect();
        let (left, right) = self.ends;
        for (c, &offset) in offsets.iter().enumerate() {
            let reach = bodies[c].reach;
            self.program.row(vec![(offset, 1.0), (left, -1.0)], reach - HAIR, f64::INFINITY);
            let end = search.straight(c, state.loops[c]) + reach;
            self.program.row(vec![(right, 1.0), (offset, -1.0)], end - HAIR, f64::INFINITY);
        }
        // A place along the floor: a constant and terms.
        let centre = |parts: &[Part], s: Stand| -> (f64, Terms) {
            let along = &parts[s.circuit].centres[s.station];
            let back =
                shape(s.circuit).lay.sides[s.station] == Side::Back && !search.upright(s.circuit, shape(s.circuit));
            let sign = if back { -1.0 } else { 1.0 };
            let mut terms: Terms = along.iter().map(|&(column, weight)| (column, sign * weight)).collect();
            terms.push((offsets[s.circuit], 1.0));
            (if back { search.straight(s.circuit, state.loops[s.circuit]) } else { 0.0 }, terms)
        };
        let between = |parts: &[Part], one: Stand, two: Stand| {
            let ((a, minus), (b, mut terms)) = (centre(parts, one), centre(parts, two));
            terms.extend(minus.into_iter().map(|(column, weight)| (column, -weight)));
            (b - a, terms)
        };
        for joint in &coupled.parts().joints {
            let (apart, terms) = between(&self.parts, joint.first, joint.second);
            self.program.row(terms, -apart - HAIR, -apart + HAIR);
        }
        for (circuit, cell) in coupled.cells().iter().enumerate() {
            for station in 0..cell.len() {
                let stand = Stand { circuit, station };
                let Some(half) = frame_on_floor(coupled, stand).map(|frame| frame / 2.0) else { continue };
                // Zones lie on straights, so that only frames can jut out.
                let (at, terms) = centre(&self.parts, stand);
                let mut from_left = terms.clone();
                from_left.push((left, -1.0));
                self.program.row(from_left, half - at - HAIR, f64::INFINITY);
                let mut to_right: Terms = terms.into_iter().map(|(column, weight)| (column, -weight)).collect();
                to_right.push((right, 1.0));
                self.program.row(to_right, half + at - HAIR, f64::INFINITY);
            }
        }
        let deepest: Vec<(f64, f64)> =
            (0..self.parts.len()).map(|c| (shape(c).deepest.0.m(), shape(c).deepest.1.m())).collect();
        let stands = |s: Stand| shape(s.circuit).lay.sides[s.station];
        for (one, two) in in_each_others_way(coupled, &bodies, &deepest, stands) {
            let (apart, terms) = between(&self.parts, one, two);
            // Half of what both take: a constant where a frame is given, else half of the zone.
            let (mut needed, mut halves) = (-OVERLAP_M - HAIR, Terms::new());
            for s in [one, two] {
                match coupled.cells()[s.circuit].parts().stations[s.station].frame {
                    Some(frame) => needed += frame.m() / 2.0,
                    None => halves.extend(self.parts[s.circuit].zones[s.station].iter().map(|&(c, w)| (c, w / 2.0))),
                }
            }
            let first = self.program.column(0.0, 1.0, true, 0.0);
            let most = 2.0 * span + needed.abs();
            let with = |sign: f64| {
                let halves = halves.iter().map(|&(column, weight)| (column, sign * weight));
                terms.iter().copied().chain(halves).chain([(first, -most)]).collect::<Terms>()
            };
            self.program.row(with(-1.0), needed - most - apart, f64::INFINITY);
            self.program.row(with(1.0), f64::NEG_INFINITY, -needed - apart);
        }
    }

    /// Solves it.
    pub(super) fn solve(&self, goal: Goal, clock: &Clock<'_>) -> Said {
        let mut program = self.program.clone();
        let (left, right) = self.ends;
        let carriers = || self.parts.iter().map(|part| (part.carriers, 1.0)).collect::<Terms>();
        let length = match goal {
            Goal::Length(most) | Goal::Carriers(_, most) | Goal::Price(_, _, most) => most,
        };
        if length.is_finite() {
            program.row(vec![(right, 1.0), (left, -1.0)], f64::NEG_INFINITY, length);
        }
        match goal {
            Goal::Length(_) => {
                program.columns[left].cost = -1.0;
                program.columns[right].cost = 1.0;
            }
            Goal::Carriers(most, _) => {
                self.parts.iter().for_each(|part| program.columns[part.carriers].cost = 1.0);
                program.row(carriers(), 0.0, f64::from(most));
            }
            Goal::Price(below, count, _) => {
                program.row(carriers(), 0.0, f64::from(count));
                let scale = below.abs().max(1.0);
                let mut terms = Terms::new();
                for (part, price) in self.parts.iter().zip(&self.carrier_prices) {
                    terms.push((part.carriers, price / scale));
                    terms.extend(part.options.iter().flatten().map(|pick| (pick.column, pick.price / scale)));
                }
                terms.iter().for_each(|&(column, weight)| program.columns[column].cost = weight);
                program.row(terms, f64::NEG_INFINITY, below / scale);
            }
        }
        match program.solve(clock.left()) {
            Answer::Optimal { value, values } => self.read(&values, value),
            Answer::Infeasible => Said::Infeasible,
            Answer::Unknown => Said::Unknown,
        }
    }

    fn read(&self, values: &[f64], value: f64) -> Said {
        let of = |part: &Part| -> Option<Vec<Chosen>> {
            let station = part
                .options
                .iter()
                .map(|picks| picks.iter().find(|pick| values[pick.column] > 0.5).map(|pick| (pick.mode, pick.heads)));
            station.collect()
        };
        let choice: Option<Choice> = self.parts.iter().map(of).collect();
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let carriers = self.parts.iter().map(|part| values[part.carriers].round() as u32).collect();
        choice.map_or(Said::Unknown, |choice| Said::Choice(choice, carriers, value))
    }

    /// The columns of a circuit's choice; none where some of it is no longer there to be chosen.
    fn columns(&self, c: usize, chosen: &[Chosen]) -> Option<Vec<usize>> {
        let stations = self.parts[c].options.iter().zip(chosen);
        let pick = stations.map(|(picks, &(mode, heads))| {
            picks.iter().find(|pick| pick.mode == mode && pick.heads == heads).map(|pick| pick.column)
        });
        pick.collect()
    }

    /// Price of the stations of a choice, and of the fewest carriers that its plans can do with.
    pub(super) fn price_of(&self, choice: &Choice, found: &[Found]) -> f64 {
        let chosen = self.parts.iter().zip(choice).flat_map(|(part, chosen)| part.options.iter().zip(chosen));
        let price = chosen.filter_map(|(picks, &(mode, heads))| {
            picks.iter().find(|pick| pick.mode == mode && pick.heads == heads).map(|pick| pick.price)
        });
        let carriers = self.carrier_prices.iter().zip(found).map(|(price, f)| price * f64::from(f.carriers.bound));
        price.sum::<f64>() + carriers.sum::<f64>()
    }

    /// A circuit needs at least so many carriers with a choice; none when no number does.
    pub(super) fn needs(&mut self, c: usize, chosen: &[Chosen], carriers: Option<u32>) {
        let Some(columns) = self.columns(c, chosen) else { return };
        #[allow(clippy::cast_precision_loss)]
        let all = columns.len() as f64;
        let Some(least) = carriers else {
            self.program.row(columns.into_iter().map(|c| (c, 1.0)).collect(), f64::NEG_INFINITY, all - 1.0);
            return;
        };
        let big = f64::from(least) - 1.0;
        let mut terms: Terms = columns.into_iter().map(|c| (c, -big)).collect();
        terms.push((self.parts[c].carriers, 1.0));
        self.program.row(terms, f64::from(least) - big * all, f64::INFINITY);
    }

    /// Leaves a choice of all circuits out.
    pub(super) fn leave_out(&mut self, choice: &Choice) {
        let all: Option<Vec<Vec<usize>>> =
            choice.iter().enumerate().map(|(c, chosen)| self.columns(c, chosen)).collect();
        let Some(columns) = all.map(|all| all.concat()) else { return };
        #[allow(clippy::cast_precision_loss)]
        let all = columns.len() as f64;
        self.program.row(columns.into_iter().map(|c| (c, 1.0)).collect(), f64::NEG_INFINITY, all - 1.0);
    }
}
