//! Nodes in memory for the tests: a book, and what it has made durable.

#![allow(dead_code, missing_docs)]

use std::collections::BTreeMap;

use gladhand_facts::{LogId, VersionVector};
use gladhand_logbook::book::NewRecord;
use gladhand_logbook::frame::{Frame, Source};
use gladhand_logbook::governance::{Invite, Record};
use gladhand_logbook::plan::{self, Stretch};
use gladhand_logbook::{Body, Book, DeviceSecret, Entry, GateError, NewRecords, entry};

pub struct Node {
    pub book: Book,
    pub log: LogId,
    pub entries: BTreeMap<(LogId, u64), Vec<u8>>,
    pub checkpoints: BTreeMap<(LogId, u64), [u8; 64]>,
}

pub fn secret(n: u8) -> DeviceSecret {
    DeviceSecret::from_seed(&[n; 32])
}

impl Node {
    /// Node 1 is the depot; the others hold its invite.
    pub fn new(n: u8) -> Self {
        let root = secret(1).public();
        let log = LogId {
            device: secret(n).public(),
            incarnation: 1,
        };
        let mut book = Book::new(Some(root));
        book.write_as(secret(n), log);
        let mut node = Self {
            book,
            log,
            entries: BTreeMap::new(),
            checkpoints: BTreeMap::new(),
        };
        let introduce = Record::Introduce {
            name: format!("node {n}"),
            person: String::new(),
            depot: n == 1,
        };
        node.write(vec![Body::Governance(introduce.encode().unwrap())]);
        if n != 1 {
            let invite = Invite::make(&secret(1), [n + 100; 32], "", i64::MAX);
            let credential = invite.accept(log.device, &format!("node {n}"), "", 0).unwrap();
            assert!(node.book.roster_mut().learn_credential(credential.clone()));
            node.write(vec![Body::Governance(Record::Join { credential }.encode().unwrap())]);
        }
        node
    }

    pub fn write(&mut self, bodies: Vec<Body>) {
        let new = self.book.write(bodies, 1_000).unwrap();
        self.keep(new);
    }

    pub fn note(&mut self, text: &str) {
        self.write(vec![Body::Loose(vec![format!(r#"{{"kind":"note","text":"{text}"}}"#)])]);
    }

    pub fn keep(&mut self, new: NewRecords) {
        let mut came = Vec::new();
        for record in &new.records {
            match record {
                NewRecord::Entry { log, seq, bytes } => {
                    assert!(
                        self.entries.insert((*log, *seq), bytes.clone()).is_none(),
                        "written twice"
                    );
                    came.push((*log, *seq));
                }
                NewRecord::Checkpoint(c) => {
                    self.checkpoints.insert((c.log, c.seq), c.signature);
                }
            }
        }
        self.book.apply(new);
        self.assert_true(&came);
    }

    /// What these entries had seen is here too, unless it counts on no node any more, or is of the other branch of a fork.
    fn assert_true(&self, came: &[(LogId, u64)]) {
        let vector = self.book.vector();
        for (log, seq) in came {
            let header = Entry::header(&self.entries[&(*log, *seq)]).unwrap();
            let missing = header.seen.beyond(&vector);
            let forks = self.book.roster().forks();
            let is_forked = |log: LogId| forks.iter().any(|f| f.log == log);
            let counts = missing
                .iter()
                .any(|(other, to)| self.book.counts(&other, to).is_ok() && !is_forked(other));
            assert!(
                vector.includes(log, *seq) && !counts,
                "{log:?} {seq} saw what is not here"
            );
        }
        assert_eq!(vector.entries(), self.entries.len() as u64);
    }

    pub fn take_in(&mut self, frame: &Frame) -> Vec<GateError> {
        let hash_of = |log: &LogId, seq: u64| self.entries.get(&(*log, seq)).map(|b| entry::hash(log, b));
        let incoming = self.book.admit(frame, &hash_of);
        self.keep(incoming.new);
        incoming.refused
    }

    pub fn learn(&mut self, other: &Book) {
        for device in other.roster().devices() {
            if let Some(credential) = other.roster().credential(&device) {
                self.book.roster_mut().learn_credential(credential.clone());
            }
        }
    }

    pub fn frames_for(&self, theirs: &VersionVector) -> Vec<Frame> {
        let groups = plan::plan(&self.book, theirs, &|_, from, to| (to - from + 1) * 100, &|_| true);
        groups
            .iter()
            .map(|g| Frame::decode(&Frame::gather(g, self).unwrap().encode().unwrap()).unwrap())
            .collect()
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
