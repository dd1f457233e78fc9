//! Runs every story in `tests/stories`.
//!
//! A story is read line by line. `#` begins a comment. In the facts part:
//!
//! ```text
//! lap-a {"kind":"link", …}     lap-a records a fact (its time is the story's clock, a minute a fact, unless it says `at`)
//! lap-a+ {"kind":"link", …}    the same, in one entry with its last fact
//! lap-b saw lap-a              lap-b has merged everything that lap-a has
//! lap-b saw lap-a:3            … everything up to entry 3
//! sync lap-a lap-b             both have merged
//! clock lap-b +90              its clock is 90 minutes fast from here on
//! wait 40                      40 minutes pass
//! reading lap-b depot 200      lap-b measures the depot's clock over a way of 200 ms there and back, and records it
//! the depot is known           from here on times are intervals, as they are after any reading
//! restore lap-b 2              it comes back from a backup of its first 2 entries
//! fork lap-a 2 depot           two entries claim place 2 of lap-a's log; depot noted it in its last entry
//! copy lap-a 2 depot           a copy of lap-a goes on in a log of its own from place 2 on; depot noted it in its last entry
//! checks lap-a J1 WALL LOAD but x,y   every required check of that wall and load (`-` unknown), good, except x and y
//! fit lap-a J1 5312 C1 T1      a good fit on an empty plate trailer up to the proof, which is of a picture of its own; no sign-off
//! pair lap-a J1 C1 T1          lap-a links the two in J1, and the settings go live
//! proof lap-a J1 one           lap-a asks for `picture:one` and judges it good
//! ```
//!
//! `@rule:class:subject` inside a fact stands for the id of that finding, `#4` for the id of the story's fourth fact, and
//! `picture:one` for the hash of a picture's bytes. A withdrawal is filed where its fact is, as a node does it. After `---` stands what must be found:
//!
//! ```text
//! RULE SUBJECT SEVERITY STANDING STATUS [jobs=J1,J2] [facts=1,4]     facts by their number in the story
//! not RULE [SUBJECT]                                                 must not be found
//! nothing else                                                       and no finding but those named
//! SUBJECT says WORDS                                                 some finding on it says so
//! TRAILER relied WORD                                                whether the report relies on it
//! SUBJECT next WORDS                                                 some finding on it says that this is to be done
//! ```
//!
//! After `+++` the story goes on. At the end of each part the facts are judged in many orders of arrival, at once
//! and one by one; all must give the same bytes.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

mod common;

use std::sync::Arc;

use common::story::{self, meaningful};
use common::{Dice, Yard, world};
use gladhand_facts::VersionVector;
use gladhand_reconcile::{Filter, Finding, Ledger, Report, ToldFinding, judge_all};

#[test]
fn every_story_holds() {
    let mut wrong = Vec::new();
    story::play_all(|chapter| {
        let findings = judged(chapter.yard);
        let told = ToldFinding::all(&findings, &chapter.yard.names());
        well_formed(&told);
        let mut problems = check(chapter.yard, &told, chapter.expected);
        if !problems.is_empty() {
            problems.push(format!("found:\n{}", table(&told)));
        }
        let name = chapter.name;
        wrong.extend(problems.into_iter().map(|p| format!("{name}: {p}")));
    });
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}

/// Judges in many orders of arrival, insists on equal bytes, and returns the findings.
fn judged(yard: &Yard) -> Vec<Finding> {
    let clocks = yard.clocks();
    let mut dice = Dice(0x6c61_726b_7370_7572);
    let mut order = yard.facts.clone();
    let mut first: Option<Vec<Finding>> = None;
    // Fewer where the order is not the question, as when mutants are hunted.
    let orders = std::env::var("ORDERS").ok().and_then(|orders| orders.parse().ok());
    for _ in 0..orders.unwrap_or(8) {
        let facts = yard.memory(order.clone());
        let found = judge_all(&world(&facts, &clocks));
        let wanted = first.get_or_insert_with(|| found.clone());
        assert_eq!(
            serde_json::to_string(&found).unwrap(),
            serde_json::to_string(wanted).unwrap()
        );
        same(&one_by_one(yard, &mut dice), wanted);
        dice.shuffle(&mut order);
    }
    first.unwrap_or_default()
}

fn same(found: &[Finding], wanted: &[Finding]) {
    let lines = |findings: &[Finding]| -> Vec<String> {
        let lines = findings.iter().map(|f| serde_json::to_string(f).unwrap());
        lines.collect()
    };
    let (found, wanted) = (lines(found), lines(wanted));
    let more: Vec<&String> = found.iter().filter(|f| !wanted.contains(f)).collect();
    let less: Vec<&String> = wanted.iter().filter(|f| !found.contains(f)).collect();
    assert!(found == wanted, "one by one:\n{more:#?}\nat once:\n{less:#?}");
}

/// The rules in the order of CONTRACT §4, written down once more.
const CONTRACT: [&str; 30] = [
    "camera-on-two-trackers",
    "tracker-with-two-cameras",
    "tracker-on-two-trailers",
    "planned-not-linked",
    "signed-without-link",
    "trailer-with-two-pairs",
    "signed-before-live",
    "signed-without-proof",
    "proof-of-another-pair",
    "proof-older-than-request",
    "proof-out-of-order",
    "proof-answers-disagree",
    "proof-without-picture",
    "picture-used-twice",
    "check-missing",
    "check-failed",
    "failed-after-sign-off",
    "cut-without-clearance",
    "pilot-hole-left-open",
    "trailer-opened-twice",
    "fields-disagree",
    "wrong-fleet",
    "not-the-listed-tracker",
    "unknown-part",
    "code-suspect",
    "changed-after-sign-off",
    "reading-withdrawn",
    "clock-off",
    "log-forked",
    "not-understood",
];

/// Findings stand in the order of the contract, each says one sentence, and an open one says what to do.
fn well_formed(findings: &[ToldFinding]) {
    let rank = |f: &ToldFinding| {
        CONTRACT
            .iter()
            .position(|rule| *rule == f.rule)
            .expect("a rule of the contract")
    };
    for pair in findings.windows(2) {
        let place = |f: &ToldFinding| (rank(f), f.subject.to_lowercase());
        assert!(
            place(&pair[0]) < place(&pair[1]),
            "{} before {}",
            pair[0].rule,
            pair[1].rule
        );
    }
    for f in findings {
        assert!(f.says.len() > 20 && f.says.ends_with('.'), "{}: {}", f.rule, f.says);
        assert!(
            !f.says.chars().any(|c| ('\u{e000}'..'\u{f8ff}').contains(&c)),
            "{}",
            f.says
        );
        assert!(f.next.len() > 15 && f.next.ends_with('.'), "{}: {}", f.rule, f.next);
        let nothing = f.next == "Nothing more to do.";
        assert_eq!(
            nothing,
            f.status == gladhand_reconcile::Status::Cleared,
            "{}: {}",
            f.rule,
            f.next
        );
    }
}

/// Judges as the facts come in, in an order in which they may come in.
fn one_by_one(yard: &Yard, dice: &mut Dice) -> Vec<Finding> {
    let clocks = yard.clocks();
    let mut facts = yard.memory([]);
    let mut ledger = Ledger::rebuild(&world(&facts, &clocks));
    for fork in &yard.forks {
        ledger.absorb_fork(&world(&facts, &clocks), fork.log.device);
    }
    for recorded in common::causal_order(&yard.facts, dice) {
        let recorded = Arc::new(recorded);
        facts.insert(recorded.clone());
        ledger.absorb(&world(&facts, &clocks), &[recorded]);
    }
    ledger.findings()
}

fn check(yard: &Yard, findings: &[ToldFinding], expected: &str) -> Vec<String> {
    let mut wrong = Vec::new();
    let mut named = Vec::new();
    let mut closed = false;
    for line in meaningful(expected) {
        let line = &pictured(line);
        let words: Vec<&str> = line.split_whitespace().collect();
        match words.as_slice() {
            ["nothing", "else"] => closed = true,
            ["not", rule] => wrong.extend(findings.iter().filter(|f| f.rule == *rule).map(|_| line.to_owned())),
            ["not", rule, subject] => {
                let hit = |f: &&ToldFinding| f.rule == *rule && shown_subject(f) == *subject;
                wrong.extend(findings.iter().filter(hit).map(|_| line.to_owned()));
            }
            [trailer, "relied", word] => {
                let is = relied_on(yard, trailer);
                wrong.extend((is != *word).then(|| format!("{line}, but it is {is}")));
            }
            [subject, "next", ..] => {
                let words = line.split_once(" next ").unwrap().1;
                let said = |f: &ToldFinding| shown_subject(f) == *subject && f.next.contains(words);
                if !findings.iter().any(said) {
                    wrong.push(format!("nobody says: {line}"));
                }
            }
            [subject, "says", ..] => {
                let words = line.split_once(" says ").unwrap().1;
                let said = |f: &ToldFinding| shown_subject(f) == *subject && f.says.contains(words);
                if !findings.iter().any(said) {
                    wrong.push(format!("nobody says: {line}"));
                }
            }
            [rule, subject, severity, standing, status, more @ ..] => {
                let Some(found) = findings
                    .iter()
                    .find(|f| f.rule == *rule && shown_subject(f) == *subject)
                else {
                    wrong.push(format!("not found: {line}"));
                    continue;
                };
                named.push(found.id.clone());
                let wanted = [*severity, standing, status].join(" ");
                if state(found) != wanted {
                    wrong.push(format!("{line}\n   is {}", state(found)));
                }
                wrong.extend(more.iter().filter_map(|m| check_more(yard, found, m)));
            }
            _ => panic!("no such expectation: {line}"),
        }
    }
    let strangers = findings.iter().filter(|f| closed && !named.contains(&f.id));
    wrong.extend(strangers.map(|f| format!("found too: {} {}: {}", f.rule, f.subject, f.says)));
    wrong
}

/// Puts the hash of a picture's bytes in the place of `picture:one`.
fn pictured(line: &str) -> String {
    let hash = |name: &str| common::picture(name).trim_start_matches("blake3:").to_owned();
    let word = |word: &str| word.strip_prefix("picture:").map_or_else(|| word.to_owned(), hash);
    line.split(' ').map(word).collect::<Vec<_>>().join(" ")
}

/// What the report says of a trailer.
fn relied_on(yard: &Yard, trailer: &str) -> &'static str {
    let (facts, clocks) = (yard.memory(yard.facts.clone()), yard.clocks());
    let world = world(&facts, &clocks);
    let seen = VersionVector::new();
    let report = Report::make(&world, &yard.names(), &judge_all(&world), &Filter::default(), &seen);
    let line = report
        .trailers
        .iter()
        .find(|line| line.trailer.replace(' ', "_") == trailer);
    line.map_or("unknown", |line| line.relied_on.name())
}

fn check_more(yard: &Yard, found: &ToldFinding, more: &str) -> Option<String> {
    let (key, list) = more.split_once('=').expect("jobs=… or facts=…");
    let is = match key {
        "jobs" => found.jobs.join(","),
        "facts" => {
            let number = |id: &gladhand_facts::FactId| yard.facts.iter().position(|w| w.fact.id() == *id).unwrap() + 1;
            let mut numbers: Vec<usize> = found.facts.iter().map(number).collect();
            numbers.sort();
            numbers.iter().map(ToString::to_string).collect::<Vec<_>>().join(",")
        }
        _ => panic!("no such expectation: {more}"),
    };
    (is != list).then(|| format!("{} {}: {more}, but it is {is}", found.rule, found.subject))
}

/// Devices are named by their names in a story, and a space is written as `_`.
fn shown_subject(finding: &ToldFinding) -> String {
    let names = ["lap-a", "lap-b", "lap-c", "lap-d", "lap-e", "depot"];
    let named = names.iter().find(|n| common::key_of(n).to_string() == finding.subject);
    named.map_or_else(|| finding.subject.replace(' ', "_"), |n| (*n).to_owned())
}

fn state(finding: &ToldFinding) -> String {
    let word = |v: serde_json::Value| v.as_str().unwrap_or_default().to_owned();
    let json = serde_json::to_value(finding).unwrap();
    ["severity", "standing", "status"]
        .map(|k| word(json[k].clone()))
        .join(" ")
}

fn table(findings: &[ToldFinding]) -> String {
    let line = |f: &ToldFinding| {
        format!(
            "   {} {} {}\n      {}\n      {}",
            f.rule,
            shown_subject(f),
            state(f),
            f.says,
            f.next
        )
    };
    findings.iter().map(line).collect::<Vec<_>>().join("\n")
}
