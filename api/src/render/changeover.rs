//! Changes from SKU to SKU in print: matrix, one change as bars, order of the week.

use super::COLUMNS;
use super::table::{Align, Table, clip, heading, paragraph, width};
use crate::wire::adjust::{ChangesLie, CountsFrom, OrderShape};
use crate::wire::changeover::{ChangeInFull, ChangeoverDocument, Order, StepPhase, WeekDone};

/// Column of the headline's texts.
const LABEL: usize = 12;

/// SKUs of which the whole matrix is printed.
const MOST_IN_MATRIX: usize = 10;

/// Columns of a change's bars.
const BARS: usize = 48;

/// Lots of an order that are printed.
const MOST_LOTS: usize = 60;

/// Minutes with one decimal.
fn minutes(seconds: f64) -> String {
    format!("{:.1}", seconds / 60.0)
}

/// The changes on pages of 100 columns; `pair` is printed in full, and else the longest.
#[must_use]
pub fn changeover_text(document: &ChangeoverDocument, pair: Option<(&str, &str)>) -> String {
    let title = clip(&format!("{}: changes from SKU to SKU", document.name), COLUMNS);
    let mut out = format!("{title}\n{}\n\n", "=".repeat(width(&title)));
    out += &headline(document);
    out += &heading("Minutes from the SKU of the row to that of the column");
    out += &matrix(document);
    let asked = pair.and_then(|(from, to)| document.changes.iter().find(|c| c.from == from && c.to == to));
    if let Some(change) = asked.or_else(|| document.changes.first()) {
        let which = if asked.is_some() { "The change" } else { "The longest change:" };
        out += &heading(&format!("{which} from {} to {}", change.from, change.to));
        out += &bars(change);
    }
    if let Some(order) = &document.order {
        out += &heading("Order of least total change time");
        out += &order_text(order);
    }
    if let Some(week) = &document.week {
        out += &heading("The week");
        out += &week_text(week);
    }
    if !document.findings.is_empty() {
        out += &heading("Findings");
        for finding in &document.findings {
            out += &paragraph("-", 2, &format!("{}: {}. {}", finding.code, finding.message, finding.what_to_do));
        }
    }
    out += &heading("Cautions");
    for caution in &document.cautions {
        out += &paragraph("-", 2, caution);
    }
    out
}

fn headline(document: &ChangeoverDocument) -> String {
    let count = &document.count;
    let people =
        if document.operators == 1 { "one person".to_owned() } else { format!("{} people", document.operators) };
    let from = match document.counts_from {
        CountsFrom::LastCase => "from the last good case to the first good case of the next SKU",
        CountsFrom::LastIntake => "from the last case begun to the first good case of the next SKU",
    };
    let mut out = paragraph("Counted", LABEL, &format!("{from}; {people} at hand"));
    let text = format!("{} changes, {} of them without work by hand in the stop", count.all, count.automatic);
    out += &paragraph("Changes", LABEL, &format!("{text}; {} minutes in the mean", minutes(document.mean_s)));
    let limit = match document.limit_s {
        None => "none".to_owned(),
        Some(limit) if count.over_limit == 0 => format!("{} minutes: every change is within it", minutes(limit)),
        Some(limit) => format!("{} minutes: {} changes take longer", minutes(limit), count.over_limit),
    };
    out + &paragraph("Limit", LABEL, &limit)
}

/// Whole, or the longest changes alone where there are too many SKUs for a page.
fn matrix(document: &ChangeoverDocument) -> String {
    let n = document.skus.len();
    if n <= MOST_IN_MATRIX {
        let longest = document.skus.iter().map(|s| width(&s.id)).max().unwrap_or(0).min(24);
        let mut out = format!("{:>longest$} ", "");
        (1..=n).for_each(|j| out += &format!("{:>7}", format!("({j})")));
        out.push('\n');
        for (i, (sku, row)) in document.skus.iter().zip(&document.matrix_s).enumerate() {
            out += &format!("{:<longest$} ", clip(&sku.id, longest));
            for (j, &total) in row.iter().enumerate() {
                let over = document.limit_s.is_some_and(|limit| total > limit * (1.0 + 1e-9));
                let mark = if over { "!" } else { " " };
                out += &if i == j { format!("{:>7}", "- ") } else { format!("{:>6}{mark}", minutes(total)) };
            }
            out += &format!("  ({})\n", i + 1);
        }
        if document.count.over_limit > 0 {
            out += "! longer than the limit\n";
        }
        return out;
    }
    let mut table = Table::new(&[
        ("From", Align::Left),
        ("To", Align::Left),
        ("Minutes", Align::Right),
        ("Decided by", Align::Left),
    ]);
    for change in document.changes.iter().take(5) {
        table.row(vec![change.from.clone(), change.to.clone(), minutes(change.total_s), change.decided_by.clone()]);
    }
    format!("{n} SKUs: the longest alone; `--json` gives all.\n\n{}", table.print())
}

/// One change: its parts, and its steps and moves along the time of the stop.
fn bars(change: &ChangeInFull) -> String {
    let mut out = paragraph("", 0, &format!("{} minutes. {}.", minutes(change.total_s), sentence(&change.decided_by)));
    let parts = format!(
        "running empty {:.1} s, stop {} min (by hand {} min, moves {:.1} s), refilling {:.1} s",
        change.run_out_s,
        minutes(change.work_s),
        minutes(change.by_hand_s),
        change.moving_s,
        change.refill_s
    );
    out += &paragraph("", 0, &parts);
    let phases = [
        (StepPhase::Before, change.before_s, "while the SKU before runs"),
        (StepPhase::Stopped, change.work_s, "while the cell stands"),
        (StepPhase::Behind, change.behind_s, "while the next SKU runs"),
    ];
    for (phase, span, name) in phases {
        let mut rows: Vec<(String, f64, f64)> = (change.steps.iter().filter(|s| s.phase == phase))
            .map(|s| {
                let people: Vec<String> = s.people.iter().map(u32::to_string).collect();
                (format!("[{}] {}/{}/{}", people.join(","), s.at, s.adjustment, s.step), s.start_s, s.time_s)
            })
            .collect();
        if phase == StepPhase::Stopped {
            // Moves that wait for people come last.
            let start = (change.work_s - change.moving_s).min(change.by_hand_s).max(0.0);
            let start = if change.work_s > change.by_hand_s.max(change.moving_s) + 1e-9 { start } else { 0.0 };
            rows.extend(change.moves.iter().map(|m| (format!("    {}/{}", m.at, m.adjustment), start, m.time_s)));
        }
        if rows.is_empty() {
            continue;
        }
        out += &format!("\n{name}, {} min; [people]\n", minutes(span));
        for (label, start, time) in rows {
            let room = COLUMNS - BARS - 12;
            out += &format!("{:<room$} {} {}\n", clip(&label, room), bar(start, time, span), length(time));
        }
    }
    out
}

/// At least one mark long, within the time of the phase.
fn bar(start: f64, time: f64, span: f64) -> String {
    #[allow(clippy::cast_precision_loss, clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let at = |t: f64| if span > 0.0 { ((t / span * BARS as f64).round() as usize).min(BARS) } else { 0 };
    let from = at(start).min(BARS - 1);
    let to = at(start + time).max(from + 1);
    format!("|{}{}{}|", " ".repeat(from), "=".repeat(to - from), " ".repeat(BARS - to))
}

fn length(seconds: f64) -> String {
    if seconds < 60.0 { format!("{seconds:.1} s") } else { format!("{} min", minutes(seconds)) }
}

fn sentence(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().collect::<String>() + chars.as_str())
}

fn order_text(order: &Order) -> String {
    let shape = match order.shape {
        OrderShape::Cyclic => "repeats",
        OrderShape::Open => "does not repeat",
    };
    let proof = if order.proven {
        "no order takes less: proven".to_owned()
    } else {
        let bound = minutes(order.proven_bound_s);
        format!("no order takes less than {bound} minutes: proven; gap {:.2} %", order.gap * 100.0)
    };
    let listed = order.as_listed_s.map_or_else(String::new, |s| format!("; as listed {} minutes", minutes(s)));
    let mut out = paragraph(
        "",
        0,
        &format!("{} minutes of changes{listed}; the order {shape}; {proof}.", minutes(order.total_s)),
    );
    let mut table = Table::new(&[
        ("", Align::Right),
        ("SKU", Align::Left),
        ("Change min", Align::Right),
        ("Cases", Align::Right),
        ("Run min", Align::Right),
    ]);
    for (i, lot) in order.lots.iter().take(MOST_LOTS).enumerate() {
        let or_dash =
            |number: Option<f64>, decimals: usize| number.map_or("-".to_owned(), |x| format!("{x:.decimals$}"));
        table.row(vec![
            (i + 1).to_string(),
            lot.sku.clone(),
            minutes(lot.change_s),
            or_dash(lot.cases, 0),
            or_dash(lot.run_min, 0),
        ]);
    }
    out += "\n";
    out += &table.print();
    if order.lots.len() > MOST_LOTS {
        out += &format!("and {} more; `--json` gives all\n", order.lots.len() - MOST_LOTS);
    }
    out
}

fn week_text(week: &WeekDone) -> String {
    let mut out = paragraph("Planned", LABEL, &format!("{:.0} minutes without breaks", week.available_min));
    let changes = format!("{} taking {:.1} minutes", week.change_count, week.change_min);
    let lie = match week.changes {
        ChangesLie::Inside => format!(
            "{changes}, inside: availability {:.3}; the design rate allows for {:.3}",
            week.availability, week.allowed_availability
        ),
        ChangesLie::Outside => format!("{changes}, outside of it"),
    };
    out += &paragraph("Changes", LABEL, &lie);
    if let (Some(run), Some(left)) = (week.run_min, week.left_min) {
        let rest = if left >= 0.0 { format!("{left:.0} are left") } else { format!("{:.0} are missing", -left) };
        out += &paragraph("Running", LABEL, &format!("{run:.0} minutes; {rest}"));
    }
    out
}
