//! One fact from flags, for a person at a keyboard: `job`, `scan`, `check`, `link` and the others.
//!
//! The fact is recorded in any case, and the exit code is 0: what this device already knows against it, and what the work
//! standard shows beside the step, is said at once on stderr, beside the receipt. Only a command line that cannot
//! be meant (an ambiguous job, nothing to record) is refused, before anything is recorded.

mod draft;
mod job;

use std::path::{Path, PathBuf};

use gladhand_answers::error::ResolveError;
use gladhand_answers::resolve;

use draft::{FactDraft, record};
pub use job::job;

use super::Context;
use crate::cli::{CheckArgs, JobOnly, NoteArgs, PairArgs, ProofArgs, RulingArgs, ScanArgs, SettingsArgs};
use crate::failure::{Exit, Failure, Outcome};
use crate::usage;

/// What is given by its place on the command line, or by a flag of its own name: each of `names` takes its flag, or else the
/// next of `words`. Returns what is left of these.
fn placed<const N: usize>(
    command: &str,
    words: Vec<String>,
    names: [(&str, Option<String>); N],
) -> Result<([String; N], Vec<String>), Failure> {
    let mut words = words.into_iter();
    let mut missing = None;
    let found = names.map(|(name, flag)| {
        let found = flag.or_else(|| words.next());
        found.unwrap_or_else(|| {
            missing.get_or_insert(name);
            String::new()
        })
    });
    match missing {
        None => Ok((found, words.collect())),
        Some(name) => Err(usage::needs(command, name)),
    }
}

/// As [`placed`], where nothing may be left.
fn all_placed<const N: usize>(
    command: &str,
    words: Vec<String>,
    names: [(&str, Option<String>); N],
) -> Result<[String; N], Failure> {
    let (found, left) = placed(command, words, names)?;
    match left.first() {
        None => Ok(found),
        Some(word) => Err(usage::too_many(command, word)),
    }
}

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

/// `check`
pub fn check(context: &Context, args: CheckArgs) -> Outcome {
    let ([job, check], seen) = placed("check", args.words, [("job", args.job), ("check", args.check)])?;
    let value = args.value.into_iter().chain(seen).collect::<Vec<_>>().join(" ");
    let mut node = context.open()?;
    let mut draft = FactDraft::new("check", args.common);
    draft.put_job(resolve::handle(&node, &job)?);
    draft.put("check", Some(check));
    draft.put("value", Some(value).filter(|v| !v.trim().is_empty()));
    draft.put("unit", args.unit);
    draft.put_ok(args.ok, args.not_ok);
    draft.put_answers(&args.answers)?;
    record(context, &mut node, draft, Path::new("."))?;
    node.close()?;
    Ok(Exit::Done)
}

/// `link`, `unlink`
pub fn pair(context: &Context, kind: &str, args: PairArgs) -> Outcome {
    let [camera, tracker] = all_placed(kind, args.words, [("camera", args.camera), ("tracker", args.tracker)])?;
    let mut node = context.open()?;
    let mut draft = FactDraft::new(kind, args.common);
    draft.put("camera", Some(camera));
    draft.put("tracker", Some(tracker));
    draft.put("why", args.why);
    draft.put_named_job(&node, args.job.as_deref())?;
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
    let mut draft = FactDraft::new("settings", args.common);
    draft.put("tracker", Some(tracker));
    draft.put("state", Some(state));
    draft.put("camera", args.camera);
    draft.put_named_job(&node, args.job.as_deref())?;
    record(context, &mut node, draft, Path::new("."))?;
    node.close()?;
    Ok(Exit::Done)
}

/// `proof`
pub fn proof(context: &Context, args: ProofArgs) -> Outcome {
    let [job, state] = all_placed("proof", args.words, [("job", args.job), ("state", args.state)])?;
    let mut node = context.open()?;
    let mut draft = FactDraft::new("proof", args.common);
    draft.put_job(resolve::handle(&node, &job)?);
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

/// `sign-off`, `stand-down`
pub fn job_only(context: &Context, kind: &str, args: JobOnly) -> Outcome {
    let [job] = all_placed(kind, args.words, [("job", args.job)])?;
    let mut node = context.open()?;
    let mut draft = FactDraft::new(kind, args.common);
    draft.put_job(resolve::handle(&node, &job)?);
    draft.put("why", args.why);
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
    let ids: Vec<String> = node.findings()?.into_iter().map(|f| f.id).collect();
    let found = resolve::pick("finding", finding.trim(), &ids)?;
    let finding = found.ok_or(ResolveError::NoFinding(finding))?;
    let mut draft = FactDraft::new("ruling", args.common);
    draft.put("finding", Some(finding));
    draft.put("ruling", Some(args.ruling));
    draft.put("why", Some(args.why));
    record(context, &mut node, draft, Path::new("."))?;
    node.close()?;
    Ok(Exit::Done)
}
