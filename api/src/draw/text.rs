//! How wide text is, and how numbers are written on drawings.

/// Advance widths of the characters from space to tilde in thousandths of the size: Helvetica, after Adobe's font
/// metrics file `Helvetica.afm` (from memory); Arial and Liberation Sans have the same.
const WIDTHS: [u16; 95] = [
    278, 278, 355, 556, 556, 889, 667, 191, 333, 333, 389, 584, 278, 333, 278, 278, 556, 556, 556, 556, 556, 556, 556,
    556, 556, 556, 278, 278, 584, 584, 584, 556, 1015, 667, 667, 722, 722, 667, 611, 778, 722, 278, 500, 667, 556, 833,
    722, 778, 667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 278, 278, 278, 469, 556, 333, 556, 556, 500, 556,
    556, 278, 556, 556, 222, 222, 500, 222, 833, 556, 556, 556, 556, 333, 500, 278, 556, 500, 722, 500, 500, 500, 334,
    260, 334, 584,
];

/// Width of a text, in the unit of `size`.
#[must_use]
pub fn width(text: &str, size: f64) -> f64 {
    let thousandths: f64 = text.chars().map(advance).sum();
    thousandths / 1000.0 * size
}

fn advance(c: char) -> f64 {
    let at = (c as usize).wrapping_sub(' ' as usize);
    match WIDTHS.get(at) {
        Some(width) => f64::from(*width),
        None if c == '\u{a0}' || c == '·' => 278.0,
        None if (c as u32) >= 0x2e80 => 1000.0,
        None => 722.0,
    }
}

/// The text, cut short with an ellipsis where it is wider than `most`.
#[must_use]
pub fn clipped(text: &str, size: f64, most: f64) -> String {
    if width(text, size) <= most {
        return text.to_owned();
    }
    let mut short = String::new();
    for c in text.chars() {
        if width(&short, size) + advance(c) / 1000.0 * size + size > most {
            break;
        }
        short.push(c);
    }
    format!("{}…", short.trim_end())
}

/// Metres as whole millimetres, in groups of three from five digits on.
#[must_use]
pub fn mm(metres: f64) -> String {
    let digits = format!("{:.0}", (metres * 1000.0).round().abs());
    let sign = if metres * 1000.0 <= -0.5 { "-" } else { "" };
    if digits.len() < 5 {
        return format!("{sign}{digits}");
    }
    let mut out = String::new();
    for (i, c) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i) % 3 == 0 {
            out.push('\u{a0}');
        }
        out.push(c);
    }
    format!("{sign}{out}")
}

/// A number without zeros at its end.
#[must_use]
pub fn plain(number: f64, decimals: usize) -> String {
    let text = format!("{number:.decimals$}");
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// Letters by number: A to Z, AA, AB and so on.
#[must_use]
pub fn letter(i: usize) -> String {
    let last = char::from(b'A' + u8::try_from(i % 26).unwrap_or_default());
    if i < 26 { last.to_string() } else { format!("{}{last}", letter(i / 26 - 1)) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_and_letters() {
        assert_eq!((mm(1.3).as_str(), mm(12.0).as_str(), mm(0.000_2).as_str()), ("1300", "12\u{a0}000", "0"));
        assert_eq!(
            (plain(2.50, 3).as_str(), plain(-0.000_1, 2).as_str(), plain(100.0, 0).as_str()),
            ("2.5", "0", "100")
        );
        assert_eq!((letter(0), letter(25), letter(26), letter(52)), ("A".into(), "Z".into(), "AA".into(), "BA".into()));
    }

    #[test]
    fn clipping_keeps_within() {
        for most in [5.0, 20.0, 60.0] {
            assert!(width(&clipped("a station with a rather long name", 3.5, most), 3.5) <= most.max(4.0));
        }
        assert_eq!(clipped("load", 3.5, 20.0), "load");
    }
}
