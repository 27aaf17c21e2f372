//! The sheet of the workbook that a cell of several circuits has besides: each circuit, and all of them together.

use rust_xlsxwriter::{Formula, Worksheet, XlsxError};

use super::several::lies;
use super::workbook::{Styles, head, rows};
use crate::draw::Drawable;
use crate::wire::plan::Planned;

/// Sum over the rows of all circuits in a column of their sheet.
fn sum(column: char, count: usize) -> String {
    format!("SUM(Circuits!{column}2:{column}{})", count + 1)
}

/// Carriers on all circuits.
pub(super) fn carriers(planned: &Planned) -> Formula {
    let all: u32 = planned.circuits.iter().map(|c| c.carriers).sum();
    Formula::new(format!("={}", sum('F', planned.circuits.len()))).set_result(all.to_string())
}

/// Each circuit with its share of floor and price, the price from the bill of parts.
pub(super) fn circuits(sheet: &mut Worksheet, plan: &Drawable<'_>, styles: &Styles) -> Result<(), XlsxError> {
    let planned = plan.planned;
    let all = &planned.circuits;
    sheet.set_name("Circuits")?;
    head(
        sheet,
        styles,
        &[
            ("Circuit", 20.0),
            ("Lies", 20.0),
            ("Form", 16.0),
            ("Modules each straight", 10.0),
            ("Loop m", 10.0),
            ("Carriers", 10.0),
            ("Share of floor m²", 12.0),
            ("Of the floor", 10.0),
            ("Share of price", 14.0),
            ("Of the price", 10.0),
            ("Middle line m", 10.0),
            ("Straights begin at m", 11.0),
        ],
    )?;
    let total = all.len() as u32 + 1;
    for (row, c) in rows(all) {
        let line = row + 1;
        sheet.write_string(row, 0, &c.id)?;
        sheet.write_string(row, 1, lies(all, row as usize - 1))?;
        sheet.write_string(row, 2, &c.form)?;
        sheet.write(row, 3, c.modules_per_straight)?;
        sheet.write_with_format(row, 4, c.loop_length_m, &styles.number)?;
        sheet.write(row, 5, c.carriers)?;
        let Some(place) = &c.place else { continue };
        sheet.write_with_format(row, 6, place.floor_share_m2, &styles.number)?;
        let price = Formula::new(format!("=SUMIF(Parts!F:F,A{line},Parts!D:D)")).set_result(place.price.to_string());
        sheet.write_formula_with_format(row, 8, price, &styles.money)?;
        let shares = [
            (7, 'G', place.floor_share_m2 / planned.footprint.area_m2),
            (9, 'I', if planned.price > 0.0 { place.price / planned.price } else { 0.0 }),
        ];
        for (column, of, share) in shares {
            let whole = total + 1;
            // Where nothing has a price there is nothing to share.
            let formula = format!("=IF({of}{whole}=0,0,{of}{line}/{of}{whole})");
            let formula = Formula::new(formula).set_result(share.to_string());
            sheet.write_formula_with_format(row, column, formula, &styles.share)?;
        }
        sheet.write_with_format(row, 10, place.middle_m, &styles.number)?;
        sheet.write_with_format(row, 11, place.offset_m, &styles.number)?;
    }
    sheet.write_with_format(total, 0, "Total", &styles.strong)?;
    let loops: f64 = all.iter().map(|c| c.loop_length_m).sum();
    let floor: f64 = all.iter().filter_map(|c| c.place.as_ref()).map(|place| place.floor_share_m2).sum();
    let price: f64 = all.iter().filter_map(|c| c.place.as_ref()).map(|place| place.price).sum();
    for (column, name, result, format) in
        [(4, 'E', loops, &styles.number), (6, 'G', floor, &styles.number), (8, 'I', price, &styles.money)]
    {
        let formula = Formula::new(format!("={}", sum(name, all.len()))).set_result(result.to_string());
        sheet.write_formula_with_format(total, column, formula, format)?;
    }
    sheet.write_formula(total, 5, carriers(planned))?;
    sheet.write(total + 2, 0, "A hand-off is counted once, with the circuit that comes first.")?;
    Ok(())
}
