//! How a session ends, what it has done by then, and what the peer is told.

use crate::connection::ConnectionError;
use crate::live::{Ending, NotNow};
use crate::packet::{Packet, Why};
use gladhand_node::NodeError;
use gladhand_node::handle::Closed;

/// Why a session ended.
#[derive(Debug, thiserror::Error)]
pub enum End {
    /// Both sides hold the same, and that was all that was asked for.
    #[error("level")]
    Level,
    /// The peer said so.
    #[error("the peer ended the session: {words}")]
    Bye {
        /// Why.
        why: Why,
        /// In words.
        words: String,
    },
    /// It was not even begun.
    #[error(transparent)]
    NotNow(#[from] NotNow),
    /// This side ended it.
    #[error("ended by this side")]
    Ended(Ending),
    /// The connection.
    #[error(transparent)]
    Connection(#[from] ConnectionError),
    /// Something that was refused may be taken now: begin anew.
    #[error("the roster has changed: begin anew")]
    Again,
    /// The peer is this very process.
    #[error("this is our own address")]
    Ourselves,
    /// The node could not do its part.
    #[error("{0}")]
    Node(#[from] NodeError),
    /// The node is gone.
    #[error(transparent)]
    Closed(#[from] Closed),
}

/// What a session has done.
#[derive(Debug, Default, Clone)]
pub struct Tally {
    /// Whether the peer has said anything.
    pub up: bool,
    /// Whether both sides held the same at some time.
    pub level: bool,
    /// New entries that came in.
    pub entries_in: u64,
    /// How many of them the log has told of.
    pub told_in: u64,
    /// Entries that came in though they were here.
    pub known: u64,
    /// Entries that were sent.
    pub entries_out: u64,
    /// Bytes of messages that came in.
    pub bytes_in: u64,
    /// Bytes of messages that went out.
    pub bytes_out: u64,
    /// Pictures that came in,
    pub pictures_in: u64,
    /// with so many bytes.
    pub picture_bytes_in: u64,
    /// Bytes of pictures that were sent.
    pub picture_bytes_out: u64,
    /// What was refused here.
    pub refused: Vec<String>,
    /// Devices that were enrolled on the way.
    pub enrolled: Vec<String>,
}

/// What the peer is told at the end.
pub(crate) fn farewell(end: &End) -> Packet {
    let why = match end {
        End::NotNow(NotNow::Duplicate) | End::Ended(Ending::Replaced) => Why::Duplicate,
        End::NotNow(NotNow::Busy) => Why::Busy,
        End::NotNow(NotNow::Untrusted) | End::Ended(Ending::Untrusted) => Why::Refused,
        End::Again => Why::Again,
        End::Level | End::Bye { .. } | End::Ended(Ending::Shutdown) | End::Ourselves => Why::Closing,
        End::Connection(_) | End::Node(_) | End::Closed(_) => Why::Trouble,
    };
    let words = match end {
        // The peer is not told what went wrong inside this node.
        End::Node(_) | End::Closed(_) => "this side cannot go on".to_owned(),
        other => other.to_string(),
    };
    Packet::Bye { why, words }
}
