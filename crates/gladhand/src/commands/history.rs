//! `history`: who did what when, on which device, what they had seen by then; as text, as JSON, as a picture.

use std::path::Path;

use gladhand_answers::history::{Found, HistoryQuestion, Picture};
use gladhand_answers::text::history::drawn;
use gladhand_facts::Moment;

use super::Context;
use super::times::{self, End};
use crate::cli;
use crate::failure::{Exit, Failure, Outcome};
use crate::show;

/// Shows a history.
pub fn history(context: &Context, args: &cli::History) -> Outcome {
    let node = context.soon_judged_view()?;
    let found = Found::ask(&node, &question(args)?)?;
    let svg = args.picture.is_some().then(|| found.draw(&node)).transpose()?;
    let mut history = found.answer().with_open_findings(&node)?;
    node.close()?;
    if let (Some(name), Some((svg, holds))) = (args.picture.as_deref(), svg) {
        write(&context.at(name), name, &svg)?;
        let picture = Picture::new(&name.display().to_string(), holds);
        if context.json {
            show::aside(&drawn(&picture));
        }
        history.picture = Some(picture);
    }
    show::answer(history, context.json)?;
    Ok(Exit::Done)
}

/// What the flags ask for.
fn question(args: &cli::History) -> Result<HistoryQuestion, Failure> {
    let at = |flag: &str, given: &Option<String>, end: End| -> Result<Option<Moment>, Failure> {
        given.as_deref().map(|t| times::moment(flag, t, end)).transpose()
    };
    let (since, as_of) = (
        at("--since", &args.since, End::Beginning)?,
        at("--as-of", &args.as_of, End::End)?,
    );
    Ok(HistoryQuestion {
        job: args.job.clone(),
        camera: args.camera.clone(),
        tracker: args.tracker.clone(),
        trailer: args.trailer.clone(),
        device: args.device.clone(),
        since,
        as_of,
        as_known_by: args.as_known_by.clone(),
        findings: args.picture.is_some(),
    })
}

/// Writes the picture into `file`, which the person calls `name`.
fn write(file: &Path, name: &Path, svg: &str) -> Result<(), Failure> {
    std::fs::write(file, svg).map_err(|e| Failure::failed(format!("cannot write {}: {e}", name.display())))
}
