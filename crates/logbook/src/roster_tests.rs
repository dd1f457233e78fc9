//! Who may write, as the records add up.

use super::*;
use crate::governance::Invite;
use crate::keys::DeviceSecret;

fn secret(n: u8) -> DeviceSecret {
    DeviceSecret::from_seed(&[n; 32])
}
fn log(n: u8) -> LogId {
    LogId {
        device: secret(n).public(),
        incarnation: 1,
    }
}
fn enrol(device: u8, invite: &Invite) -> Record {
    let (name, person) = (format!("laptop {device}"), String::new());
    Record::Enrol {
        device: secret(device).public(),
        name,
        person,
        invite: invite.id(),
    }
}

/// What a roster answers besides who may write. A negative delay is no clock reading.
#[test]
fn names_the_standard_and_clock_readings_are_answered() {
    let invite = Invite::make(&secret(1), [9; 32], "", 100);
    let mut roster = Roster::new(Some(secret(1).public()));
    let device = secret(2).public();
    assert_eq!((roster.name(&device), roster.standard()), (device.short(), None));
    roster.learn(&log(1), 1, enrol(2, &invite));
    let (version, text) = ("yard 2".to_owned(), "version = \"yard 2\"".to_owned());
    roster.learn(&log(1), 2, Record::Standard { version, text });
    assert_eq!(roster.name(&device), "laptop 2");
    assert_eq!(roster.standard(), Some(("yard 2", "version = \"yard 2\"")));
    for (seq, delay_us) in [(1, -1), (2, 0), (3, 7)] {
        let (peer, offset_us, at_us) = (secret(1).public(), 5, 9);
        let record = Record::Clock {
            peer,
            offset_us,
            delay_us,
            at_us,
        };
        roster.learn(&log(2), seq, record);
    }
    let delays: Vec<i64> = roster.clocks.values().map(|reading| reading.delay_us).collect();
    assert_eq!(delays, [0, 7]);
}

#[test]
fn a_credential_admits_until_its_invite_turns_out_to_be_used() {
    let invite = Invite::make(&secret(1), [9; 32], "", 100);
    let mut roster = Roster::new(Some(secret(1).public()));
    for n in [2, 3] {
        assert_eq!(
            roster.admits(&secret(n).public()),
            Err(Refusal::Stranger(secret(n).public()))
        );
        assert!(roster.learn_credential(invite.accept(secret(n).public(), "l", "p", 0).unwrap()));
        assert_eq!(roster.admits(&secret(n).public()), Ok(()));
    }
    roster.learn(&log(1), 5, enrol(2, &invite));
    assert_eq!(roster.admits(&secret(2).public()), Ok(()));
    assert_eq!(
        roster.admits(&secret(3).public()),
        Err(Refusal::InviteUsed(secret(3).public()))
    );
    // With another invite it may write after all, and what it wrote before counts.
    let another = Invite::make(&secret(1), [10; 32], "", 100);
    assert!(roster.learn_credential(another.accept(secret(3).public(), "l", "p", 0).unwrap()));
    assert_eq!(roster.admits(&secret(3).public()), Ok(()));
    assert_eq!(
        roster.credential(&secret(3).public()).map(|c| c.invite),
        Some(another.id())
    );
}

/// A device that joins again shows the new invite from then on, also where it is not known yet that the old one was used.
#[test]
fn of_two_invites_the_one_joined_with_last_is_shown() {
    let device = secret(3).public();
    for order in [[9, 10], [10, 9]] {
        let invites = order.map(|n| Invite::make(&secret(1), [n; 32], "", 100));
        let mut roster = Roster::new(Some(secret(1).public()));
        for (seq, invite) in (1..).zip(&invites) {
            let credential = invite.accept(device, "l", "p", 0).unwrap();
            roster.learn(&log(3), seq, Record::Join { credential });
        }
        assert_eq!(roster.credential(&device).map(|c| c.invite), Some(invites[1].id()));
        // Showing the first one again changes nothing.
        roster.learn_credential(invites[0].accept(device, "l", "p", 0).unwrap());
        assert_eq!(roster.credential(&device).map(|c| c.invite), Some(invites[1].id()));
    }
}

#[test]
fn only_the_root_enrols_and_retires() {
    let invite = Invite::make(&secret(1), [9; 32], "", 100);
    let mut roster = Roster::new(Some(secret(1).public()));
    roster.learn(&log(2), 1, enrol(3, &invite));
    assert!(roster.admits(&secret(3).public()).is_err());
    roster.learn(&log(1), 1, enrol(3, &invite));
    let cut = |seq| Record::Retire {
        device: secret(3).public(),
        last: BTreeMap::from([(log(3).to_string(), seq)]),
        why: "lost".into(),
    };
    roster.learn(&log(2), 2, cut(1));
    assert_eq!(roster.admits_entry(&log(3), 50), Ok(()));
    roster.learn(&log(1), 2, cut(7));
    assert_eq!(roster.admits_entry(&log(3), 7), Ok(()));
    assert!(matches!(
        roster.admits_entry(&log(3), 8),
        Err(Refusal::Retired { last: 7, .. })
    ));
    let reborn = LogId {
        incarnation: 2,
        ..log(3)
    };
    assert!(
        roster.admits_entry(&reborn, 1).is_err(),
        "a log that is not named counts up to nothing"
    );
}

/// A second retirement can only take back more, whichever of the two records arrives first.
#[test]
fn of_two_retirements_the_earlier_place_counts_in_any_order() {
    let second_log = LogId {
        incarnation: 2,
        ..log(3)
    };
    let retire = |last: &[(LogId, u64)]| Record::Retire {
        device: secret(3).public(),
        last: last.iter().map(|(log, seq)| (log.to_string(), *seq)).collect(),
        why: "lost".into(),
    };
    let invite = Invite::make(&secret(1), [9; 32], "", 100);
    let records = [
        retire(&[(log(3), 7), (second_log, 2)]),
        // Names another place in the first log, and the second log not at all.
        retire(&[(log(3), 4)]),
    ];
    for order in [[0, 1], [1, 0]] {
        let mut roster = Roster::new(Some(secret(1).public()));
        roster.learn(&log(1), 1, enrol(3, &invite));
        for n in order {
            roster.learn(&log(1), 2 + n as u64, records[n].clone());
        }
        assert_eq!(roster.admits_entry(&log(3), 4), Ok(()));
        let refused = |log: &LogId, seq, last| {
            let device = log.device;
            assert_eq!(
                roster.admits_entry(log, seq),
                Err(Refusal::Retired { device, seq, last }),
                "records in the order {order:?}"
            );
        };
        refused(&log(3), 5, 4);
        refused(&log(3), 7, 4);
        refused(&second_log, 1, 0);
    }
}

#[test]
fn a_device_that_joined_another_depot_is_told_from_one_that_joined_none() {
    let invite = Invite::make(&secret(1), [9; 32], "", 100);
    let credential = invite.accept(secret(2).public(), "l", "p", 0).unwrap();
    let introduce = |depot| Record::Introduce {
        name: "n".into(),
        person: String::new(),
        depot,
    };
    let here = secret(2).public();
    for root in [None, Some(secret(7).public())] {
        let mut roster = Roster::new(root);
        roster.learn(&log(2), 1, introduce(false));
        assert!(!roster.joined_elsewhere(&here) && !roster.is_depot(&here));
        roster.learn(
            &log(2),
            2,
            Record::Join {
                credential: credential.clone(),
            },
        );
        assert!(roster.joined_elsewhere(&here));
        assert_eq!(roster.other_depot(&here), None, "its log is not here");
        roster.learn(&log(1), 1, introduce(true));
        assert_eq!(roster.other_depot(&here), Some(secret(1).public()));
    }
    let mut roster = Roster::new(Some(secret(1).public()));
    roster.learn(&log(2), 2, Record::Join { credential });
    assert!(!roster.joined_elsewhere(&here));
}

#[test]
fn without_a_root_nobody_is_trusted() {
    assert_eq!(Roster::new(None).admits(&secret(1).public()), Err(Refusal::NoRoot));
}
