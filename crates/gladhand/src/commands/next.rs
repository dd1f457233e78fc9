//! `job next`: which open jobs wait for what, so that an installer with five trailers open knows where to go.
//!
//! The jobs of this person or device come first, then the others that are known here; within both the one that has waited
//! longest. Minutes are counted by this device's clock from the last thing that was recorded for what is waited for.

mod waits;

use gladhand_reconcile::JobView;
use gladhand_reconcile::report::{JobState, job_state};
use serde::Serialize;

use super::Context;
use super::trade::judging::JudgingContext;
use crate::failure::{Exit, Outcome};
use crate::show;

use waits::Wait;

/// How many missing checks are named in a row of the table; the JSON names all.
const NAMED: usize = 4;

/// An open job and what it waits for.
#[derive(Debug, Serialize)]
struct OpenJob {
    job: String,
    trailer: Vec<String>,
    fleet: Vec<String>,
    yard: Vec<String>,
    /// Whether it is this person's or this device's.
    own: bool,
    /// Since the oldest of what it waits for.
    minutes: i64,
    waits: Vec<Wait>,
}

/// Lists the open jobs.
pub fn next(context: &Context) -> Outcome {
    let node = context.open()?;
    let rows = {
        let judging = JudgingContext::new(&node);
        let rows = rows(&judging, gladhand_node::environment::now_us());
        judging.check()?;
        rows
    };
    node.close()?;
    if context.json {
        return show::json(&rows);
    }
    show::print(&table(&rows))?;
    if rows.is_empty() {
        show::aside("no open jobs");
    }
    Ok(Exit::Done)
}

fn rows(judging: &JudgingContext<'_>, now_us: i64) -> Vec<OpenJob> {
    let jobs = judging.open_jobs();
    let views = jobs.iter().map(|job| judging.job(job));
    let open = views.filter(|job| job_state(job) == JobState::Open);
    let mut rows: Vec<OpenJob> = open.map(|job| row(judging, &job, now_us)).collect();
    rows.sort_by(|a, b| (!a.own, -a.minutes, &a.job).cmp(&(!b.own, -b.minutes, &b.job)));
    rows
}

fn row(judging: &JudgingContext<'_>, job: &JobView, now_us: i64) -> OpenJob {
    let waits = waits::of(judging, job, now_us);
    OpenJob {
        job: job.job.clone(),
        trailer: job.values("trailer"),
        fleet: job.values("fleet"),
        yard: job.values("yard"),
        own: is_own(judging, job),
        minutes: waits.iter().map(|w| w.minutes).max().unwrap_or(0),
        waits,
    }
}

/// Whose it is: as assigned, or else whoever opened it.
fn is_own(judging: &JudgingContext<'_>, job: &JobView) -> bool {
    let person = judging.node().config().person.as_str();
    let assigned = job.values("assigned");
    if !assigned.is_empty() {
        return assigned.iter().any(|a| a == person);
    }
    job.openings().iter().any(|w| {
        let here = w.place.log.device == judging.node().device();
        here || (!person.is_empty() && w.fact.text("by").as_deref() == Some(person))
    })
}

fn table(rows: &[OpenJob]) -> String {
    if rows.is_empty() {
        return String::new();
    }
    let mut cells = vec![
        ["", "job", "trailer", "fleet", "min", "waits for"]
            .map(str::to_owned)
            .to_vec(),
    ];
    cells.extend(rows.iter().map(|row| {
        let words: Vec<String> = row.waits.iter().map(short).collect();
        vec![
            if row.own { "*" } else { "" }.to_owned(),
            row.job.clone(),
            or_dash(&row.trailer),
            or_dash(&row.fleet),
            row.minutes.to_string(),
            words.join("; "),
        ]
    }));
    let mut out = show::table(&cells);
    if rows.iter().any(|r| r.own) {
        out.push_str("* this person's or this device's\n");
    }
    out
}

fn or_dash(values: &[String]) -> String {
    if values.is_empty() {
        "-".to_owned()
    } else {
        values.join(" | ")
    }
}

/// `3 checks: hole-diameter failed, placement-top, primer-wait`.
fn short(wait: &Wait) -> String {
    let (failed, missing): (Vec<_>, Vec<_>) = wait.checks.iter().partition(|c| c.failed);
    let failed = failed.into_iter().map(|c| format!("{} failed", c.check));
    let names: Vec<String> = failed.chain(missing.into_iter().map(|c| c.check.clone())).collect();
    if names.is_empty() {
        return wait.says.clone();
    }
    let count = show::counted(names.len() as u64, "check", "checks");
    let (named, rest) = names.split_at(names.len().min(NAMED));
    let more = if rest.is_empty() {
        String::new()
    } else {
        format!(" and {} more", rest.len())
    };
    format!("{count}: {}{more}", named.join(", "))
}
