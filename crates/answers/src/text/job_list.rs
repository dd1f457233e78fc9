//! The open jobs as a table.

use super::layout::{counted, or_dash, table};
use super::{Page, Piece, Text};
use crate::job_list::{JobList, OpenJob};
use crate::waits::Wait;

/// How many missing checks are named in a row of the table; the JSON names all.
const NAMED: usize = 4;

impl Text for JobList {
    fn text(&self, _: Page) -> Vec<Piece> {
        if self.jobs.is_empty() {
            return vec![Piece::Aside("no open jobs".to_owned())];
        }
        let head = ["", "job", "trailer", "fleet", "min", "waits for"].map(str::to_owned);
        let mut cells = vec![head.to_vec()];
        cells.extend(self.jobs.iter().map(row));
        let mut out = table(&cells);
        if self.jobs.iter().any(|job| job.own) {
            out.push_str("* this person's or this device's\n");
        }
        vec![Piece::Out(out)]
    }
}

fn row(job: &OpenJob) -> Vec<String> {
    let words: Vec<String> = job.waits.iter().map(short).collect();
    vec![
        if job.own { "*" } else { "" }.to_owned(),
        job.job.clone(),
        or_dash(&job.trailer),
        or_dash(&job.fleet),
        job.minutes.to_string(),
        words.join("; "),
    ]
}

/// `3 checks: hole-diameter failed, placement-top, primer-wait`.
pub fn short(wait: &Wait) -> String {
    let (failed, missing): (Vec<_>, Vec<_>) = wait.checks.iter().partition(|c| c.failed);
    let failed = failed.into_iter().map(|c| format!("{} failed", c.check));
    let names: Vec<String> = failed.chain(missing.into_iter().map(|c| c.check.clone())).collect();
    if names.is_empty() {
        return wait.says.clone();
    }
    let count = counted(names.len() as u64, "check", "checks");
    let (named, rest) = names.split_at(names.len().min(NAMED));
    let more = if rest.is_empty() {
        String::new()
    } else {
        format!(" and {} more", rest.len())
    };
    format!("{count}: {}{more}", named.join(", "))
}
