//! What goes over a connection: exchange messages, and the few words of the carrier itself.
//!
//! | part | bytes |
//! |---|---|
//! | length | u32, little endian, of what follows |
//! | kind | below 64: an exchange message as it is; from 64 on: a word of the carrier |
//! | content | see below; numbers are varints as in `gladhand_logbook::wire` |
//!
//! 68 seek, 69 have: byte (1: answers a seek), hashes · 70 want: hash, from · 71 range: hash, length of the whole, from, bytes ·
//! 72 rest: how many exchange messages were heard. Those five are only said to a peer that speaks of pictures ([`crate::tls::SESSION`]).
//!
//! 64 probe: signed `sent_us` · 65 clock: signed `probe_us`, `received_us`, `sent_us` · 66 bye: reason byte, text · 67 instance: 8 bytes.
//! A hello counts as a probe too, so a contact that finds nothing new still measures the clocks in its one round trip.

use gladhand_logbook::exchange::{Message, SessionError};
use gladhand_logbook::wire::{self, Reader, WireError};
use gladhand_store::PictureHash;

use gladhand_node::clock::Contact;

/// The longest message: a frame whose only stretch cannot be cut, incompressible, with some slack.
pub const MAX_PACKET_BYTES: u32 = 65 << 20;
const MAX_WORDS: u64 = 400;
/// How many pictures are asked for at once.
pub const MAX_HASHES: usize = 256;
/// How much of a picture is sent at once.
pub const RANGE_BYTES: usize = 64 << 10;

/// Why a side ends a connection.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// It is done, or shutting down.
    Closing,
    /// There is another connection between the two.
    Duplicate,
    /// It has too many already.
    Busy,
    /// Begin anew: something that was refused may be taken now.
    Again,
    /// The other is not welcome (any more).
    Refused,
    /// Something is wrong with what came in, or with this side.
    Trouble,
}

const REASONS: [Why; 6] = [
    Why::Closing,
    Why::Duplicate,
    Why::Busy,
    Why::Again,
    Why::Refused,
    Why::Trouble,
];

/// One thing that one side tells the other.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Packet {
    /// A message of the exchange.
    Exchange(Message),
    /// Are you there, and what time is it?
    Probe {
        /// The asker's clock.
        sent_us: i64,
    },
    /// The answer.
    Clock {
        /// What stood in the probe or hello.
        probe_us: i64,
        /// The answerer's clock when that came in.
        received_us: i64,
        /// And when this left.
        sent_us: i64,
    },
    /// The end of the connection.
    Bye {
        /// Why.
        why: Why,
        /// In words.
        words: String,
    },
    /// Which run of the program this is; only said to one's own key, to tell a clone from oneself.
    Instance([u8; 8]),
    /// Which of these pictures does the other have?
    Seek(Vec<PictureHash>),
    /// These are here.
    Have {
        /// Whether this answers a seek; otherwise they have come in since.
        answer: bool,
        /// The pictures.
        hashes: Vec<PictureHash>,
    },
    /// Send the next range of this picture.
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
        /// How long the whole is; 0: it is not here.
        total: u64,
        /// Where the range begins.
        at: u64,
        /// The bytes.
        bytes: Vec<u8>,
    },
    /// Nothing is left to ask the other for, as far as is known after so many messages of the exchange.
    Rest {
        /// How many messages of the exchange were heard.
        heard: u64,
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

impl Packet {
    /// The bytes with their length before them.
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
                out.push(REASONS.iter().position(|w| w == why).unwrap_or(0) as u8);
                let words: String = words.chars().take(MAX_WORDS as usize / 4).collect();
                wire::put_blob(&mut out, words.as_bytes());
            }
            Self::Instance(id) => {
                out.push(INSTANCE);
                out.extend_from_slice(id);
            }
            about_pictures => about_pictures.encode_picture(&mut out),
        }
        let length = u32::try_from(out.len().saturating_sub(4)).unwrap_or(u32::MAX);
        if let Some(slot) = out.first_chunk_mut::<4>() {
            *slot = length.to_le_bytes();
        }
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
            _ => {}
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

    /// Reads what stood after the length.
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
            BYE => {
                let reason = usize::from(reader.byte(what)?);
                Self::Bye {
                    why: REASONS.get(reason).copied().unwrap_or(Why::Trouble),
                    words: reader.text(MAX_WORDS, what)?.to_owned(),
                }
            }
            INSTANCE => Self::Instance(reader.array(what)?),
            ..PROBE => return Ok(Self::Exchange(Message::decode(bytes)?)),
            kind => Self::decode_picture(kind, &mut reader)?,
        };
        reader.end(what)?;
        Ok(packet)
    }

    /// What the other side is to answer with its clock.
    pub fn asks(&self) -> Option<i64> {
        match self {
            Self::Probe { sent_us } | Self::Exchange(Message::Hello { sent_us, .. }) => Some(*sent_us),
            _ => None,
        }
    }

    /// The four timestamps, if this is an answer that came in at `now_us`.
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
mod tests {
    use super::*;

    #[test]
    fn packets_survive_the_wire() {
        let packets = [
            Packet::Probe { sent_us: -5 },
            Packet::Clock {
                probe_us: 1,
                received_us: i64::MAX,
                sent_us: i64::MIN,
            },
            Packet::Bye {
                why: Why::Busy,
                words: "64 sessions are open".into(),
            },
            Packet::Instance([7; 8]),
            Packet::Exchange(Message::Done),
            Packet::Seek(vec![PictureHash([1; 32]), PictureHash([2; 32])]),
            Packet::Have {
                answer: true,
                hashes: vec![PictureHash([2; 32])],
            },
            Packet::Want {
                hash: PictureHash([3; 32]),
                at: 1 << 20,
            },
            Packet::Range {
                hash: PictureHash([3; 32]),
                total: 9_000_000,
                at: 65_536,
                bytes: vec![5; RANGE_BYTES],
            },
            Packet::Rest { heard: 7 },
        ];
        for packet in packets {
            let bytes = packet.encode();
            let (length, rest) = bytes.split_first_chunk::<4>().unwrap();
            assert_eq!(u32::from_le_bytes(*length) as usize, rest.len());
            assert_eq!(Packet::decode(rest).unwrap(), packet);
        }
        assert!(Packet::decode(&[]).is_err() && Packet::decode(&[200, 1]).is_err());
        assert!(Packet::decode(&[PROBE, 0, 0]).is_err(), "nothing may be left over");
    }
}
