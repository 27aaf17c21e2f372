//! Errors as problem details (RFC 9457), made from the one table of codes.

use actix_web::http::{StatusCode, header};
use actix_web::{HttpResponse, ResponseError};
use serde::Serialize;
use utoipa::ToSchema;

use crate::codes::Code;
use crate::finding::Finding;
use crate::jobs::StoreError;

/// Media type of problem details.
pub const MEDIA_TYPE: &str = "application/problem+json";

/// What went wrong, as problem details (RFC 9457).
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct Problem {
    /// Which kind of problem: `urn:loopwright:problem:` and the code.
    #[serde(rename = "type")]
    #[schema(format = "uri")]
    pub kind: String,
    /// The kind in a few words.
    pub title: &'static str,
    /// HTTP status.
    #[schema(minimum = 400, maximum = 599)]
    pub status: u16,
    /// What is wrong in this case.
    pub detail: String,
    /// The code.
    pub code: Code,
    /// What to do about it.
    pub what_to_do: String,
    /// Everything that was found in the document.
    pub findings: Vec<Finding>,
}

impl Problem {
    /// With the words of the table.
    #[must_use]
    pub fn new(code: Code, detail: impl Into<String>) -> Self {
        let entry = code.entry();
        Self {
            kind: format!("urn:loopwright:problem:{}", entry.name),
            title: entry.title,
            status: entry.kind.http,
            detail: detail.into(),
            code,
            what_to_do: entry.what_to_do.to_owned(),
            findings: Vec::new(),
        }
    }

    /// Of the findings about a document, with the words of the first that stands in the way.
    #[must_use]
    pub fn of(findings: Vec<Finding>) -> Self {
        let errors = findings.iter().filter(|f| f.is_error()).count();
        match findings.iter().find(|f| f.is_error()) {
            None => Self::new(Code::OwnFault, "refused without a reason"),
            Some(first) => {
                let more = if errors > 1 { format!(" ({} more findings)", errors - 1) } else { String::new() };
                let mut problem = Self::new(first.code, format!("{}{more}", first.message));
                problem.what_to_do.clone_from(&first.what_to_do);
                problem.findings = findings;
                problem
            }
        }
    }

    /// Of a status that was not answered by this module.
    #[must_use]
    pub fn of_status(status: StatusCode, detail: &str) -> Self {
        let code = match status.as_u16() {
            401 => Code::Unauthorized,
            404 => Code::NotFound,
            405 => Code::MethodNotAllowed,
            408 => Code::RequestTimeout,
            413 => Code::BodyTooLarge,
            415 => Code::MediaType,
            400..=499 => Code::BadRequest,
            _ => Code::OwnFault,
        };
        Self::new(code, if detail.is_empty() { code.entry().title } else { detail })
    }
}

impl std::fmt::Display for Problem {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}: {}", self.code, self.detail)
    }
}

impl ResponseError for Problem {
    fn status_code(&self) -> StatusCode {
        StatusCode::from_u16(self.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR)
    }

    fn error_response(&self) -> HttpResponse {
        let mut response = HttpResponse::build(self.status_code());
        match self.status {
            401 => response.insert_header((header::WWW_AUTHENTICATE, "Bearer")),
            429 => response.insert_header((header::RETRY_AFTER, "1")),
            503 => response.insert_header((header::RETRY_AFTER, "5")),
            _ => &mut response,
        };
        response.insert_header((header::CONTENT_TYPE, MEDIA_TYPE)).body(serde_json::json!(self).to_string())
    }
}

impl From<StoreError> for Problem {
    fn from(error: StoreError) -> Self {
        tracing::error!(%error);
        Self::new(Code::StoreFailed, error.to_string())
    }
}
