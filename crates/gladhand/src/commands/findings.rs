//! `findings`: what the merged facts contradict.

use gladhand_reconcile::{Severity, Status, ToldFinding};

use super::history::AskedMoment;
use super::{Context, resolve};
use crate::cli;
use crate::failure::{Exit, Failure, Outcome};
use crate::show;

/// Shows findings.
pub fn findings(context: &Context, args: &cli::Findings) -> Outcome {
    let mut node = context.open()?;
    let job = args.job.as_deref().map(|j| resolve::job(&node, j)).transpose()?;
    if let Some(rule) = args.rule.as_deref().filter(|r| !is_rule(r)) {
        return Err(Failure::bad_input(format!("no rule is called '{rule}'")).hint(format!("The rules: {}", rules())));
    }
    let moment = args.as_known_by.as_deref().map(|given| AskedMoment::read(&node, given));
    let moment = moment.transpose()?;
    let found = match &moment {
        Some(moment) => node.findings_at(&moment.past)?,
        None => node.findings()?,
    };
    let mut found = node.told(&found, moment.as_ref().map(|moment| &moment.past));
    node.close()?;
    if let Some(moment) = &moment {
        show::aside(&moment.words());
    }
    found.retain(|f| {
        args.rule.as_ref().is_none_or(|rule| f.rule == *rule)
            && (!args.open || f.is_open())
            && job.as_ref().is_none_or(|job| f.jobs.contains(job))
    });
    if context.json {
        show::json(&found)?;
    } else {
        for finding in &found {
            show::print(&show::finding(finding))?;
        }
        show::aside(&tally(&found));
    }
    let stops = found.iter().any(|f| f.is_open() && f.severity == Severity::Stop);
    Ok(if args.gate && stops {
        Exit::OpenStops
    } else {
        Exit::Done
    })
}

/// `2 open stops, 1 open ask; 1 settled, 1 cleared`
pub fn tally(found: &[ToldFinding]) -> String {
    if found.is_empty() {
        return "no findings".into();
    }
    let open = |s: Severity| found.iter().filter(|f| f.is_open() && f.severity == s).count() as u64;
    let with = |s: Status| found.iter().filter(|f| f.status == s).count();
    format!(
        "{}, {}, {}; {} settled, {} cleared",
        show::counted(open(Severity::Stop), "open stop", "open stops"),
        show::counted(open(Severity::Ask), "open ask", "open asks"),
        show::counted(open(Severity::Note), "open note", "open notes"),
        with(Status::Settled),
        with(Status::Cleared)
    )
}

fn is_rule(name: &str) -> bool {
    gladhand_reconcile::rules::rank(name) < gladhand_reconcile::rules::ALL.len()
}

fn rules() -> String {
    gladhand_reconcile::rules::ALL
        .iter()
        .map(|rule| rule.name())
        .collect::<Vec<_>>()
        .join(", ")
}
