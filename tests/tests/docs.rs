//! The documents say what the program does: every kind, rule, command and exit code, every name of the code, every link.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Component, Path, PathBuf};
use std::process::Command;

use gladhand::failure::Exit;
use gladhand_facts::Kind;
use gladhand_tests::markdown::{self, PLANNED, Row, code_spans, documents, read, rows};
use gladhand_tests::process::gladhand;
use gladhand_tests::{Home, demo_data, files_below, repository};
use regex::Regex;

const FACTS: &str = "docs/contract/facts.md";
const FINDINGS: &str = "docs/contract/findings.md";
const COMMANDS: &str = "docs/contract/command-line.md";

fn set<T: Ord>(items: impl IntoIterator<Item = T>) -> BTreeSet<T> {
    items.into_iter().collect()
}

/// The first names of the rows, apart: what is there, what is planned.
fn named(rows: &[Row]) -> (BTreeSet<String>, BTreeSet<String>) {
    let (planned, there): (Vec<&Row>, Vec<&Row>) = rows.iter().partition(|row| row.is_planned());
    let first = |rows: Vec<&Row>| set(rows.iter().filter_map(|row| row.names().into_iter().next()));
    (first(there), first(planned))
}

/// The lines of the `jsonl` blocks, each with whether it is planned: its section says so, or the line above its block does.
fn json_lines() -> Vec<(String, bool)> {
    let (mut section, mut above, mut block) = (false, false, None);
    let mut found = Vec::new();
    for line in read(FACTS).lines() {
        match block {
            Some(_) if line == "```" => block = None,
            Some(planned) => found.push((line.to_owned(), planned)),
            None if line == "```jsonl" => block = Some(section || above),
            None if line.starts_with("##") => (section, above) = (line.contains(PLANNED), false),
            None if !line.is_empty() => above = line.contains(PLANNED) && line.ends_with(':'),
            None => {}
        }
    }
    found
}

fn kind_of(line: &str) -> String {
    let line: serde_json::Value = serde_json::from_str(line).unwrap_or_else(|e| panic!("{line}: {e}"));
    line["kind"].as_str().unwrap().to_owned()
}

#[test]
fn every_fact_kind_has_a_row_and_a_line() {
    let (there, planned) = named(&rows(&read(FACTS), "kind"));
    assert_eq!(there, set(Kind::known_names().map(str::to_owned)), "kinds of {FACTS}");
    let understood: Vec<&String> = planned.iter().filter(|name| Kind::parse(name).is_known()).collect();
    assert!(understood.is_empty(), "{FACTS}: no longer planned: {understood:?}");
    let kinds = set(json_lines().iter().map(|(line, _)| kind_of(line)));
    assert_eq!(kinds, &there | &planned, "kinds with a line in {FACTS}");
    for (line, planned_line) in json_lines() {
        assert!(planned_line || there.contains(&kind_of(&line)), "{line}");
    }
}

#[test]
fn the_lines_are_taken_by_the_program() {
    let dir = tempfile::tempdir().unwrap();
    let home = Home::laptop(dir.path().join("home"), "laptop-mara", "mara");
    let lines: Vec<String> = json_lines()
        .into_iter()
        .filter(|(_, planned)| !planned)
        .map(|(line, _)| line)
        // No document can name a fact of this very home, and another one cannot be withdrawn.
        .filter(|line| kind_of(line) != "withdraw")
        .collect();
    let picture = "proof-0302-M03.png";
    std::fs::copy(demo_data().join(picture), dir.path().join(picture)).unwrap();
    let file = dir.path().join("lines.jsonl");
    std::fs::write(&file, lines.join("\n")).unwrap();
    let ran = home.run(&["record", file.to_str().unwrap()]).done();
    assert_eq!(ran.out.lines().count(), lines.len(), "a receipt for each: {ran}");
    assert!(!ran.err.contains(picture), "the picture is there: {ran}");
}

/// The severities that each rule gives in the stories of the reconciler.
fn severities() -> BTreeMap<String, BTreeSet<String>> {
    let pattern = Regex::new(r"(?m)^([a-z-]+) .+? (stop|ask|note) (?:aware|unaware|-) ").unwrap();
    let folder = repository().join("crates/reconcile/tests/stories");
    let mut found: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for file in files_below(&folder) {
        let story = std::fs::read_to_string(folder.join(file)).unwrap();
        for said in pattern.captures_iter(&story) {
            found.entry(said[1].to_owned()).or_default().insert(said[2].to_owned());
        }
    }
    found
}

#[test]
fn every_rule_has_a_row_with_its_severity() {
    let rows = rows(&read(FINDINGS), "rule");
    let (there, planned) = named(&rows);
    let rules = set(gladhand_reconcile::rules::ALL.iter().map(|rule| rule.name().to_owned()));
    let made: Vec<&String> = planned.intersection(&rules).collect();
    assert!(made.is_empty(), "{FINDINGS}: no longer planned: {made:?}");
    assert_eq!(there, rules, "rules of {FINDINGS}");
    let severities = severities();
    for row in rows.iter().filter(|row| !row.is_planned()) {
        let name = &row.names()[0];
        let told = severities
            .get(name)
            .unwrap_or_else(|| panic!("no story tells of {name}"));
        let said = set(row.cells[1].split(" / ").map(str::to_owned));
        assert_eq!(&said, told, "the severity of {name} in {FINDINGS}");
    }
}

fn help(words: &[&str]) -> String {
    let output = Command::new(gladhand()).args(words).arg("--help").output().unwrap();
    assert!(output.status.success(), "{words:?}");
    String::from_utf8(output.stdout).unwrap()
}

/// The subcommands that a help text lists.
fn subcommands(help: &str) -> BTreeSet<String> {
    let listed = help.split("Commands:\n").nth(1).unwrap_or("");
    let pattern = Regex::new(r"(?m)^  ([a-z][a-z-]*) ").unwrap();
    let listed = listed.split("\n\n").next().unwrap();
    set(pattern.captures_iter(listed).map(|found| found[1].to_owned()))
}

/// The commands of the table, as far as they are words: `bundle write`.
fn words_of(span: &str) -> Vec<&str> {
    let is_word = |w: &&str| w.chars().all(|c| c.is_ascii_lowercase() || c == '-') && !w.starts_with('-');
    span.split(' ').take_while(is_word).collect()
}

#[test]
fn every_command_is_listed() {
    let rows = rows(&read(COMMANDS), "command");
    let spans = |planned: bool| -> BTreeSet<Vec<String>> {
        let rows = rows.iter().filter(|row| row.is_planned() == planned);
        let spans = rows.flat_map(Row::names);
        set(spans.map(|span| words_of(&span).iter().map(|w| (*w).to_owned()).collect()))
    };
    let there = spans(false);
    let top = set(there.iter().map(|words| words[0].clone()));
    let known = subcommands(&help(&[]));
    assert_eq!(top, known, "commands of {COMMANDS}");
    for command in known.iter().filter(|command| *command != "help") {
        let below = subcommands(&help(&[command.as_str()]));
        for word in below.iter().filter(|word| *word != "help") {
            let both = vec![command.clone(), word.clone()];
            assert!(there.contains(&both), "{COMMANDS} does not list {both:?}");
        }
    }
    for words in spans(true) {
        let is_new = !known.contains(&words[0]) || words.len() > 1;
        assert!(is_new, "{COMMANDS}: no longer planned: {words:?}");
    }
}

/// Flags that the contract describes once for all commands.
const COMMON: [&str; 9] = [
    "--home",
    "--json",
    "--help",
    "--version",
    "--by",
    "--at",
    "--clock",
    "--note",
    "--answers",
];

/// What may also be given in its place, and so stands in the table without dashes.
const IN_PLACE: [&str; 11] = [
    "--fact",
    "--trailer",
    "--job",
    "--code",
    "--check",
    "--value",
    "--camera",
    "--tracker",
    "--state",
    "--text",
    "--finding",
];

#[test]
fn every_flag_is_listed_and_every_listed_flag_is_taken() {
    let flag = Regex::new(r"--[a-z][a-z-]*").unwrap();
    let flags = |text: &str| set(flag.find_iter(text).map(|found| found.as_str().to_owned()));
    let all = rows(&read(COMMANDS), "command");
    for row in all.iter().filter(|row| !row.is_planned()) {
        let mut silent = BTreeSet::new();
        for span in row.names() {
            let words = words_of(&span);
            if words[0] == "help" || matches!(words[..], ["job", "next" | "show", ..]) {
                continue;
            }
            let known = flags(&help(&words));
            let unknown: Vec<_> = flags(&span).difference(&known).cloned().collect();
            assert!(unknown.is_empty(), "{COMMANDS}: `{span}` has no {unknown:?}");
            silent.extend(known);
        }
        silent.retain(|flag| !COMMON.contains(&flag.as_str()) && !IN_PLACE.contains(&flag.as_str()));
        silent = &silent - &flags(&row.cells[0]);
        if row.names().iter().any(|span| words_of(span) == ["job"]) {
            // Questions about jobs are asked by the command that opens them.
            let questions = all.iter().filter(|row| row.cells[0].starts_with("`job next"));
            questions.for_each(|row| silent.retain(|flag| !flags(&row.cells[0]).contains(flag)));
        }
        assert!(
            silent.is_empty(),
            "{COMMANDS} says nothing of {silent:?}: {:?}",
            row.cells[0]
        );
    }
}

#[test]
fn every_exit_code_is_listed() {
    let listed = set(rows(&read(COMMANDS), "code").iter().map(|row| row.cells[0].clone()));
    let known = set((0..=u8::MAX).map(|code| (Exit::from_code(code) as u8).to_string()));
    assert_eq!(listed, known);
}

#[test]
fn every_link_leads_somewhere() {
    let mut seen = 0;
    for document in documents() {
        for link in markdown::links(&read(&document)) {
            if link.contains("://") || link.starts_with("mailto:") {
                continue;
            }
            let (file, anchor) = link.split_once('#').unwrap_or((&link, ""));
            let target = match file {
                "" => document.clone(),
                file => tidy(&document.parent().unwrap().join(file)),
            };
            let at = repository().join(&target);
            assert!(at.exists(), "{}: {link} leads nowhere", document.display());
            let target = if at.is_dir() { target.join("README.md") } else { target };
            let has_it = anchor.is_empty() || markdown::anchors(&read(&target)).iter().any(|a| a == anchor);
            assert!(has_it, "{}: {link}: no such heading", document.display());
            seen += 1;
        }
    }
    assert!(seen > 40, "only {seen} links");
}

/// `a/b/../c` as `a/c`.
fn tidy(path: &Path) -> PathBuf {
    let mut tidy = PathBuf::new();
    for part in path.components() {
        match part {
            Component::ParentDir => {
                tidy.pop();
            }
            Component::CurDir => {}
            part => tidy.push(part),
        }
    }
    tidy
}

/// The sources of all crates: path below `crates/`, text.
fn sources() -> Vec<(PathBuf, String)> {
    let root = repository().join("crates");
    let is_source = |path: &PathBuf| path.extension().is_some_and(|ending| ending == "rs");
    let files = files_below(&root).into_iter().filter(is_source);
    files
        .map(|path| (path.clone(), std::fs::read_to_string(root.join(path)).unwrap()))
        .collect()
}

/// The names that `source` defines.
fn defined(source: &str) -> BTreeSet<String> {
    let keyword = r"(?:struct|enum|trait|type|fn|mod|const|static|macro_rules!)";
    let pattern = format!(r"(?m)^\s*(?:pub(?:\([a-z ]+\))? )?(?:async |const |unsafe )*{keyword} (\w+)");
    let pattern = Regex::new(&pattern).unwrap();
    set(pattern.captures_iter(source).map(|found| found[1].to_owned()))
}

/// A place in the code, as `logbook/book/gate.rs::name`: crate or folder, file, name. Files move between crates more often than
/// names change, so each of the three is looked up by itself.
fn places(text: &str) -> Vec<(String, String, String)> {
    let mut found = Vec::new();
    for span in code_spans(&markdown::prose(text).collect::<Vec<_>>().join("\n")) {
        let Some((path, name)) = span.split_once(".rs::") else {
            continue;
        };
        // How a place is written, and names of tests.
        if ["crate/", "tests/", "crates/"]
            .iter()
            .any(|start| path.starts_with(start))
        {
            continue;
        }
        let (owner, file) = path
            .split_once('/')
            .unwrap_or_else(|| panic!("`{span}` names no crate"));
        found.push((owner.to_owned(), format!("{file}.rs"), name.to_owned()));
    }
    found
}

#[test]
fn every_place_that_glossary_and_tour_name_is_in_the_code() {
    let sources = sources();
    let names = set(sources.iter().flat_map(|(_, source)| defined(source)));
    for document in ["docs/glossary.md", "docs/tour.md", "docs/design.md"] {
        let places = places(&read(document));
        let least = if document.ends_with("design.md") { 0 } else { 15 };
        assert!(places.len() >= least, "{document} names only {} places", places.len());
        for (owner, file, name) in places {
            let is_there = |wanted: &str| sources.iter().any(|(path, _)| path.ends_with(wanted));
            let has_owner = sources
                .iter()
                .any(|(path, _)| path.components().any(|c| c.as_os_str() == owner.as_str()));
            assert!(has_owner, "{document}: no crate or folder {owner}");
            assert!(is_there(&file), "{document}: no file {file} below crates/");
            let is_defined = names.contains(&name);
            assert!(
                is_defined,
                "{document}: {owner}/{file} should define {name}, and nothing below crates/ does"
            );
        }
    }
}

#[test]
fn definitions_are_told_from_uses() {
    let source = "pub(crate) struct Clock;\n    pub async fn look(&self) {}\nuse Other;\nconst fn few() {}\n";
    assert_eq!(defined(source), set(["Clock", "few", "look"].map(str::to_owned)));
}
