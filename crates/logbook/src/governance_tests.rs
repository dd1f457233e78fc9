//! Invites survive being typed, credentials convince only where they should, and records survive.

use super::*;
use crate::keys::DeviceSecret;

fn depot() -> DeviceSecret {
    DeviceSecret::from_seed(&[1; 32])
}

#[test]
fn an_invite_survives_being_typed() {
    let invite = Invite::make(&depot(), [5; 32], "mara", 1_000).with_address("192.168.1.20:7401");
    let line = invite.to_line();
    let back = Invite::parse(&format!("  {} \n", line.to_lowercase())).unwrap();
    assert_eq!(
        (back.id(), back.root, back.person.as_str(), back.address.as_str()),
        (invite.id(), depot().public(), "mara", "192.168.1.20:7401")
    );
    assert!(matches!(
        Invite::parse(&line[..line.len() - 1]),
        Err(InviteError::NotAnInvite)
    ));
    let mut wrong = line.into_bytes();
    wrong[40] = if wrong[40] == b'A' { b'B' } else { b'A' };
    assert!(matches!(
        Invite::parse(std::str::from_utf8(&wrong).unwrap()),
        Err(InviteError::NotAnInvite)
    ));
}

#[test]
fn a_credential_convinces_only_for_its_depot_and_its_device() {
    let invite = Invite::make(&depot(), [5; 32], "mara", 1_000);
    let device = DeviceSecret::from_seed(&[2; 32]).public();
    let credential = invite.accept(device, "laptop", "mara", 999).unwrap();
    assert!(credential.is_genuine(&depot().public()));
    assert!(!credential.is_genuine(&device));
    let stolen = Credential {
        device: DeviceSecret::from_seed(&[3; 32]).public(),
        ..credential.clone()
    };
    assert!(!stolen.is_genuine(&depot().public()));
    let renamed = Credential {
        name: "other".into(),
        ..credential
    };
    assert!(!renamed.is_genuine(&depot().public()));
    assert_eq!(
        invite.accept(device, "laptop", "mara", 1_001),
        Err(InviteError::Expired)
    );
}

#[test]
fn records_survive_and_newer_ones_are_no_error() {
    let record = Record::Standard {
        version: "2026-1".into(),
        text: "x = 1".into(),
    };
    assert_eq!(Record::decode(&record.encode().unwrap()), Some(record));
    assert_eq!(Record::decode(br#"{"record":"moon-phase","x":1}"#), None);
    assert_eq!(Record::decode(b"\xff"), None);
}
