//! What scripts rely on: `docs/schemas` says what every answer's JSON looks like, and the binary prints nothing else.
//!
//! The schemas are generated from the answers' structures. `BLESS=1` writes them anew: look at the difference before it is
//! committed, and let `version` go up where a key disappears or changes its meaning.
//!
//! Each answer is held against its schema twice: it is read as its structure and written again without loss, so it has no
//! key that is not described; and an independent validator checks it, where there is one (`tests/oracles/README.md`).

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use std::collections::BTreeSet;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Stdio};

use gladhand_answers::schema::{self, Named};
use gladhand_tests::oracle::oracle;
use gladhand_tests::{Home, Ran, demo_data, files_below, repository};
use gladhand_trade::Standard;
use gladhand_trade::standard::BUILT_IN;
use serde_json::Value;

fn folder() -> PathBuf {
    repository().join("docs/schemas")
}

fn file_of(name: &str) -> PathBuf {
    folder().join(format!("{name}.json"))
}

fn text_of(named: &Named) -> String {
    let mut text = serde_json::to_string_pretty(&named.schema).unwrap();
    text.push('\n');
    text
}

#[test]
fn the_schemas_on_disk_are_those_of_this_program() {
    let all = schema::all();
    let bless = std::env::var_os("BLESS").is_some();
    if bless {
        // A schema that is no longer there has no file either.
        std::fs::remove_dir_all(folder()).ok();
        std::fs::create_dir_all(folder()).unwrap();
    }
    for named in &all {
        let file = file_of(named.name);
        if bless {
            std::fs::write(&file, text_of(named)).unwrap();
        }
        let on_disk = std::fs::read_to_string(&file).unwrap_or_default();
        assert!(
            on_disk == text_of(named),
            "{} is not what the program says; BLESS=1 writes it anew",
            file.display()
        );
    }
    let expected: BTreeSet<PathBuf> = all.iter().map(|named| format!("{}.json", named.name).into()).collect();
    let found: BTreeSet<PathBuf> = files_below(&folder()).into_iter().collect();
    assert_eq!(found, expected, "a file without a schema; BLESS=1 takes it away");
}

/// A command line with `--json` before it: who runs it, its words, its exit code, and the schema of its answer. Words in
/// braces stand for what an answer before told.
struct Row(&'static str, &'static str, i32, Option<&'static str>);

const fn row(home: &'static str, words: &'static str, code: i32, schema: &'static str) -> Row {
    Row(home, words, code, Some(schema))
}

/// A day on which every command answers at least once, also with what is wrong.
const DAY: &[Row] = &[
    row(
        "depot",
        "setup --depot --name harrow-street --listen 127.0.0.1:0",
        0,
        "set-up",
    ),
    row("mara", "setup --name laptop-mara --person mara", 0, "set-up"),
    row("tomas", "setup --name laptop-tomas", 0, "set-up"),
    row("depot", "invite --person mara", 0, "invited"),
    row("mara", "bundle write early.bundle", 0, "bundle-written"),
    row("mara", "bundle verify early.bundle", 0, "bundle-inspected"),
    row("mara", "join {invite}", 0, "joined"),
    row("mara", "job J1 --trailer 4712 --wall plate", 0, "receipt"),
    row("mara", "note --job J1 dented", 0, "receipt"),
    row("mara", "clearance J1", 0, "clearance"),
    row("mara", "job J1 --load loaded", 0, "receipt"),
    row("mara", "check J1 freight-at-opening no", 0, "receipt"),
    row("mara", "check J1 pilot-hole --ok", 0, "receipt"),
    row("mara", "clearance J1", 0, "clearance"),
    row("mara", "check J1 hole-diameter 2 in", 0, "receipt"),
    row("mara", "settings LT-1001 live", 0, "receipt"),
    row("mara", "job next", 0, "job-next"),
    row("mara", "status", 0, "status"),
    row("mara", "verify", 0, "verified"),
    row("mara", "verify --rebuild", 0, "verified"),
    row("mara", "export --automerge documents", 0, "exported"),
    row("mara", "bundle write day.bundle", 0, "bundle-written"),
    row("mara", "bundle verify day.bundle", 0, "bundle-inspected"),
    row("mara", "bundle verify cut.bundle", 2, "bundle-inspected"),
    row("depot", "bundle read cut.bundle", 4, "bundle-taken"),
    row("depot", "bundle read day.bundle", 0, "bundle-taken"),
    row("mara", "standard show", 0, "standard-shown"),
    row("mara", "standard check own.toml", 0, "standard-checked"),
    row("depot", "standard publish own.toml", 0, "standard-published"),
    row("depot", "standard publish own.toml", 0, "standard-published"),
    row("depot", "standard show", 0, "standard-shown"),
    row("depot", "serve", 0, "serving"),
    row("depot", "invite --person tomas", 0, "invited"),
    row("tomas", "join {invite}", 0, "joined"),
    row("tomas", "sync", 0, "synced"),
    row("mara", "sync {address}", 0, "synced"),
    // Nobody listens at the lowest port.
    row("mara", "sync 127.0.0.1:1", 5, "synced"),
    row("mara", "verify", 0, "verified"),
    row("mara", "link LC-1001 LT-1001 --job J1", 0, "receipt"),
    row("mara", "link LC-1001 LT-1002 --job J1", 0, "receipt"),
    row("mara", "sign-off J1", 0, "receipt"),
    row("mara", "job next --returns", 0, "job-returns"),
    row("mara", "proof J1 judged --ok --picture proof.png", 0, "receipt"),
    row("mara", "picture J1 --out copy.png", 0, "picture"),
    row("mara", "picture 4712 --out copy.png --overwrite", 0, "picture"),
    row("mara", "job show J1", 0, "job"),
    row("mara", "trailer show 4712", 0, "trailer"),
    row("mara", "findings", 0, "findings"),
    row("mara", "findings --gate", 3, "findings"),
    row("mara", "findings --as-known-by laptop-mara@3", 0, "findings"),
    row("mara", "history", 0, "history"),
    row("mara", "history --job J1", 0, "history"),
    row(
        "mara",
        "history --camera LC-1001 --as-known-by laptop-mara --picture pair.svg",
        0,
        "history",
    ),
    row("mara", "report", 0, "report"),
    row("depot", "retire laptop-tomas --why stolen", 0, "retired"),
    row("depot", "retire laptop-mara --why gone --after 2", 0, "retired"),
];

/// The homes of a day, and what its answers told so far.
struct Day {
    dir: tempfile::TempDir,
    daemons: Vec<Child>,
    invite: String,
    address: String,
}

impl Drop for Day {
    fn drop(&mut self) {
        for daemon in &mut self.daemons {
            daemon.kill().ok();
            daemon.wait().ok();
        }
    }
}

impl Day {
    fn new() -> Self {
        let dir = tempfile::tempdir().unwrap();
        let built_in = format!("version = \"{}\"", Standard::built_in().version());
        let own = BUILT_IN.replace(&built_in, "version = \"Larkspur 2026-03\"");
        std::fs::write(dir.path().join("own.toml"), own).unwrap();
        std::fs::copy(demo_data().join("proof-0302-M03.png"), dir.path().join("proof.png")).unwrap();
        Self {
            dir,
            daemons: Vec::new(),
            invite: String::new(),
            address: String::new(),
        }
    }

    /// Runs a row's command. The answer is not read where it has no schema.
    fn run(&mut self, Row(home, words, code, schema): &Row) -> Value {
        let home = Home::at(self.dir.path().join(home));
        let known = [("{invite}", &self.invite), ("{address}", &self.address)];
        let word = |word: &str| {
            let told = known.iter().find(|(name, _)| *name == word);
            told.map_or_else(|| word.to_owned(), |(_, told)| (*told).clone())
        };
        let words: Vec<String> = words.split(' ').map(word).collect();
        let args: Vec<&str> = std::iter::once("--json")
            .chain(words.iter().map(String::as_str))
            .collect();
        let mut command = home.command(&args);
        command.current_dir(self.dir.path()).stdin(Stdio::null());
        if words[0] == "serve" {
            let daemon = command.stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
            return self.ready(daemon);
        }
        let output = command.output().expect("the binary starts");
        let ran = Ran::of(Ran::line_of(&command), output).exits(*code);
        schema.map_or(Value::Null, |_| ran.json())
    }

    /// A daemon's answer is its first line.
    fn ready(&mut self, mut daemon: Child) -> Value {
        let out = daemon.stdout.take().unwrap();
        self.daemons.push(daemon);
        let mut line = String::new();
        BufReader::new(out).read_line(&mut line).unwrap();
        serde_json::from_str(&line).unwrap_or_else(|e| panic!("{e} in {line}"))
    }

    /// What later rows need of an answer.
    fn learn(&mut self, schema: &str, answer: &Value) {
        let text = |key: &str| answer[key].as_str().unwrap().to_owned();
        match schema {
            "set-up" => stay_off_the_link(Path::new(&text("home"))),
            "invited" => self.invite = text("invite"),
            "serving" => self.address = text("listen"),
            "bundle-written" => {
                let whole = std::fs::read(self.dir.path().join(text("file"))).unwrap();
                std::fs::write(self.dir.path().join("cut.bundle"), &whole[..whole.len() - 20]).unwrap();
            }
            _ => {}
        }
    }
}

/// This test is about one machine.
fn stay_off_the_link(home: &Path) {
    let config = home.join("config.toml");
    let text = std::fs::read_to_string(&config).unwrap();
    std::fs::write(&config, text.replace("discover = true", "discover = false")).unwrap();
}

#[test]
fn what_the_binary_prints_fits_its_schema() {
    let all = schema::all();
    let mut day = Day::new();
    let (mut pairs, mut met) = (String::new(), BTreeSet::new());
    for (number, row) in DAY.iter().enumerate() {
        let answer = day.run(row);
        let Row(_, words, _, Some(name)) = row else { continue };
        day.learn(name, &answer);
        let named = all.iter().find(|named| named.name == *name).expect(name);
        assert_eq!(answer["version"], gladhand_answers::version::VERSION, "{words}");
        let again = (named.written_again)(&answer).unwrap_or_else(|e| panic!("{words}: {e} in {answer:#}"));
        assert_eq!(again, answer, "{words}");
        let file = day.dir.path().join(format!("answer-{number}.json"));
        std::fs::write(&file, answer.to_string()).unwrap();
        pairs += &format!("{}\t{}\n", file_of(name).display(), file.display());
        met.insert(*name);
    }
    let known: BTreeSet<&str> = all.iter().map(|named| named.name).collect();
    assert_eq!(met, known, "a schema that no row of the day holds an answer against");
    let list = day.dir.path().join("pairs.tsv");
    std::fs::write(&list, pairs).unwrap();
    oracle("what_the_binary_prints_fits_its_schema", "check_answers.py", &[&list]);
}
