//! May the wall be cut? The go/no-go answer for a trailer from its readings so far.
//!
//! The decision is the trade's, fed with the merged facts in causal order. What this adds: several concurrent values of
//! wall, load or thickness are no answer but a question, with both values and who wrote them; the steps that record what
//! is missing; and the cautions of the step that comes next. No answer is permission.

use std::sync::Arc;

use gladhand_facts::{Fact, Kind};
use gladhand_reconcile::order::in_causal_order;
use gladhand_reconcile::register::{field_value, values};
use gladhand_reconcile::{JobView, RecordedFact};
use gladhand_trade::names::{PILOT_HOLE, PILOT_SEALED, SECOND_HOLE_ENTERED, SEEN_EMPTY};
use gladhand_trade::{Answer, Situation, Verdict, Wants, verdict};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::advice;
use crate::deed::Deed;
use crate::judging::JudgingContext;
use crate::step::{Step, StepKind};
use crate::text::deed::deed;

/// The fields of a job that the answer depends on.
pub const FIELDS: [&str; 3] = ["wall", "load", "thickness"];

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
    /// What to mind before the next step, in words. That site rules come first stands last.
    pub cautions: Vec<String>,
}

/// A field that was written differently by people who did not know of each other.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Torn {
    /// The field.
    pub field: String,
    /// Its values, and who wrote them.
    pub values: Vec<Said>,
}

/// A value and who wrote it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Said {
    /// The value.
    pub value: String,
    /// Who, on which device, when, in words.
    pub by: String,
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
        thickness: job.values("thickness"),
        why: None,
        make_good: Vec::new(),
        ask: None,
        check: None,
        how: None,
        missing: Vec::new(),
        limits: Vec::new(),
        readings: readings(judging, job),
        record: steps(judging, job, &decided, &torn),
        open_pilot_hole: has_open_pilot(judging, job),
        remarks: remarks(judging, job),
        standard: judging.standard().version().to_owned(),
        cautions: cautions(judging, job, &decided),
        torn,
    };
    answer.take(decided);
    answer
}

impl Clearance {
    fn take(&mut self, decided: Answer) {
        match decided {
            Answer::Clear { limits } => self.limits = limits,
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

/// The trade's answer; where fields are torn it is never better than "not decidable".
pub(crate) fn decided(judging: &JudgingContext<'_>, job: &JobView, torn: &[Torn]) -> Answer {
    let answer = gladhand_reconcile::clearance(&judging.world(), &job.facts);
    if torn.is_empty() || matches!(answer, Answer::Blocked { .. }) {
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
    }
}

impl Torn {
    fn sentence(&self) -> String {
        let each: Vec<String> = self.values.iter().map(|s| format!("{} by {}", s.value, s.by)).collect();
        format!("{} is {}", self.field, each.join(" and "))
    }
}

pub(crate) fn torn(judging: &JudgingContext<'_>, job: &JobView) -> Vec<Torn> {
    let several = |field: &&'static str| {
        let holders = job.fields.get(*field)?;
        let said = |w: &Arc<RecordedFact>| {
            Some(Said {
                value: field_value(&w.fact, field)?.shown,
                by: deed(&Deed::of(judging, w)),
            })
        };
        (values(holders, field).len() > 1).then(|| Torn {
            field: (*field).to_owned(),
            values: holders.iter().filter_map(said).collect(),
        })
    };
    FIELDS.iter().filter_map(several).collect()
}

/// Whether a pilot hole is open, by the facts of the job.
pub(crate) fn has_open_pilot(judging: &JudgingContext<'_>, job: &JobView) -> bool {
    let ordered = in_causal_order(&job.facts);
    let facts: Vec<&Fact> = ordered.iter().map(|w| &w.fact).collect();
    Situation::from_facts(None, None, None, &facts).has_open_pilot(judging.standard())
}

/// The facts that say that the wall was cut, by the first of the standard's checks for it that was recorded: measuring a
/// hole cuts no second one.
pub(crate) fn cuts(judging: &JudgingContext<'_>, job: &JobView) -> Vec<Arc<RecordedFact>> {
    let shown = |check: &String| -> Vec<Arc<RecordedFact>> {
        let named = |w: &&Arc<RecordedFact>| w.fact.text("check").is_some_and(|c| c == *check);
        let checks = job.of_kind(&Kind::Check).filter(named);
        checks.filter(|w| !is_denied(judging, job, check, w)).cloned().collect()
    };
    let names = judging.standard().cut_shown_by().iter();
    names.map(shown).find(|cuts| !cuts.is_empty()).unwrap_or_default()
}

/// "Was it cut?" answered with no. A diameter that is out of tolerance is a hole all the same.
fn is_denied(judging: &JudgingContext<'_>, job: &JobView, check: &str, recorded: &RecordedFact) -> bool {
    let requirement = advice::requirement(judging.standard(), job, check).filter(|r| *r.wants() == Wants::Seen);
    requirement.is_some_and(|r| matches!(verdict(r, &recorded.fact), Verdict::Fails { .. }))
}

fn steps(judging: &JudgingContext<'_>, job: &JobView, answer: &Answer, torn: &[Torn]) -> Vec<Step> {
    let standard = judging.standard();
    let check = |name: &str| advice::check_step(standard, job, name);
    let seal = has_open_pilot(judging, job).then(|| check(PILOT_SEALED));
    match answer {
        Answer::Next { check: name, .. } => vec![check(name)],
        Answer::Unknown { missing } => missing.iter().map(|m| advice::missing_step(standard, job, m)).collect(),
        Answer::Clear { .. } if cuts(judging, job).is_empty() => {
            standard.cut_shown_by().iter().map(|c| check(c)).collect()
        }
        Answer::Clear { .. } => Vec::new(),
        Answer::Blocked { .. } => {
            let ended = !job.standing_stand_downs().is_empty();
            let end = Step::of(StepKind::StandDown, job, |job| {
                format!("gladhand stand-down {job} --why 'WHY'")
            });
            seal.into_iter().chain((!ended).then_some(end)).collect()
        }
        Answer::NotDecidable { .. } if !torn.is_empty() => {
            let fields = torn.iter().map(|t| advice::missing_step(standard, job, &t.field));
            fields.collect()
        }
        Answer::NotDecidable { again, .. } => {
            let again = again.as_deref().map(|name| advice::missing_step(standard, job, name));
            let office = Step::of(StepKind::Note, job, |job| {
                format!("gladhand note 'WHAT THE OFFICE SAYS' --job {job}")
            });
            again.into_iter().chain(seal).chain([office]).collect()
        }
    }
}

/// The cautions of the step that comes next.
fn cautions(judging: &JudgingContext<'_>, job: &JobView, answer: &Answer) -> Vec<String> {
    let standard = judging.standard();
    let step = |check: &str| advice::step_of(standard, check).to_owned();
    let steps: Vec<String> = match answer {
        Answer::Next { check, .. } => vec![step(check)],
        Answer::Unknown { missing } => missing.iter().map(|m| step(m)).collect(),
        Answer::Clear { .. } if cuts(judging, job).is_empty() => {
            standard.cut_shown_by().iter().map(|c| step(c)).collect()
        }
        Answer::Clear { .. } => Vec::new(),
        Answer::NotDecidable { again: Some(check), .. } => vec![step(check)],
        Answer::Blocked { .. } | Answer::NotDecidable { .. } if has_open_pilot(judging, job) => {
            vec![step(PILOT_SEALED)]
        }
        Answer::Blocked { .. } | Answer::NotDecidable { .. } => Vec::new(),
    };
    let steps: Vec<&str> = steps.iter().map(String::as_str).collect();
    advice::cautions(standard, &steps)
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
        Self {
            check: recorded.owned("check").unwrap_or_default(),
            value: written("value"),
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
    matches!(check, PILOT_HOLE | PILOT_SEALED | SECOND_HOLE_ENTERED | SEEN_EMPTY)
        || matches!(wants, Some(Wants::Reading | Wants::YesOrNo))
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
