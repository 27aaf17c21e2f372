//! What routes take out of a request, and how they give documents back.

use actix_web::http::header::{self, ETag, EntityTag, Header, IfMatch, IfNoneMatch};
use actix_web::{HttpRequest, HttpResponse};
use serde::de::DeserializeOwned;
use serde_json::value::RawValue;

use super::problem::Problem;
use crate::codes::Code;
use crate::finding::Finding;

/// Media type of JSON.
pub const JSON: &str = "application/json";
const YAML: &[&str] = &["application/yaml", "application/x-yaml", "text/yaml"];

fn media(request: &HttpRequest, also: &[&str]) -> Result<(), Problem> {
    let Some(given) = request.headers().get(header::CONTENT_TYPE) else { return Ok(()) };
    let given = given.to_str().unwrap_or_default();
    let name = given.split(';').next().unwrap_or_default().trim().to_ascii_lowercase();
    if name == JSON || also.contains(&name.as_str()) {
        return Ok(());
    }
    Err(Problem::new(Code::MediaType, format!("the body is said to be {}", crate::read::quoted(given))))
}

/// The text of a cell document, in JSON or YAML.
///
/// # Errors
/// Another media type, or no text.
pub fn cell_text<'a>(request: &HttpRequest, body: &'a [u8]) -> Result<&'a str, Problem> {
    media(request, YAML)?;
    std::str::from_utf8(body).map_err(|_| Problem::new(Code::NotText, "the body is not UTF-8 text"))
}

/// Whether the body is said to be YAML.
#[must_use]
pub fn is_yaml(request: &HttpRequest) -> bool {
    request.headers().contains_key(header::CONTENT_TYPE) && media(request, &[]).is_err() && media(request, YAML).is_ok()
}

/// A JSON body.
///
/// # Errors
/// Another media type, or other keys.
pub fn json<T: DeserializeOwned>(request: &HttpRequest, body: &[u8]) -> Result<T, Problem> {
    media(request, &[])?;
    serde_json::from_slice(body).map_err(|error| Problem::new(Code::BadRequest, format!("the body: {error}")))
}

/// A name that people give.
///
/// # Errors
/// It is empty, too long or holds control characters.
pub fn name(name: &str) -> Result<&str, Problem> {
    let fits = !name.trim().is_empty() && name.chars().count() <= 200 && !name.chars().any(char::is_control);
    let finding = || Finding::new(Code::BadText, "/name", "the name is empty, too long or holds control characters");
    if fits { Ok(name) } else { Err(Problem::of(vec![finding()])) }
}

/// A JSON object as it was written.
///
/// # Errors
/// It is something else.
pub fn object<'a>(value: &'a RawValue, pointer: &str) -> Result<&'a str, Problem> {
    let finding = || Finding::new(Code::WrongType, pointer, "it must be an object");
    if value.get().starts_with('{') { Ok(value.get()) } else { Err(Problem::of(vec![finding()])) }
}

/// Findings about a document inside of another one: pointers from the outer, no lines.
#[must_use]
pub fn within(pointer: &str, findings: Vec<Finding>) -> Problem {
    let moved = |f: Finding| Finding { pointer: format!("{pointer}{}", f.pointer), line: None, column: None, ..f };
    Problem::of(findings.into_iter().map(moved).collect())
}

/// A number within bounds.
///
/// # Errors
/// It lies outside.
pub fn within_bounds(name: &str, value: f64, most: f64) -> Result<f64, Problem> {
    if (0.0..=most).contains(&value) {
        return Ok(value);
    }
    Err(Problem::new(Code::BadRequest, format!("`{name}` must be from 0 to {most}, and is {value}")))
}

/// The client's idempotency key.
///
/// # Errors
/// It is empty, too long or no visible ASCII.
pub fn idempotency_key(request: &HttpRequest) -> Result<Option<String>, Problem> {
    let Some(value) = request.headers().get("Idempotency-Key") else { return Ok(None) };
    match value.to_str() {
        Ok(key) if (1..=255).contains(&key.len()) && key.bytes().all(|b| b.is_ascii_graphic()) => {
            Ok(Some(key.to_owned()))
        }
        _ => Err(Problem::new(Code::BadRequest, "`Idempotency-Key` takes 1 to 255 visible ASCII characters")),
    }
}

/// Tag of a revision.
#[must_use]
pub fn tag(revision: i64) -> String {
    format!("r{revision}")
}

/// The revision that the client wants to change; none for `*`.
///
/// # Errors
/// The header is missing, or names no revision.
pub fn if_match(request: &HttpRequest) -> Result<Option<i64>, Problem> {
    if !request.headers().contains_key(header::IF_MATCH) {
        return Err(Problem::new(Code::MatchRequired, "the header `If-Match` is missing"));
    }
    match IfMatch::parse(request) {
        Ok(IfMatch::Any) => Ok(None),
        Ok(IfMatch::Items(tags)) => {
            let revisions: Vec<i64> =
                tags.iter().filter_map(|t| t.tag().strip_prefix('r').and_then(|r| r.parse().ok())).collect();
            // A tag that no revision has is one that is past.
            Ok(Some(revisions.first().copied().unwrap_or(0)))
        }
        Err(error) => Err(Problem::new(Code::BadRequest, format!("`If-Match`: {error}"))),
    }
}

/// A document with its tag, or 304 where the client has it.
#[must_use]
pub fn tagged(request: &HttpRequest, tag: String, media: &str, body: impl Into<String>) -> HttpResponse {
    let tag = EntityTag::new_strong(tag);
    let has = match IfNoneMatch::parse(request) {
        Ok(IfNoneMatch::Any) => request.headers().contains_key(header::IF_NONE_MATCH),
        Ok(IfNoneMatch::Items(tags)) => tags.iter().any(|t| t.weak_eq(&tag)),
        Err(_) => false,
    };
    if has && request.method() == actix_web::http::Method::GET {
        return HttpResponse::NotModified().insert_header(ETag(tag)).finish();
    }
    HttpResponse::Ok().insert_header(ETag(tag)).content_type(media).body(body.into())
}
