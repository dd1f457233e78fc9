//! One fact from flags, for a person at a keyboard: `job`, `scan`, `check`, `link` and the others.
//!
//! The fact is recorded in any case, and the exit code is 0: what this device already knows against it, and what the work
//! standard shows beside the step, is said at once on stderr, beside the receipt ([`told`]). Only a command line that cannot
//! be meant (an ambiguous job, nothing to record) is refused, before anything is recorded.

use std::path::{Path, PathBuf};

use gladhand_answers::advice::quoted;
use gladhand_answers::error::ResolveError;
use gladhand_answers::receipt;
use gladhand_answers::resolve::{self, Handle};
use gladhand_answers::text;
use gladhand_answers::told::{self, Before};
use gladhand_facts::Fact;
use gladhand_reconcile::JobView;
use serde_json::{Map, Value};

use super::record::receipt_line;
use super::{Context, next};
use crate::cli::{
    CheckArgs, Common, JobArgs, JobOnly, NoteArgs, PairArgs, ProofArgs, RulingArgs, ScanArgs, SettingsArgs,
};
use crate::failure::{Exit, Failure, Outcome};
use crate::show;
use gladhand_node::{IndexedFacts, Node};

/// What `gladhand job` takes for the question which open jobs wait for what. No job can be opened by that name here.
const NEXT: &str = "next";

/// A fact in the making.
struct FactDraft {
    map: Map<String, Value>,
    before: Before,
}

impl FactDraft {
    fn new(kind: &str, common: Common) -> Self {
        let mut draft = Self {
            map: Map::new(),
            before: Before::Known,
        };
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

    /// The job that the fact is about.
    fn put_job(&mut self, handle: Handle) {
        if !handle.known {
            self.before = Before::Unknown;
        }
        self.put("job", Some(handle.job));
    }

    /// The job that the fact is about, if one was named.
    fn put_named_job(&mut self, node: &Node, given: Option<&str>) -> Result<(), Failure> {
        if let Some(given) = given {
            self.put_job(resolve::handle(node, given)?);
        }
        Ok(())
    }

    fn put_ok(&mut self, ok: Option<bool>, not_ok: bool) {
        if let Some(ok) = ok.or(not_ok.then_some(false)) {
            self.map.insert("ok".into(), Value::Bool(ok));
        }
    }

    fn put_answers(&mut self, answers: &[String]) -> Result<(), Failure> {
        let mut map = Map::new();
        for answer in answers {
            if let Ok(Value::Object(given)) = serde_json::from_str(answer) {
                // As it stands in a fact's line.
                map.extend(given);
                continue;
            }
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

/// What is given by its place on the command line, or by a flag of its own name: each of `names` takes its flag, or else the
/// next of `words`. Returns what is left of these.
fn placed<const N: usize>(
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
        Some(name) => Err(Failure::bad_input(format!("the {name} is missing"))
            .hint(format!("Give it in its place, or as --{name}; `--help` shows how."))),
    }
}

/// As [`placed`], where nothing may be left.
fn all_placed<const N: usize>(words: Vec<String>, names: [(&str, Option<String>); N]) -> Result<[String; N], Failure> {
    let (found, left) = placed(words, names)?;
    match left.first() {
        None => Ok(found),
        Some(word) => Err(Failure::bad_input(format!("'{word}' is one word too many"))
            .hint("Texts of several words stand in quotes; `--help` shows the order.")),
    }
}

/// `job`
pub fn job(context: &Context, mut args: JobArgs) -> Outcome {
    args.job = args.job.or_else(|| args.word.take());
    if args.job.as_deref().map(str::trim) == Some(NEXT) {
        return if says_nothing(&args) {
            next::next(context)
        } else {
            Err(Failure::bad_input("`job next` lists the open jobs and takes no fields")
                .hint("A job cannot be called 'next' from the command line; give it another name, or none."))
        };
    }
    let mut node = context.open()?;
    let handle = job_handle(&node, &args)?;
    let new = handle.as_ref().is_none_or(|h| !h.known);
    let mut draft = FactDraft::new("job", args.common);
    match handle {
        Some(handle) => draft.put_job(handle),
        None => draft.before = Before::Unknown,
    }
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

/// Whether nothing but the job's name was given.
fn says_nothing(args: &JobArgs) -> bool {
    let fields = [
        &args.trailer,
        &args.vin,
        &args.fleet,
        &args.yard,
        &args.tracker,
        &args.camera,
        &args.wall,
        &args.load,
        &args.thickness,
        &args.assigned,
        &args.common.note,
    ];
    fields.iter().all(|field| field.is_none()) && !args.new
}

/// The job that is meant; `None` for one whose name is made up. Refuses what is more likely a slip than a wish: setting
/// nothing, opening what is open, and moving a job that was named only by its beginning to another trailer.
fn job_handle(node: &Node, args: &JobArgs) -> Result<Option<Handle>, Failure> {
    let silent = says_nothing(args);
    let Some(given) = args.job.as_deref() else {
        let hint = "A new job needs something to tell it by, such as --trailer 5312.";
        return if silent {
            Err(Failure::bad_input("nothing to record").hint(hint))
        } else {
            Ok(None)
        };
    };
    let handle = if args.new {
        new_handle(node, given)?
    } else {
        resolve::handle(node, given)?
    };
    if handle.known && silent {
        let hint = format!(
            "`gladhand history --job {}` shows what is known of it.",
            quoted(&handle.job)
        );
        return Err(Failure::bad_input(format!("nothing to set on job {}", handle.job)).hint(hint));
    }
    if handle.known && !handle.whole && moves(node, &handle.job, args)? {
        return Err(Failure::bad_input(format!(
            "'{given}' is the beginning of job {}, which is on another trailer",
            handle.job
        ))
        .hint("Give the whole name to change that job, or add --new to open one that is called just that."));
    }
    Ok(Some(handle))
}

/// A job that is to be opened under a name as it stands, also when another one begins like that.
fn new_handle(node: &Node, given: &str) -> Result<Handle, Failure> {
    let job = given.trim().to_owned();
    let known = !JobView::load(&IndexedFacts::new(node), &job).facts.is_empty();
    if known {
        return Err(
            Failure::bad_input(format!("job {job} is open here already")).hint("Leave out --new to set its fields.")
        );
    }
    if job.is_empty() || job == resolve::LAST {
        return Err(Failure::bad_input(format!("a job cannot be called '{job}'")));
    }
    Ok(Handle {
        job,
        known,
        whole: true,
    })
}

/// Whether `args` would put the job on another trailer than the one that it is on.
fn moves(node: &Node, job: &str, args: &JobArgs) -> Result<bool, Failure> {
    let Some(trailer) = args.trailer.as_deref().map(str::trim) else {
        return Ok(false);
    };
    let indexed = IndexedFacts::new(node);
    let now = JobView::load(&indexed, job).values("trailer");
    indexed.failure()?;
    Ok(!now.is_empty() && !now.iter().any(|t| t == trailer))
}

/// `scan`
pub fn scan(context: &Context, args: ScanArgs) -> Outcome {
    let [code] = all_placed(args.words, [("code", args.code)])?;
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
    let ([job, check], seen) = placed(args.words, [("job", args.job), ("check", args.check)])?;
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
    let [camera, tracker] = all_placed(args.words, [("camera", args.camera), ("tracker", args.tracker)])?;
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
    let [tracker, state] = all_placed(args.words, [("tracker", args.tracker), ("state", args.state)])?;
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
    let [job, state] = all_placed(args.words, [("job", args.job), ("state", args.state)])?;
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
    let [job] = all_placed(args.words, [("job", args.job)])?;
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
    let [text] = all_placed(args.words, [("text", args.text)])?;
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
    let [finding] = all_placed(args.words, [("finding", args.finding)])?;
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

fn record(context: &Context, node: &mut Node, mut draft: FactDraft, folder: &Path) -> Result<(), Failure> {
    if !draft.map.contains_key("at") {
        // Typed twice is done twice: the time makes two facts of it, where a file dropped twice is one.
        let now_us = gladhand_node::environment::now_us();
        let now = gladhand_facts::Moment::from_unix_us(now_us, gladhand_node::environment::offset_s(now_us));
        draft.put("at", Some(now.text().to_owned()));
    }
    let mut fact = Fact::from_map(&node.device(), draft.map).map_err(Failure::bad_input)?;
    if let Some(warning) = node.keep_picture(&mut fact, folder)? {
        show::aside(&format!("gladhand: {warning}"));
    }
    for receipt in node.record(vec![fact])? {
        let told = told::told(node, &receipt, draft.before);
        let mut answer = receipt::receipt(&node.config().name, &receipt);
        answer.told = told.as_ref().ok().cloned();
        show::line(&receipt_line(answer, context.json)?)?;
        match told {
            Ok(told) => show_told(&told),
            // The receipt is out and stays good.
            Err(e) => show::aside(&format!(
                "What is known against it could not be read. {}",
                Failure::from(e)
            )),
        }
    }
    Ok(())
}

fn show_told(told: &told::Told) {
    let said = text::told::told(told, text::Page::default());
    if !said.is_empty() {
        show::aside(said.trim_end());
    }
}
