//! The keys of the index besides the subjects of facts. Each begins with a tag of one byte; `judging` has tags of its own.
//!
//! Invariant: no two tags are equal, here and in `judging`. A changed meaning needs another `INDEX_SCHEMA` in `open`.

use gladhand_facts::LogId;
use gladhand_store::PictureHash;

/// Before the name of a job: the entries that change its document.
const DOC: u8 = b'D';
/// Before the name of a job: its sign-offs and stand-downs. A job without any is open.
pub(crate) const ENDED: u8 = b'E';
/// The entries that hold governance records.
pub(crate) const GOVERNANCE: &[u8] = b"G";
/// Before a place: why the content of that entry cannot be used.
pub(crate) const PROBLEM: u8 = b'P';
/// Before a place: what that entry tells of clocks.
pub(crate) const CLOCK_NOTES: u8 = b'O';
/// Before the key of a camera, tracker or code: its entries in stock lists.
const LISTED: u8 = b'S';
/// Before a hash: a picture that a fact names.
pub(crate) const PICTURE: u8 = b'B';

/// The key under which a job's document is filed.
pub(crate) fn doc_key(job: &str) -> Vec<u8> {
    key_of(DOC, job)
}

/// The key under which what stock lists say of a subject is filed; of all of a class by its key's first byte.
pub(crate) fn listed_key(subject: &[u8]) -> Vec<u8> {
    [&[LISTED], subject].concat()
}

/// The subject of such a key.
pub(crate) fn listed_subject(key: &[u8]) -> Option<&[u8]> {
    key.strip_prefix(&[LISTED])
}

/// The key of `tag` for a job.
pub(crate) fn key_of(tag: u8, job: &str) -> Vec<u8> {
    let mut key = vec![tag];
    key.extend_from_slice(job.as_bytes());
    key
}

/// The key under which a named picture is filed.
pub(crate) fn picture_key(hash: &PictureHash) -> Vec<u8> {
    let mut key = vec![PICTURE];
    key.extend_from_slice(&hash.0);
    key
}

/// The key under which it is filed what an entry tells of clocks.
pub(crate) fn clock_notes_key(log: &LogId, seq: u64) -> Vec<u8> {
    let mut key = vec![CLOCK_NOTES];
    key.extend_from_slice(format!("{log}:{seq:020}").as_bytes());
    key
}
