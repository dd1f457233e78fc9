//! What the work standard shows beside the work: cautions before a step, hints with their source, the kit to bring, and
//! the command line that records a check. All of it is the standard's data; none of it is a gate.

use gladhand_facts::measure::Exact;
use gladhand_facts::{Dimension, Fact, Measure};
use gladhand_reconcile::JobView;
use gladhand_trade::names::PILOT_DEPTH;
use gladhand_trade::{Requirement, Standard, Wants};

use super::handle::quoted;
use crate::show;

/// The steps that every job begins with.
pub const BEGINNING: [&str; 2] = ["arrive", "ladder"];

/// A command line that records something, and what to put into it.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct RecordLine {
    /// To be typed.
    pub command: String,
    /// What to write in the place of a word in capitals.
    pub with: Option<String>,
}

impl RecordLine {
    fn new(command: String, with: &str) -> Self {
        let with = Some(with.to_owned()).filter(|w| !w.is_empty());
        Self { command, with }
    }
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
    let holders = job.fields.get("thickness").filter(|_| one(job, "thickness").is_some());
    holders?.first()?.fact.measure("thickness")
}

/// The requirement of that name that applies to the job, or the first of that name.
pub fn requirement<'s>(standard: &'s Standard, job: &JobView, name: &str) -> Option<&'s Requirement> {
    let (wall, load, thick) = (one(job, "wall"), one(job, "load"), thickness(job));
    let holds = |r: &&Requirement| r.applies().holds(wall.as_deref(), load.as_deref(), thick.as_ref());
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

/// An item of a list, for reading.
pub fn bullet(text: &str) -> String {
    format!("  - {}", show::wrapped(text, "    ").trim_start())
}

/// How to record a check of `job`. No value is put into anybody's mouth: what was read stands as a word in capitals.
pub fn check_line(standard: &Standard, job: &JobView, check: &str) -> RecordLine {
    let head = format!("gladhand check {} {}", quoted(&job.job), quoted(check));
    let Some(requirement) = requirement(standard, job, check) else {
        return RecordLine::new(format!("{head} --ok"), "");
    };
    match requirement.wants() {
        Wants::Seen => RecordLine::new(format!("{head} --ok"), ""),
        Wants::Reading if check == PILOT_DEPTH => RecordLine::new(
            format!("{head} DEPTH"),
            "DEPTH with its unit, as the drill stop was set: 5/8 in, 16 mm",
        ),
        Wants::Reading => RecordLine::new(
            format!("{head} DEPTH"),
            "DEPTH with its unit: 3/8 in, 9.5 mm; or the word free, when the probe met nothing",
        ),
        Wants::YesOrNo => RecordLine::new(format!("{head} ANSWER"), "ANSWER: yes or no"),
        Wants::Measure(band) | Wants::Wait { band, .. } => RecordLine::new(
            format!("{head} VALUE"),
            &format!("VALUE with its unit; wanted is {band}"),
        ),
        Wants::Answers(answers) => {
            let each: String = answers.iter().map(|a| format!(" --answer {a}=yes")).collect();
            RecordLine::new(format!("{head}{each}"), "or no")
        }
    }
}

/// How to record what a clearance misses: a field of the job, or a check.
pub fn missing_line(standard: &Standard, job: &JobView, missing: &str) -> RecordLine {
    let head = format!("gladhand job {}", quoted(&job.job));
    match missing {
        "wall" => RecordLine::new(format!("{head} --wall WALL"), "WALL: plate or sheet-and-post"),
        "load" => RecordLine::new(format!("{head} --load LOAD"), "LOAD: empty or loaded"),
        "thickness" => RecordLine::new(
            format!("{head} --thickness 'THICKNESS'"),
            "THICKNESS with its unit: 5/8 in, 16 mm",
        ),
        check => check_line(standard, job, check),
    }
}

/// The hints of a check's step, with what their tables give for what was recorded.
pub fn hints(standard: &Standard, job: &JobView, check: &str, fact: &Fact) -> Vec<String> {
    let step = step_of(standard, check);
    let value = fact.measure("value");
    let wall = thickness(job);
    let hints = standard.hints().iter().filter(|h| !step.is_empty() && h.step() == step);
    hints
        .map(|hint| {
            let given = |m: &Option<Measure>| m.as_ref().and_then(|m| Some((*m, hint.look_up(m)?.to_owned())));
            let looked_up = match (given(&value), given(&wall)) {
                (Some((measure, gives)), _) => format!("; for {measure}: {gives}"),
                (None, Some((measure, gives))) => format!("; for the wall alone, {measure}: {gives}"),
                (None, None) => String::new(),
            };
            format!("{}: {}{looked_up} ({})", hint.name(), hint.says(), hint.source())
        })
        .collect()
}

/// What the hints' tables give for the time since the last check of their step, such as the tape since it was pressed.
pub fn hints_by_time(standard: &Standard, job: &JobView, now_us: i64) -> Vec<String> {
    let mut found = Vec::new();
    for hint in standard.hints() {
        let checks = job.of_kind(&gladhand_facts::Kind::Check);
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
            found.push(format!(
                "{}: {} since {check}: {gives} ({})",
                hint.name(),
                minutes(waited_s),
                hint.source()
            ));
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

/// What to bring, in one sentence. Says what is not known that the list depends on.
pub fn kit(standard: &Standard, job: &JobView) -> String {
    let (wall, load) = (one(job, "wall"), one(job, "load"));
    let items = standard.kit(wall.as_deref(), load.as_deref());
    let each: Vec<String> = items
        .iter()
        .map(|item| match item.count() {
            1 => item.item().to_owned(),
            count => format!("{count} x {}", item.item()),
        })
        .collect();
    let unknown: Vec<&str> = [("wall", &wall), ("load", &load)]
        .iter()
        .filter(|(_, value)| value.is_none())
        .map(|(name, _)| *name)
        .collect();
    let more = match unknown.as_slice() {
        [] => String::new(),
        names => format!(" (the {} is not recorded: there may be more)", names.join(" and the ")),
    };
    format!("Kit{more}: {}.", each.join("; "))
}
