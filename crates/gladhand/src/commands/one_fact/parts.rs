//! `link`, `unlink` and `settings`: what is done to a camera and its tracker. They belong to the job at hand unless they name one.
//!
//! A command line that cannot be meant is refused: a camera and a tracker in each other's place, an unlink of what was never
//! linked. A line of a file says what its writer knew, and is taken.

use std::path::Path;

use gladhand_answers::error::ResolveError;
use gladhand_answers::{AnswerError, parts, resolve};
use gladhand_node::Node;

use super::draft::{FactDraft, record};
use super::placed::all_placed;
use crate::cli::{PairArgs, SettingsArgs};
use crate::commands::Context;
use crate::failure::{Exit, Failure, Outcome};

/// `link`
pub fn link(context: &Context, args: PairArgs) -> Outcome {
    pair(context, "link", args, |node, camera, tracker| {
        if parts::are_swapped(node, camera, tracker)? {
            return Err(
                Failure::bad_input(format!("{camera} is known here as a tracker and {tracker} as a camera")).hint(
                    format!("The camera comes first: gladhand link {tracker} {camera}. Nothing was recorded."),
                ),
            );
        }
        Ok(())
    })
}

/// `unlink`
pub fn unlink(context: &Context, args: PairArgs) -> Outcome {
    pair(context, "unlink", args, |node, camera, tracker| {
        let (was_linked, linked) = parts::links_of(node, camera, tracker)?;
        if was_linked {
            return Ok(());
        }
        let linked = if linked.is_empty() {
            "Neither is linked to anything that is known here.".to_owned()
        } else {
            format!("Linked is {}.", linked.join(", "))
        };
        Err(
            Failure::bad_input(format!("camera {camera} was never linked with tracker {tracker}"))
                .hint(format!("{linked} Nothing was recorded.")),
        )
    })
}

fn pair(
    context: &Context,
    kind: &str,
    args: PairArgs,
    may_be_meant: impl FnOnce(&Node, &str, &str) -> Result<(), Failure>,
) -> Outcome {
    let [camera, tracker] = all_placed(kind, args.words, [("camera", args.camera), ("tracker", args.tracker)])?;
    let mut node = context.open()?;
    may_be_meant(&node, camera.trim(), tracker.trim())?;
    let mut draft = FactDraft::new(kind, args.common);
    draft.put("camera", Some(camera));
    draft.put("tracker", Some(tracker));
    draft.put("why", args.why);
    draft.put_job_at_hand(&node, args.job.as_deref())?;
    record(context, &mut node, draft, Path::new("."))?;
    node.close()?;
    Ok(Exit::Done)
}

/// `settings`
pub fn settings(context: &Context, args: SettingsArgs) -> Outcome {
    let [tracker, state] = all_placed(
        "settings",
        args.words,
        [("tracker", args.tracker), ("state", args.state)],
    )?;
    let mut node = context.open()?;
    let (tracker, job) = match meant_job(&node, &tracker)? {
        Some(job) => (parts::tracker_of(&node, &job)?, Some(job)),
        None => (tracker, args.job),
    };
    let mut draft = FactDraft::new("settings", args.common);
    draft.put("tracker", Some(tracker));
    draft.put("state", Some(state));
    draft.put("camera", args.camera);
    draft.put_job_at_hand(&node, job.as_deref())?;
    record(context, &mut node, draft, Path::new("."))?;
    node.close()?;
    Ok(Exit::Done)
}

/// The job that stands in a tracker's place: `.`, a job's name, or the number of its trailer.
fn meant_job(node: &Node, given: &str) -> Result<Option<String>, Failure> {
    if given.trim() != resolve::LAST && parts::is_tracker(node, given.trim())? {
        return Ok(None);
    }
    match resolve::known_job(node, given) {
        Ok(job) => Ok(Some(job)),
        // A tracker of which nothing is known yet.
        Err(AnswerError::Resolve(ResolveError::NoJob(_) | ResolveError::NoJobBut { .. })) => Ok(None),
        Err(error) => Err(error.into()),
    }
}
