//! Variants of one document, planned side by side.

use super::difference::difference;
use super::edit::changed;
use super::operation::play;
use super::planning::{Doing, Nobody, Stage};
use super::short::{Told, told};
use super::usual::usual;
use crate::check::Document;
use crate::finding::Finding;
use crate::show::Reasons;
use crate::simulate::wanted;
use crate::wire::alternatives::{CompareDocument, Compared, FORMAT, Short, Variant};
use crate::wire::simulation::SimulationRun;

/// How the document itself is called in the table.
pub(super) const AS_ASKED: &str = "as asked";

/// Plans the document as it is and in each variant, says why the plans differ, and with a `run` simulates each of them.
///
/// # Errors
/// A finding when the planner contradicts itself.
pub fn compare(
    document: &Document,
    own: &[Variant],
    with_usual: bool,
    run: Option<&SimulationRun>,
    doing: &Doing<'_>,
) -> Result<CompareDocument, Finding> {
    // A simulation has half of the time, and what planning leaves of the other half.
    let limit = if run.is_some() { doing.left() / 2 } else { doing.left() };
    let planning = doing.part(limit, &Nobody);
    // The first plan decides what the other way of working of a station is.
    let count = u32::try_from(own.len() + if with_usual { 4 } else { 0 }).unwrap_or(u32::MAX);
    let first = told(Ok(document), Reasons::Short, planning.left() * 2 / (count.saturating_add(2)), doing)?;
    let mut variants = own.to_vec();
    if with_usual {
        variants.extend(usual(document, first.planned.as_deref()));
    }
    // Each plan counts as one part, and so does each simulation of one of its SKUs.
    let plans = variants.len() + 1;
    let of = plans * (1 + run.map_or(0, |run| wanted(document, run).len()));
    doing.tell(1, of);
    let stage = Stage { whole: doing, before: 1, parts: plans - 1, of };
    let rest = planning.part(limit, &stage).each(&variants, |variant, limit| {
        let changed = changed(document, &variant.changes);
        told(changed.as_ref().map_err(Vec::as_slice), Reasons::Short, limit, doing)
    });
    let base = Variant { name: AS_ASKED.to_owned(), changes: Vec::new() };
    let mut all: Vec<(Variant, Told)> = vec![(base, first)];
    for (variant, told) in variants.into_iter().zip(rest) {
        all.push((variant, told?));
    }
    let stage = Stage { whole: doing, before: plans, parts: of - plans, of };
    let played = run.map(|run| play(document, &all, run, &doing.part(doing.left(), &stage))).transpose()?;
    // Also where there was no plan to simulate.
    doing.tell(of, of);
    let mut differences = Vec::new();
    for (i, (a, of)) in all.iter().enumerate() {
        for (j, (b, than)) in all.iter().enumerate().take(i) {
            let (Some(x), Some(y)) = (&of.planned, &than.planned) else { continue };
            let place = |at: usize| u32::try_from(at).unwrap_or(u32::MAX);
            let apart = difference((place(i), &a.name, x), (place(j), &b.name, y));
            differences.extend(apart.map(|apart| match &played {
                Some(played) => played.beside(apart),
                None => apart,
            }));
        }
    }
    let names: Vec<&str> = all.iter().map(|(variant, _)| variant.name.as_str()).collect();
    let simulated = played.as_ref().map(|played| played.told(&names));
    let first = all.first().map(|(_, told)| told.short.clone());
    let variants = all.into_iter().enumerate().map(|(at, (variant, told))| Compared {
        marks: first.as_ref().map(|first| marks(first, &told.short)).unwrap_or_default(),
        name: variant.name,
        changes: variant.changes,
        plan: told.short,
        simulated: played.as_ref().and_then(|played| played.of(at)),
    });
    Ok(CompareDocument {
        format: FORMAT,
        name: document.wire.name.clone(),
        variants: variants.collect(),
        differences,
        simulated,
    })
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
