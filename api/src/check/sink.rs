//! Where findings gather.

use std::cell::{Cell, RefCell};

use crate::codes::Code;
use crate::finding::Finding;
use crate::read::Node;

/// Most findings that are listed.
pub const MAX_FINDINGS: usize = 200;

/// Gathers findings and puts their places in. Shared between the readers of a document's parts, hence the cells.
pub(super) struct Sink<'t> {
    root: &'t Node,
    findings: RefCell<Vec<Finding>>,
    left_out: Cell<usize>,
    errors: Cell<bool>,
}

impl<'t> Sink<'t> {
    pub(super) fn new(root: &'t Node) -> Self {
        Self { root, findings: RefCell::default(), left_out: Cell::new(0), errors: Cell::new(false) }
    }

    /// Notes a finding about the value that its pointer leads to.
    pub(super) fn report(&self, finding: Finding) {
        self.put(finding, |node, _| node.place);
    }

    /// Notes a finding about the key that its pointer ends in.
    pub(super) fn report_key(&self, finding: Finding) {
        self.put(finding, |_, key| key);
    }

    fn put(&self, mut finding: Finding, place: impl Fn(&Node, crate::read::Place) -> crate::read::Place) {
        self.errors.set(self.errors.get() || finding.is_error());
        if self.full() {
            self.left_out.set(self.left_out.get() + 1);
            return;
        }
        if finding.line.is_none()
            && let Some((node, key)) = self.root.find(&finding.pointer)
        {
            finding = finding.at(place(node, key));
        }
        self.findings.borrow_mut().push(finding);
    }

    /// Whether further findings are only counted; what is costly to word can then be left out.
    pub(super) fn full(&self) -> bool {
        self.findings.borrow().len() >= MAX_FINDINGS
    }

    pub(super) fn has_errors(&self) -> bool {
        self.errors.get()
    }

    /// In the order of the text.
    pub(super) fn into_findings(self) -> Vec<Finding> {
        let mut findings = self.findings.into_inner();
        findings.sort_by_key(|f| (f.line, f.column));
        let more = self.left_out.get();
        if more > 0 {
            findings.push(Finding::new(Code::More, "", format!("{more} more findings are not listed")));
        }
        findings
    }
}
