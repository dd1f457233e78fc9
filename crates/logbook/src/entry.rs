//! Entries: what was written at one place of a log, after which entry, and what its device had newly seen.
//!
//! Bytes of an entry, in this order (varints are LEB128, see [`crate::wire`]):
//!
//! | part | bytes |
//! |---|---|
//! | format | 1, always 1 |
//! | previous hash | 32; zero for the first entry |
//! | seq | varint, counted from 1 |
//! | stamp | signed varint `wall_us`, varint `counter` |
//! | seen | varint count, then per log: key 32, varint incarnation, varint seq |
//! | body | tag byte, then the rest of the bytes |
//!
//! The hash of an entry is BLAKE3 in derive-key mode over the log's name and these bytes. The previous hash is near the front
//! so that a frame can leave it out: the receiver computes it.
//!
//! `seen` has only what was newly seen since the device's last entry; added up over a log it is the version vector of each
//! entry. Invariant: an entry with a non-empty `seen` starts a batch, so the entry before it has a checkpoint.

use gladhand_facts::{LogId, Stamp, VersionVector};

use crate::governance::Record;
use crate::wire::{self, Reader, WireError};

/// The longest entry that is written or accepted: 2 MiB.
pub const MAX_ENTRY_BYTES: usize = 2 << 20;
/// The most logs in `seen`.
const MAX_SEEN: u64 = 65_536;
/// The most facts in one entry.
pub const MAX_FACTS: u64 = 4_096;

const FORMAT: u8 = 1;
const HASH_CONTEXT: &str = "gladhand 2026 log entry 1";

/// The BLAKE3 hash of an entry.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct EntryHash(pub [u8; 32]);

impl EntryHash {
    /// The previous hash of a first entry.
    pub const ZERO: Self = Self([0; 32]);
}

impl std::fmt::Debug for EntryHash {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let [a, b, c, d, ..] = self.0;
        write!(f, "EntryHash({a:02x}{b:02x}{c:02x}{d:02x}…)")
    }
}

/// Why bytes are not an entry.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum EntryError {
    /// The bytes do not read.
    #[error("entry: {0}")]
    Wire(#[from] WireError),
    /// A format that this version does not know.
    #[error("entry format {0} is newer than this version knows")]
    Format(u8),
    /// Longer than [`MAX_ENTRY_BYTES`].
    #[error("entry of {0} bytes; at most {MAX_ENTRY_BYTES} are allowed")]
    TooLong(usize),
}

/// The content of an entry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Body {
    /// One Automerge change to one job document, in the stripped form of [`crate::jobdoc`].
    Change {
        /// The job whose document it changes.
        job: String,
        /// The stripped change.
        change: Vec<u8>,
    },
    /// Facts that belong to no job (stock, rulings, loose scans and notes), as canonical JSON.
    Loose(Vec<String>),
    /// A governance record, as JSON: see [`crate::governance`].
    Governance(Vec<u8>),
    /// Something that a newer version wrote. It is kept as it is.
    Unknown {
        /// Its tag.
        tag: u8,
        /// Its bytes.
        bytes: Vec<u8>,
    },
}

const TAG_CHANGE: u8 = 1;
const TAG_LOOSE: u8 = 2;
const TAG_GOVERNANCE: u8 = 3;

impl Body {
    fn encode(&self, out: &mut Vec<u8>) {
        match self {
            Self::Change { job, change } => {
                out.push(TAG_CHANGE);
                wire::put_blob(out, job.as_bytes());
                out.extend_from_slice(change);
            }
            Self::Loose(facts) => {
                out.push(TAG_LOOSE);
                wire::put_number(out, facts.len() as u64);
                facts.iter().for_each(|f| wire::put_blob(out, f.as_bytes()));
            }
            Self::Governance(json) => {
                out.push(TAG_GOVERNANCE);
                out.extend_from_slice(json);
            }
            Self::Unknown { tag, bytes } => {
                out.push(*tag);
                out.extend_from_slice(bytes);
            }
        }
    }

    fn decode(tag: u8, reader: &mut Reader<'_>) -> Result<Self, WireError> {
        Ok(match tag {
            TAG_CHANGE => {
                let job = reader.text(MAX_ENTRY_BYTES as u64, "a job name")?.to_owned();
                Self::Change {
                    job,
                    change: reader.rest().to_vec(),
                }
            }
            TAG_LOOSE => {
                let count = reader.count(MAX_FACTS, "facts in an entry")?;
                let mut facts = Vec::new();
                for _ in 0..count {
                    facts.push(reader.text(MAX_ENTRY_BYTES as u64, "a fact")?.to_owned());
                }
                reader.end("an entry's facts")?;
                Self::Loose(facts)
            }
            TAG_GOVERNANCE => Self::Governance(reader.rest().to_vec()),
            tag => Self::Unknown {
                tag,
                bytes: reader.rest().to_vec(),
            },
        })
    }
}

/// What is at one place of a log.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// Hash of the entry before it.
    pub previous: EntryHash,
    /// Its place, counted from 1.
    pub seq: u64,
    /// The device's hybrid logical clock.
    pub stamp: Stamp,
    /// What the device had newly seen of other logs.
    pub seen: VersionVector,
    /// Its content.
    pub body: Body,
}

/// The header of an entry: enough to follow a log without reading the content.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EntryHeader {
    /// Hash of the entry before it.
    pub previous: EntryHash,
    /// Its place.
    pub seq: u64,
    /// The device's hybrid logical clock.
    pub stamp: Stamp,
    /// What the device had newly seen.
    pub seen: VersionVector,
    /// The tag of its body.
    pub tag: u8,
}

impl Entry {
    /// The bytes of the entry.
    pub fn encode(&self) -> Vec<u8> {
        let mut out = Vec::with_capacity(256);
        out.push(FORMAT);
        out.extend_from_slice(&self.previous.0);
        wire::put_number(&mut out, self.seq);
        wire::put_signed(&mut out, self.stamp.wall_us);
        wire::put_number(&mut out, u64::from(self.stamp.counter));
        wire::put_number(&mut out, self.seen.len() as u64);
        for (log, seq) in self.seen.iter() {
            wire::put_log(&mut out, &log);
            wire::put_number(&mut out, seq);
        }
        self.body.encode(&mut out);
        out
    }

    /// Reads an entry.
    ///
    /// # Errors
    /// [`EntryError`]; a newer format is a different error than damaged bytes.
    pub fn decode(bytes: &[u8]) -> Result<Self, EntryError> {
        let (header, mut reader) = read_header(bytes)?;
        let body = Body::decode(header.tag, &mut reader)?;
        let EntryHeader {
            previous,
            seq,
            stamp,
            seen,
            ..
        } = header;
        Ok(Self {
            previous,
            seq,
            stamp,
            seen,
            body,
        })
    }

    /// Reads only the header of an entry.
    ///
    /// # Errors
    /// As [`Entry::decode`].
    pub fn header(bytes: &[u8]) -> Result<EntryHeader, EntryError> {
        read_header(bytes).map(|(header, _)| header)
    }

    /// Reads the header of an entry, and its governance record if it has one that this version knows.
    ///
    /// # Errors
    /// As [`Entry::decode`].
    pub(crate) fn header_and_record(bytes: &[u8]) -> Result<(EntryHeader, Option<Record>), EntryError> {
        let (header, reader) = read_header(bytes)?;
        let record = (header.tag == TAG_GOVERNANCE).then(|| Record::decode(reader.rest()));
        Ok((header, record.flatten()))
    }
}

fn read_header(bytes: &[u8]) -> Result<(EntryHeader, Reader<'_>), EntryError> {
    if bytes.len() > MAX_ENTRY_BYTES {
        return Err(EntryError::TooLong(bytes.len()));
    }
    let mut reader = Reader::new(bytes);
    match reader.byte("the format")? {
        FORMAT => {}
        newer => return Err(EntryError::Format(newer)),
    }
    let previous = EntryHash(reader.array("the previous hash")?);
    let seq = reader.number("seq")?;
    let wall_us = reader.signed("the stamp")?;
    let counter = reader.number32("the stamp's counter")?;
    let stamp = Stamp { wall_us, counter };
    let mut seen = VersionVector::new();
    for _ in 0..reader.count(MAX_SEEN, "what was seen")? {
        let log = reader.log("what was seen")?;
        seen.advance(log, reader.number("what was seen")?);
    }
    let tag = reader.byte("the body")?;
    Ok((
        EntryHeader {
            previous,
            seq,
            stamp,
            seen,
            tag,
        },
        reader,
    ))
}

/// The hash of the entry with these bytes in `log`.
pub fn hash(log: &LogId, bytes: &[u8]) -> EntryHash {
    let mut hasher = blake3::Hasher::new_derive_key(HASH_CONTEXT);
    hasher
        .update(&log.device.0)
        .update(&log.incarnation.to_le_bytes())
        .update(bytes);
    EntryHash(*hasher.finalize().as_bytes())
}

/// The format and the bytes after the previous hash: the receiver of a frame knows that hash.
/// `None` when the bytes are too short to be an entry.
pub fn without_previous(bytes: &[u8]) -> Option<(u8, &[u8])> {
    let (format, rest) = bytes.split_first()?;
    rest.get(32..).map(|tail| (*format, tail))
}

/// Puts the previous hash back: the inverse of [`without_previous`].
pub fn with_previous(format: u8, previous: &EntryHash, tail: &[u8]) -> Vec<u8> {
    let mut out = Vec::with_capacity(33 + tail.len());
    out.push(format);
    out.extend_from_slice(&previous.0);
    out.extend_from_slice(tail);
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use gladhand_facts::DeviceKey;
    use proptest::prelude::*;

    fn any_entry() -> impl Strategy<Value = Entry> {
        let body = prop_oneof![
            ("[A-Z0-9]{1,8}", proptest::collection::vec(any::<u8>(), 0..40))
                .prop_map(|(job, change)| Body::Change { job, change }),
            proptest::collection::vec("\\PC{0,20}", 0..4).prop_map(Body::Loose),
            proptest::collection::vec(any::<u8>(), 0..40).prop_map(Body::Governance),
            (9u8.., proptest::collection::vec(any::<u8>(), 0..9)).prop_map(|(tag, bytes)| Body::Unknown { tag, bytes }),
        ];
        let seen = proptest::collection::vec((any::<u8>(), 1u64..3, 1u64..1000), 0..4);
        (any::<[u8; 32]>(), 1u64.., any::<i64>(), any::<u32>(), seen, body).prop_map(
            |(previous, seq, wall_us, counter, seen, body)| Entry {
                previous: EntryHash(previous),
                seq,
                stamp: Stamp { wall_us, counter },
                seen: seen
                    .into_iter()
                    .map(|(k, incarnation, s)| {
                        (
                            LogId {
                                device: DeviceKey([k; 32]),
                                incarnation,
                            },
                            s,
                        )
                    })
                    .collect(),
                body,
            },
        )
    }

    proptest! {
        #[test]
        fn round_trip(entry in any_entry()) {
            let bytes = entry.encode();
            prop_assert_eq!(Entry::decode(&bytes).unwrap(), entry.clone());
            let (format, tail) = without_previous(&bytes).unwrap();
            prop_assert_eq!(with_previous(format, &entry.previous, tail), bytes);
        }

        #[test]
        fn no_bytes_panic(bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
            let _ = Entry::decode(&bytes);
        }

        #[test]
        fn one_flipped_bit_changes_the_hash(entry in any_entry(), at: prop::sample::Index, bit in 0u8..8) {
            let log = LogId { device: DeviceKey([1; 32]), incarnation: 1 };
            let mut bytes = entry.encode();
            let before = hash(&log, &bytes);
            let at = at.index(bytes.len());
            bytes[at] ^= 1 << bit;
            prop_assert_ne!(hash(&log, &bytes), before);
        }
    }

    #[test]
    fn a_newer_format_is_told_apart_from_damage() {
        assert_eq!(Entry::decode(&[9, 0, 0]), Err(EntryError::Format(9)));
        assert!(matches!(Entry::decode(&[1, 0, 0]), Err(EntryError::Wire(_))));
    }
}
