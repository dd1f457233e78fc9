//! Bytes, read with bounds: the small codec under entries, frames and messages.
//!
//! Numbers are varints ([`gladhand_facts::varint`]). Texts and blobs have their length before them. A reader never allocates
//! more than the bytes that are there, and never panics.

use gladhand_facts::varint::{self, VarintError};
use gladhand_facts::{DeviceKey, LogId};

/// Why bytes could not be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum WireError {
    /// The bytes end in the middle of something.
    #[error("the bytes end inside {0}")]
    Short(&'static str),
    /// A number that is not in its shortest form, has too many bits, or is not one of those expected.
    #[error("a number is not well formed in {0}")]
    Number(&'static str),
    /// A text that is not UTF-8.
    #[error("a text is not UTF-8 in {0}")]
    Utf8(&'static str),
    /// A count or length beyond what is allowed.
    #[error("{what}: {found} is more than the {allowed} that are allowed")]
    TooMany {
        /// What was counted.
        what: &'static str,
        /// The count.
        found: u64,
        /// The bound.
        allowed: u64,
    },
    /// Bytes are left over.
    #[error("{0} bytes are left over after {1}")]
    LeftOver(usize, &'static str),
}

/// Appends a number as a varint.
pub fn put_number(out: &mut Vec<u8>, value: u64) {
    varint::put(out, value);
}

/// Appends a signed number, zigzag-coded.
pub fn put_signed(out: &mut Vec<u8>, value: i64) {
    put_number(out, ((value << 1) ^ (value >> 63)) as u64);
}

/// Appends a length and the bytes.
pub fn put_blob(out: &mut Vec<u8>, bytes: &[u8]) {
    put_number(out, bytes.len() as u64);
    out.extend_from_slice(bytes);
}

/// Appends a log's name: the device key and the incarnation.
pub fn put_log(out: &mut Vec<u8>, log: &LogId) {
    out.extend_from_slice(&log.device.0);
    put_number(out, log.incarnation);
}

/// Reads from the front of a byte slice.
#[derive(Debug, Clone)]
pub struct Reader<'a> {
    rest: &'a [u8],
}

impl<'a> Reader<'a> {
    /// A reader over `bytes`.
    pub fn new(bytes: &'a [u8]) -> Self {
        Self { rest: bytes }
    }

    /// What has not been read yet.
    pub fn rest(&self) -> &'a [u8] {
        self.rest
    }

    /// Whether everything has been read.
    pub fn is_empty(&self) -> bool {
        self.rest.is_empty()
    }

    /// Takes `count` bytes.
    ///
    /// # Errors
    /// [`WireError::Short`].
    pub fn take(&mut self, count: usize, what: &'static str) -> Result<&'a [u8], WireError> {
        let (front, rest) = self.rest.split_at_checked(count).ok_or(WireError::Short(what))?;
        self.rest = rest;
        Ok(front)
    }

    /// Takes one byte.
    ///
    /// # Errors
    /// [`WireError::Short`].
    pub fn byte(&mut self, what: &'static str) -> Result<u8, WireError> {
        self.take(1, what)?.first().copied().ok_or(WireError::Short(what))
    }

    /// Takes `N` bytes as an array.
    ///
    /// # Errors
    /// [`WireError::Short`].
    pub fn array<const N: usize>(&mut self, what: &'static str) -> Result<[u8; N], WireError> {
        self.take(N, what)?.try_into().map_err(|_| WireError::Short(what))
    }

    /// Takes a varint.
    ///
    /// # Errors
    /// [`WireError::Short`], or [`WireError::Number`] when it overflows or has a shorter form.
    pub fn number(&mut self, what: &'static str) -> Result<u64, WireError> {
        let (value, rest) = varint::take(self.rest).map_err(|e| match e {
            VarintError::Short => WireError::Short(what),
            VarintError::NotCanonical => WireError::Number(what),
        })?;
        self.rest = rest;
        Ok(value)
    }

    /// Takes a zigzag-coded signed number.
    ///
    /// # Errors
    /// As [`Reader::number`].
    pub fn signed(&mut self, what: &'static str) -> Result<i64, WireError> {
        let raw = self.number(what)?;
        Ok(((raw >> 1) as i64) ^ -((raw & 1) as i64))
    }

    /// Takes a count that is at most `allowed`.
    ///
    /// # Errors
    /// [`WireError::TooMany`], or as [`Reader::number`].
    pub fn count(&mut self, allowed: u64, what: &'static str) -> Result<usize, WireError> {
        let found = self.number(what)?;
        if found > allowed {
            return Err(WireError::TooMany { what, found, allowed });
        }
        usize::try_from(found).map_err(|_| WireError::Number(what))
    }

    /// Takes a number of at most 32 bits.
    ///
    /// # Errors
    /// [`WireError::TooMany`], or as [`Reader::number`].
    pub fn number32(&mut self, what: &'static str) -> Result<u32, WireError> {
        let found = self.number(what)?;
        let allowed = u64::from(u32::MAX);
        u32::try_from(found).map_err(|_| WireError::TooMany { what, found, allowed })
    }

    /// Takes a length and that many bytes.
    ///
    /// # Errors
    /// [`WireError::TooMany`] beyond `allowed`, [`WireError::Short`].
    pub fn blob(&mut self, allowed: u64, what: &'static str) -> Result<&'a [u8], WireError> {
        let length = self.count(allowed, what)?;
        self.take(length, what)
    }

    /// Takes a text.
    ///
    /// # Errors
    /// As [`Reader::blob`], and [`WireError::Utf8`].
    pub fn text(&mut self, allowed: u64, what: &'static str) -> Result<&'a str, WireError> {
        std::str::from_utf8(self.blob(allowed, what)?).map_err(|_| WireError::Utf8(what))
    }

    /// Takes a log's name.
    ///
    /// # Errors
    /// As [`Reader::number`].
    pub fn log(&mut self, what: &'static str) -> Result<LogId, WireError> {
        let device = DeviceKey(self.array(what)?);
        Ok(LogId {
            device,
            incarnation: self.number(what)?,
        })
    }

    /// Refuses bytes that are left over.
    ///
    /// # Errors
    /// [`WireError::LeftOver`].
    pub fn end(&self, what: &'static str) -> Result<(), WireError> {
        if self.rest.is_empty() {
            Ok(())
        } else {
            Err(WireError::LeftOver(self.rest.len(), what))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn numbers_round_trip(value: u64, signed: i64) {
            let mut out = Vec::new();
            put_number(&mut out, value);
            put_signed(&mut out, signed);
            let mut reader = Reader::new(&out);
            prop_assert_eq!(reader.number("n").unwrap(), value);
            prop_assert_eq!(reader.signed("s").unwrap(), signed);
            prop_assert!(reader.end("test").is_ok());
        }
    }

    #[test]
    fn lengths_are_bounded_before_anything_is_taken() {
        let mut out = Vec::new();
        put_number(&mut out, u64::MAX);
        assert!(matches!(
            Reader::new(&out).blob(100, "b"),
            Err(WireError::TooMany { .. })
        ));
        assert!(matches!(
            Reader::new(&[5, 1, 2]).blob(100, "b"),
            Err(WireError::Short("b"))
        ));
        assert!(matches!(
            Reader::new(&[0x80, 0x00]).number("n"),
            Err(WireError::Number(_))
        ));
    }
}
