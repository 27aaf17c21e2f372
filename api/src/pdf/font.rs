//! The fonts of the pages, and how wide text is in them.

use std::collections::BTreeSet;
use std::sync::Arc;

use krilla::text::{Font, GlyphId, KrillaGlyph};
use usvg::fontdb;

/// One face with its measures.
pub struct Face {
    /// As it is written into the document.
    pub font: Font,
    metrics: ttf_parser::Face<'static>,
}

impl Face {
    fn new(bytes: &'static [u8]) -> Option<Self> {
        Some(Self { font: Font::new(bytes.into(), 0)?, metrics: ttf_parser::Face::parse(bytes, 0).ok()? })
    }

    fn advance(&self, c: char) -> f32 {
        let glyph = self.metrics.glyph_index(c).unwrap_or_default();
        f32::from(self.metrics.glyph_hor_advance(glyph).unwrap_or(0)) / f32::from(self.metrics.units_per_em().max(1))
    }

    /// Width of a text, in the unit of `size`.
    pub fn width(&self, text: &str, size: f32) -> f32 {
        text.chars().map(|c| self.advance(c)).sum::<f32>() * size
    }

    /// The glyphs of a text, one for each character.
    pub fn glyphs(&self, text: &str) -> Vec<KrillaGlyph> {
        let glyph = |(at, c): (usize, char)| {
            let id = self.metrics.glyph_index(c).unwrap_or_default().0;
            KrillaGlyph::new(GlyphId::new(u32::from(id)), self.advance(c), 0.0, 0.0, 0.0, at..at + c.len_utf8(), None)
        };
        text.char_indices().map(glyph).collect()
    }
}

/// The faces of all pages.
pub struct Fonts {
    /// Text.
    pub regular: Face,
    /// Headings.
    pub bold: Face,
    /// The same for drawings and charts.
    pub known: Arc<fontdb::Database>,
}

impl Fonts {
    /// The faces that the program carries; none of the machine's.
    pub fn new() -> Option<Self> {
        let (regular, bold) = (dejavu::sans_condensed::regular(), dejavu::sans_condensed::bold());
        let mut known = fontdb::Database::new();
        known.load_font_source(fontdb::Source::Binary(Arc::new(regular)));
        known.load_font_source(fontdb::Source::Binary(Arc::new(bold)));
        let family = known.faces().next()?.families.first()?.0.clone();
        known.set_serif_family(family.clone());
        known.set_sans_serif_family(family);
        Some(Self { regular: Face::new(regular)?, bold: Face::new(bold)?, known: Arc::new(known) })
    }

    /// The face of this weight.
    pub fn face(&self, bold: bool) -> &Face {
        if bold { &self.bold } else { &self.regular }
    }

    /// Whether both weights have the letter.
    fn has(&self, c: char) -> bool {
        c.is_ascii() || [&self.regular, &self.bold].iter().all(|face| face.metrics.glyph_index(c).is_some())
    }

    /// The text with what the fonts lack replaced, so that no letter is dropped in silence.
    pub fn within(&self, text: &str) -> String {
        text.chars().map(|c| if self.has(c) { c } else { '\u{fffd}' }).collect()
    }

    /// Letters of a text that the fonts lack, each once.
    pub fn lacking(&self, text: &str) -> BTreeSet<char> {
        text.chars().filter(|c| !self.has(*c)).collect()
    }
}
