//! `clearance`: the go/no-go answer for a trailer from its readings so far.
//!
//! The decision is the trade's, fed with the merged facts in causal order. What this adds: several concurrent values of
//! wall, load or thickness are no answer but a question, with both values and who wrote them; the command line that
//! records what is missing; and the cautions of the step that comes next. An answer is a document: the exit code is 0
//! whatever it says, and no answer is permission.

use std::sync::Arc;

use gladhand_facts::Kind;
use gladhand_reconcile::order::in_causal_order;
use gladhand_reconcile::register::{field_value, values};
use gladhand_reconcile::{JobView, RecordedFact};
use gladhand_trade::names::{PILOT_HOLE, PILOT_SEALED};
use gladhand_trade::{Answer, Situation, Verdict, Wants, verdict};
use serde::Serialize;
use serde_json::{Value, json};

use super::Context;
use super::trade::advice::{self, RecordLine};
use super::trade::handle::{self, quoted};
use super::trade::judging::JudgingContext;
use crate::failure::{Exit, Failure, Outcome};
use crate::show;

/// The fields of a job that the answer hangs on.
pub const FIELDS: [&str; 3] = ["wall", "load", "thickness"];

/// The answer for one job, with all that is shown beside it.
pub struct Given {
    /// The trade's answer; where fields are torn it is never better than "not decidable".
    pub answer: Answer,
    /// Fields with several values.
    pub torn: Vec<Torn>,
    /// How to record what comes next.
    pub record: Vec<RecordLine>,
    /// What to mind before that.
    pub cautions: Vec<String>,
}

/// A field that was written differently by people who did not know of each other.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Torn {
    /// The field.
    pub field: &'static str,
    /// What it says, and who wrote it.
    pub values: Vec<Said>,
}

/// A value and who wrote it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Said {
    /// The value.
    pub value: String,
    /// Who, on which device, when.
    pub by: String,
}

/// Shows the answer.
pub fn clearance(context: &Context, job: &str) -> Outcome {
    let node = context.open()?;
    let job = handle::known_job(&node, job)?;
    let text = {
        let judging = JudgingContext::new(&node);
        let job = judging.job(&job);
        let given = of(&judging, &job);
        let shown = if context.json {
            json(&judging, &job, &given)?
        } else {
            text(&judging, &job, &given)
        };
        judging.check()?;
        shown
    };
    node.close()?;
    show::print(&text)?;
    Ok(Exit::Done)
}

/// The answer for `job` by everything that is known here.
pub fn of(judging: &JudgingContext<'_>, job: &JobView) -> Given {
    let torn = torn(judging, job);
    let answer = answer(judging, &torn, &job.facts);
    Given {
        record: record_lines(judging, job, &answer, &torn),
        cautions: cautions(judging, job, &answer),
        answer,
        torn,
    }
}

fn answer(judging: &JudgingContext<'_>, torn: &[Torn], facts: &[Arc<RecordedFact>]) -> Answer {
    let answer = gladhand_reconcile::clearance(&judging.world(), facts);
    if torn.is_empty() || matches!(answer, Answer::Blocked { .. }) {
        return answer;
    }
    let each: Vec<String> = torn.iter().map(Torn::sentence).collect();
    let names: Vec<&str> = torn.iter().map(|t| t.field).collect();
    Answer::NotDecidable {
        why: format!("{}, written without knowing of each other", each.join("; ")),
        ask: format!(
            "find out on the trailer which is right and set {} again; until then treat the wall as blocked: do not cut",
            names.join(" and ")
        ),
    }
}

impl Torn {
    fn sentence(&self) -> String {
        let each: Vec<String> = self.values.iter().map(|s| format!("{} by {}", s.value, s.by)).collect();
        format!("{} is {}", self.field, each.join(" and "))
    }
}

fn torn(judging: &JudgingContext<'_>, job: &JobView) -> Vec<Torn> {
    let several = |field: &&'static str| {
        let holders = job.fields.get(*field)?;
        let said = |w: &Arc<RecordedFact>| {
            Some(Said {
                value: field_value(&w.fact, field)?.shown,
                by: judging.deed(w),
            })
        };
        (values(holders, field).len() > 1).then(|| Torn {
            field,
            values: holders.iter().filter_map(said).collect(),
        })
    };
    FIELDS.iter().filter_map(several).collect()
}

/// Whether a pilot hole is open, by the facts of the job.
pub fn has_open_pilot(judging: &JudgingContext<'_>, job: &JobView) -> bool {
    let ordered = in_causal_order(&job.facts);
    let facts: Vec<_> = ordered.iter().map(|w| &w.fact).collect();
    Situation::from_facts(None, None, None, &facts).has_open_pilot(judging.standard())
}

/// The facts that say that the wall was cut, by the first of the standard's checks for it that was recorded: who measures
/// a hole cuts no second one.
pub fn cuts(judging: &JudgingContext<'_>, job: &JobView) -> Vec<Arc<RecordedFact>> {
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

fn record_lines(judging: &JudgingContext<'_>, job: &JobView, answer: &Answer, torn: &[Torn]) -> Vec<RecordLine> {
    let standard = judging.standard();
    let check = |name: &str| advice::check_line(standard, job, name);
    let seal = has_open_pilot(judging, job).then(|| check(PILOT_SEALED));
    match answer {
        Answer::Next { check: name, .. } => vec![check(name)],
        Answer::Unknown { missing } => missing.iter().map(|m| advice::missing_line(standard, job, m)).collect(),
        Answer::Clear { .. } if cuts(judging, job).is_empty() => {
            standard.cut_shown_by().iter().map(|c| check(c)).collect()
        }
        Answer::Clear { .. } => Vec::new(),
        Answer::Blocked { .. } => {
            let ended = !job.standing_stand_downs().is_empty();
            let end = RecordLine {
                command: format!("gladhand stand-down {} --why 'WHY'", quoted(&job.job)),
                with: None,
            };
            seal.into_iter().chain((!ended).then_some(end)).collect()
        }
        Answer::NotDecidable { .. } if !torn.is_empty() => {
            let fields = torn.iter().map(|t| advice::missing_line(standard, job, t.field));
            fields.collect()
        }
        Answer::NotDecidable { .. } => {
            let office = RecordLine {
                command: format!("gladhand note 'WHAT THE OFFICE SAYS' --job {}", quoted(&job.job)),
                with: None,
            };
            seal.into_iter().chain([office]).collect()
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
        Answer::Blocked { .. } | Answer::NotDecidable { .. } if has_open_pilot(judging, job) => {
            vec![step(PILOT_SEALED)]
        }
        Answer::Blocked { .. } | Answer::NotDecidable { .. } => Vec::new(),
    };
    let steps: Vec<&str> = steps.iter().map(String::as_str).collect();
    advice::cautions(standard, &steps)
}

/// The answer in one line.
pub fn brief(answer: &Answer) -> String {
    match answer {
        Answer::Clear { .. } => "CLEAR".to_owned(),
        Answer::Blocked { why, .. } => format!("BLOCKED: {why}"),
        Answer::NotDecidable { why, .. } => format!("NOT DECIDABLE: {why}"),
        Answer::Next { check, .. } => format!("NEXT: {check}"),
        Answer::Unknown { missing } => format!("NOT ENOUGH RECORDED: {}", missing.join(", ")),
    }
}

fn text(judging: &JudgingContext<'_>, job: &JobView, given: &Given) -> String {
    let mut out = headline(&given.answer);
    out.push_str(&show::wrapped(&about(job), ""));
    if let Some(so_far) = so_far(judging, job) {
        out.push_str(&show::wrapped(&format!("So far: {so_far}"), ""));
    }
    for remark in remarks(judging, job) {
        out.push_str(&show::wrapped(&remark, ""));
    }
    out.push('\n');
    out.push_str(&body(&given.answer));
    out.push_str(&record_text(&given.record));
    out.push_str(if given.record.is_empty() {
        "\nMind:\n"
    } else {
        "\nBefore that, mind:\n"
    });
    for caution in &given.cautions {
        out.push_str(&advice::bullet(caution));
    }
    out
}

/// The first line: the answer as one word, with what is next or missing.
pub fn headline(answer: &Answer) -> String {
    let full = brief(answer);
    // The reason of a no stands below, in full lines.
    let word = if answer.is_blocked() {
        full.split(':').next().unwrap_or(&full)
    } else {
        &full
    };
    format!("{word}\n")
}

/// `job J1, trailer 5312 of Larkspur Freight: sheet-and-post, loaded, 5/8 in`.
fn about(job: &JobView) -> String {
    let field = |name: &str| Some(job.values(name).join(" | ")).filter(|v| !v.is_empty());
    let trailer = field("trailer").map_or(String::new(), |t| format!(", trailer {t}"));
    let fleet = field("fleet").map_or(String::new(), |f| format!(" of {f}"));
    let wall = FIELDS.map(|name| field(name).unwrap_or_else(|| format!("{name} not recorded")));
    format!("Job {}{trailer}{fleet}: {}.", job.job, wall.join(", "))
}

/// What the answer was read from, in order.
fn so_far(judging: &JudgingContext<'_>, job: &JobView) -> Option<String> {
    let told: Vec<String> = readings(judging, job).iter().map(|w| told(w)).collect();
    (!told.is_empty()).then(|| format!("{}.", told.join("; ")))
}

fn readings(judging: &JudgingContext<'_>, job: &JobView) -> Vec<Arc<RecordedFact>> {
    let is_reading = |w: &Arc<RecordedFact>| {
        let check = w.owned("check").filter(|_| w.is(&Kind::Check));
        check.is_some_and(|check| is_read(judging, &check))
    };
    let mut ordered = in_causal_order(&job.facts);
    ordered.retain(is_reading);
    ordered
}

/// Whether the clearance reads the checks of that name.
pub fn is_read(judging: &JudgingContext<'_>, check: &str) -> bool {
    let wants = judging.standard().check(check).map(|c| c.wants());
    matches!(check, PILOT_HOLE | PILOT_SEALED) || matches!(wants, Some(Wants::Reading | Wants::YesOrNo))
}

/// `first-probe 3/8 in (mara 10:14)`.
fn told(recorded: &RecordedFact) -> String {
    let fact = &recorded.fact;
    let mut words = vec![fact.text("check").unwrap_or_default().into_owned()];
    match fact.get("value") {
        Some(value) => words.push(value.as_str().map_or_else(|| value.to_string(), str::to_owned)),
        None if fact.flag("ok") == Some(true) => words.push("ok".to_owned()),
        None => {}
    }
    words.extend(fact.text("unit").map(|u| u.into_owned()));
    if fact.flag("ok") == Some(false) {
        words.push("not ok".to_owned());
    }
    let by = recorded.owned("by").unwrap_or_else(|| "somebody".to_owned());
    format!("{} ({by} {})", words.join(" "), recorded.at().hour_minute())
}

/// What else has happened to the job that a person in front of the wall must know.
fn remarks(judging: &JudgingContext<'_>, job: &JobView) -> Vec<String> {
    let deeds = |set: &[Arc<RecordedFact>]| set.iter().map(|w| judging.deed(w)).collect::<Vec<_>>().join(" and ");
    let mut found = Vec::new();
    let cuts = cuts(judging, job);
    if !cuts.is_empty() {
        found.push(format!("The hole was recorded as cut by {}.", deeds(&cuts)));
    }
    let down = job.standing_stand_downs();
    if !down.is_empty() {
        found.push(format!("The job was stood down by {}.", deeds(&down)));
    }
    if down.is_empty() && !job.sign_offs.is_empty() {
        found.push(format!("The job was signed off by {}.", deeds(&job.latest_sign_offs())));
    }
    found
}

/// What the answer means, in full lines.
pub fn body(answer: &Answer) -> String {
    let list = |head: &str, items: &[String]| {
        let lines: String = items.iter().map(|i| advice::bullet(i)).collect();
        if items.is_empty() {
            String::new()
        } else {
            format!("{head}\n{lines}")
        }
    };
    match answer {
        Answer::Clear { limits } if limits.is_empty() => "The wall may be cut.\n".to_owned(),
        Answer::Clear { limits } => list("The wall may be cut, within these limits:", limits),
        Answer::Blocked { why, make_good } => {
            let why = show::wrapped(&format!("Do not cut: {why}."), "");
            format!("{why}{}", list("To make good:", make_good))
        }
        Answer::NotDecidable { why, ask } => {
            let why = show::wrapped(&format!("Do not cut: {why}."), "");
            format!("{why}{}", list("What to do:", std::slice::from_ref(ask)))
        }
        Answer::Next { how, .. } => show::wrapped(&sentence(how), ""),
        Answer::Unknown { .. } => "No answer until that is recorded.\n".to_owned(),
    }
}

fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default();
    format!("{first}{}.", letters.as_str())
}

/// The command lines, each with what to put into it.
pub fn record_text(lines: &[RecordLine]) -> String {
    if lines.is_empty() {
        return String::new();
    }
    let each = lines.iter().map(|line| match &line.with {
        Some(with) => format!("  {}\n      ({with})\n", line.command),
        None => format!("  {}\n", line.command),
    });
    format!("Record it:\n{}", each.collect::<String>())
}

fn json(judging: &JudgingContext<'_>, job: &JobView, given: &Given) -> Result<String, Failure> {
    let mut object = serde_json::to_value(&given.answer).map_err(Failure::failed)?;
    let readings: Vec<Value> = readings(judging, job)
        .iter()
        .map(|w| Value::Object(w.fact.shown()))
        .collect();
    let beside = json!({
        "job": job.job, "trailer": job.values("trailer"), "wall": job.values("wall"), "load": job.values("load"),
        "thickness": job.values("thickness"), "torn": given.torn, "readings": readings, "record": given.record,
        "open_pilot_hole": has_open_pilot(judging, job), "remarks": remarks(judging, job),
        "standard": judging.standard().version(), "cautions": given.cautions,
    });
    if let (Some(object), Value::Object(beside)) = (object.as_object_mut(), beside) {
        object.extend(beside);
    }
    let text = serde_json::to_string_pretty(&object).map_err(Failure::failed)?;
    Ok(text + "\n")
}
