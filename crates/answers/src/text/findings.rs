//! Findings as text, a few lines each.

use gladhand_reconcile::finding::Standing;
use gladhand_reconcile::{Severity, Status};

use super::layout::counted;
use super::{Page, Piece, Text, history};
use crate::findings::{Findings, ShownFinding};

impl Text for Findings {
    fn text(&self, page: Page) -> Vec<Piece> {
        let moment = self.as_known_by.iter().map(|m| Piece::Warning(history::moment(m)));
        let each = self.findings.iter().map(|f| Piece::Out(finding(f, page)));
        moment
            .chain(each)
            .chain([Piece::Aside(tally(&self.findings))])
            .collect()
    }
}

/// A finding in a few lines.
pub fn finding(f: &ShownFinding, page: Page) -> String {
    let mut out = format!("{:<4}  {}  {}  {}", f.severity.word(), f.id, f.rule, f.subject);
    out.push_str(&format!("  [{}", status_word(f.status)));
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

/// The status as a word.
pub fn status_word(status: Status) -> &'static str {
    match status {
        Status::Open => "open",
        Status::Settled => "settled",
        Status::Cleared => "cleared",
    }
}

/// `2 open stops, 1 open ask, 0 open notes; 1 settled, 1 cleared`
pub fn tally(found: &[ShownFinding]) -> String {
    if found.is_empty() {
        return "no findings".into();
    }
    let open = |s: Severity| found.iter().filter(|f| f.is_open() && f.severity == s).count() as u64;
    let with = |s: Status| found.iter().filter(|f| f.status == s).count();
    format!(
        "{}, {}, {}; {} settled, {} cleared",
        counted(open(Severity::Stop), "open stop", "open stops"),
        counted(open(Severity::Ask), "open ask", "open asks"),
        counted(open(Severity::Note), "open note", "open notes"),
        with(Status::Settled),
        with(Status::Cleared)
    )
}
