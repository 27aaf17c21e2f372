//! From the tree to the published document: what changing from SKU to SKU takes.

use super::decode::{Item, Object, text};
use super::most;
use super::range::{CASES, LENGTH, LOTS, MINUTES, PAUSE, PEOPLE, SETTING_SPEED, SPAN, TIME};
use super::sink::Sink;
use crate::codes::Code;
use crate::wire::adjust::{
    Adjustment, Automatic, ChangeoverAsked, ChangesLie, CountsFrom, OrderShape, SkuWeek, Step, Stop, Week,
};
use crate::wire::cell::Mode;

pub(super) fn changeover(mut o: Object<'_, '_>) -> ChangeoverAsked {
    const FROM: &[(&str, CountsFrom)] = &[("last_case", CountsFrom::LastCase), ("last_intake", CountsFrom::LastIntake)];
    let asked = ChangeoverAsked {
        operators: o.count_or("operators", &PEOPLE, 1),
        limit_min: o.number("limit_min", &SPAN),
        keep_limit: o.flag_or("keep_limit", false),
        counts_from: o.choice("counts_from", FROM, CountsFrom::LastCase),
        moves_wait: o.flag_or("moves_wait", false),
        week: o.object("week").map(week),
    };
    let inside = asked.week.as_ref().is_some_and(|week| week.changes == ChangesLie::Inside);
    if inside && asked.limit_min.is_none() {
        let message = "changes lie inside the planned time, but there is no `limit_min` to allow for each of them";
        o.fault(Code::KeysClash, "week", message);
    }
    if asked.keep_limit && asked.limit_min.is_none() {
        let message = "changes are to keep a limit, but there is no `limit_min`";
        o.fault(Code::KeysClash, "keep_limit", message);
    }
    o.close();
    asked
}

fn week(mut o: Object<'_, '_>) -> Week {
    const LIE: &[(&str, ChangesLie)] = &[("inside", ChangesLie::Inside), ("outside", ChangesLie::Outside)];
    const SHAPES: &[(&str, OrderShape)] = &[("cyclic", OrderShape::Cyclic), ("open", OrderShape::Open)];
    let week = Week {
        planned_min: o.number_needed("planned_min", &SPAN),
        breaks_min: o.number_or("breaks_min", &PAUSE, 0.0),
        changes: o.choice("changes", LIE, ChangesLie::Outside),
        order: o.choice("order", SHAPES, OrderShape::Cyclic),
    };
    if week.breaks_min >= week.planned_min {
        let message = format!("`breaks_min` is {}; nothing is left of {} minutes", week.breaks_min, week.planned_min);
        o.fault(Code::LimitsCross, "breaks_min", message);
    }
    o.close();
    week
}

pub(super) fn sku_week(mut o: Object<'_, '_>) -> SkuWeek {
    let week = SkuWeek { cases: o.number("cases", &CASES), lots: o.count_or("lots", &LOTS, 1) };
    o.close();
    week
}

/// The adjustments of a station, or of a circuit, which has no ways of working.
pub(super) fn adjustments(o: &mut Object<'_, '_>, station: bool, sink: &Sink<'_>) -> Vec<Adjustment> {
    o.list("adjustments", most::ADJUSTMENTS).iter().map(|item| adjustment(item, station, sink)).collect()
}

fn adjustment(item: &Item<'_>, station: bool, sink: &Sink<'_>) -> Adjustment {
    const MODES: &[(&str, Option<Mode>)] =
        &[("intermittent", Some(Mode::Intermittent)), ("continuous", Some(Mode::Continuous))];
    let mut o = Object::item(item, sink);
    let adjustment = Adjustment {
        id: o.text("id"),
        follows: o.text("follows"),
        mode: if station { o.choice("mode", MODES, None) } else { None },
        tolerance_mm: o.number_or("tolerance_mm", &LENGTH, 0.0),
        automatic: o.object("automatic").map(automatic),
        by_hand: o.list("by_hand", most::ADJUSTMENTS).iter().map(|item| step(item, sink)).collect(),
    };
    match (adjustment.automatic.is_some(), o.has("by_hand")) {
        (false, false) => o.fault_here(Code::OneOf, "the adjustment has neither `automatic` nor `by_hand`"),
        (true, true) => o.fault_here(Code::OneOf, "the adjustment has both `automatic` and `by_hand`"),
        _ => {}
    }
    o.close();
    adjustment
}

fn automatic(mut o: Object<'_, '_>) -> Automatic {
    let automatic =
        Automatic { base_s: o.number_or("base_s", &TIME, 0.0), speed_mm_s: o.number("speed_mm_s", &SETTING_SPEED) };
    o.close();
    automatic
}

fn step(item: &Item<'_>, sink: &Sink<'_>) -> Step {
    const STOPS: &[(&str, Stop)] = &[("inside", Stop::Inside), ("outside", Stop::Outside)];
    let mut o = Object::item(item, sink);
    let step = Step {
        id: o.text("id"),
        minutes: o.number_or("minutes", &MINUTES, 0.0),
        minutes_each: o.number_or("minutes_each", &MINUTES, 0.0),
        people: o.count_or("people", &PEOPLE, 1),
        stop: o.choice("stop", STOPS, Stop::Inside),
        after: o
            .list("after", most::ADJUSTMENTS)
            .iter()
            .map(|item| text(item.node, &item.pointer, "an entry of `after`", sink))
            .collect(),
    };
    o.close();
    step
}
