//! Why a question cannot be answered.

use gladhand_logbook::jobdoc::DocError;
use gladhand_node::NodeError;

/// What was named is not there, or is not only one.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ResolveError {
    /// Several begin like that.
    #[error("'{given}' could be {what} {}", listed(found))]
    Ambiguous {
        /// What was asked for: `job`, `finding`.
        what: &'static str,
        /// What was given.
        given: String,
        /// All that it could be.
        found: Vec<String>,
    },
    /// No job is called that.
    #[error("no job '{0}' is known here")]
    NoJob(String),
    /// No job is called that, but something else nearly is.
    #[error("no job '{given}' is known here; near to it: {}", listed(near))]
    NoJobBut {
        /// What was given.
        given: String,
        /// Jobs and trailers with names like that.
        near: Vec<String>,
    },
    /// A trailer of that number is known, and no job on it is open.
    #[error("no job on trailer {trailer} is open; there was {}", listed(jobs))]
    NoneOpen {
        /// The trailer, as it was given.
        trailer: String,
        /// Its jobs, with how each ended.
        jobs: Vec<String>,
    },
    /// The job names no tracker, and none is linked in it.
    #[error("job {0} has no tracker yet")]
    NoTracker(String),
    /// No fact has an id like that.
    #[error("no fact '{0}' is known here")]
    NoFact(String),
    /// No job is on a trailer of that number.
    #[error("no job on trailer '{0}' is known here")]
    NoTrailer(String),
    /// This device has recorded nothing on any job.
    #[error("this device has recorded nothing on any job yet")]
    NothingTouched,
    /// No finding is called that.
    #[error("no finding '{0}' is known here")]
    NoFinding(String),
    /// Nobody has recorded a camera, tracker, trailer, yard or fleet of that name.
    #[error("no {what} '{given}' is recorded here{}", near_to(near))]
    NotRecorded {
        /// What was asked for: `camera`, `yard`.
        what: &'static str,
        /// What was given.
        given: String,
        /// Names like that which are recorded.
        near: Vec<String>,
    },
    /// No device is called that.
    #[error("no device '{given}' is known here{}", near_to(near))]
    NoDevice {
        /// What was given.
        given: String,
        /// Names like that which are known.
        near: Vec<String>,
    },
    /// Several devices are called that.
    #[error("several devices are called '{0}'")]
    SeveralDevices(String),
    /// No rule is called that.
    #[error("no rule is called '{0}'")]
    NoRule(String),
    /// The part behind `@` of `DEVICE@SEQ` is no number.
    #[error("'{0}' is not an entry number")]
    NotAnEntry(String),
    /// Nothing that the device wrote is here.
    #[error("nothing that {0} wrote is here")]
    NothingOf(String),
    /// The device has no such entry here.
    #[error("{device} has no entry {seq} here")]
    NoEntry {
        /// The device's name.
        device: String,
        /// The entry that was asked for.
        seq: u64,
        /// Its entries up to this one are here.
        held: u64,
    },
}

/// Why a question cannot be answered.
#[derive(Debug, thiserror::Error)]
pub enum AnswerError {
    /// What was named is not there, or is not only one.
    #[error(transparent)]
    Resolve(#[from] ResolveError),
    /// The store cannot be read.
    #[error(transparent)]
    Node(#[from] NodeError),
    /// A job's document cannot be written.
    #[error("job {job}: {source}")]
    Document {
        /// The job.
        job: String,
        /// Why.
        source: DocError,
    },
}

/// Why a history cannot be drawn.
#[derive(Debug, thiserror::Error)]
pub enum PictureError {
    /// Nobody could read it.
    #[error("a picture of {count} facts could not be read (at most {most})")]
    TooMany {
        /// The facts of the history.
        count: usize,
        /// So many can be read.
        most: usize,
    },
    /// The store cannot be read.
    #[error(transparent)]
    Node(#[from] NodeError),
}

/// Why a proof picture cannot be taken out of the home.
#[derive(Debug, thiserror::Error)]
pub enum ProofPictureError {
    /// Nothing is called that, or the store cannot be read.
    #[error(transparent)]
    Answer(#[from] AnswerError),
    /// No judgement names a picture.
    #[error("no picture of {0} was judged")]
    NoneJudged(String),
    /// The picture is known, and its bytes are not here.
    #[error("the picture of job {job}, {picture}, is not held here; {}", who_held(held_by))]
    NotHere {
        /// Its hash.
        picture: String,
        /// The job.
        job: String,
        /// The devices that held it when they recorded a fact that names it.
        held_by: Vec<String>,
    },
    /// The file in the home cannot be read.
    #[error(transparent)]
    Picture(#[from] gladhand_store::PictureError),
}

fn who_held(devices: &[String]) -> String {
    match devices {
        [] => "no device is known to have held it".to_owned(),
        devices => format!("held when it was recorded by {}", devices.join(" and ")),
    }
}

/// How many names are listed before the rest is counted.
const LISTED: usize = 8;

/// `a, b or c`; of many the first, and how many more there are.
fn listed(names: &[String]) -> String {
    if names.len() > LISTED {
        let (shown, rest) = names.split_at(LISTED);
        return format!("{} or {} more", shown.join(", "), rest.len());
    }
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} or {last}", most.join(", ")),
    }
}

fn near_to(near: &[String]) -> String {
    if near.is_empty() {
        String::new()
    } else {
        format!("; near to it: {}", listed(near))
    }
}
