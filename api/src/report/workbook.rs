//! The workbook: tables to calculate with, totals as formulas.

use rust_xlsxwriter::{
    DocProperties, ExcelDateTime, Format, FormatAlign, FormatBorder, Formula, Workbook, Worksheet, XlsxError,
};

use super::basis::{inputs, missing, shown};
use super::parts::parts;
use crate::check::Document;
use crate::codes::Code;
use crate::draw::Drawable;
use crate::draw::text::letter;
use crate::finding::Finding;
use crate::print::Wishes;
use crate::wire::plan::{AskedOpening, PlannedCircuit, PlannedMode};

/// The workbook of a plan.
///
/// # Errors
/// The library refuses to write it.
pub fn workbook_xlsx(document: &Document, plan: &Drawable<'_>, wishes: &Wishes) -> Result<Vec<u8>, Finding> {
    let failed =
        |error: XlsxError| Finding::new(Code::OwnFault, "", format!("the workbook cannot be written: {error}"));
    made(document, plan, wishes).map_err(failed)
}

pub(super) struct Styles {
    pub(super) head: Format,
    pub(super) strong: Format,
    pub(super) number: Format,
    pub(super) money: Format,
    pub(super) share: Format,
    wrap: Format,
}

fn made(document: &Document, plan: &Drawable<'_>, wishes: &Wishes) -> Result<Vec<u8>, XlsxError> {
    let mut book = Workbook::new();
    // The same bytes at all times: the day on which spreadsheets begin to count, not the clock's.
    let properties = DocProperties::new()
        .set_title(&plan.document.name)
        .set_company(wishes.titles.company.as_deref().unwrap_or_default())
        .set_author(wishes.titles.author.as_deref().unwrap_or_default())
        .set_creation_datetime(&ExcelDateTime::from_ymd(1900, 1, 1)?);
    book.set_properties(&properties);
    let head = Format::new().set_bold().set_border_bottom(FormatBorder::Medium).set_text_wrap();
    let styles = Styles {
        head: head.set_align(FormatAlign::Top),
        strong: Format::new().set_bold(),
        number: Format::new().set_num_format("#,##0.000"),
        money: Format::new().set_num_format("#,##0.00"),
        share: Format::new().set_num_format("0.0%"),
        wrap: Format::new().set_text_wrap().set_align(FormatAlign::Top),
    };
    summary(book.add_worksheet(), plan, wishes, &styles)?;
    let circuits = &plan.planned.circuits;
    if circuits.len() > 1 {
        super::workbook_several::circuits(book.add_worksheet(), plan, &styles)?;
    }
    stations(book.add_worksheet().set_name("Stations")?, circuits, &styles)?;
    sections(book.add_worksheet().set_name("Sections")?, circuits, &styles)?;
    skus(book.add_worksheet().set_name("SKUs")?, circuits, &styles)?;
    super::feed::sheet(&mut book, plan.planned.feed.as_ref(), &styles)?;
    bill(book.add_worksheet(), plan, &styles)?;
    assumptions(book.add_worksheet(), document, wishes, &styles)?;
    questions(book.add_worksheet(), document, &styles)?;
    super::workbook_beside::beside(&mut book, &wishes.beside, &styles)?;
    if let Some(changeover) = &wishes.beside.changeover {
        super::workbook_changes::changes(&mut book, changeover, &styles)?;
    }
    if let Some(simulation) = &wishes.beside.simulation {
        super::workbook_operation::operation(&mut book, simulation, &styles)?;
    }
    book.save_to_buffer()
}

/// Headings with the widths of their columns, kept in sight.
pub(super) fn head(sheet: &mut Worksheet, styles: &Styles, columns: &[(&str, f64)]) -> Result<(), XlsxError> {
    for (column, (words, wide)) in (0_u16..).zip(columns) {
        sheet.write_with_format(0, column, *words, &styles.head)?;
        sheet.set_column_width(column, *wide)?;
    }
    sheet.set_freeze_panes(1, 1)?;
    sheet.set_landscape().set_print_fit_to_pages(1, 0).set_repeat_rows(0, 0)?;
    Ok(())
}

/// Headings, behind one for the circuit where there are several; how many columns that one takes.
fn head_of(
    sheet: &mut Worksheet,
    styles: &Styles,
    circuits: &[PlannedCircuit],
    columns: &[(&str, f64)],
) -> Result<u16, XlsxError> {
    if circuits.len() == 1 {
        head(sheet, styles, columns)?;
        return Ok(0);
    }
    head(sheet, styles, &[&[("Circuit", 16.0)], columns].concat())?;
    sheet.set_freeze_panes(1, 2)?;
    Ok(1)
}

/// What circuits have several of, in rows, each with its circuit and its number there.
fn rows_of<'a, T: 'a>(
    circuits: &'a [PlannedCircuit],
    of: impl Fn(&'a PlannedCircuit) -> &'a [T] + 'a,
) -> impl Iterator<Item = (u32, &'a PlannedCircuit, &'a T)> {
    let all = circuits.iter().flat_map(move |circuit| of(circuit).iter().map(move |one| (circuit, one)));
    (1_u32..).zip(all).map(|(row, (circuit, one))| (row, circuit, one))
}

pub(super) fn rows<T>(of: &[T]) -> impl Iterator<Item = (u32, &T)> {
    (1_u32..).zip(of)
}

fn summary(sheet: &mut Worksheet, plan: &Drawable<'_>, wishes: &Wishes, styles: &Styles) -> Result<(), XlsxError> {
    sheet.set_name("Summary")?;
    sheet.set_column_width(0, 34)?.set_column_width(1, 18)?.set_column_width(2, 60)?;
    sheet.write_with_format(0, 0, &plan.document.name, &styles.strong)?;
    sheet.write(1, 0, "Estimate for a proposal. Not a release to build.")?;
    let p = plan.planned;
    let proven = |yes: bool| if yes { "proven least" } else { "not proven least" };
    let carriers: u32 = p.circuits.iter().map(|c| c.carriers).sum();
    let numbers = [
        ("Length, m", p.footprint.length_m, "/footprint/length_m"),
        ("Width, m", p.footprint.width_m, "/footprint/width_m"),
    ];
    let mut row = 3;
    for (what, value, key) in numbers {
        sheet.write(row, 0, what)?;
        sheet.write_with_format(row, 1, value, &styles.number)?;
        sheet.write(row, 2, key)?;
        row += 1;
    }
    sheet.write(row, 0, "Area, m²")?;
    let area = Formula::new("=B4*B5").set_result(p.footprint.area_m2.to_string());
    sheet.write_formula_with_format(row, 1, area, &styles.number)?;
    sheet.write(row, 2, format!("/footprint/area_m2, {}", proven(p.proof.footprint.proven)))?;
    row += 1;
    sheet.write(row, 0, "Carriers")?;
    if p.circuits.len() == 1 {
        sheet.write(row, 1, carriers)?;
    } else {
        sheet.write_formula(row, 1, super::workbook_several::carriers(p))?;
    }
    sheet.write(row, 2, format!("/circuits, {}", proven(p.proof.carriers.proven)))?;
    row += 1;
    sheet.write(row, 0, "Price of the parts")?;
    let price = Formula::new("=Parts!D2").set_result(p.price.to_string());
    sheet.write_formula_with_format(row, 1, price, &styles.money)?;
    sheet.write(row, 2, format!("/price, {}", proven(p.proof.price.proven)))?;
    row += 1;
    for (what, value, key) in [
        ("Efficiency", p.asked.efficiency, "/asked/efficiency"),
        ("Headroom over net rate", p.asked.headroom - 1.0, "/asked/headroom, less 1"),
        ("Gap", p.gap, "/gap"),
    ] {
        sheet.write(row, 0, what)?;
        sheet.write_with_format(row, 1, value, &styles.share)?;
        sheet.write(row, 2, key)?;
        row += 1;
    }
    let opening = |of: &Option<AskedOpening>| {
        of.as_ref().map_or_else(String::new, |o| format!("{}, {}", o.station, o.side.word()))
    };
    let texts = [
        ("Infeed", opening(&p.asked.infeed)),
        ("Discharge", opening(&p.asked.discharge)),
        ("Travel along the front", p.hand.map_or_else(String::new, |hand| hand.words().to_owned())),
        ("Company", wishes.titles.company.clone().unwrap_or_default()),
        ("Issued by", wishes.titles.author.clone().unwrap_or_default()),
        ("Date", wishes.titles.date.clone().unwrap_or_default()),
        ("Number", wishes.titles.number.clone().unwrap_or_default()),
        ("Program", format!("Loopwright {}", env!("CARGO_PKG_VERSION"))),
        ("Plan document, SHA-256", plan.hash()),
    ];
    for (what, value) in texts.iter().filter(|(_, value)| !value.is_empty()) {
        sheet.write(row, 0, *what)?;
        sheet.write_string(row, 1, value)?;
        row += 1;
    }
    row += 1;
    for caution in &p.cautions {
        sheet.merge_range(row, 0, row, 2, caution, &styles.wrap)?;
        sheet.set_row_height(row, 48)?;
        row += 1;
    }
    Ok(())
}

fn stations(sheet: &mut Worksheet, circuits: &[PlannedCircuit], styles: &Styles) -> Result<(), XlsxError> {
    let o = head_of(
        sheet,
        styles,
        circuits,
        &[
            ("Station", 20.0),
            ("No.", 6.0),
            ("Works", 14.0),
            ("Heads", 8.0),
            ("Zone m", 10.0),
            ("Starts at m", 11.0),
            ("Straight", 9.0),
            ("Frame m", 10.0),
            ("Depth m", 10.0),
            ("Price", 14.0),
            ("Highest share of rate", 12.0),
            ("SKU of that", 22.0),
        ],
    )?;
    let mut known: Vec<&str> = Vec::new();
    for (row, circuit, s) in rows_of(circuits, |c| &c.stations) {
        if o > 0 {
            sheet.write_string(row, 0, &circuit.id)?;
            sheet.write_string(row, 13, s.hands_to.as_deref().unwrap_or_default())?;
        }
        // A hand-off has one number, as on the drawing.
        let number = known.iter().position(|id| *id == s.id).unwrap_or(known.len());
        if number == known.len() {
            known.push(&s.id);
        }
        sheet.write_string(row, o, &s.id)?;
        sheet.write(row, o + 1, number as u32 + 1)?;
        sheet.write(row, o + 2, if s.mode == PlannedMode::Intermittent { "stops" } else { "moves" })?;
        sheet.write(row, o + 3, s.heads)?;
        sheet.write_with_format(row, o + 4, s.zone_m, &styles.number)?;
        sheet.write_with_format(row, o + 5, s.start_m, &styles.number)?;
        sheet.write(
            row,
            o + 6,
            match s.straight {
                crate::wire::plan::PlannedStraight::Front => "front",
                crate::wire::plan::PlannedStraight::Back => "back",
                crate::wire::plan::PlannedStraight::Top => "top",
            },
        )?;
        sheet.write_with_format(row, o + 7, s.frame_m, &styles.number)?;
        sheet.write_with_format(row, o + 8, s.depth_m, &styles.number)?;
        sheet.write_with_format(row, o + 9, s.price, &styles.money)?;
        if let Some(most) = s.skus.iter().max_by(|a, b| a.share_of_rate.total_cmp(&b.share_of_rate)) {
            sheet.write_with_format(row, o + 10, most.share_of_rate, &styles.share)?;
            sheet.write_string(row, o + 11, &most.id)?;
        }
    }
    if o > 0 {
        sheet.write_with_format(0, 13, "Hand-off with", &styles.head)?;
        sheet.set_column_width(13, 16.0)?;
    }
    let all = circuits.iter().flat_map(|c| &c.stations);
    total(sheet, all.clone().count(), o + 9, all.map(|s| s.price).sum(), styles)
}

/// Under a column, its sum as a formula.
fn total(sheet: &mut Worksheet, count: usize, column: u16, sum: f64, styles: &Styles) -> Result<(), XlsxError> {
    let last = u32::try_from(count).unwrap_or(u32::MAX - 1);
    let name = letter(usize::from(column));
    sheet.write_with_format(last + 1, 0, "Total", &styles.strong)?;
    let formula = Formula::new(format!("=SUM({name}2:{name}{})", last + 1)).set_result(sum.to_string());
    sheet.write_formula_with_format(last + 1, column, formula, &styles.money)?;
    Ok(())
}

fn sections(sheet: &mut Worksheet, circuits: &[PlannedCircuit], styles: &Styles) -> Result<(), XlsxError> {
    let o = head_of(
        sheet,
        styles,
        circuits,
        &[
            ("Section", 10.0),
            ("From", 18.0),
            ("To", 18.0),
            ("Length m", 10.0),
            ("In ends m", 10.0),
            ("Loaded", 8.0),
            ("Ride-through s", 12.0),
            ("Fewest slots", 9.0),
            ("Longest s", 10.0),
            ("At most s", 10.0),
        ],
    )?;
    for (row, circuit, s) in rows_of(circuits, |c| &c.sections) {
        if o > 0 {
            sheet.write_string(row, 0, &circuit.id)?;
        }
        sheet.write_string(row, o, letter(row as usize - 1))?;
        sheet.write_string(row, o + 1, &s.from)?;
        sheet.write_string(row, o + 2, &s.to)?;
        sheet.write_with_format(row, o + 3, s.length_m, &styles.number)?;
        sheet.write_with_format(row, o + 4, s.curve_m, &styles.number)?;
        sheet.write(row, o + 5, if s.loaded { "yes" } else { "no" })?;
        sheet.write_with_format(row, o + 6, s.ride_through_s, &styles.number)?;
        sheet.write(row, o + 7, s.skus.iter().map(|k| k.slots).min().unwrap_or(0))?;
        if let Some(longest) = s.skus.iter().filter_map(|k| k.longest_s).max_by(f64::total_cmp) {
            sheet.write_with_format(row, o + 8, longest, &styles.number)?;
        }
        if let Some(most) = s.max_s {
            sheet.write_with_format(row, o + 9, most, &styles.number)?;
        }
    }
    let all = circuits.iter().flat_map(|c| &c.sections);
    total(sheet, all.clone().count(), o + 3, all.map(|s| s.length_m).sum(), styles)
}

fn skus(sheet: &mut Worksheet, circuits: &[PlannedCircuit], styles: &Styles) -> Result<(), XlsxError> {
    let o = head_of(
        sheet,
        styles,
        circuits,
        &[
            ("SKU", 26.0),
            ("Net cases/min", 10.0),
            ("Design carriers/min", 11.0),
            ("Exact carriers/min", 11.0),
            ("Margin", 9.0),
            ("Pitch m", 9.0),
            ("Accel. m/s²", 9.0),
            ("Force RMS N", 9.0),
            ("Limited by", 60.0),
        ],
    )?;
    let (design, exact) = (letter(usize::from(o) + 2), letter(usize::from(o) + 3));
    for (row, circuit, s) in rows_of(circuits, |c| &c.skus) {
        if o > 0 {
            sheet.write_string(row, 0, &circuit.id)?;
        }
        sheet.write_string(row, o, &s.id)?;
        sheet.write_with_format(row, o + 1, s.net_rate_cases_per_min, &styles.number)?;
        sheet.write_with_format(row, o + 2, s.design_rate_per_min, &styles.number)?;
        sheet.write_with_format(row, o + 3, s.rate_per_min, &styles.number)?;
        let margin = s.rate_per_min / s.design_rate_per_min - 1.0;
        let formula = Formula::new(format!("={exact}{0}/{design}{0}-1", row + 1)).set_result(margin.to_string());
        sheet.write_formula_with_format(row, o + 4, formula, &styles.share)?;
        sheet.write_with_format(row, o + 5, s.pitch_m, &styles.number)?;
        sheet.write_with_format(row, o + 6, s.acceleration_m_s2, &styles.number)?;
        if let Some(rms) = s.motor_rms_n {
            sheet.write_with_format(row, o + 7, rms, &styles.number)?;
        }
        sheet.write_string(row, o + 8, &s.limited_by.says)?;
    }
    Ok(())
}

/// The bill of parts; the total stands above it, so that its cell is known.
fn bill(sheet: &mut Worksheet, plan: &Drawable<'_>, styles: &Styles) -> Result<(), XlsxError> {
    sheet.set_name("Parts")?;
    head(
        sheet,
        styles,
        &[
            ("Part", 40.0),
            ("Count", 9.0),
            ("Each", 14.0),
            ("Together", 16.0),
            ("Key of the price in the cell document", 44.0),
        ],
    )?;
    let circuits = &plan.planned.circuits;
    if circuits.len() > 1 {
        sheet.write_with_format(0, 5, "Circuit", &styles.head)?;
        sheet.set_column_width(5, 16.0)?;
    }
    let all = parts(plan);
    let last = all.len() + 2;
    let sum: f64 = all.iter().map(|p| f64::from(p.count) * p.each).sum();
    sheet.write_with_format(1, 0, "Total", &styles.strong)?;
    let formula = Formula::new(format!("=SUM(D3:D{last})")).set_result(sum.to_string());
    sheet.write_formula_with_format(1, 3, formula, &styles.money)?;
    for (row, p) in (2_u32..).zip(&all) {
        sheet.write_string(row, 0, &p.name)?;
        sheet.write(row, 1, p.count)?;
        sheet.write_with_format(row, 2, p.each, &styles.money)?;
        let together = f64::from(p.count) * p.each;
        let formula = Formula::new(format!("=B{0}*C{0}", row + 1)).set_result(together.to_string());
        sheet.write_formula_with_format(row, 3, formula, &styles.money)?;
        sheet.write_string(row, 4, &p.pointer)?;
        if circuits.len() > 1 {
            sheet.write_string(row, 5, &circuits[p.circuit].id)?;
        }
    }
    Ok(())
}

fn assumptions(sheet: &mut Worksheet, document: &Document, wishes: &Wishes, styles: &Styles) -> Result<(), XlsxError> {
    sheet.set_name("Assumptions")?;
    head(
        sheet,
        styles,
        &[
            ("Input", 52.0),
            ("Value", 14.0),
            ("Unit", 8.0),
            ("Status", 11.0),
            ("Source", 40.0),
            ("Key in the cell document", 52.0),
        ],
    )?;
    let all = inputs(document, &wishes.sources);
    for (row, input) in rows(&all) {
        sheet.write_string(row, 0, &input.name)?;
        match input.value.as_f64() {
            Some(number) => sheet.write_number(row, 1, number)?,
            None => sheet.write_string(row, 1, shown(&input.value))?,
        };
        sheet.write_string(row, 2, input.unit)?;
        sheet.write_string(row, 3, input.status.word())?;
        sheet.write_string(row, 4, &input.source)?;
        sheet.write_string(row, 5, &input.pointer)?;
    }
    sheet.autofilter(0, 0, u32::try_from(all.len()).unwrap_or(1), 5)?;
    Ok(())
}

fn questions(sheet: &mut Worksheet, document: &Document, styles: &Styles) -> Result<(), XlsxError> {
    sheet.set_name("Questions")?;
    head(sheet, styles, &[("Question", 70.0), ("Key in the cell document", 52.0)])?;
    for (row, (pointer, question)) in rows(&missing(document)) {
        sheet.write_string(row, 0, *question)?;
        sheet.write_string(row, 1, pointer)?;
    }
    Ok(())
}
