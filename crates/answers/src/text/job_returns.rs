//! The jobs to come back to: a paragraph each, with why.

use super::deed::{deed, deeds};
use super::layout::SEVERAL;
use super::{Page, Piece, Text};
use crate::job_returns::{JobReturns, JobToReturnTo, LastSeen, WhyReturn};

impl Text for JobReturns {
    fn text(&self, page: Page) -> Vec<Piece> {
        if self.jobs.is_empty() {
            return vec![Piece::Aside("no job to come back to".to_owned())];
        }
        self.jobs.iter().map(|job| Piece::Out(paragraph(job, page))).collect()
    }
}

fn paragraph(job: &JobToReturnTo, page: Page) -> String {
    let mut out = page.wrapped(&headline(job), "");
    out.push_str(&page.wrapped(&last(&job.last), "  "));
    for found in &job.findings {
        let next = found.next.trim_end_matches('.');
        let says = format!("{} {} {}: {next}", found.severity.word(), found.id, found.rule);
        out.push_str(&page.bullet(&says));
    }
    for why in job.why.iter().filter_map(|why| says(job, *why)) {
        out.push_str(&page.bullet(&why));
    }
    if !job.under_way.is_empty() {
        let jobs = job.under_way.join(", ");
        out.push_str(&page.bullet(&format!("open or planned on this trailer: {jobs}")));
    }
    out
}

/// `LF5396 of Larkspur Freight, job J1, signed off by mara on lap-1 (2026-03-02 10:12)`
fn headline(job: &JobToReturnTo) -> String {
    let trailer = match job.trailer.as_slice() {
        [] => String::new(),
        several => format!("{}{}, ", several.join(SEVERAL), of(&job.fleet)),
    };
    let ended = job.state.name().replace('-', " ");
    format!("{trailer}job {}, {ended} by {}", job.job, deeds(&job.ended))
}

fn of(fleet: &[String]) -> String {
    if fleet.is_empty() {
        String::new()
    } else {
        format!(" of {}", fleet.join(SEVERAL))
    }
}

/// `last at Tolland: mara on lap-1 (2026-03-02 10:12)`
fn last(last: &LastSeen) -> String {
    let place = match (&last.handed_over_to, last.yard.as_slice()) {
        (Some(to), []) => format!("handed over to {to}"),
        (Some(to), yard) => format!("last at {}, handed over to {to}", yard.join(SEVERAL)),
        (None, []) => "last seen, in no named yard".to_owned(),
        (None, yard) => format!("last at {}", yard.join(SEVERAL)),
    };
    match &last.by {
        Some(by) => format!("{place}: {}", deed(by)),
        None => place,
    }
}

/// What the findings do not say themselves.
fn says(job: &JobToReturnTo, why: WhyReturn) -> Option<String> {
    match why {
        WhyReturn::OpenFindings => None,
        WhyReturn::StoodDown => {
            let reasons = match job.reasons.as_slice() {
                [] => String::new(),
                reasons => format!(" ({})", reasons.join("; ")),
            };
            Some(format!("stood down{reasons}, and no later job took over"))
        }
        WhyReturn::NoPair => Some("no camera is linked on it".to_owned()),
        WhyReturn::NobodySpeaks => {
            Some("two jobs on it were signed off without knowing of each other: look, and sign one again".to_owned())
        }
    }
}
