//! One side of an exchange, message by message: what it sends before it hears anything, when it calls itself in sync, and what it
//! believes that the other holds. The sessions of `exchange_sim.rs` end well even if one of these is wrong.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    missing_docs
)]

mod common;

use std::collections::BTreeMap;

use common::{Node, secret};
use gladhand_facts::{LogId, VersionVector};
use gladhand_logbook::exchange::{Effect, Message, PROTOCOL, Session};
use gladhand_logbook::governance::CredentialList;
use gladhand_logbook::plan::{self, GROUP_BYTES};

/// So large that each write is a group of its own.
fn size(_: &LogId, _: u64, _: u64) -> u64 {
    GROUP_BYTES
}

/// The depot's session with somebody who holds nothing, streaming, and what it does first.
fn facing_a_newcomer(depot: &Node) -> (Session, Vec<Effect>) {
    let (mut session, _) = Session::start(&depot.book, depot.log.device, 0);
    let hello = Message::Hello {
        protocol: PROTOCOL,
        node: secret(2).public(),
        digest: [7; 32],
        sent_us: 0,
    };
    session.handle(&depot.book, hello, &size).unwrap();
    let nothing = Message::Vector {
        held: BTreeMap::new(),
        credentials: CredentialList::default(),
    };
    let effects = session.handle(&depot.book, nothing, &size).unwrap();
    (session, effects)
}

/// Gathers frames of this length as long as the session asks for them. Returns how many it sent.
fn gather(session: &mut Session, mut effects: Vec<Effect>, length: usize) -> usize {
    let mut sent = 0;
    while effects.iter().any(|e| matches!(e, Effect::Gather(_))) {
        effects = session.gathered(vec![0; length]);
        sent += 1;
    }
    sent
}

fn depot_with_notes(count: usize) -> Node {
    let mut depot = Node::new(1);
    (0..count).for_each(|i| depot.note(&format!("{i}")));
    depot
}

/// On a slow line at most eight frames, or one MiB, wait for an acknowledgement.
#[test]
fn the_window_closes_at_eight_frames_and_at_one_mebibyte() {
    let depot = depot_with_notes(12);
    for (length, fits) in [(64, 8), (1 << 20, 1), ((1 << 20) - 1, 2)] {
        let (mut session, effects) = facing_a_newcomer(&depot);
        assert_eq!(gather(&mut session, effects, length), fits, "frames of {length} bytes");
        let effects = session.handle(&depot.book, Message::Ack { number: 1 }, &size).unwrap();
        assert!(gather(&mut session, effects, 64) >= 1, "an acknowledgement opens it");
    }
}

#[test]
fn nobody_is_in_sync_before_both_have_said_done() {
    let depot = Node::new(1);
    let streaming = || {
        let (mut session, effects) = facing_a_newcomer(&depot);
        assert_eq!(gather(&mut session, effects, 64), 1);
        session
    };
    let hear = |session: &mut Session, message| session.handle(&depot.book, message, &size).unwrap();
    let ack = || Message::Ack { number: 1 };
    let done = || Effect::Send(Message::Done);

    let mut first = streaming();
    assert_eq!(hear(&mut first, Message::Done), [], "our frame is under way");
    assert!(!first.is_in_sync());
    assert_eq!(hear(&mut first, ack()), [done(), Effect::InSync]);

    let mut last = streaming();
    assert_eq!(hear(&mut last, ack()), [done()], "the other may have something for us");
    assert!(!last.is_in_sync());
    assert_eq!(hear(&mut last, Message::Done), [Effect::InSync]);
}

#[test]
fn the_other_is_believed_to_hold_what_is_under_way() {
    let depot = depot_with_notes(3);
    let (mut session, effects) = facing_a_newcomer(&depot);
    assert!(session.theirs().get(&depot.log) < depot.book.head(&depot.log).0);
    gather(&mut session, effects, 64);
    assert_eq!(*session.theirs(), depot.book.vector());

    let (mut equal, _) = Session::start(&depot.book, depot.log.device, 0);
    let hello = Message::Hello {
        protocol: PROTOCOL,
        node: secret(2).public(),
        digest: depot.book.digest(),
        sent_us: 0,
    };
    equal.handle(&depot.book, hello, &size).unwrap();
    assert!(equal.is_in_sync());
    assert_eq!(*equal.theirs(), depot.book.vector());
}

/// Progress is shown in entries, not in groups.
#[test]
fn a_group_counts_its_entries() {
    let depot = depot_with_notes(3);
    let groups = plan::plan(&depot.book, &VersionVector::new(), &|_, _, _| 1, &|_| true);
    let entries: Vec<u64> = groups.iter().map(plan::Group::entries).collect();
    assert_eq!(entries, [depot.book.head(&depot.log).0]);
}
