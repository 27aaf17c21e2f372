//! What a job can be.

use std::sync::atomic::AtomicBool;
use std::time::Duration;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::finding::Finding;

/// How far a job has come. What a kind of job doesn't know is null.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Progress {
    /// Rounds of the search so far, or parts that are done.
    #[schema(minimum = 0)]
    pub round: u64,
    /// How many parts there are in all; null where nobody knows beforehand.
    #[schema(required = true, minimum = 0)]
    pub rounds: Option<u64>,
    /// Floor area of the best plan so far, in square metres.
    #[schema(required = true, minimum = 0)]
    pub best_footprint_m2: Option<f64>,
    /// Carriers of the best plan so far.
    #[schema(required = true, minimum = 0)]
    pub best_carriers: Option<u32>,
    /// No plan has less floor area, in square metres.
    #[schema(required = true, minimum = 0)]
    pub proven_bound_m2: Option<f64>,
    /// (best footprint - bound) / best footprint; null while there is no plan.
    #[schema(required = true, minimum = 0, maximum = 1)]
    pub gap: Option<f64>,
}

/// Where a running job tells how far it has come.
pub trait Sink: Sync {
    /// Takes the news. Called from the working thread.
    fn tell(&self, progress: Progress);
}

/// What a job gives.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Done {
    /// The result document as JSON text, as it will be served.
    pub result: String,
}

/// One kind of job. To add one: a file with this trait, and a row in [`super::KINDS`].
pub trait Kind: Sync {
    /// How it is called in jobs and routes.
    fn name(&self) -> &'static str;

    /// Checks a request at the door.
    ///
    /// # Errors
    /// Every finding at once.
    fn check(&self, request: &[u8]) -> Result<(), Vec<Finding>>;

    /// Does the work: stops after `limit`, or soon after `cancel` is set, with the best that it has.
    ///
    /// # Errors
    /// A finding about the program itself; requests were checked at the door.
    fn run(&self, request: &[u8], limit: Duration, cancel: &AtomicBool, sink: &dyn Sink) -> Result<Done, Finding>;
}

/// A document as indented JSON with a line's end, as the program prints it.
///
/// # Errors
/// A finding that says what could not be written.
pub fn json<T: Serialize>(document: &T) -> Result<String, Finding> {
    match serde_json::to_string_pretty(document) {
        Ok(text) => Ok(text + "\n"),
        Err(error) => {
            Err(Finding::new(crate::Code::OwnFault, "", format!("the result cannot be written as JSON: {error}")))
        }
    }
}
