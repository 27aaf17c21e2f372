//! Sheets of the workbook for changing over: the matrix, changes in full, the order of the week.

use rust_xlsxwriter::{ConditionalFormatCell, ConditionalFormatCellRule, Formula, Workbook, Worksheet, XlsxError};

use super::workbook::{Styles, head, rows};
use crate::draw::text::letter;
use crate::report::changes::over;
use crate::wire::adjust::{ChangesLie, CountsFrom};
use crate::wire::changeover::{ChangeoverDocument, Order};

/// The sheets.
pub(super) fn changes(book: &mut Workbook, document: &ChangeoverDocument, styles: &Styles) -> Result<(), XlsxError> {
    matrix(book.add_worksheet().set_name("Changes")?, document, styles)?;
    in_full(book.add_worksheet().set_name("Changes in full")?, document, styles)?;
    if let Some(order) = &document.order {
        the_order(book.add_worksheet().set_name("Order")?, document, order, styles)?;
    }
    Ok(())
}

/// A formula with the value that it has.
fn formula(
    sheet: &mut Worksheet,
    (row, column): (u32, u16),
    text: String,
    value: f64,
    format: &rust_xlsxwriter::Format,
) -> Result<(), XlsxError> {
    sheet.write_formula_with_format(row, column, Formula::new(text).set_result(value.to_string()), format)?;
    Ok(())
}

/// Minutes from the SKU of the row to that of the column, with the longest of each row and column, and what they come to.
fn matrix(sheet: &mut Worksheet, document: &ChangeoverDocument, styles: &Styles) -> Result<(), XlsxError> {
    let n = document.skus.len();
    let mut columns = vec![("Minutes from, to", 24.0)];
    columns.extend(document.skus.iter().map(|s| (s.id.as_str(), 9.0)));
    columns.push(("Longest", 9.0));
    head(sheet, styles, &columns)?;
    let (last, end) = (u32::try_from(n).unwrap_or(0), letter(n));
    let beside = u16::try_from(n + 1).unwrap_or(u16::MAX);
    let minutes = |i: usize, j: usize| document.matrix_s.get(i).and_then(|row| row.get(j)).map_or(0.0, |s| s / 60.0);
    let others = |k: usize| (0..n).filter(move |j| *j != k);
    for (row, sku) in rows(&document.skus) {
        let i = row as usize - 1;
        sheet.write_string(row, 0, &sku.id)?;
        for j in others(i) {
            sheet.write_with_format(row, u16::try_from(j + 1).unwrap_or(u16::MAX), minutes(i, j), &styles.number)?;
        }
        let longest = others(i).map(|j| minutes(i, j)).fold(0.0, f64::max);
        formula(sheet, (row, beside), format!("=MAX(B{0}:{end}{0})", row + 1), longest, &styles.number)?;
    }
    sheet.write_with_format(last + 1, 0, "Longest", &styles.strong)?;
    for j in 0..n {
        let name = letter(j + 1);
        let longest = others(j).map(|i| minutes(i, j)).fold(0.0, f64::max);
        let place = (last + 1, u16::try_from(j + 1).unwrap_or(u16::MAX));
        formula(sheet, place, format!("=MAX({name}2:{name}{})", last + 1), longest, &styles.number)?;
    }
    let range = format!("B2:{end}{}", last + 1);
    let all: Vec<f64> = (0..n).flat_map(|i| others(i).map(move |j| (i, j))).map(|(i, j)| minutes(i, j)).collect();
    let sum: f64 = all.iter().sum();
    let mut row = last + 3;
    let mut said = |what: &str, text: String, value: f64, key: &str| -> Result<u32, XlsxError> {
        sheet.write(row, 0, what)?;
        if text.is_empty() {
            sheet.write_with_format(row, 1, value, &styles.number)?;
        } else {
            formula(sheet, (row, 1), text, value, &styles.number)?;
        }
        sheet.write(row, 2, key)?;
        row += 1;
        Ok(row)
    };
    said("Changes", format!("=COUNT({range})"), all.len() as f64, "/changeover/count/all")?;
    if !all.is_empty() {
        said(
            "Minutes in the mean",
            format!("=AVERAGE({range})"),
            sum / all.len() as f64,
            "/changeover/mean_s, in minutes",
        )?;
    }
    if let Some(limit) = document.limit_s {
        let line = said("Limit, minutes", String::new(), limit / 60.0, "/changeover/limit_s, in minutes")?;
        let text = format!("=COUNTIF({range},\">\"&B{line}*(1+1E-9))");
        let many = document.matrix_s.iter().enumerate();
        let many = many.flat_map(|(i, row)| row.iter().enumerate().filter(move |(j, _)| i != *j).map(|(_, s)| *s));
        let many = many.filter(|s| over(document, *s)).count();
        said("Longer than the limit", text, many as f64, "/changeover/count/over_limit")?;
        let rule = ConditionalFormatCellRule::GreaterThan(limit / 60.0 * (1.0 + 1e-9));
        let mark = ConditionalFormatCell::new().set_rule(rule).set_format(&styles.strong);
        if n > 0 {
            sheet.add_conditional_format(1, 1, last, beside - 1, &mark)?;
        }
    }
    Ok(())
}

/// Parts of each change that the document holds in full; their sum is what counts.
fn in_full(sheet: &mut Worksheet, document: &ChangeoverDocument, styles: &Styles) -> Result<(), XlsxError> {
    head(
        sheet,
        styles,
        &[
            ("From", 22.0),
            ("To", 22.0),
            ("Running empty s", 10.0),
            ("By hand s", 10.0),
            ("Moves s", 10.0),
            ("Stop s", 10.0),
            ("Refilling s", 10.0),
            ("Counts s", 10.0),
            ("By hand before s", 10.0),
            ("By hand behind s", 10.0),
            ("Decided by", 70.0),
            ("Key in the changeover document", 26.0),
        ],
    )?;
    for (row, c) in rows(&document.changes) {
        sheet.write_string(row, 0, &c.from)?;
        sheet.write_string(row, 1, &c.to)?;
        let parts = [c.run_out_s, c.by_hand_s, c.moving_s, c.work_s, c.refill_s];
        for (column, value) in (2_u16..).zip(parts) {
            sheet.write_with_format(row, column, value, &styles.number)?;
        }
        let (text, value) = match document.counts_from {
            CountsFrom::LastCase => (format!("=F{0}+G{0}", row + 1), c.work_s + c.refill_s),
            CountsFrom::LastIntake => (format!("=C{0}+F{0}+G{0}", row + 1), c.run_out_s + c.work_s + c.refill_s),
        };
        formula(sheet, (row, 7), text, value, &styles.number)?;
        sheet.write_with_format(row, 8, c.before_s, &styles.number)?;
        sheet.write_with_format(row, 9, c.behind_s, &styles.number)?;
        sheet.write_string(row, 10, &c.decided_by)?;
        sheet.write_string(row, 11, format!("/changeover/changes/{}", row - 1))?;
    }
    Ok(())
}

fn the_order(
    sheet: &mut Worksheet,
    document: &ChangeoverDocument,
    order: &Order,
    styles: &Styles,
) -> Result<(), XlsxError> {
    head(
        sheet,
        styles,
        &[
            ("Lot", 30.0),
            ("SKU", 24.0),
            ("Change min", 11.0),
            ("Cases", 11.0),
            ("Run min", 11.0),
            ("Key in the changeover document", 28.0),
        ],
    )?;
    for (row, lot) in rows(&order.lots) {
        sheet.write(row, 0, row)?;
        sheet.write_string(row, 1, &lot.sku)?;
        sheet.write_with_format(row, 2, lot.change_s / 60.0, &styles.number)?;
        for (column, value) in [(3, lot.cases), (4, lot.run_min)] {
            if let Some(value) = value {
                sheet.write_with_format(row, column, value, &styles.number)?;
            }
        }
        sheet.write_string(row, 5, format!("/changeover/order/lots/{}", row - 1))?;
    }
    let last = u32::try_from(order.lots.len()).unwrap_or(0);
    let total = last + 1;
    sheet.write_with_format(total, 0, "Total", &styles.strong)?;
    let sums = [
        (2, order.lots.iter().map(|l| l.change_s / 60.0).sum::<f64>()),
        (3, order.lots.iter().filter_map(|l| l.cases).sum()),
        (4, order.lots.iter().filter_map(|l| l.run_min).sum()),
    ];
    for (column, value) in sums {
        let name = letter(usize::from(column));
        formula(sheet, (total, column), format!("=SUM({name}2:{name}{})", last + 1), value, &styles.number)?;
    }
    let Some(week) = &document.week else { return Ok(()) };
    let mut row = total + 2;
    let first = row + 1;
    let inside = week.changes == ChangesLie::Inside;
    let changes = format!("C{}", total + 1);
    let left =
        if inside { format!("=C{first}-E{0}-{changes}", total + 1) } else { format!("=C{first}-E{0}", total + 1) };
    let share = if inside { format!("=(C{first}-{changes})/C{first}") } else { "=1".to_owned() };
    sheet.write(row, 0, "Planned minutes without breaks")?;
    sheet.write_with_format(row, 2, week.available_min, &styles.number)?;
    sheet.write(row, 5, "/changeover/week/available_min")?;
    row += 1;
    sheet.write(row, 0, if inside { "Changes lie inside of them" } else { "Changes lie outside of them" })?;
    row += 1;
    sheet.write(row, 0, "Availability after changes")?;
    formula(sheet, (row, 2), share, week.availability, &styles.number)?;
    sheet.write(row, 5, "/changeover/week/availability")?;
    if let Some(value) = week.left_min {
        row += 1;
        sheet.write(row, 0, "Minutes left over")?;
        formula(sheet, (row, 2), left, value, &styles.number)?;
        sheet.write(row, 5, "/changeover/week/left_min")?;
    }
    Ok(())
}
