//! The bytes of a batch, one layer below the journal.

use proptest::prelude::*;

use super::*;
use crate::tests::{as_record, checkpoint, entry, log};

const SALT: u64 = 0x1122_3344_5566_7788;

fn batch() -> Encoded {
    let records = [entry(1, 1), entry(2, 1), checkpoint(1, 1), entry(1, 2)];
    encode(&records.each_ref().map(as_record), SALT).unwrap()
}

/// The layout in the module doc, byte by byte: homes that exist were written like this.
#[test]
fn the_layout_is_the_one_that_is_documented() {
    let record = Record::entry(log(0), 300, b"abc");
    let bytes = encode(&[record], 7).unwrap().bytes;
    let mut expected = vec![0xb7, 0x47, 0x68, 0x1e, 46, 0, 0, 0, 7, 0, 0, 0, 0, 0, 0, 0];
    expected.extend(crc32fast::hash(&expected).to_le_bytes());
    expected.push(1); // one log
    expected.extend([0; 32]); // its device
    expected.push(1); // its incarnation
    expected.extend([1, 0, 0xac, 0x02, 3]); // entry, log 0, seq 300, 3 bytes
    let mut crc_of = vec![0; 32];
    crc_of.extend(1u64.to_le_bytes());
    crc_of.push(1);
    crc_of.extend(300u64.to_le_bytes());
    crc_of.extend(b"abc");
    expected.extend(crc32fast::hash(&crc_of).to_le_bytes());
    expected.extend(b"abc");
    expected.extend(crc32fast::hash(&expected).to_le_bytes());
    assert_eq!(bytes, expected);
    assert_eq!(bytes.len(), 46 + HEAD_LEN + TAIL_LEN);
}

#[test]
fn a_seal_is_a_batch_of_nothing() {
    let seal = seal(SALT);
    assert_eq!(seal.len(), HEAD_LEN + TAIL_LEN);
    let (batch, rest) = read_batch(&seal, SALT).unwrap();
    assert!(batch.is_seal() && batch.bytes == seal && rest.is_empty());
    assert!(Records::of(&[]).is_whole());
}

#[test]
fn any_changed_bit_is_noticed_and_so_is_another_salt() {
    let good = batch().bytes;
    assert!(read_batch(&good, SALT).is_some());
    assert!(read_batch(&good, SALT + 1).is_none());
    for bit in 0..good.len() * 8 {
        let mut bytes = good.clone();
        bytes[bit / 8] ^= 1 << (bit % 8);
        assert!(read_batch(&bytes, SALT).is_none(), "bit {bit}");
    }
    for len in 0..good.len() {
        assert!(read_batch(&good[..len], SALT).is_none());
    }
}

#[test]
fn a_record_is_read_alone_only_as_what_it_is() {
    let Encoded { bytes, starts } = batch();
    let (_, _, _, body) = entry(1, 2);
    let at = &bytes[starts[3]..];
    assert_eq!(read_single(at, RecordKind::Entry, log(1), 2), Single::Good(&body));
    assert_eq!(read_single(at, RecordKind::Entry, log(2), 2), Single::Bad);
    assert_eq!(read_single(at, RecordKind::Entry, log(1), 3), Single::Bad);
    assert_eq!(read_single(at, RecordKind::Checkpoint, log(1), 2), Single::Bad);
    assert_eq!(
        read_single(&at[..3], RecordKind::Entry, log(1), 2),
        Single::NeedsBytes(RECORD_HEAD_MAX)
    );
    let whole = 8 + body.len();
    assert_eq!(
        read_single(&at[..40], RecordKind::Entry, log(1), 2),
        Single::NeedsBytes(whole)
    );
}

proptest! {
    #[test]
    fn any_bytes_are_records_or_not(bytes: Vec<u8>) {
        let mut records = Records::of(&bytes);
        while records.next_checked().is_some() {}
        Records::of(&bytes).for_each(drop);
        read_single(&bytes, RecordKind::Entry, log(1), 1);
        Head::read(&bytes);
    }

    /// Lengths and counts that claim far more than there is.
    #[test]
    fn claims_are_not_believed(count: u64, len: u64, rest in proptest::collection::vec(any::<u8>(), 0..60)) {
        let mut payload = Vec::new();
        varint::put(&mut payload, count);
        payload.extend(&rest);
        Records::of(&payload).for_each(drop);
        let mut record = vec![1, 0, 1];
        varint::put(&mut record, len);
        record.extend(&rest);
        read_single(&record, RecordKind::Entry, log(1), 1);
    }
}
