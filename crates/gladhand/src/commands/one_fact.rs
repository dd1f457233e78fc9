//! One fact from flags, for a person at a keyboard: `job`, `scan`, `check`, `link` and the others.
//!
//! The fact is recorded in any case, and the exit code is 0: what this device already knows against it, and what the work
//! standard shows beside the step, is said at once on stderr, beside the receipt. Only a command line that cannot
//! be meant (an ambiguous job, nothing to record) is refused, before anything is recorded.

mod checks;
mod draft;
mod job;
mod parts;
mod placed;
mod proof;

use std::path::Path;

use gladhand_answers::error::ResolveError;
use gladhand_answers::resolve;

pub use checks::check;
use draft::{FactDraft, record};
pub use job::job;
pub use parts::{link, settings, unlink};
use placed::all_placed;
pub use proof::proof;

use super::Context;
use crate::cli::{HandoverArgs, JobOnly, NoteArgs, RulingArgs, ScanArgs, StandDownArgs, WithdrawArgs};
use crate::failure::{Exit, Outcome};

/// `scan`
pub fn scan(context: &Context, args: ScanArgs) -> Outcome {
    let [code] = all_placed("scan", args.words, [("code", args.code)])?;
    let mut node = context.open()?;
    let mut draft = FactDraft::new("scan", args.common);
    draft.put("code", Some(code));
    draft.put("what", args.what);
    draft.put("symbology", args.symbology);
    draft.put_named_job(&node, args.job.as_deref())?;
    record(context, &mut node, draft, Path::new("."))?;
    node.close()?;
    Ok(Exit::Done)
}

/// `sign-off`
pub fn sign_off(context: &Context, args: JobOnly) -> Outcome {
    let [job] = all_placed("sign-off", args.words, [("job", args.job)])?;
    let mut node = context.open()?;
    let mut draft = FactDraft::new("sign-off", args.common);
    draft.put_job(resolve::handle(&node, &job)?);
    record(context, &mut node, draft, Path::new("."))?;
    node.close()?;
    Ok(Exit::Done)
}

/// `stand-down`
pub fn stand_down(context: &Context, args: StandDownArgs) -> Outcome {
    let [job] = all_placed("stand-down", args.words, [("job", args.job)])?;
    let mut node = context.open()?;
    let mut draft = FactDraft::new("stand-down", args.common);
    draft.put_job(resolve::handle(&node, &job)?);
    draft.put("reason", args.reason);
    draft.put("why", args.why);
    record(context, &mut node, draft, Path::new("."))?;
    node.close()?;
    Ok(Exit::Done)
}

/// `withdraw`
pub fn withdraw(context: &Context, args: WithdrawArgs) -> Outcome {
    let [fact] = all_placed("withdraw", args.words, [("fact", args.fact)])?;
    let mut node = context.open()?;
    let fact = resolve::fact(&node, &fact)?;
    let mut draft = FactDraft::new("withdraw", args.common);
    draft.put("fact", Some(fact.to_string()));
    draft.put("why", Some(args.why));
    record(context, &mut node, draft, Path::new("."))?;
    node.close()?;
    Ok(Exit::Done)
}

/// `handover`
pub fn handover(context: &Context, args: HandoverArgs) -> Outcome {
    let [trailer] = all_placed("handover", args.words, [("trailer", args.trailer)])?;
    let mut node = context.open()?;
    let mut draft = FactDraft::new("handover", args.common);
    draft.put("trailer", Some(trailer));
    draft.put("to", Some(args.to));
    record(context, &mut node, draft, Path::new("."))?;
    node.close()?;
    Ok(Exit::Done)
}

/// `note`
pub fn note(context: &Context, args: NoteArgs) -> Outcome {
    let [text] = all_placed("note", args.words, [("text", args.text)])?;
    let mut node = context.open()?;
    let mut draft = FactDraft::new("note", args.common);
    draft.put("text", Some(text));
    draft.put_named_job(&node, args.job.as_deref())?;
    record(context, &mut node, draft, Path::new("."))?;
    node.close()?;
    Ok(Exit::Done)
}

/// `ruling`
pub fn ruling(context: &Context, args: RulingArgs) -> Outcome {
    let [finding] = all_placed("ruling", args.words, [("finding", args.finding)])?;
    let mut node = context.open()?;
    let mut found = resolve::pick("finding", finding.trim(), &node.finding_ids()?)?;
    if found.is_none() {
        // A receipt may have told of it before it was kept.
        node.judge()?;
        found = resolve::pick("finding", finding.trim(), &node.finding_ids()?)?;
    }
    let finding = found.ok_or(ResolveError::NoFinding(finding))?;
    let mut draft = FactDraft::new("ruling", args.common);
    draft.put("finding", Some(finding));
    draft.put("ruling", Some(args.ruling));
    draft.put("why", Some(args.why));
    record(context, &mut node, draft, Path::new("."))?;
    node.close()?;
    Ok(Exit::Done)
}
