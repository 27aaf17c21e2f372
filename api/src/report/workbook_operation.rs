//! Sheets of the workbook for the plan in operation: net rates with their intervals, and what stations do with their time.

use rust_xlsxwriter::{Formula, Workbook, Worksheet, XlsxError};

use super::simulation::STATES;
use super::workbook::{Styles, head, rows};
use crate::wire::simulation::{Certain, SimulationDocument};

/// Both sheets.
pub(super) fn operation(
    book: &mut Workbook,
    simulation: &SimulationDocument,
    styles: &Styles,
) -> Result<(), XlsxError> {
    rates(book.add_worksheet().set_name("Simulation")?, simulation, styles)?;
    states(book.add_worksheet().set_name("States")?, simulation, styles)?;
    if simulation.skus.iter().any(|sku| !sku.losses.is_empty()) {
        losses(book.add_worksheet().set_name("Losses")?, simulation, styles)?;
    }
    Ok(())
}

fn rates(sheet: &mut Worksheet, simulation: &SimulationDocument, styles: &Styles) -> Result<(), XlsxError> {
    head(
        sheet,
        styles,
        &[
            ("SKU", 24.0),
            ("Asked cases/min", 10.0),
            ("Net cases/min", 11.0),
            ("Half-width, 95 %", 10.0),
            ("Low end", 10.0),
            ("High end", 10.0),
            ("Makes it", 8.0),
            ("Net over asked", 10.0),
            ("Nothing going wrong", 11.0),
            ("Efficiency", 10.0),
            ("Its half-width", 10.0),
            ("Efficiency taken", 10.0),
            ("Replications", 12.0),
            ("Warm-up s", 10.0),
            ("Limited by", 20.0),
            ("Key in the simulation", 16.0),
        ],
    )?;
    for (row, s) in rows(&simulation.skus) {
        let net = s.net_rate_per_min;
        sheet.write_string(row, 0, &s.id)?;
        let numbers =
            [(1, s.asked_net_rate_per_min), (2, net.mean), (3, net.half_width), (8, s.undisturbed_rate_per_min)];
        for (column, value) in numbers {
            sheet.write_with_format(row, column, value, &styles.number)?;
        }
        let line = row + 1;
        let over = net.mean / s.asked_net_rate_per_min - 1.0;
        for (column, formula, result, format) in [
            (4, format!("=C{line}-D{line}"), net.mean - net.half_width, &styles.number),
            (5, format!("=C{line}+D{line}"), net.mean + net.half_width, &styles.number),
            (7, format!("=C{line}/B{line}-1"), over, &styles.share),
        ] {
            let formula = Formula::new(formula).set_result(result.to_string());
            sheet.write_formula_with_format(row, column, formula, format)?;
        }
        let makes = match s.makes_net_rate {
            Certain::Yes => "yes",
            Certain::No => "no",
            Certain::Open => "open",
        };
        sheet.write(row, 6, makes)?;
        for (column, value) in [(9, s.efficiency.mean), (10, s.efficiency.half_width), (11, s.given_efficiency)] {
            sheet.write_with_format(row, column, value, &styles.share)?;
        }
        sheet.write(row, 12, s.replications)?;
        sheet.write_with_format(row, 13, s.warm_up_s, &styles.number)?;
        sheet.write_string(row, 14, &s.limiting_station)?;
        sheet.write_string(row, 15, format!("/skus/{}", row - 1))?;
    }
    Ok(())
}

fn losses(sheet: &mut Worksheet, simulation: &SimulationDocument, styles: &Styles) -> Result<(), XlsxError> {
    let columns = [
        ("SKU", 24.0),
        ("Station", 20.0),
        ("Cause", 20.0),
        ("Lost cases/min", 14.0),
        ("Gained without it", 14.0),
        ("± (95 %)", 10.0),
        ("Key in the simulation", 24.0),
    ];
    head(sheet, styles, &columns)?;
    let all = simulation.skus.iter().enumerate().flat_map(|(k, sku)| {
        sku.losses.iter().enumerate().map(move |(i, loss)| (sku, loss, format!("/skus/{k}/losses/{i}")))
    });
    for (row, (sku, loss, key)) in (1_u32..).zip(all) {
        sheet.write_string(row, 0, &sku.id)?;
        sheet.write_string(row, 1, &loss.station)?;
        sheet.write_string(row, 2, loss.cause.words())?;
        for (column, value) in [(3, loss.lost_per_min), (4, loss.gain_per_min.mean), (5, loss.gain_per_min.half_width)]
        {
            sheet.write_with_format(row, column, value, &styles.number)?;
        }
        sheet.write_string(row, 6, key)?;
    }
    Ok(())
}

fn states(sheet: &mut Worksheet, simulation: &SimulationDocument, styles: &Styles) -> Result<(), XlsxError> {
    let mut columns = vec![("SKU", 24.0), ("Station", 20.0)];
    columns.extend(STATES.iter().map(|state| (state.word, 11.0)));
    columns.extend([("Together", 10.0), ("Technical efficiency", 11.0), ("Key in the simulation", 22.0)]);
    if simulation.skus.iter().flat_map(|sku| &sku.stations).any(|station| station.circuit.is_some()) {
        columns.push(("Circuit", 16.0));
    }
    head(sheet, styles, &columns)?;
    let all = simulation.skus.iter().enumerate().flat_map(|(k, sku)| {
        let stations = sku.stations.iter().enumerate();
        stations.map(move |(i, station)| (sku, station, format!("/skus/{k}/stations/{i}")))
    });
    for (row, (sku, station, key)) in (1_u32..).zip(all) {
        sheet.write_string(row, 0, &sku.id)?;
        sheet.write_string(row, 1, &station.id)?;
        for (column, state) in (2_u16..).zip(&STATES) {
            sheet.write_with_format(row, column, (state.of)(station), &styles.share)?;
        }
        let sum: f64 = STATES.iter().map(|state| (state.of)(station)).sum();
        let formula = Formula::new(format!("=SUM(C{0}:I{0})", row + 1)).set_result(sum.to_string());
        sheet.write_formula_with_format(row, 9, formula, &styles.share)?;
        if let Some(share) = station.technical_efficiency {
            sheet.write_with_format(row, 10, share, &styles.share)?;
        }
        sheet.write_string(row, 11, key)?;
        if let Some(circuit) = &station.circuit {
            sheet.write_string(row, 12, circuit)?;
        }
    }
    Ok(())
}
