//! The job that works out the changes of a cell.

use std::sync::atomic::AtomicBool;
use std::time::Duration;

use super::kind::{Done, Kind, Progress, Sink, json};
use super::plan::Ear;
use crate::alternatives::read_request;
use crate::check::Document;
use crate::codes::Code;
use crate::finding::Finding;
use crate::judge::read_plan;
use crate::show::{Listener, changeover_watched, pair_of};
use crate::wire::changeover::ChangeoverRequest;

impl Listener for Ear<'_> {
    fn parts(&self, done: usize, of: usize) {
        self.0.tell(Progress { round: done as u64, rounds: Some(of as u64), ..Progress::default() });
    }
}

/// Works out every change from SKU to SKU on a plan, and the order of the week.
pub struct Changeover;

/// The request, with its plan as text and the pair that is wanted in full.
struct Asked {
    document: Document,
    plan: Option<String>,
    pair: Option<(String, String)>,
}

fn within(findings: Vec<Finding>, key: &str) -> Vec<Finding> {
    findings.into_iter().map(|f| Finding { pointer: format!("/{key}{}", f.pointer), ..f }).collect()
}

fn read(request: &[u8]) -> Result<Asked, Vec<Finding>> {
    let (asked, document): (ChangeoverRequest, _) = read_request(request)?;
    let plan = asked.plan.map(|plan| plan.to_string());
    if let Some(plan) = &plan {
        read_plan(&document, plan.as_bytes()).map_err(|f| within(f, "plan"))?;
    }
    let pair = match (asked.from, asked.to) {
        (Some(from), Some(to)) => {
            pair_of(&document, &from, &to)?;
            Some((from, to))
        }
        (None, None) => None,
        _ => {
            let message = "`from` and `to` belong together, and one of them is missing";
            return Err(vec![Finding::new(Code::MissingKey, "", message)]);
        }
    };
    Ok(Asked { document, plan, pair })
}

impl Kind for Changeover {
    fn name(&self) -> &'static str {
        "changeover"
    }

    fn check(&self, request: &[u8]) -> Result<(), Vec<Finding>> {
        read(request).map(|_| ())
    }

    fn run(&self, request: &[u8], limit: Duration, cancel: &AtomicBool, sink: &dyn Sink) -> Result<Done, Finding> {
        let first = |mut findings: Vec<Finding>| findings.swap_remove(0);
        let asked = read(request).map_err(first)?;
        let pair = asked.pair.as_ref().map(|(from, to)| (from.as_str(), to.as_str()));
        let plan = asked.plan.as_ref().map(String::as_bytes);
        let answer = changeover_watched(&asked.document, plan, pair, limit, cancel, &Ear(sink)).map_err(first)?;
        Ok(Done { result: json(&answer)? })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Mutex;

    struct Kept(Mutex<Vec<Progress>>);

    impl Sink for Kept {
        fn tell(&self, progress: Progress) {
            self.0.lock().unwrap().push(progress);
        }
    }

    /// First how far the search is, then a part for the changes from each SKU and one for the order.
    #[test]
    fn it_tells_how_far_it_is() {
        let cell = crate::read_cell(include_bytes!("../../../examples/pouch-changes.yaml")).unwrap().wire;
        let request = serde_json::json!({ "cell": cell }).to_string();
        let (kept, cancel) = (Kept(Mutex::default()), AtomicBool::new(false));
        Changeover.run(request.as_bytes(), Duration::from_secs(20), &cancel, &kept).unwrap();
        let told = kept.0.into_inner().unwrap();
        let (parts, search): (Vec<_>, Vec<_>) = told.iter().partition(|p| p.rounds.is_some());
        assert!(search.iter().any(|p| p.best_footprint_m2.is_some()), "{told:?}");
        let of = cell.skus.len() as u64 + 1;
        assert_eq!(parts.iter().map(|p| p.round).collect::<Vec<_>>(), (0..=of).collect::<Vec<_>>());
        assert!(parts.iter().all(|p| p.rounds == Some(of)) && told.last() == parts.last().copied());
    }
}
