//! Findings for reading.

use gladhand_reconcile::{Standing, Status};

use super::Page;
use crate::findings::ShownFinding;

/// A finding in a few lines.
pub fn finding(f: &ShownFinding, page: Page) -> String {
    let mut out = format!("{:<4}  {}  {}  {}", f.severity.word(), f.id, f.rule, f.subject);
    let status = match f.status {
        Status::Open => "open",
        Status::Settled => "settled",
        Status::Cleared => "cleared",
    };
    out.push_str(&format!("  [{status}"));
    if f.standing != Standing::None {
        out.push_str(&format!(", {}", f.standing.word()));
    }
    out.push_str("]\n");
    out.push_str(&page.wrapped(&f.says, "      "));
    match &f.ruling {
        Some(r) => {
            let by = r.by.as_deref().unwrap_or("somebody");
            let why = r.why.as_deref().unwrap_or("no reason given");
            out.push_str(&page.wrapped(&format!("Settled by {by}: {} ({why})", r.ruling), "      "));
        }
        None if f.is_open() => out.push_str(&page.wrapped(&format!("-> {}", f.next), "      ")),
        None => {}
    }
    out
}
