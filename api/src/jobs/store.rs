//! The seam to whatever keeps jobs and documents. Every call is one transaction.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Where a job stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum JobState {
    /// Waits for a free core.
    Queued,
    /// Is being worked on.
    Running,
    /// Has its result.
    Done,
    /// Ended without a result; `problem` says why.
    Failed,
    /// Was cancelled; has a result if there was one by then.
    Cancelled,
}

impl JobState {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::Queued, Self::Running, Self::Done, Self::Failed, Self::Cancelled];

    /// How it is written.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Queued => "queued",
            Self::Running => "running",
            Self::Done => "done",
            Self::Failed => "failed",
            Self::Cancelled => "cancelled",
        }
    }

    /// Whether nothing will change any more.
    #[must_use]
    pub const fn is_final(self) -> bool {
        !matches!(self, Self::Queued | Self::Running)
    }
}

/// A job as it is kept.
#[derive(Clone, Debug, PartialEq)]
pub struct Job {
    /// Place in the order of submission.
    pub number: i64,
    /// Its id.
    pub id: String,
    /// Name of its kind.
    pub kind: String,
    /// Where it stands.
    pub state: JobState,
    /// How often work on it was begun.
    pub starts: u32,
    /// Time limit in seconds.
    pub limit_s: f64,
    /// When it was submitted, RFC 3339.
    pub created: String,
    /// When its state changed last, RFC 3339.
    pub changed: String,
    /// Whether there is a result.
    pub has_result: bool,
    /// Why it failed: a finding as JSON.
    pub problem: Option<String>,
}

/// A job to submit.
#[derive(Clone, Debug)]
pub struct NewJob<'a> {
    /// Name of its kind.
    pub kind: &'a str,
    /// The request, as text.
    pub request: &'a str,
    /// Time limit in seconds.
    pub limit_s: f64,
    /// Idempotency key of the client.
    pub key: Option<&'a str>,
    /// Digest of kind, limit and request: what must be the same under the same key.
    pub digest: &'a str,
}

/// What came of a submission.
#[derive(Clone, Debug, PartialEq)]
pub enum Submitted {
    /// A new job.
    New(Job),
    /// The job that was submitted with this key before.
    Same(Job),
    /// The key was used for something else.
    Clash,
    /// Too many are waiting.
    Full,
}

/// A job to work on.
#[derive(Clone, Debug, PartialEq)]
pub struct Claimed {
    /// Its id.
    pub id: String,
    /// Name of its kind.
    pub kind: String,
    /// The request.
    pub request: String,
    /// Time limit in seconds.
    pub limit_s: f64,
    /// Which start this is: only this start may end the job.
    pub start: u32,
}

/// How a job ended.
#[derive(Clone, Debug)]
pub struct Ending<'a> {
    /// A final state.
    pub state: JobState,
    /// The result document.
    pub result: Option<&'a str>,
    /// A finding as JSON.
    pub problem: Option<&'a str>,
}

/// Part of a list: what comes before a number, newest first.
#[derive(Clone, Copy, Debug)]
pub struct Page {
    /// Only numbers below this one.
    pub before: Option<i64>,
    /// At most so many.
    pub most: u32,
}

/// A shelf of named documents.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shelf {
    /// Cell documents, drafts among them.
    Cells,
    /// Plans with their cells.
    Plans,
}

impl Shelf {
    /// How it is written in the store and in routes.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Cells => "cells",
            Self::Plans => "plans",
        }
    }
}

/// A named document as it is kept.
#[derive(Clone, Debug, PartialEq)]
pub struct Kept {
    /// Place in the order of saving.
    pub number: i64,
    /// Its id.
    pub id: String,
    /// Its name.
    pub name: String,
    /// Counts changes, from 1.
    pub revision: i64,
    /// When it was saved first, RFC 3339.
    pub created: String,
    /// When it was changed last, RFC 3339.
    pub changed: String,
    /// The cell document as JSON; empty in lists.
    pub cell: String,
    /// The plan document as JSON; none for cells, and in lists.
    pub plan: Option<String>,
}

/// What came of a change.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// As it stands now.
    Made(Box<Kept>),
    /// There is no such document.
    Missing,
    /// It has been changed since.
    Stale,
    /// No more of them fit.
    Full,
}

/// The store failed: a full disk, a broken file.
#[derive(Debug)]
pub struct StoreError(pub String);

impl std::fmt::Display for StoreError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "the store failed: {}", self.0)
    }
}

impl std::error::Error for StoreError {}

/// Result of a call to the store.
pub type Stored<T> = Result<T, StoreError>;

/// What keeps jobs and documents.
#[allow(clippy::missing_errors_doc)] // Each fails as StoreError says.
pub trait Store: Send + Sync {
    /// Takes a job up, unless `most_waiting` jobs wait already.
    fn submit(&self, job: &NewJob<'_>, most_waiting: u32) -> Stored<Submitted>;
    /// The oldest job that waits, now running.
    fn claim(&self) -> Stored<Option<Claimed>>;
    /// Ends a running job; false if another start has it, so that no job gets two results.
    fn finish(&self, id: &str, start: u32, ending: &Ending<'_>) -> Stored<bool>;
    /// Puts a running job back into the queue, as if it had not been begun.
    fn hand_back(&self, id: &str, start: u32) -> Stored<bool>;
    /// Cancels a job that waits; false if it doesn't.
    fn cancel_queued(&self, id: &str) -> Stored<bool>;
    /// After a crash: jobs that were running wait again, or have failed with `problem` after `most_starts`.
    fn recover(&self, most_starts: u32, problem: &str) -> Stored<()>;
    /// Ids of all jobs that wait.
    fn waiting(&self) -> Stored<Vec<String>>;
    /// Forgets the oldest finished jobs beyond `most`.
    fn forget(&self, most: u32) -> Stored<usize>;
    /// A job.
    fn job(&self, id: &str) -> Stored<Option<Job>>;
    /// Jobs, newest first.
    fn jobs(&self, state: Option<JobState>, page: Page) -> Stored<Vec<Job>>;
    /// Result of a job.
    fn result(&self, id: &str) -> Stored<Option<String>>;
    /// Request of a job.
    fn request(&self, id: &str) -> Stored<Option<String>>;
    /// Keeps a document, unless `most` are kept.
    fn keep(&self, shelf: Shelf, name: &str, cell: &str, plan: Option<&str>, most: u32) -> Stored<Change>;
    /// A kept document.
    fn kept(&self, shelf: Shelf, id: &str) -> Stored<Option<Kept>>;
    /// Kept documents without their texts, newest first.
    fn list(&self, shelf: Shelf, page: Page) -> Stored<Vec<Kept>>;
    /// Gives a document another name, and another cell if there is one, unless it has another `revision`.
    fn change(&self, shelf: Shelf, id: &str, revision: Option<i64>, name: &str, cell: Option<&str>) -> Stored<Change>;
    /// Takes a document off the shelf, or puts it back.
    fn set_deleted(&self, shelf: Shelf, id: &str, revision: Option<i64>, deleted: bool) -> Stored<Change>;
}
