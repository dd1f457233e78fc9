//! What is told when a fact was recorded: what the work standard shows beside that step, and what this device already
//! knows against it.
//!
//! The fact stands in any case; nothing here refuses or changes it. Only the subjects that the fact touches are judged, so
//! a large store answers as fast as a small one.

use gladhand_facts::{Fact, Kind};
use gladhand_node::{Node, NodeError, Receipt, environment};
use gladhand_reconcile::JobView;
use gladhand_trade::Wants;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::advice::{self, Hint, Kit};
use crate::clearance::{self, Clearance, clearance};
use crate::judging::JudgingContext;
use crate::shown_finding::ShownFinding;
use crate::torn::FIELDS;
use crate::waits;
use crate::warned::Warning;

mod found;
mod next;
mod warnings;

pub use next::Next;

/// The fields of a job that its kit depends on.
const KIT_FIELDS: [&str; 2] = ["wall", "load"];

/// How the job of a fact stood before it was recorded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Before {
    /// The fact names no job, or one that was known.
    Known,
    /// Nothing was known of the job.
    Unknown,
}

/// All that is told beside a receipt.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Told {
    /// The job that the fact opened.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub opened: Option<Opened>,
    /// What to bring, at the opening and when the wall or the load is recorded.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kit: Option<Kit>,
    /// What the work standard shows beside the step; never a gate.
    pub hints: Vec<Hint>,
    /// Waiting times that begin with this check.
    pub waits: Vec<Waiting>,
    /// Whether the wall may be cut now; absent where the fact has nothing to do with that.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub clearance: Option<Clearance>,
    /// What to mind on this trailer, in full: at the job's opening.
    pub cautions: Vec<String>,
    /// What to mind in the step that is next, in few words: before its first fact.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub mind: Vec<String>,
    /// What speaks against the fact although it contradicts nothing yet.
    pub warnings: Vec<Warning>,
    /// The open findings that the fact is part of, and the open stops of its job.
    pub findings: Vec<ShownFinding>,
    /// Those of the findings that this fact makes or joins, by their ids: they are told in full, the others were.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub new: Vec<String>,
    /// What comes next in the job; absent when nothing does, or when more facts of the same command follow.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub next: Option<Next>,
    /// The job was signed off and nothing that is known here speaks against it.
    #[serde(skip_serializing_if = "std::ops::Not::not", default)]
    pub nothing_missing: bool,
    /// The job that was signed off so.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub signed_off: Option<SignedOff>,
}

/// A job that was just signed off, and that nothing speaks against.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct SignedOff {
    /// Its name.
    pub job: String,
    /// The trailer's unit number; several where they were written without knowing of each other.
    pub trailer: Vec<String>,
}

/// A job that was just opened.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Opened {
    /// Its name.
    pub job: String,
    /// The trailer's unit number; several where they were written without knowing of each other.
    pub trailer: Vec<String>,
    /// The customer; several where they were written without knowing of each other.
    pub fleet: Vec<String>,
    /// The place of work; several where they were written without knowing of each other.
    pub yard: Vec<String>,
    /// The day on which somebody is to go there: the job is only planned so far.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub planned: Option<String>,
}

/// A waiting time between two checks.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Waiting {
    /// The check that the waiting time is for.
    pub check: String,
    /// How long, for reading: `at least 3 min`.
    pub wait: String,
    /// The check to record after it.
    pub then: String,
}

/// All that is told beside a receipt. `is_last`: no other fact of the same command follows.
///
/// # Errors
/// When the store cannot be read.
pub fn told(node: &Node, receipt: &Receipt, before: Before, is_last: bool) -> Result<Told, NodeError> {
    let judging = JudgingContext::new(node);
    let job = receipt.fact.text("job").map(|name| judging.job(&name));
    let mut told = match &job {
        Some(job) => beside(&judging, job, receipt, before),
        None => Told::default(),
    };
    let findings = found::findings(&judging, receipt, job.as_ref());
    let mut warnings = warnings::warnings(&judging, receipt, job.as_ref(), before);
    if let Some(job) = &job {
        warnings.extend(warnings::cut_unclear(&judging, receipt, job, &findings));
        if is_last && told.opened.as_ref().is_none_or(|opened| opened.planned.is_none()) {
            add_next(&mut told, &judging, job, &receipt.fact);
        }
    }
    told.warnings = warnings.into_iter().map(Warning::from).collect();
    let id = receipt.fact.id();
    let ruled = receipt.fact.text("finding");
    let is_new = |f: &&gladhand_reconcile::Finding| f.facts.contains(&id) || ruled.as_deref() == Some(f.id.as_str());
    told.new = findings.iter().filter(is_new).map(|f| f.id.clone()).collect();
    told.nothing_missing = *receipt.fact.kind() == Kind::SignOff && !findings.iter().any(|f| f.is_open());
    told.signed_off = job.filter(|_| told.nothing_missing).map(|job| SignedOff {
        trailer: job.values("trailer"),
        job: job.job,
    });
    told.findings = findings.iter().map(|f| ShownFinding::of(f, judging.names())).collect();
    judging.check()?;
    Ok(told)
}

fn add_next(told: &mut Told, judging: &JudgingContext<'_>, job: &JobView, fact: &Fact) {
    if let Some(coming) = next::coming(judging, job, fact, environment::now_us()) {
        // At the opening all cautions stand in full.
        if told.cautions.is_empty() {
            told.mind = coming.mind;
        }
        told.hints.extend(coming.hints);
        told.next = Some(coming.next);
    }
    // No word that a wall may be cut goes without the deference to the site.
    let is_clear = told
        .clearance
        .as_ref()
        .is_some_and(|answer| answer.answer == clearance::Word::Clear);
    if is_clear && told.cautions.is_empty() && told.mind.is_empty() {
        told.mind = advice::cautions(judging.standard(), &[]);
    }
}

/// What the work standard shows beside the step.
fn beside(judging: &JudgingContext<'_>, job: &JobView, receipt: &Receipt, before: Before) -> Told {
    let (standard, fact) = (judging.standard(), &receipt.fact);
    let planned = fact.text("planned").map(std::borrow::Cow::into_owned);
    let is_made = *fact.kind() == Kind::Job && before == Before::Unknown;
    let is_opening = (is_made && planned.is_none()) || opens_a_plan(job, receipt);
    let sets = |fields: &[&str]| *fact.kind() == Kind::Job && fields.iter().any(|f| fact.get(f).is_some());
    let check = fact.text("check").filter(|_| *fact.kind() == Kind::Check);
    let mut told = Told {
        opened: (is_made || is_opening).then(|| opened(job, planned)),
        kit: (is_opening || sets(&KIT_FIELDS)).then(|| advice::kit(standard, job)),
        ..Told::default()
    };
    if is_opening {
        told.cautions = next::all_cautions(judging, job);
    }
    if let Some(check) = &check {
        told.hints.extend(measured(advice::hints(standard, job, check, fact)));
        told.waits = waits_for(judging, check);
    }
    if *fact.kind() == Kind::SignOff {
        told.hints
            .extend(advice::hints_by_time(standard, job, environment::now_us()));
    }
    let is_reading = check.as_ref().is_some_and(|c| clearance::is_read(judging, c));
    let asks = is_opening || is_reading || sets(&FIELDS);
    if asks && waits::needs_cut(judging, job) {
        told.clearance = Some(clearance(judging, job));
    }
    told
}

/// What a table gives for the value that was just measured; hints without that stand before the step.
fn measured(hints: Vec<Hint>) -> impl Iterator<Item = Hint> {
    let is_of_value = |hint: &Hint| {
        hint.looked_up
            .as_ref()
            .is_some_and(|of| !of.starts_with("the wall alone"))
    };
    hints
        .into_iter()
        .filter(is_of_value)
        .map(|hint| Hint { says: None, ..hint })
}

/// Whether this is the first thing done in a job that was only planned.
fn opens_a_plan(job: &JobView, receipt: &Receipt) -> bool {
    let does = matches!(
        receipt.fact.kind(),
        Kind::Scan | Kind::Check | Kind::Link | Kind::Unlink | Kind::Settings | Kind::Proof | Kind::SignOff
    );
    let names_trailer_again = *receipt.fact.kind() == Kind::Job
        && receipt.fact.text("trailer").is_some()
        && receipt.fact.text("planned").is_none();
    let mut others = job.facts.iter().filter(|w| w.place < receipt.place);
    let is_plan = |w: &gladhand_reconcile::RecordedFact| {
        w.is(&Kind::Job) && (w.fact.text("trailer").is_none() || w.fact.text("planned").is_some())
    };
    let was_planned = !job.values("planned").is_empty();
    (does || names_trailer_again) && was_planned && others.all(|w| is_plan(w))
}

fn opened(job: &JobView, planned: Option<String>) -> Opened {
    Opened {
        job: job.job.clone(),
        trailer: job.values("trailer"),
        fleet: job.values("fleet"),
        yard: job.values("yard"),
        planned,
    }
}

/// The waiting times that begin with this check.
fn waits_for(judging: &JudgingContext<'_>, check: &str) -> Vec<Waiting> {
    let begun = judging.standard().checks().iter().filter_map(|r| match r.wants() {
        Wants::Wait { from, to, band } if from == check => Some(Waiting {
            check: r.name().to_owned(),
            wait: band.to_string(),
            then: to.clone(),
        }),
        _ => None,
    });
    begun.collect()
}
