//! The route that simulates.

use actix_web::{HttpRequest, HttpResponse, post, web};

use super::ask::{WaitQuery, submit};
use super::jobs::JobDocument;
use super::problem::Problem;
use super::state::Service;
use crate::wire::simulation::{SimulateRequest, SimulationDocument};

/// Simulate a plan
///
/// What the cell makes on a bad day: net rate with its confidence interval, what each station does with its time, how full
/// the sections are, how long carriers stay. Answers within `wait_s`, else with the job and its `Location`; when the time
/// limit ends it, with what there is by then.
#[utoipa::path(
    operation_id = "simulatePlan", tag = "planning",
    params(
        WaitQuery,
        ("Idempotency-Key" = Option<String>, Header, min_length = 1, max_length = 255, pattern = "^[!-~]+$",
            description = "Any text of the client's own: the same key and request give the same job."),
    ),
    request_body(content(
        (SimulateRequest = "application/json", example = json!(super::about::example_simulate())),
        (String = "application/yaml"),
    ), description = "The cell document under `cell`, the plan document under `plan`, and how to simulate under `run`."),
    responses(
        (status = 200, body = SimulationDocument, description = "What was simulated.",
            headers(("Content-Location" = String, description = "The result of the job."))),
        (status = 202, body = JobDocument, description = "The simulation goes on as a job.",
            headers(("Location" = String, description = "The job."))),
        (status = 409, body = Problem, content_type = "application/problem+json",
            description = "The idempotency key was used for another request, or the job was cancelled before it began."),
        (status = 422, body = Problem, content_type = "application/problem+json",
            description = "The cell is wrong, or the plan lacks what a plan cannot do without, or `run` is out of range."),
    )
)]
#[post("/v1/simulate")]
pub async fn simulate_plan(
    service: web::Data<Service>,
    request: HttpRequest,
    query: web::Query<WaitQuery>,
    body: web::Bytes,
) -> Result<HttpResponse, Problem> {
    submit(service, "simulate", &request, &query, &body).await
}
