//! What goes over a connection: exchange messages, and the few words of the carrier itself.
//!
//! | part | bytes |
//! |---|---|
//! | length | u32, little endian, of what follows |
//! | kind | below 64: an exchange message as it is; from 64 on: a word of the carrier |
//! | content | see below; numbers are varints as in `gladhand_logbook::wire` |
//!
//! 64 probe: signed `sent_us` · 65 clock: signed `probe_us`, `received_us`, `sent_us` · 66 bye: reason byte, text · 67 instance: 8 bytes.
//! A hello counts as a probe too, so a contact that finds nothing new still measures the clocks in its one round trip.

use gladhand_logbook::exchange::{Message, SessionError};
use gladhand_logbook::wire::{self, Reader, WireError};

use super::clock::Contact;

/// The longest message: a frame whose only stretch cannot be cut, incompressible, with some slack.
pub const MAX_PACKET_BYTES: u32 = 65 << 20;
const MAX_WORDS: u64 = 400;

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
    /// Which run of the program this is; only said to one's own key, to tell a twin from oneself.
    Instance([u8; 8]),
}

const PROBE: u8 = 64;
const CLOCK: u8 = 65;
const BYE: u8 = 66;
const INSTANCE: u8 = 67;

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
        }
        let length = u32::try_from(out.len().saturating_sub(4)).unwrap_or(u32::MAX);
        if let Some(slot) = out.first_chunk_mut::<4>() {
            *slot = length.to_le_bytes();
        }
        out
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
            ..PROBE => return Message::decode(bytes).map(Self::Exchange),
            _ => return Err(WireError::Number("a packet's kind").into()),
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
