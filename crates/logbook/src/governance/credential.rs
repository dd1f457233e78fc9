//! Credentials: what a device shows to prove that the depot invited it.
//!
//! Two signatures: the depot's over the invite, and the invite's over the device that joins. Both messages are laid out here.

use gladhand_facts::DeviceKey;
use serde::{Deserialize, Serialize};

use super::json::{self, JsonError};
use crate::keys;
use crate::wire;

pub(super) const INVITE_CONTEXT: &str = "gladhand invite 1";
pub(super) const JOIN_CONTEXT: &str = "gladhand join 1";

/// Proof that a device was invited by its depot.
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

/// Credentials with their JSON, as they are sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CredentialList {
    list: Vec<Credential>,
    json: Vec<u8>,
}

impl Default for CredentialList {
    fn default() -> Self {
        Self {
            list: Vec::new(),
            json: b"[]".to_vec(),
        }
    }
}

impl CredentialList {
    /// Prepares credentials for sending.
    ///
    /// # Errors
    /// [`JsonError`].
    pub fn new(list: Vec<Credential>) -> Result<Self, JsonError> {
        let json = json::write("a list of credentials", &list)?;
        Ok(Self { list, json })
    }

    /// Reads what a peer sent; `None` when it is no list of credentials.
    pub(crate) fn read(json: &[u8]) -> Option<Self> {
        let list = serde_json::from_slice(json).ok()?;
        let json = json.to_vec();
        Some(Self { list, json })
    }

    /// The credentials.
    pub fn iter(&self) -> impl Iterator<Item = &Credential> {
        self.list.iter()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    pub(crate) fn json(&self) -> &[u8] {
        &self.json
    }

    /// The credentials, to keep.
    pub fn into_vec(self) -> Vec<Credential> {
        self.list
    }
}

/// What the depot signs when it makes an invite.
pub(super) fn invite_message(invite: &DeviceKey, person: &str, expires_s: i64) -> Vec<u8> {
    let mut out = invite.0.to_vec();
    wire::put_signed(&mut out, expires_s);
    wire::put_blob(&mut out, person.as_bytes());
    out
}

/// What the invite's key signs when a device joins.
pub(super) fn join_message(device: &DeviceKey, name: &str, person: &str) -> Vec<u8> {
    let mut out = device.0.to_vec();
    wire::put_blob(&mut out, name.as_bytes());
    wire::put_blob(&mut out, person.as_bytes());
    out
}

pub(super) fn hex(bytes: &[u8]) -> String {
    data_encoding::HEXLOWER.encode(bytes)
}

fn unhex(text: &str) -> Option<[u8; 64]> {
    data_encoding::HEXLOWER_PERMISSIVE
        .decode(text.as_bytes())
        .ok()?
        .try_into()
        .ok()
}
