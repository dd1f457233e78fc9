//! Invites: a one-time key, signed by the depot, as one line of text.

use data_encoding::BASE32_NOPAD;
use gladhand_facts::DeviceKey;

use super::credential::{Credential, INVITE_CONTEXT, JOIN_CONTEXT, hex, invite_message, join_message};
use crate::keys::{self, DeviceSecret};
use crate::wire::{self, Reader};

const INVITE_PREFIX: &str = "GLADHAND-INVITE-";
const INVITE_FORMAT: u8 = 2;

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
    /// The person whom it is for; may be empty.
    pub person: String,
    /// When it expires, in seconds since 1970.
    pub expires_s: i64,
    /// Where the depot listens, such as `192.168.1.20:7401`; empty when it can only be discovered or reached by file. Not
    /// signed: the depot proves itself by its key, at any address.
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
    pub fn with_address(mut self, address: &str) -> Self {
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
        let sum = checksum(&out);
        out.extend_from_slice(&sum);
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
        if checksum(body) != *sum {
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

/// Finds letters that were typed wrongly.
fn checksum(body: &[u8]) -> [u8; 4] {
    let mut sum = [0; 4];
    blake3::Hasher::new().update(body).finalize_xof().fill(&mut sum);
    sum
}
