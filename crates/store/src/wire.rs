//! Numbers as bytes: fixed little-endian, and varints ([`gladhand_facts::varint`]).

use gladhand_facts::varint;

/// Reads forward through bytes that may be anything. Every read can fail; none can panic.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Cursor<'a> {
    rest: &'a [u8],
    taken: usize,
}

impl<'a> Cursor<'a> {
    pub(crate) fn new(bytes: &'a [u8]) -> Self {
        Self { rest: bytes, taken: 0 }
    }

    /// How many bytes were taken so far.
    pub(crate) fn taken(&self) -> usize {
        self.taken
    }

    pub(crate) fn is_at_end(&self) -> bool {
        self.rest.is_empty()
    }

    pub(crate) fn take(&mut self, n: usize) -> Option<&'a [u8]> {
        let (head, rest) = self.rest.split_at_checked(n)?;
        self.rest = rest;
        self.taken += n;
        Some(head)
    }

    pub(crate) fn array<const N: usize>(&mut self) -> Option<[u8; N]> {
        self.take(N)?.try_into().ok()
    }

    pub(crate) fn u8(&mut self) -> Option<u8> {
        self.array::<1>().map(|[b]| b)
    }

    pub(crate) fn u32(&mut self) -> Option<u32> {
        self.array().map(u32::from_le_bytes)
    }

    pub(crate) fn u64(&mut self) -> Option<u64> {
        self.array().map(u64::from_le_bytes)
    }

    pub(crate) fn varint(&mut self) -> Option<u64> {
        let (value, rest) = varint::take(self.rest).ok()?;
        self.taken += self.rest.len() - rest.len();
        self.rest = rest;
        Some(value)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn varints_come_back(value: u64, tail: Vec<u8>) {
            let mut bytes = Vec::new();
            varint::put(&mut bytes, value);
            let len = bytes.len();
            bytes.extend(&tail);
            let mut cursor = Cursor::new(&bytes);
            prop_assert_eq!(cursor.varint(), Some(value));
            prop_assert_eq!(cursor.taken(), len);
        }

        #[test]
        fn any_bytes_are_read_or_refused(bytes: Vec<u8>) {
            let mut cursor = Cursor::new(&bytes);
            while cursor.varint().is_some() {}
            prop_assert!(cursor.taken() <= bytes.len());
        }
    }
}
