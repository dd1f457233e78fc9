//! Bad input of every sort: a clear message with file and line or place, the right exit code, nothing lost, the good part
//! kept.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use std::collections::BTreeMap;
use std::io::Write;
use std::path::{Path, PathBuf};

use gladhand::node::{Node, Silent};
use gladhand_logbook::DeviceSecret;
use gladhand_logbook::bundle::{self, Header, MAGIC, PART_HEAD_BYTES, PartHead};
use gladhand_tests::facts::{fitting, line, notes};
use gladhand_tests::{Chance, Fleet, Home, demo_data, fleet};
use serde_json::json;

struct Alone {
    dir: tempfile::TempDir,
    home: Home,
}

/// A laptop that has joined nobody.
fn alone() -> Alone {
    let dir = tempfile::tempdir().unwrap();
    let home = Home::laptop(dir.path().join("home"), "laptop-mara", "mara");
    Alone { dir, home }
}

impl Alone {
    fn file(&self, name: &str, bytes: impl AsRef<[u8]>) -> String {
        let path = self.dir.path().join(name);
        std::fs::write(&path, bytes).unwrap();
        path.to_str().unwrap().to_owned()
    }
}

// ---- Lines ----

#[test]
fn bad_lines_are_named_and_the_good_ones_count() {
    let alone = alone();
    let lines: [(&[u8], &str); 14] = [
        (br#"{"kind":"note","text":"one"}"#, ""),
        (b"{\"kind\":\"note\",\"text\":\"\xff\"}", "not UTF-8 at byte 24"),
        (b"{broken", "not JSON"),
        (
            br#"{"kind":"check","job":"J","check":"placement-top","value":1,"unit":"cubit"}"#,
            "unknown unit 'cubit'",
        ),
        (
            br#"{"kind":"note","text":"x","at":"2026-03-02T10:00:00"}"#,
            "no offset from UTC",
        ),
        (
            br#"{"kind":"note","text":"x","at":"yesterday"}"#,
            "not an RFC 3339 time",
        ),
        (br#"["kind","note"]"#, "not a JSON object"),
        (br#"{"kind":"note"}"#, "a note needs `text`"),
        (br#"{"kind":"link","camera":"LC-LT91Z9J"}"#, "a link needs `tracker`"),
        (br#"{"text":"no kind"}"#, "kind"),
        (
            br#"{"kind":"settings","tracker":"LT500411541","state":"perhaps"}"#,
            "state",
        ),
        (br#"{"kind":"weather","sky":"grey"}"#, ""),
        (b"", ""),
        (br#"{"kind":"note","text":"two"}"#, ""),
    ];
    let text: Vec<u8> = lines.iter().map(|(line, _)| *line).collect::<Vec<_>>().join(&b'\n');
    let file = alone.file("shift.jsonl", text);
    let ran = alone.home.run(&["record", "--json", &file]).exits(4);
    assert_eq!(ran.json_lines().len(), 3, "{ran}");
    for (number, (line, reason)) in (1..).zip(lines) {
        if reason.is_empty() {
            assert!(
                !ran.stderr.contains(&format!("shift.jsonl:{number}:")),
                "line {number} of {ran}"
            );
            continue;
        }
        let said = ran
            .stderr
            .lines()
            .find(|said| said.contains(&format!("shift.jsonl:{number}: rejected")));
        let said = said.unwrap_or_else(|| panic!("line {number} is not named by {ran}"));
        assert!(said.contains(reason), "'{reason}' is missing from: {said}");
        let shown = String::from_utf8_lossy(line).into_owned();
        assert!(ran.stderr.contains(&shown), "the line itself is missing: {shown}");
    }
    ran.says(&["3 facts recorded, 10 lines rejected"]);
    // The kind that nobody knows is kept, and reported.
    let found = alone
        .home
        .run(&["findings", "--json", "--rule", "not-understood"])
        .done()
        .json();
    assert_eq!(found.as_array().unwrap().len(), 1);
    // The same file again adds nothing and rejects the same.
    let again = alone.home.run(&["record", "--json", &file]).exits(4);
    assert!(
        again.json_lines().iter().all(|receipt| receipt["receipt"] == "already"),
        "{again}"
    );
    assert_eq!(alone.home.fact_ids().len(), 3);
}

#[test]
fn bad_rows_of_a_table_are_named_and_the_good_ones_count() {
    let alone = alone();
    let rows = b"kind,job,check,value,unit,ok\n\
        check,0302-B1,placement-top,1 3/4,in,\n\
        check,0302-B1,placement-top\n\
        check,0302-B1,placement-rear,a hand,in,\n\
        check,0302-B1,kit-complete,\xff,,yes\n\
        check,0302-B1,kit-complete,,,yes\n";
    let file = alone.file("shift.csv", rows);
    let ran = alone.home.run(&["record", "--json", &file]).exits(4);
    assert_eq!(ran.json_lines().len(), 2, "{ran}");
    ran.says(&["shift.csv:3: rejected", "3 cells, the header has 6"])
        .says(&["shift.csv:4: rejected", "a hand"])
        .says(&["shift.csv:5: rejected", "not UTF-8 in column `value`"]);
    let twice = alone.file("twice.csv", "kind,text,text\nnote,a,b\n");
    alone
        .home
        .run(&["record", &twice])
        .exits(4)
        .says(&["twice.csv:2", "stands twice in the header"]);
}

#[test]
fn a_line_of_fifty_megabytes_is_rejected_and_the_next_one_counts() {
    let alone = alone();
    let mut bytes = br#"{"kind":"note","text":""#.to_vec();
    bytes.resize(50 << 20, b'x');
    bytes.extend_from_slice(b"\"}\n{\"kind\":\"note\",\"text\":\"after\"}\n");
    let file = alone.file("giant.jsonl", bytes);
    let ran = alone.home.run(&["record", "--json", &file]).exits(4);
    assert_eq!(ran.json_lines().len(), 1, "{ran}");
    assert!(
        ran.stderr.len() < 2_000,
        "a giant line must not be shown whole: {} bytes",
        ran.stderr.len()
    );
    ran.says(&["giant.jsonl:1: rejected", "52428803 bytes", "at most 1048576"]);
}

#[test]
fn files_that_are_not_there_or_hold_nothing() {
    let alone = alone();
    let good = alone.file("good.jsonl", notes(2, "note", false).join("\n"));
    // Nothing is recorded of the good file, because the second name is wrong.
    let gone = alone.dir.path().join("gone.jsonl");
    let ran = alone.home.run(&["record", &good, gone.to_str().unwrap()]).exits(2);
    ran.says(&["gone.jsonl", "No such file", "Nothing was recorded"]);
    alone
        .home
        .run(&["record", &good, alone.dir.path().to_str().unwrap()])
        .exits(2)
        .says(&["irectory"]);
    assert_eq!(alone.home.fact_ids().len(), 0);
    let empty = alone.file("empty.jsonl", "");
    alone.home.run(&["record", &empty]).done().says(&["0 facts recorded"]);
    alone.home.feed(&["record"], "").done().says(&["0 facts recorded"]);
    let garbage = alone.file("garbage.bin", [0u8, 159, 146, 150, 10, 255, 254, 0]);
    alone
        .home
        .run(&["record", &garbage])
        .exits(4)
        .says(&["garbage.bin:1: rejected", "garbage.bin:2: rejected"]);
    let missing = line(
        "proof",
        json!({"job": "0302-B1", "state": "taken", "picture": "nowhere.png"}),
    );
    alone
        .home
        .feed(&["record", "-"], missing)
        .done()
        .says(&["nowhere.png", "recorded without it"]);
    let outside = line(
        "proof",
        json!({"job": "0302-B1", "state": "taken", "picture": "../../etc/passwd"}),
    );
    alone
        .home
        .feed(&["record", "-"], outside)
        .done()
        .says(&["only a file beside the facts"]);
}

// ---- The command line ----

#[test]
fn wrong_usage_is_refused_with_code_2() {
    let alone = alone();
    alone
        .home
        .record(&fitting("0302-B1", "LF 5301", "LC-LT91Z9J", "LT500411541"));
    let before = alone.home.vector();
    let cases: [(&[&str], &str); 20] = [
        (&["record", "--bogus"], "--bogus"),
        (&["frobnicate"], "frobnicate"),
        (&[], "Usage"),
        (&["setup", "--name", "again"], "exists already"),
        (&["setup", "--name", ""], "--name"),
        (&["history", "--job", "0302-NOPE"], "no job '0302-NOPE' is known here"),
        (&["clearance", "0302-NOPE"], "0302-NOPE"),
        (&["history", "--device", "nobody"], "no device 'nobody' is known here"),
        (
            &["history", "--as-known-by", "laptop-mara@x"],
            "'x' is not an entry number",
        ),
        (
            &["history", "--as-of", "noon"],
            "--as-of: 'noon' is not an RFC 3339 time",
        ),
        (&["report", "--from", "yesterday"], "--from: 'yesterday'"),
        (&["report", "--format", "xml"], "xml"),
        (&["findings", "--rule", "nonsense"], "no rule is called 'nonsense'"),
        (
            &["ruling", "f-nope", "--ruling", "accepted", "--why", "w"],
            "no finding 'f-nope'",
        ),
        (&["check", "0302-B1", "placement-top", "3 cubits"], "cubits"),
        (&["check", "0302-B1", "placement-top", "--at", "noon"], "noon"),
        (&["settings", "LT500411541", "perhaps"], "perhaps"),
        (
            &["bundle", "write", "x.bundle", "--for", "nobody"],
            "no device 'nobody'",
        ),
        (&["bundle", "write", "x.bundle", "--since", "then"], "--since: 'then'"),
        (&["invite"], "only a depot can invite"),
    ];
    for (args, word) in cases {
        let ran = alone.home.run(args).exits(2);
        assert!(ran.stdout.is_empty(), "data on stdout of {ran}");
        ran.says(&[word]);
    }
    assert_eq!(alone.home.vector(), before, "nothing was recorded by any of them");
    let nowhere = Home::at(alone.dir.path().join("nowhere"));
    for args in [&["status"][..], &["findings"], &["record", "-"]] {
        nowhere
            .run(args)
            .exits(2)
            .says(&["there is no home at", "gladhand setup"]);
    }
    assert!(!nowhere.path.exists(), "asking must not make a home");
    let full = Home::at(alone.dir.path());
    full.run(&["setup", "--name", "x"]).exits(2).says(&["not empty"]);
}

#[test]
fn a_home_of_a_newer_version_is_left_alone() {
    let alone = alone();
    alone.home.record(&notes(3, "note", false));
    let newer = alone.home.copied(alone.dir.path().join("newer"));
    std::fs::write(newer.file("format"), "gladhand-home 7\n").unwrap();
    let before = tree(&newer);
    for args in [&["status"][..], &["record", "-"], &["verify"], &["findings", "--json"]] {
        newer
            .run(args)
            .exits(1)
            .says(&["format 7", "formats up to 1", "Nothing was changed"]);
    }
    assert_eq!(tree(&newer), before);
}

/// Every file with its bytes.
fn tree(home: &Home) -> BTreeMap<PathBuf, Vec<u8>> {
    let files = gladhand_tests::files_below(&home.path).into_iter();
    files
        .map(|file| (file.clone(), std::fs::read(home.file(&file)).unwrap()))
        .collect()
}

#[test]
fn a_second_process_waits_a_moment_and_then_says_who_is_in_the_way() {
    let alone = alone();
    let mut first = alone.home.start(&["record", "--json", "-"]);
    let mut feed = first.stdin.take().unwrap();
    writeln!(feed, "{}", notes(1, "first", false)[0]).unwrap();
    // Its receipt says that it has the home open.
    let mut receipt = String::new();
    let mut out = std::io::BufReader::new(first.stdout.take().unwrap());
    std::io::BufRead::read_line(&mut out, &mut receipt).unwrap();
    assert!(receipt.contains("recorded"), "{receipt}");
    let number = first.id().to_string();
    let ran = alone
        .home
        .feed(&["record", "-"], notes(1, "second", false).join("\n"))
        .exits(1);
    ran.says(&["in use by another process", &number, "nothing was changed"]);
    drop(feed);
    assert!(first.wait().unwrap().success());
    assert_eq!(alone.home.fact_ids().len(), 1);
}

#[test]
fn commands_at_the_same_time_take_turns() {
    let alone = alone();
    std::thread::scope(|scope| {
        for n in 0..4 {
            let home = &alone.home;
            scope.spawn(move || home.record(&notes(5, &format!("hand {n}"), false)));
        }
    });
    assert_eq!(alone.home.fact_ids().len(), 20);
    alone.home.verifies();
}

// ---- Invites ----

#[test]
fn invites_that_cannot_be_used() {
    let fleet = Fleet::enrolled(&["mara"]);
    let new = |name: &str| Home::laptop(fleet.dir().join(name), name, "");
    let invite = |args: &[&str]| fleet.depot.run(args).done().text().trim().to_owned();
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
    let theirs = other.run(&["invite"]).done().text();
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
    out.extend(header.encode());
    out.extend(&bytes[frames_at..end_at]);
    let (context, message) = bundle::end_message(&blake3::hash(&out));
    out.extend(bundle::part(bundle::Kind::End, &secret.sign(context, &message)));
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
    let carried = carried(600);
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
    let (home, file) = carried.put("stub", &carried.bytes[..900]);
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
        let verdict = match gladhand::node::inspect_bundle(&file) {
            Ok((_, faults)) if faults.is_empty() => panic!("byte {at} changed, and the bundle counts as whole"),
            Ok(_) => "named",
            Err(_) => "not a bundle any more",
        };
        *seen.entry(verdict.to_owned()).or_default() += 1;
    }
    println!("{} bytes changed one by one: {seen:?}", carried.bytes.len());
    // And read, byte by byte in steps: whatever is taken is true, and the whole bundle completes it.
    let mut chance = Chance::new(0x0302_0003);
    let mut codes: BTreeMap<i32, usize> = BTreeMap::new();
    let step = carried.bytes.len() / 40;
    for n in 0..40 {
        let at = n * step + chance.below(step);
        let mut bytes = carried.bytes.clone();
        bytes[at] ^= 1 << chance.below(8);
        let what = format!("changing byte {at}");
        let (home, file) = carried.put(&format!("changed-{at}"), &bytes);
        let ran = home.read_bundle(&file);
        let code = ran.code.unwrap();
        assert!(matches!(code, 2 | 4), "{what}: {ran}");
        assert!(
            ran.stderr.contains(".bundle"),
            "the file is not named after {what}: {ran}"
        );
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
