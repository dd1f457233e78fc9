//! The shift report for reading.

use super::findings::{finding, tally};
use super::layout::{counted, or_dash, table};
use super::{Page, Piece, Text, line};
use crate::report::{ReportedJob, ShiftReport};

/// The columns of the table, as text and as a page.
pub const HEAD: [&str; 10] = [
    "job",
    "trailer",
    "fleet",
    "camera",
    "tracker",
    "state",
    "relied on",
    "signed",
    "by",
    "findings",
];

impl Text for ShiftReport {
    fn text(&self, page: Page) -> Vec<Piece> {
        let mut rows = vec![HEAD.map(str::to_owned).to_vec()];
        rows.extend(self.jobs.iter().map(row));
        let mut pieces = vec![Piece::Out(table(&rows)), line(""), line(summary(self))];
        pieces.extend(self.example.iter().map(line));
        for job in &self.jobs {
            let approved = job
                .approvals
                .iter()
                .map(|approval| format!("Job {}: {}.", job.job, approval.says()));
            pieces.extend(approved.map(line));
        }
        let open: Vec<_> = self.findings.iter().filter(|f| f.is_open()).collect();
        if !open.is_empty() {
            pieces.push(line("\nOpen findings"));
            pieces.extend(open.into_iter().map(|f| Piece::Out(finding(f, page))));
        }
        pieces.push(line(tally(&self.findings)));
        pieces
    }
}

fn row(job: &ReportedJob) -> Vec<String> {
    vec![
        job.job.clone(),
        or_dash(&job.trailer),
        or_dash(&job.fleet),
        or_dash(&job.camera),
        or_dash(&job.tracker),
        job.state.name().to_owned(),
        job.relied_on.name().to_owned(),
        job.signed_minute().unwrap_or_else(|| "-".into()),
        or_dash(&job.signed_by),
        job.findings.join(" "),
    ]
}

fn summary(report: &ShiftReport) -> String {
    let relied = |name: &str| {
        let named = report.totals.relied_on.iter().filter(|(r, _)| r.name() == name);
        named.map(|(_, count)| count).sum::<u64>()
    };
    format!(
        "{}: {} can be relied on, {} not, {} to be looked at, {} not finished. Work standard {}.",
        counted(report.totals.jobs, "job", "jobs"),
        relied("yes"),
        relied("no"),
        relied("ask"),
        relied("not-yet"),
        report.standard
    )
}
