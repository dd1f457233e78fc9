//! One job for reading: how it stands first, then what comes next, then the rest.

use super::deed::{deed, deeds};
use super::findings::finding;
use super::layout::{counted, table};
use super::{Page, Piece, Text, line};
use crate::job_shown::{CheckOutcome, JobShown, ShownCheck};

impl Text for JobShown {
    fn text(&self, page: Page) -> Vec<Piece> {
        let mut out = vec![Piece::Out(page.wrapped(&headline(self), ""))];
        out.extend(
            self.waits
                .iter()
                .map(|wait| Piece::Out(page.wrapped(&format!("waits for {}", wait.says), "  "))),
        );
        if !self.next.is_empty() {
            out.push(Piece::Out(super::clearance::steps(&self.next)));
        }
        out.push(Piece::Out(table(&facts(self))));
        let open = self.checks.iter().filter(|c| c.outcome != CheckOutcome::Good).count() as u64;
        if !self.checks.is_empty() {
            let all = counted(self.checks.len() as u64, "check is", "checks are");
            out.push(line(format!(
                "{all} required by work standard {}, {open} open",
                self.standard
            )));
            out.push(Piece::Out(table(&self.checks.iter().map(check).collect::<Vec<_>>())));
        }
        out.extend(self.findings.iter().map(|f| Piece::Out(finding(f, page))));
        out
    }
}

/// `Job M01 on trailer 5312: open, relied on: not-yet.`
fn headline(job: &JobShown) -> String {
    let trailer = job.fields.iter().find(|field| field.field == "trailer");
    let on = trailer.map_or(String::new(), |field| {
        format!(" on trailer {}", field.values.join(" | "))
    });
    format!(
        "Job {}{on}: {}; can be relied on: {}.",
        job.job,
        job.state.name(),
        job.relied_on.name()
    )
}

fn facts(job: &JobShown) -> Vec<Vec<String>> {
    let row = |name: &str, value: String| vec![name.to_owned(), value];
    let mut rows: Vec<Vec<String>> = job
        .fields
        .iter()
        .map(|field| row(&field.field, field.values.join(" | ")))
        .collect();
    rows.extend(job.pairs.iter().map(|pair| {
        let linked = format!("{} to {}, by {}", pair.camera, pair.tracker, deed(&pair.linked));
        row("linked", linked)
    }));
    for (name, by) in [
        ("opened by", &job.opened),
        ("signed off by", &job.signed_off),
        ("stood down by", &job.stood_down),
    ] {
        if !by.is_empty() {
            rows.push(row(name, deeds(by)));
        }
    }
    rows
}

fn check(check: &ShownCheck) -> Vec<String> {
    let outcome = match check.outcome {
        CheckOutcome::Good => "good",
        CheckOutcome::Missing => "open",
        CheckOutcome::Failed => "failed",
    };
    let told = match &check.why {
        Some(why) => why.clone(),
        None => deeds(&check.recorded),
    };
    vec![format!("  {outcome}"), check.check.clone(), told]
}
