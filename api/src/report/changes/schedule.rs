//! One change as bars along its time: the cell, the people, the steps by place, the automatic moves.

use maud::{Markup, html};

use crate::draw::text;
use crate::report::frame::{Axis, SMALL, bar, n, picture, words};
use crate::wire::adjust::CountsFrom;
use crate::wire::changeover::{ChangeInFull, ChangeoverDocument, PlannedStep, StepPhase};

const WIDE: f64 = 180.0;
const LEFT: f64 = 62.0;
const RIGHT: f64 = 34.0;
const ROW: f64 = 6.4;
const TOP: f64 = 24.0;
/// A bar's height.
const BAR: f64 = 4.4;
/// Thinnest bar.
const THIN: f64 = 0.4;

/// Looks: ground and pattern.
const STOPPED: (&str, &str) = ("lw-c1", "");
const RUNNING: (&str, &str) = ("lw-c4", "");
const EMPTYING: (&str, &str) = ("lw-c3", "");
const REFILLING: (&str, &str) = ("lw-c2", "dots");
const MOVING: (&str, &str) = ("lw-c2", "hatch");

/// When the phases of a change begin and end, in seconds from the beginning of the stop: steps before it end when the
/// cell begins to run empty, steps behind it begin with the first good case.
struct Phases {
    before: f64,
    empty: f64,
    work: f64,
    good: f64,
    behind: f64,
}

impl Phases {
    fn of(change: &ChangeInFull) -> Self {
        let (empty, good) = (-change.run_out_s, change.work_s + change.refill_s);
        Self { before: empty - change.before_s, empty, work: change.work_s, good, behind: good + change.behind_s }
    }

    fn start(&self, step: &PlannedStep) -> f64 {
        step.start_s
            + match step.phase {
                StepPhase::Before => self.before,
                StepPhase::Stopped => 0.0,
                StepPhase::Behind => self.good,
            }
    }
}

fn look(phase: StepPhase) -> (&'static str, &'static str) {
    if phase == StepPhase::Stopped { STOPPED } else { RUNNING }
}

/// "12.4 min" or "6.2 s".
#[must_use]
pub fn length(seconds: f64) -> String {
    if seconds < 60.0 { format!("{seconds:.1} s") } else { format!("{:.1} min", seconds / 60.0) }
}

/// From, to, its look, and the number of a step.
type Bar = (f64, f64, (&'static str, &'static str), Option<usize>);

/// A row of the picture.
struct Row<'a> {
    label: String,
    /// In the columns at the right: how long, by whom.
    says: (String, String),
    bars: Vec<Bar>,
    /// Place and kind, for whoever measures.
    of: (&'static str, &'a str),
}

fn rows<'a>(change: &'a ChangeInFull, phases: &Phases) -> Vec<Row<'a>> {
    let cell = vec![
        (phases.before, phases.empty, RUNNING, None),
        (phases.empty, 0.0, EMPTYING, None),
        (0.0, phases.work, STOPPED, None),
        (phases.work, phases.good, REFILLING, None),
        (phases.good, phases.behind, RUNNING, None),
    ];
    let says = (length(change.total_s), String::new());
    let mut all = vec![Row { label: "cell".to_owned(), says, bars: cell, of: ("cell", "") }];
    let mut people: Vec<u32> = change.steps.iter().flat_map(|s| s.people.iter().copied()).collect();
    people.sort_unstable();
    people.dedup();
    for person in people {
        let own = change.steps.iter().enumerate().filter(|(_, s)| s.people.contains(&person));
        let bars: Vec<_> =
            own.map(|(i, s)| (phases.start(s), phases.start(s) + s.time_s, look(s.phase), Some(i + 1))).collect();
        let busy: f64 = bars.iter().map(|b| b.1 - b.0).sum();
        all.push(Row {
            label: format!("person {person}"),
            says: (length(busy), String::new()),
            bars,
            of: ("person", ""),
        });
    }
    for (i, s) in change.steps.iter().enumerate() {
        let who: Vec<String> = s.people.iter().map(u32::to_string).collect();
        all.push(Row {
            label: format!("{} {}: {}, {}", i + 1, s.at, s.adjustment, s.step),
            says: (length(s.time_s), who.join(", ")),
            bars: vec![(phases.start(s), phases.start(s) + s.time_s, look(s.phase), None)],
            of: ("step", &s.at),
        });
    }
    // Moves that wait for people come last.
    let waits = change.work_s > change.by_hand_s.max(change.moving_s) + 1e-9;
    let begin = if waits { (change.work_s - change.moving_s).max(0.0) } else { 0.0 };
    for m in &change.moves {
        all.push(Row {
            label: format!("{}: {}", m.at, m.adjustment),
            says: (length(m.time_s), "auto".to_owned()),
            bars: vec![(begin, begin + m.time_s, MOVING, None)],
            of: ("move", &m.at),
        });
    }
    all
}

/// The picture, 180 mm wide, with so many rows at most.
#[must_use]
pub fn schedule_chart(document: &ChangeoverDocument, change: &ChangeInFull, most: usize, id: &str) -> Markup {
    let phases = Phases::of(change);
    let all = rows(change, &phases);
    let shown = all.len().min(most.max(1));
    let bottom = TOP + shown as f64 * ROW;
    let counted = match document.counts_from {
        CountsFrom::LastCase => 0.0,
        CountsFrom::LastIntake => phases.empty,
    };
    let limit = document.limit_s.map(|limit| counted + limit);
    let minutes = [phases.before, phases.behind, limit.unwrap_or(0.0)].into_iter().map(|s| s / 60.0);
    let x = Axis::holding(minutes, LEFT, WIDE - RIGHT);
    let at = |seconds: f64| x.at(seconds / 60.0);
    let kinds = [
        (RUNNING, "cell runs"),
        (EMPTYING, "running empty"),
        (STOPPED, "cell stands"),
        (MOVING, "moves"),
        (REFILLING, "refilling"),
    ];
    let inside = html! {
        @for ((kind, says), x) in kinds.into_iter().zip([4.0, 33.0, 69.0, 101.0, 126.0]) {
            (bar(id, kind, (x, 2.0), (5.0, 4.0)))
            (words(says, (x + 6.5, 5.4), "start"))
        }
        (words(&text::clipped(&format!("From {} to {}: {}", change.from, change.to, length(change.total_s)), SMALL, WIDE - 60.0), (4.0, 13.4), "start"))
        (words("takes", (WIDE - RIGHT + 19.0, TOP - 2.6), "end"))
        (words("people", (WIDE - 2.0, TOP - 2.6), "end"))
        @for (at, tick) in x.ticks() {
            line class="lw-chart-grid" x1=(n(at)) y1=(n(TOP)) x2=(n(at)) y2=(n(bottom)) {}
            (words(&tick, (at, bottom + 5.0), "middle"))
        }
        (words("minutes from the beginning of the stop", (LEFT, bottom + 10.0), "start"))
        @for (i, row) in all.iter().take(shown).enumerate() {
            @let y = TOP + i as f64 * ROW;
            @if i > 0 && all[i - 1].of.0 != row.of.0 { line class="lw-chart-grid" x1="2" y1=(n(y)) x2=(n(WIDE - 2.0)) y2=(n(y)) {} }
            (words(&text::clipped(&row.label, SMALL, LEFT - 6.0), (LEFT - 2.0, y + 4.5), "end"))
            g class="lw-chart-row" data-kind=(row.of.0) data-at=(row.of.1) {
                @for (from, to, look, number) in &row.bars {
                    @if to > from || row.of.0 == "move" {
                        g data-from-s=(from) data-to-s=(to) {
                            (bar(id, *look, (at(*from), y + 1.0), ((at(*to) - at(*from)).max(THIN), BAR)))
                        }
                        @if let Some(number) = number { (numbered(*number, *look, (at(*from), at(*to)), y)) }
                    }
                }
            }
            (words(&row.says.0, (WIDE - RIGHT + 19.0, y + 4.5), "end"))
            (words(&text::clipped(&row.says.1, SMALL, 13.0), (WIDE - 2.0, y + 4.5), "end"))
        }
        @if let Some(limit) = limit {
            line class="lw-chart-target" x1=(n(at(limit))) y1=(n(TOP - 3.0)) x2=(n(at(limit))) y2=(n(bottom + 1.0)) {}
            @let says = format!("limit {}", length(limit - counted));
            (words(&says, (at(limit).min(WIDE - RIGHT - 4.0), TOP - 4.0), "end"))
        }
        @if all.len() > shown {
            (words(&format!("and {} rows more, in the changeover document", all.len() - shown), (LEFT, bottom + 15.0), "start"))
        }
    };
    let about = "The cell, people, steps by hand and automatic moves of one change over time.";
    let name = format!("Change from {} to {}", change.from, change.to);
    picture(id, (WIDE, bottom + if all.len() > shown { 17.0 } else { 12.0 }), (&name, about), &inside)
}

/// The number of a step in a person's bar, where it finds room.
fn numbered(number: usize, look: (&str, &str), (from, to): (f64, f64), y: f64) -> Markup {
    let says = number.to_string();
    let class = if look == STOPPED { "lw-chart-on" } else { "lw-chart-text" };
    html! {
        @if text::width(&says, SMALL) + 1.0 <= to - from {
            text class=(class) x=(n(f64::midpoint(from, to))) y=(n(y + 4.5)) font-size=(SMALL) text-anchor="middle" { (says) }
        }
    }
}
