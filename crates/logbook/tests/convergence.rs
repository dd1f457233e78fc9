//! Do logs converge? Nodes in memory write, meet over sessions that are cut, and exchange frames in any order. Every node is
//! causally closed at all times, and after enough meetings all hold the same.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    missing_docs
)]

mod common;

use std::collections::{BTreeMap, VecDeque};

use common::Node;
use gladhand_facts::{DeviceKey, LogId, VersionVector};
use gladhand_logbook::exchange::{Effect, Message, Session};
use gladhand_logbook::frame::Frame;
use gladhand_logbook::governance::Record;
use gladhand_logbook::{Body, GateError};
use proptest::prelude::*;

/// Runs a session between two nodes over two queues, and cuts it after `budget` messages. Returns the bytes sent.
fn meet(a: &mut Node, b: &mut Node, mut budget: usize) -> usize {
    let size = |_: &LogId, from: u64, to: u64| (to - from + 1) * 100;
    let (sa, ea) = Session::start(&a.book, a.log.device, 0);
    let (sb, eb) = Session::start(&b.book, b.log.device, 0);
    let mut sessions = [sa, sb];
    let mut pipes: [VecDeque<Vec<u8>>; 2] = [VecDeque::new(), VecDeque::new()];
    let mut bytes = 0;
    let mut work: VecDeque<(usize, Effect)> = ea
        .into_iter()
        .map(|e| (0, e))
        .chain(eb.into_iter().map(|e| (1, e)))
        .collect();
    loop {
        while let Some((side, effect)) = work.pop_front() {
            let node: &mut Node = if side == 0 { a } else { b };
            let more = match effect {
                Effect::Send(message) => {
                    let encoded = message.encode();
                    bytes += encoded.len();
                    pipes[1 - side].push_back(encoded);
                    Vec::new()
                }
                Effect::Gather(group) => {
                    let frame = Frame::gather(&group, node).unwrap().encode().unwrap();
                    sessions[side].gathered(frame)
                }
                Effect::Admit { number, frame } => {
                    assert_eq!(node.take_in(&frame), []);
                    sessions[side].durable(number, &frame)
                }
                Effect::Learn(credentials) => {
                    credentials
                        .into_iter()
                        .for_each(|c| assert!(node.book.roster_mut().learn_credential(c)));
                    Vec::new()
                }
                Effect::InSync => Vec::new(),
            };
            work.extend(more.into_iter().map(|e| (side, e)));
        }
        let Some(side) = (0..2).find(|s| !pipes[*s].is_empty()) else {
            break;
        };
        if budget == 0 {
            return bytes;
        }
        budget -= 1;
        let message = Message::decode(&pipes[side].pop_front().unwrap()).unwrap();
        let node: &Node = if side == 0 { a } else { b };
        let effects = sessions[side].handle(&node.book, message, &size).unwrap();
        work.extend(effects.into_iter().map(|e| (side, e)));
    }
    assert!(
        sessions.iter().all(Session::is_in_sync),
        "a session that runs dry is in sync: {sessions:?}"
    );
    bytes
}

#[derive(Debug, Clone)]
enum Step {
    Write(usize, u8),
    Meet(usize, usize, usize),
    Bundle(usize, usize, u64),
}

fn any_step() -> impl Strategy<Value = Step> {
    prop_oneof![
        3 => (0usize..4, 1u8..4).prop_map(|(n, k)| Step::Write(n, k)),
        2 => (0usize..4, 0usize..4, prop_oneof![Just(10_000usize), 0usize..12]).prop_map(|(a, b, m)| Step::Meet(a, b, m)),
        1 => (0usize..4, 0usize..4, any::<u64>()).prop_map(|(a, b, mix)| Step::Bundle(a, b, mix)),
    ]
}

fn pair(nodes: &mut [Node], a: usize, b: usize) -> (&mut Node, &mut Node) {
    let (low, high) = (a.min(b), a.max(b));
    let (left, right) = nodes.split_at_mut(high);
    if a < b {
        (&mut left[low], &mut right[0])
    } else {
        (&mut right[0], &mut left[low])
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn everybody_ends_with_the_same_history(steps in proptest::collection::vec(any_step(), 1..40)) {
        let mut nodes: Vec<Node> = (1..=4).map(Node::new).collect();
        for step in steps {
            match step {
                Step::Write(n, k) => (0..k).for_each(|i| nodes[n].note(&format!("{n} {i}"))),
                Step::Meet(a, b, budget) if a != b => {
                    let (a, b) = pair(&mut nodes, a, b);
                    meet(a, b, budget);
                }
                Step::Bundle(a, b, mix) if a != b => {
                    // Frames of a bundle in a wrong order, some twice: refused or known, never false.
                    let (from, to) = pair(&mut nodes, a, b);
                    to.learn(&from.book);
                    let mut frames = from.frames_for(&VersionVector::new());
                    let turn = (mix as usize) % frames.len().max(1);
                    frames.rotate_left(turn);
                    frames.extend(frames.clone());
                    for frame in &frames {
                        to.take_in(frame);
                    }
                }
                _ => {}
            }
        }
        for _ in 0..2 {
            for (a, b) in [(0, 1), (1, 2), (2, 3)] {
                let (a, b) = pair(&mut nodes, a, b);
                meet(a, b, 100_000);
            }
            for (a, b) in [(1, 2), (0, 1)] {
                let (a, b) = pair(&mut nodes, a, b);
                meet(a, b, 100_000);
            }
        }
        for other in &nodes[1..] {
            prop_assert_eq!(other.book.vector(), nodes[0].book.vector());
            prop_assert_eq!(other.book.digest(), nodes[0].book.digest());
            prop_assert_eq!(&other.entries, &nodes[0].entries);
            for (log, head) in other.book.vector().iter() {
                for seq in 1..=head {
                    prop_assert_eq!(other.book.seen_at(&log, seq), nodes[0].book.seen_at(&log, seq));
                }
                // The first entry that had seen one of another log is the first whose vector includes it.
                for (seen_log, last) in other.book.vector().iter().filter(|(other, _)| *other != log) {
                    for seq in [1, last / 2 + 1, last, last + 1] {
                        let mut entries = 1..=head;
                        let wanted = entries.find(|at| other.book.seen_at(&log, *at).includes(&seen_log, seq));
                        prop_assert_eq!(other.book.first_seen(&log, &seen_log, seq), wanted);
                    }
                }
            }
        }
    }
}

/// Two laptops meet after every fact, so their units have seen each other alternately, without a circle. A third node that
/// holds only a part still gets all of it, frame by frame.
#[test]
fn a_braid_of_two_logs_reaches_a_third() {
    let (mut a, mut b, mut c) = (Node::new(2), Node::new(3), Node::new(4));
    for i in 0..300 {
        a.note(&format!("a{i}"));
        meet(&mut a, &mut b, 1_000);
        b.note(&format!("b{i}"));
        meet(&mut b, &mut a, 1_000);
        if i == 100 {
            meet(&mut b, &mut c, 1_000);
        }
    }
    let mut depot = Node::new(1);
    meet(&mut c, &mut depot, 1_000);
    meet(&mut c, &mut b, 100_000);
    assert_eq!(c.book.digest(), b.book.digest());
    meet(&mut c, &mut depot, 100_000);
    assert_eq!(c.book.digest(), depot.book.digest());
}

#[test]
fn nothing_new_costs_one_round_trip_and_few_bytes() {
    let (mut a, mut b) = (Node::new(2), Node::new(3));
    (0..500).for_each(|i| a.note(&format!("{i}")));
    assert!(meet(&mut a, &mut b, 10_000) > 1_000);
    assert!(meet(&mut a, &mut b, 10_000) < 300);
}

#[test]
fn the_gate_names_what_it_refuses() {
    let (mut a, mut b) = (Node::new(2), Node::new(3));
    (0..300).for_each(|i| a.note(&format!("{i}")));
    let frames = a.frames_for(&VersionVector::new());
    assert!(frames.len() >= 2);

    let stranger = b.take_in(&frames[0]);
    assert!(matches!(stranger[0], GateError::Refused(_)), "{stranger:?}");
    b.learn(&a.book);
    let gap = b.take_in(&frames[1]);
    assert!(matches!(gap[0], GateError::Gap { held: 0, .. }), "{gap:?}");

    let mut changed = frames[0].clone();
    *changed.runs[0].entries[5].1.last_mut().unwrap() ^= 1;
    let unsigned = b.take_in(&changed);
    assert!(matches!(unsigned[0], GateError::Unsigned { .. }), "{unsigned:?}");

    let mut bare = frames[0].clone();
    bare.runs[0].checkpoints.clear();
    assert!(matches!(b.take_in(&bare)[0], GateError::Unsigned { .. }));
    assert_eq!(b.book.head(&a.log).0, 0, "nothing came in");
    assert_eq!(b.take_in(&frames[0]), []);
    assert_eq!(b.take_in(&frames[0]), [], "the same again is no error");
}

/// A cloned disk: the same key writes two different entries at one place.
#[test]
fn a_fork_is_told_apart_from_damage() {
    let (mut a, mut clone, mut b) = (Node::new(2), Node::new(2), Node::new(3));
    a.note("before");
    clone.note("otherwise");
    b.learn(&a.book);
    for frame in a.frames_for(&VersionVector::new()) {
        assert_eq!(b.take_in(&frame), []);
    }
    let shorter = clone.frames_for(&VersionVector::new());
    assert!(
        matches!(b.take_in(&shorter[0])[0], GateError::Forked { seq: 3, .. }),
        "also when it is no longer than ours"
    );
    clone.note("and more");
    let frames = clone.frames_for(&VersionVector::new());
    let refused = b.take_in(&frames[0]);
    assert!(matches!(refused[0], GateError::Forked { seq: 3, .. }), "{refused:?}");
}

#[test]
fn entries_behind_a_retirement_stay_out_and_those_before_it_come_in() {
    let (mut depot, mut a, mut b) = (Node::new(1), Node::new(2), Node::new(3));
    (0..10).for_each(|i| a.note(&format!("{i}")));
    meet(&mut a, &mut depot, 1_000);
    let credential = a.book.roster().credential(&a.log.device).unwrap().clone();
    let (device, invite) = (a.log.device, credential.invite);
    let enrol = Record::Enrol {
        device,
        name: "node 2".into(),
        person: String::new(),
        invite,
    };
    let last = BTreeMap::from([(a.log.to_string(), a.book.head(&a.log).0)]);
    let retire = Record::Retire {
        device: a.log.device,
        last,
        why: "lost in the yard".into(),
    };
    depot.write(vec![
        Body::Governance(enrol.encode().unwrap()),
        Body::Governance(retire.encode().unwrap()),
    ]);
    let kept = a.book.head(&a.log).0;
    (0..5).for_each(|i| a.note(&format!("late {i}")));
    meet(&mut depot, &mut b, 1_000);
    let theirs = b.book.vector();
    for frame in a.frames_for(&theirs) {
        let refused = b.take_in(&frame);
        assert!(matches!(refused[0], GateError::Refused(_)), "{refused:?}");
    }
    assert_eq!(b.book.head(&a.log).0, kept);
    assert!(b.book.counts(&a.log, kept).is_ok() && b.book.counts(&a.log, kept + 1).is_err());
}

#[test]
fn hostile_frames_are_bounded() {
    let mut huge = Vec::new();
    gladhand_logbook::wire::put_number(&mut huge, 1 << 40);
    huge.extend_from_slice(&[0; 100]);
    assert!(Frame::decode(&huge).is_err());
    let key = DeviceKey([3; 32]);
    assert!(key.to_string().parse::<LogId>().is_err());
}

proptest! {
    #[test]
    fn no_message_panics(bytes in proptest::collection::vec(any::<u8>(), 0..300)) {
        let _ = Message::decode(&bytes);
        let _ = Frame::decode(&bytes);
    }
}
