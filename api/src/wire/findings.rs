//! Findings as a document of their own.

use serde::Serialize;
use utoipa::ToSchema;

use crate::finding::Finding;

/// What was found, where there is no other answer.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct FindingsDocument {
    /// Format of the document: 1.
    #[schema(minimum = 1, maximum = 1)]
    pub format: u32,
    /// What the findings come to.
    pub status: FindingsStatus,
    /// What they are about: the name of the cell, or of the file where it could not be read.
    pub name: Option<String>,
    /// The findings; warnings too.
    pub findings: Vec<Finding>,
}

/// What findings come to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum FindingsStatus {
    /// The document is in order.
    Good,
    /// The document is wrong.
    Wrong,
    /// The document may be good: a file, or the planner itself, failed.
    Failed,
}

impl FindingsStatus {
    /// Of findings that stand in the way.
    #[must_use]
    pub fn of(findings: &[Finding]) -> Self {
        if findings.iter().filter(|f| f.is_error()).all(|f| f.code.entry().kind.document) {
            Self::Wrong
        } else {
            Self::Failed
        }
    }
}

impl FindingsDocument {
    /// With the format of this version.
    #[must_use]
    pub fn new(status: FindingsStatus, name: Option<String>, findings: Vec<Finding>) -> Self {
        Self { format: 1, status, name, findings }
    }
}
