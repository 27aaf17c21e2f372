//! What the service says about itself: start, examples, health, metrics, API document.

use std::sync::OnceLock;

use actix_web::{HttpRequest, HttpResponse, get, web};
use metrics_exporter_prometheus::{PrometheusBuilder, PrometheusHandle};
use rust_embed::RustEmbed;
use serde::Serialize;
use serde_json::{Value, json};
use utoipa::ToSchema;

use super::problem::Problem;
use super::state::Service;
use super::take;
use crate::codes::Code;
use crate::jobs::store::Page;
use crate::wire::cell::CellDocument;

#[derive(RustEmbed)]
#[folder = "../examples"]
#[include = "*.yaml"]
#[include = "*.json"]
#[exclude = "*.plan.json"]
struct Examples;

/// An example.
#[derive(Debug, Serialize, ToSchema)]
pub struct ExampleHead {
    /// How it is called here.
    #[schema(pattern = "^[a-z0-9-]+$", example = "wraparound-glue")]
    pub id: String,
    /// Name of the cell.
    pub name: String,
    /// Path of its cell document.
    pub cell: String,
}

/// The examples.
#[derive(Debug, Serialize, ToSchema)]
pub struct ExampleList {
    /// The examples, by id.
    pub items: Vec<ExampleHead>,
}

/// Whether the service is well.
#[derive(Debug, Serialize, ToSchema)]
pub struct Health {
    /// `ok`.
    pub status: String,
    /// Jobs that wait or run.
    #[schema(minimum = 0)]
    pub jobs: usize,
}

/// The example documents, with every default filled in, by id.
fn examples() -> &'static [(String, String, String)] {
    static ALL: OnceLock<Vec<(String, String, String)>> = OnceLock::new();
    ALL.get_or_init(|| {
        let read = |file: String| {
            let id = file.rsplit_once('.')?.0.to_owned();
            let document = crate::read_any_cell(&Examples::get(&file)?.data).ok()?;
            Some((id, document.wire.name.clone(), crate::jobs::kind::json(&document.wire).ok()?))
        };
        let mut all: Vec<_> = Examples::iter().filter_map(|file| read(file.into_owned())).collect();
        all.sort();
        all
    })
}

/// A small cell for the API document.
pub fn example_cell() -> Value {
    let small = examples().iter().find(|(id, ..)| id == "opposed-pairs").or_else(|| examples().first());
    small.and_then(|(_, _, text)| serde_json::from_str(text).ok()).unwrap_or_default()
}

/// A cell and a plan that says too little, for the API document.
pub fn example_judge() -> Value {
    json!({ "cell": example_cell(), "plan": { "format": 1, "status": "planned", "circuits": [] } })
}

/// A cell, its plan and a short run, for the API document.
pub fn example_simulate() -> Value {
    let mut both = example_print();
    if let Some(keys) = both.as_object_mut() {
        keys.insert("run".to_owned(), json!({ "hours": 1.0, "most_replications": 20 }));
    }
    both
}

/// A cell and its plan, for the API document.
pub fn example_print() -> Value {
    let plan: Value =
        serde_json::from_str(include_str!("../../../examples/opposed-pairs.plan.json")).unwrap_or_default();
    json!({ "cell": example_cell(), "plan": plan })
}

/// The style of drawings, for pages whose policy takes no styles inside of elements.
pub async fn drawing_style() -> HttpResponse {
    HttpResponse::Ok().content_type("text/css; charset=utf-8").body(crate::draw::STYLE)
}

/// The API document.
pub async fn openapi(request: HttpRequest) -> HttpResponse {
    static TEXT: OnceLock<String> = OnceLock::new();
    let text = TEXT.get_or_init(super::document_text);
    take::tagged(&request, env!("CARGO_PKG_VERSION").to_owned(), take::JSON, text.as_str())
}

/// List the examples
///
/// Cell documents to begin with, by id.
#[utoipa::path(operation_id = "listExamples", tag = "examples",
    responses((status = 200, body = ExampleList, description = "The examples.")))]
#[get("/v1/examples")]
pub async fn list_examples() -> HttpResponse {
    let head = |(id, name, _): &(String, String, String)| ExampleHead {
        id: id.clone(),
        name: name.clone(),
        cell: format!("/v1/examples/{id}"),
    };
    HttpResponse::Ok().json(ExampleList { items: examples().iter().map(head).collect() })
}

/// Read an example
///
/// The cell document, with every default filled in.
#[utoipa::path(operation_id = "readExample", tag = "examples",
    params(("id" = String, Path, description = "Id of the example.", example = "wraparound-glue"),
        ("If-None-Match" = Option<String>, Header, description = "`ETag` of what the client has.")),
    responses((status = 200, body = CellDocument, description = "The cell document.",
            headers(("ETag" = String, description = "Changes with the version of the program."))),
        (status = 304, description = "The client has it."),
        (status = 404, body = Problem, content_type = "application/problem+json", description = "No such example.")))]
#[get("/v1/examples/{id}")]
pub async fn read_example(request: HttpRequest, id: web::Path<String>) -> Result<HttpResponse, Problem> {
    let found = examples().iter().find(|(known, ..)| *known == *id);
    let (.., text) = found.ok_or_else(|| Problem::new(Code::NotFound, "there is no example with this id"))?;
    Ok(take::tagged(&request, env!("CARGO_PKG_VERSION").to_owned(), take::JSON, text.as_str()))
}

/// Whether the service lives
///
/// For whoever restarts it when it doesn't. Needs no token.
#[utoipa::path(operation_id = "live", tag = "operation",
    responses((status = 200, body = Health, description = "It lives.")))]
#[get("/livez")]
pub async fn live(service: web::Data<Service>) -> HttpResponse {
    HttpResponse::Ok().json(Health { status: "ok".to_owned(), jobs: service.queue.live() })
}

/// Whether the service can work
///
/// The store can be read, and the service is not about to stop. Needs no token.
#[utoipa::path(operation_id = "ready", tag = "operation",
    responses((status = 200, body = Health, description = "It can work.")))]
#[get("/readyz")]
pub async fn ready(service: web::Data<Service>) -> Result<HttpResponse, Problem> {
    service.store.jobs(None, Page { before: None, most: 1 })?;
    if *service.stopping.borrow() {
        return Err(Problem::new(Code::StoreFailed, "the service is about to stop"));
    }
    Ok(HttpResponse::Ok().json(Health { status: "ok".to_owned(), jobs: service.queue.live() }))
}

fn recorder() -> Option<&'static PrometheusHandle> {
    static HANDLE: OnceLock<Option<PrometheusHandle>> = OnceLock::new();
    const SECONDS: &[f64] = &[0.001, 0.003, 0.01, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0, 30.0];
    let install = || PrometheusBuilder::new().set_buckets(SECONDS).ok()?.install_recorder().ok();
    HANDLE.get_or_init(install).as_ref()
}

/// Begins to count.
pub fn count() {
    if recorder().is_none() {
        tracing::warn!("another recorder of metrics is installed; /metrics stays empty");
    }
}

/// Read the metrics
///
/// In the text format of Prometheus: requests by route and status, their times in seconds, jobs that wait or run.
#[utoipa::path(operation_id = "metrics", tag = "operation",
    responses((status = 200, body = String, content_type = "text/plain", description = "The metrics.")))]
#[get("/metrics")]
pub async fn show_metrics(service: web::Data<Service>) -> HttpResponse {
    #[allow(clippy::cast_precision_loss)] // There are never 2^52 jobs.
    metrics::gauge!("loopwright_jobs_live").set(service.queue.live() as f64);
    let text = recorder().map(PrometheusHandle::render).unwrap_or_default();
    HttpResponse::Ok().content_type("text/plain; version=0.0.4").body(text)
}
