//! The day on one screen: a paragraph for each chapter, a line for each finding when it first appears, and of the report the
//! jobs that cannot be relied on.
//!
//! A chapter is told when the first thing is to be shown that belongs below it, or when it ends: how many facts its files held
//! stands in brackets behind it.

use std::collections::{BTreeMap, BTreeSet};

use gladhand_answers::findings::ShownFinding;
use gladhand_answers::text::findings::{status_word, tally};
use gladhand_answers::text::layout::or_dash;
use gladhand_reconcile::finding::Standing;
use gladhand_reconcile::report::{Filter, Report};

use super::acts::Done;
use super::stage::Stage;
use super::story::{Chapter, Show, Step, Story};
use super::telling::Telling;
use crate::commands::times::{self, End};
use crate::failure::Failure;
use crate::show;

/// Below the hour, and the two spaces behind it.
const INDENT: &str = "       ";

/// For a reader who sees findings for the first time.
const LEGEND: &str = "stop: the merged facts say not to rely on the trailer; ask: a person must look first.";

/// See the module doc.
#[derive(Default)]
pub(super) struct Short {
    chapter: Option<Chapter>,
    facts: u64,
    told: BTreeSet<(String, &'static str)>,
}

impl Telling for Short {
    fn begin(&mut self, story: &Story) -> Result<(), Failure> {
        show::line(&format!("{}\n{}", story.title, "=".repeat(story.title.chars().count())))?;
        show::print(&show::wrapped(&story.introduction, ""))?;
        show::print(&show::wrapped(LEGEND, ""))
    }

    fn step(&mut self, _: usize, _: usize, step: &Step) -> Result<(), Failure> {
        if let Some(chapter) = &step.chapter {
            self.flush()?;
            self.chapter = Some(chapter.clone());
        }
        Ok(())
    }

    fn done(&mut self, done: &Done) -> Result<(), Failure> {
        match done {
            Done::Recorded { facts, .. } => self.facts += facts,
            Done::SetUp { .. } | Done::Joined { .. } | Done::Carried(_) | Done::Ruled { .. } | Done::Nothing => {}
        }
        Ok(())
    }

    fn show(&mut self, stage: &Stage, device: &str, what: &Show) -> Result<(), Failure> {
        match what {
            Show::Findings { rule, open, same_as } => {
                let mut found = stage.findings(device)?;
                found.retain(|f| rule.as_ref().is_none_or(|rule| f.rule == *rule) && (!open || f.is_open()));
                if let Some(other) = same_as {
                    self.flush()?;
                    stage.must_find_the_same(device, other)?;
                    let count = show::counted(found.len() as u64, "finding", "findings");
                    return indented(&format!("{device} and {other} show the same {count}, byte for byte."));
                }
                if rule.is_none() && !open {
                    self.flush()?;
                    return indented(&format!("All in all: {}.", tally(&found)));
                }
                self.found(&found)
            }
            Show::Report { from, to, yard } => {
                self.flush()?;
                let time =
                    |flag, text: &Option<String>, end| text.as_deref().map(|t| times::time(flag, t, end)).transpose();
                let filter = Filter {
                    from_us: time("--from", from, End::Beginning)?,
                    to_us: time("--to", to, End::End)?,
                    yard: yard.clone(),
                    fleet: None,
                };
                let mut node = stage.open(device)?;
                let report = node.report(&filter)?;
                node.close()?;
                show::print(&not_relied_on(&report))
            }
            Show::History { .. } | Show::Status => Ok(()),
        }
    }

    fn end_step(&mut self) -> Result<(), Failure> {
        Ok(())
    }
}

impl Short {
    /// Tells the chapter with what it came to, if it was not told yet.
    fn flush(&mut self) -> Result<(), Failure> {
        let facts = std::mem::take(&mut self.facts);
        let Some(Chapter { hour, says }) = self.chapter.take() else {
            return Ok(());
        };
        let facts = match facts {
            0 => String::new(),
            _ => format!(" ({})", show::counted(facts, "fact", "facts")),
        };
        let text = show::wrapped(&format!("{says}{facts}"), INDENT);
        show::print(&format!("{hour}  {}", text.trim_start()))
    }

    /// Findings, when one of them was not told yet or stands otherwise now.
    fn found(&mut self, found: &[ShownFinding]) -> Result<(), Failure> {
        if found.iter().all(|f| self.told.contains(&key(f))) {
            return Ok(());
        }
        self.told.extend(found.iter().map(key));
        self.flush()?;
        let rows: Vec<Vec<String>> = found.iter().map(row).collect();
        indent_lines(&show::table(&rows))
    }
}

fn key(finding: &ShownFinding) -> (String, &'static str) {
    (finding.id.clone(), status_word(finding.status))
}

/// `stop  camera-on-two-trackers  LC-P9D0K5X  nobody could have known`
fn row(finding: &ShownFinding) -> Vec<String> {
    let standing = match finding.standing {
        Standing::Unaware => "nobody could have known",
        Standing::Aware => "somebody could have known",
        Standing::None => "",
    };
    let status = Some(status_word(finding.status)).filter(|_| !finding.is_open());
    let stands: Vec<&str> = status
        .into_iter()
        .chain(Some(standing).filter(|s| !s.is_empty()))
        .collect();
    vec![
        finding.severity.word().to_owned(),
        finding.rule.clone(),
        finding.subject.clone(),
        stands.join("; "),
    ]
}

fn indented(text: &str) -> Result<(), Failure> {
    show::print(&show::wrapped(text, INDENT))
}

fn indent_lines(text: &str) -> Result<(), Failure> {
    let lines: String = text.lines().map(|line| format!("{INDENT}{line}\n")).collect();
    show::print(&lines)
}

/// The jobs that cannot simply be relied on, each with the rules that speak against it, and the sums.
fn not_relied_on(report: &Report) -> String {
    let open = report.findings.iter().filter(|f| f.is_open());
    let rules: BTreeMap<&str, &str> = open.map(|f| (f.id.as_str(), f.rule.as_str())).collect();
    let mut rows = vec![
        ["trailer", "job", "camera", "relied on", "because"]
            .map(str::to_owned)
            .to_vec(),
    ];
    for job in report.jobs.iter().filter(|job| job.relied_on.name() != "yes") {
        let mut because: Vec<&str> = job
            .findings
            .iter()
            .filter_map(|id| rules.get(id.as_str()).copied())
            .collect();
        if because.is_empty() {
            because.push(job.state.name());
        }
        rows.push(vec![
            or_dash(&job.trailer),
            job.job.clone(),
            or_dash(&job.camera),
            job.relied_on.name().to_owned(),
            because.join(", "),
        ]);
    }
    let relied = report.jobs.iter().filter(|job| job.relied_on.name() == "yes").count();
    let rest = rows.len() - 1;
    let lines: String = show::table(&rows)
        .lines()
        .map(|line| format!("{INDENT}{line}\n"))
        .collect();
    format!(
        "{INDENT}{relied} of {} can be relied on. The other {rest}:\n{lines}",
        show::counted(report.jobs.len() as u64, "job", "jobs")
    )
}
