//! One job for reading: how it stands first, then what comes next, then the rest.
//!
//! An open job may lack fifteen checks. They are listed once, with what is wanted of them; the command line is shown for the
//! first few only, and the JSON has all.

use gladhand_reconcile::report::{JobState, Reliance};

use super::clearance::{said, steps};
use super::deed::{deed, deeds, told};
use super::findings::finding;
use super::job_list::short;
use super::layout::{SEVERAL, counted, in_one_line, table};
use super::{Page, Piece, Text, line};
use crate::job_shown::{CheckOutcome, DecidingFact, JobShown, Pair, ShownCheck};
use crate::step::Step;
use crate::waits::WaitsFor;

/// The fields that stand first, in this order; the others follow by name.
const FIRST: [&str; 10] = [
    "trailer",
    "vin",
    "fleet",
    "yard",
    "camera",
    "tracker",
    "wall",
    "load",
    "thickness",
    "assigned",
];

/// For so many outstanding checks the command line is shown.
const SHOWN_CHECKS: usize = 3;

impl Text for JobShown {
    fn text(&self, page: Page) -> Vec<Piece> {
        let mut out = vec![Piece::Out(page.wrapped(&headline(self), ""))];
        for wait in &self.waits {
            let waits = format!("waits for {}", short(wait));
            out.push(Piece::Out(page.wrapped(&waits, "  ")));
        }
        out.extend(record(self));
        out.push(line(""));
        out.push(Piece::Out(table(&facts(self))));
        out.extend(checks(self));
        if !self.findings.is_empty() {
            out.push(line("\nFindings"));
        }
        out.extend(self.findings.iter().map(|f| Piece::Out(finding(f, page))));
        out
    }
}

/// `Job M01 on trailer 5312 is open; the trailer cannot be relied on yet.`
fn headline(job: &JobShown) -> String {
    let trailer = job.fields.get("trailer");
    let on = trailer.map_or(String::new(), |values| format!(" on trailer {}", values.join(SEVERAL)));
    let state = match job.state {
        JobState::Open => "open",
        JobState::SignedOff => "signed off",
        JobState::StoodDown => "stood down",
    };
    let relied_on = match job.relied_on {
        Reliance::Yes => "the trailer can be relied on",
        Reliance::No => "the trailer must not be relied on",
        Reliance::Ask => "a person must look before the trailer is relied on",
        Reliance::NotYet => "the trailer cannot be relied on yet",
        Reliance::TakenOff => "the camera was taken off",
        Reliance::ByRuling => "the trailer is relied on by a ruling only",
    };
    format!("Job {}{on} is {state}; {relied_on}.", job.job)
}

/// The command lines. Those of the outstanding checks stand last, and only the first few of them.
fn record(job: &JobShown) -> Vec<Piece> {
    if job.record.is_empty() {
        return Vec::new();
    }
    let waits = job.waits.iter().filter(|wait| wait.what == WaitsFor::Checks);
    let names: Vec<&str> = waits.flat_map(|w| &w.checks).map(|c| c.check.as_str()).collect();
    let is_outstanding = |step: &Step| step.check.as_deref().is_some_and(|check| names.contains(&check));
    let (checks, mut shown): (Vec<Step>, Vec<Step>) = job.record.iter().cloned().partition(is_outstanding);
    let left = checks.len().saturating_sub(SHOWN_CHECKS) as u64;
    shown.extend(checks.into_iter().take(SHOWN_CHECKS));
    let mut out = vec![Piece::Out(format!("\n{}", steps(&shown)))];
    if left > 0 {
        let left = counted(left, "other check", "other checks");
        out.push(line(format!("  and in the same way {left} of those below")));
    }
    out
}

fn facts(job: &JobShown) -> Vec<Vec<String>> {
    let row = |name: &str, value: String| vec![name.to_owned(), in_one_line(&value).into_owned()];
    let first = FIRST.iter().filter_map(|field| job.fields.get_key_value(*field));
    let others = job.fields.iter().filter(|(field, _)| !FIRST.contains(&field.as_str()));
    let fields = first.chain(others);
    let mut rows: Vec<Vec<String>> = fields.map(|(field, values)| row(field, values.join(SEVERAL))).collect();
    rows.extend(job.pairs.iter().map(|pair| row("linked", linked(pair, &job.job))));
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

/// `LC-1 to LT-1, by mara on lap-1 (2026-03-02 10:12)`, with the job of the link where that is not `job`.
fn linked(pair: &Pair, job: &str) -> String {
    let other = pair.job.as_deref().filter(|of_link| *of_link != job);
    let of = other.map_or(String::new(), |of_link| format!(", in job {of_link}"));
    format!("{} to {}, by {}{of}", pair.camera, pair.tracker, deed(&pair.linked))
}

/// The required checks as a table. Nobody goes on with a job that was stood down: what it lacks says nothing.
fn checks(job: &JobShown) -> Vec<Piece> {
    let is_moot = |check: &ShownCheck| job.state == JobState::StoodDown && check.recorded.is_empty();
    let rows: Vec<Vec<String>> = job.checks.iter().filter(|c| !is_moot(c)).map(check).collect();
    if rows.is_empty() {
        return Vec::new();
    }
    let count = |outcome: CheckOutcome| job.checks.iter().filter(|c| c.outcome == outcome).count();
    let head = format!(
        "\n{} required by work standard {}: {} good, {} missing, {} failed",
        counted(job.checks.len() as u64, "check is", "checks are"),
        job.standard,
        count(CheckOutcome::Good),
        count(CheckOutcome::Missing),
        count(CheckOutcome::Failed),
    );
    vec![line(head), Piece::Out(table(&rows))]
}

fn check(check: &ShownCheck) -> Vec<String> {
    let outcome = match check.outcome {
        CheckOutcome::Good => "good",
        CheckOutcome::Missing => "missing",
        CheckOutcome::Failed => "failed",
    };
    let by = |fact: &DecidingFact| format!("by {}", told(fact.taken.by.as_deref(), &fact.device, &fact.taken.at));
    let recorded: Vec<String> = match &check.why {
        // The reason names what was recorded.
        Some(why) => [why.clone()].into_iter().chain(check.recorded.iter().map(by)).collect(),
        None => check
            .recorded
            .iter()
            .map(|fact| recorded(check, fact, by(fact)))
            .collect(),
    };
    let cell = match &check.range {
        Some(range) if recorded.is_empty() => format!("wanted is {range}"),
        _ => recorded.join("; "),
    };
    let cell = in_one_line(&cell).into_owned();
    vec![format!("  {outcome}"), check.check.clone(), cell]
}

/// `1 3/4 in, by mara on lap-1 (2026-03-02 10:12)`, after the name of the fact's own check where that is another. That it was
/// recorded as ok is what `good` says already.
fn recorded(check: &ShownCheck, fact: &DecidingFact, by: String) -> String {
    let name = Some(fact.taken.check.clone()).filter(|name| *name != check.check);
    let value = Some(said(&fact.taken)).filter(|value| !value.is_empty() && value != "ok");
    let words: Vec<String> = name.into_iter().chain(value).collect();
    if words.is_empty() {
        by
    } else {
        format!("{}, {by}", words.join(" "))
    }
}
