//! Finding batches among other bytes.

use proptest::prelude::*;

use super::*;
use crate::RecordKind;
use crate::frame::{encode, seal};
use crate::tests::{as_record, body, entry, log};

const SALT: u64 = 99;

fn batch(n: u8, seq: u64) -> Vec<u8> {
    encode(&[as_record(&entry(n, seq))], SALT).unwrap().bytes
}

#[test]
fn batches_are_found_around_what_is_bad() {
    let (a, b) = (batch(1, 1), batch(1, 2));
    let bytes = [a.clone(), b"junk".to_vec(), b.clone(), seal(SALT)].concat();
    let survey = survey(&bytes, 0, SALT);
    let batches: Vec<(usize, &[u8])> = survey.batches.iter().map(|b| (b.at, b.batch.bytes)).collect();
    assert_eq!(batches, [(0, a.as_slice()), (a.len() + 4, &b)]);
    let (at, bytes) = (a.len(), b"junk".as_slice());
    assert_eq!(survey.bad, [Span { at, bytes }]);
    assert!(survey.sealed);
}

#[test]
fn the_salt_is_guessed_from_a_batch_that_is_good_in_itself() {
    let mut damaged = batch(1, 1);
    damaged[40] ^= 1;
    let bytes = [b"no header".to_vec(), damaged, batch(1, 2)].concat();
    assert_eq!(guess_salt(&bytes), Some(SALT));
    assert_eq!(guess_salt(b"nothing at all"), None);
}

/// A million places that each ask for a checksum of megabytes: refused by the budget, not tried.
#[test]
fn guessing_is_bounded() {
    let head = encode(&[as_record(&(RecordKind::Entry, log(1), 1, vec![0; 8 << 20]))], SALT)
        .unwrap()
        .bytes;
    let bytes = head[..HEAD_LEN].repeat(600_000);
    let start = std::time::Instant::now();
    assert_eq!(guess_salt(&bytes), None);
    assert_eq!(survey(&bytes, 0, SALT + 1).batches, []);
    assert!(
        start.elapsed().as_secs() < 60,
        "minutes would be a way to keep a home shut"
    );
}

#[test]
fn a_damaged_batch_still_says_what_it_held() {
    let records = [entry(1, 5), entry(1, 6), entry(2, 9)];
    let mut bytes = encode(&records.each_ref().map(as_record), SALT).unwrap().bytes;
    let whole = hints(&bytes);
    assert_eq!((whole.records.len(), whole.complete), (3, true));
    let last = bytes.len() - 10;
    bytes[last] ^= 1;
    let found = hints(&bytes);
    assert_eq!(
        found.records,
        [(log(1), 5), (log(1), 6)],
        "the third does not vouch for itself"
    );
    assert!(found.complete);
    let cut = hints(&bytes[..bytes.len() - body(2, 9).len()]);
    assert_eq!((cut.records.len(), cut.complete), (2, false));
}

proptest! {
    #[test]
    fn any_bytes_can_be_surveyed(bytes: Vec<u8>, from in 0usize..50) {
        let survey = survey(&bytes, from, SALT);
        prop_assert!(survey.batches.is_empty());
        hints(&bytes);
        guess_salt(&bytes);
    }

    #[test]
    fn what_is_put_between_batches_costs_no_batch(junk in proptest::collection::vec(proptest::collection::vec(any::<u8>(), 0..50), 5)) {
        let mut bytes = Vec::new();
        for (i, junk) in junk.iter().enumerate() {
            bytes.extend(junk);
            bytes.extend(batch(1, i as u64 + 1));
        }
        let survey = survey(&bytes, 0, SALT);
        prop_assert_eq!(survey.batches.len(), 5);
        prop_assert_eq!(survey.bad.len(), junk.iter().filter(|junk| !junk.is_empty()).count());
    }
}
