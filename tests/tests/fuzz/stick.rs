//! Bundles that a stick brings, the frames in them changed and everything signed again, read by a real home: it never
//! panics, stays whole, still answers, and takes what is good of the bundle and of the next.

use std::path::{Path, PathBuf};

use gladhand_facts::VersionVector;
use gladhand_logbook::bundle::{self, Header, MAGIC, PART_HEAD_BYTES, PartHead};
use gladhand_logbook::frame::Frame;
use gladhand_node::config::{Config, Role};
use gladhand_node::{Node, Silent, inspect_bundle};
use gladhand_tests::fuzz::{Kind, Target};
use gladhand_tests::process::copy_folder;
use tempfile::TempDir;

use crate::yard::{self, DEPOT, ILSE, MARA, afternoon, deflated, inflated, raw, sign_again};

/// An input is a bundle whose frames are not compressed: the parts without sums, each a letter, a length and a body.
fn input(frames: &[Frame], header: &Header) -> Vec<u8> {
    let mut out = part(b'H', &serde_json::to_vec(header).unwrap());
    frames.iter().for_each(|f| out.extend(part(b'F', &raw(f))));
    let picture = b"\x89PNG\r\n\x1a\n, or what looks like it";
    out.extend(part(
        b'P',
        &[blake3::hash(picture).as_bytes().as_slice(), picture].concat(),
    ));
    out.extend(part(b'E', &[]));
    out
}

fn part(letter: u8, body: &[u8]) -> Vec<u8> {
    [&[letter], (body.len() as u32).to_le_bytes().as_slice(), body].concat()
}

/// The bundle that an input stands for: sums, compression, signatures and lengths are right.
fn bundle_of(input: &[u8]) -> Vec<u8> {
    let mut out = MAGIC.to_vec();
    let mut rest = input;
    while let Some((head, behind)) = rest.split_first_chunk::<5>() {
        let length = u32::from_le_bytes([head[1], head[2], head[3], head[4]]) as usize;
        let (body, behind) = behind.split_at(length.min(behind.len()));
        rest = behind;
        let body = match head[0] {
            b'F' => frame(body),
            b'E' => {
                let (context, message) = bundle::end_message(&blake3::hash(&out));
                yard::secret(MARA).sign(context, &message).to_vec()
            }
            _ => body.to_vec(),
        };
        out.push(head[0]);
        out.extend((body.len() as u32).to_le_bytes());
        out.extend(&blake3::hash(&body).as_bytes()[..8]);
        out.extend(body);
    }
    out
}

fn frame(raw: &[u8]) -> Vec<u8> {
    let bytes = deflated(raw);
    let Ok(mut frame) = Frame::decode(&bytes) else {
        return bytes;
    };
    sign_again(&mut frame);
    frame.encode().unwrap()
}

fn header(frames: u64, upto: VersionVector) -> Header {
    Header {
        written: None,
        writer: yard::secret(MARA).public(),
        root: Some(yard::secret(DEPOT).public()),
        since: VersionVector::new(),
        upto,
        frames,
        entries: 9,
        credentials: vec![yard::credential(MARA), yard::credential(ILSE)],
    }
}

fn afternoons() -> Vec<(&'static str, Vec<u8>)> {
    let (depot, mara) = afternoon();
    let nothing = VersionVector::new();
    let (mut all, early) = (depot.frames_for(&nothing), mara.frames_for(&depot.book.vector()));
    all.extend(early);
    let header = header(all.len() as u64, depot.book.vector());
    vec![
        ("afternoon", input(&all, &header)),
        ("mara", input(&mara.frames_for(&nothing), &header)),
    ]
}

/// A home of the depot's fleet that holds nothing yet, to be copied.
struct Homes {
    dir: TempDir,
    count: u32,
}

impl Homes {
    fn new() -> Self {
        let dir = tempfile::tempdir().unwrap();
        let mut config = Config::new("laptop-theo", Role::Laptop, "theo", "");
        config.depot = yard::secret(DEPOT).public().to_string();
        Node::create(&dir.path().join("model"), &config)
            .unwrap()
            .close()
            .unwrap();
        Self { dir, count: 0 }
    }

    fn next(&mut self) -> (PathBuf, Node) {
        let before = self.dir.path().join(self.count.to_string());
        std::fs::remove_dir_all(&before).ok();
        self.count += 1;
        let path = self.dir.path().join(self.count.to_string());
        copy_folder(&self.dir.path().join("model"), &path);
        let node = Node::open(&path, &Silent).unwrap();
        (path, node)
    }
}

#[test]
fn bundles() {
    let target = Target {
        name: "bundles",
        kind: Kind::Bytes,
        inputs: 30,
        generator: &afternoons,
    };
    let mut homes = Homes::new();
    let dir = tempfile::tempdir().unwrap();
    let (file, good) = (dir.path().join("changed.bundle"), dir.path().join("good.bundle"));
    let ilse = Frame {
        runs: vec![yard::good_run()],
    };
    std::fs::write(&good, bundle_of(&input(&[ilse], &header(1, VersionVector::new())))).unwrap();
    let mut reader = homes.next();
    target.run(&mut |bytes| {
        let bundle = bundle_of(bytes);
        std::fs::write(&file, &bundle).unwrap();
        if let Err(e) = inspect_bundle(&file) {
            assert!(!gladhand::failure::Failure::from(e).what.is_empty());
        }
        let entries = read(&mut reader.1, &file);
        if entries > 0 {
            holds(&mut reader, &good);
            reader = homes.next();
        }
        entries > 0
    });
}

/// Reads it; says how much of it was taken.
fn read(node: &mut Node, file: &Path) -> u64 {
    match node.read_bundle(file, &Silent) {
        Ok(done) => {
            let told = done.refused.iter().chain(&done.damaged);
            told.for_each(|words| assert!(!words.is_empty()));
            done.entries
        }
        Err(e) => {
            let failure = gladhand::failure::Failure::from(e);
            assert!(failure.what.contains("changed.bundle"), "{}", failure.what);
            0
        }
    }
}

/// Everything that was taken reads back; it answers; it takes the next bundle; and all this once more when opened again.
fn holds((path, node): &mut (PathBuf, Node), good: &Path) {
    let verified = node.verify(&Silent).unwrap();
    // An entry that its device signed and nobody can read is named, and keeps its place.
    assert!(
        verified.wrong.iter().all(|w| w.place.contains(" entry ")),
        "{verified:?}"
    );
    let findings = node.findings().unwrap();
    let report = node.report(&gladhand_reconcile::Filter::default()).unwrap();
    node.read_bundle(good, &Silent).unwrap();
    let held = node.book().head(&yard::log(ILSE)).0;
    assert_eq!(held, yard::good_run().last(), "the good rest");
    assert!(findings.len() < 10_000 && serde_json::to_string(&report).is_ok());
    let _ = path;
}

/// The bundle of an unchanged input is a whole one.
#[test]
fn an_unchanged_input_is_a_whole_bundle() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("whole.bundle");
    let (_, bytes) = afternoons().swap_remove(1);
    let bundle = bundle_of(&bytes);
    let head: [u8; PART_HEAD_BYTES] = bundle[MAGIC.len()..][..PART_HEAD_BYTES].try_into().unwrap();
    assert!(PartHead::parse(&head, 0).is_ok());
    assert!(inflated(&deflated(b"abc")).is_some());
    std::fs::write(&file, bundle).unwrap();
    let mut homes = Homes::new();
    let (_, mut node) = homes.next();
    let done = node.read_bundle(&file, &Silent).unwrap();
    assert!(
        done.complete && done.damaged.is_empty(),
        "{:?} {:?}",
        done.damaged,
        done.refused
    );
}

/// Found by the target `bundles`: an enrolled device signs a change that nobody can read. `verify` named it, and then said for
/// ever that the index did not agree, which making it anew could not help.
#[test]
fn a_signed_change_that_nobody_can_read_is_named_and_nothing_else_is() {
    let mut mara = yard::Node::device(MARA);
    let change = b"no change at all".to_vec();
    mara.write(vec![gladhand_logbook::Body::Change {
        job: "J1".into(),
        change,
    }]);
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("unreadable.bundle");
    let frames = mara.frames_for(&VersionVector::new());
    std::fs::write(&file, bundle_of(&input(&frames, &header(1, mara.book.vector())))).unwrap();
    let mut homes = Homes::new();
    let (_, mut node) = homes.next();
    node.read_bundle(&file, &Silent).unwrap();
    let wrong = node.verify(&Silent).unwrap().wrong;
    assert!(wrong.len() == 1 && wrong[0].place.ends_with("entry 3"), "{wrong:?}");
}
