//! What is next after a fact: one line; and what is shown before the first fact of a step, in short.
//!
//! Every check that is next is named. Cautions and hints come when the work reaches their step, not after it and not at each fact
//! of it.

use gladhand_facts::{Fact, Kind};
use gladhand_reconcile::JobView;
use gladhand_reconcile::checks::required;
use gladhand_reconcile::report::{JobState, job_state};
use gladhand_trade::{Requirement, Standard, Wants};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::advice::{self, BEGINNING, Hint};
use crate::clearance;
use crate::judging::JudgingContext;
use crate::next_steps;
use crate::step::Step;
use crate::waits::{self, Outstanding, Wait, WaitsFor};

/// What comes next in a job.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Next {
    /// What, in a few words.
    pub says: String,
    /// How to record it.
    pub record: Vec<Step>,
    /// Required checks that come after these.
    pub checks_after: u64,
}

/// What comes next, and what belongs before its first fact.
pub(super) struct Coming {
    pub(super) next: Next,
    /// Cautions in few words; empty when the step has begun.
    pub(super) mind: Vec<String>,
    /// Hints; empty when the step has begun.
    pub(super) hints: Vec<Hint>,
}

/// What comes next after `fact` in an open job.
pub(super) fn coming(judging: &JudgingContext<'_>, job: &JobView, fact: &Fact, now_us: i64) -> Option<Coming> {
    let is_reading = fact
        .text("check")
        .is_some_and(|check| clearance::is_read(judging, &check));
    if job_state(job) != JobState::Open {
        return None;
    }
    let waits = waits::of(judging, job, now_us);
    let first = first(judging.standard(), &waits, is_reading)?;
    let next = Next {
        says: says(judging.standard(), job, &first),
        record: next_steps::of(judging, job, std::slice::from_ref(&first)),
        checks_after: checks_after(&waits, &first),
    };
    let step = step_of(judging.standard(), &first).unwrap_or_default();
    let begins = comes_to(judging.standard(), job, fact, &first) && !has_begun(judging.standard(), job, &step);
    let load = advice::one(job, "load");
    let (mind, hints) = if begins {
        let short = judging.standard().short_cautions_for(&[step.as_str()], load.as_deref());
        let mind = short.into_iter().map(str::to_owned).collect();
        (mind, hints_before(judging.standard(), job, &step))
    } else {
        (Vec::new(), Vec::new())
    };
    Some(Coming { next, mind, hints })
}

/// The wait that is to be ended first: what stops the work, then what is done on arrival, then the work at the wall in its order,
/// then what goes by the air. Whoever has begun to read goes on with that.
fn first(standard: &Standard, waits: &[Wait], is_reading: bool) -> Option<Wait> {
    let checks = waits.iter().find(|wait| wait.what == WaitsFor::Checks);
    let group = checks.map(|wait| Wait {
        checks: first_group(standard, &wait.checks),
        ..wait.clone()
    });
    let first = waits.first()?;
    let is_arrival = |wait: &Wait| step_of(standard, wait).is_some_and(|step| BEGINNING.contains(&step.as_str()));
    match (first.what, group) {
        (WaitsFor::Readings, Some(group)) if is_arrival(&group) && !is_reading => Some(group),
        // The checks up to the cut come before it, and one of them shows it.
        (WaitsFor::Cut, Some(group)) => Some(group),
        (WaitsFor::Checks, group) => group,
        _ => Some(first.clone()),
    }
}

/// The checks of the first step that misses any.
fn first_group(standard: &Standard, checks: &[Outstanding]) -> Vec<Outstanding> {
    let step = |check: &Outstanding| advice::step_of(standard, &check.check).to_owned();
    let first = checks.first().map(step).unwrap_or_default();
    checks.iter().filter(|check| step(check) == first).cloned().collect()
}

fn checks_after(waits: &[Wait], first: &Wait) -> u64 {
    let all = waits.iter().map(|wait| wait.checks.len()).sum::<usize>();
    (all - first.checks.len().min(all)) as u64
}

fn step_of(standard: &Standard, wait: &Wait) -> Option<String> {
    match wait.what {
        WaitsFor::Checks => Some(advice::step_of(standard, &wait.checks.first()?.check).to_owned()),
        WaitsFor::Readings => standard
            .check(&wait.says)
            .and_then(Requirement::step)
            .map(str::to_owned),
        WaitsFor::Cut => {
            let shown = standard.cut_shown_by().first()?;
            Some(advice::step_of(standard, shown).to_owned())
        }
        WaitsFor::ProofAsked => Some("proof".to_owned()),
        _ => None,
    }
}

/// `placement-top (3/4 in to 1 1/4 in), clear-of-markings`.
fn says(standard: &Standard, job: &JobView, wait: &Wait) -> String {
    if wait.what != WaitsFor::Checks {
        return wait.says.clone();
    }
    let each = wait.checks.iter().map(|outstanding| {
        let range = advice::check_step(standard, job, &outstanding.check).range;
        let range = range.map_or(String::new(), |range| format!(" ({range})"));
        let failed = if outstanding.failed { " again: it failed" } else { "" };
        format!("{}{range}{failed}", outstanding.check)
    });
    each.collect::<Vec<_>>().join(", ")
}

/// Whether the work comes to what is next by this fact: the fact belongs before it in the order of the work. Otherwise its step was
/// next before, and what belongs to it has been told.
fn comes_to(standard: &Standard, job: &JobView, fact: &Fact, next: &Wait) -> bool {
    let place = |check: &str| standard.checks().iter().position(|r| r.name() == check);
    let same = |check: &Fact| fact.text("check").is_some_and(|name| check.text("check") == Some(name));
    let is_repeated = job
        .of_kind(&Kind::Check)
        .filter(|recorded| same(&recorded.fact))
        .count()
        > 1;
    match (fact.kind(), next.what) {
        (Kind::Job, _) => true,
        (Kind::Check, _) if is_repeated => false,
        (Kind::Check, WaitsFor::Checks) => {
            let next = next.checks.first().and_then(|check| place(&check.check));
            fact.text("check").and_then(|check| place(&check)) < next
        }
        (Kind::Check, WaitsFor::Readings | WaitsFor::Cut | WaitsFor::ProofAsked) => true,
        (Kind::Settings, WaitsFor::ProofAsked) => true,
        _ => false,
    }
}

/// Whether a deed of that step is recorded. What was only looked at begins nothing.
fn has_begun(standard: &Standard, job: &JobView, step: &str) -> bool {
    job.facts.iter().any(|recorded| match recorded.fact.kind() {
        Kind::Check => recorded
            .fact
            .text("check")
            .is_some_and(|check| advice::step_of(standard, &check) == step && !is_only_seen(standard, &check)),
        Kind::Proof => step == "proof",
        _ => false,
    })
}

fn is_only_seen(standard: &Standard, check: &str) -> bool {
    matches!(standard.check(check).map(Requirement::wants), Some(Wants::YesOrNo))
}

/// The hints of a step, with what their tables give for the wall.
fn hints_before(standard: &Standard, job: &JobView, step: &str) -> Vec<Hint> {
    let wall = advice::thickness(job);
    let hints = standard.hints().iter().filter(|hint| hint.step() == step);
    hints
        .map(|hint| {
            let looked_up = wall.as_ref().and_then(|wall| Some((wall, hint.look_up(wall)?)));
            Hint {
                hint: hint.name().to_owned(),
                says: Some(hint.says().to_owned()),
                looked_up: looked_up.map(|(wall, _)| format!("the wall alone, {wall}")),
                gives: looked_up.map(|(_, gives)| gives.to_owned()),
                source: hint.source().to_owned(),
            }
        })
        .collect()
}

/// The cautions of all the work that the job needs on this trailer, in full.
pub(super) fn all_cautions(judging: &JudgingContext<'_>, job: &JobView) -> Vec<String> {
    let world = judging.world();
    let required = required(&world, job);
    let steps: Vec<&str> = BEGINNING
        .into_iter()
        .chain(required.into_iter().filter_map(Requirement::step))
        .collect();
    judging
        .standard()
        .cautions_for(&steps, advice::one(job, "load").as_deref())
}
