//! One wrong bit, anywhere, and what looks like one.

use super::*;
use crate::frame::encode;
use crate::tests::{as_record, checkpoint, entry};

const SALT: u64 = 0x0102_0304_0506_0708;

fn batch() -> Vec<u8> {
    let records = [entry(1, 1), entry(2, 1), checkpoint(1, 1), entry(1, 2)];
    encode(&records.each_ref().map(as_record), SALT).unwrap().bytes
}

fn flipped(good: &[u8], bits: &[usize]) -> Vec<u8> {
    let mut bytes = good.to_vec();
    bits.iter().for_each(|bit| bytes[bit / 8] ^= 1 << (bit % 8));
    bytes
}

fn mended(bytes: &[u8]) -> Vec<u8> {
    let mut out = bytes.to_vec();
    for bit in batches(Span { at: 0, bytes }, SALT) {
        bit.flip(&mut out);
    }
    out
}

#[test]
fn every_bit_of_a_batch_is_found() {
    for good in [batch(), crate::frame::seal(SALT)] {
        for bit in 0..good.len() * 8 {
            assert_eq!(mended(&flipped(&good, &[bit])), good, "bit {bit}");
        }
    }
}

#[test]
fn every_bit_of_a_header_is_found() {
    let good = Header {
        number: 7,
        previous: 6,
        edition: 0,
        salt: SALT,
    };
    let good = good.to_bytes();
    for bit in 0..good.len() * 8 {
        let mut bytes = flipped(&good, &[bit]);
        header(&bytes, 7).unwrap().flip(&mut bytes);
        assert_eq!(bytes, good, "bit {bit}");
        assert_eq!(header(&bytes, 8), None, "of another segment");
    }
}

#[test]
fn one_bit_in_each_of_several_batches_is_found() {
    let good = [batch(), batch(), batch()].concat();
    let len = batch().len() * 8;
    for bit in (0..len).step_by(37) {
        assert_eq!(
            mended(&flipped(&good, &[bit, len + bit, 3 * len - 1 - bit])),
            good,
            "bit {bit}"
        );
    }
}

/// A batch with two wrong bits is left as it is, and the one after it is mended all the same.
#[test]
fn two_bits_are_left_alone() {
    let good = batch();
    let len = good.len() * 8;
    for bit in (HEAD_LEN * 8..len - 90).step_by(11) {
        let bytes = flipped(&good, &[bit, bit + 89]);
        assert_eq!(mended(&bytes), bytes, "bits {bit} and {}", bit + 89);
        let two = [bytes.clone(), flipped(&good, &[bit])].concat();
        assert_eq!(mended(&two), [bytes, good.clone()].concat());
    }
}

#[test]
fn another_salt_and_bytes_that_are_missing_are_left_alone() {
    let bytes = flipped(&batch(), &[300]);
    assert!(batches(Span { at: 0, bytes: &bytes }, SALT + (1 << 40)).is_empty());
    for len in 0..bytes.len() {
        let bytes = &bytes[..len];
        assert!(batches(Span { at: 0, bytes }, SALT).is_empty(), "{len} bytes");
    }
}

/// The sums of the batch alone are not believed.
#[test]
fn a_bit_that_leaves_a_record_wrong_is_not_flipped() {
    let good = batch();
    let mut bytes = good.clone();
    // Wrong inside a record, with a sum of the batch that is one bit off.
    let at = bytes.len() - 12;
    bytes[at] ^= 0xff;
    let end = bytes.len() - 4;
    let sum = crc32fast::hash(&bytes[..end]) ^ 1 << 9;
    bytes[end..].copy_from_slice(&sum.to_le_bytes());
    assert!(wrong_bit(&bytes).is_some());
    assert_eq!(mended(&bytes), bytes);
}
