//! Why a session cannot continue.

use super::message::PROTOCOL;
use crate::frame::FrameError;
use crate::governance::JsonError;
use crate::wire::WireError;

/// Why a session cannot continue.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SessionError {
    /// The other side speaks another protocol.
    #[error("the peer speaks exchange protocol {0}; this version speaks {PROTOCOL}")]
    Protocol(u64),
    /// A message that does not belong in this state.
    #[error("the peer sent {0} where it has no place")]
    OutOfPlace(&'static str),
    /// A frame that does not read.
    #[error(transparent)]
    Frame(#[from] FrameError),
    /// A message that does not read.
    #[error("message: {0}")]
    Wire(#[from] WireError),
    /// Our credentials cannot be sent.
    #[error(transparent)]
    Credentials(#[from] JsonError),
}
