//! Sheets of the workbook for the documents that were made beside the plan: variants, causes, points of a sweep, levers.

use rust_xlsxwriter::{Formula, Workbook, Worksheet, XlsxError};

use super::alternatives::{Beside, ended, missing, on_the_move};
use super::workbook::{Styles, head, rows};
use crate::wire::alternatives::{
    CompareDocument, ComparedOperation, Explained, FrontDocument, Lever, Short, SweepDocument, SweepTarget,
};

/// A sheet for each of the documents that are there.
pub(super) fn beside(book: &mut Workbook, beside: &Beside, styles: &Styles) -> Result<(), XlsxError> {
    if let Some(compare) = &beside.compare {
        variants(book.add_worksheet().set_name("Variants")?, compare, styles)?;
        if !compare.differences.is_empty() {
            causes(book.add_worksheet().set_name("Causes")?, compare, styles)?;
        }
        if compare.simulated.is_some() {
            operated(book.add_worksheet().set_name("Variants simulated")?, compare, styles)?;
        }
    }
    if let Some(found) = &beside.front {
        front(book.add_worksheet().set_name("Front")?, found, styles)?;
    }
    if let Some(sweep) = &beside.sweep {
        points(book.add_worksheet().set_name("Sweep")?, sweep, styles)?;
    }
    if let Some(Explained::Helped(helped)) = beside.explain.as_ref().map(|e| &e.explained) {
        levers(book.add_worksheet().set_name("Levers")?, &helped.levers, styles)?;
    }
    Ok(())
}

/// Answer, floor, bound, carriers and price of a plan in five columns.
fn sizes(sheet: &mut Worksheet, row: u32, column: u16, plan: &Short, styles: &Styles) -> Result<(), XlsxError> {
    sheet.write(row, column, ended(plan))?;
    let area = plan.footprint.as_ref().map(|f| f.area_m2);
    for (i, value) in (1_u16..).zip([area, plan.proven_bound_m2]) {
        if let Some(value) = value {
            sheet.write_with_format(row, column + i, value, &styles.number)?;
        }
    }
    if let Some(carriers) = plan.carriers {
        sheet.write(row, column + 3, carriers)?;
    }
    if let Some(price) = plan.price {
        sheet.write_with_format(row, column + 4, price, &styles.money)?;
    }
    Ok(())
}

const SIZES: [(&str, f64); 5] =
    [("Answer", 24.0), ("Floor m²", 11.0), ("Proven bound m²", 11.0), ("Carriers", 9.0), ("Price", 14.0)];

fn variants(sheet: &mut Worksheet, compare: &CompareDocument, styles: &Styles) -> Result<(), XlsxError> {
    let mut columns = vec![("Variant", 36.0)];
    columns.extend(SIZES);
    columns.extend([("Floor over the first m²", 12.0), ("Differs in", 60.0), ("Key in the comparison", 20.0)]);
    if compare.simulated.is_some() {
        columns.extend([("Least efficiency", 11.0), ("Its half-width, 95 %", 11.0), ("Of SKU", 24.0)]);
    }
    head(sheet, styles, &columns)?;
    let first = compare.variants.first().and_then(|v| v.plan.footprint.as_ref()).map(|f| f.area_m2);
    for (row, v) in rows(&compare.variants) {
        sheet.write_string(row, 0, &v.name)?;
        sizes(sheet, row, 1, &v.plan, styles)?;
        if let (Some(first), Some(own)) = (first, v.plan.footprint.as_ref()) {
            let formula = Formula::new(format!("=C{}-C$2", row + 1)).set_result((own.area_m2 - first).to_string());
            sheet.write_formula_with_format(row, 6, formula, &styles.number)?;
        }
        sheet.write_string(row, 7, v.marks.join("; "))?;
        sheet.write_string(row, 8, format!("/variants/{}", row - 1))?;
        if let Some((_, least)) = v.simulated.as_ref().and_then(ComparedOperation::least) {
            sheet.write_with_format(row, 9, least.efficiency.mean, &styles.share)?;
            sheet.write_with_format(row, 10, least.efficiency.half_width, &styles.share)?;
            sheet.write_string(row, 11, &least.id)?;
        }
    }
    Ok(())
}

/// What each plan makes of each SKU; below that how it was simulated.
fn operated(sheet: &mut Worksheet, compare: &CompareDocument, styles: &Styles) -> Result<(), XlsxError> {
    head(
        sheet,
        styles,
        &[
            ("Variant", 36.0),
            ("SKU", 24.0),
            ("Net cases/min", 11.0),
            ("Half-width, 95 %", 10.0),
            ("Nothing going wrong", 11.0),
            ("Efficiency", 10.0),
            ("Its half-width", 10.0),
            ("Replications", 12.0),
            ("Key in the comparison", 28.0),
        ],
    )?;
    let mut row = 1;
    for (i, variant) in compare.variants.iter().enumerate() {
        for (k, sku) in variant.simulated.iter().flat_map(|of| of.skus.iter().enumerate()) {
            let (net, share) = (sku.net_rate_per_min, sku.efficiency);
            sheet.write_string(row, 0, &variant.name)?;
            sheet.write_string(row, 1, &sku.id)?;
            for (column, value) in [(2, net.mean), (3, net.half_width), (4, sku.undisturbed_rate_per_min)] {
                sheet.write_with_format(row, column, value, &styles.number)?;
            }
            for (column, value) in [(5, share.mean), (6, share.half_width)] {
                sheet.write_with_format(row, column, value, &styles.share)?;
            }
            sheet.write(row, 7, sku.replications)?;
            sheet.write_string(row, 8, format!("/variants/{i}/simulated/skus/{k}"))?;
            row += 1;
        }
    }
    for note in compare.simulated.iter().flat_map(|run| &run.notes) {
        row += 1;
        sheet.write_string(row, 0, note)?;
    }
    Ok(())
}

/// Every plan that no other beats; below them whether others may be missing.
fn front(sheet: &mut Worksheet, found: &FrontDocument, styles: &Styles) -> Result<(), XlsxError> {
    let mut columns = vec![("Plan", 8.0)];
    columns.extend(SIZES);
    columns.extend([("On moving carriers", 40.0), ("Key in the front", 16.0)]);
    head(sheet, styles, &columns)?;
    for (row, plan) in rows(&found.plans) {
        sheet.write(row, 0, row)?;
        sizes(sheet, row, 1, plan, styles)?;
        sheet.write_string(row, 6, on_the_move(plan))?;
        sheet.write_string(row, 7, format!("/plans/{}", row - 1))?;
    }
    let below = u32::try_from(found.plans.len()).unwrap_or(u32::MAX).saturating_add(2);
    sheet.write_string(below, 0, missing(found))?;
    Ok(())
}

fn causes(sheet: &mut Worksheet, compare: &CompareDocument, styles: &Styles) -> Result<(), XlsxError> {
    head(
        sheet,
        styles,
        &[
            ("Variant", 30.0),
            ("Against", 30.0),
            ("Zones m²", 10.0),
            ("Queues m²", 10.0),
            ("Unused straight m²", 10.0),
            ("Ends m²", 10.0),
            ("Depth m²", 10.0),
            ("Together m²", 11.0),
            ("In stations", 10.0),
            ("On the way", 10.0),
            ("Waiting", 10.0),
            ("Carriers together", 11.0),
            ("Price", 14.0),
            ("In words", 80.0),
        ],
    )?;
    let name = |i: u32| compare.variants.get(i as usize).map_or("", |v| v.name.as_str());
    for (row, d) in rows(&compare.differences) {
        sheet.write_string(row, 0, name(d.of))?;
        sheet.write_string(row, 1, name(d.than))?;
        let (floor, carriers) = (&d.floor_m2, &d.carriers);
        let parts = [floor.zones, floor.queues, floor.unused_straight, floor.ends, floor.depth];
        for (column, value) in (2_u16..).zip(parts) {
            sheet.write_with_format(row, column, value, &styles.number)?;
        }
        let sum: f64 = parts.iter().sum();
        let formula = Formula::new(format!("=SUM(C{0}:G{0})", row + 1)).set_result(sum.to_string());
        sheet.write_formula_with_format(row, 7, formula, &styles.number)?;
        let parts = [carriers.in_stations, carriers.on_the_way, carriers.waiting];
        for (column, value) in (8_u16..).zip(parts) {
            sheet.write_with_format(row, column, value, &styles.number)?;
        }
        let sum: f64 = parts.iter().sum();
        let formula = Formula::new(format!("=SUM(I{0}:K{0})", row + 1)).set_result(sum.to_string());
        sheet.write_formula_with_format(row, 11, formula, &styles.number)?;
        sheet.write_with_format(row, 12, d.price, &styles.money)?;
        sheet.write_string(row, 13, &d.says)?;
    }
    Ok(())
}

fn points(sheet: &mut Worksheet, sweep: &SweepDocument, styles: &Styles) -> Result<(), XlsxError> {
    let name = |i: usize| match sweep.axes.get(i) {
        Some(axis) if axis.of == SweepTarget::Times => format!("Multiple of {}", axis.at),
        Some(axis) => axis.at.clone(),
        None => "Second".to_owned(),
    };
    let (first, second) = (name(0), name(1));
    let mut columns = vec![(first.as_str(), 18.0), (second.as_str(), 18.0)];
    columns.extend(SIZES);
    columns.push(("Key in the sweep", 16.0));
    head(sheet, styles, &columns)?;
    for (row, point) in rows(&sweep.points) {
        sheet.write_number(row, 0, point.value)?;
        if let Some(second) = point.second {
            sheet.write_number(row, 1, second)?;
        }
        sizes(sheet, row, 2, &point.plan, styles)?;
        sheet.write_string(row, 7, format!("/points/{}", row - 1))?;
    }
    Ok(())
}

fn levers(sheet: &mut Worksheet, levers: &[Lever], styles: &Styles) -> Result<(), XlsxError> {
    let mut columns = vec![("Relaxed", 60.0)];
    columns.extend(SIZES);
    columns.extend([
        ("Floor saved m²", 11.0),
        ("Carriers saved", 9.0),
        ("Price saved", 14.0),
        ("Key in the explanation", 16.0),
    ]);
    head(sheet, styles, &columns)?;
    for (row, lever) in rows(levers) {
        sheet.write_string(row, 0, &lever.says)?;
        sizes(sheet, row, 1, &lever.plan, styles)?;
        if let Some(floor) = lever.floor_saved_m2 {
            sheet.write_with_format(row, 6, floor, &styles.number)?;
        }
        if let Some(carriers) = lever.carriers_saved {
            sheet.write_number(row, 7, carriers as f64)?;
        }
        if let Some(price) = lever.price_saved {
            sheet.write_with_format(row, 8, price, &styles.money)?;
        }
        sheet.write_string(row, 9, format!("/levers/{}", row - 1))?;
    }
    Ok(())
}
