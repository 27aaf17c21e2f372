//! The product stream of a plan in the report, and its sheet in the workbook.

use maud::{Markup, html};
use rust_xlsxwriter::{Formula, Workbook, XlsxError};

use super::html::{Report, num};
use super::workbook::{Styles, head};
use crate::draw::text::mm;
use crate::wire::plan::{PlannedCellSide, PlannedFeed};

fn side(of: &PlannedFeed) -> &'static str {
    match of.side {
        PlannedCellSide::Front => "in front",
        PlannedCellSide::Back => "behind",
        PlannedCellSide::Left => "at the left end",
        PlannedCellSide::Right => "at the right end",
    }
}

fn share(x: f64) -> String {
    format!("{:+.1} %", x * 100.0)
}

/// What feeds the cell; nothing where that is not given.
pub(super) fn feed(report: &Report<'_>) -> Markup {
    let Some(of) = &report.plan.planned.feed else { return html! {} };
    let optional = |key: String, value: Option<f64>, shown: &dyn Fn(f64) -> String| {
        html! { @if let Some(value) = value { (num(key, value, shown(value))) } @else { "–" } }
    };
    let three = |x: f64| format!("{x:.3}");
    html! {
        h3 { "Product stream" }
        p { "Products come to " (of.into) " over belts that lie " (side(of)) " on "
            (num("/feed/length_m", of.length_m, mm(of.length_m))) " × " (num("/feed/width_m", of.width_m, mm(of.width_m)))
            " mm of floor, counted in the footprint"
            @if let Some(lanes) = of.lanes { ", and are stacked in lanes, of which there are " (num("/feed/lanes", lanes.into(), lanes.to_string())) }
            "." }
        div class="wide" { table {
            thead { tr { th { "Belt" } th { "SKU" } th class="n" { "Gap mm" } th class="n" { "Speed m/s" } th class="n" { "Fastest" }
                th class="n" { "Spare" } th class="n" { "Speed-up" } th class="n" { "Length mm" } th class="n" { "Needed mm" } } }
            tbody { @for (b, belt) in of.belts.iter().enumerate() { @for (k, sku) in belt.skus.iter().enumerate() {
                @let at = format!("/feed/belts/{b}/skus/{k}");
                tr { td { (belt.id) } td { (sku.id) }
                    td class="n" { (num(format!("{at}/gap_m"), sku.gap_m, mm(sku.gap_m))) }
                    td class="n" { (num(format!("{at}/speed_m_s"), sku.speed_m_s, three(sku.speed_m_s))) }
                    td class="n" { (optional(format!("/feed/belts/{b}/max_speed_m_s"), belt.max_speed_m_s, &three)) }
                    td class="n" { (optional(format!("{at}/spare_speed"), sku.spare_speed, &share)) }
                    td class="n" { (num(format!("{at}/speed_up"), sku.speed_up, three(sku.speed_up))) }
                    td class="n" { (num(format!("/feed/belts/{b}/length_m"), belt.length_m, mm(belt.length_m))) }
                    td class="n" { (num(format!("{at}/needed_length_m"), sku.needed_length_m, mm(sku.needed_length_m))) }
                } } } }
        } }
        div class="wide" { table {
            thead { tr { th { "SKU" } th class="n" { "Products/min" } th class="n" { "Stacks/min" } th class="n" { "Cases/min" }
                th class="n" { "Delivered/min" } th class="n" { "Plan takes/min" } th class="n" { "Over/min" } th class="n" { "Lane cycle s" }
                th class="n" { "Lanes needed" } th class="n" { "Lanes spare" } th class="n" { "Must wait" } } }
            tbody { @for (k, sku) in of.skus.iter().enumerate() {
                @let at = format!("/feed/skus/{k}");
                @let lane = sku.lanes.as_ref();
                tr { td { (sku.id) }
                    td class="n" { (num(format!("{at}/products_per_min"), sku.products_per_min, format!("{:.1}", sku.products_per_min))) }
                    td class="n" { (num(format!("{at}/stacks_per_min"), sku.stacks_per_min, format!("{:.2}", sku.stacks_per_min))) }
                    td class="n" { (num(format!("{at}/cases_per_min"), sku.cases_per_min, format!("{:.2}", sku.cases_per_min))) }
                    td class="n" { (optional(format!("{at}/delivered_per_min"), sku.delivered_per_min, &|x| format!("{x:.1}"))) }
                    td class="n" { (num(format!("{at}/taken_products_per_min"), sku.taken_products_per_min, format!("{:.1}", sku.taken_products_per_min))) }
                    td class="n" { (optional(format!("{at}/surplus_per_min"), sku.surplus_per_min, &|x| format!("{x:.1}"))) }
                    td class="n" { (optional(format!("{at}/lanes/cycle_s"), lane.map(|l| l.cycle_s), &|x| format!("{x:.2}"))) }
                    td class="n" { (optional(format!("{at}/lanes/needed_lanes"), lane.map(|l| l.needed_lanes.into()), &|x| format!("{x:.0}"))) }
                    td class="n" { (optional(format!("{at}/lanes/spare_capacity"), lane.map(|l| l.spare_capacity), &share)) }
                    td class="n" { (optional(format!("{at}/lanes/needed_buffer"), lane.map(|l| l.needed_buffer.into()), &|x| format!("{x:.0}"))) }
                } } }
        } }
        p { "Belt speed is rate times length and gap; a belt pulls its gap when it is as long as a product and that gap. A lane's cycle is \
             the time to fill a stack and to push it out. Speeds and lengths are estimates: confirm the friction of products on belts, and \
             how they pass from belt to belt, with the real products." }
    }
}

/// Belts and lanes of every SKU on a sheet of their own; none where there is no feed.
pub(super) fn sheet(book: &mut Workbook, of: Option<&PlannedFeed>, styles: &Styles) -> Result<(), XlsxError> {
    let Some(of) = of else { return Ok(()) };
    let sheet = book.add_worksheet().set_name("Feed")?;
    let belts = [
        ("Belt", 20.0),
        ("SKU", 20.0),
        ("Products/min", 12.0),
        ("Gap m", 9.0),
        ("Speed m/s", 9.0),
        ("Fastest m/s", 9.0),
    ];
    let rest = [("Speed-up", 9.0), ("Length m", 9.0), ("Needed m", 9.0), ("Spare length", 9.0)];
    head(sheet, styles, &[&belts[..], &rest[..]].concat())?;
    let mut row = 1;
    for belt in &of.belts {
        for (sku, flow) in belt.skus.iter().zip(&of.skus) {
            sheet.write_string(row, 0, &belt.id)?;
            sheet.write_string(row, 1, &sku.id)?;
            sheet.write_with_format(row, 2, flow.products_per_min, &styles.number)?;
            sheet.write_with_format(row, 3, sku.gap_m, &styles.number)?;
            sheet.write_with_format(row, 4, sku.speed_m_s, &styles.number)?;
            if let Some(most) = belt.max_speed_m_s {
                sheet.write_with_format(row, 5, most, &styles.number)?;
            }
            sheet.write_with_format(row, 6, sku.speed_up, &styles.number)?;
            sheet.write_with_format(row, 7, belt.length_m, &styles.number)?;
            sheet.write_with_format(row, 8, sku.needed_length_m, &styles.number)?;
            let spare = Formula::new(format!("=H{0}/I{0}-1", row + 1));
            let spare = spare.set_result((belt.length_m / sku.needed_length_m - 1.0).to_string());
            sheet.write_formula_with_format(row, 9, spare, &styles.share)?;
            row += 1;
        }
    }
    row += 1;
    let columns = [
        "SKU",
        "Products/min",
        "Stacks/min",
        "Cases/min",
        "Delivered/min",
        "Plan takes/min",
        "Lanes",
        "Lanes needed",
        "Lane cycle s",
        "Must wait",
    ];
    for (column, words) in (0_u16..).zip(columns) {
        sheet.write_with_format(row, column, words, &styles.strong)?;
    }
    for sku in &of.skus {
        row += 1;
        sheet.write_string(row, 0, &sku.id)?;
        let rates = [sku.products_per_min, sku.stacks_per_min, sku.cases_per_min];
        for (column, rate) in (1_u16..).zip(rates) {
            sheet.write_with_format(row, column, rate, &styles.number)?;
        }
        if let Some(given) = sku.delivered_per_min {
            sheet.write_with_format(row, 4, given, &styles.number)?;
        }
        sheet.write_with_format(row, 5, sku.taken_products_per_min, &styles.number)?;
        if let (Some(lane), Some(lanes)) = (&sku.lanes, of.lanes) {
            sheet.write(row, 6, lanes)?;
            sheet.write(row, 7, lane.needed_lanes)?;
            sheet.write_with_format(row, 8, lane.cycle_s, &styles.number)?;
            sheet.write(row, 9, lane.needed_buffer)?;
        }
    }
    Ok(())
}
