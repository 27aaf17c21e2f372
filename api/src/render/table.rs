//! Tables and paragraphs of plain text.

use super::COLUMNS;

/// On which side of its column a cell stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Align {
    Left,
    Right,
}

/// A table with a title over each column. The last column takes what is left of the line, and wraps.
pub(super) struct Table {
    columns: Vec<(&'static str, Align)>,
    rows: Vec<Vec<String>>,
}

const GAP: usize = 2;
const LEAST_WIDTH: usize = 6;

impl Table {
    pub(super) fn new(columns: &[(&'static str, Align)]) -> Self {
        Self { columns: columns.to_vec(), rows: Vec::new() }
    }

    pub(super) fn row(&mut self, cells: Vec<String>) {
        self.rows.push(cells);
    }

    /// The widths, narrowed where the widest texts stand until the line fits.
    fn widths(&self) -> Vec<usize> {
        let last = self.columns.len().saturating_sub(1);
        let mut widths: Vec<usize> = self.columns.iter().map(|c| width(c.0)).collect();
        for row in &self.rows {
            for (w, cell) in widths.iter_mut().zip(row) {
                *w = (*w).max(width(cell));
            }
        }
        let room = COLUMNS.saturating_sub(GAP * last);
        // What wraps gives way first, but keeps a readable width.
        if let Some(w) = widths.get_mut(last)
            && self.columns[last].1 == Align::Left
        {
            *w = (*w).min(room * 3 / 8);
        }
        while widths.iter().sum::<usize>() > room {
            let texts = widths.iter().enumerate().filter(|(i, _)| self.columns[*i].1 == Align::Left);
            let Some((widest, w)) = texts.max_by_key(|(_, w)| **w).map(|(i, w)| (i, *w)) else { break };
            if w <= LEAST_WIDTH {
                break;
            }
            widths[widest] = w - 1;
        }
        // What the others leave.
        if let Some(w) = widths.last().copied() {
            let others: usize = widths.iter().sum::<usize>() - w;
            let needed = self.rows.iter().filter_map(|r| r.last()).map(|c| width(c)).max().unwrap_or(0).max(w);
            if let Some(of) = widths.get_mut(last) {
                *of = needed.min(room.saturating_sub(others)).max(LEAST_WIDTH);
            }
        }
        widths
    }

    pub(super) fn print(&self) -> String {
        let widths = self.widths();
        let mut out = String::new();
        let titles: Vec<String> = self.columns.iter().map(|c| c.0.to_owned()).collect();
        self.line(&mut out, &titles, &widths);
        let rule: Vec<String> = widths.iter().map(|w| "-".repeat(*w)).collect();
        self.line(&mut out, &rule, &widths);
        for row in &self.rows {
            self.line(&mut out, row, &widths);
        }
        out
    }

    fn line(&self, out: &mut String, cells: &[String], widths: &[usize]) {
        let last = cells.len().saturating_sub(1);
        let mut line = String::new();
        let mut before = 0;
        let mut more = Vec::new();
        for (i, ((cell, column), w)) in cells.iter().zip(&self.columns).zip(widths).enumerate() {
            let text = if i == last && column.1 == Align::Left {
                let mut lines = wrap(cell, *w).into_iter();
                let first = lines.next().unwrap_or_default();
                more = lines.collect();
                first
            } else {
                clip(cell, *w)
            };
            let fill = " ".repeat(w.saturating_sub(width(&text)));
            match column.1 {
                Align::Left => line += &format!("{text}{fill}"),
                Align::Right => line += &format!("{fill}{text}"),
            }
            if i < last {
                line += &" ".repeat(GAP);
                before += w + GAP;
            }
        }
        out.push_str(line.trim_end());
        out.push('\n');
        for text in more {
            out.push_str(&format!("{}{text}\n", " ".repeat(before)));
        }
    }
}

pub(super) fn width(text: &str) -> usize {
    text.chars().count()
}

/// Cut to a width, with a mark where something is missing.
pub(super) fn clip(text: &str, most: usize) -> String {
    if width(text) <= most {
        return text.to_owned();
    }
    let kept: String = text.chars().take(most.saturating_sub(1)).collect();
    format!("{kept}…")
}

/// Keeps a number and its unit on one line.
pub(super) const NBSP: char = '\u{a0}';

/// Lines of at most this width; a longer word has a line of its own and is cut.
pub(super) fn wrap(text: &str, most: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_ascii_whitespace() {
        match lines.last_mut() {
            Some(line) if width(line) + 1 + width(word) <= most => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(clip(word, most)),
        }
    }
    lines.iter().map(|line| line.replace(NBSP, " ")).collect()
}

/// A paragraph behind a label or a bullet of a fixed width.
pub(super) fn paragraph(label: &str, indent: usize, text: &str) -> String {
    let mut out = String::new();
    for (i, line) in wrap(text, COLUMNS.saturating_sub(indent)).iter().enumerate() {
        let before = if i == 0 { label } else { "" };
        out.push_str(&format!("{before}{}{line}\n", " ".repeat(indent.saturating_sub(width(before)))));
    }
    out
}

/// A heading with a line under it.
pub(super) fn heading(text: &str) -> String {
    format!("\n{text}\n{}\n", "-".repeat(width(text).min(COLUMNS)))
}

/// "3", or "3-5" where least and most differ; for numbers from zero.
pub(super) fn range<T: PartialOrd + Copy>(values: impl Iterator<Item = T>, text: impl Fn(T) -> String) -> String {
    let mut ends: Option<(T, T)> = None;
    for value in values {
        ends = Some(match ends {
            None => (value, value),
            Some((least, most)) => (if value < least { value } else { least }, if value > most { value } else { most }),
        });
    }
    match ends {
        None => "-".to_owned(),
        Some((least, most)) => {
            let (least, most) = (text(least), text(most));
            if least == most { least } else { format!("{least}-{most}") }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_line_is_longer_than_the_page() {
        let mut table = Table::new(&[("Name", Align::Left), ("Number", Align::Right), ("Says", Align::Left)]);
        table.row(vec!["n".repeat(90), "12.5".into(), "word ".repeat(40)]);
        table.row(vec!["short".into(), "7".into(), "x".repeat(200)]);
        let text = table.print();
        assert!(text.lines().all(|line| width(line) <= COLUMNS), "{text}");
        assert!(text.contains("12.5") && text.contains('…'), "{text}");
    }

    #[test]
    fn ranges() {
        assert_eq!(range([3, 5, 4].into_iter(), |n| n.to_string()), "3-5");
        assert_eq!(range([1.001, 1.004].into_iter(), |x| format!("{x:.2}")), "1.00");
        assert_eq!(range(std::iter::empty::<u32>(), |n| n.to_string()), "-");
    }
}
