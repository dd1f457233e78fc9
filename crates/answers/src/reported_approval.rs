//! An approval on which a job stands, in a report.

use gladhand_reconcile::counted::ApprovalLine;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// An approval on which a job stands.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct ReportedApproval {
    /// The check whose value it let pass; null where it is of readings that did not decide.
    pub check: Option<String>,
    /// Whose it is.
    pub by: String,
    /// The name of the device on which it was recorded.
    pub device: String,
    /// When, as written (RFC 3339).
    pub at: String,
}

impl ReportedApproval {
    /// `placement-top by approval of ida, recorded on lap-1`.
    pub fn says(&self) -> String {
        let what = self.check.as_deref().unwrap_or("the cut");
        format!("{what} by approval of {}, recorded on {}", self.by, self.device)
    }
}

impl From<ApprovalLine> for ReportedApproval {
    fn from(line: ApprovalLine) -> Self {
        Self {
            check: line.check,
            by: line.by,
            device: line.device,
            at: line.at,
        }
    }
}
