//! One segment file: its name and its header.
//!
//! ```text
//! segment = header, batches, and a seal when another segment follows
//! header  = "GHJOURN1"                                8
//!           version of this layout, 1                 4
//!           number of this segment                    4
//!           number of the segment before it, 0: none  4
//!           edition                                   4
//!           salt                                      8
//!           CRC32 of the 32 bytes above               4
//! ```
//!
//! `edition` is 0 as first written. A repair writes another number, so that everything derived from the segment before the
//! repair is known to be stale.

use crate::frame::{HEAD_LEN, MAX_PAYLOAD, TAIL_LEN};
use crate::wire::Cursor;

const MAGIC: [u8; 8] = *b"GHJOURN1";
pub(crate) const HEADER_LEN: usize = 36;
pub(crate) const VERSION: u32 = 1;
/// Longer than any segment that we write. What a file has beyond it is not ours.
pub(crate) const READ_CAP: usize = 2 * (HEADER_LEN + HEAD_LEN + MAX_PAYLOAD + TAIL_LEN);

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Header {
    pub(crate) number: u32,
    pub(crate) previous: u32,
    pub(crate) edition: u32,
    pub(crate) salt: u64,
}

/// What the first bytes of a segment file say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum HeaderState {
    Good(Header),
    /// Written by a later version of this program.
    Newer(u32),
    Bad,
}

impl Header {
    pub(crate) fn to_bytes(self) -> Vec<u8> {
        let mut out = MAGIC.to_vec();
        for field in [VERSION, self.number, self.previous, self.edition] {
            out.extend(field.to_le_bytes());
        }
        out.extend(self.salt.to_le_bytes());
        let crc = crc32fast::hash(&out);
        out.extend(crc.to_le_bytes());
        out
    }

    pub(crate) fn read(bytes: &[u8]) -> HeaderState {
        Self::parse(bytes).unwrap_or(HeaderState::Bad)
    }

    fn parse(bytes: &[u8]) -> Option<HeaderState> {
        let mut cursor = Cursor::new(bytes);
        let magic = cursor.array::<8>()?;
        let version = cursor.u32()?;
        let header = Self {
            number: cursor.u32()?,
            previous: cursor.u32()?,
            edition: cursor.u32()?,
            salt: cursor.u64()?,
        };
        let covered = bytes.get(..cursor.taken())?;
        if magic != MAGIC || cursor.u32()? != crc32fast::hash(covered) {
            return Some(HeaderState::Bad);
        }
        // Only a header whose CRC holds can ask for a newer program; a flipped bit cannot.
        Some(if version > VERSION {
            HeaderState::Newer(version)
        } else {
            HeaderState::Good(header)
        })
    }
}

pub(crate) fn file_name(number: u32) -> String {
    format!("{number:08}.seg")
}

/// The number in a segment's name; `None` for every other file.
pub(crate) fn number_of(name: &str) -> Option<u32> {
    let number = name.strip_suffix(".seg")?.parse().ok()?;
    (number > 0 && file_name(number) == name).then_some(number)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_read_only_as_they_are_written() {
        assert_eq!(number_of("00000001.seg"), Some(1));
        assert_eq!(number_of(&file_name(u32::MAX)), Some(u32::MAX));
        for other in [
            "1.seg",
            "00000000.seg",
            "000000001.seg",
            "00000001.seg.new",
            "+0000001.seg",
            "x",
        ] {
            assert_eq!(number_of(other), None, "{other}");
        }
    }

    #[test]
    fn a_header_comes_back_and_every_flip_is_noticed() {
        let header = Header {
            number: 7,
            previous: 6,
            edition: 0,
            salt: 0x0123_4567_89ab_cdef,
        };
        let bytes = header.to_bytes();
        assert_eq!(bytes.len(), HEADER_LEN);
        assert_eq!(Header::read(&bytes), HeaderState::Good(header));
        for bit in 0..bytes.len() * 8 {
            let mut flipped = bytes.clone();
            flipped[bit / 8] ^= 1 << (bit % 8);
            assert_eq!(Header::read(&flipped), HeaderState::Bad, "bit {bit}");
        }
        for len in 0..bytes.len() {
            assert_eq!(Header::read(&bytes[..len]), HeaderState::Bad);
        }
    }
}
