//! `findings`: what the merged facts contradict.

use gladhand_answers::findings::{self as answers, FindingsQuestion};
use gladhand_answers::resolve::scope;

use super::{Context, gate_over_nothing};
use crate::cli;
use crate::failure::{Exit, Outcome};
use crate::show;

/// Shows findings.
pub fn findings(context: &Context, args: &cli::Findings) -> Outcome {
    let question = FindingsQuestion {
        rule: args.rule.clone(),
        job: args.job.clone(),
        trailer: args.trailer.clone(),
        camera: args.camera.clone(),
        tracker: args.tracker.clone(),
        device: args.device.clone(),
        open: args.open,
        as_known_by: args.as_known_by.clone(),
    };
    let node = context.judged_view()?;
    let found = answers::findings(&node, &question)?;
    let is_empty = scope::is_without_jobs(&node)?;
    node.close()?;
    if args.gate && !args.may_be_empty && is_empty {
        return Err(gate_over_nothing("no job is known here"));
    }
    let stops = args.gate && found.has_open_stop();
    show::answer(found, context.json)?;
    Ok(if stops { Exit::OpenStops } else { Exit::Done })
}
