//! Invites and bundles that are not what they should be: strangers, copies, cuts, changed bytes, retired devices. A clear
//! message with the file and the place, the right exit code, nothing lost, the good part kept.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use gladhand_logbook::DeviceSecret;
use gladhand_logbook::bundle::{self, Header, MAGIC, PART_HEAD_BYTES, PartHead};
use gladhand_node::{Node, Silent};
use gladhand_tests::facts::{fitting, notes};
use gladhand_tests::{Fleet, Home, SeededRng, demo_data, fleet};

// ---- Invites ----

#[test]
fn invites_that_cannot_be_used() {
    let fleet = Fleet::enrolled(&["mara"]);
    let new = |name: &str| Home::laptop(fleet.dir().join(name), name, "");
    let invite = |args: &[&str]| fleet.depot.run(args).done().out.trim().to_owned();
    let good = invite(&["invite"]);
    let one = new("one");
    for bad in [
        "GLADHAND-INVITE-",
        "an invite, please",
        &good[..good.len() - 1],
        &changed(&good),
    ] {
        one.run(&["join", bad])
            .exits(2)
            .says(&["not an invite", "Copy the whole line"]);
    }
    one.run(&["join", &expired_invite(&fleet.depot)])
        .exits(6)
        .says(&["expired", "new one"]);
    one.run(&["join", &good]).done();
    one.run(&["join", &good]).exits(2).says(&["has joined already"]);
    fleet
        .depot
        .run(&["join", &good])
        .exits(2)
        .says(&["a depot does not join"]);
    let other = Home::depot(fleet.dir().join("other-depot"), "other-depot", "");
    let theirs = other.run(&["invite"]).done().out;
    one.run(&["join", theirs.trim()]).exits(6).says(&["belongs to depot"]);
    // The same invite on a second device: the depot enrols whoever comes first.
    let two = new("two");
    two.run(&["join", &good]).done();
    two.record(&notes(1, "second", false));
    fleet.bundles.carry(&one, &fleet.depot).done().shows(&["enrolled one"]);
    let refused = fleet.bundles.carry(&two, &fleet.depot).exits(6);
    refused.says(&["used an invite that enrolled another device", "Nothing was taken"]);
}

/// An invite whose time was over an hour ago.
fn expired_invite(depot: &Home) -> String {
    let node = Node::open(&depot.path, &Silent).unwrap();
    node.invite("", -3_600).unwrap().to_line()
}

/// One letter is another one.
fn changed(invite: &str) -> String {
    let (start, rest) = invite.split_at(40);
    let other = if rest.starts_with('A') { 'B' } else { 'A' };
    format!("{start}{other}{}", &rest[1..])
}

// ---- Bundles ----

#[test]
fn what_is_no_bundle() {
    let fleet = Fleet::enrolled(&["mara"]);
    let before = fleet.depot.vector();
    let file = |name: &str, bytes: &[u8]| {
        let path = fleet.dir().join(name);
        std::fs::write(&path, bytes).unwrap();
        path
    };
    let bundle = fleet.bundles.next();
    fleet.laptops[0].write_bundle(&bundle);
    let mut newer = std::fs::read(&bundle).unwrap();
    newer[16] = b'9';
    let cases = [
        (file("empty", b""), "not a bundle"),
        (file("text", b"kind,job\nnote,J1\n"), "not a bundle"),
        (file("magic-only", b"gladhand-bundle 1\n"), "header"),
        (
            file("cut-in-its-header", &std::fs::read(&bundle).unwrap()[..60]),
            "header",
        ),
        (file("newer", &newer), "written by a newer version"),
        (demo_data().join("proof-0302-M02.png"), "not a bundle"),
    ];
    for (path, word) in &cases {
        let name = path.to_str().unwrap();
        for command in ["read", "verify"] {
            let ran = fleet.depot.run(&["bundle", command, name]).exits(2);
            ran.says(&[name, word]);
        }
    }
    fleet.depot.read_bundle(&cases[4].0).says(&["Update gladhand"]);
    fleet
        .depot
        .read_bundle(&fleet.dir().join("gone"))
        .exits(2)
        .says(&["gone", "No such file"]);
    fleet.depot.read_bundle(fleet.dir()).exits(2).says(&["irectory"]);
    assert_eq!(fleet.depot.vector(), before);
}

#[test]
fn a_bundle_from_a_stranger_is_refused() {
    let fleet = Fleet::enrolled(&["mara"]);
    let depot_key = fleet.depot.status()["device"].as_str().unwrap().to_owned();
    let before = (fleet.depot.vector(), fleet.depot.findings());
    let other_depot = Home::depot(fleet.dir().join("other"), "other-depot", "");
    let unjoined = Home::laptop(fleet.dir().join("unjoined"), "unjoined", "");
    unjoined.record(&notes(2, "from a stranger", true));
    let (theirs, unsure) = (fleet.bundles.next(), fleet.bundles.next());
    other_depot.write_bundle(&theirs);
    unjoined.write_bundle(&unsure);
    // It writes our depot's key into its bundle, which is no secret, instead of joining.
    let pretence = fleet.bundles.next();
    std::fs::write(&pretence, pretended(&unjoined, &unsure, &depot_key)).unwrap();
    for (file, words) in [
        (&theirs, ["belongs to depot", "of the same depot"]),
        (&unsure, ["has not joined a depot", "That device joins with an invite"]),
        (&pretence, ["not enrolled by our depot", "Nothing was taken"]),
    ] {
        for home in fleet.homes() {
            home.read_bundle(file).exits(6).says(&words);
        }
    }
    // And the other way round: who has joined nobody can trust nobody.
    let ours = fleet.bundles.next();
    fleet.laptops[0].write_bundle(&ours);
    unjoined
        .read_bundle(&ours)
        .exits(6)
        .says(&["this home has not joined a depot", "gladhand join"]);
    assert_eq!(
        (fleet.depot.vector(), fleet.depot.findings()),
        before,
        "nothing was taken"
    );
    // What the stranger recorded is his, and goes along once he has joined.
    fleet::join(&fleet.depot, &unjoined);
    fleet
        .bundles
        .carry(&unjoined, &fleet.depot)
        .done()
        .shows(&["enrolled unjoined"]);
    assert_eq!(fleet.depot.fact_ids().len(), 2);
}

/// The bundle with another depot in its header, signed at its end as it should be.
fn pretended(writer: &Home, bundle: &Path, depot: &str) -> Vec<u8> {
    let home = gladhand_store::Home::open(&writer.path, "").unwrap();
    let secret = DeviceSecret::from_seed(home.key_seed());
    let bytes = std::fs::read(bundle).unwrap();
    let header_at = MAGIC.len();
    let head: [u8; PART_HEAD_BYTES] = bytes[header_at..header_at + PART_HEAD_BYTES].try_into().unwrap();
    let length = PartHead::parse(&head, 0).unwrap().length as usize;
    let frames_at = header_at + PART_HEAD_BYTES + length;
    let mut header = Header::decode(&bytes[header_at + PART_HEAD_BYTES..frames_at]).unwrap();
    header.root = Some(depot.parse().unwrap());
    let end_at = bytes.len() - PART_HEAD_BYTES - 64;
    let mut out = MAGIC.to_vec();
    out.extend(header.encode().unwrap());
    out.extend(&bytes[frames_at..end_at]);
    let (context, message) = bundle::end_message(&blake3::hash(&out));
    out.extend(bundle::part(bundle::Kind::End, &secret.sign(context, &message)).unwrap());
    out
}

/// A laptop's bundle of several frames, its depot, and what the depot answers once it has read it.
struct Carried {
    fleet: Fleet,
    bytes: Vec<u8>,
    whole: Home,
    entries: u64,
}

fn carried(count: usize) -> Carried {
    let fleet = Fleet::enrolled(&["mara"]);
    let mut lines = fitting("0302-B1", "LF 5301", "LC-LT91Z9J", "LT500411541");
    lines.extend(notes(count, "note", true));
    fleet.laptops[0].record(&lines);
    let picture = demo_data().join("proof-0302-M02.png");
    fleet.laptops[0]
        .run(&["proof", "0302-B1", "taken", "--picture", picture.to_str().unwrap()])
        .done();
    let file = fleet.bundles.next();
    fleet.laptops[0].write_bundle(&file);
    let whole = fleet.depot.stand_in(fleet.dir().join("whole"));
    whole.read_bundle(&file).done();
    Carried {
        bytes: std::fs::read(&file).unwrap(),
        entries: whole.status()["entries"].as_u64().unwrap(),
        whole,
        fleet,
    }
}

impl Carried {
    /// A fresh depot, and a bundle of these bytes.
    fn put(&self, name: &str, bytes: &[u8]) -> (Home, PathBuf) {
        let file = self.fleet.dir().join(format!("{name}.bundle"));
        std::fs::write(&file, bytes).unwrap();
        (self.fleet.depot.stand_in(self.fleet.dir().join(name)), file)
    }

    /// The whole bundle, read afterwards, completes it.
    fn completes(&self, home: &Home, file: &Path, what: &str) {
        std::fs::write(file, &self.bytes).unwrap();
        home.read_bundle(file).done();
        assert_eq!(home.vector(), self.whole.vector(), "what is held after {what}");
        assert_eq!(home.findings(), self.whole.findings(), "findings after {what}");
    }
}

#[test]
fn a_bundle_cut_in_half_gives_its_good_half() {
    let carried = carried(1_500);
    let before = carried.fleet.depot.status()["entries"].as_u64().unwrap();
    let (home, file) = carried.put("half", &carried.bytes[..carried.bytes.len() / 2]);
    let name = file.to_str().unwrap().to_owned();
    home.run(&["bundle", "verify", &name])
        .exits(2)
        .shows(&["not whole"])
        .says(&["cut off"]);
    let ran = home.read_bundle(&file).exits(4);
    ran.says(&[
        &name,
        "cut off",
        "The good part is recorded",
        "Ask for the bundle again",
    ]);
    let held = home.status()["entries"].as_u64().unwrap();
    assert!(
        held > before && held < carried.entries,
        "{before} < {held} < {}",
        carried.entries
    );
    home.verifies();
    carried.completes(&home, &file, "half a bundle");
    // A reader with nothing but the first bytes of it has nothing good.
    let (home, file) = carried.put("stub", &carried.bytes[..1_100]);
    home.read_bundle(&file).exits(2).says(&["Nothing in it could be used"]);
}

/// The byte walks through a bundle of one small frame and a picture: magic, header, frame, signatures, picture, end.
#[test]
fn a_bundle_with_one_byte_changed_is_never_taken_for_whole() {
    let carried = carried(3);
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    // Every byte without a home: looking through it must find a fault.
    for at in 0..carried.bytes.len() {
        let mut bytes = carried.bytes.clone();
        bytes[at] ^= 0x10;
        let file = carried.fleet.dir().join("look.bundle");
        std::fs::write(&file, &bytes).unwrap();
        let verdict = match gladhand_node::inspect_bundle(&file) {
            Ok((_, faults)) if faults.is_empty() => panic!("byte {at} changed, and the bundle counts as whole"),
            Ok(_) => "named",
            Err(_) => "not a bundle any more",
        };
        *seen.entry(verdict.to_owned()).or_default() += 1;
    }
    println!("{} bytes changed one by one: {seen:?}", carried.bytes.len());
    // And read, byte by byte in steps: whatever is taken is true, and the whole bundle completes it.
    let mut rng = SeededRng::new(0x0302_0003);
    let mut codes: BTreeMap<i32, usize> = BTreeMap::new();
    let step = carried.bytes.len() / 40;
    for n in 0..40 {
        let at = n * step + rng.below(step);
        let mut bytes = carried.bytes.clone();
        bytes[at] ^= 1 << rng.below(8);
        let what = format!("changing byte {at}");
        let (home, file) = carried.put(&format!("changed-{at}"), &bytes);
        let ran = home.read_bundle(&file);
        let code = ran.code.unwrap();
        assert!(matches!(code, 2 | 4), "{what}: {ran}");
        assert!(ran.err.contains(".bundle"), "the file is not named after {what}: {ran}");
        *codes.entry(code).or_default() += 1;
        if n % 4 == 0 {
            carried.completes(&home, &file, &what);
        }
    }
    println!("read with a byte changed: exit codes {codes:?}");
}

/// Cut anywhere: what is taken is a true past, and the rest comes with the whole.
#[test]
fn a_bundle_cut_anywhere_gives_a_true_past() {
    let carried = carried(300);
    let whole = Node::open(&carried.whole.path, &Silent).unwrap();
    let expected = whole.book().vector();
    whole.close().unwrap();
    let file = carried.fleet.dir().join("cut.bundle");
    let mut grown = 0;
    // One home through rising lengths: each cut gives at least what the one before gave.
    let home = carried.fleet.depot.stand_in(carried.fleet.dir().join("cut"));
    let mut held_before = 0;
    for n in 1..24 {
        std::fs::write(&file, &carried.bytes[..carried.bytes.len() * n / 24]).unwrap();
        let mut node = Node::open(&home.path, &Silent).unwrap();
        if let Ok(read) = node.read_bundle(&file, &Silent) {
            assert!(!read.complete && !read.damaged.is_empty(), "cut at {n}/24: {read:?}");
        }
        let held = node.book().vector();
        assert!(
            held.iter().all(|(log, head)| expected.get(&log) >= head),
            "cut at {n}/24"
        );
        assert!(held.entries() >= held_before, "cut at {n}/24");
        grown += usize::from(held.entries() > held_before);
        held_before = held.entries();
        let wrong = node.verify(&Silent).unwrap().wrong;
        assert!(wrong.is_empty(), "cut at {n}/24: {wrong:?}");
        node.close().unwrap();
    }
    assert!(grown >= 2, "it grew {grown} times");
    carried.completes(&home, &file, "all the cuts");
}

#[test]
fn what_a_retired_device_writes_afterwards_is_refused() {
    let fleet = Fleet::enrolled(&["mara", "ilse"]);
    let (mara, ilse) = (&fleet.laptops[0], &fleet.laptops[1]);
    mara.record(&notes(3, "in time", true));
    fleet.exchange_all();
    fleet
        .depot
        .run(&["retire", "laptop-mara", "--why", "left at a fuel stop"])
        .done();
    mara.record(&notes(2, "too late", true));
    let ran = fleet.bundles.carry(mara, &fleet.depot);
    assert!(matches!(ran.code, Some(4 | 6)), "{ran}");
    ran.says(&["was retired"]);
    fleet.bundles.carry(&fleet.depot, ilse).done();
    let ran = fleet.bundles.carry(mara, ilse);
    assert!(matches!(ran.code, Some(4 | 6)), "{ran}");
    for home in [&fleet.depot, ilse] {
        let texts = serde_json::to_string(&home.history(&[])).unwrap();
        assert!(texts.contains("in time") && !texts.contains("too late"), "{texts}");
        home.verifies();
    }
    assert_eq!(ilse.findings(), fleet.depot.findings());
}
