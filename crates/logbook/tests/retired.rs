//! The entries of a retired device that count come back to a node that has lost them, whichever signatures of them are left.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    missing_docs
)]

mod common;

use std::collections::BTreeMap;

use common::Node;
use gladhand_facts::VersionVector;
use gladhand_logbook::Body;
use gladhand_logbook::frame::{EntryRun, Frame};
use gladhand_logbook::governance::Record;

fn carry(from: &Node, to: &mut Node) {
    to.learn(&from.book);
    let frames = from.frames_for(&to.book.vector());
    frames.iter().for_each(|frame| drop(to.take_in(frame)));
}

/// Found by the fleet simulator (its seed 11 at the time): the depot retires a device and loses its disk, and the only nodes
/// that still hold the device's log have a signature after the retirement, and none at it.
#[test]
fn entries_that_count_come_back_although_only_a_later_signature_vouches_for_them() {
    let (mut depot, mut lost, mut friend) = (Node::new(1), Node::new(2), Node::new(3));
    (0..4).for_each(|i| lost.note(&format!("{i}")));
    carry(&lost, &mut depot);
    let kept = depot.book.head(&lost.log).0;
    (0..4).for_each(|i| lost.note(&format!("later {i}")));
    // In one frame, so that the friend gets the last signature only.
    carry(&lost, &mut friend);
    let last = BTreeMap::from([(lost.log.to_string(), kept)]);
    let (device, why) = (lost.log.device, "left on a bus".into());
    depot.write(vec![Body::Governance(
        Record::Retire { device, last, why }.encode().unwrap(),
    )]);
    carry_own_log(&depot, &mut friend);
    assert!(friend.book.counts(&lost.log, kept).is_ok() && friend.book.counts(&lost.log, kept + 1).is_err());
    // A hole in the depot's disk: its own log is whole, of the other one nothing is left.
    let mut hurt = Node::new(1);
    for seq in 2..=depot.book.head(&depot.log).0 {
        let bytes = depot.entries[&(depot.log, seq)].clone();
        hurt.book.replay_entry(depot.log, seq, &bytes).unwrap();
        hurt.book.replay_checkpoint(depot.log, seq);
        hurt.entries.insert((depot.log, seq), bytes);
    }
    assert_eq!(hurt.book.head(&lost.log).0, 0);
    carry(&friend, &mut hurt);
    assert!(hurt.book.head(&lost.log).0 >= kept, "what counts is here again");
    assert!(hurt.book.counts(&lost.log, kept).is_ok() && hurt.book.counts(&lost.log, kept + 1).is_err());
    // Whoever has all that counts is not sent the rest.
    let again = friend.frames_for(&depot.book.vector());
    assert!(again.iter().flat_map(|f| &f.runs).all(|run| run.log != lost.log));
}

/// Only the entries of its own log.
fn carry_own_log(from: &Node, to: &mut Node) {
    let frames = from.frames_for(&VersionVector::new());
    let runs = frames
        .into_iter()
        .flat_map(|f| f.runs)
        .filter(|run| run.log == from.log);
    to.take_in(&Frame { runs: runs.collect() });
}

/// Found by the fleet simulator (its seed 1360 at the time): a laptop had met the retired device, the depot let in what the
/// laptop wrote and not what it had seen, and a newcomer that only ever met the depot could let in neither.
#[test]
fn a_newcomer_at_the_depot_gets_past_what_had_met_a_retired_device() {
    let (mut depot, mut lost, mut friend) = (Node::new(1), Node::new(2), Node::new(3));
    carry(&lost, &mut depot);
    let last = BTreeMap::from([(lost.log.to_string(), depot.book.head(&lost.log).0)]);
    let (device, why) = (lost.log.device, "left on a bus".into());
    depot.write(vec![Body::Governance(
        Record::Retire { device, last, why }.encode().unwrap(),
    )]);
    lost.note("by the finder");
    carry(&lost, &mut friend);
    friend.note("after meeting it");
    carry(&friend, &mut depot);
    depot.note("after meeting the friend");
    assert!(depot.book.head(&friend.log).0 > 0 && depot.book.head(&lost.log).0 < lost.book.head(&lost.log).0);
    let mut newcomer = Node::new(4);
    carry(&depot, &mut newcomer);
    for log in [&depot.log, &friend.log] {
        assert_eq!(newcomer.book.head(log), depot.book.head(log));
    }
}

/// Entries that do not count are not sent to a node that knows of the retirement. Other nodes need them to let in entries that
/// had seen them, among these the retirement itself.
#[test]
fn entries_after_a_retirement_are_not_sent_to_a_node_that_knows_of_it() {
    let (mut depot, mut lost, mut friend) = (Node::new(1), Node::new(2), Node::new(3));
    carry(&lost, &mut depot);
    let kept = depot.book.head(&lost.log).0;
    carry(&lost, &mut friend);
    for i in 0..2 {
        lost.note(&format!("later {i}"));
        // Each by itself, so that the friend has a signature at each.
        carry(&lost, &mut friend);
    }
    let last = BTreeMap::from([(lost.log.to_string(), kept)]);
    let (device, why) = (lost.log.device, "left on a bus".into());
    depot.write(vec![Body::Governance(
        Record::Retire { device, last, why }.encode().unwrap(),
    )]);
    carry_own_log(&depot, &mut friend);
    let sent_to = |theirs: &VersionVector| {
        let frames = friend.frames_for(theirs);
        let runs = frames.iter().flat_map(|f| &f.runs).filter(|run| run.log == lost.log);
        runs.map(EntryRun::last).max()
    };
    assert_eq!(sent_to(&VersionVector::new()), Some(kept + 2));
    let mut told = VersionVector::new();
    told.advance(depot.log, depot.book.head(&depot.log).0);
    assert_eq!(sent_to(&told), Some(kept));
}
