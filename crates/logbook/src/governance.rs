//! Who may write: the records by which a depot founds, invites, enrols and retires.
//!
//! Records stand in log entries as JSON, so that an older version can show what it does not understand. The
//! depot's key is the root of trust. An **invite** is a one-time key that the depot has signed, handed over as one
//! line of text; a device that joins signs its own key with it. The result, a **credential**, convinces any node that knows the depot's
//! key, also one that never met the depot. The depot's `enrol` record then makes it final, and makes a second
//! use of the same invite worthless everywhere.
//!
//! Not here: the roster that adds all this up ([`crate::roster`]).

use std::collections::BTreeMap;

use data_encoding::BASE32_NOPAD;
use gladhand_facts::DeviceKey;
use serde::{Deserialize, Serialize};

use crate::keys::{self, DeviceSecret};
use crate::wire::{self, Reader};

const INVITE_CONTEXT: &str = "gladhand invite 1";
const JOIN_CONTEXT: &str = "gladhand join 1";
const INVITE_PREFIX: &str = "GLADHAND-INVITE-";
const INVITE_FORMAT: u8 = 2;

/// A governance record. Keys that a newer version adds are ignored here and stay in the log.
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
    /// The depot takes a device onto the roster.
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
    /// The depot takes a device off the roster.
    Retire {
        /// The device.
        device: DeviceKey,
        /// Per log of the device, the last entry that still counts. A log that is not named counts up to nothing.
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
        /// The last place of that log that was this home's own for certain when it found out that it was a copy, that it was
        /// restored, or that somebody else writes the log. Absent where none of that was the reason: then the log ends.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        at: Option<u64>,
        /// Why.
        why: String,
    },
    /// How another device's clock stood against the clock of the device that records this, at a contact.
    Clock {
        /// The other device.
        peer: DeviceKey,
        /// Its clock minus ours, in microseconds, give or take half of `delay_us`.
        offset_us: i64,
        /// How long the question and the answer were under way, in microseconds.
        delay_us: i64,
        /// When, by our clock, in microseconds since 1970.
        at_us: i64,
    },
    /// Two different entries claim one place.
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
    /// The JSON that stands in an entry.
    pub fn encode(&self) -> Vec<u8> {
        serde_json::to_vec(self).unwrap_or_default()
    }

    /// Reads a record; `None` for one that this version does not know.
    pub fn decode(json: &[u8]) -> Option<Self> {
        serde_json::from_slice(json).ok()
    }
}

/// Why an invite cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum InviteError {
    /// Not an invite, or one with letters missing.
    #[error("this is not an invite: it must begin with {INVITE_PREFIX} and be complete")]
    NotAnInvite,
    /// The depot did not sign it.
    #[error("the invite is not signed by the depot that it names")]
    BadSignature,
    /// It has expired.
    #[error("the invite has expired; ask the depot for a new one")]
    Expired,
}

/// A one-time invite, as the depot made it.
#[derive(Debug)]
pub struct Invite {
    /// The depot.
    pub root: DeviceKey,
    /// Whom it is for; may be empty.
    pub person: String,
    /// Until when it may be used, in seconds since 1970.
    pub expires_s: i64,
    /// Where the depot listens, such as `192.168.1.20:7401`; empty when it can only be found or reached by file. Not signed: the
    /// depot is known by its key, wherever it is.
    pub address: String,
    secret: DeviceSecret,
    seed: [u8; 32],
    signature: [u8; 64],
}

impl Invite {
    /// Makes an invite from 32 random bytes.
    pub fn make(depot: &DeviceSecret, seed: [u8; 32], person: &str, expires_s: i64) -> Self {
        let secret = DeviceSecret::from_seed(&seed);
        let signature = depot.sign(INVITE_CONTEXT, &invite_message(&secret.public(), person, expires_s));
        Self {
            root: depot.public(),
            person: person.to_owned(),
            expires_s,
            address: String::new(),
            secret,
            seed,
            signature,
        }
    }

    /// Adds where the depot listens.
    pub fn at(mut self, address: &str) -> Self {
        self.address = address.to_owned();
        self
    }

    /// The invite's own public key: its name on the roster.
    pub fn id(&self) -> DeviceKey {
        self.secret.public()
    }

    /// The line of text. Capital letters and digits only, so that it also fits a QR code well.
    pub fn to_line(&self) -> String {
        let mut out = vec![INVITE_FORMAT];
        out.extend_from_slice(&self.root.0);
        out.extend_from_slice(&self.seed);
        out.extend_from_slice(&self.signature);
        wire::put_signed(&mut out, self.expires_s);
        wire::put_blob(&mut out, self.person.as_bytes());
        wire::put_blob(&mut out, self.address.as_bytes());
        out.extend_from_slice(blake3::hash(&out).as_bytes().get(..4).unwrap_or_default());
        format!("{INVITE_PREFIX}{}", BASE32_NOPAD.encode(&out))
    }

    /// Reads the line of text. Case and surrounding white space do not matter.
    ///
    /// # Errors
    /// [`InviteError::NotAnInvite`] or [`InviteError::BadSignature`]; expiry is checked when it is used.
    pub fn parse(line: &str) -> Result<Self, InviteError> {
        let folded: String = line
            .chars()
            .filter(|c| !c.is_whitespace())
            .collect::<String>()
            .to_uppercase();
        let code = folded.strip_prefix(INVITE_PREFIX).ok_or(InviteError::NotAnInvite)?;
        let bytes = BASE32_NOPAD
            .decode(code.as_bytes())
            .map_err(|_| InviteError::NotAnInvite)?;
        let (body, sum) = bytes.split_last_chunk::<4>().ok_or(InviteError::NotAnInvite)?;
        if blake3::hash(body).as_bytes().get(..4) != Some(sum) {
            return Err(InviteError::NotAnInvite);
        }
        let invite = Self::read(body).map_err(|_| InviteError::NotAnInvite)?;
        let message = invite_message(&invite.id(), &invite.person, invite.expires_s);
        if keys::verify(&invite.root, INVITE_CONTEXT, &message, &invite.signature) {
            Ok(invite)
        } else {
            Err(InviteError::BadSignature)
        }
    }

    fn read(body: &[u8]) -> Result<Self, wire::WireError> {
        let mut reader = Reader::new(body);
        if reader.byte("an invite")? != INVITE_FORMAT {
            return Err(wire::WireError::Number("an invite's format"));
        }
        let root = DeviceKey(reader.array("an invite")?);
        let seed: [u8; 32] = reader.array("an invite")?;
        let signature = reader.array("an invite")?;
        let expires_s = reader.signed("an invite")?;
        let person = reader.text(200, "an invite")?.to_owned();
        let address = reader.text(200, "an invite")?.to_owned();
        reader.end("an invite")?;
        Ok(Self {
            root,
            person,
            expires_s,
            address,
            secret: DeviceSecret::from_seed(&seed),
            seed,
            signature,
        })
    }

    /// Uses the invite for `device`.
    ///
    /// # Errors
    /// [`InviteError::Expired`] when `now_s` is past its time.
    pub fn accept(&self, device: DeviceKey, name: &str, person: &str, now_s: i64) -> Result<Credential, InviteError> {
        if now_s > self.expires_s {
            return Err(InviteError::Expired);
        }
        let proof = self.secret.sign(JOIN_CONTEXT, &join_message(&device, name, person));
        Ok(Credential {
            invite: self.id(),
            invited: self.person.clone(),
            expires_s: self.expires_s,
            signature: hex(&self.signature),
            device,
            name: name.to_owned(),
            person: person.to_owned(),
            proof: hex(&proof),
        })
    }
}

/// What convinces a node that a device was invited by its depot.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Credential {
    /// The invite's public key.
    pub invite: DeviceKey,
    /// Whom the invite was for.
    pub invited: String,
    /// Until when the invite may be used, in seconds since 1970.
    pub expires_s: i64,
    /// The depot's signature over the invite, in hexadecimal.
    pub signature: String,
    /// The device that joins.
    pub device: DeviceKey,
    /// Its name.
    pub name: String,
    /// Its person.
    pub person: String,
    /// The invite's signature over device, name and person, in hexadecimal.
    pub proof: String,
}

impl Credential {
    /// Whether `root` signed the invite and the invite signed the device.
    pub fn is_genuine(&self, root: &DeviceKey) -> bool {
        let invite = invite_message(&self.invite, &self.invited, self.expires_s);
        let join = join_message(&self.device, &self.name, &self.person);
        let good = |key, context, message: &[u8], text: &str| {
            unhex(text).is_some_and(|signature| keys::verify(key, context, message, &signature))
        };
        good(root, INVITE_CONTEXT, &invite, &self.signature) && good(&self.invite, JOIN_CONTEXT, &join, &self.proof)
    }
}

fn invite_message(invite: &DeviceKey, person: &str, expires_s: i64) -> Vec<u8> {
    let mut out = invite.0.to_vec();
    wire::put_signed(&mut out, expires_s);
    wire::put_blob(&mut out, person.as_bytes());
    out
}

fn join_message(device: &DeviceKey, name: &str, person: &str) -> Vec<u8> {
    let mut out = device.0.to_vec();
    wire::put_blob(&mut out, name.as_bytes());
    wire::put_blob(&mut out, person.as_bytes());
    out
}

fn hex(bytes: &[u8]) -> String {
    data_encoding::HEXLOWER.encode(bytes)
}

fn unhex(text: &str) -> Option<[u8; 64]> {
    data_encoding::HEXLOWER_PERMISSIVE
        .decode(text.as_bytes())
        .ok()?
        .try_into()
        .ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn depot() -> DeviceSecret {
        DeviceSecret::from_seed(&[1; 32])
    }

    #[test]
    fn an_invite_survives_being_typed() {
        let invite = Invite::make(&depot(), [5; 32], "mara", 1_000).at("192.168.1.20:7401");
        let line = invite.to_line();
        let back = Invite::parse(&format!("  {} \n", line.to_lowercase())).unwrap();
        assert_eq!(
            (back.id(), back.root, back.person.as_str(), back.address.as_str()),
            (invite.id(), depot().public(), "mara", "192.168.1.20:7401")
        );
        assert!(matches!(
            Invite::parse(&line[..line.len() - 1]),
            Err(InviteError::NotAnInvite)
        ));
        let mut wrong = line.into_bytes();
        wrong[40] = if wrong[40] == b'A' { b'B' } else { b'A' };
        assert!(matches!(
            Invite::parse(std::str::from_utf8(&wrong).unwrap()),
            Err(InviteError::NotAnInvite)
        ));
    }

    #[test]
    fn a_credential_convinces_only_for_its_depot_and_its_device() {
        let invite = Invite::make(&depot(), [5; 32], "mara", 1_000);
        let device = DeviceSecret::from_seed(&[2; 32]).public();
        let credential = invite.accept(device, "laptop", "mara", 999).unwrap();
        assert!(credential.is_genuine(&depot().public()));
        assert!(!credential.is_genuine(&device));
        let stolen = Credential {
            device: DeviceSecret::from_seed(&[3; 32]).public(),
            ..credential.clone()
        };
        assert!(!stolen.is_genuine(&depot().public()));
        let renamed = Credential {
            name: "other".into(),
            ..credential
        };
        assert!(!renamed.is_genuine(&depot().public()));
        assert_eq!(
            invite.accept(device, "laptop", "mara", 1_001),
            Err(InviteError::Expired)
        );
    }

    #[test]
    fn records_survive_and_newer_ones_are_no_error() {
        let record = Record::Standard {
            version: "2026-1".into(),
            text: "x = 1".into(),
        };
        assert_eq!(Record::decode(&record.encode()), Some(record));
        assert_eq!(Record::decode(br#"{"record":"moon-phase","x":1}"#), None);
        assert_eq!(Record::decode(b"\xff"), None);
    }
}
