//! A sheet of paper in millimetres, x to the right and y downwards: strokes, texts, and where texts already stand.

use maud::{Markup, html};

use super::geometry::{Point, Rect, Step};
use super::text;

/// Least font size: capitals of 2.5 mm, the least height for print at the sheet's size.
pub const SMALL: f64 = 3.5;

/// A place on the sheet, in millimetres.
pub type Spot = (f64, f64);

/// How a model lies on the sheet.
#[derive(Clone, Copy, Debug)]
pub struct View {
    /// Where the model's origin lies.
    pub origin: Spot,
    /// Millimetres on the sheet for a metre.
    pub per_m: f64,
}

impl View {
    /// A place of the model on the sheet.
    #[must_use]
    pub fn spot(&self, p: Point) -> Spot {
        (self.x(p.x), self.y(p.y))
    }

    /// Along x.
    #[must_use]
    pub fn x(&self, x: f64) -> f64 {
        self.origin.0 + x * self.per_m
    }

    /// Along y.
    #[must_use]
    pub fn y(&self, y: f64) -> f64 {
        self.origin.1 - y * self.per_m
    }

    /// A rectangle of the model on the sheet: left, top, width, height.
    #[must_use]
    pub fn rect(&self, r: Rect) -> Area {
        Area { x: self.x(r.x0), y: self.y(r.y1), w: r.length() * self.per_m, h: r.width() * self.per_m }
    }

    /// An outline as the data of a path. `left`: the model's loop turns to the left.
    #[must_use]
    pub fn path(&self, (begin, steps): &(Point, Vec<Step>), left: bool, close: bool) -> String {
        let mut d = format!("M{}", pair(self.spot(*begin)));
        for step in steps {
            match step {
                Step::Line(p) => d += &format!("L{}", pair(self.spot(*p))),
                Step::Arc(p, r) => {
                    let (r, sweep) = (num(r * self.per_m), u8::from(!left));
                    d += &format!("A{r} {r} 0 0 {sweep} {}", pair(self.spot(*p)));
                }
            }
        }
        if close { d + "Z" } else { d }
    }
}

/// A rectangle on the sheet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Area {
    /// Left.
    pub x: f64,
    /// Top.
    pub y: f64,
    /// Width.
    pub w: f64,
    /// Height.
    pub h: f64,
}

impl Area {
    /// Whether they have some of the sheet in common.
    #[must_use]
    pub fn meets(&self, other: &Self) -> bool {
        self.x < other.x + other.w
            && other.x < self.x + self.w
            && self.y < other.y + other.h
            && other.y < self.y + self.h
    }

    /// Whether it lies within.
    #[must_use]
    pub fn within(&self, other: &Self) -> bool {
        self.x >= other.x
            && self.y >= other.y
            && self.x + self.w <= other.x + other.w
            && self.y + self.h <= other.y + other.h
    }
}

/// A number of the sheet.
#[must_use]
pub fn num(n: f64) -> String {
    text::plain(n, 4)
}

/// Two of them.
#[must_use]
pub fn pair((x, y): Spot) -> String {
    format!("{} {}", num(x), num(y))
}

/// Where a text stands by its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// Begins there.
    Start,
    /// Has its middle there.
    Middle,
    /// Ends there.
    End,
}

impl Anchor {
    fn word(self) -> &'static str {
        match self {
            Self::Start => "start",
            Self::Middle => "middle",
            Self::End => "end",
        }
    }
}

/// A text and how it stands; its place is on its base line.
#[derive(Clone, Debug)]
pub struct Label {
    /// What it says.
    pub text: String,
    /// Where.
    pub at: Spot,
    /// By which point.
    pub anchor: Anchor,
    /// Font size.
    pub size: f64,
    /// Whether it is read from the right-hand side.
    pub turned: bool,
    /// Classes.
    pub class: &'static str,
}

impl Label {
    /// A small text with its middle at a place.
    #[must_use]
    pub fn new(text: impl Into<String>, at: Spot) -> Self {
        Self { text: text.into(), at, anchor: Anchor::Middle, size: SMALL, turned: false, class: "lw-text" }
    }

    /// Begins at its place.
    #[must_use]
    pub fn start(self) -> Self {
        Self { anchor: Anchor::Start, ..self }
    }

    /// Ends at its place.
    #[must_use]
    pub fn end(self) -> Self {
        Self { anchor: Anchor::End, ..self }
    }

    /// Read from the right-hand side.
    #[must_use]
    pub fn turned(self) -> Self {
        Self { turned: true, ..self }
    }

    /// With other classes.
    #[must_use]
    pub fn class(self, class: &'static str) -> Self {
        Self { class, ..self }
    }

    /// Of another size.
    #[must_use]
    pub fn size(self, size: f64) -> Self {
        Self { size, ..self }
    }

    /// What it covers of the sheet.
    #[must_use]
    pub fn area(&self) -> Area {
        let wide = text::width(&self.text, self.size) * if self.class.contains("lw-strong") { 1.08 } else { 1.0 };
        let (up, down) = (self.size * 0.78, self.size * 0.22);
        let before = match self.anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => wide / 2.0,
            Anchor::End => wide,
        };
        let (x, y) = self.at;
        if self.turned {
            Area { x: x - up, y: y - wide + before, w: up + down, h: wide }
        } else {
            Area { x: x - before, y: y - up, w: wide, h: up + down }
        }
    }
}

/// The sheet.
#[derive(Debug, Default)]
pub struct Paper {
    marks: Vec<Markup>,
    taken: Vec<Area>,
    blocked: Vec<Area>,
}

impl Paper {
    /// Adds any markup.
    pub fn put(&mut self, markup: Markup) {
        self.marks.push(markup);
    }

    /// A straight stroke.
    pub fn line(&mut self, class: &str, (x1, y1): Spot, (x2, y2): Spot) {
        self.put(html! { line class=(class) x1=(num(x1)) y1=(num(y1)) x2=(num(x2)) y2=(num(y2)) {} });
    }

    /// A rectangle.
    pub fn rect(&mut self, class: &str, area: Area) {
        self.put(rect(class, area));
    }

    /// A path.
    pub fn path(&mut self, class: &str, d: &str) {
        self.put(html! { path class=(class) d=(d) {} });
    }

    /// A text; its place is taken from now on.
    pub fn label(&mut self, label: &Label) {
        self.taken.push(label.area());
        self.put(text_mark(label));
    }

    /// The first of the labels that has its place for itself, if any.
    pub fn label_where_free(&mut self, labels: impl IntoIterator<Item = Label>) -> Option<Label> {
        let free = labels.into_iter().find(|label| self.is_free(&label.area()))?;
        self.label(&free);
        Some(free)
    }

    /// Whether no text stands there, with a little air between.
    #[must_use]
    pub fn is_free(&self, area: &Area) -> bool {
        let aired = Area { x: area.x - 0.4, y: area.y - 0.2, w: area.w + 0.8, h: area.h + 0.4 };
        !self.taken.iter().any(|taken| taken.meets(&aired))
    }

    /// Takes a place without a text.
    pub fn take(&mut self, area: Area) {
        self.taken.push(area);
    }

    /// Keeps what stands beside things, such as a depth or a letter, off a place.
    pub fn block(&mut self, area: Area) {
        self.blocked.push(area);
    }

    /// Whether something lies there that is to be kept clear.
    #[must_use]
    pub fn is_blocked(&self, area: &Area) -> bool {
        self.blocked.iter().any(|blocked| blocked.meets(area))
    }

    /// All that was put on it.
    #[must_use]
    pub fn into_markup(self) -> Markup {
        html! { @for mark in self.marks { (mark) } }
    }
}

/// A rectangle.
#[must_use]
pub fn rect(class: &str, a: Area) -> Markup {
    html! { rect class=(class) x=(num(a.x)) y=(num(a.y)) width=(num(a.w.max(0.0))) height=(num(a.h.max(0.0))) {} }
}

fn text_mark(label: &Label) -> Markup {
    let (x, y) = (num(label.at.0), num(label.at.1));
    let turned = label.turned.then(|| format!("rotate(-90 {x} {y})"));
    html! {
        text class=(label.class) x=(x) y=(y) font-size=(num(label.size)) text-anchor=(label.anchor.word())
            transform=[turned] { (label.text) }
    }
}
