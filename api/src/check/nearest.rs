//! Which known word was probably meant.

/// Words longer than this are not compared: no key or id that is meant is so long.
const LONGEST: usize = 64;

/// The known word nearest to this one, if one is near. A word with the unit left off is near too.
pub(super) fn nearest<'w>(word: &str, known: impl IntoIterator<Item = &'w str>) -> Option<&'w str> {
    let letters: Vec<char> = word.to_lowercase().chars().take(LONGEST + 1).collect();
    if letters.is_empty() || letters.len() > LONGEST {
        return None;
    }
    let near = (letters.len() / 3).max(1);
    known
        .into_iter()
        .map(|candidate| {
            let other: Vec<char> = candidate.to_lowercase().chars().take(LONGEST + 1).collect();
            let without_unit = other.starts_with(&letters) && other.get(letters.len()) == Some(&'_');
            (if without_unit { 1 } else { distance(&letters, &other) }, candidate)
        })
        .filter(|&(distance, _)| distance <= near)
        .min_by_key(|&(distance, _)| distance)
        .map(|(_, candidate)| candidate)
}

/// Least number of letters to insert, delete, replace or swap with their neighbour (optimal string alignment).
fn distance(a: &[char], b: &[char]) -> usize {
    let mut before: Vec<usize> = Vec::new();
    let mut last: Vec<usize> = (0..=b.len()).collect();
    for (i, &x) in a.iter().enumerate() {
        let mut row = Vec::with_capacity(b.len() + 1);
        row.push(i + 1);
        for (j, &y) in b.iter().enumerate() {
            let mut least = (last[j] + usize::from(x != y)).min(last[j + 1] + 1).min(row[j] + 1);
            if i > 0 && j > 0 && x == b[j - 1] && y == a[i - 1] {
                least = least.min(before[j - 1] + 1);
            }
            row.push(least);
        }
        before = std::mem::replace(&mut last, row);
    }
    last.last().copied().unwrap_or(a.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_what_was_meant() {
        let keys = ["length_mm", "gap_mm", "mass_kg", "max_speed_m_s", "price"];
        for (word, meant) in [
            ("lenght_mm", Some("length_mm")),
            ("length", Some("length_mm")),
            ("mass_g", Some("mass_kg")),
            ("Price", Some("price")),
            ("max_speed_mm_s", Some("max_speed_m_s")),
            ("colour", None),
            ("", None),
        ] {
            assert_eq!(nearest(word, keys), meant, "{word}");
        }
        assert_eq!(nearest(&"x".repeat(1_000_000), keys), None);
    }

    #[test]
    fn distances() {
        let of = |a: &str, b: &str| distance(&a.chars().collect::<Vec<_>>(), &b.chars().collect::<Vec<_>>());
        assert_eq!([of("", "abc"), of("abc", ""), of("ab", "ba"), of("kitten", "sitting")], [3, 3, 1, 3]);
    }
}
