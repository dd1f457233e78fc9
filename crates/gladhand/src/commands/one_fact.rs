//! One fact from flags, for a person at a keyboard: `job`, `scan`, `check`, `link` and the others.
//!
//! The fact is recorded in any case; what this device already knows against it is said at once, beside the receipt.

use std::path::Path;

use gladhand_facts::Fact;
use gladhand_reconcile::{Class, Facts, Severity};
use serde_json::{Map, Value};

use super::record::receipt_line;
use super::{Context, resolve};
use crate::cli::{
    CheckArgs, Common, JobArgs, JobOnly, NoteArgs, PairArgs, ProofArgs, RulingArgs, ScanArgs, SettingsArgs,
};
use crate::failure::{Exit, Failure, Outcome};
use crate::node::{Node, Shelf};
use crate::show;

struct Draft {
    map: Map<String, Value>,
}

impl Draft {
    fn new(kind: &str, common: Common) -> Self {
        let mut draft = Self { map: Map::new() };
        draft.put("kind", Some(kind.to_owned()));
        draft.put("by", common.by);
        draft.put("at", common.at);
        draft.put("clock", common.clock);
        draft.put("note", common.note);
        draft
    }

    fn put(&mut self, key: &str, value: Option<String>) {
        if let Some(value) = value {
            self.map.insert(key.to_owned(), Value::from(value));
        }
    }

    fn put_ok(&mut self, ok: bool, not_ok: bool) {
        if ok || not_ok {
            self.map.insert("ok".into(), Value::Bool(ok));
        }
    }

    fn put_answers(&mut self, answers: &[String]) -> Result<(), Failure> {
        let mut map = Map::new();
        for answer in answers {
            let wrong = || {
                Failure::bad_input(format!("--answer '{answer}'"))
                    .hint("Write NAME=yes or NAME=no, such as lens-clear=yes.")
            };
            let (name, word) = answer.split_once('=').ok_or_else(wrong)?;
            let truth = match word.trim().to_ascii_lowercase().as_str() {
                "yes" | "y" | "true" => true,
                "no" | "n" | "false" => false,
                _ => return Err(wrong()),
            };
            map.insert(name.trim().to_owned(), Value::Bool(truth));
        }
        if !map.is_empty() {
            self.map.insert("answers".into(), Value::Object(map));
        }
        Ok(())
    }
}

/// `job`
pub fn job(context: &Context, args: JobArgs) -> Outcome {
    let mut node = context.open()?;
    let mut draft = Draft::new("job", args.common);
    let new = args.job.is_none();
    draft.put("job", args.job.map(|j| resolve::job(&node, &j)).transpose()?);
    let config = node.config();
    let default =
        |given: Option<String>, own: &str| given.or_else(|| Some(own.to_owned()).filter(|o| new && !o.is_empty()));
    draft.put("fleet", default(args.fleet, &config.fleet));
    draft.put("yard", default(args.yard, &config.yard));
    for (key, value) in [
        ("trailer", args.trailer),
        ("vin", args.vin),
        ("tracker", args.tracker),
        ("camera", args.camera),
        ("wall", args.wall),
        ("load", args.load),
        ("thickness", args.thickness),
        ("assigned", args.assigned),
    ] {
        draft.put(key, value);
    }
    record(context, &mut node, draft, Path::new("."))?;
    node.close()?;
    Ok(Exit::Done)
}

/// `scan`
pub fn scan(context: &Context, args: ScanArgs) -> Outcome {
    let mut node = context.open()?;
    let mut draft = Draft::new("scan", args.common);
    draft.put("code", Some(args.code));
    draft.put("what", args.what);
    draft.put("symbology", args.symbology);
    draft.put("job", args.job.map(|j| resolve::job(&node, &j)).transpose()?);
    finish(context, node_and(&mut node, draft))?;
    node.close()?;
    Ok(Exit::Done)
}

/// `check`
pub fn check(context: &Context, args: CheckArgs) -> Outcome {
    let mut node = context.open()?;
    let mut draft = Draft::new("check", args.common);
    draft.put("job", Some(resolve::job(&node, &args.job)?));
    draft.put("check", Some(args.check));
    draft.put("value", args.value);
    draft.put("unit", args.unit);
    draft.put_ok(args.ok, args.not_ok);
    draft.put_answers(&args.answers)?;
    finish(context, node_and(&mut node, draft))?;
    node.close()?;
    Ok(Exit::Done)
}

/// `link`, `unlink`
pub fn pair(context: &Context, kind: &str, args: PairArgs) -> Outcome {
    let mut node = context.open()?;
    let mut draft = Draft::new(kind, args.common);
    draft.put("camera", Some(args.camera));
    draft.put("tracker", Some(args.tracker));
    draft.put("why", args.why);
    draft.put("job", args.job.map(|j| resolve::job(&node, &j)).transpose()?);
    finish(context, node_and(&mut node, draft))?;
    node.close()?;
    Ok(Exit::Done)
}

/// `settings`
pub fn settings(context: &Context, args: SettingsArgs) -> Outcome {
    let mut node = context.open()?;
    let mut draft = Draft::new("settings", args.common);
    draft.put("tracker", Some(args.tracker));
    draft.put("state", Some(args.state));
    draft.put("camera", args.camera);
    draft.put("job", args.job.map(|j| resolve::job(&node, &j)).transpose()?);
    finish(context, node_and(&mut node, draft))?;
    node.close()?;
    Ok(Exit::Done)
}

/// `proof`
pub fn proof(context: &Context, args: ProofArgs) -> Outcome {
    let mut node = context.open()?;
    let mut draft = Draft::new("proof", args.common);
    draft.put("job", Some(resolve::job(&node, &args.job)?));
    draft.put("state", Some(args.state));
    draft.put("taken_at", args.taken_at);
    draft.put_ok(args.ok, args.not_ok);
    draft.put_answers(&args.answers)?;
    let mut folder = std::path::PathBuf::from(".");
    if let Some(picture) = args.picture {
        let name = picture.file_name().map(|n| n.to_string_lossy().into_owned());
        draft.put("picture", name);
        folder = picture.parent().map(Path::to_path_buf).unwrap_or(folder);
    }
    record(context, &mut node, draft, &context.at(&folder))?;
    node.close()?;
    Ok(Exit::Done)
}

/// `sign-off`, `stand-down`
pub fn job_only(context: &Context, kind: &str, args: JobOnly) -> Outcome {
    let mut node = context.open()?;
    let mut draft = Draft::new(kind, args.common);
    draft.put("job", Some(resolve::job(&node, &args.job)?));
    draft.put("why", args.why);
    finish(context, node_and(&mut node, draft))?;
    node.close()?;
    Ok(Exit::Done)
}

/// `note`
pub fn note(context: &Context, args: NoteArgs) -> Outcome {
    let mut node = context.open()?;
    let mut draft = Draft::new("note", args.common);
    draft.put("text", Some(args.text));
    draft.put("job", args.job.map(|j| resolve::job(&node, &j)).transpose()?);
    finish(context, node_and(&mut node, draft))?;
    node.close()?;
    Ok(Exit::Done)
}

/// `ruling`
pub fn ruling(context: &Context, args: RulingArgs) -> Outcome {
    let mut node = context.open()?;
    let ids: Vec<String> = node.view()?.findings().into_iter().map(|f| f.id).collect();
    let finding = resolve::pick("finding", args.finding.trim(), &ids)?.ok_or_else(|| {
        Failure::bad_input(format!("no finding '{}' is known here", args.finding))
            .hint("`gladhand findings` lists them.")
    })?;
    let mut draft = Draft::new("ruling", args.common);
    draft.put("finding", Some(finding));
    draft.put("ruling", Some(args.ruling));
    draft.put("why", Some(args.why));
    finish(context, node_and(&mut node, draft))?;
    node.close()?;
    Ok(Exit::Done)
}

fn node_and(node: &mut Node, draft: Draft) -> (&mut Node, Draft) {
    (node, draft)
}

fn finish(context: &Context, (node, draft): (&mut Node, Draft)) -> Result<(), Failure> {
    record(context, node, draft, Path::new("."))
}

fn record(context: &Context, node: &mut Node, mut draft: Draft, folder: &Path) -> Result<(), Failure> {
    if !draft.map.contains_key("at") {
        // Typed twice is done twice: the time makes two facts of it, where a file dropped twice is one.
        let now_us = crate::system::now_us();
        let now = gladhand_facts::Moment::from_unix_us(now_us, crate::system::offset_s(now_us));
        draft.put("at", Some(now.text().to_owned()));
    }
    let mut fact = Fact::from_map(&node.device(), draft.map).map_err(Failure::bad_input)?;
    if let Some(warning) = node.keep_picture(&mut fact, folder)? {
        show::aside(&format!("gladhand: {warning}"));
    }
    for receipt in node.record(vec![fact])? {
        show::line(&receipt_line(context, node, &receipt, None))?;
        tell_what_stands_against(node, &receipt.fact)?;
    }
    Ok(())
}

/// Open findings that this fact is part of, or that touch its job: the person is told at once.
fn tell_what_stands_against(node: &Node, fact: &Fact) -> Result<(), Failure> {
    let shelf = Shelf::new(node);
    let job = fact.text("job").map(|j| j.into_owned());
    let known = !shelf.subjects(Class::Job).is_empty();
    shelf.failure()?;
    if !known {
        return Ok(());
    }
    for finding in node.view()?.findings() {
        let part = finding.facts.contains(&fact.id());
        let of_job = job.as_ref().is_some_and(|j| finding.jobs.contains(j)) && finding.severity == Severity::Stop;
        if finding.is_open() && (part || of_job) {
            show::aside(show::finding(&finding).trim_end());
        }
    }
    Ok(())
}
