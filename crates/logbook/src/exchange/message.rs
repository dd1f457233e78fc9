//! The messages of the exchange, and their bytes.

use std::collections::BTreeMap;

use gladhand_facts::{DeviceKey, LogId, VersionVector};

use crate::governance::CredentialList;
use crate::wire::{self, Reader, WireError};

/// The protocol that this version speaks.
pub const PROTOCOL: u64 = 1;
const MAX_LOGS: u64 = 1 << 20;
const MAX_TEXT: u64 = 1 << 20;

/// The first bytes of the hash of a log's head: enough to tell two heads apart.
pub type HeadMark = [u8; 8];

/// What a node holds of a log, or will never accept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Held {
    /// The last entry.
    pub seq: u64,
    /// The mark of the log's head.
    pub head: HeadMark,
}

/// What one side tells the other.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Message {
    /// Who speaks, and the digest of its history.
    Hello {
        /// The protocol it speaks.
        protocol: u64,
        /// The device.
        node: DeviceKey,
        /// [`crate::Book::digest`].
        digest: [u8; 32],
        /// Its wall clock when it sent this, in microseconds since 1970.
        sent_us: i64,
    },
    /// What it holds or will never accept, and the credentials that it knows.
    Vector {
        /// By log. A log that is absent is not held.
        held: BTreeMap<LogId, Held>,
        /// Credentials.
        credentials: CredentialList,
    },
    /// Credentials that it has learned since; they come before the frames that need them.
    Credentials(CredentialList),
    /// A frame, numbered from 1 within the session.
    Frame {
        /// Its number.
        number: u64,
        /// Its bytes.
        bytes: Vec<u8>,
    },
    /// Everything up to this frame is durable, or refused for good.
    Ack {
        /// The frame's number.
        number: u64,
    },
    /// Nothing more to send for now.
    Done,
}

const TAG_HELLO: u8 = 1;
const TAG_VECTOR: u8 = 2;
const TAG_FRAME: u8 = 3;
const TAG_ACK: u8 = 4;
const TAG_DONE: u8 = 5;
const TAG_CREDENTIALS: u8 = 6;

impl Message {
    /// What it is, for an error message.
    pub(super) fn name(&self) -> &'static str {
        match self {
            Self::Hello { .. } => "a hello",
            Self::Vector { .. } => "a vector",
            Self::Credentials(_) => "credentials",
            Self::Frame { .. } => "a frame",
            Self::Ack { .. } => "an acknowledgement",
            Self::Done => "a done",
        }
    }

    /// The bytes of a message; the carrier adds a length.
    pub fn encode(&self) -> Vec<u8> {
        let mut out = Vec::new();
        match self {
            Self::Hello {
                protocol,
                node,
                digest,
                sent_us,
            } => {
                out.push(TAG_HELLO);
                wire::put_number(&mut out, *protocol);
                out.extend_from_slice(&node.0);
                out.extend_from_slice(digest);
                wire::put_signed(&mut out, *sent_us);
            }
            Self::Vector { held, credentials } => {
                out.push(TAG_VECTOR);
                wire::put_number(&mut out, held.len() as u64);
                for (log, held) in held {
                    wire::put_log(&mut out, log);
                    wire::put_number(&mut out, held.seq);
                    out.extend_from_slice(&held.head);
                }
                wire::put_blob(&mut out, credentials.json());
            }
            Self::Credentials(credentials) => {
                out.push(TAG_CREDENTIALS);
                wire::put_blob(&mut out, credentials.json());
            }
            Self::Frame { number, bytes } => {
                out.push(TAG_FRAME);
                wire::put_number(&mut out, *number);
                out.extend_from_slice(bytes);
            }
            Self::Ack { number } => {
                out.push(TAG_ACK);
                wire::put_number(&mut out, *number);
            }
            Self::Done => out.push(TAG_DONE),
        }
        out
    }

    /// Reads a message.
    ///
    /// # Errors
    /// [`WireError`].
    pub fn decode(bytes: &[u8]) -> Result<Self, WireError> {
        let mut reader = Reader::new(bytes);
        let message = match reader.byte("a message")? {
            TAG_HELLO => Self::Hello {
                protocol: reader.number("a hello")?,
                node: DeviceKey(reader.array("a hello")?),
                digest: reader.array("a hello")?,
                sent_us: reader.signed("a hello")?,
            },
            TAG_VECTOR => Self::Vector {
                held: read_held(&mut reader)?,
                credentials: read_credentials(&mut reader)?,
            },
            TAG_CREDENTIALS => Self::Credentials(read_credentials(&mut reader)?),
            TAG_FRAME => {
                let number = reader.number("a frame")?;
                return Ok(Self::Frame {
                    number,
                    bytes: reader.rest().to_vec(),
                });
            }
            TAG_ACK => Self::Ack {
                number: reader.number("an acknowledgement")?,
            },
            TAG_DONE => Self::Done,
            _ => return Err(WireError::Number("a message's kind")),
        };
        reader.end("a message")?;
        Ok(message)
    }
}

fn read_credentials(reader: &mut Reader<'_>) -> Result<CredentialList, WireError> {
    let json = reader.blob(MAX_TEXT, "credentials")?;
    CredentialList::read(json).ok_or(WireError::Utf8("credentials"))
}

fn read_held(reader: &mut Reader<'_>) -> Result<BTreeMap<LogId, Held>, WireError> {
    let mut all: BTreeMap<LogId, Held> = BTreeMap::new();
    for _ in 0..reader.count(MAX_LOGS, "a vector")? {
        let log = reader.log("a vector")?;
        let held = Held {
            seq: reader.number("a vector")?,
            head: reader.array("a vector")?,
        };
        // An empty log is not held. Of two claims about one log the larger counts.
        if held.seq > all.get(&log).map_or(0, |known| known.seq) {
            all.insert(log, held);
        }
    }
    Ok(all)
}

/// The vector of what is held.
pub(super) fn vector_of(held: &BTreeMap<LogId, Held>) -> VersionVector {
    held.iter().map(|(log, held)| (*log, held.seq)).collect()
}
