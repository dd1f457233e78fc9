//! The index can be lost in any way and comes back as it was.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::PathBuf;

use gladhand_facts::FactId;
use proptest::prelude::*;

use super::*;
use crate::tests::{append, entry, log};
use crate::{Journal, Record};

struct IndexBed {
    folder: tempfile::TempDir,
    journal: Journal,
}

/// What a test files of each entry: a word that many share, one that few share, one of its own.
fn file(record: &Record<'_>) -> [(Vec<u8>, Place); 3] {
    let (n, seq) = (record.log.device.0[0], record.seq);
    let place = Place {
        log: record.log,
        seq,
        index: (seq % 3) as u32,
    };
    let subjects = [
        format!("log/{n}"),
        format!("camera/{}", seq % 7),
        format!("job/{n}/{seq}"),
    ];
    subjects.map(|subject| (subject.into_bytes(), place))
}

fn fact(place: &Place) -> FactId {
    FactId(*blake3::hash(format!("{place:?}").as_bytes()).as_bytes())
}

impl IndexBed {
    fn new(entries: u64) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let bench = Self {
            journal: open_journal(folder.path()),
            folder,
        };
        bench.with(entries)
    }

    fn with(mut self, entries: u64) -> Self {
        for _ in 0..entries {
            let n = (self.journal.disk_bytes() % 3) as u8;
            let next = self.journal.head_seq(&log(n)) + 1;
            append(&mut self.journal, &[entry(n, next)]);
        }
        self
    }

    fn dir(&self) -> PathBuf {
        self.folder.path().join("index")
    }

    fn evidence(&self) -> PathBuf {
        self.folder.path().join("evidence")
    }

    fn open(&self) -> (Index, IndexState) {
        Index::open(&self.dir(), &self.evidence(), &self.journal, 1).unwrap()
    }

    /// Files what is not in the index yet, in batches of five journal batches.
    fn catch_up(&self, index: &mut Index) -> Result<(), IndexError> {
        let batches: Vec<_> = self.journal.scan_from(index.applied()).map(Result::unwrap).collect();
        for chunk in batches.chunks(5) {
            let end = chunk.last().unwrap().end();
            let mut batch = IndexBatch::new(end, self.journal.fingerprint(end).unwrap());
            for record in chunk.iter().flat_map(|batch| batch.records()) {
                batch.postings.extend(file(&record));
                let place = file(&record)[0].1;
                batch.facts.push((fact(&place), place));
                let count = format!("{:?}", record.seq).into_bytes();
                batch
                    .values
                    .push((format!("head/{}", record.log.device.0[0]).into_bytes(), Some(count)));
            }
            index.apply(batch)?;
        }
        Ok(())
    }

    /// What a kill leaves of an index that was closed in order: the same without the note.
    fn as_if_killed(&self) {
        fs::remove_file(self.dir().join("clean")).unwrap();
    }

    fn expected(&self) -> Content {
        let mut content = Content::default();
        for batch in self.journal.scan_from(Position::START).map(Result::unwrap) {
            for record in batch.records() {
                for (subject, place) in file(&record) {
                    content.about.entry(subject).or_default().insert(place);
                }
                let head = format!("{:?}", record.seq).into_bytes();
                content
                    .values
                    .insert(format!("head/{}", record.log.device.0[0]).into_bytes(), head);
            }
        }
        content
    }

    /// What an owner of an index does: opens it, feeds it what it lacks, and once more if it breaks.
    fn use_it(&self) -> Content {
        let (mut index, _) = self.open();
        let read = self.catch_up(&mut index).and_then(|()| content(&index));
        let content = match read {
            Err(IndexError::Broken { .. }) => {
                index.clear().unwrap();
                self.catch_up(&mut index).and_then(|()| content(&index)).unwrap()
            }
            other => other.unwrap(),
        };
        index.close().unwrap();
        content
    }
}

#[derive(Debug, Default, PartialEq, Eq)]
struct Content {
    about: BTreeMap<Vec<u8>, BTreeSet<Place>>,
    values: BTreeMap<Vec<u8>, Vec<u8>>,
}

fn content(index: &Index) -> Result<Content, IndexError> {
    let mut content = Content {
        values: index.values(b"").collect::<Result<_, _>>()?,
        ..Content::default()
    };
    for subject in index.subjects(b"") {
        let subject = subject?;
        let places = index.about(&subject)?;
        for place in places.iter().filter(|_| subject.starts_with(b"job/")) {
            assert_eq!(index.fact(&fact(place))?, Some(*place));
        }
        content.about.insert(subject, places.into_iter().collect());
    }
    Ok(content)
}

fn open_journal(folder: &Path) -> Journal {
    let mut journal = Journal::open(&folder.join("log"), &folder.join("evidence"), &mut |_, _| {})
        .unwrap()
        .0;
    journal.set_floor_bytes(0);
    journal
}

#[path = "index/corruption_tests.rs"]
mod corruption;

#[test]
fn an_index_is_fresh_then_current_then_behind() {
    let bench = IndexBed::new(50);
    let (mut index, state) = bench.open();
    assert_eq!(
        (state, index.applied()),
        (IndexState::Fresh(FreshWhy::New), Position::START)
    );
    bench.catch_up(&mut index).unwrap();
    assert_eq!(content(&index).unwrap(), bench.expected());
    index.flush().unwrap();
    drop(index);

    let (index, state) = bench.open();
    assert_eq!((state, index.applied()), (IndexState::Current, bench.journal.end()));
    assert_eq!(content(&index).unwrap(), bench.expected());
    drop(index);

    let bench = bench.with(20);
    let (mut index, state) = bench.open();
    assert_eq!(state, IndexState::Behind);
    bench.catch_up(&mut index).unwrap();
    assert_eq!(content(&index).unwrap(), bench.expected());
}

#[test]
fn questions_are_answered() {
    let bench = IndexBed::new(60);
    let (mut index, _) = bench.open();
    bench.catch_up(&mut index).unwrap();
    let subjects: Vec<_> = index
        .subjects(b"camera/")
        .map(|s| String::from_utf8(s.unwrap()).unwrap())
        .collect();
    assert_eq!(subjects, (0..7).map(|n| format!("camera/{n}")).collect::<Vec<_>>());
    assert_eq!(index.about(b"camera/").unwrap(), []);
    assert_eq!(index.about(b"nobody").unwrap(), []);
    assert_eq!(index.fact(&FactId([0; 32])).unwrap(), None);
    assert_eq!(index.value(b"head").unwrap(), None);
    assert!(index.value(b"head/1").unwrap().is_some());
    let place = Place {
        log: log(1),
        seq: 1,
        index: 1,
    };
    assert_eq!(index.about(b"job/1/1").unwrap(), [place]);
    let id = fact(&place);
    assert_eq!(index.fact(&id).unwrap(), Some(place));
    for digits in [5, 6, 64] {
        let start: String = id.to_string().chars().take(digits).collect();
        assert_eq!(index.facts_beginning(&start, 9).unwrap(), [(id, place)], "{start}");
    }
    assert_eq!(index.facts_beginning("", 5).unwrap().len(), 5);
    assert_eq!(index.facts_beginning("not hexadecimal", 5).unwrap(), []);
}

#[test]
fn values_are_set_and_removed() {
    let bench = IndexBed::new(1);
    let (mut index, _) = bench.open();
    let set = |key: &[u8], value: Option<Vec<u8>>| {
        let mut batch = IndexBatch::new(bench.journal.end(), 0);
        batch.values.push((key.to_vec(), value));
        batch
    };
    index.apply(set(b"finding/1", Some(b"open".to_vec()))).unwrap();
    index.apply(set(b"finding/2", Some(vec![1]))).unwrap();
    index.apply(set(b"finding/2", None)).unwrap();
    assert_eq!(index.values(b"finding/").count(), 1);
    assert_eq!(index.value(b"finding/1").unwrap(), Some(b"open".to_vec()));
    assert_eq!(index.value(b"finding/2").unwrap(), None);
    let broken = index.db.broken("as if something did not decode");
    assert!(matches!(broken, IndexError::Broken { .. }));
    // Once broken it answers nothing until it is cleared.
    assert!(matches!(index.value(b"finding/1"), Err(IndexError::Broken { .. })));
    assert!(index.values(b"").next().unwrap().is_err());
    assert_eq!(index.values(b"").count(), 1, "an error ends it");
    index.clear().unwrap();
    assert_eq!(
        (index.value(b"finding/1").unwrap(), index.applied()),
        (None, Position::START)
    );
    assert!(bench.evidence().join("index-1").is_dir(), "the broken one is kept");
}

#[test]
fn postings_of_several_batches_for_one_position_all_count() {
    let bench = IndexBed::new(1);
    let (mut index, _) = bench.open();
    let end = bench.journal.end();
    let mut expected = Vec::new();
    for seq in 1..=5 {
        let place = Place {
            log: log(1),
            seq,
            index: 0,
        };
        let mut batch = IndexBatch::new(end, bench.journal.fingerprint(end).unwrap());
        batch.postings.extend([(b"x".to_vec(), place), (b"x".to_vec(), place)]);
        index.apply(batch).unwrap();
        expected.push(place);
    }
    assert_eq!(index.about(b"x").unwrap(), expected);
}

#[test]
fn another_schema_or_journal_means_fresh() {
    let bench = IndexBed::new(30);
    bench.use_it();
    let (index, state) = Index::open(&bench.dir(), &bench.evidence(), &bench.journal, 2).unwrap();
    assert_eq!(
        (state, index.applied()),
        (IndexState::Fresh(FreshWhy::OtherSchema), Position::START)
    );
    drop(index);
    bench.use_it();

    let other = IndexBed::new(30);
    let (index, state) = Index::open(&bench.dir(), &bench.evidence(), &other.journal, 1).unwrap();
    assert_eq!(state, IndexState::Fresh(FreshWhy::OtherJournal));
    assert_eq!(content(&index).unwrap(), Content::default());
}

#[test]
fn a_repaired_journal_means_fresh() {
    let mut bench = IndexBed::new(30);
    bench.use_it();
    let segment = bench.folder.path().join("log/00000001.seg");
    let mut bytes = fs::read(&segment).unwrap();
    // More than one bit: a single one is put right, and nothing is stale then.
    bytes[500] ^= 3;
    fs::write(&segment, bytes).unwrap();
    bench.journal = open_journal(bench.folder.path());
    let (index, state) = bench.open();
    assert_eq!(state, IndexState::Fresh(FreshWhy::OtherJournal));
    drop(index);
    assert_eq!(bench.use_it(), bench.expected());
}

#[test]
fn after_a_power_cut_only_a_synced_index_is_believed() {
    let bench = IndexBed::new(30);
    let boot = bench.dir().join("boot");
    bench.use_it();
    bench.as_if_killed();
    fs::write(&boot, "an earlier start of the machine").unwrap();
    let (index, state) = bench.open();
    assert_eq!(state, IndexState::Current, "everything was flushed");
    drop(index);

    let bench = bench.with(10);
    let (mut index, _) = bench.open();
    bench.catch_up(&mut index).unwrap();
    drop(index);
    bench.as_if_killed();
    let (index, state) = bench.open();
    assert_eq!(state, IndexState::Current, "a kill is no power cut");
    drop(index);
    bench.as_if_killed();
    fs::write(&boot, "an earlier start of the machine").unwrap();
    let (index, state) = bench.open();
    assert_eq!(state, IndexState::Fresh(FreshWhy::PowerCut));
    drop(index);
    assert_eq!(bench.use_it(), bench.expected());
}

#[test]
fn an_index_closed_in_order_is_never_taken_for_a_damaged_one() {
    let mut bench = IndexBed::new(10);
    bench.use_it();
    for round in 0..40 {
        bench = bench.with(1);
        let (mut index, state) = bench.open();
        assert_eq!(state, IndexState::Behind, "round {round}");
        bench.catch_up(&mut index).unwrap();
        index.close().unwrap();
    }
}

#[test]
fn an_index_that_is_open_is_not_moved_aside() {
    let bench = IndexBed::new(3);
    let (index, _) = bench.open();
    let second = Index::open(&bench.dir(), &bench.evidence(), &bench.journal, 1).unwrap_err();
    assert!(matches!(second, IndexError::Io { .. }), "{second}");
    drop(index);
    let (_, state) = bench.open();
    assert!(!matches!(state, IndexState::Fresh(FreshWhy::Broken { .. })));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    #[test]
    fn any_subjects_come_back(subjects in proptest::collection::vec(proptest::collection::vec(0u8..3, 0..4), 1..60)) {
        let bench = IndexBed::new(1);
        let (mut index, _) = bench.open();
        let mut expected: BTreeMap<Vec<u8>, Vec<Place>> = BTreeMap::new();
        for (i, subject) in subjects.iter().enumerate() {
            let place = Place { log: log((i % 3) as u8), seq: i as u64 + 1, index: 0 };
            let mut batch = IndexBatch::new(bench.journal.end(), 0);
            batch.postings.push((subject.clone(), place));
            index.apply(batch).unwrap();
            expected.entry(subject.clone()).or_default().push(place);
        }
        for prefix in subjects.iter().chain([&vec![]]) {
            let found: Vec<_> = index.subjects(prefix).map(Result::unwrap).collect();
            let wanted: Vec<_> = expected.keys().filter(|s| s.starts_with(prefix)).cloned().collect();
            prop_assert_eq!(found, wanted);
        }
        for (subject, mut places) in expected {
            places.sort();
            prop_assert_eq!(index.about(&subject).unwrap(), places);
        }
    }
}

#[test]
fn what_was_synced_of_an_earlier_database_says_nothing_of_a_later_one() {
    let bench = IndexBed::new(10);
    bench.use_it();
    let (mut index, _) = bench.open();
    index.clear().unwrap();
    // As many batches as were synced in the one before, and no flush.
    bench.catch_up(&mut index).unwrap();
    drop(index);
    bench.as_if_killed();
    fs::write(bench.dir().join("boot"), "an earlier start of the machine").unwrap();
    assert_eq!(bench.open().1, IndexState::Fresh(FreshWhy::PowerCut));
}

/// What is replaced, removed and added while a reader is in use does not show in it.
#[test]
fn a_reader_reads_what_was_there_when_it_was_made() {
    let mut bench = IndexBed::new(60);
    let (mut index, _) = bench.open();
    bench.catch_up(&mut index).unwrap();
    let put = |index: &mut Index, values: Vec<(&[u8], Option<&[u8]>)>| {
        let end = bench.journal.end();
        let values = values
            .into_iter()
            .map(|(key, value)| (key.to_vec(), value.map(<[u8]>::to_vec)));
        let batch = IndexBatch {
            values: values.collect(),
            ..IndexBatch::new(end, bench.journal.fingerprint(end).unwrap())
        };
        index.apply(batch).unwrap();
    };
    put(&mut index, vec![(b"kept", Some(b"1")), (b"gone", Some(b"2"))]);
    let expected = content(&index).unwrap();
    let reader = index.reader(bench.journal.vector());
    put(
        &mut index,
        vec![(b"gone", None), (b"kept", Some(b"3")), (b"new", Some(b"4"))],
    );
    put(&mut index, vec![(b"kept", Some(b"5"))]);
    assert_eq!(content(&reader).unwrap(), expected);
    assert_eq!(reader.value(b"gone").unwrap().as_deref(), Some(b"2".as_slice()));
    assert_eq!(index.value(b"kept").unwrap().as_deref(), Some(b"5".as_slice()));
    // New entries, also of a log that had no number yet.
    append(&mut bench.journal, &[entry(9, 1)]);
    bench = bench.with(20);
    bench.catch_up(&mut index).unwrap();
    assert_eq!(content(&reader).unwrap(), expected);
    assert_ne!(content(&index).unwrap(), expected);
    let later = index.reader(bench.journal.vector());
    assert_eq!(content(&later).unwrap(), content(&index).unwrap());
}

#[test]
fn a_reader_does_not_write() {
    let bench = IndexBed::new(5);
    let (index, _) = bench.open();
    let mut reader = index.reader(bench.journal.vector());
    assert!(matches!(reader.apply(IndexBatch::default()), Err(IndexError::Reader)));
    assert!(matches!(reader.flush(), Err(IndexError::Reader)));
    assert!(matches!(reader.clear(), Err(IndexError::Reader)));
}

/// Resting costs nothing but time: what was asked before is there, readers go on, and a close in order is one.
#[test]
fn an_index_that_rested_is_asked_and_written_as_before() {
    let bench = IndexBed::new(60);
    let (mut index, _) = bench.open();
    bench.catch_up(&mut index).unwrap();
    let reader = index.reader(bench.journal.vector());
    index.rest().unwrap();
    assert_eq!(content(&reader).unwrap(), bench.expected());
    index.rest().unwrap();
    let bench = bench.with(20);
    bench.catch_up(&mut index).unwrap();
    index.rest().unwrap();
    drop(reader);
    drop(index);
    let (index, state) = bench.open();
    assert_eq!(state, IndexState::Current);
    assert_eq!(content(&index).unwrap(), bench.expected());
}
