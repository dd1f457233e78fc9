//! Who may write: the records by which a depot founds, invites, enrols and retires.
//!
//! Records are JSON in log entries, so that an older version can show what it does not understand. The depot's key is the
//! root of trust. An **invite** is a one-time key that the depot has signed, passed on as one line of text; a device that
//! joins signs its own key with it. The result, a **credential**, convinces any node that knows the depot's key, even one
//! that never met the depot. The depot's `enrol` record then makes it final, and from then on no other device can use the
//! same invite.
//!
//! Not here: the roster that the records add up to ([`crate::roster`]).

use std::collections::BTreeMap;

use gladhand_facts::DeviceKey;
use serde::{Deserialize, Serialize};

mod credential;
mod invite;
pub(crate) mod json;

pub use credential::{Credential, CredentialList};
pub use invite::{Invite, InviteError};
pub use json::JsonError;

/// A governance record. Keys that a newer version adds are ignored here, and stay in the log.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "record", rename_all = "kebab-case")]
pub enum Record {
    /// The first entry of every log: who writes it.
    Introduce {
        /// The device's name.
        name: String,
        /// The person who usually works with it.
        person: String,
        /// Whether it is a depot.
        depot: bool,
    },
    /// A device shows its credential.
    Join {
        /// The credential.
        credential: Credential,
    },
    /// The depot adds a device to the roster.
    Enrol {
        /// The device.
        device: DeviceKey,
        /// Its name.
        name: String,
        /// Its person.
        person: String,
        /// The invite that it used up.
        invite: DeviceKey,
    },
    /// The depot removes a device from the roster.
    Retire {
        /// The device.
        device: DeviceKey,
        /// Per log of the device, the last entry that counts. Of a log that is not named no entry counts.
        last: BTreeMap<String, u64>,
        /// Why.
        why: String,
    },
    /// The work standard in force from here on.
    Standard {
        /// Its version.
        version: String,
        /// Its text.
        text: String,
    },
    /// A new incarnation begins.
    Incarnation {
        /// The log that it follows.
        after: String,
        /// The last entry of that log that this home certainly wrote, when it noticed that it was a copy, that it was restored,
        /// or that another home writes the log too. Absent for any other reason: then that log ends.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        at: Option<u64>,
        /// Why.
        why: String,
    },
    /// The difference between another device's clock and the recording device's clock, measured at a contact.
    Clock {
        /// The other device.
        peer: DeviceKey,
        /// Its clock minus ours, in microseconds, give or take half of `delay_us`.
        offset_us: i64,
        /// How long question and answer took together on the network, in microseconds.
        delay_us: i64,
        /// When, by our clock, in microseconds since 1970.
        at_us: i64,
    },
    /// A bundle was read: how the clocks of its writer and its reader stood.
    Carried {
        /// The log that its writer wrote.
        writer: String,
        /// The writer's last entry by then.
        head: u64,
        /// When it was written, by the writer's clock, in microseconds since 1970.
        written_us: i64,
        /// When it was read, by our clock.
        read_us: i64,
    },
    /// Two different entries claim one place of a log.
    Forked {
        /// The log.
        log: String,
        /// The place.
        seq: u64,
        /// The two hashes, in hexadecimal, sorted.
        hashes: [String; 2],
    },
}

impl Record {
    /// The JSON for an entry.
    ///
    /// # Errors
    /// [`JsonError`].
    pub fn encode(&self) -> Result<Vec<u8>, JsonError> {
        json::write("a governance record", self)
    }

    /// Reads a record; `None` for one that this version does not know.
    pub fn decode(json: &[u8]) -> Option<Self> {
        serde_json::from_slice(json).ok()
    }
}

#[cfg(test)]
#[path = "governance_tests.rs"]
mod tests;
