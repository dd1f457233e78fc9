//! Packets and their bytes.

use super::*;

#[test]
fn packets_survive_the_wire() {
    let packets = [
        Packet::Probe { sent_us: -5 },
        Packet::Clock {
            probe_us: 1,
            received_us: i64::MAX,
            sent_us: i64::MIN,
        },
        Packet::Bye {
            why: ByeReason::Busy,
            words: "64 sessions are open".into(),
        },
        Packet::Instance([7; 8]),
        Packet::Exchange(Message::Done),
        Packet::Seek(vec![PictureHash([1; 32]), PictureHash([2; 32])]),
        Packet::Have {
            answer: true,
            hashes: vec![PictureHash([2; 32])],
        },
        Packet::Want {
            hash: PictureHash([3; 32]),
            at: 1 << 20,
        },
        Packet::Range {
            hash: PictureHash([3; 32]),
            total: 9_000_000,
            at: 65_536,
            bytes: vec![5; RANGE_BYTES],
        },
        Packet::Rest { heard: 7 },
        Packet::Wait { wait_ms: 12_000 },
    ];
    for packet in packets {
        let bytes = packet.encode();
        let (length, rest) = bytes.split_first_chunk::<4>().unwrap();
        assert_eq!(u32::from_le_bytes(*length) as usize, rest.len());
        assert_eq!(Packet::decode(rest).unwrap(), packet);
    }
    assert!(Packet::decode(&[]).is_err() && Packet::decode(&[200, 1]).is_err());
    assert!(Packet::decode(&[PROBE, 0, 0]).is_err(), "nothing may be left over");
}

#[test]
fn a_reason_of_a_newer_version_still_ends_the_session() {
    let bye = Packet::decode(&[BYE, 99, 2, b'n', b'o']).unwrap();
    let why = ByeReason::Trouble;
    assert_eq!(
        bye,
        Packet::Bye {
            why,
            words: "no".into()
        }
    );
}
