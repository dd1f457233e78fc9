//! Bundles: the exchange carried by a file.
//!
//! Bytes of a bundle:
//!
//! | part | bytes |
//! |---|---|
//! | magic | `gladhand-bundle 1\n` |
//! | each part | kind byte, length u32 (little endian), the first 8 bytes of the part's BLAKE3, the part |
//!
//! Part kinds: `H` a JSON header (once, first), `F` a frame, `P` a picture (32-byte hash, then its bytes), `E` the end: the writer's
//! signature over the BLAKE3 of everything before it. It does not matter who passes the bundle on: each frame is signed by its
//! authors. The end only shows whether the bundle is complete.
//!
//! A part with a wrong checksum is skipped and named; later frames count as far as they follow what is held.

use gladhand_facts::{DeviceKey, LogId, VersionVector};
use serde::{Deserialize, Serialize};

use crate::governance::Credential;
use crate::governance::json::{self, JsonError};
use crate::keys;

/// The first bytes of a bundle.
pub const MAGIC: &[u8; 18] = b"gladhand-bundle 1\n";
/// The length of the head of a part.
pub const PART_HEAD_BYTES: usize = 13;
/// The longest part that is accepted: a frame with its largest content, or a picture.
pub const MAX_PART_BYTES: u32 = 80 << 20;

const END_CONTEXT: &str = "gladhand bundle end 1";

/// How far its own log and its clock were when a writer wrote a bundle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Written {
    /// The log that it writes.
    pub log: LogId,
    /// Its last entry.
    pub head: u64,
    /// What its clock showed, in microseconds since 1970.
    pub at_us: i64,
}

/// The writer's description of the bundle.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Header {
    /// The device that wrote it.
    pub writer: DeviceKey,
    /// The depot that the writer belongs to.
    pub root: Option<DeviceKey>,
    /// What the reader was assumed to hold.
    pub since: VersionVector,
    /// What the reader holds afterwards, if it held that.
    pub upto: VersionVector,
    /// How many frames follow.
    pub frames: u64,
    /// How many entries are in them.
    pub entries: u64,
    /// Credentials of devices whose enrolment the reader may not know yet.
    #[serde(default)]
    pub credentials: Vec<Credential>,
    /// When it was written; absent in bundles of older versions.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub written: Option<Written>,
}

/// A part's kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// The header.
    Header,
    /// A frame.
    Frame,
    /// A picture.
    Picture,
    /// The end.
    End,
}

/// Why a bundle does not read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BundleError {
    /// It does not begin like one.
    #[error("this is not a bundle")]
    NotABundle,
    /// It is of a later format.
    #[error("this bundle was written by a newer version of gladhand")]
    Newer,
    /// A part of a kind that does not exist.
    #[error("the bytes at {offset} are no part of a bundle")]
    BadPart {
        /// Where.
        offset: u64,
    },
    /// The header does not read.
    #[error("the bundle's header does not read: {0}")]
    Header(String),
}

/// Why a bundle cannot be written.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BundleWriteError {
    /// The header cannot be encoded.
    #[error(transparent)]
    Header(#[from] JsonError),
    /// A part is too long.
    #[error("a part of {bytes} bytes is too long for a bundle (at most {MAX_PART_BYTES})")]
    PartTooLong {
        /// Its length.
        bytes: usize,
    },
}

/// The head of a part.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PartHead {
    /// Its kind.
    pub kind: Kind,
    /// How many bytes follow.
    pub length: u32,
    sum: [u8; 8],
}

impl Kind {
    fn letter(self) -> u8 {
        match self {
            Self::Header => b'H',
            Self::Frame => b'F',
            Self::Picture => b'P',
            Self::End => b'E',
        }
    }
}

/// Checks the first bytes of a file.
///
/// # Errors
/// [`BundleError::NotABundle`] or [`BundleError::Newer`].
pub fn check_magic(start: &[u8]) -> Result<(), BundleError> {
    match start {
        s if s == MAGIC => Ok(()),
        s if s.starts_with(b"gladhand-bundle ") => Err(BundleError::Newer),
        _ => Err(BundleError::NotABundle),
    }
}

/// The bytes of a part, including its head.
///
/// # Errors
/// [`BundleWriteError::PartTooLong`].
pub fn part(kind: Kind, body: &[u8]) -> Result<Vec<u8>, BundleWriteError> {
    let length = u32::try_from(body.len())
        .ok()
        .filter(|length| *length <= MAX_PART_BYTES);
    let length = length.ok_or(BundleWriteError::PartTooLong { bytes: body.len() })?;
    let mut out = Vec::with_capacity(PART_HEAD_BYTES + body.len());
    out.push(kind.letter());
    out.extend_from_slice(&length.to_le_bytes());
    out.extend_from_slice(&sum(body));
    out.extend_from_slice(body);
    Ok(out)
}

impl PartHead {
    /// Reads the head of the part at `offset`.
    ///
    /// # Errors
    /// [`BundleError::BadPart`].
    pub fn parse(head: &[u8; PART_HEAD_BYTES], offset: u64) -> Result<Self, BundleError> {
        let [letter, a, b, c, d, sum @ ..] = *head;
        let kind = match letter {
            b'H' => Kind::Header,
            b'F' => Kind::Frame,
            b'P' => Kind::Picture,
            b'E' => Kind::End,
            _ => return Err(BundleError::BadPart { offset }),
        };
        let length = u32::from_le_bytes([a, b, c, d]);
        if length > MAX_PART_BYTES {
            Err(BundleError::BadPart { offset })
        } else {
            Ok(Self { kind, length, sum })
        }
    }

    /// Whether `body` is the part that this head announces.
    pub fn fits(&self, body: &[u8]) -> bool {
        body.len() as u64 == u64::from(self.length) && self.sum == sum(body)
    }
}

fn sum(body: &[u8]) -> [u8; 8] {
    let mut sum = [0; 8];
    blake3::Hasher::new().update(body).finalize_xof().fill(&mut sum);
    sum
}

impl Header {
    /// The header's part.
    ///
    /// # Errors
    /// [`BundleWriteError`].
    pub fn encode(&self) -> Result<Vec<u8>, BundleWriteError> {
        part(Kind::Header, &json::write("the bundle's header", self)?)
    }

    /// Reads the header's body.
    ///
    /// # Errors
    /// [`BundleError::Header`].
    pub fn decode(body: &[u8]) -> Result<Self, BundleError> {
        serde_json::from_slice(body).map_err(|e| BundleError::Header(e.to_string()))
    }
}

/// The message that the end's signature covers: `everything` is the BLAKE3 of all bytes before the end.
pub fn end_message(everything: &blake3::Hash) -> (&'static str, [u8; 32]) {
    (END_CONTEXT, *everything.as_bytes())
}

/// Whether the end of a bundle fits everything before it.
pub fn end_is_genuine(writer: &DeviceKey, everything: &blake3::Hash, body: &[u8]) -> bool {
    let (context, message) = end_message(everything);
    <[u8; 64]>::try_from(body).is_ok_and(|signature| keys::verify(writer, context, &message, &signature))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A part that no reader would accept is not written either.
    #[test]
    fn a_part_is_no_longer_than_what_is_accepted() {
        let longest = vec![0; MAX_PART_BYTES as usize];
        let bytes = part(Kind::Picture, &longest).unwrap();
        let head = PartHead::parse(bytes.first_chunk().unwrap(), 0).unwrap();
        assert_eq!(head.length, MAX_PART_BYTES);
        assert!(head.fits(&longest) && !head.fits(&longest[1..]));
        let too_long = BundleWriteError::PartTooLong {
            bytes: longest.len() + 1,
        };
        assert_eq!(part(Kind::Picture, &[longest, vec![0]].concat()), Err(too_long));
    }
}
