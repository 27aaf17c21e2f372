//! Variants of one document, planned side by side.

use super::Doing;
use super::difference::difference;
use super::edit::changed;
use super::short::{Told, told};
use super::usual::usual;
use crate::check::Document;
use crate::finding::Finding;
use crate::show::Reasons;
use crate::wire::alternatives::{CompareDocument, Compared, FORMAT, Short, Variant};

/// How the document itself is called in the table.
pub(super) const AS_ASKED: &str = "as asked";

/// Plans the document as it is and in each variant, and says why the plans differ.
///
/// # Errors
/// A finding when the planner contradicts itself.
pub fn compare(
    document: &Document,
    own: &[Variant],
    with_usual: bool,
    doing: &Doing<'_>,
) -> Result<CompareDocument, Finding> {
    // The first plan decides what the other way of working of a station is.
    let count = u32::try_from(own.len() + if with_usual { 4 } else { 0 }).unwrap_or(u32::MAX);
    let first = told(Ok(document), Reasons::Short, doing.left() * 2 / (count.saturating_add(2)), doing)?;
    let mut variants = own.to_vec();
    if with_usual {
        variants.extend(usual(document, first.planned.as_deref()));
    }
    let rest = doing.each(&variants, |variant, limit| {
        let changed = changed(document, &variant.changes);
        told(changed.as_ref().map_err(Vec::as_slice), Reasons::Short, limit, doing)
    });
    let mut all: Vec<(String, Variant, Told)> = Vec::new();
    let base = Variant { name: AS_ASKED.to_owned(), changes: Vec::new() };
    all.push((base.name.clone(), base, first));
    for (variant, told) in variants.into_iter().zip(rest) {
        all.push((variant.name.clone(), variant, told?));
    }
    let mut differences = Vec::new();
    for (i, (a, _, of)) in all.iter().enumerate() {
        for (j, (b, _, than)) in all.iter().enumerate().take(i) {
            let (Some(x), Some(y)) = (&of.planned, &than.planned) else { continue };
            let place = |at: usize| u32::try_from(at).unwrap_or(u32::MAX);
            differences.extend(difference((place(i), a, x), (place(j), b, y)));
        }
    }
    let first = all.first().map(|(_, _, told)| told.short.clone());
    let variants = all.into_iter().map(|(name, variant, told)| {
        let marks = first.as_ref().map(|first| marks(first, &told.short)).unwrap_or_default();
        Compared { name, changes: variant.changes, plan: told.short, marks }
    });
    Ok(CompareDocument { format: FORMAT, name: document.wire.name.clone(), variants: variants.collect(), differences })
}

/// What differs from the first, in words.
fn marks(first: &Short, other: &Short) -> Vec<String> {
    let mut all = Vec::new();
    if let (Some(a), Some(b)) = (&first.form, &other.form)
        && a != b
    {
        all.push(format!("form {b}"));
    }
    for station in &other.stations {
        let Some(was) = first.stations.iter().find(|s| s.id == station.id) else { continue };
        let mode = super::sweep::word(station.mode);
        let heads = format!("{} {}", station.heads, if station.heads == 1 { "head" } else { "heads" });
        if was.mode != station.mode {
            all.push(format!("{} {mode}, {heads}", station.id));
        } else if was.heads != station.heads {
            all.push(format!("{} {heads}", station.id));
        }
    }
    all
}
