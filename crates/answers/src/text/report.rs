//! The shift report for reading.

use super::findings::{finding, tally};
use super::layout::{counted, or_dash, table};
use super::{Page, Piece, Text, line};
use crate::report::{ReportedJob, ShiftReport};
use crate::report_by::{ReportBy, ReportedTrailer};

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
        let rows = rows(self);
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

/// The columns of the table of trailers.
const TRAILER_HEAD: [&str; 9] = [
    "trailer",
    "fleet",
    "camera",
    "tracker",
    "relied on",
    "why not",
    "proven",
    "by",
    "jobs",
];

/// The columns of the table of groups.
const GROUP_HEAD: [&str; 9] = [
    "",
    "jobs",
    "signed",
    "yes",
    "no",
    "ask",
    "not yet",
    "taken off",
    "by ruling",
];

/// The table of a report: its head, then a row for each line.
pub(crate) fn rows(report: &ShiftReport) -> Vec<Vec<String>> {
    let headed = |head: &[&str]| vec![head.iter().map(|word| (*word).to_owned()).collect::<Vec<_>>()];
    let mut rows = headed(match report.by {
        ReportBy::Job => &HEAD,
        ReportBy::Trailer => &TRAILER_HEAD,
        ReportBy::Person | ReportBy::Wall | ReportBy::Week => &GROUP_HEAD,
    });
    match report.by {
        ReportBy::Job => rows.extend(report.jobs.iter().map(row)),
        ReportBy::Trailer => rows.extend(report.trailers.iter().map(trailer_row)),
        ReportBy::Person | ReportBy::Wall | ReportBy::Week => {
            rows.extend(report.groups.iter().map(|group| group.cells().to_vec()));
        }
    }
    rows
}

fn trailer_row(trailer: &ReportedTrailer) -> Vec<String> {
    let minute = |at: &String| at.get(..16).unwrap_or(at).replace('T', " ");
    vec![
        trailer.trailer.clone(),
        or_dash(&trailer.fleet),
        or_dash(&trailer.camera),
        or_dash(&trailer.tracker),
        trailer.relied_on.name().to_owned(),
        trailer.why_not.map_or("-", |why| why.words()).to_owned(),
        or_dash(&trailer.proven_at.iter().map(minute).collect::<Vec<_>>()),
        or_dash(&trailer.proven_by),
        or_dash(&trailer.jobs),
    ]
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
