//! The first line of `status`, situation by situation, in real homes that merge by bundles. The table of DEVELOPERS.md is made here.

use std::path::PathBuf;

use gladhand_tests::process::{Home, until};
use gladhand_tests::tables;
use tempfile::TempDir;

/// A depot and laptops that it may or may not know, without a network.
struct Yard {
    dir: TempDir,
    depot: Home,
    carried: std::cell::Cell<u32>,
}

impl Yard {
    fn new() -> Self {
        let dir = tempfile::tempdir().unwrap();
        let depot = Home::depot(dir.path().join("depot"), "harrow-street", "ilse").quiet();
        Self {
            dir,
            depot,
            carried: Default::default(),
        }
    }

    /// A laptop that has joined nobody.
    fn laptop(&self, name: &str) -> Home {
        Home::laptop(self.dir.path().join(name), name, name).quiet()
    }

    /// A laptop with an invite that the depot has not met.
    fn invited(&self, name: &str) -> Home {
        let home = self.laptop(name);
        home.feed("join -", self.depot.good("invite").out).done();
        home
    }

    /// A laptop that the depot has enrolled; both hold the same.
    fn enrolled(&self, name: &str) -> Home {
        let home = self.invited(name);
        self.meets(&home);
        home
    }

    fn carry(&self, from: &Home, to: &Home) -> gladhand_tests::Ran {
        self.carried.set(self.carried.get() + 1);
        let file = self.dir.path().join(format!("{}.bundle", self.carried.get()));
        let name = file.to_str().unwrap();
        from.good(&["bundle", "write", name]);
        to.run(&["bundle", "read", name])
    }

    /// There and back, and there again: each knows that the other holds all.
    fn meets(&self, home: &Home) {
        for (from, to) in [(home, &self.depot), (&self.depot, home), (home, &self.depot)] {
            self.carry(from, to).done();
        }
    }

    fn picture(&self) -> PathBuf {
        let file = self.dir.path().join("p.png");
        std::fs::copy(gladhand_tests::demo_data().join("proof-0302-I01.png"), &file).unwrap();
        file
    }
}

fn first_line(home: &Home) -> String {
    let text = home.good("status").out;
    let first = text.lines().next().unwrap().to_owned();
    assert_eq!(home.json("status")["summary"], first, "text and JSON say the same");
    first
}

fn three_notes(home: &Home) {
    for text in ["one", "two", "three"] {
        home.good(&["note", text]);
    }
}

/// A situation and the line that it gives.
type Row = (&'static str, String);

fn before_a_depot() -> Vec<Row> {
    let yard = Yard::new();
    let alone = yard.laptop("tomas");
    let fresh = first_line(&alone);
    three_notes(&alone);
    let facts = first_line(&alone);
    std::fs::create_dir_all(alone.file("inbox")).unwrap();
    std::fs::write(
        alone.file("inbox/shift.jsonl"),
        "{\"kind\":\"note\",\"text\":\"four\"}\n",
    )
    .unwrap();
    let waiting = first_line(&alone);
    let depot = yard.depot.json("status")["device"].as_str().unwrap()[..8].to_owned();
    let not_met = first_line(&yard.invited("mara"));
    assert!(not_met.contains(&depot), "{not_met}");
    let not_met = not_met.replace(&depot, "68269b5b");
    vec![
        ("a new laptop that has joined nobody", fresh),
        ("the same with three facts", facts),
        ("the same with a file in the inbox that no daemon reads", waiting),
        ("a new depot", first_line(&yard.depot)),
        ("a laptop with an invite that the depot has not met", not_met),
    ]
}

fn merging() -> Vec<Row> {
    let yard = Yard::new();
    let mara = yard.enrolled("mara");
    let level = first_line(&mara);
    three_notes(&mara);
    let ahead = first_line(&mara);
    yard.carry(&mara, &yard.depot).done();
    let one_way = first_line(&mara);
    let depot = first_line(&yard.depot);
    yard.meets(&mara);
    yard.carry(&yard.depot, &mara).done();
    let synced = (first_line(&yard.depot), first_line(&mara));
    let bram = yard.enrolled("bram");
    let two = first_line(&yard.depot);
    let picture = yard.picture();
    let hash = blake3_of(&mara, &picture);
    let line = format!("{{\"kind\":\"proof\",\"job\":\"J1\",\"state\":\"taken\",\"picture\":\"{hash}\"}}\n");
    bram.feed("record", line).done();
    vec![
        ("joined, and nothing to hand over", level),
        ("joined, and three facts that are only here", ahead),
        (
            "the same after a bundle to the depot, of which nothing has come back",
            one_way,
        ),
        ("the depot that read it, and has given nothing back", depot),
        ("the depot after bundles there and back and there and back", synced.0),
        ("the laptop after the same", synced.1),
        ("the depot after another laptop was enrolled", two),
        ("a laptop that knows of a picture which it lacks", first_line(&bram)),
    ]
}

/// The hash of a picture, as a fact names it: the home keeps it when a proof names the file.
fn blake3_of(home: &Home, picture: &std::path::Path) -> String {
    home.good("job J1 --trailer LF5396");
    home.good(&["proof", "J1", "judged", "--ok", "--picture", picture.to_str().unwrap()]);
    let shown = home.json("history --job J1").to_string();
    let begin = shown.find("blake3:").unwrap();
    shown[begin..begin + 71].to_owned()
}

fn troubles() -> Vec<Row> {
    let yard = Yard::new();
    let (mara, bram) = (yard.enrolled("mara"), yard.enrolled("bram"));
    yard.depot.good(&["retire", "mara", "--why", "stolen"]);
    let depot = first_line(&yard.depot);
    three_notes(&mara);
    yard.carry(&mara, &yard.depot);
    let refused = first_line(&yard.depot);
    yard.carry(&yard.depot, &mara);
    let retired = first_line(&mara);
    std::fs::create_dir_all(bram.file("inbox")).unwrap();
    std::fs::write(bram.file("inbox/holiday.txt"), "no fact").unwrap();
    let daemon = bram.serve();
    until("the daemon leaves it alone", || {
        bram.json("status")["inbox"]
            .to_string()
            .contains("no fact has named it")
    });
    let served = first_line(&bram);
    daemon.stop();
    assert_eq!(first_line(&bram), served, "with a daemon and without one");
    vec![
        ("the depot after it has retired one of two laptops", depot),
        ("the same after a bundle of the retired one", refused),
        ("the retired laptop, once it knows", retired),
        ("served, with a file in the inbox that holds no facts", served),
    ]
}

/// Two homes with one key that wrote without knowing of each other.
fn forked() -> Vec<Row> {
    let yard = Yard::new();
    let mara = yard.enrolled("mara");
    let copy = mara.stand_in(yard.dir.path().join("copy"));
    three_notes(&mara);
    copy.good("note otherwise");
    yard.carry(&mara, &yard.depot);
    yard.carry(&copy, &yard.depot);
    vec![(
        "the depot that got both branches of a log that was copied",
        first_line(&yard.depot),
    )]
}

/// A disk that loses the end of the journal, after a merge over the network.
fn lost() -> Vec<Row> {
    let yard = Yard::new();
    yard.depot.configure("listen = \"\"", "listen = \"127.0.0.1:0\"");
    let tomas = yard.enrolled("tomas");
    three_notes(&yard.depot);
    let journal = tomas.file("log/00000001.seg");
    let before = std::fs::metadata(&journal).unwrap().len();
    let daemon = yard.depot.serve();
    tomas.good(&["sync", &daemon.listens_at().to_string()]);
    let level = first_line(&tomas);
    daemon.stop();
    std::fs::File::options()
        .write(true)
        .open(&journal)
        .unwrap()
        .set_len(before)
        .unwrap();
    vec![
        ("a laptop after a merge over the network", level),
        (
            "the same, when its disk has lost what came in by that",
            first_line(&tomas),
        ),
    ]
}

#[test]
fn the_first_line_says_what_is_missing_in_each_situation() {
    let all: Vec<Row> = [before_a_depot(), merging(), troubles(), forked(), lost()].concat();
    assert!(all.len() >= 10);
    let rows: Vec<Vec<String>> = all
        .into_iter()
        .map(|(situation, line)| vec![situation.to_owned(), line])
        .collect();
    tables::check("DEVELOPERS.md", &["situation", "first line of `status`"], &rows);
}
