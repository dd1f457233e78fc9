//! Devices in memory whose keys the targets hold, the frames between them, and frames made right again.

use std::collections::BTreeMap;

use gladhand_facts::{LogId, VersionVector};
use gladhand_logbook::book::NewRecord;
use gladhand_logbook::checkpoint::Checkpoint;
use gladhand_logbook::entry;
use gladhand_logbook::frame::{EntryRun, Frame, Source};
use gladhand_logbook::governance::{Credential, Invite, Record};
use gladhand_logbook::plan::{self, Stretch};
use gladhand_logbook::{Body, Book, DeviceSecret, GateError, NewRecords};

/// The depot.
pub const DEPOT: u8 = 1;
/// A laptop whose key the target holds.
pub const MARA: u8 = 2;
/// A laptop whose entries nobody changes: the good rest.
pub const ILSE: u8 = 3;

pub const NOW_US: i64 = 1_772_485_200_000_000;

pub fn secret(n: u8) -> DeviceSecret {
    DeviceSecret::from_seed(&[n; 32])
}

pub fn log(n: u8) -> LogId {
    LogId {
        device: secret(n).public(),
        incarnation: 1,
    }
}

pub fn credential(n: u8) -> Credential {
    let invite = Invite::make(&secret(DEPOT), [n + 100; 32], "", i64::MAX);
    invite.accept(secret(n).public(), &format!("node {n}"), "", 0).unwrap()
}

/// A node without a disk.
pub struct Node {
    pub book: Book,
    entries: BTreeMap<(LogId, u64), Vec<u8>>,
    checkpoints: BTreeMap<(LogId, u64), [u8; 64]>,
}

impl Node {
    /// Somebody who knows who was invited, and holds nothing.
    pub fn reader() -> Self {
        let mut book = Book::new(Some(secret(DEPOT).public()));
        for n in [MARA, ILSE] {
            assert!(book.roster_mut().learn_credential(credential(n)));
        }
        Self {
            book,
            entries: BTreeMap::new(),
            checkpoints: BTreeMap::new(),
        }
    }

    /// A device that has introduced itself and joined.
    pub fn device(n: u8) -> Self {
        let mut node = Self::reader();
        node.book.write_as(secret(n), log(n));
        let introduce = Record::Introduce {
            name: format!("node {n}"),
            person: String::new(),
            depot: n == DEPOT,
        };
        node.write(vec![Body::Governance(introduce.encode().unwrap())]);
        if n != DEPOT {
            let credential = credential(n);
            node.write(vec![Body::Governance(Record::Join { credential }.encode().unwrap())]);
        }
        node
    }

    pub fn write(&mut self, bodies: Vec<Body>) {
        let new = self.book.write(bodies, NOW_US).unwrap();
        self.keep(new);
    }

    pub fn note(&mut self, text: &str) {
        self.write(vec![Body::Loose(vec![format!(r#"{{"kind":"note","text":"{text}"}}"#)])]);
    }

    fn keep(&mut self, new: NewRecords) {
        for record in &new.records {
            match record {
                NewRecord::Entry { log, seq, bytes } => {
                    assert!(
                        self.entries.insert((*log, *seq), bytes.clone()).is_none(),
                        "written twice"
                    );
                }
                NewRecord::Checkpoint(c) => drop(self.checkpoints.insert((c.log, c.seq), c.signature)),
            }
        }
        self.book.apply(new);
        assert_eq!(self.book.vector().entries(), self.entries.len() as u64);
    }

    pub fn take_in(&mut self, frame: &Frame) -> Vec<GateError> {
        let hash_of = |log: &LogId, seq: u64| self.entries.get(&(*log, seq)).map(|b| entry::hash(log, b));
        let incoming = self.book.admit(frame, &hash_of);
        self.keep(incoming.new);
        incoming.refused
    }

    pub fn frames_for(&self, theirs: &VersionVector) -> Vec<Frame> {
        let groups = plan::plan(&self.book, theirs, &|_, from, to| (to - from + 1) * 100, &|_| true);
        groups.iter().map(|g| Frame::gather(g, self).unwrap()).collect()
    }
}

impl Source for Node {
    fn entries(&self, s: &Stretch) -> Option<Vec<Vec<u8>>> {
        (s.from..=s.to)
            .map(|seq| self.entries.get(&(s.log, seq)).cloned())
            .collect()
    }
    fn checkpoint(&self, log: &LogId, seq: u64) -> Option<[u8; 64]> {
        self.checkpoints.get(&(*log, seq)).copied()
    }
}

/// Depot and Mara's laptop after an afternoon in which they met twice.
pub fn afternoon() -> (Node, Node) {
    let (mut depot, mut mara) = (Node::device(DEPOT), Node::device(MARA));
    let stock: Vec<String> = (0..4)
        .map(|n| format!(r#"{{"camera":"LC-{n}","fleet":"Larkspur Freight","kind":"stock"}}"#))
        .collect();
    depot.write(vec![Body::Loose(stock)]);
    for turn in 0..2 {
        for frame in depot.frames_for(&mara.book.vector()) {
            assert!(mara.take_in(&frame).is_empty());
        }
        for n in 0..3 {
            mara.note(&format!("turn {turn}, note {n}"));
        }
        mara.write(vec![
            Body::Unknown {
                tag: 77,
                bytes: vec![turn; 40],
            },
            Body::Governance(clock_reading().encode().unwrap()),
        ]);
        for frame in mara.frames_for(&depot.book.vector()) {
            assert!(depot.take_in(&frame).is_empty());
        }
        depot.write(vec![Body::Governance(enrolment().encode().unwrap())]);
    }
    (depot, mara)
}

fn clock_reading() -> Record {
    Record::Clock {
        peer: secret(DEPOT).public(),
        offset_us: -3_000_000,
        delay_us: 20_000,
        at_us: NOW_US,
    }
}

fn enrolment() -> Record {
    Record::Enrol {
        device: secret(MARA).public(),
        name: "node 2".into(),
        person: "mara".into(),
        invite: credential(MARA).invite,
    }
}

/// The run that nobody changes.
pub fn good_run() -> EntryRun {
    let mut ilse = Node::device(ILSE);
    ilse.note("the good rest");
    let frames = ilse.frames_for(&VersionVector::new());
    frames.into_iter().flat_map(|f| f.runs).next().unwrap()
}

/// Signs the runs of the depot and of Mara's laptop as those would: their checkpoints fit what now stands in the run.
pub fn sign_again(frame: &mut Frame) {
    for run in &mut frame.runs {
        let Some(key) = [DEPOT, MARA]
            .into_iter()
            .map(secret)
            .find(|s| s.public() == run.log.device)
        else {
            continue;
        };
        let chained = run.chained();
        let mut seqs: Vec<u64> = run.checkpoints.iter().map(|c| c.seq).collect();
        seqs.push(run.last());
        seqs.sort_unstable();
        seqs.dedup();
        let inside = seqs.iter().take(64).filter(|seq| **seq >= run.first);
        let signed: Vec<Checkpoint> = inside
            .filter_map(|seq| Some(Checkpoint::sign(&key, run.log, *seq, &chained.hash_at(*seq)?)))
            .collect();
        run.checkpoints = signed;
    }
}

/// The bytes of a frame before it is compressed.
pub fn raw(frame: &Frame) -> Vec<u8> {
    inflated(&frame.encode().unwrap()).unwrap()
}

/// What was compressed, if that is what it is.
pub fn inflated(bytes: &[u8]) -> Option<Vec<u8>> {
    let mut reader = gladhand_logbook::wire::Reader::new(bytes);
    let length = reader.count(gladhand_logbook::frame::MAX_RAW_BYTES, "length").ok()?;
    zstd::bulk::decompress(reader.rest(), length.min(4 << 20)).ok()
}

/// Compressed as a frame is, with the right length before it.
pub fn deflated(raw: &[u8]) -> Vec<u8> {
    let mut out = Vec::new();
    gladhand_logbook::wire::put_number(&mut out, raw.len() as u64);
    out.extend(zstd::bulk::compress(raw, 1).unwrap());
    out
}
