//! One or two numbers of the document over ranges.

use super::Doing;
use super::edit::changed;
use super::short::{Told, told_beside};
use crate::check::Document;
use crate::codes::Code;
use crate::finding::Finding;
use crate::wire::alternatives::{
    Axis, Change, Crossover, Ended, FORMAT, FrontPoint, Short, SweepDocument, SweepPoint, SweepTarget,
};
use crate::wire::plan::PlannedMode;
use loopwright_solver::study::Shown;

/// Crossovers that are searched for between two points.
const MOST_CROSSOVERS: usize = 50;

/// Plans at every point of one or two ranges that [`check_axes`] has passed.
///
/// # Errors
/// The planner contradicts itself.
pub fn sweep(
    document: &Document,
    axes: &[Axis],
    crossover_accuracy: f64,
    doing: &Doing<'_>,
) -> Result<SweepDocument, Finding> {
    let points = grid(axes);
    let along = axes.first().map_or(1, |axis| axis.points as usize).max(1);
    let mut told: Vec<Option<(Told, Option<Shown>)>> = points.iter().map(|_| None).collect();
    let mut done = 0;
    // A point between two that are planned learns from both, whatever the number of cores: sweeps repeat.
    for level in levels(along) {
        let rows = (0..points.len()).step_by(along);
        let now: Vec<Between> = rows.flat_map(|row| level.iter().map(move |b| b.moved(row))).collect();
        let planned = doing.each_of(&now, (done, points.len()), |b, limit| {
            let others: Vec<&Shown> = [b.low, b.high].into_iter().flatten().filter_map(|i| shown(&told, i)).collect();
            at(document, axes, &points[b.at], &others, limit, doing)
        });
        done += now.len();
        for (b, planned) in now.iter().zip(planned) {
            told[b.at] = Some(planned?);
        }
    }
    let mut all = Vec::new();
    for (values, told) in points.iter().zip(&told) {
        let Some(plan) = told.as_ref().map(|(told, _)| told.short.clone()) else { continue };
        all.extend(values.first().map(|&value| SweepPoint { value, second: values.get(1).copied(), plan }));
    }
    let shown: Vec<Option<&Shown>> = (0..points.len()).map(|i| shown(&told, i)).collect();
    let crossovers = crossovers((document, axes), (&all, &shown), crossover_accuracy, doing)?;
    let front = front(&all);
    Ok(SweepDocument {
        format: FORMAT,
        name: document.wire.name.clone(),
        axes: axes.to_vec(),
        points: all,
        crossovers,
        front,
    })
}

fn shown(told: &[Option<(Told, Option<Shown>)>], at: usize) -> Option<&Shown> {
    told.get(at)?.as_ref()?.1.as_ref()
}

/// A point, and the two planned before on both sides of it.
struct Between {
    at: usize,
    low: Option<usize>,
    high: Option<usize>,
}

impl Between {
    fn moved(&self, by: usize) -> Self {
        Self { at: self.at + by, low: self.low.map(|i| i + by), high: self.high.map(|i| i + by) }
    }
}

/// Points along an axis in the order in which they are planned: first, last, then the middle of what lies between, level by
/// level.
fn levels(points: usize) -> Vec<Vec<Between>> {
    let last = points.saturating_sub(1);
    let mut all = vec![vec![Between { at: 0, low: None, high: None }]];
    if last > 0 {
        all.push(vec![Between { at: last, low: Some(0), high: None }]);
    }
    let mut open = vec![(0, last)];
    loop {
        open.retain(|(low, high)| high - low > 1);
        if open.is_empty() {
            return all;
        }
        let middle = |&(low, high): &(usize, usize)| usize::midpoint(low, high);
        let between = |span: &(usize, usize)| Between { at: middle(span), low: Some(span.0), high: Some(span.1) };
        all.push(open.iter().map(between).collect());
        open = open.iter().flat_map(|span| [(span.0, middle(span)), (middle(span), span.1)]).collect();
    }
}

/// Values of an axis, evenly spread.
fn values(axis: &Axis) -> Vec<f64> {
    let last = f64::from(axis.points.saturating_sub(1).max(1));
    (0..axis.points).map(|i| axis.from + (axis.to - axis.from) * f64::from(i) / last).collect()
}

fn grid(axes: &[Axis]) -> Vec<Vec<f64>> {
    let Some(first) = axes.first() else { return Vec::new() };
    let firsts = values(first);
    match axes.get(1) {
        None => firsts.into_iter().map(|v| vec![v]).collect(),
        Some(second) => values(second).into_iter().flat_map(|w| firsts.iter().map(move |&v| vec![v, w])).collect(),
    }
}

/// The document's changes at a point.
pub(super) fn changes(axes: &[Axis], values: &[f64]) -> Vec<Change> {
    let of = |(axis, &value): (&Axis, &f64)| match axis.of {
        SweepTarget::Times => Change { at: axis.at.clone(), times: Some(value), ..Change::default() },
        SweepTarget::Value => {
            // Counts are whole: a range over them is written with whole numbers.
            #[allow(clippy::cast_possible_truncation)]
            let to = if value.fract() == 0.0 && value.abs() < 1e15 { (value as i64).into() } else { value.into() };
            Change { at: axis.at.clone(), to: Some(to), ..Change::default() }
        }
    };
    axes.iter().zip(values).map(of).collect()
}

fn at(
    document: &Document,
    axes: &[Axis],
    values: &[f64],
    others: &[&Shown],
    limit: std::time::Duration,
    doing: &Doing<'_>,
) -> Result<(Told, Option<Shown>), Finding> {
    let changed = changed(document, &changes(axes, values));
    told_beside(changed.as_ref().map_err(Vec::as_slice), others, limit, doing)
}

/// A way of working as a word.
pub(super) fn word(mode: PlannedMode) -> &'static str {
    match mode {
        PlannedMode::Intermittent => "intermittent",
        PlannedMode::Continuous => "continuous",
    }
}

struct Crossing {
    station: usize,
    low: f64,
    high: f64,
    second: Option<f64>,
    proven: bool,
    modes: (PlannedMode, PlannedMode),
    /// The first of the two points.
    at: usize,
}

fn mode(plan: &Short, station: usize) -> Option<PlannedMode> {
    plan.stations.get(station).map(|s| s.mode)
}

/// Between neighbours along the first axis where a station works in two ways, halved until the change is found.
fn crossovers(
    (document, axes): (&Document, &[Axis]),
    (points, shown): (&[SweepPoint], &[Option<&Shown>]),
    accuracy: f64,
    doing: &Doing<'_>,
) -> Result<Vec<Crossover>, Finding> {
    let Some(first) = axes.first().filter(|_| accuracy > 0.0) else { return Ok(Vec::new()) };
    let mut open = Vec::new();
    for (at, pair) in points.windows(2).enumerate() {
        let (a, b) = (&pair[0], &pair[1]);
        if a.second != b.second {
            continue;
        }
        for station in 0..a.plan.stations.len() {
            let (Some(below), Some(above)) = (mode(&a.plan, station), mode(&b.plan, station)) else { continue };
            if below != above {
                open.push(Crossing {
                    station,
                    low: a.value,
                    high: b.value,
                    second: a.second,
                    proven: a.plan.proven && b.plan.proven,
                    modes: (below, above),
                    at,
                });
            }
        }
    }
    open.truncate(MOST_CROSSOVERS);
    let close = accuracy * (first.to - first.from).abs();
    let found = doing.each(&open, |between, limit| {
        let others: Vec<&Shown> = shown.iter().skip(between.at).take(2).copied().flatten().collect();
        halve((document, axes), between, &others, close, limit, doing)
    });
    found
        .into_iter()
        .zip(&open)
        .map(|(found, between)| {
            let (low, high, proven) = found?;
            Ok(Crossover {
                station: points
                    .iter()
                    .find_map(|p| p.plan.stations.get(between.station))
                    .map(|s| s.id.clone())
                    .unwrap_or_default(),
                below: between.modes.0,
                above: between.modes.1,
                from: low,
                to: high,
                second: between.second,
                proven: proven && (high - low).abs() <= close * (1.0 + 1e-9),
            })
        })
        .collect()
}

fn halve(
    (document, axes): (&Document, &[Axis]),
    between: &Crossing,
    others: &[&Shown],
    close: f64,
    limit: std::time::Duration,
    doing: &Doing<'_>,
) -> Result<(f64, f64, bool), Finding> {
    let (mut low, mut high, mut proven) = (between.low, between.high, between.proven);
    let start = std::time::Instant::now();
    while (high - low).abs() > close {
        let left = limit.saturating_sub(start.elapsed());
        if left.is_zero() || doing.over() {
            break;
        }
        let middle = 0.5 * (low + high);
        let values: Vec<f64> = std::iter::once(middle).chain(between.second).collect();
        let short = at(document, axes, &values, others, left, doing)?.0.short;
        let Some(now) = mode(&short, between.station) else { return Ok((low, high, false)) };
        proven &= short.proven;
        if now == between.modes.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    Ok((low, high, proven))
}

/// Floors and prices so close count as equal.
const SAME: f64 = 1e-9;

/// The points that no other beats.
pub(super) fn front(points: &[SweepPoint]) -> Vec<FrontPoint> {
    let all: Vec<FrontPoint> = points
        .iter()
        .enumerate()
        .filter(|(_, p)| p.plan.status == Ended::Planned)
        .filter_map(|(i, p)| {
            let (area_m2, carriers, price) = (p.plan.footprint?.area_m2, p.plan.carriers?, p.plan.price?);
            Some(FrontPoint { point: u32::try_from(i).ok()?, area_m2, carriers, price })
        })
        .collect();
    let no_worse = |a: &FrontPoint, b: &FrontPoint| {
        a.area_m2 <= b.area_m2 + SAME && a.carriers <= b.carriers && a.price <= b.price + SAME
    };
    let beaten = |b: &FrontPoint| all.iter().any(|a| no_worse(a, b) && (!no_worse(b, a) || a.point < b.point));
    all.iter().filter(|b| !beaten(b)).copied().collect()
}

/// Whether a sweep can be done at all.
///
/// # Errors
/// Every finding: no axis or too many, a range that is no range, too many points, a place that leads nowhere.
pub fn check_axes(
    document: &Document,
    axes: &[Axis],
    crossover_accuracy: f64,
    most_points: u64,
) -> Result<(), Vec<Finding>> {
    let mut all = Vec::new();
    if axes.is_empty() || axes.len() > 2 {
        all.push(Finding::new(Code::OneOf, "/axes", format!("{} axes are given; give one or two", axes.len())));
    }
    if !(0.0..=1.0).contains(&crossover_accuracy) {
        let says = format!("it must be from 0 to 1, and is {crossover_accuracy}");
        all.push(Finding::new(Code::OutOfRange, "/crossover_accuracy", says));
    }
    for (i, axis) in axes.iter().enumerate() {
        let at = format!("/axes/{i}");
        if !(axis.from.is_finite() && axis.to.is_finite()) {
            all.push(Finding::new(Code::NotFinite, at.clone(), "`from` and `to` must be numbers"));
        }
        if axis.points == 0 {
            all.push(Finding::new(Code::OutOfRange, format!("{at}/points"), "there must be at least one point"));
        }
    }
    let points = axes.iter().fold(1u64, |n, axis| n.saturating_mul(u64::from(axis.points)));
    if points > most_points {
        let says = format!("there are {points} points in all; at most {most_points} go");
        all.push(Finding::new(Code::TooMany, "/axes", says));
    }
    if !all.is_empty() {
        return Err(all);
    }
    if let Some(first) = grid(axes).first() {
        changed(document, &changes(axes, first))?;
    }
    Ok(())
}
