//! Who is admitted, who makes room, and who is stopped.

use super::*;
use std::collections::BTreeSet;

fn key(n: usize) -> DeviceKey {
    let mut bytes = [0; 32];
    bytes[..8].copy_from_slice(&n.to_be_bytes());
    DeviceKey(bytes)
}

fn live(own: usize) -> (OpenSessions, Trust) {
    let trust = Trust::default();
    trust.set((0..200).map(key).collect::<BTreeSet<_>>());
    (OpenSessions::new(key(own), trust.clone()), trust)
}

#[tokio::test]
async fn of_two_crossing_dials_both_sides_keep_the_same() {
    for first_dialled in [false, true] {
        let (small, large) = (live(1).0, live(2).0);
        let connection = Arc::new(PeerConnection::new());
        // Connection X was dialled by the small key, Y by the large one; each side meets them in either order.
        let x = small.admit(key(2), true, &connection);
        let y = small.admit(key(2), false, &connection);
        assert!(x.is_ok() && matches!(y, Err(NotAdmitted::Duplicate)));
        let (first, second) = if first_dialled { (true, false) } else { (false, true) };
        let a = large.admit(key(1), first, &connection).unwrap();
        let b = large.admit(key(1), second, &connection);
        if first_dialled {
            assert!(b.is_ok() && *a.stop.borrow() == Some(StopReason::Replaced));
        } else {
            assert!(b.is_err() && a.stop.borrow().is_none());
        }
    }
}

#[tokio::test]
async fn a_retired_device_ends_at_once_and_does_not_come_back() {
    let (live, trust) = live(1);
    let connection = Arc::new(PeerConnection::new());
    let slot = live.admit(key(5), false, &connection).unwrap();
    let other = live.admit(key(6), false, &connection).unwrap();
    slot.set_up();
    assert_eq!(live.up(), [key(5)]);
    trust.set(BTreeSet::from([key(6)]));
    assert_eq!(live.stop_untrusted(&BTreeSet::from([key(5)])), [key(5)]);
    assert_eq!(*slot.stop.borrow(), Some(StopReason::Retired));
    live.stop_untrusted(&BTreeSet::new());
    assert_eq!(*slot.stop.borrow(), Some(StopReason::Untrusted));
    assert!(other.stop.borrow().is_none());
    drop(slot);
    assert!(matches!(
        live.admit(key(5), false, &connection),
        Err(NotAdmitted::Untrusted)
    ));
    assert!(live.up().is_empty());
}

#[tokio::test(start_paused = true)]
async fn there_is_an_end_to_sessions() {
    let (live, _) = live(199);
    let connection = Arc::new(PeerConnection::new());
    let mut slots: Vec<SessionSlot> = (0..MAX_SESSIONS)
        .map(|n| live.admit(key(n), false, &connection).unwrap())
        .collect();
    let turned_away = |n| match live.admit(key(n), false, &connection) {
        Err(NotAdmitted::Busy { again_ms }) => again_ms,
        other => panic!("{other:?}"),
    };
    assert!(turned_away(100) < turned_away(101), "they come one after the other");
    assert!(
        live.admit(key(3), false, &connection).is_ok(),
        "a device that reconnects replaces its own session"
    );
    slots.pop();
    assert!(live.admit(key(100), false, &connection).is_ok());
}

#[tokio::test(start_paused = true)]
async fn who_has_been_level_the_longest_makes_room() {
    let (live, _) = live(199);
    live.limit_places(3);
    let connection = Arc::new(PeerConnection::new());
    let slots: Vec<SessionSlot> = (0..3)
        .map(|n| live.admit(key(n), false, &connection).unwrap())
        .collect();
    slots[2].set_level(true);
    slots[0].set_level(true);
    // Told again that it is level: it still is the one that has been so the longest.
    slots[2].set_level(true);
    let reasons = || slots.iter().map(|slot| *slot.stop.borrow()).collect::<Vec<_>>();
    let first = live.admit(key(10), false, &connection).unwrap();
    assert_eq!(reasons(), [None, None, Some(StopReason::MakeRoom)]);
    let second = live.admit(key(11), false, &connection).unwrap();
    assert_eq!(reasons()[0], Some(StopReason::MakeRoom));
    // The third has something to do, and so have the new ones.
    assert!(matches!(
        live.admit(key(12), false, &connection),
        Err(NotAdmitted::Busy { .. })
    ));
    assert!(live.is_full() && reasons()[1].is_none());
    // A new one whose peer has nothing more to send takes turns, once it has stayed for a while.
    first.set_delivered(true);
    assert!(live.admit(key(12), false, &connection).is_err());
    tokio::time::advance(STAY).await;
    let third = live.admit(key(12), false, &connection).unwrap();
    assert!(matches!(*first.stop.borrow(), Some(StopReason::TakeTurns { .. })));
    slots[0].set_resting();
    assert!(live.is_resting(&key(0)) && !live.is_resting(&key(1)));
    drop((slots, first, second, third));
    let _back = live.admit(key(0), false, &connection).unwrap();
    assert!(!live.is_resting(&key(0)));
}
