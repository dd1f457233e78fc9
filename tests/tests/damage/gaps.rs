//! Damage costs what was damaged: one wrong bit costs nothing, and what stands behind a gap counts as soon as the gap is closed.

use std::collections::VecDeque;
use std::ops::Range;

use gladhand_node::peer::PeerInput;
use gladhand_node::{Node, Silent};
use gladhand_tests::facts::notes;
use gladhand_tests::{Fleet, Home};

use crate::scene::SEGMENT;

/// Records and returns where in the journal that went.
fn recorded(home: &Home, lines: &[String]) -> Range<usize> {
    let length = || std::fs::metadata(home.file(SEGMENT)).unwrap().len() as usize;
    let before = length();
    home.record(lines);
    before..length()
}

fn change(home: &Home, act: impl FnOnce(&mut [u8])) {
    let mut bytes = std::fs::read(home.file(SEGMENT)).unwrap();
    act(&mut bytes);
    std::fs::write(home.file(SEGMENT), bytes).unwrap();
}

/// Nobody else has any of it, and nothing is lost.
#[test]
fn one_wrong_bit_costs_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let home = Home::laptop(dir.path().join("home"), "laptop-mara", "mara");
    let first = recorded(&home, &notes(3, "first", true));
    recorded(&home, &notes(40, "behind", true));
    let (held, good) = (home.vector(), std::fs::read(home.file(SEGMENT)).unwrap());
    // The file's header, a batch's length, its sum of the head, a record, the sum of all.
    let places = [14, first.start + 4, first.start + 17, first.start + 90, first.end - 2];
    for at in places {
        change(&home, |bytes| bytes[at] ^= 0x20);
        let told = home.run(&["verify"]).exits(1);
        told.shows(&[
            "00000001.seg",
            "one bit was wrong and could be put right: nothing is lost",
        ]);
        home.verifies();
        assert_eq!(home.vector(), held, "byte {at}");
        assert!(std::fs::read(home.file(SEGMENT)).unwrap() == good, "byte {at}");
    }
    home.record(&notes(1, "goes on", true));
    let logs = home.vector();
    assert_eq!(logs.as_object().unwrap().len(), 1, "it goes on in the same log: {logs}");
}

/// Three notes, four that will be lost, and those behind them. The depot is given the first seven.
fn with_a_gap(fleet: &Fleet, behind: usize, given: bool) -> serde_json::Value {
    let mara = &fleet.laptops[0];
    recorded(mara, &notes(3, "before", true));
    let lost = recorded(mara, &notes(4, "lost", true));
    fleet.bundles.carry(mara, &fleet.depot).done();
    recorded(mara, &notes(behind, "behind", true));
    if given {
        fleet.bundles.carry(mara, &fleet.depot).done();
    }
    let held = mara.vector();
    change(mara, |bytes| bytes[lost.start + 20..lost.end].fill(0xff));
    held
}

#[test]
fn a_gap_is_named_until_it_is_closed_and_what_waits_counts_then() {
    let fleet = Fleet::enrolled(&["mara"]);
    let mara = &fleet.laptops[0];
    let held = with_a_gap(&fleet, 60, false);
    let names_it = [
        "of laptop-mara",
        "4 entries",
        "are missing, and 60 entries behind wait on disk",
        "a bundle or a meeting with any device that has them brings them back",
    ];
    mara.run(&["verify"]).exits(1).shows(&["00000001.seg"]).shows(&names_it);
    for _ in 0..2 {
        mara.run(&["verify"]).exits(1).shows(&names_it);
        let status = mara.status();
        assert_eq!(status["gaps"][0]["missing"], 4, "{status}");
        assert_eq!(status["gaps"][0]["waiting"], 60, "{status}");
        assert_eq!(status["entries_missing"], 4, "{status}");
        let told = mara.run(&["status"]).done();
        told.shows(&["Missing here: 4 entries", "60 entries here wait behind a gap"]);
        mara.record(&notes(1, "meanwhile", true));
    }
    let depot = fleet.depot.vector();
    assert!(
        held.as_object()
            .unwrap()
            .iter()
            .any(|(log, head)| depot[log].as_u64() < head.as_u64())
    );
    fleet.bundles.carry(&fleet.depot, mara).done();
    let now = mara.vector();
    for (log, head) in held.as_object().unwrap() {
        let counts = now[log].as_u64() >= head.as_u64();
        assert!(
            counts,
            "what waited counts, though nobody else had it: {now} instead of {held}"
        );
    }
    mara.verifies();
    assert_eq!(mara.status()["gaps"].as_array().unwrap().len(), 0);
    fleet.bundles.carry(mara, &fleet.depot).done();
    assert_eq!(fleet.depot.vector(), mara.vector());
    assert_eq!(fleet.depot.findings(), mara.findings());
}

/// A session: how many entries `one` sends until both are level.
fn offered(one: &mut Node, other: &mut Node) -> u64 {
    let [(a, hello_a), (b, hello_b)] = [one.peer_start(), other.peer_start()];
    let mut sessions = [a, b];
    let mut pipes: [VecDeque<_>; 2] = [hello_b.into(), hello_a.into()];
    let mut offered = 0;
    while let Some(side) = (0..2).find(|side| !pipes[*side].is_empty()) {
        let input = pipes[side].pop_front().map(PeerInput::Message);
        let node = if side == 0 { &mut *one } else { &mut *other };
        let step = node
            .peer_step(&mut sessions[side], input.into_iter().collect())
            .unwrap();
        assert!(step.broken.is_none() && step.refused.is_empty(), "{step:?}");
        offered += if side == 0 { step.offered } else { 0 };
        pipes[1 - side].extend(step.send);
    }
    assert!(sessions.iter().all(|session| session.is_in_sync()));
    offered
}

/// What is in flight when the gap is closed has been sent; the rest is not.
#[test]
fn a_session_does_not_send_what_waits() {
    let fleet = Fleet::enrolled(&["mara"]);
    let held = with_a_gap(&fleet, 3_000, true);
    let mut depot = Node::open(&fleet.depot.path, &Silent).unwrap();
    let mut mara = Node::open(&fleet.laptops[0].path, &Silent).unwrap();
    assert_eq!(mara.open_gaps()[0].gap.waiting, 3_000);
    let sent = offered(&mut depot, &mut mara);
    assert!(mara.open_gaps().is_empty());
    assert!(sent < 2_400, "{sent} entries were sent for 4 that were missing");
    assert_eq!(mara.book().vector(), depot.book().vector());
    assert!(held.as_object().unwrap().iter().all(|(log, head)| {
        let vector = mara.book().vector();
        let now = vector.iter().find(|(held, _)| held.to_string() == *log);
        now.map(|(_, seq)| seq) == head.as_u64()
    }));
}
