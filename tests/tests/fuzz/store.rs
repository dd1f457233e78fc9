//! Segments of a journal, their lengths and sums made right again: opening never fails because of what they say, what stands
//! whole behind the change is kept, and what was repaired opens without a word the next time.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use gladhand_facts::{DeviceKey, LogId};
use gladhand_store::testing::MemoryDisk;
use gladhand_store::{Damage, DamageKind, Journal, OpenError, Options, Record};
use gladhand_tests::fuzz::{Kind, Target};

/// `frame.rs` of the store: magic, length, salt, sum; then the payload; then a sum.
const HEAD: usize = 20;
const MAGIC: [u8; 4] = [0xb7, b'G', b'h', 0x1e];
/// `segment.rs` of the store: the sum stands in the last four bytes of the header.
const HEADER: usize = 36;

fn log(n: u8) -> LogId {
    LogId {
        device: DeviceKey([n; 32]),
        incarnation: u64::from(n) << 32,
    }
}

const DIR: &str = "log";

fn segment() -> PathBuf {
    Path::new(DIR).join("00000001.seg")
}

type Seen = Vec<(LogId, u64, Vec<u8>)>;

fn open(disk: &MemoryDisk) -> Result<(Journal, Vec<Damage>, Seen), OpenError> {
    let mut seen = Seen::new();
    let mut visit = |record: &Record<'_>, _| seen.push((record.log, record.seq, record.bytes.to_vec()));
    let opened = Journal::open_on(
        Arc::new(disk.clone()),
        Path::new(DIR),
        Path::new("evidence"),
        Options::default(),
        &mut visit,
    );
    opened.map(|(journal, damage)| (journal, damage, seen))
}

fn written() -> Vec<u8> {
    let disk = MemoryDisk::new();
    let (mut journal, _, _) = open(&disk).unwrap();
    for seq in 1..=4 {
        let (a, b) = (vec![seq as u8; 70], b"a fact".repeat(3));
        let mut records = vec![Record::entry(log(1), seq, &a), Record::checkpoint(log(1), seq, &b)];
        if seq % 2 == 0 {
            records.push(Record::entry(log(2), seq / 2, &b));
        }
        journal.append(&records).unwrap();
    }
    disk.bytes(&segment()).unwrap()
}

/// One more batch of a log of its own, behind `bytes`; only where the header still tells the salt.
fn with_rest(bytes: &[u8]) -> Option<Vec<u8>> {
    let salt = bytes.get(24..32)?;
    let mut payload = vec![1];
    payload.extend([9; 32]);
    payload.push(0);
    let log = LogId {
        device: DeviceKey([9; 32]),
        incarnation: 0,
    };
    let mut crc = [log.device.0.as_slice(), &0u64.to_le_bytes(), &[1], &1u64.to_le_bytes()].concat();
    crc.extend(b"the good rest");
    payload.extend([1, 0, 1, 13]);
    payload.extend(crc32fast::hash(&crc).to_le_bytes());
    payload.extend(b"the good rest");
    let mut out = bytes.to_vec();
    out.extend(batch(&payload, salt));
    Some(out)
}

fn batch(payload: &[u8], salt: &[u8]) -> Vec<u8> {
    let mut out = [&MAGIC, &(payload.len() as u32).to_le_bytes()[..], salt].concat();
    out.extend(crc32fast::hash(&out).to_le_bytes());
    out.extend_from_slice(payload);
    out.extend(crc32fast::hash(&out).to_le_bytes());
    out
}

/// Sums and lengths of the header and of every batch, as far as they can be told, made right again.
fn mended(bytes: &[u8]) -> Vec<u8> {
    let Some((header, mut rest)) = bytes.split_at_checked(HEADER) else {
        return bytes.to_vec();
    };
    let mut out = header[..HEADER - 4].to_vec();
    out.extend(crc32fast::hash(&out).to_le_bytes());
    let salt = out[24..32].to_vec();
    while let Some(at) = rest.windows(4).position(|w| w == MAGIC) {
        out.extend_from_slice(&rest[..at]);
        rest = &rest[at..];
        let Some(length) = rest.get(4..8) else { break };
        let room = rest.len().saturating_sub(HEAD + 4);
        let next = rest.get(4..).and_then(|r| r.windows(4).position(|w| w == MAGIC));
        let said = u32::from_le_bytes(length.try_into().unwrap()) as usize;
        // Up to what it says, or else up to the next one.
        let length = if said <= room {
            said
        } else {
            next.map_or(room, |n| (n + 4).saturating_sub(HEAD + 4).min(room))
        };
        if rest.len() < HEAD + length + 4 {
            break;
        }
        out.extend(batch(&records_mended(&rest[HEAD..HEAD + length]), &salt));
        rest = &rest[HEAD + length + 4..];
    }
    out.extend_from_slice(rest);
    out
}

/// The sums of the records, as far as the payload reads.
fn records_mended(payload: &[u8]) -> Vec<u8> {
    let mut out = payload.to_vec();
    let mut at = 0;
    let mut table = Vec::new();
    let Some(count) = varint(payload, &mut at) else {
        return out;
    };
    for _ in 0..count.min(1 << 10) {
        let Some(device) = payload.get(at..at + 32) else {
            return out;
        };
        at += 32;
        let Some(incarnation) = varint(payload, &mut at) else {
            return out;
        };
        table.push((device.to_vec(), incarnation));
    }
    while at < payload.len() {
        let tag = payload[at];
        at += 1;
        let numbers = (
            varint(payload, &mut at),
            varint(payload, &mut at),
            varint(payload, &mut at),
        );
        let (Some(number), Some(seq), Some(len)) = numbers else {
            return out;
        };
        let Some((device, incarnation)) = usize::try_from(number).ok().and_then(|n| table.get(n)) else {
            return out;
        };
        let end = usize::try_from(len).ok().and_then(|len| (at + 4).checked_add(len));
        let Some(bytes) = end.and_then(|end| payload.get(at + 4..end)) else {
            return out;
        };
        let covered = [
            device.as_slice(),
            &incarnation.to_le_bytes(),
            &[tag],
            &seq.to_le_bytes(),
            bytes,
        ]
        .concat();
        out[at..at + 4].copy_from_slice(&crc32fast::hash(&covered).to_le_bytes());
        at += 4 + bytes.len();
    }
    out
}

fn varint(bytes: &[u8], at: &mut usize) -> Option<u64> {
    let mut reader = gladhand_logbook::wire::Reader::new(bytes.get(*at..)?);
    let value = reader.number("n").ok()?;
    *at = bytes.len() - reader.rest().len();
    Some(value)
}

#[test]
fn segments() {
    let target = Target {
        name: "segments",
        kind: Kind::Bytes,
        inputs: 100,
        generator: &|| vec![("four-batches", written())],
    };
    target.run(&mut |bytes| {
        opens(bytes, false);
        let mended = mended(bytes);
        match with_rest(&mended) {
            Some(rest) => opens(&rest, true),
            None => opens(&mended, false),
        }
    });
}

/// Says whether anything of it was good.
fn opens(bytes: &[u8], has_rest: bool) -> bool {
    let disk = MemoryDisk::new();
    disk.put(&segment(), Some(bytes.to_vec()));
    let (journal, damage, seen) = match open(&disk) {
        Ok(opened) => opened,
        Err(e @ OpenError::TooNew { .. }) => {
            assert!(e.to_string().contains("00000001.seg"), "{e}");
            return false;
        }
        Err(e) => panic!("it does not open: {e}"),
    };
    let rest = (
        LogId {
            device: DeviceKey([9; 32]),
            incarnation: 0,
        },
        1,
        b"the good rest".to_vec(),
    );
    assert!(!has_rest || seen.contains(&rest), "the good rest is gone: {damage:?}");
    for found in &damage {
        assert!(found.to_string().contains(".seg"), "{found}");
    }
    let vector = journal.vector();
    drop(journal);
    let (mut journal, left, again) = open(&disk).expect("what was repaired opens");
    assert!(left.is_empty(), "{damage:?}, and then {left:?}");
    assert_eq!((again, journal.vector()), (seen.clone(), vector));
    let own = LogId {
        device: DeviceKey([8; 32]),
        incarnation: 1,
    };
    if journal.head_seq(&own) == 0 {
        journal
            .append(&[Record::entry(own, 1, b"goes on")])
            .expect("it goes on");
    }
    let wrong = journal.verify(&mut |_, _| {}).unwrap();
    // A record whose own sum does not hold in a batch whose sum does: nobody's disk does that, and it is named.
    let named = |d: &Damage| d.kind == DamageKind::Unreadable && d.bytes > 0;
    assert!(wrong.iter().all(named), "{damage:?}, and when verified {wrong:?}");
    seen.len() > usize::from(has_rest)
}
