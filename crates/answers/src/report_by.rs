//! The lines of a report that are not jobs: trailers as rows, and jobs counted by person, wall or week.

use std::collections::BTreeMap;

use gladhand_reconcile::report::{JobState, Reliance, TrailerLine, WhyNot};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::report::{RELIED_WORDS, ReportedJob, WHY_NOT_WORDS};
use crate::text::layout::SEVERAL;

/// What the lines of a report are of.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ReportBy {
    /// A line a job.
    #[default]
    Job,
    /// A line a trailer.
    Trailer,
    /// A line a person: who signed off, or else who opened the job.
    Person,
    /// A line a kind of wall.
    Wall,
    /// A line a week (ISO 8601), of the sign-off, or else of the opening.
    Week,
}

/// A trailer in a report. A field that may hold several values lists all of them; it is empty where none is known.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct ReportedTrailer {
    /// The unit number.
    pub trailer: String,
    /// The customers.
    pub fleet: Vec<String>,
    /// The cameras of the live pair.
    pub camera: Vec<String>,
    /// The trackers of the live pair.
    pub tracker: Vec<String>,
    /// Whether it can be relied on, as in a job's line.
    #[schemars(with = "String", extend("enum" = RELIED_WORDS))]
    pub relied_on: Reliance,
    /// Why it is not simply relied on; absent when it is.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    #[schemars(with = "Option<String>", extend("enum" = WHY_NOT_WORDS))]
    pub why_not: Option<WhyNot>,
    /// When the picture of the job that speaks for it was judged good, as written (RFC 3339).
    pub proven_at: Vec<String>,
    /// By whom.
    pub proven_by: Vec<String>,
    /// The BLAKE3 of that picture.
    pub picture: Vec<String>,
    /// When that job was signed off, as written (RFC 3339).
    pub signed_at: Vec<String>,
    /// By whom.
    pub signed_by: Vec<String>,
    /// Its jobs.
    pub jobs: Vec<String>,
    /// The ids of the open findings that touch it.
    pub findings: Vec<String>,
}

/// Jobs that have something in common.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct ReportedGroup {
    /// What they have in common: a person, a wall, a week; `-` where it is not known.
    pub name: String,
    /// How many jobs.
    pub jobs: u64,
    /// How many of them are signed off.
    pub signed_off: u64,
    /// Jobs by whether their trailers can be relied on.
    #[schemars(with = "BTreeMap<String, u64>")]
    pub relied_on: BTreeMap<Reliance, u64>,
}

/// The columns of the CSV of trailers.
pub(crate) const TRAILER_COLUMNS: [&str; 13] = [
    "trailer",
    "fleet",
    "camera",
    "tracker",
    "relied_on",
    "why_not",
    "proven_at",
    "proven_by",
    "picture",
    "signed_at",
    "signed_by",
    "jobs",
    "findings",
];

/// The columns of the CSV of groups.
pub(crate) const GROUP_COLUMNS: [&str; 9] = [
    "name",
    "jobs",
    "signed_off",
    "yes",
    "no",
    "ask",
    "not_yet",
    "taken_off",
    "by_ruling",
];

impl From<TrailerLine> for ReportedTrailer {
    fn from(line: TrailerLine) -> Self {
        Self {
            trailer: line.trailer,
            fleet: line.fleet,
            camera: line.camera,
            tracker: line.tracker,
            relied_on: line.relied_on,
            why_not: line.why_not,
            proven_at: line.proven_at,
            proven_by: line.proven_by,
            picture: line.picture,
            signed_at: line.signed_at,
            signed_by: line.signed_by,
            jobs: line.jobs,
            findings: line.findings,
        }
    }
}

impl ReportedTrailer {
    /// What stands under [`TRAILER_COLUMNS`].
    pub(crate) fn cells(&self) -> [String; 13] {
        let values = |values: &[String]| values.join(SEVERAL);
        [
            self.trailer.clone(),
            values(&self.fleet),
            values(&self.camera),
            values(&self.tracker),
            self.relied_on.name().to_owned(),
            self.why_not.map_or("", WhyNot::name).to_owned(),
            values(&self.proven_at),
            values(&self.proven_by),
            values(&self.picture),
            values(&self.signed_at),
            values(&self.signed_by),
            values(&self.jobs),
            self.findings.join(" "),
        ]
    }
}

impl ReportedGroup {
    /// What stands under [`GROUP_COLUMNS`].
    pub(crate) fn cells(&self) -> [String; 9] {
        let of = |reliance: Reliance| self.relied_on.get(&reliance).copied().unwrap_or_default().to_string();
        [
            self.name.clone(),
            self.jobs.to_string(),
            self.signed_off.to_string(),
            of(Reliance::Yes),
            of(Reliance::No),
            of(Reliance::Ask),
            of(Reliance::NotYet),
            of(Reliance::TakenOff),
            of(Reliance::ByRuling),
        ]
    }
}

/// The jobs counted by what they have in common; none where the lines are jobs or trailers. A job that several people signed counts
/// for each of them.
pub(crate) fn grouped(jobs: &[ReportedJob], by: ReportBy) -> Vec<ReportedGroup> {
    let mut groups: BTreeMap<String, ReportedGroup> = BTreeMap::new();
    for job in jobs {
        for name in names(job, by) {
            let group = groups.entry(name.clone()).or_insert_with(|| ReportedGroup {
                name,
                jobs: 0,
                signed_off: 0,
                relied_on: BTreeMap::new(),
            });
            group.jobs += 1;
            group.signed_off += u64::from(job.state == JobState::SignedOff);
            *group.relied_on.entry(job.relied_on).or_default() += 1;
        }
    }
    groups.into_values().collect()
}

fn names(job: &ReportedJob, by: ReportBy) -> Vec<String> {
    let or = |first: &[String], second: &[String]| {
        let chosen = if first.is_empty() { second } else { first };
        chosen.to_vec()
    };
    let found = match by {
        ReportBy::Job | ReportBy::Trailer => return Vec::new(),
        ReportBy::Person => or(&job.signed_by, &job.opened_by),
        ReportBy::Wall => job.wall.clone(),
        ReportBy::Week => {
            let times = or(&job.signed_at, &job.opened_at);
            times.first().and_then(|at| week(at)).into_iter().collect()
        }
    };
    if found.is_empty() { vec!["-".to_owned()] } else { found }
}

/// The ISO 8601 week of a time as it is written: `2026-W10`.
fn week(at: &str) -> Option<String> {
    let date: jiff::civil::Date = at.get(..10)?.parse().ok()?;
    let week = date.iso_week_date();
    Some(format!("{:04}-W{:02}", week.year(), week.week()))
}

#[cfg(test)]
mod tests {
    use super::week;

    /// ISO 8601 weeks: 2026-01-01 was a Thursday, so it lies in week 1; 2027-01-01 is a Friday and still in week 53 of 2026
    /// (from the calendar).
    #[test]
    fn a_week_begins_on_monday() {
        assert_eq!(week("2026-01-01T00:00:00Z").as_deref(), Some("2026-W01"));
        assert_eq!(week("2027-01-01T10:00:00-05:00").as_deref(), Some("2026-W53"));
        assert_eq!(week("2026-03-02T10:00:00Z").as_deref(), Some("2026-W10"));
        assert_eq!(week("soon"), None);
    }
}
