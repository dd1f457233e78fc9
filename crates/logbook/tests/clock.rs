//! A peer's clock moves ours no further than the bound, at the gate and after a restart.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    missing_docs
)]

mod common;

use common::{Node, secret};
use gladhand_facts::stamp::MAX_AHEAD_US;
use gladhand_facts::{Stamp, VersionVector};
use gladhand_logbook::{Body, Book};

const NOW_US: i64 = 1_772_485_200_000_000;

fn at(wall_us: i64, counter: u32) -> Stamp {
    Stamp { wall_us, counter }
}

/// A depot that let in an entry which a laptop wrote when its clock was `ahead_us` ahead of the depot's.
fn depot_that_met_a_clock(ahead_us: i64) -> Node {
    let (mut depot, mut laptop) = (Node::new(1), Node::new(2));
    let note = Body::Loose(vec![r#"{"kind":"note","text":"from the future"}"#.into()]);
    let new = laptop.book.write(vec![note], NOW_US + ahead_us).unwrap();
    laptop.keep(new);
    depot.learn(&laptop.book);
    for frame in laptop.frames_for(&VersionVector::new()) {
        assert_eq!(depot.take_in(&frame), []);
    }
    assert_eq!(
        depot.book.head(&laptop.log),
        laptop.book.head(&laptop.log),
        "it is held"
    );
    depot
}

/// The same home opened again: everything durable is replayed, in the order of the logs.
fn restarted(node: &Node) -> Book {
    let mut book = Book::new(node.book.roster().root());
    for ((log, seq), bytes) in &node.entries {
        book.replay_entry(*log, *seq, bytes).unwrap();
    }
    book.write_as(secret(1), node.log);
    book
}

#[test]
fn a_clock_beyond_the_bound_does_not_move_ours() {
    for ahead_us in [MAX_AHEAD_US + 1, 365 * 86_400_000_000] {
        let depot = depot_that_met_a_clock(ahead_us);
        let book = restarted(&depot);
        for book in [&depot.book, &book] {
            assert_eq!(book.stamp(NOW_US), at(NOW_US, 0), "{ahead_us} ahead");
            // Once our own clock comes near it, it counts as any other: later than what was seen.
            let near_us = NOW_US + ahead_us - MAX_AHEAD_US;
            assert_eq!(book.stamp(near_us), at(NOW_US + ahead_us, 1), "{ahead_us} ahead");
        }
    }
}

#[test]
fn a_clock_within_the_bound_moves_ours_and_goes_on_doing_so_after_a_restart() {
    for ahead_us in [1, MAX_AHEAD_US] {
        let depot = depot_that_met_a_clock(ahead_us);
        let book = restarted(&depot);
        for book in [&depot.book, &book] {
            assert_eq!(book.stamp(NOW_US), at(NOW_US + ahead_us, 1), "{ahead_us} ahead");
        }
    }
}

/// The own clock is believed, however far ahead it was once: own stamps never go back.
#[test]
fn own_stamps_grow_although_the_own_clock_was_set_back() {
    let mut depot = Node::new(1);
    let year_us = 365 * 86_400_000_000;
    let note = || vec![Body::Loose(vec![r#"{"kind":"note","text":"n"}"#.into()])];
    let new = depot.book.write(note(), NOW_US + year_us).unwrap();
    depot.keep(new);
    assert_eq!(depot.book.stamp(NOW_US), at(NOW_US + year_us, 1));
    assert_eq!(restarted(&depot).stamp(NOW_US), at(NOW_US + year_us, 1));
}
