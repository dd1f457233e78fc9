//! May the wall be cut? The go/no-go answer for a trailer from its readings so far.
//!
//! The decision is the trade's, fed with the merged facts in causal order. What this adds: several concurrent values of
//! wall, load or thickness are no answer but a question, with both values and who wrote them; the steps that record what
//! is missing; and the cautions of the step that comes next. No answer is permission.

use std::sync::Arc;

use gladhand_facts::{Fact, Kind};
use gladhand_reconcile::order::in_causal_order;
use gladhand_reconcile::{JobView, RecordedFact};
use gladhand_trade::names::{APPROVAL, PILOT_HOLE, PILOT_SEALED, SECOND_HOLE_ENTERED, SEEN_EMPTY, THICKNESS};
use gladhand_trade::{Answer, Approval, Situation, Wants};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::advice;
use crate::clearance_steps;
use crate::deed::Deed;
use crate::judging::JudgingContext;
use crate::standard::{Office, example_note};
use crate::step::Step;
use crate::text::deed::deed;
use crate::torn::{Torn, torn};

/// The answer in one word.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Word {
    /// The wall may be cut, within the limits.
    Clear,
    /// The wall must not be cut.
    Blocked,
    /// The readings do not decide it: as good as blocked until the office has answered.
    NotDecidable,
    /// Something is still to be done and recorded.
    Next,
    /// No answer until what is missing is recorded.
    Unknown,
}

/// The answer for one job, with all that is shown beside it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Clearance {
    /// The answer.
    pub answer: Word,
    /// The job.
    pub job: String,
    /// The trailer's unit number; several where they were written without knowing of each other.
    pub trailer: Vec<String>,
    /// The customer; several where they were written without knowing of each other.
    pub fleet: Vec<String>,
    /// The kind of wall, `plate` or `sheet-and-post`; several where they were written without knowing of each other.
    pub wall: Vec<String>,
    /// `empty` or `loaded`; several where they were written without knowing of each other.
    pub load: Vec<String>,
    /// The thickness of the wall as written; several where they were written without knowing of each other.
    pub thickness: Vec<String>,
    /// Why, in words; absent unless the answer is `blocked` or `not-decidable`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<String>,
    /// What is to be made good, in order, in words; absent unless the answer is `blocked`.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub make_good: Vec<String>,
    /// Whom to ask and what to do until then, in words; absent unless the answer is `not-decidable`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ask: Option<String>,
    /// The check to record next; absent unless the answer is `next`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub check: Option<String>,
    /// How to do that check, in words; absent unless the answer is `next`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub how: Option<String>,
    /// Fields of the job, or checks, that are not recorded; absent unless the answer is `unknown`.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub missing: Vec<String>,
    /// What the work is limited to, in words; absent unless the answer is `clear`.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub limits: Vec<String>,
    /// Whose approval makes it clear; absent unless the answer is `clear`, and where the readings alone are.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub by_approval: Option<Approved>,
    /// Whom to ask; absent unless the answer is `not-decidable` and the work standard names somebody.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub office: Option<Office>,
    /// Those of `wall`, `load` and `thickness` that hold several values, each value with its writer.
    pub torn: Vec<Torn>,
    /// What the answer was read from, in causal order.
    pub readings: Vec<Taken>,
    /// How to record what comes next.
    pub record: Vec<Step>,
    /// Whether a pilot hole is open.
    pub open_pilot_hole: bool,
    /// What else has happened to the job that a person in front of the wall must know.
    pub remarks: Vec<Remark>,
    /// The version of the work standard that decides.
    pub standard: String,
    /// That the work standard is an example, in words; absent for one that a fleet has made its own.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub example: Option<String>,
    /// What to mind before the next step, in words. That site rules come first stands last.
    pub cautions: Vec<String>,
}

/// An approval that makes a wall clear.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Approved {
    /// Whose it is.
    pub by: String,
    /// The name of the device on which it was recorded.
    pub device: String,
    /// When, as written (RFC 3339).
    pub at: String,
    /// The id of the fact.
    #[schemars(with = "String")]
    pub fact: gladhand_facts::FactId,
}

impl Approved {
    fn of(judging: &JudgingContext<'_>, job: &JobView, approval: &Approval) -> Self {
        let recorded = job.facts.iter().find(|w| w.fact.id() == approval.fact);
        let device = recorded.map(|w| judging.names().device_name(&w.place.log.device));
        Self {
            by: approval.by.clone(),
            device: device.unwrap_or_default(),
            at: recorded.map(|w| w.at().text().to_owned()).unwrap_or_default(),
            fact: approval.fact,
        }
    }
}

/// A recorded check, as it was written.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Taken {
    /// The check.
    pub check: String,
    /// What was read, as written.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub value: Option<String>,
    /// Its unit, where that was written apart from the value.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unit: Option<String>,
    /// Whether it was recorded as good.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ok: Option<bool>,
    /// How far the reading may be off, as written.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub uncertainty: Option<String>,
    /// Who recorded it, if the fact says so.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// When, as written (RFC 3339).
    pub at: String,
    /// The id of the fact.
    #[schemars(with = "String")]
    pub fact: gladhand_facts::FactId,
}

/// What has happened to a job.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Happened {
    /// The hole was cut.
    Cut,
    /// The job was stood down.
    StoodDown,
    /// The job was signed off.
    SignedOff,
}

/// Something that has happened to a job, and by whom.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Remark {
    /// What has happened.
    pub what: Happened,
    /// Who, on which device, when, in words; several where they did not know of each other.
    pub by: Vec<String>,
}

/// The answer for `job` by everything that is known here.
pub fn clearance(judging: &JudgingContext<'_>, job: &JobView) -> Clearance {
    let torn = torn(judging, job);
    let decided = decided(judging, job, &torn);
    let mut answer = Clearance {
        answer: Word::Clear,
        job: job.job.clone(),
        trailer: job.values("trailer"),
        fleet: job.values("fleet"),
        wall: job.values("wall"),
        load: job.values("load"),
        thickness: advice::thickness_shown(job),
        why: None,
        make_good: Vec::new(),
        ask: None,
        check: None,
        how: None,
        missing: Vec::new(),
        limits: Vec::new(),
        by_approval: None,
        office: None,
        example: example_note(judging.standard()),
        readings: readings(judging, job),
        record: clearance_steps::steps(judging, job, &decided, &torn),
        open_pilot_hole: has_open_pilot(judging, job),
        remarks: remarks(judging, job),
        standard: judging.standard().version().to_owned(),
        cautions: clearance_steps::cautions(judging, job, &decided),
        torn,
    };
    match &decided {
        Answer::Clear { by_approval, .. } => {
            answer.by_approval = by_approval.as_ref().map(|by| Approved::of(judging, job, by));
        }
        Answer::NotDecidable { .. } => answer.office = Office::of(judging.standard()),
        _ => {}
    }
    answer.take(decided);
    answer
}

impl Clearance {
    fn take(&mut self, decided: Answer) {
        match decided {
            Answer::Clear { limits, .. } => self.limits = limits,
            Answer::Blocked { why, make_good } => {
                (self.answer, self.why, self.make_good) = (Word::Blocked, Some(why), make_good);
            }
            Answer::NotDecidable { why, ask, .. } => {
                (self.answer, self.why, self.ask) = (Word::NotDecidable, Some(why), Some(ask));
            }
            Answer::Next { check, how, .. } => {
                (self.answer, self.check, self.how) = (Word::Next, Some(check), Some(how));
            }
            Answer::Unknown { missing } => {
                self.answer = Word::Unknown;
                self.missing = missing.into_iter().map(str::to_owned).collect();
            }
        }
    }
}

/// The trade's answer. Where it is none because fields are torn, that is told; a thickness that is torn and decides nothing is not.
pub(crate) fn decided(judging: &JudgingContext<'_>, job: &JobView, torn: &[Torn]) -> Answer {
    let answer = gladhand_reconcile::clearance(&judging.world(), &job.facts);
    let is_open = matches!(answer, Answer::Unknown { .. } | Answer::NotDecidable { .. });
    if torn.is_empty() || !is_open {
        return answer;
    }
    let each: Vec<String> = torn.iter().map(Torn::sentence).collect();
    let names: Vec<&str> = torn.iter().map(|t| t.field.as_str()).collect();
    Answer::NotDecidable {
        why: format!("{}, written without knowing of each other", each.join("; ")),
        ask: format!(
            "find out on the trailer which is right and set {} again; until then treat the wall as blocked: do not cut",
            names.join(" and ")
        ),
        again: None,
        may_approve: false,
    }
}

/// Whether a pilot hole is open, by the facts of the job.
pub(crate) fn has_open_pilot(judging: &JudgingContext<'_>, job: &JobView) -> bool {
    let ordered = in_causal_order(&job.facts);
    let facts: Vec<&Fact> = ordered.iter().map(|w| &w.fact).collect();
    Situation::from_facts(None, None, None, &facts).has_open_pilot(judging.standard())
}

/// The facts that say that the wall was cut.
pub(crate) fn cuts(judging: &JudgingContext<'_>, job: &JobView) -> Vec<Arc<RecordedFact>> {
    gladhand_reconcile::readings::cuts(&judging.world(), &job.facts)
}

fn readings(judging: &JudgingContext<'_>, job: &JobView) -> Vec<Taken> {
    let is_reading = |w: &&Arc<RecordedFact>| {
        let check = w.owned("check").filter(|_| w.is(&Kind::Check));
        check.is_some_and(|check| is_read(judging, &check))
    };
    let ordered = in_causal_order(&job.facts);
    ordered.iter().filter(is_reading).map(|w| Taken::of(w)).collect()
}

impl Taken {
    /// What a recorded check says.
    pub(crate) fn of(recorded: &RecordedFact) -> Self {
        let fact = &recorded.fact;
        let written = |key: &str| {
            let value = fact.get(key)?;
            Some(value.as_str().map_or_else(|| value.to_string(), str::to_owned))
        };
        // The thickness may stand in a job fact.
        let is_field = recorded.is(&Kind::Job);
        let (check, value) = if is_field {
            (Some(THICKNESS.to_owned()), written(THICKNESS))
        } else {
            (recorded.owned("check"), written("value"))
        };
        Self {
            check: check.unwrap_or_default(),
            value,
            unit: recorded.owned("unit"),
            ok: fact.flag("ok"),
            uncertainty: written("uncertainty"),
            by: recorded.owned("by"),
            at: recorded.at().text().to_owned(),
            fact: fact.id(),
        }
    }
}

/// Whether the clearance reads the checks of that name.
pub(crate) fn is_read(judging: &JudgingContext<'_>, check: &str) -> bool {
    let wants = judging.standard().check(check).map(|c| c.wants());
    matches!(
        check,
        PILOT_HOLE | PILOT_SEALED | SECOND_HOLE_ENTERED | SEEN_EMPTY | THICKNESS | APPROVAL
    ) || matches!(wants, Some(Wants::Reading | Wants::YesOrNo))
}

fn remarks(judging: &JudgingContext<'_>, job: &JobView) -> Vec<Remark> {
    let remark = |what: Happened, deeds: &[Arc<RecordedFact>]| Remark {
        what,
        by: deeds.iter().map(|w| deed(&Deed::of(judging, w))).collect(),
    };
    let mut found = Vec::new();
    let cuts = cuts(judging, job);
    if !cuts.is_empty() {
        found.push(remark(Happened::Cut, &cuts));
    }
    let down = job.standing_stand_downs();
    if !down.is_empty() {
        found.push(remark(Happened::StoodDown, &down));
    }
    if down.is_empty() && !job.sign_offs.is_empty() {
        found.push(remark(Happened::SignedOff, &job.latest_sign_offs()));
    }
    found
}
