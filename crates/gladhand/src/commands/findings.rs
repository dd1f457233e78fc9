//! `findings`: what the merged facts contradict.

use gladhand_answers::findings::{self as answers, FindingsQuestion};

use super::Context;
use crate::cli;
use crate::failure::{Exit, Outcome};
use crate::show;

/// Shows findings.
pub fn findings(context: &Context, args: &cli::Findings) -> Outcome {
    let question = FindingsQuestion {
        rule: args.rule.clone(),
        job: args.job.clone(),
        open: args.open,
        as_known_by: args.as_known_by.clone(),
    };
    let mut node = context.open()?;
    let found = answers::findings(&mut node, &question)?;
    node.close()?;
    let stops = args.gate && found.has_open_stop();
    show::answer(found, context.json)?;
    Ok(if stops { Exit::OpenStops } else { Exit::Done })
}
