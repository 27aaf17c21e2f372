//! The report as PDF: the same report as in HTML, laid out on pages, so that nothing stands in one and not in the other.

mod flow;
mod font;
mod lines;
mod pages;
mod source;
mod svg;
mod table;

use crate::codes::Code;
use crate::finding::Finding;
use crate::print::Wishes;
use flow::Flow;
use font::Fonts;
use source::Block;

fn failed(what: impl std::fmt::Display) -> Finding {
    Finding::new(Code::OwnFault, "", format!("the report cannot be written as PDF: {what}"))
}

/// Letters of a report in HTML that its PDF cannot show, as a warning.
///
/// # Errors
/// The fonts that the program carries cannot be read.
pub fn letters_missing(html: &str) -> Result<Option<Finding>, Finding> {
    const SHOWN: usize = 12;
    let fonts = Fonts::new().ok_or_else(|| failed("its fonts cannot be read"))?;
    let lacking = fonts.lacking(html);
    if lacking.is_empty() {
        return Ok(None);
    }
    let some: Vec<String> = lacking.iter().take(SHOWN).map(|c| format!("{c} (U+{:04X})", u32::from(*c))).collect();
    let more = if lacking.len() > SHOWN { " and more" } else { "" };
    let says = format!("letters that the fonts of the PDF lack are printed as \u{fffd}: {}{more}", some.join(", "));
    Ok(Some(Finding::new(Code::LettersMissing, "", says)))
}

/// The PDF of a report in HTML, as [`report_html`](crate::report::report_html) writes it. Letters that the fonts lack are
/// printed as the replacement character, and a line on the first page says so.
///
/// # Errors
/// The logo is no sound picture, or the library refuses to write the document.
pub fn report_pdf(html: &str, name: &str, hash: &str, wishes: &Wishes) -> Result<Vec<u8>, Finding> {
    let fonts = Fonts::new().ok_or_else(|| failed("its fonts cannot be read"))?;
    let body = fonts.within(source::body(html));
    let blocks = source::blocks(&body).map_err(failed)?;
    let mut flow = Flow::new(&fonts);
    let logo = wishes.logo.as_deref().map(|address| svg::logo(address, &fonts)).transpose()?;
    flow.cover(&fonts.within(name), hash, &wishes.titles, logo);
    if !fonts.lacking(html).is_empty() {
        flow.note("Letters that the fonts of this PDF lack are printed as \u{fffd}. The same report in HTML has them.");
    }
    let titles: Vec<&str> = blocks.iter().filter_map(Block::section).collect();
    flow.contents(&titles);
    for (i, block) in blocks.iter().enumerate() {
        flow.need(kept_together(&blocks, i));
        flow.block(block)?;
    }
    let footer =
        format!("{}  ·  plan document {hash}  ·  estimate for a proposal, not a release to build", fonts.within(name));
    pages::written(&flow.finished(&footer), name, wishes, &fonts).map_err(failed)
}

/// Height that a title needs with what it must not be parted from: a heading keeps the chart that it names, a section the
/// heading or chart that it begins with.
fn kept_together(blocks: &[Block], i: usize) -> f32 {
    const TITLE: f32 = 34.0 * flow::MM;
    let chart = |block: &Block| block.chart_height().map_or(0.0, |share| share * flow::WIDE);
    match blocks.get(i) {
        Some(Block::Heading(_)) => {
            let next = blocks.iter().skip(i + 1).take(2).take_while(|b| !matches!(b, Block::Heading(_)));
            next.map(chart).find(|high| *high > 0.0).map_or(0.0, |high| high + TITLE)
        }
        Some(Block::Section(..)) => match blocks.get(i + 1) {
            Some(Block::Heading(_)) => TITLE + kept_together(blocks, i + 1).max(TITLE),
            Some(figure @ Block::Figure(..)) => TITLE + chart(figure),
            _ => 0.0,
        },
        _ => 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn titles_stay_with_what_they_name() {
        let chart = || Block::Figure("<svg viewBox=\"0 0 180 90\"></svg>".to_owned(), Vec::new());
        let text = || Block::Text(Vec::new(), None);
        let (section, heading) = (|| Block::Section("1 A".to_owned(), false), || Block::Heading("B".to_owned()));
        let half = flow::WIDE / 2.0;
        assert!(kept_together(&[section(), heading(), chart()], 0) > kept_together(&[heading(), chart()], 0));
        assert!(kept_together(&[heading(), text(), chart()], 0) > half);
        assert!(kept_together(&[heading(), text(), heading(), chart()], 0) < half);
        assert!(kept_together(&[section(), text(), chart()], 0) < half && kept_together(&[text()], 3) < half);
    }
}
