//! From the timed run to places along the loop.

use crate::check::Document;
use crate::codes::Code;
use crate::finding::Finding;
use crate::print::usual_stretch_s;
use crate::wire::plan::PlanDocument;
use crate::wire::trace::{BadDay, TraceCarrier, TraceDocument, TracePoint, TraceState, TraceZone};
use loopwright_solver::operation::scenario;
use loopwright_solver::option::Flow;
use loopwright_solver::plan::{Numbers, Plan};
use loopwright_solver::rules::MOST_STARTS;
use loopwright_solver::sim::{Log, Moved, Watch, log, stretch};
use loopwright_solver::units::Micros;

/// Longest stretch, in seconds.
const LONGEST_S: f64 = 3600.0;

/// Places of every carrier over a stretch of the paced run of one SKU, for a plan document in JSON.
///
/// # Errors
/// Every finding: what a plan cannot do without, a SKU that is not there, a stretch out of range, or a loop that stands still.
pub fn trace_document(
    document: &Document,
    plan: &[u8],
    sku: Option<&str>,
    duration_s: Option<f64>,
) -> Result<TraceDocument, Vec<Finding>> {
    trace_day(document, plan, sku, duration_s, None)
}

/// The same; of a bad day where one is given.
///
/// # Errors
/// As [`trace_document`], and a day out of range.
pub fn trace_day(
    document: &Document,
    plan: &[u8],
    sku: Option<&str>,
    duration_s: Option<f64>,
    bad_day: Option<BadDay>,
) -> Result<TraceDocument, Vec<Finding>> {
    let document = &document.settled(plan);
    let plan = crate::judge::plan_of(document, plan)?;
    let cell = &document.cell;
    let parts = cell.parts();
    let one = |code: Code, pointer: &str, says: String| vec![Finding::new(code, pointer, says)];
    let misfit = || one(Code::CannotDraw, "", "the plan names what the cell does not have".to_owned());
    let numbers = plan.numbers(cell).map_err(|_| misfit())?;
    let k = match sku {
        None => 0,
        Some(id) => parts
            .skus
            .iter()
            .position(|s| s.id == id)
            .ok_or_else(|| one(Code::UnknownId, "/sku", format!("there is no SKU {}", crate::read::quoted(id))))?,
    };
    traced(document, &plan, &numbers, k, duration_s, bad_day)
}

/// The same for a plan that was read.
pub(crate) fn trace_of(
    document: &Document,
    plan: &Plan,
    numbers: &Numbers,
    k: usize,
    duration_s: Option<f64>,
) -> Result<TraceDocument, Vec<Finding>> {
    traced(document, plan, numbers, k, duration_s, None)
}

fn traced(
    document: &Document,
    plan: &Plan,
    numbers: &Numbers,
    k: usize,
    duration_s: Option<f64>,
    bad_day: Option<BadDay>,
) -> Result<TraceDocument, Vec<Finding>> {
    let cell = &document.cell;
    let parts = cell.parts();
    let one = |code: Code, pointer: &str, says: String| vec![Finding::new(code, pointer, says)];
    let pace = numbers.pace(cell, k);
    let phi = cell.rides()[k].phi();
    let rate = if phi > 0.0 {
        phi
    } else {
        loopwright_solver::rules::exact(&numbers.ring(k, plan.carriers)).0.rate().as_per_second()
    };
    let twice = if rate > 0.0 { (2.0 * f64::from(plan.carriers) / rate).min(LONGEST_S) } else { 1.0 };
    let length = duration_s.unwrap_or(twice);
    if !(length > 0.0 && length <= LONGEST_S) {
        let says = format!("it must be above 0 and at most {LONGEST_S} s, and is {length}");
        return Err(one(Code::OutOfRange, "/duration_s", says));
    }
    let found = match bad_day {
        None => {
            let watch = Watch { pace, windows: Vec::new(), most_starts: MOST_STARTS };
            log(&numbers.ring(k, plan.carriers), &watch, Micros::nearest_s(length))
        }
        Some(day) => {
            if !(0.0..=1e6).contains(&day.from_s) || day.replication > 100_000 {
                let says = "`from_s` must be from 0 to 1000000, and `replication` at most 100000".to_owned();
                return Err(one(Code::OutOfRange, "/bad_day", says));
            }
            let scenario = scenario(cell, numbers, k, plan.carriers, day.paced);
            let from = Micros::nearest_s(day.from_s);
            scenario.map(|s| stretch(&s, (u64::from(day.seed), day.replication), from, Micros::nearest_s(length)))
        }
    };
    let pace = pace.filter(|_| bad_day.is_none_or(|day| day.paced));
    let Some(found) = found else {
        return Err(one(Code::CannotDraw, "", "the plan's carriers cannot move at all".to_owned()));
    };
    let places = Places { plan, numbers, sku: k, pitch: cell.rides()[k].pitch.m() };
    Ok(TraceDocument {
        format: 1,
        name: parts.name.clone(),
        circuit: parts.circuit.id.clone(),
        sku: parts.skus[k].id.clone(),
        duration_s: Micros::from_us(found.end.us() - found.start.us()).seconds(),
        pace_s: pace.map(|p| p.seconds()),
        recurs: found.recurs,
        bad_day,
        loop_length_m: numbers.loop_length.m(),
        pitch_m: places.pitch,
        zones: (0..cell.len())
            .map(|i| TraceZone {
                station: parts.stations[i].id.clone(),
                start_m: plan.stations[i].start.m(),
                length_m: numbers.options[i].zone.m(),
            })
            .collect(),
        carriers: places.carriers(&found),
    })
}

/// The trace that the time-distance diagram is drawn from: as long as it stays legible, where no length is given.
///
/// # Errors
/// As [`trace_document`].
pub fn usual_trace(
    document: &Document,
    plan: &PlanDocument,
    sku: Option<&str>,
    duration_s: Option<f64>,
) -> Result<TraceDocument, Vec<Finding>> {
    // Plain records always can be written.
    let text = serde_json::to_vec(plan).unwrap_or_default();
    trace_document(document, &text, sku, duration_s.or_else(|| usual_stretch_s(plan, sku)))
}

struct Places<'a> {
    plan: &'a Plan,
    numbers: &'a Numbers,
    sku: usize,
    pitch: f64,
}

/// What a carrier does from a moment on, with its place on the loop.
#[derive(Clone, Copy)]
struct Key {
    time: i64,
    /// Along the loop, not yet counted from lap to lap.
    at: f64,
    state: TraceState,
}

/// What is known of a section while the log is read: batches taken out of it since the start, and who is in it.
#[derive(Default)]
struct Queue {
    /// When a batch was taken, its size, how long it moves in.
    takes: Vec<(i64, u32, i64)>,
    entered: u32,
}

impl Places<'_> {
    fn stations(&self) -> usize {
        self.plan.stations.len()
    }

    fn start(&self, i: usize) -> f64 {
        self.plan.stations[i].start.m()
    }

    /// Behind so many carriers in the queue before station `i`.
    fn queued(&self, i: usize, ahead: u32) -> f64 {
        self.start(i) - (f64::from(ahead) + 0.5) * self.pitch
    }

    /// Where the carrier stands or ends in the zone, with so many of its batch in front.
    fn worked(&self, i: usize, ahead: u32) -> f64 {
        let option = &self.numbers.options[i];
        let zone = option.zone.m();
        let of = &option.skus[self.sku];
        let from_front = (f64::from(ahead) + 0.5) * self.pitch;
        match of.flow {
            Flow::Stop => self.start(i) + 0.5 * (zone + f64::from(of.batch) * self.pitch) - from_front,
            Flow::Train(_) | Flow::Through => self.start(i) + zone - from_front,
        }
    }

    /// Micros of a station's times: move-in, and until the work is done.
    fn times(&self, i: usize) -> (i64, i64) {
        let of = &self.numbers.options[i].skus[self.sku];
        let done = if of.flow == Flow::Stop { of.cycle } else { of.residence };
        (Micros::nearest(of.move_in).us(), Micros::nearest(done).us())
    }

    fn stops(&self, i: usize) -> bool {
        self.numbers.options[i].skus[self.sku].flow == Flow::Stop
    }

    /// Being taken in at station `i` at `time`.
    fn taken(&self, keys: &mut Vec<Key>, i: usize, (time, over): (i64, Option<Micros>), ahead: u32) {
        let (move_in, done) = self.times(i);
        let at = self.queued(i, ahead);
        if self.stops(i) {
            keys.push(Key { time, at, state: TraceState::MovingIn });
            keys.push(Key { time: time + move_in, at: self.worked(i, ahead), state: TraceState::Working });
        } else {
            keys.push(Key { time, at, state: TraceState::Working });
        }
        let (usual, at) = (time + done, self.worked(i, ahead));
        let over = over.map_or(usual, Micros::us);
        if over > usual {
            keys.push(Key { time: usual, at, state: TraceState::Standing });
        }
        keys.push(Key { time: over, at, state: TraceState::Blocked });
    }

    /// Batches that station `i` is still moving in when the log starts: when taken, and their size.
    fn just_taken(&self, log: &Log, i: usize) -> Vec<(i64, u32)> {
        let (move_in, done) = self.times(i);
        let inside = log.inside[i].iter().map(|batch| (batch.taken.us(), batch.carriers.len()));
        // Those that pass through stand in the section after it already.
        let mut through: Vec<(i64, usize)> = Vec::new();
        for queued in log.sections[i].iter().filter(|q| q.left.us() > log.start.us()) {
            let taken = queued.left.us() - done;
            match through.last_mut().filter(|last| last.0 == taken) {
                Some(last) => last.1 += 1,
                None => through.push((taken, 1)),
            }
        }
        let all = inside.chain(through).filter(|(taken, _)| taken + move_in > log.start.us());
        all.map(|(taken, size)| (taken, u32::try_from(size).unwrap_or(u32::MAX))).collect()
    }

    fn carriers(&self, log: &Log) -> Vec<TraceCarrier> {
        let n = self.stations();
        let mut keys: Vec<Vec<Key>> = vec![Vec::new(); self.plan.carriers as usize];
        let mut queues: Vec<Queue> = (0..n).map(|_| Queue::default()).collect();
        // When each batch was taken out of each section, so that those behind move up: also just before the start.
        for (before, queue) in queues.iter_mut().enumerate() {
            let i = (before + 1) % n;
            for (time, size) in self.just_taken(log, i) {
                queue.takes.push((time, size, self.times(i).0));
                queue.entered += size;
            }
        }
        for mv in log.moves.iter().filter(|m| m.moved == Moved::TakenIn) {
            let before = (mv.station + n - 1) % n;
            let size = u32::try_from(mv.carriers.len()).unwrap_or(u32::MAX);
            queues[before].takes.push((mv.time.us(), size, self.times(mv.station).0));
        }
        for (i, batches) in log.inside.iter().enumerate() {
            for batch in batches {
                for (ahead, &carrier) in (0u32..).zip(&batch.carriers) {
                    self.taken(&mut keys[carrier as usize], i, (batch.taken.us(), batch.done), ahead);
                }
            }
        }
        for (i, section) in log.sections.iter().enumerate() {
            for queued in section {
                let own = &mut keys[queued.carrier as usize];
                if queued.left.us() > log.start.us() {
                    // It passes through without waiting, and has its slot already.
                    self.taken(own, i, (queued.left.us() - self.times(i).1, None), queued.behind);
                    own.pop();
                }
                self.enter(own, i, (queued.left.us(), queued.ready.us()), queued.behind, &mut queues[i]);
            }
        }
        for mv in &log.moves {
            for (ahead, &carrier) in (0u32..).zip(&mv.carriers) {
                let own = &mut keys[carrier as usize];
                match mv.moved {
                    Moved::TakenIn => {
                        // What was thought of the queue after this moment has not come to pass.
                        own.retain(|key| key.time < mv.time.us());
                        self.taken(own, mv.station, (mv.time.us(), mv.done), ahead);
                    }
                    Moved::Left => {
                        own.retain(|key| key.time < mv.time.us());
                        let lag = Micros::nearest(self.numbers.lags[mv.station][self.sku]).us();
                        let times = (mv.time.us(), mv.time.us() + lag);
                        self.enter(own, mv.station, times, ahead, &mut queues[mv.station]);
                    }
                }
            }
        }
        let all = (0u32..).zip(keys).map(|(carrier, keys)| TraceCarrier { carrier, points: self.points(keys, log) });
        all.collect()
    }

    /// Leaving station `i` into the section after it: on the way, then up the queue as batches are taken out of it.
    fn enter(&self, keys: &mut Vec<Key>, i: usize, times: (i64, i64), ahead: u32, queue: &mut Queue) {
        let (left, ready) = times;
        let next = (i + 1) % self.stations();
        let ordinal = queue.entered;
        queue.entered += 1;
        keys.push(Key { time: left, at: self.worked(i, ahead), state: TraceState::Driving });
        let mut gone = 0;
        // Nobody closes up before those in front have moved up.
        let mut settled = ready;
        let mut arrived = false;
        for &(time, size, move_in) in &queue.takes {
            if gone + size > ordinal {
                break;
            }
            if time > ready && !arrived {
                let at = self.queued(next, ordinal - gone);
                keys.push(Key { time: settled.min(time), at, state: TraceState::Queueing });
                arrived = true;
            }
            if arrived {
                keys.push(Key { time, at: self.queued(next, ordinal - gone), state: TraceState::Queueing });
            }
            gone += size;
            settled = settled.max(time + move_in);
            if arrived {
                let at = self.queued(next, ordinal - gone);
                keys.push(Key { time: time + move_in, at, state: TraceState::Queueing });
            }
        }
        if !arrived {
            keys.push(Key { time: settled, at: self.queued(next, ordinal - gone), state: TraceState::Queueing });
        }
    }

    /// Points in order of time, places counted from lap to lap, from the last before the start to the first after the end.
    fn points(&self, mut keys: Vec<Key>, log: &Log) -> Vec<TracePoint> {
        let round = self.numbers.loop_length.m();
        keys.sort_by_key(|key| key.time);
        let mut points: Vec<TracePoint> = Vec::with_capacity(keys.len() + 1);
        let mut at: Option<f64> = None;
        for key in keys {
            let here = match at {
                None => key.at.rem_euclid(round),
                // A carrier never goes back: a hair behind is where it is.
                Some(before) => {
                    let on = (key.at - before).rem_euclid(round);
                    if on > round - self.pitch { before } else { before + on }
                }
            };
            at = Some(here);
            let t_s = Micros::from_us(key.time - log.start.us()).seconds();
            points.push(TracePoint { t_s, at_m: here, state: key.state });
        }
        let length = Micros::from_us(log.end.us() - log.start.us()).seconds();
        if let Some(last) = points.last().copied().filter(|p| p.t_s < length) {
            points.push(TracePoint { t_s: length, ..last });
        }
        let first = points.iter().rposition(|p| p.t_s <= 0.0).unwrap_or(0);
        let end = points.iter().position(|p| p.t_s >= length).unwrap_or(points.len().saturating_sub(1));
        points.get(first..=end).map(<[TracePoint]>::to_vec).unwrap_or_default()
    }
}

#[cfg(test)]
mod tests {
    use super::{trace_day, trace_document};
    use crate::wire::trace::{BadDay, TraceDocument, TraceState};
    use std::path::Path;

    /// Every example's paced runs, and stretches of bad days of it.
    fn each(look: impl Fn(&str, &TraceDocument)) {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples");
        let mut seen = 0;
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            let Some(stem) = name.strip_suffix(".plan.json") else { continue };
            let plan = std::fs::read(&path).unwrap();
            if !String::from_utf8_lossy(&plan).contains("\"planned\"") {
                continue;
            }
            let cell = [".yaml", ".json"]
                .iter()
                .find_map(|end| std::fs::read(path.with_file_name(format!("{stem}{end}"))).ok());
            let document = crate::read_any_cell(&cell.unwrap()).unwrap();
            if document.coupled.is_some() {
                continue;
            }
            for sku in document.wire.skus.iter().take(3) {
                let trace = trace_document(&document, &plan, Some(&sku.id), None).unwrap();
                look(&name, &trace);
                seen += 1;
                for replication in 0..3 {
                    let day = BadDay { replication, from_s: 900.0, ..BadDay::default() };
                    let trace = trace_day(&document, &plan, Some(&sku.id), Some(120.0), Some(day)).unwrap();
                    look(&name, &trace);
                }
            }
        }
        assert!(seen >= 10, "{seen}");
    }

    /// Nobody goes back, everybody is there all the time, goes round at the design rate's lap time, and carriers keep
    /// their order, never two in one place.
    #[test]
    fn carriers_keep_their_order() {
        each(|name, trace| {
            let n = trace.carriers.len();
            for of in &trace.carriers {
                let p = &of.points;
                assert!(
                    p.first().unwrap().t_s <= 0.0 && p.last().unwrap().t_s >= trace.duration_s,
                    "{name} {}",
                    of.carrier
                );
                assert!(
                    p.windows(2).all(|w| w[0].t_s <= w[1].t_s && w[0].at_m <= w[1].at_m + 1e-9),
                    "{name} {}",
                    of.carrier
                );
            }
            let at = |i: usize, t: f64| {
                let p = &trace.carriers[i].points;
                let k = p.iter().rposition(|x| x.t_s <= t).unwrap().min(p.len() - 2);
                let (a, b) = (p[k], p[k + 1]);
                if b.t_s <= a.t_s {
                    b.at_m
                } else {
                    a.at_m + (b.at_m - a.at_m) * ((t - a.t_s) / (b.t_s - a.t_s)).clamp(0.0, 1.0)
                }
            };
            // Places at rest or queueing: no two carriers in one place.
            for step in 0..40 {
                let t = trace.duration_s * f64::from(step) / 40.0;
                let mut all: Vec<f64> = (0..n).map(|i| at(i, t).rem_euclid(trace.loop_length_m)).collect();
                // Front to back as numbers run: one turn of the same order, whoever has passed the start of the loop.
                let falls = (0..n).filter(|&i| all[i] < all[(i + 1) % n]).count();
                assert!(falls <= 1, "{name} {} at {t}: {all:?}", trace.sku);
                all.sort_by(f64::total_cmp);
                for w in all.windows(2) {
                    assert!(w[1] - w[0] > 1e-6, "{name} {} at {t}: {all:?}", trace.sku);
                }
            }
            if trace.bad_day.is_some() {
                return;
            }
            // Laps: all carriers together make two rounds each in the default stretch, within a batch.
            let gone: f64 = (0..n).map(|i| at(i, trace.duration_s) - at(i, 0.0)).sum();
            let rounds = gone / trace.loop_length_m;
            #[allow(clippy::cast_precision_loss)]
            let expected = 2.0 * n as f64;
            assert!((rounds - expected).abs() <= 8.0, "{name} {}: {rounds} instead of {expected}", trace.sku);
        });
    }

    /// Work at a standing station is done inside its zone.
    #[test]
    fn work_is_done_in_zones() {
        each(|name, trace| {
            for point in trace.carriers.iter().flat_map(|c| &c.points).filter(|p| p.state == TraceState::Blocked) {
                let at = point.at_m.rem_euclid(trace.loop_length_m);
                let inside = |start: f64, length: f64| at >= start - 1e-6 && at <= start + length + 1e-6;
                assert!(trace.zones.iter().any(|z| inside(z.start_m, z.length_m)), "{name}: {at}");
            }
        });
    }

    /// A day on which something goes wrong is told: carriers stand in stations for longer than planned, and as often as the
    /// simulation of the same seed takes them in.
    #[test]
    fn a_bad_day_is_told() {
        let cell = include_bytes!("../../../examples/short-changes.yaml");
        let plan = include_bytes!("../../../examples/short-changes.plan.json");
        let document = crate::read_cell(cell).unwrap();
        let trace = |replication: u32, from_s: f64| {
            let day = BadDay { replication, from_s, ..BadDay::default() };
            trace_day(&document, plan, None, Some(3600.0), Some(day)).unwrap()
        };
        let one = trace(0, 600.0);
        let standing = |t: &TraceDocument| {
            t.carriers.iter().flat_map(|c| &c.points).filter(|p| p.state == TraceState::Standing).count()
        };
        assert!(standing(&one) > 0, "nothing stands in an hour");
        assert_eq!(one, trace(0, 600.0), "the same seed");
        assert_ne!(one.carriers, trace(1, 600.0).carriers);
        // The same stretch from a later start: what both show is the same.
        let later = trace(0, 1200.0);
        let begins = |t: &TraceDocument, carrier: usize, shift: f64| -> Vec<i64> {
            let work = t.carriers[carrier].points.iter().filter(|p| p.state == TraceState::Working);
            #[allow(clippy::cast_possible_truncation)]
            let at = work.map(|p| ((p.t_s + shift) * 1e6).round() as i64).collect();
            at
        };
        for carrier in 0..one.carriers.len() {
            let (a, b) = (begins(&one, carrier, 600.0), begins(&later, carrier, 1200.0));
            let both: Vec<i64> = a.into_iter().filter(|t| (1_300_000_000..4_000_000_000).contains(t)).collect();
            assert!(both.len() > 50 && both.iter().all(|t| b.contains(t)), "carrier {carrier}");
        }
    }
}
