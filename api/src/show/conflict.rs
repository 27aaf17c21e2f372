//! Why there is no plan: requirements that cannot hold together, and what would be needed without them.

use serde_json::Value;

use super::up_to_mm;
use crate::check::{Document, DocumentIndex};
use crate::read::short;
use crate::wire::plan::{Conflict, ConflictRequirement, Impossible, SearchEffort};
use loopwright_solver::cell::Cell;
use loopwright_solver::explain::{Requirement, Shortfall, conflict, keeping_only, requirements, shortfalls};
use loopwright_solver::openings::Hand;
use loopwright_solver::rules::section_name;
use loopwright_solver::study::{Clock, Outcome, study};
use loopwright_solver::track::Side;
use loopwright_solver::units::Metres;

/// The proof of an impossible cell with its reasons.
pub(super) fn impossible(document: &Document, effort: SearchEffort, clock: &Clock<'_>) -> Impossible {
    let found = conflict(&document.cell, clock);
    let mut reasons: Vec<String> = shortfalls(&document.cell).iter().map(|s| shortfall(&document.cell, s)).collect();
    if reasons.is_empty() {
        reasons.extend(found.requirements.iter().filter_map(|r| without(document, *r, clock)));
    }
    if reasons.is_empty() && found.requirements.is_empty() {
        reasons.push("physics and geometry leave no plan, whatever requirement is given up".to_owned());
    }
    let requirements = found.requirements.iter().map(|r| told(document, *r)).collect();
    Impossible { conflict: Conflict { requirements, minimal: found.minimal }, reasons, effort }
}

pub(super) fn shortfall(cell: &Cell, s: &Shortfall) -> String {
    let parts = cell.parts();
    format!(
        "station {}: the best option, {} with {} {}, does {:.2} carriers of SKU {} a minute; {:.2} are needed, {:.1} % more",
        parts.stations[s.station].id,
        s.mode.word(),
        s.heads,
        if s.heads == 1 { "head" } else { "heads" },
        s.best.as_per_minute(),
        parts.skus[s.sku].id,
        s.needed.as_per_minute(),
        (s.needed.as_per_second() / s.best.as_per_second() - 1.0) * 100.0,
    )
}

/// What a plan needs when one limit of the whole is given up.
fn without(document: &Document, requirement: Requirement, clock: &Clock<'_>) -> Option<String> {
    let cell = &document.cell;
    let limit = match requirement {
        Requirement::Floor => "without the limit of the floor",
        Requirement::KeepOut(_) => "without this place kept out of",
        Requirement::MaxCarriers => "without the limit on carriers",
        Requirement::MaxModules => "without the limit on modules",
        Requirement::ChangeLimit => "without keeping the limit of changes",
        Requirement::MaxPrice => "without the limit on the price",
        _ => return None,
    };
    let kept: Vec<Requirement> = requirements(cell).into_iter().filter(|r| *r != requirement).collect();
    let relaxed = keeping_only(cell, &kept)?;
    let Outcome::Planned(found) = study(&relaxed, clock) else { return None };
    let numbers = found.plan.numbers(&relaxed).ok()?;
    let (length, width) = (numbers.footprint.length.m(), numbers.footprint.width.m());
    let area = length * width;
    let (length, width) = (up_to_mm(length), up_to_mm(width));
    let least = if found.area.proven { "the plan of least floor" } else { "the best plan found" };
    let price = match requirement {
        Requirement::MaxPrice => format!(", and costs {}", short(round(numbers.price.units()))),
        _ => String::new(),
    };
    Some(format!(
        "{limit} {least} takes {length:.3} x {width:.3} m ({area:.2} m²), {} modules in a straight and {} carriers{price}",
        found.plan.modules, found.plan.carriers,
    ))
}

/// A requirement with its pointer, its value and words.
pub(crate) fn told(document: &Document, requirement: Requirement) -> ConflictRequirement {
    told_of(document, (&document.cell, &document.source), requirement)
}

/// The same of one circuit of several.
pub(super) fn told_of(
    document: &Document,
    (cell, source): (&Cell, &DocumentIndex),
    requirement: Requirement,
) -> ConflictRequirement {
    let (pointer, value, says) = describe(document, cell, source, requirement);
    // As the author wrote it, where it is written.
    let value = document.value_at(&pointer).unwrap_or(value);
    ConflictRequirement { pointer, value, says }
}

/// Pointer, value in the document's unit, and words.
fn describe(
    document: &Document,
    cell: &Cell,
    source: &DocumentIndex,
    requirement: Requirement,
) -> (String, Value, String) {
    let parts = cell.parts();
    let mm = |length: Metres| short(round(length.mm()));
    let at = |object: Option<String>, key: &str| format!("{}/{key}", object.unwrap_or_default());
    let section = |i: usize| section_name(cell, i);
    let of_section = |i: usize, key: &str| at(source.segment(i), key);
    let window = |w: usize| {
        let of = &parts.windows[w];
        format!("{} to {}", parts.stations[of.from].id, parts.stations[of.to].id)
    };
    match requirement {
        Requirement::Rate(k) => {
            let (wire, sku) = (&document.wire.skus[k].net_rate, &parts.skus[k]);
            let (value, what) = match (wire.cases_per_min, wire.products_per_min) {
                (Some(cases), _) => (cases, "cases"),
                (None, products) => (products.unwrap_or_default(), "products"),
            };
            let says = format!(
                "SKU {}: {} {what} a minute net, which is a design rate of {:.2} carriers a minute",
                sku.id,
                short(value),
                cell.rides()[k].rate.as_per_minute()
            );
            (source.rate(k).unwrap_or_default(), value.into(), says)
        }
        Requirement::Floor => {
            let (a, b) = parts.requirements.floor.unwrap_or_default();
            let value = serde_json::json!({ "length_mm": a.mm(), "width_mm": b.mm() });
            ("/requirements/floor".to_owned(), value, format!("floor of {} x {} mm", mm(a), mm(b)))
        }
        Requirement::KeepOut(i) => {
            let place = &parts.keep_out[i];
            let of = [("x_mm", place.x), ("y_mm", place.y), ("length_mm", place.length), ("width_mm", place.width)];
            let value = of.iter().map(|(key, of)| ((*key).to_owned(), round(of.mm()).into())).collect();
            let called = if place.name.is_empty() { String::new() } else { format!(" ({})", place.name) };
            let says = format!("{} x {} mm of the floor kept out of{called}", mm(place.length), mm(place.width));
            (format!("/requirements/keep_out/{i}"), Value::Object(value), says)
        }
        Requirement::MaxCarriers => {
            let most = parts.circuit.max_carriers.unwrap_or_default();
            (at(Some(source.circuit()), "max_carriers"), most.into(), format!("at most {most} carriers"))
        }
        Requirement::MaxPrice => {
            let most = parts.requirements.max_price.unwrap_or_default().units();
            ("/requirements/max_price".to_owned(), most.into(), format!("a price of at most {}", short(most)))
        }
        Requirement::MaxModules => {
            let most = parts.circuit.track.max_modules;
            let pointer = at(Some(source.circuit()), "track/max_modules");
            (pointer, most.into(), format!("at most {most} modules in a straight"))
        }
        Requirement::RideThrough(i) => {
            let time = parts.sections[i].ride_through.s();
            let says = format!("section {}: {} s of ride-through", section(i), short(time));
            (of_section(i, "ride_through_s"), time.into(), says)
        }
        Requirement::MinLength(i) => {
            let length = parts.sections[i].min_length;
            let says = format!("section {}: at least {} mm long", section(i), mm(length));
            (of_section(i, "min_length_mm"), length.mm().into(), says)
        }
        Requirement::MinTime(i) => {
            let time = parts.sections[i].min_time.s();
            (of_section(i, "min_s"), time.into(), format!("section {}: at least {} s", section(i), short(time)))
        }
        Requirement::MaxTime(i) => {
            let time = parts.sections[i].max_time.unwrap_or_default().s();
            (of_section(i, "max_s"), time.into(), format!("section {}: at most {} s", section(i), short(time)))
        }
        Requirement::WindowMax(w) => {
            let time = parts.windows[w].max.unwrap_or_default().s();
            (at(source.window(w), "max_s"), time.into(), format!("window {}: at most {} s", window(w), short(time)))
        }
        Requirement::WindowMin(w) => {
            let time = parts.windows[w].min.unwrap_or_default().s();
            (at(source.window(w), "min_s"), time.into(), format!("window {}: at least {} s", window(w), short(time)))
        }
        Requirement::Side(i) => {
            let word = if parts.stations[i].side == Some(Side::Back) { "back" } else { "front" };
            let says = format!("station {}: stands at the {word}", parts.stations[i].id);
            (at(source.station(i), "side"), word.into(), says)
        }
        Requirement::Infeed | Requirement::Discharge => {
            let (key, of) = match requirement {
                Requirement::Infeed => ("infeed", parts.openings.infeed),
                _ => ("discharge", parts.openings.discharge),
            };
            let id = of.and_then(|o| parts.stations.get(o.station)).map_or("", |s| &s.id);
            let side = of.map_or("", |o| super::site::side(o.side).word());
            let value = serde_json::json!({ "station": id, "side": side });
            (format!("/requirements/{key}"), value, format!("{key} of station {id} at the {side}"))
        }
        Requirement::Hand => {
            let (word, words) = match parts.openings.hand {
                Some(Hand::RightToLeft) => ("right_to_left", "right to left"),
                _ => ("left_to_right", "left to right"),
            };
            ("/requirements/hand".to_owned(), word.into(), format!("travel from {words} along the front"))
        }
        Requirement::FixedMode(i) => {
            let word = parts.stations[i].fixed.mode.map_or("", |mode| mode.word());
            let says = format!("station {}: {word}, as was fixed", parts.stations[i].id);
            (at(source.station(i), "fixed/mode"), word.into(), says)
        }
        Requirement::FixedHeads(i) => {
            let heads = parts.stations[i].fixed.heads.unwrap_or_default();
            let says = format!("station {}: heads fixed to {heads}", parts.stations[i].id);
            (at(source.station(i), "fixed/heads"), heads.into(), says)
        }
        Requirement::FixedForm => {
            let form = parts.circuit.fixed.form.and_then(|form| parts.circuit.track.forms.get(form));
            let id = form.map_or("", |form| &form.id);
            (at(Some(source.circuit()), "fixed/form"), id.into(), format!("form fixed to {id}"))
        }
        Requirement::FixedModules => {
            let modules = parts.circuit.fixed.modules.unwrap_or_default();
            let pointer = at(Some(source.circuit()), "fixed/modules_per_straight");
            (pointer, modules.into(), format!("modules in a straight fixed to {modules}"))
        }
        Requirement::FixedCarriers => {
            let carriers = parts.circuit.fixed.carriers.unwrap_or_default();
            let pointer = at(Some(source.circuit()), "fixed/carriers");
            (pointer, carriers.into(), format!("carriers fixed to {carriers}"))
        }
        Requirement::ChangeLimit => {
            let minutes = document.wire.changeover.as_ref().and_then(|c| c.limit_min).unwrap_or_default();
            let says = format!("every change from SKU to SKU within {} minutes", short(minutes));
            ("/changeover/limit_min".to_owned(), minutes.into(), says)
        }
        Requirement::LoadAcceleration(k) => {
            let most = parts.skus[k].load.max_acceleration.unwrap_or_default().m_s2();
            let says = format!("SKU {}: at most {} m/s² tested", parts.skus[k].id, short(most));
            (at(source.load(k), "max_accel_m_s2"), most.into(), says)
        }
    }
}

/// Millimetres that came from metres and sums of prices, without the noise of the last digits.
fn round(number: f64) -> f64 {
    (number * 1e6).round() / 1e6
}
