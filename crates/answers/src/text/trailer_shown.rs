//! A trailer's life for reading: what is linked now, its jobs in order, what speaks against it.

use super::deed::{deed, short};
use super::findings::finding;
use super::layout::{SEVERAL, table};
use super::{Page, Piece, Text, line};
use crate::deed::Deed;
use crate::job_shown::Pair;
use crate::trailer_shown::{TrailerJob, TrailerShown};

impl Text for TrailerShown {
    fn text(&self, page: Page) -> Vec<Piece> {
        let mut out = vec![Piece::Out(page.wrapped(&headline(self), ""))];
        for pair in &self.pairs {
            out.push(Piece::Out(page.wrapped(&linked(pair), "  ")));
        }
        if self.pairs.is_empty() {
            out.push(line("  no camera of its jobs is linked now"));
        }
        let head = ["job", "purpose", "state", "opened", "proven", "ended"].map(str::to_owned);
        let mut rows = vec![head.to_vec()];
        rows.extend(self.jobs.iter().map(row));
        out.push(line(""));
        out.push(Piece::Out(table(&rows)));
        if !self.findings.is_empty() {
            out.push(line("\nOpen findings"));
        }
        out.extend(self.findings.iter().map(|f| Piece::Out(finding(f, page))));
        out
    }
}

/// `Trailer 5312 of Larkspur Freight, VIN 1LF5312X`
fn headline(trailer: &TrailerShown) -> String {
    let named = |before: &str, values: &[String]| {
        if values.is_empty() {
            String::new()
        } else {
            format!("{before}{}", values.join(SEVERAL))
        }
    };
    let (of, vin) = (named(" of ", &trailer.fleet), named(", VIN ", &trailer.vin));
    let why = trailer
        .why_not
        .map_or(String::new(), |why| format!(" ({})", why.words()));
    let relied_on = trailer.relied_on.name();
    format!("Trailer {}{of}{vin}: relied on: {relied_on}{why}", trailer.trailer)
}

/// `linked now: LC-1 to LT-1, in job M01, by mara on lap-1 (2026-03-02 10:12)`
fn linked(pair: &Pair) -> String {
    let job = pair
        .job
        .as_deref()
        .map_or(String::new(), |job| format!(", in job {job}"));
    let by = deed(&pair.linked);
    format!("linked now: {} to {}{job}, by {by}", pair.camera, pair.tracker)
}

fn row(job: &TrailerJob) -> Vec<String> {
    let cell = |by: &[Deed]| {
        Some(short(by))
            .filter(|by| !by.is_empty())
            .unwrap_or_else(|| "-".to_owned())
    };
    let ended = if job.stood_down.is_empty() {
        &job.signed_off
    } else {
        &job.stood_down
    };
    vec![
        job.job.clone(),
        job.purpose.clone(),
        job.state.name().to_owned(),
        cell(&job.opened),
        cell(&job.proven),
        cell(ended),
    ]
}
