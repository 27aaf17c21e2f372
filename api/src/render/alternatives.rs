//! The printed pages of alternatives.

use super::COLUMNS;
use super::table::{Align, Table, heading, paragraph, width};
use super::text::grouped;
use crate::alternatives::worded;
use crate::show::up_to_mm;
use crate::wire::alternatives::{
    CompareDocument, ComparedOperation, Ended, ExplainDocument, Explained, FrontDocument, Helped, RatesOnFloor,
    Relaxed, Short, SweepDocument,
};
use crate::wire::plan::PlannedMode;
use crate::wire::simulation::Estimated;

/// What every page of alternatives ends with.
const CAUTION: &str = "An estimate for a proposal, not a release to build: risk assessment, guarding and the cautions of each plan apply to every alternative.";

fn title(name: &str, what: &str) -> String {
    let title = super::table::clip(&format!("{name}: {what}"), COLUMNS);
    format!("{title}\n{}\n\n", "=".repeat(width(&title)))
}

fn mode(mode: PlannedMode) -> &'static str {
    match mode {
        PlannedMode::Intermittent => "intermittent",
        PlannedMode::Continuous => "continuous",
    }
}

fn size(short: &Short) -> String {
    short.footprint.map_or_else(
        || ended(short.status).to_owned(),
        |f| format!("{:.3} x {:.3}", up_to_mm(f.length_m), up_to_mm(f.width_m)),
    )
}

fn ended(status: Ended) -> &'static str {
    match status {
        Ended::Planned => "planned",
        Ended::Impossible => "impossible",
        Ended::Stopped => "not found in time",
        Ended::Refused => "refused",
    }
}

fn or_dash<T>(value: Option<T>, text: impl Fn(T) -> String) -> String {
    value.map_or_else(|| "-".to_owned(), text)
}

/// Floor, loop, carriers and price of one plan.
fn numbers(short: &Short) -> Vec<String> {
    vec![
        size(short),
        or_dash(short.footprint, |f| format!("{:.2}{}", f.area_m2, if short.proven { "" } else { "~" })),
        or_dash(short.loop_length_m, |l| format!("{l:.2}")),
        or_dash(short.carriers, |n| n.to_string()),
        or_dash(short.price, grouped),
    ]
}

const NUMBERS: [(&str, Align); 5] = [
    ("floor, m", Align::Left),
    ("m²", Align::Right),
    ("loop, m", Align::Right),
    ("carriers", Align::Right),
    ("price", Align::Right),
];

const OPEN: &str = "~ not proven to be the best in floor, carriers and price together: the search ended before.";

fn open_note(plans: &[&Short]) -> String {
    let open = plans.iter().any(|p| p.status == Ended::Planned && !p.proven);
    if open { paragraph("", 0, OPEN) } else { String::new() }
}

/// Least efficiency with its interval, and its SKU.
fn efficiency(of: Option<&ComparedOperation>) -> [String; 2] {
    let Some((of, (_, least))) = of.and_then(|of| Some((of, of.least()?))) else {
        return ["-".to_owned(), String::new()];
    };
    let Estimated { mean, half_width } = least.efficiency;
    let cut = if of.complete { "" } else { "~" };
    [format!("{:.1} +- {:.1}{cut}", 100.0 * mean, 100.0 * half_width), least.id.clone()]
}

const CUT: &str = "~ after an efficiency: the simulation ended before every SKU had its replications.";

/// Variants side by side.
#[must_use]
pub fn compare_text(document: &CompareDocument) -> String {
    let mut out = title(&document.name, "variants side by side");
    let mut columns: Vec<_> =
        [("variant", Align::Left)].into_iter().chain(NUMBERS).chain([("in hand", Align::Right)]).collect();
    if document.simulated.is_some() {
        columns.extend([("efficiency %", Align::Right), ("of SKU", Align::Left)]);
    }
    let mut table = Table::new(&columns);
    for variant in &document.variants {
        let least = variant.plan.skus.iter().map(|s| s.margin).min_by(f64::total_cmp);
        let mut row = vec![variant.name.clone()];
        row.extend(numbers(&variant.plan));
        row.push(or_dash(least, |m| format!("{:.1} %", m * 100.0)));
        if document.simulated.is_some() {
            row.extend(efficiency(variant.simulated.as_ref()));
        }
        table.row(row);
    }
    out += &table.print();
    out += &open_note(&document.variants.iter().map(|v| &v.plan).collect::<Vec<_>>());
    if let Some(simulated) = &document.simulated {
        let cut = document.variants.iter().filter_map(|v| v.simulated.as_ref()).any(|of| !of.complete);
        if cut {
            out += &paragraph("", 0, CUT);
        }
        out += &heading("Efficiency when simulated");
        for note in &simulated.notes {
            out += &paragraph("-", 2, note);
        }
    }
    let marked: Vec<_> = document.variants.iter().filter(|v| !v.marks.is_empty()).collect();
    if !marked.is_empty() {
        out += &heading("What differs from the plan as asked");
        for variant in marked {
            out += &paragraph("-", 2, &format!("{}: {}", variant.name, variant.marks.join("; ")));
        }
    }
    out += &heading("What limits the rate (SKU with least in hand)");
    for variant in &document.variants {
        let least = variant.plan.skus.iter().min_by(|a, b| a.margin.total_cmp(&b.margin));
        if let Some(least) = least {
            out += &paragraph("-", 2, &format!("{}: SKU {}, {}", variant.name, least.id, least.limited_by));
        }
    }
    let without: Vec<_> = document.variants.iter().filter(|v| v.plan.status != Ended::Planned).collect();
    if !without.is_empty() {
        out += &heading("Without a plan");
        for variant in without {
            let why = if variant.plan.reasons.is_empty() {
                ended(variant.plan.status).to_owned()
            } else {
                variant.plan.reasons.join("; ")
            };
            out += &paragraph("-", 2, &format!("{}: {why}", variant.name));
        }
    }
    let beside: Vec<_> = document.differences.iter().filter(|d| d.than == 0).collect();
    if !beside.is_empty() {
        out += &heading("Why, beside the plan as asked");
        for difference in beside {
            out += &paragraph("-", 2, &difference.says);
        }
    }
    let own: Vec<_> = document.variants.iter().filter(|v| !v.changes.is_empty()).collect();
    if !own.is_empty() {
        out += &heading("Changes");
        for variant in own {
            let changes: Vec<String> = variant.changes.iter().map(worded).collect();
            out += &paragraph("-", 2, &format!("{}: {}", variant.name, changes.join("; ")));
        }
    }
    out + "\n" + &paragraph("", 0, CAUTION)
}

/// The plans that no other beats, on pages of 100 columns.
#[must_use]
pub fn front_text(document: &FrontDocument) -> String {
    let mut out = title(&document.name, "plans that no other beats");
    if document.plans.is_empty() {
        let says = if document.complete { "There is no plan." } else { "No plan was found in the time given." };
        out += &paragraph("", 0, says);
        for reason in &document.reasons {
            out += &paragraph("-", 2, reason);
        }
        return out;
    }
    let mut columns = NUMBERS.to_vec();
    columns.push(("continuous stations", Align::Left));
    let mut table = Table::new(&columns);
    for plan in &document.plans {
        let mut row = numbers(plan);
        let moving = plan.stations.iter().filter(|s| s.mode == PlannedMode::Continuous);
        row.push(moving.map(|s| s.id.as_str()).collect::<Vec<_>>().join(", "));
        table.row(row);
    }
    out += &table.print();
    let says = if document.complete {
        "No other plan has less floor, fewer carriers or a lower price than one of these without being worse in another: proven."
    } else {
        "Each of these is beaten by no other plan: proven. Others may be missing: the search ended before."
    };
    out += "\n";
    out += &paragraph("", 0, says);
    out + &paragraph("", 0, CAUTION)
}

/// Plans over a range.
#[must_use]
pub fn sweep_text(document: &SweepDocument) -> String {
    let swept: Vec<&str> = document.axes.iter().map(|a| a.at.as_str()).collect();
    let mut out = title(&document.name, &format!("sweep of {}", swept.join(" and ")));
    let mut columns = vec![("value", Align::Right)];
    if document.axes.len() > 1 {
        columns.push(("second", Align::Right));
    }
    columns.extend(NUMBERS);
    columns.push(("front", Align::Left));
    columns.push(("continuous stations", Align::Left));
    let mut table = Table::new(&columns);
    for (i, point) in document.points.iter().enumerate() {
        let mut row: Vec<String> =
            std::iter::once(point.value).chain(point.second).map(|v| format!("{v:.4}")).collect();
        row.extend(numbers(&point.plan));
        let front = document.front.iter().any(|f| usize::try_from(f.point) == Ok(i));
        row.push(if front { "*" } else { "" }.to_owned());
        let moving = point.plan.stations.iter().filter(|s| s.mode == PlannedMode::Continuous);
        row.push(moving.map(|s| s.id.as_str()).collect::<Vec<_>>().join(", "));
        table.row(row);
    }
    out += &table.print();
    out += &open_note(&document.points.iter().map(|p| &p.plan).collect::<Vec<_>>());
    out += &paragraph(
        "",
        0,
        "* no other point has less floor, fewer carriers or a lower price without being worse in another.",
    );
    if !document.crossovers.is_empty() {
        out += &heading("Where the best way of working changes");
        for c in &document.crossovers {
            let second = c.second.map_or_else(String::new, |v| format!(" (second number {v:.4})"));
            let open = if c.proven { "" } else { ", not proven" };
            let text = format!(
                "{}: {} up to {:.4}, {} from {:.4}{second}{open}",
                c.station,
                mode(c.below),
                c.from,
                mode(c.above),
                c.to
            );
            out += &paragraph("-", 2, &text);
        }
    }
    out + "\n" + &paragraph("", 0, CAUTION)
}

/// What would help.
#[must_use]
pub fn explain_text(document: &ExplainDocument) -> String {
    let mut out = match &document.explained {
        Explained::Helped(helped) => helped_text(document, helped),
        Explained::Conflict { relaxed, minimal } => conflict_text(&document.name, relaxed, *minimal),
        Explained::Unknown {} => {
            title(&document.name, "no plan found in the time given")
                + &paragraph("", 0, "Neither a plan nor the proof that there is none was found; allow more time.")
        }
    };
    if !document.complete {
        out += "\n";
        out += &paragraph("", 0, "Not everything was decided: the search ended before.");
    }
    out + "\n" + &paragraph("", 0, CAUTION)
}

fn rise(rates: &RatesOnFloor) -> String {
    match rates.too_much {
        Some(_) => format!("{:+.1} %", (rates.does - 1.0) * 100.0),
        None => format!(">{:+.1} %", (rates.does - 1.0) * 100.0),
    }
}

fn helped_text(document: &ExplainDocument, helped: &Helped) -> String {
    let mut out = title(&document.name, "what would help");
    let plan = &document.plan;
    let text = format!(
        "{} m = {} m², {} carriers",
        size(plan),
        or_dash(plan.footprint, |f| format!("{:.2}", f.area_m2)),
        or_dash(plan.carriers, |n| n.to_string())
    );
    out += &paragraph("Plan", 12, &text);
    let most = match helped.rates.too_much {
        Some(too_much) => format!(
            "all rates x {:.4} can be planned on the same floor, x {too_much:.4} is proven not to",
            helped.rates.does
        ),
        None => format!("at least all rates x {:.4} can be planned on the same floor", helped.rates.does),
    };
    out += &paragraph("Rates", 12, &most);
    let gains: Vec<_> = helped.levers.iter().filter(|l| gains(l, helped.rates.does)).collect();
    out += &heading("Each limit alone, relaxed and planned anew");
    if gains.is_empty() {
        out += &paragraph("", 0, "None of them saves floor, carriers or price, or raises the rate.");
    } else {
        let mut table = Table::new(&[
            ("floor saved, m²", Align::Right),
            ("carriers", Align::Right),
            ("price", Align::Right),
            ("rates on the same floor", Align::Right),
            ("what", Align::Left),
        ]);
        for lever in gains {
            table.row(vec![
                or_dash(lever.floor_saved_m2, |m| format!("{m:.2}")),
                or_dash(lever.carriers_saved, |n| n.to_string()),
                or_dash(lever.price_saved, |p| if p < 0.0 { format!("-{}", grouped(-p)) } else { grouped(p) }),
                or_dash(lever.rates.as_ref(), rise),
                lever.says.clone(),
            ]);
        }
        out += &table.print();
    }
    let idle: Vec<&str> =
        helped.levers.iter().filter(|l| !self::gains(l, helped.rates.does)).map(|l| l.says.as_str()).collect();
    if !idle.is_empty() {
        out += &heading("What gains nothing by itself");
        out += &paragraph("", 0, &idle.join("; "));
    }
    out
}

/// Whether a lever gains anything that is worth a line.
fn gains(lever: &crate::wire::alternatives::Lever, rates: f64) -> bool {
    lever.floor_saved_m2.is_some_and(|m| m.abs() >= 0.005)
        || lever.carriers_saved.is_some_and(|n| n != 0)
        || lever.price_saved.is_some_and(|p| p.abs() >= 0.5)
        || lever.rates.is_some_and(|r| r.does > rates + 1e-9)
}

fn conflict_text(name: &str, relaxed: &[Relaxed], minimal: bool) -> String {
    let mut out = title(name, "no plan is possible");
    if relaxed.is_empty() {
        return out + &paragraph("", 0, "Physics and geometry leave no plan, whatever requirement is given up.");
    }
    let necessary = if minimal {
        "These cannot hold together. Each is needed for that: without any one of them there is a plan for the others."
    } else {
        "These cannot hold together. Not each was shown to be necessary: the search ended before."
    };
    out += &paragraph("", 0, necessary);
    out += "\n";
    for row in relaxed {
        out += &paragraph("-", 2, &format!("{} ({}): {}", row.says, row.pointer, row.would_do));
    }
    out += "\n";
    out + &paragraph("", 0, "Each change is with all else as asked.")
}
