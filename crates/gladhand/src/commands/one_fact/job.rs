//! `job`: opens a job or sets its fields; `job next` is the question which open jobs wait for what.

use std::path::Path;

use gladhand_answers::advice::quoted;
use gladhand_answers::resolve::{self, Handle};
use gladhand_answers::told::Before;
use gladhand_node::{IndexedFacts, Node};
use gladhand_reconcile::JobView;

use super::draft::{FactDraft, record};
use crate::cli::JobArgs;
use crate::commands::{Context, next, show_job};
use crate::failure::{Exit, Failure, Outcome};
use crate::usage;

/// What `gladhand job` takes for the question which open jobs wait for what. No job can be opened by that name here.
const NEXT: &str = "next";
/// What it takes for the question how one job stands.
const SHOW: &str = "show";

/// `job`
pub fn job(context: &Context, mut args: JobArgs) -> Outcome {
    let is_show = args.word.as_deref().map(str::trim) == Some(SHOW);
    match (is_show, args.shown.take()) {
        (true, Some(job)) if says_nothing(&args) && !args.returns => return show_job::job(context, &job),
        (true, Some(_)) => {
            return Err(Failure::bad_input("`job show` shows a job and takes no fields")
                .hint("A job cannot be called 'show' from the command line; give it another name, or none."));
        }
        (true, None) => {
            return Err(Failure::bad_input("`job show` needs a job")
                .hint("For example: gladhand job show 0302-M21. `gladhand job next` lists the open ones."));
        }
        (false, Some(word)) => return Err(usage::too_many("job", &word)),
        (false, None) => {}
    }
    args.job = args.job.or_else(|| args.word.take());
    if args.job.as_deref().map(str::trim) == Some(NEXT) {
        return if says_nothing(&args) && args.returns {
            next::returns(context)
        } else if says_nothing(&args) {
            next::next(context)
        } else {
            Err(Failure::bad_input("`job next` lists the open jobs and takes no fields")
                .hint("A job cannot be called 'next' from the command line; give it another name, or none."))
        };
    }
    if args.returns {
        return Err(
            Failure::bad_input("--returns goes with `job next`").hint("For example: gladhand job next --returns")
        );
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
        ("purpose", args.purpose),
        ("planned", args.planned),
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
        &args.purpose,
        &args.planned,
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
        resolve::new_or_known(node, given)?
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
