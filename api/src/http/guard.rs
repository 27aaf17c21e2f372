//! What every request passes: rate limit, token, time-out; and every answer: request id, headers, problem details.

use std::time::Instant;

use actix_web::body::{BoxBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::header::{self, HeaderName, HeaderValue};
use actix_web::middleware::Next;
use actix_web::{Error, ResponseError, web};

use super::problem::{MEDIA_TYPE, Problem};
use super::state::Service;
use crate::codes::Code;

const REQUEST_ID: HeaderName = HeaderName::from_static("x-request-id");
/// Nothing but the service's own files.
const STRICT: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; \
                      base-uri 'none'; form-action 'none'; frame-ancestors 'none'";
/// The explorer sets styles in its elements.
const EXPLORER: &str = "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; \
                        img-src 'self' data:; connect-src 'self'; base-uri 'none'; form-action 'none'; \
                        frame-ancestors 'none'";
/// Drawings and reports carry their style.
const PRINTED: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'; \
                       frame-ancestors 'none'";
/// Whoever looks whether the service lives has no token, and a browser sends none for pages; they hold nothing secret.
const OPEN: &[&str] = &["/livez", "/readyz", "/", "/index.css", "/drawing.css", "/openapi.json"];
/// Clients that are remembered before those are forgotten that ask no more.
const CLIENTS: usize = 10_000;

/// An id from the client, if it is one that can be logged; else the next of our own.
fn request_id(request: &ServiceRequest) -> HeaderValue {
    static COUNT: std::sync::atomic::AtomicU64 = std::sync::atomic::AtomicU64::new(1);
    let fit = |v: &&HeaderValue| v.to_str().is_ok_and(|s| (1..=64).contains(&s.len()));
    request.headers().get(&REQUEST_ID).filter(fit).cloned().unwrap_or_else(|| {
        let count = COUNT.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
        HeaderValue::from_str(&format!("{:x}-{count:x}", std::process::id()))
            .unwrap_or_else(|_| HeaderValue::from_static("unknown"))
    })
}

/// What stands in the way of a request.
fn refused(request: &ServiceRequest, service: &Service) -> Option<Problem> {
    if service.rates.len() > CLIENTS {
        service.rates.retain_recent();
    }
    if let Some(peer) = request.peer_addr()
        && service.rates.check_key(&peer.ip()).is_err()
    {
        return Some(Problem::new(Code::TooManyRequests, format!("more than {} a second", service.settings.rate)));
    }
    let shown = request.headers().get(header::AUTHORIZATION).and_then(|v| v.to_str().ok());
    let token = shown.and_then(|v| v.split_once(' ')).filter(|(s, _)| s.eq_ignore_ascii_case("bearer"));
    let open = OPEN.contains(&request.path()) || request.path().starts_with("/explorer/");
    (!open && !service.lets_in(token.map(|(_, token)| token.trim())))
        .then(|| Problem::new(Code::Unauthorized, "the token is missing or wrong"))
}

/// Answers that were not made here become problem details too.
fn told(response: ServiceResponse<BoxBody>) -> ServiceResponse<BoxBody> {
    let status = response.status();
    let own = response.headers().get(header::CONTENT_TYPE).is_some_and(|v| v == MEDIA_TYPE);
    if own || !(status.is_client_error() || status.is_server_error()) {
        return response;
    }
    let detail = response.response().error().map(ToString::to_string).unwrap_or_default();
    response.into_response(Problem::of_status(status, &detail).error_response())
}

/// Stands round every route.
///
/// # Errors
/// As the route, and when the time is over.
pub async fn guard(
    service: web::Data<Service>,
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let (begun, id) = (Instant::now(), request_id(&request));
    let (method, path) = (request.method().clone(), request.path().to_owned());
    let response = match refused(&request, &service) {
        Some(problem) => request.into_response(problem.error_response()),
        None => match tokio::time::timeout(service.settings.timeout, next.call(request)).await {
            Ok(response) => told(response?.map_into_boxed_body()),
            Err(_) => return Err(Problem::new(Code::RequestTimeout, "the request was broken off").into()),
        },
    };
    let mut response = response;
    let route = response.request().match_pattern().unwrap_or_else(|| "none".to_owned());
    let (status, took) = (response.status().as_u16(), begun.elapsed());
    // Anybody can invent methods; each would be a series of its own.
    let method_name = if route == "none" { "any".to_owned() } else { method.as_str().to_owned() };
    metrics::counter!(
        "loopwright_http_requests_total",
        "method" => method_name, "route" => route.clone(), "status" => status.to_string()
    )
    .increment(1);
    metrics::histogram!("loopwright_http_request_seconds", "route" => route).record(took);
    tracing::info!(%method, path, status, seconds = took.as_secs_f64(), request = ?id, "answered");
    let policy = match path.as_str() {
        path if path.starts_with("/explorer") => EXPLORER,
        path if path.starts_with("/v1/print/") => PRINTED,
        _ => STRICT,
    };
    let headers = response.headers_mut();
    headers.insert(REQUEST_ID, id);
    for (name, value) in [
        (header::CONTENT_SECURITY_POLICY, policy),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::X_FRAME_OPTIONS, "DENY"),
        (header::REFERRER_POLICY, "no-referrer"),
        (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    if !headers.contains_key(header::CACHE_CONTROL) {
        headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-cache"));
    }
    Ok(response)
}
