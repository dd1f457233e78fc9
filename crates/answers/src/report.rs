//! The reconciled shift report: which jobs were done, and which trailers can be relied on.
//!
//! It holds no time of making and no name of the node: equal knowledge gives equal bytes, as text, JSON, CSV and HTML.

use std::collections::BTreeMap;

use gladhand_node::Node;
use gladhand_reconcile::report::{self as reconciled, Filter, JobLine, JobState, Reliance, WhyNot};
use gladhand_reconcile::{Report, Severity};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::error::AnswerError;
use crate::report_by::{GROUP_COLUMNS, ReportBy, ReportedGroup, ReportedTrailer, TRAILER_COLUMNS, grouped};
use crate::reported_approval::ReportedApproval;
use crate::shown_finding::ShownFinding;
use crate::spreadsheet::defused;
use crate::standard::example_note;
use crate::text::layout::SEVERAL;

/// A shift report.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ShiftReport {
    /// What was asked for.
    pub scope: ReportScope,
    /// The version of the work standard that judged.
    pub standard: String,
    /// That the work standard is an example, in words; absent for one that a fleet has made its own.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub example: Option<String>,
    /// What was known: for each log (`KEY.INCARNATION`) its last entry.
    pub vector: BTreeMap<String, u64>,
    /// Counts.
    pub totals: ReportTotals,
    /// What its lines are of, as text, table and page show them.
    #[serde(default)]
    #[schemars(with = "String", extend("enum" = ["job", "trailer", "person", "wall", "week"]))]
    pub by: ReportBy,
    /// The jobs, by name.
    pub jobs: Vec<ReportedJob>,
    /// Their trailers, by unit number.
    #[serde(default)]
    pub trailers: Vec<ReportedTrailer>,
    /// The jobs by person, wall or week, where that was asked for.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub groups: Vec<ReportedGroup>,
    /// The findings that touch these jobs, and those that touch no job.
    pub findings: Vec<ShownFinding>,
}

/// What a report was asked for. What is `null` did not restrict it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct ReportScope {
    /// Jobs with something at or after this time (RFC 3339, UTC).
    pub from: Option<String>,
    /// Jobs with something before this time (RFC 3339, UTC).
    pub to: Option<String>,
    /// Only this yard.
    pub yard: Option<String>,
    /// Only this fleet.
    pub fleet: Option<String>,
}

/// Counts over a report.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct ReportTotals {
    /// Jobs in the report.
    pub jobs: u64,
    /// Jobs by state: `open`, `signed-off`, `stood-down`.
    #[schemars(with = "BTreeMap<String, u64>")]
    pub states: BTreeMap<JobState, u64>,
    /// Jobs by whether their trailers can be relied on: `yes`, `no`, `ask`, `not-yet`, `taken-off`,
    /// `by-ruling`.
    #[schemars(with = "BTreeMap<String, u64>")]
    pub relied_on: BTreeMap<Reliance, u64>,
    /// Open findings by severity: `stop`, `ask`, `note`.
    #[schemars(with = "BTreeMap<String, u64>")]
    pub open: BTreeMap<Severity, u64>,
    /// Findings that a ruling settled.
    pub settled: u64,
    /// Findings that later facts cleared.
    pub cleared: u64,
}

/// A job in a report. A field that may hold several values lists all of them; it is empty where none is known.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct ReportedJob {
    /// Its name.
    pub job: String,
    /// The trailer's unit numbers.
    pub trailer: Vec<String>,
    /// The trailer's VINs.
    pub vin: Vec<String>,
    /// The customers.
    pub fleet: Vec<String>,
    /// The places of work.
    pub yard: Vec<String>,
    /// What the visit is for.
    #[schemars(extend("enum" = ["fit", "replace", "take-off", "prove"]))]
    pub purpose: String,
    /// The trackers of the live pair.
    pub tracker: Vec<String>,
    /// The cameras of the live pair.
    pub camera: Vec<String>,
    /// The trackers that the job names.
    pub planned_tracker: Vec<String>,
    /// The cameras that the job names.
    pub planned_camera: Vec<String>,
    /// The kinds of wall.
    pub wall: Vec<String>,
    /// Empty or loaded.
    pub load: Vec<String>,
    /// How far it has come: open, declared done, or given up and not signed off after that.
    #[schemars(with = "String", extend("enum" = ["open", "signed-off", "stood-down"]))]
    pub state: JobState,
    /// Whether the trailer can be relied on, by all jobs on it: `yes` when its pair is linked, live and proven and nothing open speaks
    /// against it, `no`, `ask` when a person must look first, `not-yet` when no job is signed off, `taken-off` when the camera
    /// was, `by-ruling` when a ruling closed a question about the chain.
    #[schemars(with = "String", extend("enum" = RELIED_WORDS))]
    pub relied_on: Reliance,
    /// Why it is not simply relied on; absent when it is.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    #[schemars(with = "Option<String>", extend("enum" = WHY_NOT_WORDS))]
    pub why_not: Option<WhyNot>,
    /// When it was opened, as written (RFC 3339).
    pub opened_at: Vec<String>,
    /// By whom.
    pub opened_by: Vec<String>,
    /// On which devices.
    pub opened_on: Vec<String>,
    /// When it was last signed off, as written (RFC 3339); several where signers did not know of each other.
    pub signed_at: Vec<String>,
    /// By whom.
    pub signed_by: Vec<String>,
    /// On which devices.
    pub signed_on: Vec<String>,
    /// The approvals by which a value outside its range passed, or a wall was cut.
    pub approvals: Vec<ReportedApproval>,
    /// The ids of the findings that touch it.
    pub findings: Vec<String>,
}

/// The words of `relied_on`.
pub(crate) const RELIED_WORDS: [&str; 6] = ["yes", "no", "ask", "not-yet", "taken-off", "by-ruling"];
/// The words of `why_not`.
pub(crate) const WHY_NOT_WORDS: [&str; 7] = [
    "open-stop",
    "open-ask",
    "nobody-speaks",
    "not-signed",
    "taken-off",
    "no-pair",
    "settled-stop",
];

/// The shift report of the jobs that `filter` takes.
///
/// # Errors
/// When the store cannot be read.
pub fn report(node: &Node, filter: &Filter) -> Result<ShiftReport, AnswerError> {
    report_by(node, filter, ReportBy::Job)
}

/// The same with lines of trailers, people, walls or weeks.
///
/// # Errors
/// When the store cannot be read.
pub fn report_by(node: &Node, filter: &Filter, by: ReportBy) -> Result<ShiftReport, AnswerError> {
    let report = node.kept_report(filter)?;
    let findings = report.findings.iter().map(ShownFinding::told).collect();
    let example = example_note(&node.standard());
    let report = ShiftReport::new(report, findings);
    Ok(ShiftReport {
        example,
        by,
        groups: grouped(&report.jobs, by),
        ..report
    })
}

impl ShiftReport {
    fn new(report: Report, findings: Vec<ShownFinding>) -> Self {
        let scope = report.scope;
        Self {
            scope: ReportScope {
                from: scope.from,
                to: scope.to,
                yard: scope.yard,
                fleet: scope.fleet,
            },
            standard: report.standard,
            example: None,
            vector: report.vector,
            totals: report.totals.into(),
            jobs: report.jobs.into_iter().map(ReportedJob::from).collect(),
            trailers: report.trailers.into_iter().map(ReportedTrailer::from).collect(),
            by: ReportBy::Job,
            groups: Vec::new(),
            findings,
        }
    }

    /// Whether an open `stop` finding is among its findings.
    pub fn has_open_stop(&self) -> bool {
        self.findings.iter().any(ShownFinding::is_open_stop)
    }

    /// As CSV: a row of column names, and a row for each job, or what the lines are of.
    ///
    /// # Errors
    /// When a row cannot be written.
    pub fn csv(&self) -> Result<Vec<u8>, csv::Error> {
        let mut writer = csv::Writer::from_writer(Vec::new());
        match self.by {
            ReportBy::Job => {}
            ReportBy::Trailer => {
                writer.write_record(TRAILER_COLUMNS)?;
                for trailer in &self.trailers {
                    writer.write_record(trailer.cells().map(defused))?;
                }
            }
            _ => {
                writer.write_record(GROUP_COLUMNS)?;
                for group in &self.groups {
                    writer.write_record(group.cells().map(defused))?;
                }
            }
        }
        if self.by != ReportBy::Job {
            return writer.into_inner().map_err(|e| e.into_error().into());
        }
        writer.write_record(COLUMNS)?;
        for job in &self.jobs {
            writer.write_record(job.cells().map(defused))?;
        }
        writer.into_inner().map_err(|e| e.into_error().into())
    }
}

/// The columns of the CSV, named as the fields of a job.
const COLUMNS: [&str; 23] = [
    "job",
    "trailer",
    "vin",
    "fleet",
    "yard",
    "purpose",
    "tracker",
    "camera",
    "planned_tracker",
    "planned_camera",
    "wall",
    "load",
    "state",
    "relied_on",
    "why_not",
    "opened_at",
    "opened_by",
    "opened_on",
    "signed_at",
    "signed_by",
    "signed_on",
    "approvals",
    "findings",
];

impl ReportedJob {
    /// What stands under [`COLUMNS`]. What is not known is empty; findings stand one space apart.
    fn cells(&self) -> [String; 23] {
        let values = |values: &[String]| values.join(SEVERAL);
        [
            self.job.clone(),
            values(&self.trailer),
            values(&self.vin),
            values(&self.fleet),
            values(&self.yard),
            self.purpose.clone(),
            values(&self.tracker),
            values(&self.camera),
            values(&self.planned_tracker),
            values(&self.planned_camera),
            values(&self.wall),
            values(&self.load),
            self.state.name().to_owned(),
            self.relied_on.name().to_owned(),
            self.why_not.map_or("", WhyNot::name).to_owned(),
            values(&self.opened_at),
            values(&self.opened_by),
            values(&self.opened_on),
            values(&self.signed_at),
            values(&self.signed_by),
            values(&self.signed_on),
            self.approvals
                .iter()
                .map(ReportedApproval::says)
                .collect::<Vec<_>>()
                .join(SEVERAL),
            self.findings.join(" "),
        ]
    }

    /// When it was last signed off, to the minute, as text and page show it.
    pub(crate) fn signed_minute(&self) -> Option<String> {
        let at = self.signed_at.first()?;
        Some(at.get(..16).unwrap_or(at).replace('T', " "))
    }
}

impl From<JobLine> for ReportedJob {
    fn from(line: JobLine) -> Self {
        Self {
            job: line.job,
            trailer: line.trailer,
            vin: line.vin,
            fleet: line.fleet,
            yard: line.yard,
            purpose: line.purpose,
            tracker: line.tracker,
            camera: line.camera,
            planned_tracker: line.planned_tracker,
            planned_camera: line.planned_camera,
            wall: line.wall,
            load: line.load,
            state: line.state,
            relied_on: line.relied_on,
            why_not: line.why_not,
            opened_at: line.opened_at,
            opened_by: line.opened_by,
            opened_on: line.opened_on,
            signed_at: line.signed_at,
            signed_by: line.signed_by,
            signed_on: line.signed_on,
            approvals: line.approvals.into_iter().map(ReportedApproval::from).collect(),
            findings: line.findings,
        }
    }
}

impl From<reconciled::Totals> for ReportTotals {
    fn from(totals: reconciled::Totals) -> Self {
        Self {
            jobs: totals.jobs as u64,
            states: counts(totals.states),
            relied_on: counts(totals.relied_on),
            open: counts(totals.open),
            settled: totals.settled as u64,
            cleared: totals.cleared as u64,
        }
    }
}

fn counts<K: Ord>(counted: BTreeMap<K, usize>) -> BTreeMap<K, u64> {
    counted.into_iter().map(|(key, count)| (key, count as u64)).collect()
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::*;
    use crate::html::report::render;
    use crate::small_home::{shown, through_json};
    use crate::small_yard::{SmallYard, record};

    /// Two say differently which trailer J1 is on, and one of them stands it down; J2 has nothing but a name.
    fn shift() -> SmallYard {
        let mut yard = SmallYard::new();
        record(
            &mut yard.mara,
            &[
                r#"{"kind":"job","job":"J1","trailer":"LF 5301","yard":"Tolland yard","by":"mara"}"#,
                r#"{"kind":"job","job":"J2","by":"mara"}"#,
            ],
        );
        record(
            &mut yard.depot,
            &[
                r#"{"kind":"job","job":"J1","trailer":"LF <5302>","by":"jonas"}"#,
                r#"{"kind":"stand-down","job":"J1","why":"left early","by":"jonas"}"#,
            ],
        );
        yard.carry_to_mara();
        yard
    }

    #[test]
    fn fields_with_several_values_are_lists_and_are_joined_only_for_reading() {
        let yard = shift();
        let report = report(&yard.mara, &Filter::default()).unwrap();
        let json = through_json(&report);
        let keys: Vec<&String> = json.as_object().unwrap().keys().collect();
        let wanted = [
            "by", "scope", "standard", "example", "vector", "totals", "jobs", "trailers", "findings",
        ];
        assert!(
            keys.len() == 9 && wanted.iter().all(|key| json.get(key).is_some()),
            "{keys:?}"
        );
        let job = &json["jobs"][0];
        let trailers = job["trailer"].as_array().unwrap();
        assert!(
            trailers.len() == 2 && trailers.contains(&json!("LF 5301")),
            "{trailers:?}"
        );
        assert_eq!((&job["yard"], &job["vin"]), (&json!(["Tolland yard"]), &json!([])));
        assert_eq!(
            (&job["state"], &job["relied_on"]),
            (&json!("stood-down"), &json!("ask"))
        );
        assert_eq!(json["totals"]["states"]["open"], 1);
        let joined = trailers
            .iter()
            .map(|t| t.as_str().unwrap())
            .collect::<Vec<_>>()
            .join(" | ");
        let csv = String::from_utf8(report.csv().unwrap()).unwrap();
        let (text, page) = (shown(&report), render(&report));
        assert!(csv.contains(&format!("J1,{joined},,,Tolland yard,")), "{csv}");
        assert!(text.contains(&joined), "{text}");
        assert!(
            text.contains("2 jobs: 0 can be relied on, 0 not, 1 to be looked at, 1 not finished."),
            "{text}"
        );
        let escaped = joined.replace('<', "&lt;").replace('>', "&gt;");
        assert!(page.contains(&format!("<td>{escaped}</td>")), "{page}");
    }

    #[test]
    fn a_row_of_the_csv_fits_the_fields_of_the_job() {
        let yard = shift();
        let report = report(&yard.mara, &Filter::default()).unwrap();
        let json = serde_json::to_value(&report).unwrap();
        assert_eq!(json["jobs"][0].as_object().unwrap().len(), COLUMNS.len());
        for (job, told) in report.jobs.iter().zip(json["jobs"].as_array().unwrap()) {
            for (column, cell) in COLUMNS.into_iter().zip(job.cells()) {
                let between = if column == "findings" { " " } else { " | " };
                let wanted = match &told[column] {
                    Value::String(text) => text.clone(),
                    list => serde_json::from_value::<Vec<String>>(list.clone())
                        .unwrap()
                        .join(between),
                };
                assert_eq!(cell, wanted, "{column} of {}", job.job);
            }
        }
    }

    #[test]
    fn a_scope_is_told_in_utc() {
        let yard = shift();
        let filter = Filter {
            from_us: Some(1_772_452_800_000_000),
            yard: Some("Elsewhere".into()),
            ..Filter::default()
        };
        let report = report(&yard.mara, &filter).unwrap();
        let json = through_json(&report);
        let scope = json!({"from": "2026-03-02T12:00:00Z", "to": null, "yard": "Elsewhere", "fleet": null});
        assert_eq!((&json["scope"], &json["jobs"]), (&scope, &json!([])));
        assert!(render(&report).contains("Scope: from 2026-03-02T12:00:00Z, yard Elsewhere."));
    }
}
