//! `proof`: the test picture was asked for, taken or judged.

use std::path::{Path, PathBuf};

use gladhand_answers::{JudgingContext, resolve};
use gladhand_node::Node;

use super::draft::{FactDraft, record};
use super::placed::all_placed;
use crate::cli::ProofArgs;
use crate::commands::Context;
use crate::failure::{Exit, Failure, Outcome};

/// `proof`
pub fn proof(context: &Context, args: ProofArgs) -> Outcome {
    let [job, state] = all_placed("proof", args.words, [("job", args.job), ("state", args.state)])?;
    if args.all_yes && state != "judged" {
        return Err(Failure::bad_input("--all-yes answers for a picture that is judged")
            .hint("For example: gladhand proof . judged --all-yes"));
    }
    let mut node = context.open()?;
    let job = resolve::handle(&node, &job)?;
    let mut draft = FactDraft::new("proof", args.common);
    if args.all_yes {
        draft.put_answers(&all_yes(&node, &job.job)?)?;
        draft.put_ok(Some(true), false);
    }
    draft.put_job(job);
    draft.put("state", Some(state));
    draft.put("taken_at", args.taken_at);
    draft.put_ok(args.ok, args.not_ok);
    draft.put_answers(&args.answers)?;
    let mut folder = PathBuf::from(".");
    if let Some(picture) = args.picture {
        let name = picture.file_name().map(|n| n.to_string_lossy().into_owned());
        draft.put("picture", name);
        folder = context.at(&picture).parent().map(Path::to_path_buf).unwrap_or(folder);
    }
    record(context, &mut node, draft, &folder)?;
    node.close()?;
    Ok(Exit::Done)
}

/// A yes to each answer that the work standard requires of this job's picture.
fn all_yes(node: &Node, job: &str) -> Result<Vec<String>, Failure> {
    let judging = JudgingContext::new(node);
    let answers = judging.proof_answers(&judging.job(job));
    judging.check()?;
    Ok(answers.into_iter().map(|answer| format!("{answer}=yes")).collect())
}
