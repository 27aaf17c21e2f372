//! Pages written as PDF.

use krilla::annotation::{Annotation, LinkAnnotation, Target};
use krilla::color::luma;
use krilla::destination::XyzDestination;
use krilla::geom::{PathBuilder, Point, Rect, Size, Transform};
use krilla::metadata::Metadata;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, Stroke};
use krilla::surface::Surface;
use krilla_svg::{SurfaceExt, SvgSettings};

use super::flow::{Finished, Mark};
use super::font::Fonts;
use super::svg::Picture;
use crate::print::Wishes;

fn grey(part: u8) -> Option<Fill> {
    Some(Fill { paint: luma::Color::new(part).into(), ..Fill::default() })
}

/// The document, the same bytes for the same pages: no clock, no random numbers.
pub fn written(finished: &Finished, name: &str, wishes: &Wishes, fonts: &Fonts) -> Result<Vec<u8>, String> {
    let mut document = krilla::Document::new();
    let mut metadata = Metadata::new()
        .title(format!("{name}: report"))
        .creator(format!("Loopwright {}", env!("CARGO_PKG_VERSION")))
        .language("en".to_owned());
    if let Some(author) = wishes.titles.author.as_ref().or(wishes.titles.company.as_ref()) {
        metadata = metadata.authors(vec![author.clone()]);
    }
    document.set_metadata(metadata);
    let place = |section: usize| {
        let section = finished.sections.get(section)?;
        Some(XyzDestination::new(section.page, Point::from_xy(0.0, section.y)))
    };
    for page in &finished.pages {
        let settings = PageSettings::from_wh(page.size.0, page.size.1).ok_or("a page has no size")?;
        let mut sheet = document.start_page_with(settings);
        let mut surface = sheet.surface();
        // Grounds first, so that nothing lies under them.
        let (grounds, others): (Vec<&Mark>, Vec<&Mark>) =
            page.marks.iter().partition(|m| matches!(m, Mark::Band { .. }));
        grounds.iter().chain(&others).for_each(|m| mark(&mut surface, m, fonts));
        surface.finish();
        for mark in &page.marks {
            let Mark::Link { at, size, section } = mark else { continue };
            let (Some(area), Some(to)) = (Rect::from_xywh(at.0, at.1, size.0, size.1), place(*section)) else {
                continue;
            };
            let link = LinkAnnotation::new(area, Target::Destination(to.into()));
            sheet.add_annotation(Annotation::new_link(link, None));
        }
        sheet.finish();
    }
    let mut outline = Outline::new();
    for (i, section) in finished.sections.iter().enumerate() {
        if let Some(to) = place(i) {
            outline.push_child(OutlineNode::new(section.title.clone(), to));
        }
    }
    document.set_outline(outline);
    document.finish().map_err(|error| format!("{error:?}"))
}

fn mark(surface: &mut Surface<'_>, mark: &Mark, fonts: &Fonts) {
    match mark {
        Mark::Text { at, text, size, bold, grey: soft } => {
            surface.set_fill(grey(if *soft { 70 } else { 0 }));
            surface.set_stroke(None);
            let face = fonts.face(*bold);
            let start = Point::from_xy(at.0, at.1);
            surface.draw_glyphs(start, &face.glyphs(text), face.font.clone(), text, *size, false);
        }
        Mark::Line { from, to, width } => {
            let mut path = PathBuilder::new();
            path.move_to(from.0, from.1);
            path.line_to(to.0, to.1);
            surface.set_fill(None);
            surface.set_stroke(Some(Stroke { paint: luma::Color::new(0).into(), width: *width, ..Stroke::default() }));
            if let Some(path) = path.finish() {
                surface.draw_path(&path);
            }
        }
        Mark::Band { at, size } => {
            let mut path = PathBuilder::new();
            if let Some(area) = Rect::from_xywh(at.0, at.1, size.0, size.1) {
                path.push_rect(area);
            }
            surface.set_fill(grey(243));
            surface.set_stroke(None);
            if let Some(path) = path.finish() {
                surface.draw_path(&path);
            }
        }
        Mark::Picture { at, size, picture } => {
            let Some(area) = Size::from_wh(size.0, size.1) else { return };
            surface.push_transform(&Transform::from_translate(at.0, at.1));
            match picture {
                Picture::Drawn(tree) => {
                    let _ = surface.draw_svg(tree, area, SvgSettings::default());
                }
                Picture::Dots(image) => surface.draw_image(image.clone(), area),
            }
            surface.pop();
        }
        Mark::Link { .. } => {}
    }
}
