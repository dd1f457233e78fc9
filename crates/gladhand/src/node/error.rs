//! Why a node could not do something.

use gladhand_logbook::WriteError;
use gladhand_logbook::bundle::{BundleError, BundleWriteError};
use gladhand_logbook::frame::FrameError;
use gladhand_logbook::governance::InviteError;
use gladhand_logbook::jobdoc::DocError;
use gladhand_store::{AppendError, CreateError, IndexError, OpenError, OpenHomeError, PictureError, ReadError};

use crate::failure::{Exit, Failure};

/// Why a node could not do something.
#[derive(Debug, thiserror::Error)]
pub enum NodeError {
    /// The home cannot be opened.
    #[error(transparent)]
    Home(#[from] OpenHomeError),
    /// The home cannot be made.
    #[error(transparent)]
    Create(#[from] CreateError),
    /// The configuration does not read, or the like.
    #[error("{}", .0.what)]
    Words(Failure),
    /// The journal cannot be opened.
    #[error(transparent)]
    Journal(#[from] OpenError),
    /// Nothing was written.
    #[error(transparent)]
    Append(#[from] AppendError),
    /// Something stored cannot be read.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// The index cannot be used.
    #[error(transparent)]
    Index(#[from] IndexError),
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
    /// A bundle does not read.
    #[error("{file}: {source}")]
    Bundle {
        /// The file.
        file: String,
        /// Why.
        source: BundleError,
    },
    /// A bundle cannot be written.
    #[error(transparent)]
    WriteBundle(#[from] BundleWriteError),
    /// An invite cannot be used.
    #[error(transparent)]
    Invite(#[from] InviteError),
    /// Something on the disk beside the store.
    #[error("{what}: {source}")]
    Io {
        /// What was touched.
        what: String,
        /// What the system said.
        source: std::io::Error,
    },
}

impl From<Failure> for NodeError {
    fn from(failure: Failure) -> Self {
        Self::Words(failure)
    }
}

impl From<NodeError> for Failure {
    fn from(error: NodeError) -> Self {
        let (exit, hint) = match &error {
            NodeError::Words(_) => (Exit::Failed, None),
            NodeError::Home(e) => home_hint(e),
            NodeError::Create(_) => (
                Exit::BadInput,
                Some("Name another folder with --home, or use the home that is there."),
            ),
            NodeError::Append(e) if e.is_disk_full() => (
                Exit::Failed,
                Some("Nothing of this batch was recorded. Free some space and do the same again."),
            ),
            NodeError::Journal(OpenError::TooNew { .. }) => (Exit::Failed, Some("Nothing was changed.")),
            NodeError::Read(ReadError::Damaged { .. }) => (
                Exit::Failed,
                Some("Run `gladhand verify`; what is lost comes back from a peer's bundle."),
            ),
            NodeError::Index(IndexError::Broken { .. }) => (
                Exit::Failed,
                Some("Run the command again: the index is made anew from the journal."),
            ),
            NodeError::Bundle {
                source: BundleError::Newer,
                ..
            } => (
                Exit::BadInput,
                Some("Nothing was changed. Update gladhand here, then read it again."),
            ),
            NodeError::Bundle { .. } => (Exit::BadInput, Some("Nothing was changed. Ask for the bundle again.")),
            NodeError::Invite(InviteError::Expired) => (Exit::Refused, None),
            NodeError::Invite(_) => (
                Exit::BadInput,
                Some("Copy the whole line that `gladhand invite` printed, or name a file that holds it."),
            ),
            _ => (Exit::Failed, None),
        };
        match error {
            NodeError::Words(failure) => failure,
            other => Self {
                exit,
                what: other.to_string(),
                hint: hint.map(str::to_owned),
                is_served: false,
            },
        }
    }
}

fn home_hint(error: &OpenHomeError) -> (Exit, Option<&'static str>) {
    match error {
        OpenHomeError::Missing(_) => (
            Exit::BadInput,
            Some("Make one with `gladhand setup --name NAME`, or name another with --home or GLADHAND_HOME."),
        ),
        OpenHomeError::TooNew { .. } => (Exit::Failed, Some("Nothing was changed.")),
        OpenHomeError::Locked { .. } => (
            Exit::Failed,
            Some("Wait until it is done, or stop it; nothing was changed."),
        ),
        OpenHomeError::Damaged { .. } => (Exit::Failed, Some("Nothing was changed; the journal is untouched.")),
        OpenHomeError::Io { .. } => (Exit::Failed, None),
    }
}
