//! Jobs as resources: state, progress, result, cancellation, events.

use std::time::Duration;

use actix_web::http::header;
use actix_web::{HttpRequest, HttpResponse, get, post, web};
use futures_util::stream;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use tokio::sync::watch;
use utoipa::{IntoParams, ToSchema};

use super::problem::Problem;
use super::state::Service;
use super::take;
use crate::codes::Code;
use crate::finding::Finding;
use crate::jobs::store::Page;
use crate::jobs::{Job, JobState, Live, Progress};

/// A job.
#[derive(Debug, Serialize, ToSchema)]
pub struct JobDocument {
    /// Its id.
    #[schema(pattern = "^[0-9a-f]{32}$")]
    pub id: String,
    /// What is done: `plan`.
    pub kind: String,
    /// Where it stands.
    pub state: JobState,
    /// How far it has come; null unless it runs.
    #[schema(required = true)]
    pub progress: Option<Progress>,
    /// How often work on it was begun; more than once after a crash.
    #[schema(minimum = 0)]
    pub starts: u32,
    /// Time limit of the search, in seconds.
    #[schema(minimum = 0, maximum = 600)]
    pub time_limit_s: f64,
    /// When it was submitted.
    #[schema(format = DateTime)]
    pub created: String,
    /// When its state changed last.
    #[schema(format = DateTime)]
    pub changed: String,
    /// Path of its result; null while it has none.
    #[schema(required = true)]
    pub result: Option<String>,
    /// Why it failed; null unless it has failed.
    #[schema(required = true, value_type = Option<Finding>)]
    pub problem: Option<Value>,
}

/// A server-sent event about a job.
#[derive(Debug, ToSchema)]
#[allow(dead_code)] // Described here; written as text.
pub struct JobEvent {
    /// `progress`, or `end` for the last one.
    #[schema(pattern = "^(progress|end)$", example = "progress")]
    event: String,
    /// The job, as JSON.
    data: String,
}

/// Part of the list of jobs, newest first.
#[derive(Debug, Serialize, ToSchema)]
pub struct JobList {
    /// The jobs.
    pub items: Vec<JobDocument>,
    /// Give it as `before` to read on; null at the end of the list.
    #[schema(required = true, minimum = 1)]
    pub next_before: Option<i64>,
}

/// Which part of a list.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
pub struct JobsQuery {
    /// Jobs in this state only.
    pub state: Option<JobState>,
    /// Only what comes after this place in the list: `next_before` of the part before.
    #[param(minimum = 1, maximum = 9_223_372_036_854_775_807_i64)]
    pub before: Option<i64>,
    /// At most so many; 50 where it is left out.
    #[param(minimum = 1, maximum = 100, example = 50)]
    pub limit: Option<u32>,
}

/// Path of a job.
#[must_use]
pub fn path(id: &str) -> String {
    format!("/v1/jobs/{id}")
}

/// A page with its bounds checked.
///
/// # Errors
/// It asks for none or too many.
pub fn page(before: Option<i64>, limit: Option<u32>) -> Result<Page, Problem> {
    let most = limit.unwrap_or(50);
    if !(1..=100).contains(&most) || before.is_some_and(|b| b < 1) {
        return Err(Problem::new(Code::BadRequest, "`limit` must be from 1 to 100, and `before` 1 or more"));
    }
    Ok(Page { before, most })
}

/// Where to read on, if a page is full.
#[must_use]
pub fn next(page: Page, read: usize, last: Option<i64>) -> Option<i64> {
    last.filter(|last| read == page.most as usize && *last > 1)
}

fn job(service: &Service, id: &str) -> Result<Job, Problem> {
    service.store.job(id)?.ok_or_else(|| Problem::new(Code::NotFound, "there is no job with this id"))
}

impl JobDocument {
    fn from(job: Job, live: Option<Live>) -> Self {
        Self {
            result: job.has_result.then(|| format!("{}/result", path(&job.id))),
            // The store may be a moment behind the queue, never ahead of it.
            progress: live.filter(|_| job.state == JobState::Running).and_then(|live| live.progress),
            problem: job.problem.and_then(|text| serde_json::from_str(&text).ok()),
            id: job.id,
            kind: job.kind,
            state: job.state,
            starts: job.starts,
            time_limit_s: job.limit_s,
            created: job.created,
            changed: job.changed,
        }
    }

    fn live(service: &Service, job: Job) -> Self {
        let live = service.queue.watch(&job.id).map(|news| news.borrow().clone());
        Self::from(job, live)
    }

    /// As it stands now.
    ///
    /// # Errors
    /// There is none with this id.
    pub fn of(service: &Service, id: &str) -> Result<Self, Problem> {
        Ok(Self::live(service, job(service, id)?))
    }
}

/// What an ended job gives.
///
/// # Errors
/// It has failed, or has no result.
pub fn answer(service: &Service, request: &HttpRequest, job: &Job) -> Result<HttpResponse, Problem> {
    if let Some(problem) = &job.problem {
        let failed: Value = serde_json::from_str(problem).unwrap_or_default();
        let says = failed["message"].as_str().unwrap_or_default().to_owned();
        let named = failed["code"].as_str();
        let code = [Code::RatesDiffer, Code::GivenUp].into_iter().find(|c| named == Some(c.name()));
        return Err(Problem::new(code.unwrap_or(Code::OwnFault), says));
    }
    let Some(result) = service.store.result(&job.id)? else {
        return Err(Problem::new(Code::NoResult, format!("the job is {}", job.state.word())));
    };
    let mut response = take::tagged(request, job.id.clone(), take::JSON, result);
    if let Ok(place) = header::HeaderValue::from_str(&format!("{}/result", path(&job.id))) {
        response.headers_mut().insert(header::CONTENT_LOCATION, place);
    }
    Ok(response)
}

/// List jobs
///
/// Newest first, a part at a time.
#[utoipa::path(operation_id = "listJobs", tag = "jobs", params(JobsQuery),
    responses((status = 200, body = JobList, description = "The jobs.")))]
#[get("/v1/jobs")]
pub async fn list_jobs(service: web::Data<Service>, query: web::Query<JobsQuery>) -> Result<HttpResponse, Problem> {
    let page = page(query.before, query.limit)?;
    let jobs = service.store.jobs(query.state, page)?;
    let next_before = next(page, jobs.len(), jobs.last().map(|job| job.number));
    let items = jobs.into_iter().map(|job| JobDocument::live(&service, job)).collect();
    Ok(HttpResponse::Ok().json(JobList { items, next_before }))
}

/// Read a job
///
/// Its state, and while it runs how far it has come.
#[utoipa::path(operation_id = "readJob", tag = "jobs",
    params(("id" = String, Path, description = "Id of the job.", example = "0123456789abcdef0123456789abcdef")),
    responses((status = 200, body = JobDocument, description = "The job."),
        (status = 404, body = Problem, content_type = "application/problem+json", description = "No such job.")))]
#[get("/v1/jobs/{id}")]
pub async fn read_job(service: web::Data<Service>, id: web::Path<String>) -> Result<HttpResponse, Problem> {
    Ok(HttpResponse::Ok().json(JobDocument::of(&service, &id)?))
}

/// Read the result of a job
///
/// The plan document. Read it with `If-None-Match` to get it once only.
#[utoipa::path(operation_id = "readResult", tag = "jobs",
    params(("id" = String, Path, description = "Id of the job.", example = "0123456789abcdef0123456789abcdef"),
        ("If-None-Match" = Option<String>, Header, description = "`ETag` of the result that the client has.")),
    responses(
        (status = 200, body = Object, description = "The result.",
            headers(("ETag" = String, description = "Tag of the result, which never changes."))),
        (status = 304, description = "The client has it."),
        (status = 404, body = Problem, content_type = "application/problem+json", description = "No such job."),
        (status = 409, body = Problem, content_type = "application/problem+json",
            description = "There is no result yet, or the job was cancelled before it had one."),
    ))]
#[get("/v1/jobs/{id}/result")]
pub async fn read_result(
    service: web::Data<Service>,
    request: HttpRequest,
    id: web::Path<String>,
) -> Result<HttpResponse, Problem> {
    answer(&service, &request, &job(&service, &id)?)
}

/// Cancel a job
///
/// One that waits never begins; one that runs ends soon after, with the best plan so far as its result. A job that has
/// ended stays as it is.
#[utoipa::path(operation_id = "cancelJob", tag = "jobs",
    params(("id" = String, Path, description = "Id of the job.", example = "0123456789abcdef0123456789abcdef")),
    responses((status = 200, body = JobDocument, description = "The job; it may still run for a moment."),
        (status = 404, body = Problem, content_type = "application/problem+json", description = "No such job.")))]
#[post("/v1/jobs/{id}/cancel")]
pub async fn cancel_job(service: web::Data<Service>, id: web::Path<String>) -> Result<HttpResponse, Problem> {
    job(&service, &id)?;
    super::ask::cancel(service.clone(), id.clone()).await?;
    Ok(HttpResponse::Ok().json(JobDocument::of(&service, &id)?))
}

struct Stream {
    service: web::Data<Service>,
    id: String,
    news: Option<watch::Receiver<Live>>,
    first: bool,
    over: bool,
}

impl Stream {
    /// Waits for news: false when the job has ended, none when the service stops or nothing has happened for a while.
    async fn wait(&mut self) -> Option<bool> {
        const QUIET: Duration = Duration::from_secs(15);
        let Some(news) = &mut self.news else { return Some(false) };
        let mut stopping = self.service.stopping.subscribe();
        tokio::select! {
            changed = news.changed() => Some(changed.is_ok()),
            () = tokio::time::sleep(QUIET) => None,
            _ = stopping.wait_for(|stop| *stop) => { self.over = true; None }
        }
    }

    async fn next(mut self) -> Option<(Result<web::Bytes, actix_web::Error>, Self)> {
        if self.over {
            return None;
        }
        let heard = if self.first && self.news.is_some() { Some(true) } else { self.wait().await };
        self.first = false;
        let text = match heard {
            None if self.over => return None,
            None => ": still at it\n\n".to_owned(),
            Some(goes_on) => {
                self.over = !goes_on;
                let document = JobDocument::of(&self.service, &self.id).ok()?;
                self.over |= document.state.is_final();
                let event = if self.over { "end" } else { "progress" };
                format!("event: {event}\ndata: {}\n\n", serde_json::json!(document))
            }
        };
        Some((Ok(web::Bytes::from(text)), self))
    }
}

/// Follow a job
///
/// Server-sent events: `progress` with the job at each round of the search, then `end` with the job as it ended. The
/// stream closes then, and when the service stops; connect again to go on.
#[utoipa::path(operation_id = "followJob", tag = "jobs",
    params(("id" = String, Path, description = "Id of the job.", example = "0123456789abcdef0123456789abcdef")),
    responses((status = 200, body = JobEvent, content_type = "text/event-stream", description = "The events."),
        (status = 404, body = Problem, content_type = "application/problem+json", description = "No such job.")))]
#[get("/v1/jobs/{id}/events")]
pub async fn follow_job(service: web::Data<Service>, id: web::Path<String>) -> Result<HttpResponse, Problem> {
    let news = service.queue.watch(&id);
    job(&service, &id)?;
    let stream = Stream { service, id: id.into_inner(), news, first: true, over: false };
    Ok(HttpResponse::Ok()
        .insert_header((header::CONTENT_ENCODING, "identity"))
        .insert_header((header::CACHE_CONTROL, "no-store"))
        .content_type("text/event-stream")
        .streaming(stream::unfold(stream, Stream::next)))
}
