//! Why a session ended, what it did, and which `bye` the peer gets.
//!
//! Deliberately absent: what is logged about it ([`super::session_log`]).

use crate::connection::ConnectionError;
use crate::join::RETIRED;
use crate::open_sessions::{NotAdmitted, REST_MS, StopReason};
use crate::packet::{ByeReason, Packet};
use crate::tls::Abilities;
use gladhand_node::NodeError;
use gladhand_node::handle::Closed;

/// Why a session ended.
#[derive(Debug, thiserror::Error)]
pub enum End {
    /// Both sides hold the same, and this session was only to merge once.
    #[error("level")]
    Level,
    /// The peer sent a `bye`.
    #[error("the peer ended the session: {words}")]
    Bye {
        /// The peer's reason.
        why: ByeReason,
        /// The peer's message.
        words: String,
    },
    /// The connection was not admitted as a session.
    #[error(transparent)]
    NotAdmitted(#[from] NotAdmitted),
    /// Another part of this process stopped it.
    #[error("ended by this side")]
    Stopped(StopReason),
    /// The connection failed.
    #[error(transparent)]
    Connection(#[from] ConnectionError),
    /// Something that was refused may be admitted now: a new session must begin.
    #[error("the roster has changed: begin anew")]
    Again,
    /// The peer is this process.
    #[error("this is our own address")]
    Ourselves,
    /// The node reported an error.
    #[error("{0}")]
    Node(#[from] NodeError),
    /// The node is shutting down.
    #[error(transparent)]
    Closed(#[from] Closed),
}

/// What a session has done.
#[derive(Debug, Default, Clone)]
pub struct Tally {
    /// Whether the peer has sent anything.
    pub up: bool,
    /// Whether both sides were in sync at some time.
    pub level: bool,
    /// New entries received.
    pub entries_in: u64,
    /// How many of them were in the log line at the first time in sync.
    pub logged_in: u64,
    /// Entries received that this node held already.
    pub known: u64,
    /// Entries sent.
    pub entries_out: u64,
    /// Bytes of packets received.
    pub bytes_in: u64,
    /// Bytes of packets sent.
    pub bytes_out: u64,
    /// Pictures received.
    pub pictures_in: u64,
    /// Bytes of pictures received.
    pub picture_bytes_in: u64,
    /// Bytes of pictures sent.
    pub picture_bytes_out: u64,
    /// What this node refused, in words.
    pub refused: Vec<String>,
    /// Devices that were enrolled during the session.
    pub enrolled: Vec<String>,
    /// When the peer wants this side to come again, in milliseconds from the end of the session, if it said so.
    pub again_ms: Option<u64>,
}

/// The longest wait that a peer can ask for.
const MAX_AGAIN_MS: u64 = 600_000;

impl Tally {
    /// Notes when the peer wants this side to come again.
    pub(crate) fn note_wait(&mut self, wait_ms: u64) {
        self.again_ms = Some(wait_ms.min(MAX_AGAIN_MS));
    }
}

/// The last packets to a peer: when to come again, if there is a time and the peer understands it, and the `bye`.
pub(crate) fn farewell(end: &End, abilities: Abilities) -> Vec<Packet> {
    let wait_ms = match end {
        End::NotAdmitted(NotAdmitted::Busy { again_ms }) => Some(*again_ms),
        End::Stopped(StopReason::MakeRoom) => Some(REST_MS),
        End::Stopped(StopReason::TakeTurns { again_ms }) => Some(*again_ms),
        _ => None,
    };
    let wait = wait_ms
        .filter(|_| abilities.waits)
        .map(|wait_ms| Packet::Wait { wait_ms });
    wait.into_iter().chain([bye_for(end)]).collect()
}

/// The `bye` that tells the peer why this side ends the session.
fn bye_for(end: &End) -> Packet {
    let why = match end {
        End::NotAdmitted(NotAdmitted::Duplicate) | End::Stopped(StopReason::Replaced) => ByeReason::Duplicate,
        End::NotAdmitted(NotAdmitted::Busy { .. }) => ByeReason::Busy,
        End::Stopped(StopReason::MakeRoom) => ByeReason::MakeRoom,
        End::Stopped(StopReason::TakeTurns { .. }) => ByeReason::TakeTurns,
        End::NotAdmitted(NotAdmitted::Untrusted) | End::Stopped(StopReason::Untrusted) => ByeReason::Refused,
        End::Stopped(StopReason::Retired) => ByeReason::Retired,
        End::Again => ByeReason::Again,
        End::Level | End::Bye { .. } | End::Stopped(StopReason::Shutdown) | End::Ourselves => ByeReason::Closing,
        End::Connection(_) | End::Node(_) | End::Closed(_) => ByeReason::Trouble,
    };
    let words = match end {
        // An error of this node may name paths: it is not sent to the peer.
        End::Node(_) | End::Closed(_) => "this side cannot go on".to_owned(),
        End::Stopped(StopReason::Retired) => RETIRED.to_owned(),
        End::Stopped(StopReason::MakeRoom) => "another device needs the place; both sides hold the same".to_owned(),
        End::Stopped(StopReason::TakeTurns { .. }) => {
            "another device needs the place; come again for the rest".to_owned()
        }
        other => other.to_string(),
    };
    Packet::Bye { why, words }
}
