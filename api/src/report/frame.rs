//! What charts have in common: round steps, axes, and the place of a value on the sheet.

use maud::{Markup, PreEscaped, html};

use crate::draw::text;

/// Font size: capitals of 2.5 mm.
pub const SMALL: f64 = 3.5;
/// The styles of all charts.
pub const STYLE: &str = include_str!("chart.css");

/// 1, 2 or 5 times a power of ten, at least so large.
#[must_use]
pub fn nice(least: f64) -> f64 {
    if !(least.is_finite() && least > 0.0) {
        return 1.0;
    }
    let power = 10_f64.powf(least.log10().floor());
    [1.0, 2.0, 5.0, 10.0].into_iter().map(|m| m * power).find(|s| *s >= least * (1.0 - 1e-9)).unwrap_or(10.0 * power)
}

/// A range of values on a stretch of the sheet.
#[derive(Clone, Copy, Debug)]
pub struct Axis {
    low: f64,
    high: f64,
    step: f64,
    from: f64,
    to: f64,
}

impl Axis {
    /// Round values that hold all of these, on the sheet from `from` to `to`.
    #[must_use]
    pub fn holding(values: impl Iterator<Item = f64>, from: f64, to: f64) -> Self {
        let all: Vec<f64> = values.filter(|v| v.is_finite()).collect();
        let (least, most) =
            all.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(*v), high.max(*v)));
        let (least, most) = if least <= most { (least, most) } else { (0.0, 1.0) };
        let step = nice(((most - least) / 6.0).max(most.abs() * 1e-3).max(1e-9));
        let low = (least / step + 1e-9).floor() * step;
        let high = ((most / step - 1e-9).ceil() * step).max(low + step);
        Self { low, high, step, from, to }
    }

    /// This range and no more; its ticks are round values from the low end on.
    #[must_use]
    pub fn exactly(low: f64, high: f64, from: f64, to: f64) -> Self {
        Self { low, high, step: nice((high - low) / 8.0), from, to }
    }

    /// Where a value lies.
    #[must_use]
    pub fn at(&self, value: f64) -> f64 {
        self.from + (value - self.low) / (self.high - self.low) * (self.to - self.from)
    }

    /// Round values, each with its place and its text.
    #[must_use]
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    pub fn ticks(&self) -> Vec<(f64, String)> {
        let count = ((self.high - self.low) / self.step + 1e-6).floor().clamp(0.0, 50.0) as u32;
        let decimals = (-self.step.log10().floor()).clamp(0.0, 6.0) as usize;
        let tick = |i: u32| {
            let value = self.low + f64::from(i) * self.step;
            (self.at(value), text::plain(value, decimals))
        };
        (0..=count).map(tick).collect()
    }
}

/// A chart as a picture of its own: its size in millimetres, what is said of it, its paper, its styles, its patterns.
/// Patterns are named by the chart's id: `ID-hatch`, `ID-cross`, `ID-fine`, `ID-dots`.
#[must_use]
pub fn picture(id: &str, (wide, high): (f64, f64), (title, about): (&str, &str), inside: &Markup) -> Markup {
    let (w, h) = (n(wide), n(high));
    html! {
        svg xmlns="http://www.w3.org/2000/svg" id=(id) class="lw-chart" role="img" viewBox=(format!("0 0 {w} {h}"))
            width=(format!("{w}mm")) height=(format!("{h}mm")) {
            title { (title) }
            desc { (about) }
            style { (PreEscaped(STYLE)) }
            defs {
                pattern id=(format!("{id}-hatch")) width="1.8" height="1.8" patternUnits="userSpaceOnUse"
                    patternTransform="rotate(45)" { line x1="0" y1="0" x2="0" y2="1.8" class="lw-chart-hatch" {} }
                pattern id=(format!("{id}-cross")) width="1.4" height="1.4" patternUnits="userSpaceOnUse"
                    patternTransform="rotate(45)" { path d="M0 0V1.4M0 0H1.4" class="lw-chart-hatch" {} }
                pattern id=(format!("{id}-fine")) width="1.3" height="1.3" patternUnits="userSpaceOnUse"
                    patternTransform="rotate(45)" { line x1="0" y1="0" x2="0" y2="1.3" class="lw-chart-fine" {} }
                pattern id=(format!("{id}-dots")) width="1.6" height="1.6" patternUnits="userSpaceOnUse" {
                    circle cx="0.8" cy="0.8" r="0.35" class="lw-chart-dot" {}
                }
            }
            rect class="lw-chart-paper" x="0" y="0" width=(w) height=(h) {}
            (inside)
        }
    }
}

/// A bar: the class of its ground, and the pattern of the chart `id` over it where there is one.
#[must_use]
pub fn bar(id: &str, (class, pattern): (&str, &str), (x, y): (f64, f64), (wide, high): (f64, f64)) -> Markup {
    html! {
        rect class=(class) x=(n(x)) y=(n(y)) width=(n(wide)) height=(n(high)) {}
        @if !pattern.is_empty() {
            rect class="lw-chart-over" x=(n(x)) y=(n(y)) width=(n(wide)) height=(n(high)) fill=(format!("url(#{id}-{pattern})")) {}
        }
    }
}

/// A text at a place; `anchor` is `start`, `middle` or `end`.
#[must_use]
pub fn words(text: &str, (x, y): (f64, f64), anchor: &str) -> Markup {
    html! { text class="lw-chart-text" x=(n(x)) y=(n(y)) font-size=(SMALL) text-anchor=(anchor) { (text) } }
}

/// A number of the sheet.
#[must_use]
pub fn n(value: f64) -> String {
    text::plain(value, 3)
}

/// Grid and texts of both axes; x lies at `bottom`, y at `left`.
#[must_use]
pub fn axes(x: &Axis, y: &Axis, (x_name, y_name): (&str, &str)) -> Markup {
    let (left, right, bottom, top) = (x.from, x.to, y.from, y.to);
    html! {
        @for (at, words) in x.ticks() {
            line class="lw-chart-grid" x1=(n(at)) y1=(n(top)) x2=(n(at)) y2=(n(bottom)) {}
            text class="lw-chart-text" x=(n(at)) y=(n(bottom + 5.0)) font-size=(SMALL) text-anchor="middle" { (words) }
        }
        @for (at, words) in y.ticks() {
            line class="lw-chart-grid" x1=(n(left)) y1=(n(at)) x2=(n(right)) y2=(n(at)) {}
            text class="lw-chart-text" x=(n(left - 2.0)) y=(n(at + 1.3)) font-size=(SMALL) text-anchor="end" { (words) }
        }
        text class="lw-chart-text" x=(n(right)) y=(n(bottom + 10.5)) font-size=(SMALL) text-anchor="end" { (x_name) }
        text class="lw-chart-text" x=(n(left)) y=(n(top - 4.0)) font-size=(SMALL) { (y_name) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn round_steps_hold_all() {
        for (least, step) in [(0.3, 0.5), (2.0, 2.0), (7.1, 10.0), (0.011, 0.02), (0.0, 1.0)] {
            assert!((nice(least) - step).abs() < 1e-12, "{least}");
        }
        let axis = Axis::holding([0.83, 1.21].into_iter(), 10.0, 110.0);
        assert!(axis.at(0.83) >= 10.0 && axis.at(1.21) <= 110.0 && axis.ticks().len() > 3);
        let flat = Axis::holding([5.0, 5.0].into_iter(), 0.0, 100.0);
        assert!((0.0..=100.0).contains(&flat.at(5.0)) && flat.ticks().len() > 1);
    }
}
