//! `history`: who did what when, on which device, what they had seen by then; of everything, or of a job, camera, tracker,
//! trailer or device; now, as of a time, or as a device knew it.

mod fields;
mod moment;
mod scene;
mod words;

use gladhand_reconcile::{Subject, ToldFinding};

use super::{Context, resolve};
use crate::cli;
use crate::failure::{Exit, Failure, Outcome};
use crate::show;
use gladhand_node::{HistoryQuery, Node};

pub use moment::AskedMoment;

/// Shows a history.
pub fn history(context: &Context, args: &cli::History) -> Outcome {
    let node = context.open()?;
    let moment = args.as_known_by.as_deref().map(|given| AskedMoment::read(&node, given));
    let moment = moment.transpose()?;
    let query = query(&node, args)?;
    let past = moment.as_ref().map(|m| &m.past);
    let history = node.history(&query, past)?;
    let picture = args
        .picture
        .as_deref()
        .map(|name| scene::draw(&node, &query, &history, &context.at(name), name));
    let picture = picture.transpose()?;
    node.close()?;
    if history.lines.is_empty() && query != HistoryQuery::default() {
        show::aside("nothing is known about that");
    }
    if let Some(moment) = &moment {
        show::aside(&moment.words());
    }
    if context.json {
        picture.iter().for_each(|drawn| show::aside(drawn));
        return show::json(&history.lines);
    }
    if let Some(drawn) = picture {
        return show::line(&drawn).map(|()| Exit::Done);
    }
    words::lines(&history.lines, args.as_of.as_deref(), history.perhaps_too)?;
    if moment.is_some() {
        show_findings(&history.findings)?;
    }
    Ok(Exit::Done)
}

fn show_findings(findings: &[ToldFinding]) -> Result<(), Failure> {
    if !findings.is_empty() {
        show::line("\nFindings that it would have shown:")?;
    }
    for finding in findings {
        show::print(&show::finding(finding))?;
    }
    show::aside(&super::findings::tally(findings));
    Ok(())
}

/// What the flags ask for.
fn query(node: &Node, args: &cli::History) -> Result<HistoryQuery, Failure> {
    let mut subjects = Vec::new();
    if let Some(job) = &args.job {
        subjects.push(Subject::Job(resolve::known_job(node, job)?));
    }
    let named = |given: &Option<String>| given.as_deref().map(|name| name.trim().to_owned());
    subjects.extend(named(&args.camera).map(Subject::Camera));
    subjects.extend(named(&args.tracker).map(Subject::Tracker));
    subjects.extend(named(&args.trailer).map(Subject::Trailer));
    let device = args.device.as_deref().map(|d| resolve::device(node, d)).transpose()?;
    let until_us = args.as_of.as_deref().map(|t| resolve::time("--as-of", t)).transpose()?;
    Ok(HistoryQuery {
        subjects,
        device,
        until_us,
        findings: args.as_known_by.is_some() || args.picture.is_some(),
    })
}
