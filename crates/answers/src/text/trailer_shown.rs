//! A trailer's life for reading: what is linked now, its jobs in order, what speaks against it.

use super::deed::{deed, deeds};
use super::findings::finding;
use super::layout::table;
use super::{Page, Piece, Text, line};
use crate::trailer_shown::{TrailerJob, TrailerShown};

impl Text for TrailerShown {
    fn text(&self, page: Page) -> Vec<Piece> {
        let of = match self.fleet.as_slice() {
            [] => String::new(),
            fleets => format!(" of {}", fleets.join(" | ")),
        };
        let mut out = vec![line(format!("Trailer {}{of}", self.trailer))];
        for pair in &self.pairs {
            let linked = format!(
                "linked now: {} to {}, by {}",
                pair.camera,
                pair.tracker,
                deed(&pair.linked)
            );
            out.push(Piece::Out(page.wrapped(&linked, "")));
        }
        if self.pairs.is_empty() {
            out.push(line("no camera is linked by its jobs"));
        }
        let head = ["job", "state", "relied on", "opened", "proven", "ended"].map(str::to_owned);
        let mut rows = vec![head.to_vec()];
        rows.extend(self.jobs.iter().map(row));
        out.push(Piece::Out(table(&rows)));
        out.extend(self.findings.iter().map(|f| Piece::Out(finding(f, page))));
        out
    }
}

fn row(job: &TrailerJob) -> Vec<String> {
    let or_dash = |by: String| if by.is_empty() { "-".to_owned() } else { by };
    let ended = if job.stood_down.is_empty() {
        &job.signed_off
    } else {
        &job.stood_down
    };
    vec![
        job.job.clone(),
        job.state.name().to_owned(),
        job.relied_on.name().to_owned(),
        or_dash(deeds(&job.opened)),
        or_dash(deeds(&job.proven)),
        or_dash(deeds(ended)),
    ]
}
