//! Routes that compare, sweep and explain.

use actix_web::{HttpRequest, HttpResponse, post, web};

use super::ask::{WaitQuery, submit};
use super::jobs::JobDocument;
use super::problem::Problem;
use super::state::Service;
use crate::wire::accumulation::{AccumulateRequest, AccumulationDocument};
use crate::wire::alternatives::{
    CompareDocument, CompareRequest, ExplainDocument, ExplainRequest, FrontDocument, FrontRequest, SweepDocument,
    SweepRequest,
};

/// Compare variants of a cell
///
/// Plans the document as it is, in variants of your own and in the usual ones, side by side, and says why the plans
/// differ. That a variant has no plan is told in its row. With `simulate`, every plan is simulated too, all with the same
/// luck. Answers within `wait_s`, else with the job and its `Location`; the time limit is for all of it.
#[utoipa::path(
    operation_id = "compareCell", tag = "planning",
    params(
        WaitQuery,
        ("Idempotency-Key" = Option<String>, Header, min_length = 1, max_length = 255, pattern = "^[!-~]+$",
            description = "Any text of the client's own: the same key and request give the same job."),
    ),
    request_body(content(
        (CompareRequest = "application/json", example = json!({ "cell": super::about::example_cell(), "variants": [{ "name": "a tenth faster", "changes": [{ "at": "rate", "times": 1.1 }] }] })),
        (String = "application/yaml"),
    ), description = "The cell document under `cell`, and what is asked."),
    responses(
        (status = 200, body = CompareDocument, description = "The comparison.",
            headers(("Content-Location" = String, description = "The result of the job."))),
        (status = 202, body = JobDocument, description = "The work goes on as a job.",
            headers(("Location" = String, description = "The job."))),
        (status = 409, body = Problem, content_type = "application/problem+json",
            description = "The idempotency key was used for another request, or the job was cancelled before it began."),
        (status = 422, body = Problem, content_type = "application/problem+json",
            description = "The request or the document is wrong: every finding at once."),
    )
)]
#[post("/v1/compare")]
pub async fn compare_cell(
    service: web::Data<Service>,
    request: HttpRequest,
    query: web::Query<WaitQuery>,
    body: web::Bytes,
) -> Result<HttpResponse, Problem> {
    submit(service, "compare", &request, &query, &body).await
}

/// Sweep one or two numbers of a cell
///
/// Plans the document at every point of one or two ranges; finds where the best way of working of a station
/// changes, and the points that no other beats. Answers within `wait_s`, else with the job and its `Location`; the
/// time limit is for all of it.
#[utoipa::path(
    operation_id = "sweepCell", tag = "planning",
    params(
        WaitQuery,
        ("Idempotency-Key" = Option<String>, Header, min_length = 1, max_length = 255, pattern = "^[!-~]+$",
            description = "Any text of the client's own: the same key and request give the same job."),
    ),
    request_body(content(
        (SweepRequest = "application/json", example = json!({ "cell": super::about::example_cell(), "axes": [{ "at": "rate", "from": 0.8, "to": 1.2, "points": 5 }] })),
        (String = "application/yaml"),
    ), description = "The cell document under `cell`, and what is asked."),
    responses(
        (status = 200, body = SweepDocument, description = "The plans over the range.",
            headers(("Content-Location" = String, description = "The result of the job."))),
        (status = 202, body = JobDocument, description = "The work goes on as a job.",
            headers(("Location" = String, description = "The job."))),
        (status = 409, body = Problem, content_type = "application/problem+json",
            description = "The idempotency key was used for another request, or the job was cancelled before it began."),
        (status = 422, body = Problem, content_type = "application/problem+json",
            description = "The request or the document is wrong: every finding at once."),
    )
)]
#[post("/v1/sweep")]
pub async fn sweep_cell(
    service: web::Data<Service>,
    request: HttpRequest,
    query: web::Query<WaitQuery>,
    body: web::Bytes,
) -> Result<HttpResponse, Problem> {
    submit(service, "sweep", &request, &query, &body).await
}

/// Say what would help
///
/// With a plan: every limit relaxed by a share of itself and planned anew, and the largest rates on the same floor.
/// Without one: the requirements that cannot hold together, and the least change of each that would do. Answers
/// within `wait_s`, else with the job and its `Location`; the time limit is for all of it.
#[utoipa::path(
    operation_id = "explainCell", tag = "planning",
    params(
        WaitQuery,
        ("Idempotency-Key" = Option<String>, Header, min_length = 1, max_length = 255, pattern = "^[!-~]+$",
            description = "Any text of the client's own: the same key and request give the same job."),
    ),
    request_body(content(
        (ExplainRequest = "application/json", example = json!({ "cell": super::about::example_cell(), "step": 0.1 })),
        (String = "application/yaml"),
    ), description = "The cell document under `cell`, and what is asked."),
    responses(
        (status = 200, body = ExplainDocument, description = "The explanation.",
            headers(("Content-Location" = String, description = "The result of the job."))),
        (status = 202, body = JobDocument, description = "The work goes on as a job.",
            headers(("Location" = String, description = "The job."))),
        (status = 409, body = Problem, content_type = "application/problem+json",
            description = "The idempotency key was used for another request, or the job was cancelled before it began."),
        (status = 422, body = Problem, content_type = "application/problem+json",
            description = "The request or the document is wrong: every finding at once."),
    )
)]
#[post("/v1/explain")]
pub async fn explain_cell(
    service: web::Data<Service>,
    request: HttpRequest,
    query: web::Query<WaitQuery>,
    body: web::Bytes,
) -> Result<HttpResponse, Problem> {
    submit(service, "explain", &request, &query, &body).await
}

/// What accumulation buys
///
/// Plans the document anew for one ride-through of a section after another, simulates every plan with the same luck, and says
/// from which on more does not pay. Answers within `wait_s`, else with the job and its `Location`; the time limit is for
/// all of it.
#[utoipa::path(
    operation_id = "accumulateCell", tag = "planning",
    params(
        WaitQuery,
        ("Idempotency-Key" = Option<String>, Header, min_length = 1, max_length = 255, pattern = "^[!-~]+$",
            description = "Any text of the client's own: the same key and request give the same job."),
    ),
    request_body(content(
        (AccumulateRequest = "application/json", example = json!({ "cell": super::about::example_cell(), "from": "wrap", "to": "load", "up_to_s": 4, "points": 3, "most_replications": 20 })),
        (String = "application/yaml"),
    ), description = "The cell document under `cell`, and what is asked."),
    responses(
        (status = 200, body = AccumulationDocument, description = "The curve.",
            headers(("Content-Location" = String, description = "The result of the job."))),
        (status = 202, body = JobDocument, description = "The work goes on as a job.",
            headers(("Location" = String, description = "The job."))),
        (status = 409, body = Problem, content_type = "application/problem+json",
            description = "The idempotency key was used for another request, or the job was cancelled before it began."),
        (status = 422, body = Problem, content_type = "application/problem+json",
            description = "The request or the document is wrong: every finding at once."),
    )
)]
#[post("/v1/accumulate")]
pub async fn accumulate_cell(
    service: web::Data<Service>,
    request: HttpRequest,
    query: web::Query<WaitQuery>,
    body: web::Bytes,
) -> Result<HttpResponse, Problem> {
    submit(service, "accumulate", &request, &query, &body).await
}

/// Find the plans that no other beats
///
/// Every plan of the document that no other beats in floor, carriers and price together, exactly, or as far as the time allows
/// (`complete`). Answers within `wait_s`, else with the job and its `Location`; the time limit is for all of it.
#[utoipa::path(
    operation_id = "frontOfCell", tag = "planning",
    params(
        WaitQuery,
        ("Idempotency-Key" = Option<String>, Header, min_length = 1, max_length = 255, pattern = "^[!-~]+$",
            description = "Any text of the client's own: the same key and request give the same job."),
    ),
    request_body(content(
        (FrontRequest = "application/json", example = json!({ "cell": super::about::example_cell() })),
        (String = "application/yaml"),
    ), description = "The cell document under `cell`, and what is asked."),
    responses(
        (status = 200, body = FrontDocument, description = "The plans.",
            headers(("Content-Location" = String, description = "The result of the job."))),
        (status = 202, body = JobDocument, description = "The work goes on as a job.",
            headers(("Location" = String, description = "The job."))),
        (status = 409, body = Problem, content_type = "application/problem+json",
            description = "The idempotency key was used for another request, or the job was cancelled before it began."),
        (status = 422, body = Problem, content_type = "application/problem+json",
            description = "The request or the document is wrong: every finding at once."),
    )
)]
#[post("/v1/front")]
pub async fn front_of_cell(
    service: web::Data<Service>,
    request: HttpRequest,
    query: web::Query<WaitQuery>,
    body: web::Bytes,
) -> Result<HttpResponse, Problem> {
    submit(service, "front", &request, &query, &body).await
}
