//! The packets of a connection and their bytes: exchange messages, and the connection's own packets.
//!
//! Deliberately no version and no checksum: ALPN names the version ([`crate::tls`]), and TLS protects the bytes.
//!
//! | part | bytes |
//! |---|---|
//! | length | u32, little endian, of what follows |
//! | kind | below 64: an exchange message as it is; from 64 on: a packet of the connection itself |
//! | content | see below; numbers are varints as in `gladhand_logbook::wire` |
//!
//! 68 seek, 69 have: byte (1: answers a seek), hashes · 70 want: hash, from · 71 range: hash, length of the whole, from, bytes ·
//! 72 rest: how many exchange messages were heard. Those five are only sent to a peer that transfers pictures
//! ([`crate::tls::Abilities`]).
//!
//! 73 wait: in how many milliseconds to come again. Sent before a bye, and only to a peer that understands it.
//!
//! 64 probe: signed `sent_us` · 65 clock: signed `probe_us`, `received_us`, `sent_us` · 66 bye: reason byte, text · 67 instance: 8 bytes.
//! A hello also counts as a probe, so a contact that finds nothing new still measures the clocks in its one round trip.
//!
//! Invariants: decoding allocates no more than it was given, and accepts no bytes after the content.

use gladhand_logbook::exchange::{Message, SessionError};
use gladhand_logbook::wire::{self, Reader, WireError};
use gladhand_store::PictureHash;

use gladhand_node::clock::Contact;

/// The longest packet: a frame whose only stretch cannot be split, incompressible, with some slack.
pub const MAX_PACKET_BYTES: u32 = 65 << 20;
/// The longest text of a `bye`, in bytes.
const MAX_BYE_BYTES: u64 = 400;
/// How many pictures one packet may name.
pub const MAX_HASHES: usize = 256;
/// The most bytes of a picture in one packet.
pub const RANGE_BYTES: usize = 64 << 10;

/// Why a side ends a connection.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ByeReason {
    /// The work is done, or the process is shutting down.
    Closing,
    /// The two devices have another connection.
    Duplicate,
    /// Too many sessions are open.
    Busy,
    /// Begin a new session: something that was refused may be admitted now.
    Again,
    /// The other device is not trusted (any more).
    Refused,
    /// Received data or this side is faulty.
    Trouble,
    /// Both sides hold the same, and another device needs the place. Older versions read it as trouble, and dial again.
    MakeRoom,
    /// The depot has retired the other device. Older versions read it as trouble, and are refused when they dial again.
    Retired,
    /// Another device needs the place; the peer is to come again for the rest.
    TakeTurns,
}

impl ByeReason {
    /// The byte in a packet.
    const fn code(self) -> u8 {
        match self {
            Self::Closing => 0,
            Self::Duplicate => 1,
            Self::Busy => 2,
            Self::Again => 3,
            Self::Refused => 4,
            Self::Trouble => 5,
            Self::MakeRoom => 6,
            Self::Retired => 7,
            Self::TakeTurns => 8,
        }
    }

    /// A byte that this version does not know comes from a newer one. The peer ends the connection in any case, so the packet is
    /// not refused; as [`ByeReason::Trouble`] it is dialled again after the usual wait.
    const fn from_code(code: u8) -> Self {
        match code {
            0 => Self::Closing,
            1 => Self::Duplicate,
            2 => Self::Busy,
            3 => Self::Again,
            4 => Self::Refused,
            6 => Self::MakeRoom,
            7 => Self::Retired,
            8 => Self::TakeTurns,
            _ => Self::Trouble,
        }
    }
}

/// One packet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Packet {
    /// A message of the exchange.
    Exchange(Message),
    /// Asks for a sign of life and for the peer's clock.
    Probe {
        /// The sender's clock when it was sent.
        sent_us: i64,
    },
    /// Answers a probe or hello.
    Clock {
        /// The time in the probe or hello.
        probe_us: i64,
        /// The sender's clock when that was received.
        received_us: i64,
        /// The sender's clock when this was sent.
        sent_us: i64,
    },
    /// The end of the connection.
    Bye {
        /// The reason.
        why: ByeReason,
        /// The reason in words.
        words: String,
    },
    /// A random number of this process. Only sent to a peer with our own key, to tell a clone of this home from this process.
    Instance([u8; 8]),
    /// Asks which of these pictures the peer has.
    Seek(Vec<PictureHash>),
    /// The sender has these pictures.
    Have {
        /// Whether this answers a seek; otherwise they have arrived since.
        answer: bool,
        /// The pictures.
        hashes: Vec<PictureHash>,
    },
    /// Requests a range of a picture.
    Want {
        /// The picture.
        hash: PictureHash,
        /// Where the range begins.
        at: u64,
    },
    /// A range of a picture.
    Range {
        /// The picture.
        hash: PictureHash,
        /// The length of the whole picture; 0: the sender does not have it.
        total: u64,
        /// Where the range begins.
        at: u64,
        /// The bytes.
        bytes: Vec<u8>,
    },
    /// The sender has nothing left to request, as far as it knows after so many exchange messages.
    Rest {
        /// How many exchange messages the sender had received.
        heard: u64,
    },
    /// The receiver is to come again in this time. A `bye` follows.
    Wait {
        /// The time in milliseconds.
        wait_ms: u64,
    },
}

const PROBE: u8 = 64;
const CLOCK: u8 = 65;
const BYE: u8 = 66;
const INSTANCE: u8 = 67;
const SEEK: u8 = 68;
const HAVE: u8 = 69;
const WANT: u8 = 70;
const RANGE: u8 = 71;
const REST: u8 = 72;
const WAIT: u8 = 73;

impl Packet {
    /// The bytes of the packet, preceded by their length.
    pub fn encode(&self) -> Vec<u8> {
        let mut out = vec![0; 4];
        match self {
            Self::Exchange(message) => out.extend_from_slice(&message.encode()),
            Self::Probe { sent_us } => {
                out.push(PROBE);
                wire::put_signed(&mut out, *sent_us);
            }
            Self::Clock {
                probe_us,
                received_us,
                sent_us,
            } => {
                out.push(CLOCK);
                [probe_us, received_us, sent_us]
                    .into_iter()
                    .for_each(|us| wire::put_signed(&mut out, *us));
            }
            Self::Bye { why, words } => {
                out.push(BYE);
                out.push(why.code());
                // A character takes at most four bytes.
                let words: String = words.chars().take(MAX_BYE_BYTES as usize / 4).collect();
                wire::put_blob(&mut out, words.as_bytes());
            }
            Self::Instance(id) => {
                out.push(INSTANCE);
                out.extend_from_slice(id);
            }
            Self::Wait { wait_ms } => {
                out.push(WAIT);
                wire::put_number(&mut out, *wait_ms);
            }
            picture_packet => picture_packet.encode_picture(&mut out),
        }
        fill_in_length(&mut out);
        out
    }

    fn encode_picture(&self, out: &mut Vec<u8>) {
        match self {
            Self::Seek(hashes) => put_hashes(out, SEEK, None, hashes),
            Self::Have { answer, hashes } => put_hashes(out, HAVE, Some(u8::from(*answer)), hashes),
            Self::Want { hash, at } => {
                out.push(WANT);
                out.extend_from_slice(&hash.0);
                wire::put_number(out, *at);
            }
            Self::Range { hash, total, at, bytes } => {
                out.push(RANGE);
                out.extend_from_slice(&hash.0);
                wire::put_number(out, *total);
                wire::put_number(out, *at);
                wire::put_blob(out, bytes);
            }
            Self::Rest { heard } => {
                out.push(REST);
                wire::put_number(out, *heard);
            }
            // `encode` writes these itself.
            Self::Exchange(_)
            | Self::Probe { .. }
            | Self::Clock { .. }
            | Self::Bye { .. }
            | Self::Instance(_)
            | Self::Wait { .. } => {}
        }
    }

    fn decode_picture(kind: u8, reader: &mut Reader<'_>) -> Result<Self, WireError> {
        let what = "a word about pictures";
        Ok(match kind {
            SEEK => Self::Seek(read_hashes(reader)?),
            HAVE => Self::Have {
                answer: reader.byte(what)? != 0,
                hashes: read_hashes(reader)?,
            },
            WANT => Self::Want {
                hash: PictureHash(reader.array(what)?),
                at: reader.number(what)?,
            },
            RANGE => Self::Range {
                hash: PictureHash(reader.array(what)?),
                total: reader.number(what)?,
                at: reader.number(what)?,
                bytes: reader.blob(RANGE_BYTES as u64, what)?.to_vec(),
            },
            REST => Self::Rest {
                heard: reader.number(what)?,
            },
            _ => return Err(WireError::Number("a packet's kind")),
        })
    }

    /// Reads the bytes after the length.
    ///
    /// # Errors
    /// [`SessionError`].
    pub fn decode(bytes: &[u8]) -> Result<Self, SessionError> {
        let mut reader = Reader::new(bytes);
        let what = "a packet";
        let packet = match reader.byte(what)? {
            PROBE => Self::Probe {
                sent_us: reader.signed(what)?,
            },
            CLOCK => Self::Clock {
                probe_us: reader.signed(what)?,
                received_us: reader.signed(what)?,
                sent_us: reader.signed(what)?,
            },
            BYE => Self::Bye {
                why: ByeReason::from_code(reader.byte(what)?),
                words: reader.text(MAX_BYE_BYTES, what)?.to_owned(),
            },
            INSTANCE => Self::Instance(reader.array(what)?),
            WAIT => Self::Wait {
                wait_ms: reader.number(what)?,
            },
            ..PROBE => return Ok(Self::Exchange(Message::decode(bytes)?)),
            kind => Self::decode_picture(kind, &mut reader)?,
        };
        reader.end(what)?;
        Ok(packet)
    }

    /// The time to repeat in the answer, if this packet asks for the receiver's clock.
    pub fn probe_time(&self) -> Option<i64> {
        match self {
            Self::Probe { sent_us } | Self::Exchange(Message::Hello { sent_us, .. }) => Some(*sent_us),
            _ => None,
        }
    }

    /// The four timestamps of a clock reading, if this is an answer that was received at `now_us`.
    pub fn contact(&self, now_us: i64) -> Option<Contact> {
        match self {
            Self::Clock {
                probe_us,
                received_us,
                sent_us,
            } => Some(Contact {
                t1_us: *probe_us,
                t2_us: *received_us,
                t3_us: *sent_us,
                t4_us: now_us,
            }),
            _ => None,
        }
    }
}

/// Writes the length of what follows into the first four bytes, which were kept free for it. A length beyond u32 saturates: it is
/// above [`MAX_PACKET_BYTES`], so the receiver refuses the packet instead of reading a part of it.
fn fill_in_length(out: &mut [u8]) {
    let length = u32::try_from(out.len().saturating_sub(4)).unwrap_or(u32::MAX);
    for (slot, byte) in out.iter_mut().zip(length.to_le_bytes()) {
        *slot = byte;
    }
}

fn put_hashes(out: &mut Vec<u8>, kind: u8, answer: Option<u8>, hashes: &[PictureHash]) {
    out.push(kind);
    out.extend(answer);
    wire::put_number(out, hashes.len() as u64);
    hashes.iter().for_each(|hash| out.extend_from_slice(&hash.0));
}

fn read_hashes(reader: &mut Reader<'_>) -> Result<Vec<PictureHash>, WireError> {
    let count = reader.count(MAX_HASHES as u64, "pictures")?;
    (0..count).map(|_| reader.array("pictures").map(PictureHash)).collect()
}

#[cfg(test)]
#[path = "packet_tests.rs"]
mod tests;
