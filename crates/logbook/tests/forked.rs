//! A forked log does not cut off the clone that wrote its other branch.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    missing_docs
)]

mod common;

use common::{Node, secret};
use gladhand_facts::LogId;
use gladhand_logbook::governance::Record;
use gladhand_logbook::{Body, GateError};

/// Found by the soak (its seed 1830 at the time): the clone continues in a log of its own, which has seen more of its branch
/// than the others hold of theirs.
#[test]
fn what_a_clone_writes_after_a_fork_is_let_in_once_the_fork_is_known() {
    let (mut depot, mut original, mut clone) = (Node::new(1), Node::new(4), Node::new(4));
    original.note("at gate 1");
    (0..3).for_each(|i| clone.note(&format!("at gate 2, {i}")));
    depot.learn(&original.book);
    let theirs = depot.book.vector();
    original
        .frames_for(&theirs)
        .iter()
        .for_each(|f| assert_eq!(depot.take_in(f), []));
    let forked = clone.log;
    let later = LogId {
        incarnation: 1 << 32,
        ..forked
    };
    clone.book.write_as(secret(4), later);
    clone.log = later;
    clone.note("in a log of its own");
    let frames = clone.frames_for(&depot.book.vector());
    let refused: Vec<GateError> = frames.iter().flat_map(|f| depot.take_in(f)).collect();
    let is_fork = |e: &GateError| matches!(e, GateError::Forked { log, .. } if *log == forked);
    assert!(refused.iter().any(is_fork), "{refused:?}");
    assert_eq!(
        depot.book.head(&later).0,
        0,
        "nobody knows yet why something is missing"
    );
    let record = Record::Forked {
        log: forked.to_string(),
        seq: 3,
        hashes: ["0".repeat(64), "1".repeat(64)],
    };
    depot.write(vec![Body::Governance(record.encode().unwrap())]);
    frames.iter().for_each(|f| drop(depot.take_in(f)));
    assert_eq!(depot.book.head(&later), clone.book.head(&later));
}
