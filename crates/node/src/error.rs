//! Why a node could not do something: one enum per operation.
//!
//! [`NodeError`] is what any operation on an open home may meet: its bytes cannot be read or written. Operations that can
//! be refused for reasons of their own have an enum of their own, with [`NodeError`] as one of its variants. The enums
//! carry ids and paths; words for people, hints and exit codes belong to the binary.

use std::path::PathBuf;

use gladhand_facts::{DeviceKey, FactId, LogId};
use gladhand_logbook::WriteError;
use gladhand_logbook::bundle::{BundleError, BundleWriteError};
use gladhand_logbook::frame::FrameError;
use gladhand_logbook::governance::InviteError;
use gladhand_logbook::jobdoc::DocError;
use gladhand_store::{
    AppendError, CreateError, IndexError, OpenError, OpenHomeError, PictureError, Position, ReadError,
};
use gladhand_trade::StandardError;

use crate::config::ConfigError;
use crate::environment::NoRandomness;

/// The bytes of an open home cannot be read or written.
#[derive(Debug, thiserror::Error)]
pub enum NodeError {
    /// Nothing was written.
    #[error(transparent)]
    Append(#[from] AppendError),
    /// Something stored cannot be read.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// The index cannot be used.
    #[error(transparent)]
    Index(#[from] IndexError),
    /// The index was made anew while findings were judged by the one before.
    #[error("the index was made anew meanwhile: ask again")]
    IndexRenewed,
    /// A picture cannot be kept or read.
    #[error(transparent)]
    Picture(#[from] PictureError),
    /// An entry cannot be written.
    #[error(transparent)]
    Write(#[from] WriteError),
    /// A job's document cannot be used.
    #[error("job {job}: {source}")]
    Doc {
        /// The job.
        job: String,
        /// Why.
        source: DocError,
    },
    /// A frame cannot be made or read.
    #[error(transparent)]
    Frame(#[from] FrameError),
    /// A bundle cannot be written.
    #[error(transparent)]
    WriteBundle(#[from] BundleWriteError),
    /// Something on the disk beside the store.
    #[error("{what}: {source}")]
    Io {
        /// What was touched.
        what: String,
        /// What the system said.
        source: std::io::Error,
    },
    /// A new log or key needs randomness.
    #[error(transparent)]
    NoRandomness(#[from] NoRandomness),
    /// The index or the book names an entry that the journal does not hold.
    #[error("entry {seq} of log {log} is counted and cannot be found in the journal")]
    EntryMissing {
        /// The log.
        log: LogId,
        /// Its entry.
        seq: u64,
    },
    /// The index stands at a place where no batch of the journal ends.
    #[error("the index stands at byte {} of segment {}, where no batch of the journal ends", .0.offset, .0.segment)]
    NotAtABatch(Position),
    /// What is kept in the index cannot be written.
    #[error("{what} cannot be written to the index: {source}")]
    Encode {
        /// What it is.
        what: &'static str,
        /// Why.
        source: serde_json::Error,
    },
    /// This home has no log of its own to sign for.
    #[error("this home writes no log of its own, so it cannot sign")]
    WritesNoLog,
    /// An entry would hold more facts than a place can number.
    #[error("an entry cannot hold {0} facts")]
    TooManyFacts(usize),
}

/// Facts cannot be recorded.
#[derive(Debug, thiserror::Error)]
pub enum RecordError {
    /// One of them is a withdrawal that is not allowed.
    #[error(transparent)]
    Withdrawal(#[from] WithdrawalError),
    /// The bytes of the home cannot be read or written.
    #[error(transparent)]
    Node(#[from] NodeError),
}

/// A fact cannot be taken back.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum WithdrawalError {
    /// What is to be taken back is not named by an id.
    #[error("`fact` is '{0}', not the id of a fact: 64 hexadecimal digits, as on its receipt")]
    NotAnId(String),
    /// No such fact is held here.
    #[error("no fact {} is known here", .0.short())]
    Unknown(FactId),
    /// A withdrawal cannot be taken back.
    #[error("fact {} is a withdrawal, and stays: record again what holds", .0.short())]
    OfAWithdrawal(FactId),
    /// It opened its job.
    #[error("fact {} opened job {job}, and stays: correct its fields with a later `job` fact, or stand the job down", fact.short())]
    OfAnOpening {
        /// The fact.
        fact: FactId,
        /// The job.
        job: String,
    },
    /// It is neither this device's nor this person's, and this is not the depot.
    #[error("fact {} was recorded by {} on another device: they can take it back, or the depot", fact.short(), by.as_deref().unwrap_or("somebody"))]
    OfSomebodyElse {
        /// The fact.
        fact: FactId,
        /// The device that recorded it.
        device: DeviceKey,
        /// Who recorded it.
        by: Option<String>,
    },
    /// The withdrawal names another job than the fact.
    #[error("fact {} belongs to job {job}, not to {named}: leave `job` out", fact.short())]
    OfAnotherJob {
        /// The fact.
        fact: FactId,
        /// Its job.
        job: String,
        /// The job that the withdrawal names.
        named: String,
    },
    /// The line gives what the device notes.
    #[error("`withdrawn` is reserved: the device notes there what the fact was about")]
    Reserved,
}

/// A home cannot be opened or made.
#[derive(Debug, thiserror::Error)]
pub enum OpenNodeError {
    /// The folder is no home, is locked, or is of another format.
    #[error(transparent)]
    Home(#[from] OpenHomeError),
    /// The home cannot be made.
    #[error(transparent)]
    Create(#[from] CreateError),
    /// The configuration file cannot be read.
    #[error("cannot read {}: {source}", file.display())]
    ConfigFile {
        /// The file.
        file: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// The configuration does not make sense.
    #[error(transparent)]
    Config(#[from] ConfigError),
    /// The own log says that this home is a depot, the configuration does not.
    #[error("{}: this home was made as a depot, but `role` does not say so", file.display())]
    RoleMissing {
        /// The configuration file.
        file: PathBuf,
    },
    /// The own log says that this home has joined a depot, the configuration does not name it.
    #[error("{}: this home has joined a depot, but `depot` does not name it", file.display())]
    DepotMissing {
        /// The configuration file.
        file: PathBuf,
        /// The depot, where the log names it.
        depot: Option<DeviceKey>,
    },
    /// The journal cannot be opened.
    #[error(transparent)]
    Journal(#[from] OpenError),
    /// The home was opened, and its bytes cannot be read or written.
    #[error(transparent)]
    Node(#[from] NodeError),
}

impl From<IndexError> for OpenNodeError {
    fn from(error: IndexError) -> Self {
        Self::Node(error.into())
    }
}

impl From<NoRandomness> for OpenNodeError {
    fn from(error: NoRandomness) -> Self {
        Self::Node(error.into())
    }
}

/// A bundle file cannot be read.
#[derive(Debug, thiserror::Error)]
pub enum BundleFileError {
    /// The file cannot be opened.
    #[error("cannot read {}: {source}", file.display())]
    Open {
        /// The file.
        file: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// It is no bundle, or damaged.
    #[error("{}: {source}", file.display())]
    Format {
        /// The file.
        file: PathBuf,
        /// Why.
        source: BundleError,
    },
    /// The file stopped reading half-way.
    #[error("cannot read {}: {source}", file.display())]
    Io {
        /// The file.
        file: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
}

/// A bundle cannot be taken in.
#[derive(Debug, thiserror::Error)]
pub enum ReadBundleError {
    /// The file itself.
    #[error(transparent)]
    File(#[from] BundleFileError),
    /// This home knows no depot, so it cannot tell whose bundle this is.
    #[error("{}: this home has not joined a depot, so it cannot tell whose bundle this is", file.display())]
    NotJoined {
        /// The bundle.
        file: PathBuf,
    },
    /// The writer knows no depot.
    #[error("{}: the device that wrote it ({}) has not joined a depot", file.display(), writer.short())]
    WriterNotJoined {
        /// The bundle.
        file: PathBuf,
        /// Who wrote it.
        writer: DeviceKey,
    },
    /// The writer belongs to another depot.
    #[error(
        "{}: the device that wrote it ({}) belongs to depot {}, this home to depot {}",
        file.display(), writer.short(), theirs.short(), own.short()
    )]
    OtherDepot {
        /// The bundle.
        file: PathBuf,
        /// Who wrote it.
        writer: DeviceKey,
        /// The writer's depot.
        theirs: DeviceKey,
        /// Our depot.
        own: DeviceKey,
    },
    /// What it holds cannot be stored, or is damaged beyond reading on.
    #[error(transparent)]
    Node(#[from] NodeError),
}

impl From<FrameError> for ReadBundleError {
    fn from(error: FrameError) -> Self {
        Self::Node(error.into())
    }
}

impl From<PictureError> for ReadBundleError {
    fn from(error: PictureError) -> Self {
        Self::Node(error.into())
    }
}

/// A work standard cannot be put in force.
#[derive(Debug, thiserror::Error)]
pub enum PublishError {
    /// Only a depot publishes.
    #[error("only a depot publishes a work standard: this home is a laptop")]
    NotADepot,
    /// The text does not read.
    #[error("the work standard: {0}")]
    Standard(#[from] StandardError),
    /// Another text bears this version already.
    #[error("there is another work standard of the version '{version}'")]
    VersionTaken {
        /// The version.
        version: String,
    },
    /// It cannot be written.
    #[error(transparent)]
    Node(#[from] NodeError),
}

/// No invite can be made.
#[derive(Debug, thiserror::Error)]
pub enum MakeInviteError {
    /// Only a depot invites.
    #[error("only a depot can invite: this home is a laptop")]
    NotADepot,
    /// An invite holds a fresh key.
    #[error(transparent)]
    NoRandomness(#[from] NoRandomness),
}

/// An invite cannot be used here.
#[derive(Debug, thiserror::Error)]
pub enum JoinError {
    /// The invite does not read, or its time is over.
    #[error(transparent)]
    Invite(#[from] InviteError),
    /// A depot is its own root of trust.
    #[error("a depot does not join: it is its own root of trust")]
    IsADepot,
    /// This home belongs to another depot.
    #[error("this home belongs to depot {}, the invite is from depot {}", own.short(), theirs.short())]
    OtherDepot {
        /// Our depot.
        own: DeviceKey,
        /// The depot that made the invite.
        theirs: DeviceKey,
    },
    /// There is nothing to gain from the invite.
    #[error("this home has joined already")]
    Joined,
    /// The configuration on the disk was changed meanwhile, and does not read any more.
    #[error(transparent)]
    Config(#[from] ConfigError),
    /// It cannot be written down.
    #[error(transparent)]
    Node(#[from] NodeError),
}

/// A device cannot be taken off the roster.
#[derive(Debug, thiserror::Error)]
pub enum RetireError {
    /// Only a depot retires.
    #[error("only a depot can retire a device: this home is a laptop")]
    NotADepot,
    /// The root of trust cannot go.
    #[error("a depot cannot retire itself: it is the root of trust")]
    Itself,
    /// The named place is beyond what this depot holds.
    #[error("this depot holds entries 1 to {held} of that device")]
    Beyond {
        /// The last entry that is held.
        held: u64,
    },
    /// A place was named, and nothing of the device is held.
    #[error("this depot holds no entry of that device")]
    NothingHeld,
    /// It cannot be written.
    #[error(transparent)]
    Node(#[from] NodeError),
}
