//! Blocks on pages of A4, one below another; drawings on pages of their own size. Lengths are points.

use super::font::Fonts;
use super::lines::{Line, SMALL, lines};
use super::source::{Block, Run};
use super::svg::{Picture, drawing};
use super::{failed, table};
use crate::draw::Titles;
use crate::finding::Finding;

/// Points in a millimetre.
pub const MM: f32 = 72.0 / 25.4;
const A4: (f32, f32) = (210.0 * MM, 297.0 * MM);
/// Charts are 180 mm wide, so that their texts keep their height.
const LEFT: f32 = 15.0 * MM;
const TOP: f32 = 16.0 * MM;
const BOTTOM: f32 = 18.0 * MM;
/// Width between the margins.
pub const WIDE: f32 = A4.0 - 2.0 * LEFT;
/// Size of text.
pub const TEXT: f32 = 9.5;
/// From line to line, in sizes.
pub const LINE: f32 = 1.32;

/// What stands on a page.
pub enum Mark {
    /// Where its baseline begins.
    Text {
        at: (f32, f32),
        text: String,
        size: f32,
        bold: bool,
        grey: bool,
    },
    Line {
        from: (f32, f32),
        to: (f32, f32),
        width: f32,
    },
    /// Ground of a row.
    Band {
        at: (f32, f32),
        size: (f32, f32),
    },
    Picture {
        at: (f32, f32),
        size: (f32, f32),
        picture: Picture,
    },
    /// A place that leads to a section.
    Link {
        at: (f32, f32),
        size: (f32, f32),
        section: usize,
    },
}

/// A page.
pub struct Page {
    pub size: (f32, f32),
    pub marks: Vec<Mark>,
}

/// Where a section begins.
pub struct Section {
    pub title: String,
    pub page: usize,
    pub y: f32,
}

/// All pages.
pub struct Finished {
    pub pages: Vec<Page>,
    pub sections: Vec<Section>,
}

/// Pages that are being filled.
pub struct Flow<'a> {
    pub fonts: &'a Fonts,
    done: Finished,
    y: f32,
    /// Where the contents' page numbers go: page, height of each line.
    numbers: Vec<f32>,
}

impl<'a> Flow<'a> {
    pub fn new(fonts: &'a Fonts) -> Self {
        let mut flow =
            Self { fonts, done: Finished { pages: Vec::new(), sections: Vec::new() }, y: 0.0, numbers: Vec::new() };
        flow.page();
        flow
    }

    /// Begins a page.
    pub fn page(&mut self) {
        self.done.pages.push(Page { size: A4, marks: Vec::new() });
        self.y = TOP;
    }

    /// Height that is left on the page.
    pub fn left(&self) -> f32 {
        A4.1 - BOTTOM - self.y
    }

    /// Whether nothing stands on the page.
    pub fn fresh(&self) -> bool {
        self.y <= TOP
    }

    /// Begins a page where so much height is not left.
    pub fn need(&mut self, high: f32) {
        if self.left() < high && !self.fresh() {
            self.page();
        }
    }

    /// Leaves so much height free.
    pub fn skip(&mut self, high: f32) {
        if !self.fresh() {
            self.y += high;
        }
    }

    /// Goes on so much further down, at the top of a page too.
    pub fn advance(&mut self, high: f32) {
        self.y += high;
    }

    /// Puts a mark on the page, measured from the left margin and from where the flow stands.
    pub fn put(&mut self, mark: Mark) {
        let (x, y) = (LEFT, self.y);
        let moved = |(a, b): (f32, f32)| (a + x, b + y);
        let mark = match mark {
            Mark::Text { at, text, size, bold, grey } => Mark::Text { at: moved(at), text, size, bold, grey },
            Mark::Line { from, to, width } => Mark::Line { from: moved(from), to: moved(to), width },
            Mark::Band { at, size } => Mark::Band { at: moved(at), size },
            Mark::Picture { at, size, picture } => Mark::Picture { at: moved(at), size, picture },
            Mark::Link { at, size, section } => Mark::Link { at: moved(at), size, section },
        };
        if let Some(page) = self.done.pages.last_mut() {
            page.marks.push(mark);
        }
    }

    /// A line of text with its baseline one size below.
    pub fn line(&mut self, line: &Line, x: f32, down: f32, size: f32) {
        for piece in &line.pieces {
            let at = (x + piece.x, down + size);
            self.put(Mark::Text { at, text: piece.text.clone(), size: piece.size, bold: piece.bold, grey: piece.grey });
        }
    }

    fn paragraph(&mut self, runs: &[Run], size: f32, indent: f32, mark: Option<&str>) {
        let all = lines(runs, size, WIDE - indent, self.fonts);
        for (i, line) in all.iter().enumerate() {
            self.need(size * LINE * if i == 0 { 2.0_f32.min(all.len() as f32) } else { 1.0 });
            if let (0, Some(mark)) = (i, mark) {
                let at = (indent - 4.5 * MM, size);
                self.put(Mark::Text { at, text: mark.to_owned(), size, bold: false, grey: false });
            }
            self.line(line, indent, 0.0, size);
            self.advance(size * LINE);
        }
    }

    fn words(&mut self, text: &str, size: f32, bold: bool, small: bool) {
        self.paragraph(&[Run { text: text.to_owned(), bold, small, below: false }], size, 0.0, None);
    }

    /// Head of the first page.
    pub fn cover(&mut self, name: &str, hash: &str, titles: &Titles, logo: Option<Picture>) {
        if let Some(picture) = logo {
            let high = (14.0 * MM).min(60.0 * MM / picture.shape());
            let size = (high * picture.shape(), high);
            self.put(Mark::Picture { at: (0.0, 0.0), size, picture });
            self.advance(high + 3.0 * MM);
        }
        if let Some(company) = &titles.company {
            self.words(&self.fonts.within(company), 11.0, true, false);
        }
        self.advance(2.0 * MM);
        self.words(name, 20.0, true, false);
        self.words("Plan of a packaging cell: report for a proposal", TEXT, false, false);
        let fields = [("No.", &titles.number), ("Date", &titles.date), ("Issued by", &titles.author)];
        let mut said: Vec<String> =
            fields.iter().filter_map(|(what, value)| Some(format!("{what} {}", value.as_ref()?))).collect();
        said.push(format!("Plan document {hash}"));
        self.words(&self.fonts.within(&said.join("   ")), TEXT, false, false);
        self.advance(1.5 * MM);
        let warning =
            "This is an estimate for a proposal, not a release to build. Read the cautions before anything is built.";
        self.words(warning, TEXT, true, false);
        self.advance(2.0 * MM);
    }

    /// A remark on the first page.
    pub fn note(&mut self, text: &str) {
        self.words(text, TEXT, false, false);
        self.advance(2.0 * MM);
    }

    /// The list of sections; their pages are written in at the end.
    pub fn contents(&mut self, titles: &[&str]) {
        for (i, title) in titles.iter().enumerate() {
            self.words(title, TEXT, false, false);
            self.numbers.push(self.y - TEXT * LINE);
            let (at, size) = ((0.0, -TEXT * LINE), (WIDE, TEXT * LINE));
            self.put(Mark::Link { at, size, section: i });
        }
    }

    /// One block after another.
    pub fn block(&mut self, block: &Block) -> Result<(), Finding> {
        match block {
            Block::Section(title, breaks) => {
                if *breaks && !self.fresh() {
                    self.page();
                }
                self.need(40.0 * MM);
                self.skip(6.0 * MM);
                let (page, y) = (self.done.pages.len() - 1, self.y);
                self.done.sections.push(Section { title: title.clone(), page, y });
                self.put(Mark::Line { from: (0.0, 0.0), to: (WIDE, 0.0), width: 1.0 });
                self.advance(2.5 * MM);
                self.words(title, 14.0, true, false);
                self.advance(1.5 * MM);
            }
            Block::Heading(title) => {
                self.need(28.0 * MM);
                self.skip(3.0 * MM);
                self.words(title, 10.5, true, false);
                self.advance(1.0 * MM);
            }
            Block::Text(runs, mark) => {
                let indent = if mark.is_some() { 7.0 * MM } else { 0.0 };
                self.paragraph(runs, TEXT, indent, mark.as_deref());
                self.advance(1.4 * MM);
            }
            Block::Table { head, rows } => table::table(self, head, rows),
            Block::Tiles(tiles) => self.tiles(tiles),
            Block::Figure(svg, caption) => {
                let tree = drawing(svg, self.fonts).map_err(failed)?;
                let high = WIDE * tree.size().height() / tree.size().width();
                self.need(high + 8.0 * MM);
                let picture = Picture::Drawn(Box::new(tree));
                self.put(Mark::Picture { at: (0.0, 0.0), size: (WIDE, high), picture });
                self.advance(high);
                self.paragraph(caption, TEXT, 0.0, None);
                self.advance(3.0 * MM);
            }
            Block::Sheet(svg) => {
                let tree = drawing(svg, self.fonts).map_err(failed)?;
                // The sheet's millimetres came as dots, 96 in an inch.
                let size = (tree.size().width() * 0.75, tree.size().height() * 0.75);
                let picture = Picture::Drawn(Box::new(tree));
                let sheet = Page { size, marks: vec![Mark::Picture { at: (0.0, 0.0), size, picture }] };
                self.done.pages.push(sheet);
                self.page();
            }
        }
        Ok(())
    }

    fn tiles(&mut self, tiles: &[Vec<Vec<Run>>]) {
        const EACH: usize = 3;
        const FIGURE: f32 = 13.0;
        let gap = 3.0 * MM;
        let wide = (WIDE - gap * (EACH as f32 - 1.0)) / EACH as f32;
        for row in tiles.chunks(EACH) {
            let of = |tile: &Vec<Vec<Run>>| {
                let sized = |runs: &Vec<Run>| {
                    let size = if runs.iter().any(|r| r.bold) { FIGURE } else { 8.5 };
                    lines(runs, size, wide - 4.0 * MM, self.fonts)
                        .into_iter()
                        .map(move |l| (l, size))
                        .collect::<Vec<_>>()
                };
                tile.iter().flat_map(sized).collect::<Vec<_>>()
            };
            let all: Vec<Vec<(Line, f32)>> = row.iter().map(of).collect();
            let high = |tile: &Vec<(Line, f32)>| tile.iter().map(|(_, size)| size * LINE).sum::<f32>();
            let most = all.iter().map(high).fold(0.0, f32::max) + 3.0 * MM;
            self.need(most);
            for (i, tile) in all.iter().enumerate() {
                let (x0, x1) = (i as f32 * (wide + gap), i as f32 * (wide + gap) + wide);
                for (from, to) in
                    [((x0, 0.0), (x1, 0.0)), ((x1, 0.0), (x1, most)), ((x1, most), (x0, most)), ((x0, most), (x0, 0.0))]
                {
                    self.put(Mark::Line { from, to, width: 0.4 });
                }
                let mut down = 1.5 * MM;
                for (line, size) in tile {
                    self.line(line, x0 + 2.0 * MM, down, *size);
                    down += size * LINE;
                }
            }
            self.advance(most + gap);
        }
    }

    /// The pages, with page numbers in the contents and at the foot of each page.
    pub fn finished(mut self, footer: &str) -> Finished {
        // A drawing at the very end leaves an empty page.
        if self.done.pages.last().is_some_and(|page| page.marks.is_empty()) {
            self.done.pages.pop();
        }
        let total = self.done.pages.len();
        let right = LEFT + WIDE;
        let text =
            |at: (f32, f32), text: String, size: f32, grey: bool| Mark::Text { at, text, size, bold: false, grey };
        let places: Vec<(f32, usize)> =
            self.numbers.iter().copied().zip(self.done.sections.iter().map(|s| s.page + 1)).collect();
        for (y, page) in places {
            let number = page.to_string();
            let x = right - self.fonts.regular.width(&number, TEXT);
            if let Some(first) = self.done.pages.first_mut() {
                first.marks.push(text((x, y + TEXT), number, TEXT, false));
            }
        }
        for (i, page) in self.done.pages.iter_mut().enumerate().filter(|(_, page)| page.size == A4) {
            let number = format!("{} of {total}", i + 1);
            let y = A4.1 - 9.0 * MM;
            let room = WIDE - self.fonts.regular.width(&number, SMALL) - 5.0 * MM;
            let words = Run { text: footer.to_owned(), ..Run::default() };
            let first = lines(&[words], SMALL, room, self.fonts).into_iter().next().unwrap_or_default();
            let from = (LEFT, y - 3.0 * MM);
            page.marks.push(Mark::Line { from, to: (right, from.1), width: 0.4 });
            page.marks.extend(first.pieces.into_iter().map(|p| text((LEFT + p.x, y), p.text, SMALL, true)));
            page.marks.push(text((right - self.fonts.regular.width(&number, SMALL), y), number, SMALL, true));
        }
        self.done
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_tables_go_on_with_their_head_and_rows_higher_than_a_page_are_broken() {
        let fonts = Fonts::new().unwrap();
        let cell =
            |text: String| super::super::source::Cell { runs: vec![Run { text, ..Run::default() }], right: false };
        let mut rows: Vec<Vec<_>> = (0..200).map(|i| vec![cell(format!("row{i}")), cell("x".into())]).collect();
        rows.push(vec![cell("last".into()), cell("many words in one cell ".repeat(900))]);
        let mut flow = Flow::new(&fonts);
        flow.block(&Block::Table { head: vec![cell("head".into()), cell("b".into())], rows }).unwrap();
        let finished = flow.finished("foot");
        let texts = |page: &Page| {
            let of = page
                .marks
                .iter()
                .filter_map(|m| if let Mark::Text { text, at, .. } = m { Some((text.clone(), at.1)) } else { None });
            of.collect::<Vec<_>>()
        };
        assert!(finished.pages.len() > 4);
        for page in &finished.pages {
            let all = texts(page);
            assert!(all.iter().any(|(text, _)| text == "head") && all.iter().all(|(_, y)| *y < A4.1));
            assert!(all.iter().filter(|(text, _)| text != "foot").filter(|(_, y)| *y > A4.1 - BOTTOM).count() <= 3);
        }
        let words = finished.pages.iter().flat_map(texts).filter(|(text, _)| text == "many").count();
        assert_eq!(words, 900);
    }
}
