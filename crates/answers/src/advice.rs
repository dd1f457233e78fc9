//! What the work standard shows beside the work: cautions before a step, hints with their source, the kit to bring, and
//! the step that records a check. All of it is the standard's data; none of it is a gate.

use gladhand_facts::measure::Exact;
use gladhand_facts::{Dimension, Fact, Kind, Measure};
use gladhand_reconcile::{JobView, thickness};
use gladhand_trade::names::{PILOT_DEPTH, THICKNESS};
use gladhand_trade::{Requirement, Standard, Visit, Wants};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::step::{Step, StepKind};

/// The steps that every job begins with.
pub const BEGINNING: [&str; 2] = ["arrive", "ladder"];

/// A hint of the work standard, with what its table gives for what was recorded.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Hint {
    /// Its name.
    pub hint: String,
    /// What it says; absent where only the table speaks.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub says: Option<String>,
    /// What was looked up in its table, for reading: `5/8 in`, `the wall alone, 5/8 in`, `25 min since pressed`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub looked_up: Option<String>,
    /// What the table gives for that.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub gives: Option<String>,
    /// Where it comes from.
    pub source: String,
}

/// What to bring for a job.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Kit {
    /// The items.
    pub items: Vec<KitItem>,
    /// What is not recorded that the list depends on (`wall`, `load`, `thickness`): there may be more.
    pub not_recorded: Vec<String>,
}

/// An item of a kit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct KitItem {
    /// What it is.
    pub item: String,
    /// How many.
    pub count: u32,
}

/// The one value of a field; none where it is not known or holds several.
pub fn one(job: &JobView, field: &str) -> Option<String> {
    match job.values(field).as_slice() {
        [value] => Some(value.clone()),
        _ => None,
    }
}

/// The thickness of the wall, where one is known.
pub fn thickness(job: &JobView) -> Option<Measure> {
    thickness::known(&thickness::holders(&job.facts))
}

/// The thicknesses of the wall as written; several where they were written without knowing of each other.
pub fn thickness_shown(job: &JobView) -> Vec<String> {
    let holders = thickness::holders(&job.facts);
    let mut shown: Vec<String> = holders.iter().filter_map(|w| thickness::shown(&w.fact)).collect();
    shown.sort();
    shown.dedup();
    shown
}

/// What is known of a visit: the fields of the job that hold one value.
struct Known {
    purpose: Option<String>,
    wall: Option<String>,
    load: Option<String>,
    thickness: Option<Measure>,
}

impl Known {
    fn of(job: &JobView) -> Self {
        Self {
            purpose: one(job, "purpose"),
            wall: one(job, "wall"),
            load: one(job, "load"),
            thickness: thickness(job),
        }
    }

    fn visit(&self) -> Visit<'_> {
        Visit {
            purpose: self.purpose.as_deref(),
            wall: self.wall.as_deref(),
            load: self.load.as_deref(),
            thickness: self.thickness.as_ref(),
        }
    }
}

/// The requirement of that name that applies to the job, or the first of that name.
pub fn requirement<'s>(standard: &'s Standard, job: &JobView, name: &str) -> Option<&'s Requirement> {
    let known = Known::of(job);
    let visit = known.visit();
    let holds = |r: &&Requirement| r.applies().holds(visit);
    let named = |r: &&Requirement| r.name() == name;
    let applying = standard.checks().iter().filter(named).find(holds);
    applying.or_else(|| standard.check(name))
}

/// The step of the work that a check belongs to; empty where the standard names none.
pub fn step_of<'s>(standard: &'s Standard, check: &str) -> &'s str {
    standard.check(check).and_then(|c| c.step()).unwrap_or_default()
}

/// The cautions before any of `steps`, each once; the deference to site rules, local codes and licensed practice stands
/// last. Always at least that.
pub fn cautions(standard: &Standard, steps: &[&str]) -> Vec<String> {
    let each = steps
        .iter()
        .filter(|s| !s.is_empty())
        .map(|step| standard.cautions(step));
    merged(each.chain([standard.cautions("")]))
}

/// Several lists of cautions as one: each caution once, the deference that ends every list at the end.
pub fn merged(lists: impl IntoIterator<Item = Vec<String>>) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    let mut last = None;
    for mut list in lists {
        last = list.pop().or(last);
        for caution in list {
            if !found.contains(&caution) {
                found.push(caution);
            }
        }
    }
    found.extend(last);
    found
}

/// How to record a check of `job`. No value is suggested: a word in capitals stands in its place.
pub fn check_step(standard: &Standard, job: &JobView, check: &str) -> Step {
    let step = |rest: &str| Step {
        check: Some(check.to_owned()),
        ..Step::of(StepKind::RecordCheck, job, |job| {
            format!("gladhand check {job} {} {rest}", quoted(check))
        })
    };
    match requirement(standard, job, check).map(Requirement::wants) {
        None | Some(Wants::Seen) => step("--ok"),
        Some(Wants::Reading) => reading_step(step("DEPTH"), check),
        Some(Wants::YesOrNo) => Step {
            choices: words(["yes", "no", "cannot-be-seen"]),
            ..step("ANSWER").with("ANSWER: yes or no; cannot-be-seen where nothing can be seen from inside")
        },
        Some(Wants::Measure(band) | Wants::Wait { band, .. }) => Step {
            range: Some(band.to_string()),
            ..step("VALUE").with(&format!("VALUE with its unit; wanted is {band}"))
        },
        Some(Wants::Answers(answers)) => {
            let each: Vec<String> = answers.iter().map(|a| format!("--answer {a}=yes")).collect();
            Step {
                choices: answers.clone(),
                ..step(&each.join(" ")).with("or no")
            }
        }
    }
}

fn words<const N: usize>(words: [&str; N]) -> Vec<String> {
    words.map(str::to_owned).to_vec()
}

fn reading_step(step: Step, check: &str) -> Step {
    let (with, choices) = if check == PILOT_DEPTH {
        (
            "DEPTH with its unit, as the drill stop was set: 5/8 in, 16 mm",
            Vec::new(),
        )
    } else {
        (
            "DEPTH with its unit: 3/8 in, 9.5 mm; or the word free, when the probe met nothing",
            vec!["free".to_owned()],
        )
    };
    Step {
        unit: Some("in".to_owned()),
        choices,
        ..step.with(with)
    }
}

/// How to record what a clearance misses: a field of the job, or a check.
pub fn missing_step(standard: &Standard, job: &JobView, missing: &str) -> Step {
    let field = |word: &str, with: &str| Step {
        field: Some(missing.to_owned()),
        ..Step::of(StepKind::SetField, job, |job| {
            format!("gladhand job {job} --{missing} {word}")
        })
        .with(with)
    };
    match missing {
        "wall" => Step {
            choices: words(["plate", "sheet-and-post"]),
            ..field("WALL", "WALL: plate or sheet-and-post")
        },
        "load" => Step {
            choices: words(["empty", "loaded"]),
            ..field("LOAD", "LOAD: empty or loaded")
        },
        THICKNESS => Step {
            unit: Some("in".to_owned()),
            ..field("'THICKNESS'", "THICKNESS with its unit: 5/8 in, 16 mm")
        },
        check => check_step(standard, job, check),
    }
}

/// The hints of a check's step, with what their tables give for what was recorded.
pub fn hints(standard: &Standard, job: &JobView, check: &str, fact: &Fact) -> Vec<Hint> {
    let step = step_of(standard, check);
    let value = fact.measure("value");
    let wall = thickness(job);
    let hints = standard.hints().iter().filter(|h| !step.is_empty() && h.step() == step);
    hints
        .map(|hint| {
            let given = |m: &Option<Measure>| m.as_ref().and_then(|m| Some((*m, hint.look_up(m)?.to_owned())));
            let (looked_up, gives) = match (given(&value), given(&wall)) {
                (Some((measure, gives)), _) => (Some(measure.to_string()), Some(gives)),
                (None, Some((measure, gives))) => (Some(format!("the wall alone, {measure}")), Some(gives)),
                (None, None) => (None, None),
            };
            Hint {
                hint: hint.name().to_owned(),
                says: Some(hint.says().to_owned()),
                looked_up,
                gives,
                source: hint.source().to_owned(),
            }
        })
        .collect()
}

/// What the hints' tables give for the time since the last check of their step, such as the tape since it was pressed.
pub fn hints_by_time(standard: &Standard, job: &JobView, now_us: i64) -> Vec<Hint> {
    let mut found = Vec::new();
    for hint in standard.hints() {
        let checks = job.of_kind(&Kind::Check);
        let of_step = checks.filter(|w| {
            w.fact
                .text("check")
                .is_some_and(|c| step_of(standard, &c) == hint.step())
        });
        let Some(last) = of_step.max_by_key(|w| w.at().unix_us()) else {
            continue;
        };
        let waited_s = (now_us - last.at().unix_us()).div_euclid(1_000_000);
        let waited = Measure::of_seconds(Exact::from_integer(i128::from(waited_s)));
        if let Some(gives) = hint.look_up(&waited).filter(|_| waited.dimension() == Dimension::Time) {
            let check = last.owned("check").unwrap_or_default();
            found.push(Hint {
                hint: hint.name().to_owned(),
                says: None,
                looked_up: Some(format!("{} since {check}", minutes(waited_s))),
                gives: Some(gives.to_owned()),
                source: hint.source().to_owned(),
            });
        }
    }
    found
}

/// `25 min`, `26 h`.
fn minutes(seconds: i64) -> String {
    match seconds {
        0..7_200 => format!("{} min", seconds / 60),
        _ => format!("{} h", seconds / 3_600),
    }
}

/// What to bring, and what is not known that the list depends on.
pub fn kit(standard: &Standard, job: &JobView) -> Kit {
    let known = Known::of(job);
    let item = |item: &gladhand_trade::advice::KitItem| KitItem {
        item: item.item().to_owned(),
        count: item.count(),
    };
    let is_unknown = [
        ("wall", known.wall.is_none()),
        ("load", known.load.is_none()),
        (THICKNESS, known.thickness.is_none()),
    ];
    let depends = |field: &str| standard.kit_depends_on(known.purpose.as_deref(), field);
    let not_recorded = is_unknown.iter().filter(|(field, unknown)| *unknown && depends(field));
    Kit {
        items: standard.kit(known.visit()).into_iter().map(item).collect(),
        not_recorded: not_recorded.map(|(field, _)| (*field).to_owned()).collect(),
    }
}

/// A word as a shell takes it.
pub fn quoted(word: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || matches!(c, '-' | '_' | '.' | '/' | ':' | '+');
    if !word.is_empty() && word.chars().all(plain) {
        word.to_owned()
    } else {
        format!("'{}'", word.replace('\'', r"'\''"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_shell_takes_what_is_quoted() {
        assert_eq!(quoted("J-0302.M01"), "J-0302.M01");
        assert_eq!(quoted("the yard's"), r"'the yard'\''s'");
        assert_eq!(quoted(""), "''");
    }
}
