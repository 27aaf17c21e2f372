//! The route that works out changes from SKU to SKU.

use actix_web::{HttpRequest, HttpResponse, post, web};

use super::ask::{WaitQuery, submit};
use super::jobs::JobDocument;
use super::problem::Problem;
use super::state::Service;
use crate::wire::changeover::{ChangeoverAnswer, ChangeoverRequest};

/// Work out the changes
///
/// Every change from SKU to SKU on a plan (made first where none is given): the matrix, the longest and the one asked for in
/// full, and the order of the week. Answers within `wait_s`, else with the job and its `Location`; its progress is that of
/// the search while the cell is planned, then parts that are done of those that there are.
#[utoipa::path(
    operation_id = "changeCell", tag = "planning",
    params(
        WaitQuery,
        ("Idempotency-Key" = Option<String>, Header, min_length = 1, max_length = 255, pattern = "^[!-~]+$",
            description = "Any text of the client's own: the same key and request give the same job."),
    ),
    request_body(content(
        (ChangeoverRequest = "application/json", example = json!({ "cell": super::about::example_cell() })),
        (String = "application/yaml"),
    ), description = "The cell document under `cell`, and if wanted a plan and a pair of SKUs."),
    responses(
        (status = 200, body = ChangeoverAnswer, description = "The changes, or that there is no plan to change over on.",
            headers(("Content-Location" = String, description = "The result of the job."))),
        (status = 202, body = JobDocument, description = "The work goes on as a job.",
            headers(("Location" = String, description = "The job."))),
        (status = 409, body = Problem, content_type = "application/problem+json",
            description = "The idempotency key was used for another request, or the job was cancelled before it began."),
        (status = 422, body = Problem, content_type = "application/problem+json",
            description = "The request, the cell or the plan is wrong."),
    )
)]
#[post("/v1/changeover")]
pub async fn change_cell(
    service: web::Data<Service>,
    request: HttpRequest,
    query: web::Query<WaitQuery>,
    body: web::Bytes,
) -> Result<HttpResponse, Problem> {
    submit(service, "changeover", &request, &query, &body).await
}
