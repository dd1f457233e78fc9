//! What a node or the network could not do: the hint and the exit code of each error.

use std::fmt::Display;

use gladhand_logbook::bundle::BundleError;
use gladhand_logbook::governance::InviteError;
use gladhand_net::NetError;
use gladhand_node::config::ConfigError;
use gladhand_node::environment::NoRandomness;
use gladhand_node::handle::{Closed, ViewError};
use gladhand_node::{
    BundleFileError, JoinError, MakeInviteError, NodeError, OpenNodeError, PublishError, ReadBundleError, RecordError,
    RetireError, WithdrawalError,
};
use gladhand_store::{CreateError, IndexError, OpenError, OpenHomeError, ReadError};

use super::{Exit, Failure};

fn told(exit: Exit, error: &dyn Display, hint: Option<&str>) -> Failure {
    let failure = Failure::new(exit, error);
    match hint {
        Some(hint) => failure.hint(hint),
        None => failure,
    }
}

impl From<NodeError> for Failure {
    fn from(error: NodeError) -> Self {
        let hint = match &error {
            NodeError::Append(e) if e.is_disk_full() => {
                Some("Nothing of this batch was recorded. Free some space and do the same again.")
            }
            NodeError::Read(ReadError::Damaged { .. }) => {
                Some("Run `gladhand verify`; what is lost comes back from a peer's bundle.")
            }
            NodeError::Index(IndexError::Broken { .. }) => {
                Some("Run the command again: the index is made anew from the journal.")
            }
            _ => None,
        };
        told(Exit::Failed, &error, hint)
    }
}

impl From<RecordError> for Failure {
    fn from(error: RecordError) -> Self {
        match error {
            RecordError::Node(error) => error.into(),
            RecordError::Withdrawal(error) => error.into(),
        }
    }
}

impl From<WithdrawalError> for Failure {
    fn from(error: WithdrawalError) -> Self {
        let hint = match &error {
            WithdrawalError::NotAnId(_) | WithdrawalError::Unknown(_) => {
                Some("`gladhand history` shows the id of each fact; perhaps a bundle is missing. Nothing was recorded.")
            }
            _ => Some("Nothing was recorded."),
        };
        told(Exit::BadInput, &error, hint)
    }
}

impl From<OpenNodeError> for Failure {
    fn from(error: OpenNodeError) -> Self {
        match error {
            OpenNodeError::Node(error) => error.into(),
            OpenNodeError::Config(error) => error.into(),
            OpenNodeError::Home(error) => {
                let (exit, hint) = home_hint(&error);
                told(exit, &error, hint)
            }
            OpenNodeError::RoleMissing { .. } => {
                told(Exit::BadInput, &error, Some("Put the line back: role = \"depot\""))
            }
            OpenNodeError::DepotMissing { depot, .. } => {
                let key = depot.map_or_else(|| "the depot's key".to_owned(), |key| key.to_string());
                let hint = format!("Put the line back: depot = \"{key}\"");
                told(Exit::BadInput, &error, Some(&hint))
            }
            OpenNodeError::Create(error) => error.into(),
            OpenNodeError::ConfigFile { .. } => told(
                Exit::Failed,
                &error,
                Some("Restore the file from a backup, or write one with at least: name = \"…\""),
            ),
            OpenNodeError::Journal(OpenError::TooNew { .. }) => {
                told(Exit::Failed, &error, Some("Nothing was changed."))
            }
            OpenNodeError::Journal(_) => told(Exit::Failed, &error, None),
        }
    }
}

impl From<CreateError> for Failure {
    fn from(error: CreateError) -> Self {
        let (exit, hint) = match &error {
            CreateError::Exists(_) | CreateError::BadName(_) => (
                Exit::BadInput,
                Some("Name another folder with --home, or use the home that is there."),
            ),
            CreateError::Busy(_) => (Exit::Failed, Some("Wait until it is done, and run the command again.")),
            CreateError::Io { .. } | CreateError::Open(_) => (Exit::Failed, None),
        };
        told(exit, &error, hint)
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

impl From<ConfigError> for Failure {
    fn from(error: ConfigError) -> Self {
        let hint = match &error {
            ConfigError::Syntax { .. } => Some("Correct the line; the comments in the file say what belongs there."),
            ConfigError::DepotKey(_) => None,
        };
        told(Exit::BadInput, &error, hint)
    }
}

impl From<BundleFileError> for Failure {
    fn from(error: BundleFileError) -> Self {
        let (exit, hint) = match &error {
            BundleFileError::Open { .. } => (Exit::BadInput, Some("Check the name of the bundle file.")),
            BundleFileError::Format {
                source: BundleError::Newer,
                ..
            } => (
                Exit::BadInput,
                Some("Nothing was changed. Update gladhand here, then read it again."),
            ),
            BundleFileError::Format { .. } => (Exit::BadInput, Some("Nothing was changed. Ask for the bundle again.")),
            BundleFileError::Io { .. } => (Exit::Failed, None),
        };
        told(exit, &error, hint)
    }
}

impl From<ReadBundleError> for Failure {
    fn from(error: ReadBundleError) -> Self {
        let hint = match &error {
            ReadBundleError::NotJoined { .. } => {
                "Join with an invite of the depot (`gladhand join INVITE`), then read the bundle again."
            }
            ReadBundleError::WriterNotJoined { .. } => {
                "That device joins with an invite of the depot (`gladhand join INVITE`) and writes the bundle again."
            }
            ReadBundleError::OtherDepot { .. } => "Take bundles from devices of the same depot.",
            ReadBundleError::File(_) | ReadBundleError::Node(_) => "",
        };
        match error {
            ReadBundleError::File(error) => error.into(),
            ReadBundleError::Node(error) => error.into(),
            refused => told(Exit::Refused, &refused, Some(&format!("{hint} Nothing was changed."))),
        }
    }
}

impl From<PublishError> for Failure {
    fn from(error: PublishError) -> Self {
        let hint = match error {
            PublishError::Node(error) => return error.into(),
            PublishError::NotADepot => Some("Take the file to the depot and publish it there."),
            PublishError::VersionTaken { .. } => Some("Change `version` in the file: reports name the standard by it."),
            PublishError::Standard(_) => None,
        };
        told(Exit::BadInput, &error, hint)
    }
}

impl From<MakeInviteError> for Failure {
    fn from(error: MakeInviteError) -> Self {
        match error {
            MakeInviteError::NotADepot => told(
                Exit::BadInput,
                &error,
                Some("Run `gladhand invite` in the depot's home (made with `setup --depot`)."),
            ),
            MakeInviteError::NoRandomness(error) => error.into(),
        }
    }
}

impl From<JoinError> for Failure {
    fn from(error: JoinError) -> Self {
        let (exit, hint) = match &error {
            JoinError::Node(_) | JoinError::Config(_) => (Exit::Failed, None),
            JoinError::Invite(InviteError::Expired) => (Exit::Refused, None),
            JoinError::Invite(_) => (
                Exit::BadInput,
                Some("Copy the whole line that `gladhand invite` printed, or name a file that holds it."),
            ),
            JoinError::IsADepot => (Exit::BadInput, None),
            JoinError::OtherDepot { .. } => (Exit::Refused, Some("Make a new home for the other depot.")),
            JoinError::Joined => (Exit::BadInput, Some("See `gladhand status`.")),
        };
        match error {
            JoinError::Node(error) => error.into(),
            JoinError::Config(error) => error.into(),
            error => told(exit, &error, hint),
        }
    }
}

impl From<RetireError> for Failure {
    fn from(error: RetireError) -> Self {
        match error {
            RetireError::Node(error) => error.into(),
            error => told(Exit::BadInput, &error, None),
        }
    }
}

impl From<NoRandomness> for Failure {
    fn from(error: NoRandomness) -> Self {
        Self::failed(error)
    }
}

impl From<NetError> for Failure {
    fn from(error: NetError) -> Self {
        match error {
            NetError::Closed(closed) => closed.into(),
            error => Self::failed(error),
        }
    }
}

impl From<ViewError> for Failure {
    fn from(error: ViewError) -> Self {
        match error {
            ViewError::Closed(closed) => closed.into(),
            ViewError::Node(error) => error.into(),
        }
    }
}

impl From<Closed> for Failure {
    fn from(_: Closed) -> Self {
        Self::failed("the daemon is shutting down").hint("Run the command again.")
    }
}
