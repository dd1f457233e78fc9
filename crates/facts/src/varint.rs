//! Numbers as bytes: unsigned LEB128 (seven bits a byte, low bits first), always in its shortest form.
//!
//! Every number has exactly one encoding, because entries are hashed and signed as bytes: a second encoding of the same entry
//! would have another hash. So reading refuses what [`put`] never writes: a longer form, and more than 64 bits.
//!
//! Written here because no library that was tried refuses all of that. `unsigned-varint` 0.8 drops the bits beyond
//! the 64th and reads `ff ff ff ff ff ff ff ff ff 02` as 2^63 - 1; `leb128` 0.2 and `integer-encoding` 4 read `80 00` as 0.
//! With the checks that each of them would need on top, this is as short, and as fast.

/// Why bytes are not a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum VarintError {
    /// The bytes end inside it.
    #[error("the bytes end inside a number")]
    Short,
    /// Not the shortest form, or more than 64 bits.
    #[error("a number that is not in its shortest form, or has more than 64 bits")]
    NotCanonical,
}

/// Appends a number: one byte for each seven bits, at least one and at most ten.
pub fn put(out: &mut Vec<u8>, mut value: u64) {
    while value >= 0x80 {
        out.push((value & 0x7f) as u8 | 0x80);
        value >>= 7;
    }
    out.push(value as u8);
}

/// Reads a number from the front of `bytes`, and returns it with the bytes after it.
///
/// # Errors
/// [`VarintError`].
pub fn take(bytes: &[u8]) -> Result<(u64, &[u8]), VarintError> {
    let (mut value, mut rest) = (0, bytes);
    for shift in (0..u64::BITS).step_by(7) {
        let (byte, tail) = rest.split_first().ok_or(VarintError::Short)?;
        rest = tail;
        let low = u64::from(byte & 0x7f);
        // In the tenth byte only the lowest bit fits.
        if low << shift >> shift != low {
            return Err(VarintError::NotCanonical);
        }
        value |= low << shift;
        if byte & 0x80 == 0 {
            let is_shortest = low > 0 || shift == 0;
            return is_shortest.then_some((value, rest)).ok_or(VarintError::NotCanonical);
        }
    }
    Err(VarintError::NotCanonical)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn bytes_of(value: u64) -> Vec<u8> {
        let mut out = Vec::new();
        put(&mut out, value);
        out
    }

    /// The examples of unsigned LEB128 in the DWARF standard (version 5, §7.6).
    #[test]
    fn published_examples() {
        for (value, bytes) in [
            (2, vec![2]),
            (127, vec![127]),
            (128, vec![0x80, 1]),
            (129, vec![0x81, 1]),
            (12_857, vec![0x80 + 57, 100]),
        ] {
            assert_eq!(bytes_of(value), bytes);
            assert_eq!(take(&bytes), Ok((value, &[][..])));
        }
        let largest = [[0xff; 9].as_slice(), &[1]].concat();
        assert_eq!(bytes_of(u64::MAX), largest);
        assert_eq!(take(&largest), Ok((u64::MAX, &[][..])));
    }

    #[test]
    fn what_is_never_written_is_refused() {
        let nine = [0xff; 9].as_slice();
        for refused in [
            vec![0x80, 0x00],
            vec![0x81, 0x00],
            [[0x80; 9].as_slice(), &[0]].concat(),
            [nine, &[0x02]].concat(),
            [nine, &[0x03]].concat(),
            [nine, &[0x7f]].concat(),
            [nine, &[0x81, 0x00]].concat(),
            vec![0xff; 11],
        ] {
            assert_eq!(take(&refused), Err(VarintError::NotCanonical), "{refused:02x?}");
        }
        for short in [&[][..], &[0x80], &[0xff; 9]] {
            assert_eq!(take(short), Err(VarintError::Short), "{short:02x?}");
        }
    }

    proptest! {
        #[test]
        fn numbers_round_trip(value: u64, bits in 0u32..64, tail: Vec<u8>) {
            let value = value >> bits;
            let bytes = [bytes_of(value), tail.clone()].concat();
            prop_assert_eq!(take(&bytes), Ok((value, tail.as_slice())));
        }

        #[test]
        fn one_number_has_one_encoding(mut bytes in proptest::collection::vec(any::<u8>(), 1..12), more in 0usize..11) {
            // Long runs of bytes that say that another one follows are rare among random ones.
            bytes.iter_mut().take(more).for_each(|byte| *byte |= 0x80);
            if let Ok((value, rest)) = take(&bytes) {
                prop_assert_eq!(&bytes[..bytes.len() - rest.len()], bytes_of(value));
            }
        }
    }
}
