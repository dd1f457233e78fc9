//! The flags of the commands that record one fact.

use std::path::PathBuf;

use clap::Args;

/// What every one-fact command takes.
#[derive(Debug, Clone, Args, Default)]
pub struct Common {
    /// Who did it.
    #[arg(long)]
    pub by: Option<String>,
    /// When: RFC 3339 with offset. Default: now.
    #[arg(long, value_name = "TIME")]
    pub at: Option<String>,
    /// The clock that `--at` was taken from: person (default), device or reference.
    #[arg(long)]
    pub clock: Option<String>,
    /// A remark.
    #[arg(long)]
    pub note: Option<String>,
}

/// `job`
#[derive(Debug, Args)]
pub struct JobArgs {
    /// The job; a new one is made up when absent. The beginning of a known name is enough, and . is the job that this device
    /// touched last. `job next` lists what the open jobs wait for, `job next --returns` the jobs to come back to, and `job show JOB` shows everything about one, so no job
    /// can be called next or show here.
    #[arg(value_name = "JOB")]
    pub word: Option<String>,
    /// Only after `job show`: the job to show.
    #[arg(value_name = "JOB TO SHOW")]
    pub shown: Option<String>,
    /// Only after `job next`: list the jobs to come back to instead of the open ones.
    #[arg(long)]
    pub returns: bool,
    /// The same as a flag.
    #[arg(long, conflicts_with = "word")]
    pub job: Option<String>,
    /// The job is new: take its name as it stands, also when a known one begins like that.
    #[arg(long)]
    pub new: bool,
    /// Unit number as painted on the trailer.
    #[arg(long)]
    pub trailer: Option<String>,
    /// What the visit is for: fit (the default), replace, take-off or prove.
    #[arg(long)]
    pub purpose: Option<String>,
    /// The day on which somebody is to go there, such as 2026-03-02; the job is not opened by that.
    #[arg(long, value_name = "DATE")]
    pub planned: Option<String>,
    /// The trailer's VIN.
    #[arg(long)]
    pub vin: Option<String>,
    /// The customer.
    #[arg(long)]
    pub fleet: Option<String>,
    /// The place.
    #[arg(long)]
    pub yard: Option<String>,
    /// The tracking unit.
    #[arg(long)]
    pub tracker: Option<String>,
    /// The camera.
    #[arg(long)]
    pub camera: Option<String>,
    /// plate or sheet-and-post.
    #[arg(long)]
    pub wall: Option<String>,
    /// empty or loaded.
    #[arg(long)]
    pub load: Option<String>,
    /// Wall thickness, such as "3/4 in" or "19 mm".
    #[arg(long)]
    pub thickness: Option<String>,
    /// Whose job it is.
    #[arg(long)]
    pub assigned: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub common: Common,
}

/// `scan`
#[derive(Debug, Args)]
pub struct ScanArgs {
    /// What the label says; or --code.
    #[arg(value_names = ["CODE"], num_args = 0..=1)]
    pub words: Vec<String>,
    /// What the label says.
    #[arg(long)]
    pub code: Option<String>,
    /// trailer, tracker, camera or other.
    #[arg(long)]
    pub what: Option<String>,
    /// The kind of code.
    #[arg(long)]
    pub symbology: Option<String>,
    /// The job, named as in `check`: its beginning, or . for the last.
    #[arg(long)]
    pub job: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub common: Common,
}

/// `check`
#[derive(Debug, Args)]
pub struct CheckArgs {
    /// The job (the beginning of its name is enough, . is the one that this device touched last, and the trailer's number names
    /// the open job on it), the check's name in the work standard or an unambiguous beginning of it, and what was measured or
    /// seen, such as 1 3/4 in (with or without quotes), free, yes, ok. More names and values may follow. Each may be given as
    /// a flag instead.
    #[arg(value_names = ["JOB", "CHECK", "VALUE"], num_args = 0..)]
    pub words: Vec<String>,
    /// The job.
    #[arg(long)]
    pub job: Option<String>,
    /// The check's name.
    #[arg(long)]
    pub check: Option<String>,
    /// What was measured or seen.
    #[arg(long, allow_hyphen_values = true)]
    pub value: Option<String>,
    /// The unit, when it is not in the value.
    #[arg(long)]
    pub unit: Option<String>,
    /// It is as it should be, or with `--ok false` it is not; of several checks those without a value.
    #[arg(long, conflicts_with = "not_ok", num_args = 0..=1, default_missing_value = "true", value_name = "TRUE|FALSE")]
    pub ok: Option<bool>,
    /// What an approval is about: place (the default), reading, or the id of a withdrawn fact (its beginning is enough).
    #[arg(long)]
    pub of: Option<String>,
    /// It is not as it should be.
    #[arg(long)]
    pub not_ok: bool,
    /// An answer, such as lens-clear=yes. May be repeated.
    #[arg(long = "answer", visible_alias = "answers", value_name = "NAME=YES|NO")]
    pub answers: Vec<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub common: Common,
}

/// `link`, `unlink`
#[derive(Debug, Args)]
pub struct PairArgs {
    /// The camera and the tracker; or --camera and --tracker.
    #[arg(value_names = ["CAMERA", "TRACKER"], num_args = 0..=2)]
    pub words: Vec<String>,
    /// The camera.
    #[arg(long)]
    pub camera: Option<String>,
    /// The tracker.
    #[arg(long)]
    pub tracker: Option<String>,
    /// The job, named as in `check`. Default: the one that this device touched last.
    #[arg(long)]
    pub job: Option<String>,
    /// Why (for unlink).
    #[arg(long)]
    pub why: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub common: Common,
}

/// `settings`
#[derive(Debug, Args)]
pub struct SettingsArgs {
    /// The tracker, and the state: asked, live or failed; or --tracker and --state.
    #[arg(value_names = ["TRACKER", "STATE"], num_args = 0..=2)]
    pub words: Vec<String>,
    /// The tracker.
    #[arg(long)]
    pub tracker: Option<String>,
    /// asked, live or failed.
    #[arg(long)]
    pub state: Option<String>,
    /// The camera.
    #[arg(long)]
    pub camera: Option<String>,
    /// The job, named as in `check`. Default: the one that this device touched last.
    #[arg(long)]
    pub job: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub common: Common,
}

/// `proof`
#[derive(Debug, Args)]
pub struct ProofArgs {
    /// The job (the beginning of its name is enough, and . is the one that this device touched last), and the state: asked,
    /// taken or judged; or --job and --state.
    #[arg(value_names = ["JOB", "STATE"], num_args = 0..=2)]
    pub words: Vec<String>,
    /// The job.
    #[arg(long)]
    pub job: Option<String>,
    /// asked, taken or judged.
    #[arg(long)]
    pub state: Option<String>,
    /// The picture file.
    #[arg(long)]
    pub picture: Option<PathBuf>,
    /// When the picture was taken.
    #[arg(long, value_name = "TIME")]
    pub taken_at: Option<String>,
    /// An answer, such as lens-clear=yes. May be repeated.
    #[arg(long = "answer", visible_alias = "answers", value_name = "NAME=YES|NO")]
    pub answers: Vec<String>,
    /// All that the work standard asks of the picture is answered with yes, and it proves the fit.
    #[arg(long, conflicts_with_all = ["answers", "ok", "not_ok"])]
    pub all_yes: bool,
    /// It proves the fit, or with `--ok false` it does not.
    #[arg(long, conflicts_with = "not_ok", num_args = 0..=1, default_missing_value = "true", value_name = "TRUE|FALSE")]
    pub ok: Option<bool>,
    /// It does not prove the fit.
    #[arg(long)]
    pub not_ok: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub common: Common,
}

/// `sign-off`
#[derive(Debug, Args)]
pub struct JobOnly {
    /// The job; the beginning of its name is enough, and . is the one that this device touched last. Or --job.
    #[arg(value_names = ["JOB"], num_args = 0..=1)]
    pub words: Vec<String>,
    /// The job.
    #[arg(long)]
    pub job: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub common: Common,
}

/// `stand-down`
#[derive(Debug, Args)]
pub struct StandDownArgs {
    /// The job; the beginning of its name is enough, and . is the one that this device touched last. Or --job.
    #[arg(value_names = ["JOB"], num_args = 0..=1)]
    pub words: Vec<String>,
    /// The job.
    #[arg(long)]
    pub job: Option<String>,
    /// The reason, by its name in the work standard.
    #[arg(long, value_name = "NAME")]
    pub reason: Option<String>,
    /// Why, in words.
    #[arg(long)]
    pub why: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub common: Common,
}

/// `withdraw`
#[derive(Debug, Args)]
pub struct WithdrawArgs {
    /// The fact that was a slip: its id as on the receipt; the beginning is enough. Or --fact.
    #[arg(value_names = ["FACT"], num_args = 0..=1)]
    pub words: Vec<String>,
    /// The fact.
    #[arg(long)]
    pub fact: Option<String>,
    /// What was wrong with it.
    #[arg(long)]
    pub why: String,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub common: Common,
}

/// `handover`
#[derive(Debug, Args)]
pub struct HandoverArgs {
    /// The trailer that the fleet took back, by its unit number; or --trailer.
    #[arg(value_names = ["TRAILER"], num_args = 0..=1)]
    pub words: Vec<String>,
    /// The trailer.
    #[arg(long)]
    pub trailer: Option<String>,
    /// Who took it.
    #[arg(long)]
    pub to: String,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub common: Common,
}

/// `note`
#[derive(Debug, Args)]
pub struct NoteArgs {
    /// What to note; or --text.
    #[arg(value_names = ["TEXT"], num_args = 0..=1)]
    pub words: Vec<String>,
    /// What to note.
    #[arg(long)]
    pub text: Option<String>,
    /// The job, named as in `check`: its beginning, or . for the last.
    #[arg(long)]
    pub job: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub common: Common,
}

/// `ruling`
#[derive(Debug, Args)]
pub struct RulingArgs {
    /// The finding; the beginning of its name is enough. Or --finding.
    #[arg(value_names = ["FINDING"], num_args = 0..=1)]
    pub words: Vec<String>,
    /// The finding.
    #[arg(long)]
    pub finding: Option<String>,
    /// accepted, corrected or void.
    #[arg(long)]
    pub ruling: String,
    /// The reason, in words.
    #[arg(long)]
    pub why: String,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub common: Common,
}
