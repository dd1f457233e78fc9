//! What came of merging over the network, peer by peer.
//!
//! What a session did is known to the network alone: it is handed in as plain data.

use gladhand_facts::DeviceKey;
use gladhand_node::Node;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What came of merging.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Synced {
    /// One for each peer that was tried; empty when none is known.
    pub peers: Vec<PeerSynced>,
}

/// What came of merging with one peer.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct PeerSynced {
    /// The name of the device; where it did not answer, the address or the beginning of the key.
    pub name: String,
    /// The key of the device; null when it did not answer.
    #[schemars(with = "Option<String>")]
    pub device: Option<DeviceKey>,
    /// Whether both sides hold the same now.
    pub level: bool,
    /// What the session did, where it came to a good end.
    #[serde(flatten)]
    pub session: Option<SessionTally>,
    /// Why it did not, where it did not.
    #[serde(flatten)]
    pub failure: Option<SyncFailure>,
}

/// What a session did.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct SessionTally {
    /// How many new entries came in.
    pub new: u64,
    /// How many entries came in though they were here already.
    pub known: u64,
    /// How many entries were sent.
    pub sent: u64,
    /// How many pictures came in.
    pub pictures: u64,
    /// Bytes of pictures that came in.
    pub picture_bytes_in: u64,
    /// Bytes of pictures that were sent.
    pub picture_bytes_out: u64,
    /// Bytes of messages that came in.
    pub bytes_in: u64,
    /// Bytes of messages that were sent.
    pub bytes_out: u64,
    /// What was refused here, each in words; the originals are kept in the home's evidence.
    pub refused: Vec<String>,
    /// The names of the devices that were enrolled on the way.
    pub enrolled: Vec<String>,
}

/// Why there was no session, or none with a good end.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct SyncFailure {
    /// Why, in words.
    pub error: String,
    /// Why, as one word.
    pub cause: Cause,
}

/// Why there was no session.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Cause {
    /// Nobody answers, or the session broke off.
    Unreachable,
    /// The peer has no free place: others are merging with it. It was asked again for a while.
    Busy,
    /// The peer does not want us.
    Refused,
    /// Somebody else answers there than was expected.
    WrongKey,
}

/// Whom the network met, and what came of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Met {
    /// A place or the beginning of a key, as it was found.
    pub with: String,
    /// The device, if it answered.
    pub peer: Option<DeviceKey>,
    /// Whether both sides hold the same, and what the session did; or why there was none.
    pub outcome: Result<(bool, SessionTally), SyncFailure>,
}

/// The answer, with the names that the roster knows.
pub fn synced(node: &Node, met: Vec<Met>) -> Synced {
    let named = |met: Met| PeerSynced::of(met, |key| node.book().roster().name(key));
    Synced {
        peers: met.into_iter().map(named).collect(),
    }
}

impl PeerSynced {
    fn of(met: Met, name: impl Fn(&DeviceKey) -> String) -> Self {
        let (level, session, failure) = match met.outcome {
            Ok((level, tally)) => (level, Some(tally), None),
            Err(failure) => (false, None, Some(failure)),
        };
        Self {
            name: met.peer.as_ref().map_or(met.with, name),
            device: met.peer,
            level,
            session,
            failure,
        }
    }
}

impl Synced {
    /// How many sessions came to a good end.
    pub fn sessions(&self) -> usize {
        self.peers.iter().filter(|peer| peer.session.is_some()).count()
    }

    /// Whether something that came in was refused here.
    pub fn has_refused(&self) -> bool {
        let tallies = self.peers.iter().filter_map(|peer| peer.session.as_ref());
        tallies.into_iter().any(|tally| !tally.refused.is_empty())
    }

    /// Whether the only ones who answered did not want us, or were not those who were expected.
    pub fn was_turned_away(&self) -> bool {
        let unwanted = |peer: &PeerSynced| {
            let cause = peer.failure.as_ref().map(|failure| failure.cause);
            matches!(cause, Some(Cause::Refused | Cause::WrongKey))
        };
        self.sessions() == 0 && self.peers.iter().any(unwanted)
    }
}

#[cfg(test)]
#[path = "synced_tests.rs"]
mod tests;
