//! Text broken into lines.

use super::font::Fonts;
use super::source::Run;

/// Size of pointers and remarks.
pub const SMALL: f32 = 7.0;

/// A piece of a line.
#[derive(Clone, Debug)]
pub struct Piece {
    pub x: f32,
    pub text: String,
    pub size: f32,
    pub bold: bool,
    pub grey: bool,
}

/// A line, with its width.
#[derive(Clone, Debug, Default)]
pub struct Line {
    pub pieces: Vec<Piece>,
    pub wide: f32,
}

/// Text broken into lines of at most this width; words that are wider are broken.
pub fn lines(runs: &[Run], size: f32, wide: f32, fonts: &Fonts) -> Vec<Line> {
    let mut all = vec![Line::default()];
    // The pieces of the word that is being read, and whether a blank stands before it.
    let mut word: Vec<Piece> = Vec::new();
    let mut blank = false;
    let space = fonts.regular.width(" ", size);
    let put = |word: &mut Vec<Piece>, blank: bool, all: &mut Vec<Line>| {
        let long: f32 = word.iter().map(|p| fonts.face(p.bold).width(&p.text, p.size)).sum();
        let Some(line) = all.last_mut() else { return };
        let gap = if blank && !line.pieces.is_empty() { space } else { 0.0 };
        let mut x = line.wide + gap;
        if !line.pieces.is_empty() && x + long > wide {
            all.push(Line::default());
            x = 0.0;
        }
        for piece in word.drain(..) {
            let mut rest = Piece { text: String::new(), ..piece.clone() };
            for c in piece.text.chars() {
                let step = fonts.face(piece.bold).width(c.encode_utf8(&mut [0; 4]), piece.size);
                let Some(line) = all.last_mut() else { return };
                if x + step > wide && x > 0.0 {
                    if !rest.text.is_empty() {
                        line.pieces.push(rest.clone());
                    }
                    line.wide = x;
                    rest.text.clear();
                    all.push(Line::default());
                    x = 0.0;
                }
                if rest.text.is_empty() {
                    rest.x = x;
                }
                rest.text.push(c);
                x += step;
            }
            if let Some(line) = all.last_mut() {
                if !rest.text.is_empty() {
                    line.pieces.push(rest);
                }
                line.wide = x;
            }
        }
    };
    for run in runs {
        let own = if run.small { size.min(SMALL) } else { size };
        if run.below {
            put(&mut word, blank, &mut all);
            blank = false;
            all.push(Line::default());
        }
        for part in run.text.split_inclusive([' ', '\n']) {
            let text = part.trim_end_matches([' ', '\n']);
            if !text.is_empty() {
                word.push(Piece { x: 0.0, text: text.to_owned(), size: own, bold: run.bold, grey: run.small });
            }
            if text.len() < part.len() {
                if !word.is_empty() {
                    put(&mut word, blank, &mut all);
                }
                blank = true;
            }
        }
    }
    if !word.is_empty() {
        put(&mut word, blank, &mut all);
    }
    all.retain(|line| !line.pieces.is_empty());
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_keep_within_and_lose_nothing() {
        let fonts = Fonts::new().unwrap();
        let text =
            "Every SKU makes its design rate, which is /skus/0/loads/a-very-long-name-of-a-circuit/extent_mm long";
        let runs =
            [Run { text: text.to_owned(), ..Run::default() }, Run { text: " m²".into(), bold: true, ..Run::default() }];
        for wide in [40.0, 90.0, 400.0] {
            let all = lines(&runs, 9.0, wide, &fonts);
            assert!(all.iter().all(|line| line.wide <= wide + 1e-3), "{wide}");
            let again: String = all.iter().flat_map(|l| &l.pieces).flat_map(|p| p.text.chars()).collect();
            assert_eq!(again, format!("{text} m²").replace(' ', ""));
            for line in &all {
                for pair in line.pieces.windows(2) {
                    let end = pair[0].x + fonts.face(pair[0].bold).width(&pair[0].text, pair[0].size);
                    assert!(pair[1].x >= end - 1e-3, "{pair:?}");
                }
            }
        }
    }
}
