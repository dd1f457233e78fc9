//! The shift report as one HTML page: readable in black and white, on paper and by a screen reader; no script, nothing fetched.
//!
//! Like every report it holds no time of making and no name of the node: equal knowledge gives equal bytes.

use gladhand_reconcile::Status;
use gladhand_reconcile::report::Reliance;
use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::report::{ReportedJob, ShiftReport};
use crate::report_by::ReportBy;
use crate::shown_finding::ShownFinding;
use crate::text::findings::status_word;
use crate::text::layout::{SEVERAL, counted};
use crate::text::report::{HEAD, rows};

const STYLE: &str = "body{font:15px/1.45 system-ui,sans-serif;margin:2rem auto;max-width:78rem;padding:0 1rem;color:#111}\
h1{font-size:1.4rem}h2{font-size:1.1rem;margin-top:2rem}table{border-collapse:collapse;width:100%}\
th,td{text-align:left;white-space:nowrap;padding:.25rem .5rem;border-bottom:1px solid #bbb;vertical-align:top}th{border-bottom:2px solid #111}\
.no{font-weight:700}article{border-left:.3rem solid #111;padding:.1rem .8rem;margin:.8rem 0;break-inside:avoid}\
article.ask{border-left-style:dashed}article.done{border-left-color:#bbb}code{font-size:.95em}.next{font-weight:600}\
@media print{body{margin:0;max-width:none;font-size:11px}}";

/// The page. Rows and findings begin on lines of their own, so that two reports can be compared line by line.
pub fn render(report: &ShiftReport) -> String {
    let (open, over): (Vec<_>, Vec<_>) = report.findings.iter().partition(|f| f.is_open());
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                title { "Shift report" }
                meta name="viewport" content="width=device-width";
                style { (PreEscaped(STYLE)) }
            }
            "\n"
            body {
                h1 { "Shift report" }
                p { "Scope: " (scope(report)) ". Work standard " (report.standard) "." }
                @if let Some(example) = &report.example { p { strong { (example) } } }
                p { (summary(report)) }
                @if report.by == ReportBy::Job {
                    h2 { "Jobs" }
                    (jobs(&report.jobs))
                } @else {
                    (lines(report))
                }
                @for job in &report.jobs {
                    @for approval in &job.approvals { p { "Job " (job.job) ": " (approval.says()) "." } }
                }
                (section("Open findings", &open))
                (section("Settled and cleared", &over))
            }
        }
        "\n"
    };
    page.into_string()
}

/// A table of what is no job: the same rows as in the text.
fn lines(report: &ShiftReport) -> Markup {
    let rows = rows(report);
    let (head, body) = rows
        .split_first()
        .map_or((&[][..], &[][..]), |(head, body)| (head.as_slice(), body));
    html! {
        table {
            thead { tr { @for cell in head { th { (cell) } } } }
            "\n"
            tbody { @for row in body { tr { @for cell in row { td { (cell) } } } "\n" } }
        }
    }
}

fn scope(report: &ShiftReport) -> String {
    let scope = &report.scope;
    let said = [
        ("from", &scope.from),
        ("to", &scope.to),
        ("yard", &scope.yard),
        ("fleet", &scope.fleet),
    ];
    let said: Vec<String> = said
        .iter()
        .filter_map(|(name, value)| value.as_ref().map(|value| format!("{name} {value}")))
        .collect();
    if said.is_empty() {
        return "everything that is known".into();
    }
    said.join(", ")
}

fn summary(report: &ShiftReport) -> String {
    let totals = &report.totals;
    let relied: Vec<String> = totals
        .relied_on
        .iter()
        .map(|(r, n)| format!("{} {n}", r.name()))
        .collect();
    let jobs = counted(totals.jobs, "job", "jobs");
    format!("{jobs}; can be relied on: {}.", relied.join(", "))
}

fn jobs(jobs: &[ReportedJob]) -> Markup {
    html! {
        table {
            thead { tr { @for column in HEAD { th scope="col" { (column) } } } }
            "\n"
            tbody { @for job in jobs { (row(job)) "\n" } }
        }
    }
}

fn row(job: &ReportedJob) -> Markup {
    let or_dash = |values: &[String]| match values {
        [] => "–".to_owned(),
        values => values.join(SEVERAL),
    };
    let signed_at = job.signed_minute().unwrap_or_else(|| "–".into());
    html! {
        tr {
            td { (job.job) }
            td { (or_dash(&job.trailer)) }
            td { (or_dash(&job.fleet)) }
            td { (or_dash(&job.camera)) }
            td { (or_dash(&job.tracker)) }
            td { (job.state.name()) }
            td class=[(job.relied_on != Reliance::Yes).then_some("no")] { (job.relied_on.name()) }
            td { (signed_at) }
            td { (or_dash(&job.signed_by)) }
            td {
                @for (at, id) in job.findings.iter().enumerate() {
                    @if at > 0 { " " }
                    a href={ "#" (id) } { (id) }
                }
            }
        }
    }
}

fn section(title: &str, findings: &[&ShownFinding]) -> Markup {
    html! {
        @if !findings.is_empty() {
            h2 { (title) }
            @for finding in findings { (article(finding)) "\n" }
        }
    }
}

fn article(f: &ShownFinding) -> Markup {
    let severity = f.severity.word();
    html! {
        article id=(f.id) class=(if f.is_open() { severity } else { "done" }) {
            p {
                strong { (severity) } " " (f.rule) " " code { (f.subject) }
                " (" (status_word(f.status)) ") " code { (f.id) }
            }
            p { (f.says) }
            @if let Some(ruling) = &f.ruling {
                p {
                    "Settled by " (ruling.by.as_deref().unwrap_or("somebody")) ": " (ruling.ruling)
                    " (" (ruling.why.as_deref().unwrap_or("no reason given")) ")"
                }
            } @else if f.status == Status::Open {
                p class="next" { (f.next) }
            }
        }
    }
}

#[cfg(test)]
#[path = "report_tests.rs"]
mod tests;
