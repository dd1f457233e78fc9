//! More devices than places: who is level makes room and comes back, who finds no place is told when to come again.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    missing_docs
)]

mod common;

use std::sync::Mutex;
use std::time::{Duration, Instant};

use common::{ALL, DEADLINE, Running, acquainted, note, start};
use gladhand_net::dial::DialError;
use gladhand_net::open_sessions::OpenSessions;
use gladhand_net::packet::{ByeReason, Packet};
use gladhand_net::redial::FIRST_REFUSED_MS;
use gladhand_net::session::{self, End, SessionSetup};
use gladhand_net::sync::{self, BusyPeer, Whom};
use gladhand_net::tls::Abilities;
use gladhand_net::turnstile;
use tokio::io::AsyncReadExt;

/// How many entries of `from` the other holds.
async fn held_of(from: &Running, at: &Running) -> u64 {
    let log = from.ask(|node| node.book().own_log().unwrap()).await;
    at.ask(move |node| node.book().head(&log).0).await
}

async fn until(running: &Running, holds: impl Fn(&OpenSessions) -> bool) {
    let mut changes = running.hub.sessions.changes();
    let wait = async {
        while !holds(&running.hub.sessions) {
            changes.changed().await.unwrap();
        }
    };
    tokio::time::timeout(DEADLINE, wait).await.unwrap();
}

async fn until_held(from: &Running, at: &Running) {
    let log = from.ask(|node| node.book().own_log().unwrap()).await;
    let last = held_of(from, from).await;
    at.until("the entries of a laptop", move |node| node.book().head(&log).0 >= last)
        .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn three_laptops_share_one_place() {
    let dir = tempfile::tempdir().unwrap();
    let (harrow, laptops) = acquainted(dir.path(), ["mara", "theo", "ines"]);
    let harrow = start(harrow, true, &[]).await;
    harrow.hub.sessions.limit_places(1);
    let mut running = Vec::new();
    for mut laptop in laptops {
        note(&mut laptop, "at the end of the shift");
        running.push(start(laptop, false, &[harrow.at()]).await);
    }
    for laptop in &running {
        until_held(laptop, &harrow).await;
    }
    // Each is away now, or will be, and what it records brings it back at once: nobody waits for the end of the rest.
    let began = Instant::now();
    for laptop in &running {
        laptop.ask(|node| note(node, "one more")).await;
        until_held(laptop, &harrow).await;
    }
    assert!(began.elapsed() < Duration::from_secs(60), "{:?}", began.elapsed());
    assert_eq!(harrow.hub.counters.strangers.get(), 0);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_session_that_made_room_is_no_failure_and_is_not_dialled_at_once() {
    let dir = tempfile::tempdir().unwrap();
    let (harrow, [mara, theo]) = acquainted(dir.path(), ["mara", "theo"]);
    let harrow = start(harrow, true, &[]).await;
    harrow.hub.sessions.limit_places(1);
    let mara = start(mara, false, &[harrow.at()]).await;
    until(&harrow, |sessions| sessions.level(&mara.key) == Some(true)).await;
    let dialled = mara.hub.counters.dialled.get();
    let theo = start(theo, false, &[harrow.at()]).await;
    until(&harrow, |sessions| sessions.level(&theo.key) == Some(true)).await;
    until(&harrow, |sessions| sessions.is_resting(&mara.key)).await;
    until(&mara, |sessions| sessions.is_resting(&harrow.key)).await;
    assert_eq!(
        mara.hub.counters.dialled.get(),
        dialled,
        "it does not come back at once"
    );
    // A merge by hand takes its place in turn, and Theo makes room for it.
    let merged = sync::sync(&mara.hub, &Whom::Place(harrow.at().to_string()), &[], false).await;
    assert!(merged[0].outcome.as_ref().unwrap().level, "{merged:?}");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_merge_by_hand_waits_for_a_place() {
    let dir = tempfile::tempdir().unwrap();
    let (harrow, [mara]) = acquainted(dir.path(), ["mara"]);
    let harrow = start(harrow, true, &[]).await;
    harrow.hub.sessions.limit_places(0);
    let mara = start(mara, false, &[]).await;
    let told: Mutex<Vec<BusyPeer>> = Mutex::default();
    let sessions = harrow.hub.sessions.clone();
    let on_busy = |busy| {
        told.lock().unwrap().push(busy);
        // Somebody leaves.
        sessions.limit_places(1);
    };
    let place = Whom::Place(harrow.at().to_string());
    let merged = sync::sync_telling(&mara.hub, &place, (&[], false), &on_busy).await;
    assert!(merged[0].outcome.as_ref().unwrap().level, "{merged:?}");
    let told = told.into_inner().unwrap();
    assert_eq!((told.len(), told[0].peer), (1, harrow.key));
    assert!(
        told[0].again_in >= Duration::from_millis(turnstile::FIRST_MS),
        "{told:?}"
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn a_peer_that_is_busy_is_no_peer_that_refuses() {
    let dir = tempfile::tempdir().unwrap();
    let (harrow, [mara]) = acquainted(dir.path(), ["mara"]);
    let harrow = start(harrow, true, &[]).await;
    harrow.hub.sessions.limit_places(0);
    let began = Instant::now();
    let mara = start(mara, false, &[harrow.at()]).await;
    while harrow.hub.counters.busy.get() == 0 {
        assert!(began.elapsed() < DEADLINE);
        tokio::time::sleep(Duration::from_millis(5)).await;
    }
    harrow.hub.sessions.limit_places(1);
    harrow.until_up(mara.key, true).await;
    assert!(began.elapsed() < Duration::from_millis(FIRST_REFUSED_MS / 2));
    let direct = gladhand_net::dial::Target::Place(harrow.at().to_string());
    mara.hub.sessions.limit_places(0);
    let own = gladhand_net::dial::dial(&mara.hub, &direct, &[harrow.at()], true).await;
    assert!(
        !matches!(own, Err(DialError::Refused(_))),
        "a second session is a duplicate: {own:?}"
    );
}

/// The packets that a peer with these abilities gets when there is no place.
async fn turned_away(abilities: Abilities) -> Vec<Packet> {
    let dir = tempfile::tempdir().unwrap();
    let (harrow, [mara]) = acquainted(dir.path(), ["mara"]);
    let harrow = start(harrow, false, &[]).await;
    harrow.hub.sessions.limit_places(0);
    let (ours, mut theirs) = tokio::io::duplex(1 << 12);
    let setup = SessionSetup {
        peer: mara.device(),
        dialled: None,
        once: false,
        abilities,
    };
    let (_, end) = session::run(ours, &harrow.hub, setup).await;
    assert!(matches!(end, End::NotAdmitted(_)), "{end:?}");
    let mut bytes = Vec::new();
    theirs.read_to_end(&mut bytes).await.unwrap();
    let (mut packets, mut rest) = (Vec::new(), &bytes[..]);
    while let Some((length, after)) = rest.split_first_chunk::<4>() {
        let (packet, after) = after.split_at(u32::from_le_bytes(*length) as usize);
        packets.push(Packet::decode(packet).unwrap());
        rest = after;
    }
    packets
}

#[tokio::test(flavor = "multi_thread")]
async fn an_older_peer_gets_no_packet_that_it_does_not_know() {
    let packets = turned_away(ALL).await;
    assert!(
        matches!(
            packets[..],
            [
                Packet::Wait {
                    wait_ms: turnstile::FIRST_MS
                },
                Packet::Bye {
                    why: ByeReason::Busy,
                    ..
                }
            ]
        ),
        "{packets:?}"
    );
    let older = Abilities { waits: false, ..ALL };
    let packets = turned_away(older).await;
    assert!(
        matches!(
            packets[..],
            [Packet::Bye {
                why: ByeReason::Busy,
                ..
            }]
        ),
        "{packets:?}"
    );
}
