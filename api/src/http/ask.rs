//! Check, plan and judge.

use std::time::Duration;

use actix_web::http::header;
use actix_web::{HttpRequest, HttpResponse, post, web};
use serde::Deserialize;
use serde_json::value::RawValue;
use utoipa::{IntoParams, ToSchema};

use super::jobs::{JobDocument, answer, path};
use super::problem::Problem;
use super::state::{Service, off};
use super::take;
use crate::codes::Code;
use crate::jobs::store::Submitted;
use crate::jobs::{JobState, kind};
use crate::wire::carriers::CarriersDocument;
use crate::wire::cell::CellDocument;
use crate::wire::findings::{FindingsDocument, FindingsStatus};
use crate::wire::judgement::Judgement;
use crate::wire::plan::PlanDocument;
use crate::wire::trace::{TraceDocument, TraceRequest};

/// Time limit where none is given, in seconds, as on the command line.
const LIMIT_S: f64 = 10.0;
/// How long an answer is waited for where nothing is said, in seconds.
const WAIT_S: f64 = 5.0;
/// Longest that an answer is waited for, in seconds.
const LONGEST_WAIT_S: f64 = 30.0;

/// Whether an answer is waited for, and how long may be searched.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
pub struct WaitQuery {
    /// Wait for the answer for so many seconds, then answer with the job instead; 5 where it is left out.
    #[param(minimum = 0, maximum = 30, example = 5)]
    pub wait_s: Option<f64>,
    /// Stop the search after so many seconds and give the best plan so far; 10 where it is left out. The service may
    /// have been set up with a lower bound than that of this document.
    #[param(minimum = 0, maximum = 600, example = 10)]
    pub time_limit_s: Option<f64>,
}

/// A cell and anybody's plan of it.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct JudgeRequest {
    /// The cell document.
    #[schema(value_type = CellDocument)]
    pub cell: Box<RawValue>,
    /// The plan document. Keys that are not known are let pass, and so are numbers that are left out.
    #[schema(value_type = Object)]
    pub plan: Box<RawValue>,
}

/// Check a cell document
///
/// Answers with its warnings, or with everything that is wrong, each with a JSON pointer and what to do.
#[utoipa::path(
    operation_id = "checkCell", tag = "planning",
    request_body(content(
        (CellDocument = "application/json", example = json!(super::about::example_cell())),
        (String = "application/yaml"),
    ), description = "The cell document."),
    responses(
        (status = 200, body = FindingsDocument, description = "The document is in order; there may be warnings."),
        (status = 422, body = Problem, content_type = "application/problem+json",
            description = "The document is wrong: every finding at once."),
    )
)]
#[post("/v1/check")]
pub async fn check_cell(request: HttpRequest, body: web::Bytes) -> Result<HttpResponse, Problem> {
    let document = crate::read_any_cell(take::cell_text(&request, &body)?.as_bytes()).map_err(Problem::of)?;
    let found = FindingsDocument::new(FindingsStatus::Good, Some(document.wire.name), document.warnings);
    Ok(HttpResponse::Ok().json(found))
}

/// Plan a cell
///
/// Answers with the plan document when the search ends within `wait_s`, else with the job and its `Location`. That no
/// plan exists is an answer too (`status: impossible`, with the reasons). The same document gives the same bytes whenever
/// the answer is proven. With `Idempotency-Key`, the same request gives the same job.
#[utoipa::path(
    operation_id = "planCell", tag = "planning",
    params(
        WaitQuery,
        ("Idempotency-Key" = Option<String>, Header, min_length = 1, max_length = 255, pattern = "^[!-~]+$",
            description = "Any text of the client's own: the same key and request give the same job."),
    ),
    request_body(content(
        (CellDocument = "application/json", example = json!(super::about::example_cell())),
        (String = "application/yaml"),
    ), description = "The cell document."),
    responses(
        (status = 200, body = PlanDocument, description = "The plan, or the reasons why there is none.",
            headers(("Content-Location" = String, description = "The result of the job."))),
        (status = 202, body = JobDocument, description = "The search goes on as a job.",
            headers(("Location" = String, description = "The job."))),
        (status = 409, body = Problem, content_type = "application/problem+json",
            description = "The idempotency key was used for another request, or the job was cancelled before it began."),
        (status = 422, body = Problem, content_type = "application/problem+json",
            description = "The document is wrong: every finding at once."),
    )
)]
#[post("/v1/plan")]
pub async fn plan_cell(
    service: web::Data<Service>,
    request: HttpRequest,
    query: web::Query<WaitQuery>,
    body: web::Bytes,
) -> Result<HttpResponse, Problem> {
    submit(service, "plan", &request, &query, &body).await
}

/// Submits a job of a kind and waits for it: the whole of a route that plans, or does other long work.
///
/// # Errors
/// The request is refused, or the job has failed.
pub async fn submit(
    service: web::Data<Service>,
    kind: &str,
    request: &HttpRequest,
    query: &WaitQuery,
    body: &[u8],
) -> Result<HttpResponse, Problem> {
    let text = take::cell_text(request, body)?.to_owned();
    let key = take::idempotency_key(request)?;
    let wait = take::within_bounds("wait_s", query.wait_s.unwrap_or(WAIT_S), LONGEST_WAIT_S)?;
    let most = service.settings.longest.as_secs_f64();
    let limit = take::within_bounds("time_limit_s", query.time_limit_s.unwrap_or(LIMIT_S.min(most)), most)?;
    let Some(kind) = service.kinds.iter().copied().find(|k| k.name() == kind) else {
        return Err(Problem::new(Code::OwnFault, format!("no kind of job is called {kind}")));
    };
    let shared = service.clone();
    let submitted = actix_web::web::block(move || {
        kind.check(text.as_bytes()).map_err(Problem::of)?;
        let limit = Duration::from_secs_f64(limit);
        shared.queue.submit(kind, &text, limit, key.as_deref()).map_err(Problem::from)
    });
    let submitted = submitted.await.map_err(|error| Problem::new(Code::StoreFailed, error.to_string()))??;
    let job = match submitted {
        Submitted::New(job) | Submitted::Same(job) => job,
        Submitted::Clash => return Err(Problem::new(Code::KeyReused, "the key belongs to another request")),
        Submitted::Full => return Err(Problem::new(Code::QueueFull, "the queue is full")),
    };
    if !ended(&service, &job.id, Duration::from_secs_f64(wait)).await {
        let place = (header::LOCATION, path(&job.id));
        let document = JobDocument::of(&service, job.id.as_str())?;
        return Ok(HttpResponse::Accepted().insert_header(place).json(document));
    }
    let ended = service.store.job(&job.id)?.ok_or_else(|| Problem::new(Code::NotFound, "the job was forgotten"))?;
    if ended.state == JobState::Queued || ended.state == JobState::Running {
        let place = (header::LOCATION, path(&job.id));
        return Ok(HttpResponse::Accepted().insert_header(place).json(JobDocument::of(&service, &job.id)?));
    }
    answer(&service, request, &ended)
}

/// Whether a job ends within a time, and before the service stops.
async fn ended(service: &Service, id: &str, within: Duration) -> bool {
    let Some(mut news) = service.queue.watch(id) else { return true };
    let mut stopping = service.stopping.subscribe();
    tokio::select! {
        () = async { while news.changed().await.is_ok() {} } => true,
        () = tokio::time::sleep(within) => false,
        _ = stopping.wait_for(|stop| *stop) => false,
    }
}

/// Judge a plan
///
/// Puts anybody's plan to every rule and compares every number in it. That it does not hold is an answer too.
#[utoipa::path(
    operation_id = "judgePlan", tag = "planning",
    request_body(content = JudgeRequest, description = "The cell and the plan.",
        example = json!(super::about::example_judge())),
    responses(
        (status = 200, body = Judgement, description = "Whether the plan holds, line by line."),
        (status = 422, body = Problem, content_type = "application/problem+json",
            description = "The cell is wrong, or the plan lacks what a plan cannot do without."),
    )
)]
#[post("/v1/judge")]
pub async fn judge_plan(request: HttpRequest, body: web::Bytes) -> Result<HttpResponse, Problem> {
    let asked: JudgeRequest = take::json(&request, &body)?;
    let done = web::block(move || {
        let cell = take::object(&asked.cell, "/cell")?;
        let plan = take::object(&asked.plan, "/plan")?;
        let document = crate::read_any_cell(cell.as_bytes()).map_err(|f| take::within("/cell", f))?;
        let judgement = crate::judge(&document, plan.as_bytes()).map_err(|f| take::within("/plan", f))?;
        kind::json(&judgement).map_err(|f| Problem::of(vec![f]))
    });
    let text = done.await.map_err(|error| Problem::new(Code::OwnFault, error.to_string()))??;
    Ok(HttpResponse::Ok().content_type(take::JSON).body(text))
}

/// Rates with other numbers of carriers
///
/// The exact rate of the planned loop for each SKU, from one carrier to as many as there are slots, all else as planned.
#[utoipa::path(
    operation_id = "rateCarriers", tag = "planning",
    request_body(content = JudgeRequest, description = "The cell and the plan.",
        example = json!(super::about::example_print())),
    responses(
        (status = 200, body = CarriersDocument, description = "The rates."),
        (status = 422, body = Problem, content_type = "application/problem+json",
            description = "The cell is wrong, or the plan lacks what a plan cannot do without."),
    )
)]
#[post("/v1/carriers")]
pub async fn rate_carriers(request: HttpRequest, body: web::Bytes) -> Result<HttpResponse, Problem> {
    let asked: JudgeRequest = take::json(&request, &body)?;
    let done = web::block(move || {
        let cell = take::object(&asked.cell, "/cell")?;
        let plan = take::object(&asked.plan, "/plan")?;
        let document = crate::read_cell(cell.as_bytes()).map_err(|f| take::within("/cell", f))?;
        let rates = crate::carriers_document(&document, plan.as_bytes()).map_err(|f| take::within("/plan", f))?;
        kind::json(&rates).map_err(|f| Problem::of(vec![f]))
    });
    let text = done.await.map_err(|error| Problem::new(Code::OwnFault, error.to_string()))??;
    Ok(HttpResponse::Ok().content_type(take::JSON).body(text))
}

/// Trace the carriers
///
/// Where every carrier is over a stretch of the paced run of one SKU, when its state recurs, or of a simulation with what
/// goes wrong (`bad_day`): for animations and time-distance diagrams.
#[utoipa::path(
    operation_id = "traceCarriers", tag = "planning",
    request_body(content = TraceRequest, description = "The cell, the plan, and the stretch.",
        example = json!(super::about::example_print())),
    responses(
        (status = 200, body = TraceDocument, description = "The trace."),
        (status = 422, body = Problem, content_type = "application/problem+json",
            description = "The cell is wrong, or the plan lacks what a plan cannot do without, or there is no such SKU."),
    )
)]
#[post("/v1/trace")]
pub async fn trace_carriers(request: HttpRequest, body: web::Bytes) -> Result<HttpResponse, Problem> {
    let asked: TraceRequest = take::json(&request, &body)?;
    let done = web::block(move || {
        let cell = take::object(&asked.cell, "/cell")?;
        let plan = take::object(&asked.plan, "/plan")?;
        let document = crate::read_cell(cell.as_bytes()).map_err(|f| take::within("/cell", f))?;
        let (sku, bad_day) = (asked.sku.as_deref(), asked.bad_day);
        let trace = crate::trace_day(&document, plan.as_bytes(), sku, asked.duration_s, bad_day);
        let trace = trace.map_err(Problem::of)?;
        kind::json(&trace).map_err(|f| Problem::of(vec![f]))
    });
    let text = done.await.map_err(|error| Problem::new(Code::OwnFault, error.to_string()))??;
    Ok(HttpResponse::Ok().content_type(take::JSON).body(text))
}

/// Work on the store that a job's routes share.
///
/// # Errors
/// The store failed.
pub async fn cancel(service: web::Data<Service>, id: String) -> Result<bool, Problem> {
    off(move || service.queue.cancel(&id)).await
}
