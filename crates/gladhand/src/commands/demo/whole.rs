//! The day with every command, as it would be typed, and all that it says.

use super::acts::{Carried, Done};
use super::stage::Stage;
use super::story::{Show, Step, Story};
use super::telling::Telling;
use crate::cli;
use crate::commands::{findings, history, report, status};
use crate::failure::Failure;
use crate::show;

/// See the module doc.
pub(super) struct Whole;

impl Telling for Whole {
    fn begin(&mut self, story: &Story) -> Result<(), Failure> {
        show::line(&format!("{}\n{}", story.title, "=".repeat(story.title.chars().count())))?;
        show::line(&format!("{}\n", story.introduction))
    }

    fn step(&mut self, number: usize, total: usize, step: &Step) -> Result<(), Failure> {
        show::line(&format!("[{number}/{total}] {}", step.title))
    }

    fn done(&mut self, done: &Done) -> Result<(), Failure> {
        match done {
            Done::SetUp {
                device,
                depot,
                person,
                key,
            } => {
                let flag = if *depot { "--depot " } else { "" };
                command(device, &format!("setup {flag}--name {device} --person {person}"))?;
                show::line(&format!("  device key {key}…"))
            }
            Done::Joined { device } => {
                command("harrow-street", "invite > invite.txt")?;
                command(device, "join invite.txt")
            }
            Done::Recorded { device, file, facts } => {
                command(device, &format!("record data/{file}"))?;
                let facts = show::counted(*facts, "fact", "facts");
                show::line(&format!("  {facts} durable, each with a receipt"))
            }
            Done::Carried(carried) => tell_carried(carried),
            Done::Ruled {
                device,
                finding,
                ruling,
                why,
            } => command(device, &format!("ruling {finding} --ruling {ruling} --why '{why}'")),
            Done::Nothing => Ok(()),
        }
    }

    fn show(&mut self, stage: &Stage, device: &str, what: &Show) -> Result<(), Failure> {
        let context = stage.context(device);
        match what {
            Show::Findings { rule, open, same_as } => {
                show_findings(stage, device, rule, *open)?;
                if let Some(other) = same_as {
                    stage.must_find_the_same(device, other)?;
                }
            }
            Show::History { job, camera } => {
                let args = cli::History {
                    job: job.clone(),
                    camera: camera.clone(),
                    ..cli::History::default()
                };
                command(
                    device,
                    &format!("history{}", flags(&[("job", job), ("camera", camera)])),
                )?;
                history::history(&context, &args)?;
            }
            Show::Status => {
                command(device, "status")?;
                status::status(&context)?;
            }
            Show::Report { from, to, yard } => {
                let (flags, args) = (flags(&[("from", from), ("to", to), ("yard", yard)]), report_args(what));
                command(device, &format!("report{flags}"))?;
                report::report(&context, &args)?;
            }
        }
        Ok(())
    }

    fn end_step(&mut self) -> Result<(), Failure> {
        show::line("")
    }
}

fn show_findings(stage: &Stage, device: &str, rule: &Option<String>, open: bool) -> Result<(), Failure> {
    let args = cli::Findings {
        rule: rule.clone(),
        open,
        ..cli::Findings::default()
    };
    let open = if open { " --open" } else { "" };
    command(device, &format!("findings{}{open}", flags(&[("rule", rule)])))?;
    findings::findings(&stage.context(device), &args).map(drop)
}

fn report_args(what: &Show) -> cli::Report {
    let (from, to, yard) = match what {
        Show::Report { from, to, yard } => (from.clone(), to.clone(), yard.clone()),
        _ => (None, None, None),
    };
    cli::Report {
        by: None,
        day: None,
        shift: false,
        may_be_empty: false,
        from,
        to,
        yard,
        fleet: None,
        format: None,
        gate: false,
    }
}

fn command(device: &str, words: &str) -> Result<(), Failure> {
    show::line(&format!("  $ gladhand --home {device} {words}"))
}

fn flags(given: &[(&str, &Option<String>)]) -> String {
    let given = given.iter().filter_map(|(k, v)| v.as_ref().map(|v| (k, v)));
    given.map(|(key, value)| format!(" --{key} {value}")).collect()
}

fn tell_carried(carried: &Carried) -> Result<(), Failure> {
    let Carried { from, to, file, .. } = carried;
    command(from, &format!("bundle write {file} --for {to}"))?;
    command(to, &format!("bundle read {file}"))?;
    let entries = show::counted(carried.entries, "entry", "entries");
    show::line(&format!("  {}: {} bytes, {entries} new", carried.by, carried.bytes))?;
    let mut enrolled = carried.enrolled.iter();
    enrolled.try_for_each(|name| show::line(&format!("  the depot enrols {name}")))
}
