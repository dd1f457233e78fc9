//! Small things that are typed, pasted or sent: invites, credentials, frames of the control socket.

use std::io::Cursor;

use data_encoding::BASE32_NOPAD;
use gladhand::control::wire::{self, Bytes, Request, ToClient, ToDaemon};
use gladhand_logbook::governance::{Credential, Invite};
use gladhand_logbook::wire::{put_blob, put_signed};
use gladhand_tests::fuzz::{Kind, Target};
use serde::Serialize;
use serde::de::DeserializeOwned;

use crate::yard::{self, DEPOT, MARA};

const PREFIX: &str = "GLADHAND-INVITE-";

/// Its bytes, without the sum at its end.
fn body_of(invite: &Invite) -> Vec<u8> {
    let line = invite.to_line();
    let mut bytes = BASE32_NOPAD
        .decode(line.strip_prefix(PREFIX).unwrap().as_bytes())
        .unwrap();
    bytes.truncate(bytes.len() - 4);
    bytes
}

#[test]
fn invites() {
    let target = Target {
        name: "invites",
        kind: Kind::Bytes,
        inputs: 600,
        generator: &|| {
            let bare = Invite::make(&yard::secret(DEPOT), [5; 32], "", i64::MAX);
            let full =
                Invite::make(&yard::secret(DEPOT), [6; 32], "mara", 1_772_485_200).with_address("192.168.1.20:7401");
            vec![("bare", body_of(&bare)), ("full", body_of(&full))]
        },
    };
    target.run(&mut |bytes| {
        // As a person may have pasted it.
        let _ = Invite::parse(&String::from_utf8_lossy(bytes));
        let _ = Invite::parse(&format!("{PREFIX}{}", String::from_utf8_lossy(bytes)));
        let signed = signed_again(bytes);
        let Ok(invite) = Invite::parse(&line_of(&signed)) else {
            return false;
        };
        let again = Invite::parse(&invite.to_line().to_lowercase()).expect("what reads reads again");
        assert_eq!(body_of(&again), body_of(&invite));
        let device = yard::secret(MARA).public();
        if let Ok(credential) = invite.accept(device, "laptop-mara", "mara", yard::NOW_US / 1_000_000) {
            assert_eq!(
                credential.is_genuine(&yard::secret(DEPOT).public()),
                invite.root == yard::secret(DEPOT).public()
            );
        }
        true
    });
}

fn line_of(body: &[u8]) -> String {
    let mut bytes = body.to_vec();
    bytes.extend_from_slice(&blake3::hash(body).as_bytes()[..4]);
    format!("{PREFIX}{}", BASE32_NOPAD.encode(&bytes))
}

/// With the depot's signature over what now stands in it: format, depot 32, seed 32, signature 64, expiry, person, address.
fn signed_again(body: &[u8]) -> Vec<u8> {
    let mut out = body.to_vec();
    let mut reader = gladhand_logbook::wire::Reader::new(body.get(129..).unwrap_or_default());
    let read = reader
        .signed("expiry")
        .and_then(|s| Ok((s, reader.text(200, "person")?)));
    let (Ok((expires_s, person)), Some(seed)) = (read, body.get(33..65)) else {
        return out;
    };
    let id = gladhand_logbook::DeviceSecret::from_seed(seed.try_into().unwrap()).public();
    let mut message = id.0.to_vec();
    put_signed(&mut message, expires_s);
    put_blob(&mut message, person.as_bytes());
    let signature = yard::secret(DEPOT).sign("gladhand invite 1", &message);
    out[1..33].copy_from_slice(&yard::secret(DEPOT).public().0);
    out[65..129].copy_from_slice(&signature);
    out
}

#[test]
fn credentials() {
    let target = Target {
        name: "credentials",
        kind: Kind::Text,
        inputs: 600,
        generator: &|| {
            vec![(
                "two",
                serde_json::to_vec_pretty(&[yard::credential(2), yard::credential(3)]).unwrap(),
            )]
        },
    };
    let root = yard::secret(DEPOT).public();
    target.run(&mut |bytes| {
        let Ok(found) = serde_json::from_slice::<Vec<Credential>>(bytes) else {
            return false;
        };
        for credential in found {
            let text = serde_json::to_string(&credential).unwrap();
            assert_eq!(serde_json::from_str::<Credential>(&text).unwrap(), credential);
            let device = credential.device;
            let genuine = credential.is_genuine(&root);
            let mut reader = yard::Node::reader();
            let known = reader.book.roster().admits(&device).is_ok();
            let learnt = reader.book.roster_mut().learn_credential(credential);
            assert!(genuine || !learnt, "a forged credential was learnt: {text}");
            assert!(
                reader.book.roster().admits(&device).is_ok() == (known || learnt),
                "{text}"
            );
        }
        true
    });
}

#[test]
fn control() {
    let target = Target {
        name: "control",
        kind: Kind::Bytes,
        inputs: 2_000,
        generator: &|| vec![("to-daemon", to_daemon()), ("to-client", to_client())],
    };
    target.run(&mut |bytes| {
        let framed = with_lengths(bytes);
        let mut good = 0;
        for stream in [bytes, &framed] {
            good += read_all::<ToDaemon>(stream) + read_all::<ToClient>(stream);
        }
        good > 0
    });
}

fn to_daemon() -> Vec<u8> {
    let text = |t: &str| Bytes(t.as_bytes().to_vec());
    let request = Request {
        program: "0.1.0".into(),
        args: ["gladhand", "record", "--json", "-"].map(text).to_vec(),
        cwd: text("/home/mara"),
        width: Some(80),
        shows_progress: true,
    };
    let messages = [
        ToDaemon::Command(request),
        ToDaemon::Input(text("{\"kind\":\"note\",\"text\":\"a\"}\n")),
        ToDaemon::InputFailed("gone".into()),
    ];
    messages.iter().flat_map(|m| wire::frame(m).unwrap()).collect()
}

fn to_client() -> Vec<u8> {
    let messages = [
        ToClient::Started,
        ToClient::WantInput,
        ToClient::Out(Bytes(vec![0xff; 40])),
        ToClient::Err(Bytes(b"words".to_vec())),
        ToClient::Progress {
            what: "reading".into(),
            done: 1,
            total: u64::MAX,
        },
        ToClient::ProgressOver,
        ToClient::Refused("busy".into()),
        ToClient::Exit(4),
    ];
    messages.iter().flat_map(|m| wire::frame(m).unwrap()).collect()
}

/// Each length no longer than what follows, so that the frames behind it are read too.
fn with_lengths(bytes: &[u8]) -> Vec<u8> {
    let mut out = Vec::new();
    let mut rest = bytes;
    while let Some((length, behind)) = rest.split_first_chunk::<4>() {
        let length = (u32::from_le_bytes(*length) as usize).min(behind.len());
        out.extend((length as u32).to_le_bytes());
        out.extend_from_slice(&behind[..length]);
        rest = &behind[length..];
    }
    out
}

fn read_all<T: Serialize + DeserializeOwned + PartialEq + std::fmt::Debug>(bytes: &[u8]) -> usize {
    let mut stream = Cursor::new(bytes);
    let mut good = 0;
    loop {
        match wire::receive::<T>(&mut stream) {
            Ok(None) => return good,
            Err(e) => {
                assert!(!e.to_string().is_empty());
                return good;
            }
            Ok(Some(message)) => {
                good += 1;
                let framed = wire::frame(&message).unwrap();
                assert_eq!(wire::receive::<T>(&mut framed.as_slice()).unwrap(), Some(message));
            }
        }
        assert!(good <= bytes.len());
    }
}
