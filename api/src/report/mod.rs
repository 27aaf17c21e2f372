//! The report and the workbook of a plan, from the published documents only.

pub mod accumulation;
pub mod alternatives;
pub mod basis;
pub mod carriers;
pub mod changes;
mod efficiency;
mod feed;
mod frame;
pub mod front;
mod html;
pub mod load;
pub mod parts;
mod sections;
mod several;
pub mod simulation;
pub mod standards;
pub mod sweep;
pub mod time_distance;
mod workbook;
mod workbook_beside;
mod workbook_changes;
mod workbook_operation;
mod workbook_several;

pub use html::report_html;
pub use workbook::workbook_xlsx;

use crate::wire::plan::{LimitKind, LimitedBy};

/// What would raise a rate that is limited so.
#[must_use]
pub fn remedy(limit: &LimitedBy) -> String {
    let station = limit.station.as_deref().unwrap_or("the station");
    let between = match (&limit.from, &limit.to) {
        (Some(from), Some(to)) => format!("between {from} and {to}"),
        _ => "in the section".to_owned(),
    };
    match limit.kind {
        LimitKind::Station => format!("a shorter cycle of {station}, or one more head there"),
        LimitKind::Carriers => "one more carrier, or a shorter way round: faster moves, less waiting".to_owned(),
        LimitKind::Slots => format!("more room {between}, or smaller batches on its two sides"),
        LimitKind::Holes => "fewer carriers, or more track, so that more places stay free".to_owned(),
        LimitKind::Chain => "more room in these sections, or batches that go into one another".to_owned(),
        LimitKind::DoNotFit | LimitKind::Stuck => "fewer carriers, or more track".to_owned(),
        LimitKind::Unknown => "not known: the rate was timed".to_owned(),
    }
}
