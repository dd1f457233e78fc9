//! Text that people and their programs write: fact lines, CSV, the work standard, the configuration.

use std::io::Cursor;

use gladhand_facts::measure::Measure;
use gladhand_facts::{DeviceKey, Fact};
use gladhand_node::config::{Config, Role};
use gladhand_node::input::{self, Format, InputLine};
use gladhand_tests::demo_data;
use gladhand_tests::fuzz::{Kind, Target};
use gladhand_trade::Visit;
use gladhand_trade::checks::verdict;
use gladhand_trade::clearance::decide;
use gladhand_trade::situation::Situation;
use gladhand_trade::standard::{BUILT_IN, Standard};

use crate::judged;

const DEVICE: DeviceKey = DeviceKey([7; 32]);

fn lines(bytes: &[u8], format: Option<Format>) -> Vec<InputLine> {
    let mut found = Vec::new();
    let mut sink = |line| {
        found.push(line);
        Ok::<(), std::io::Error>(())
    };
    input::read_lines(&mut Cursor::new(bytes), format, &mut sink).expect("memory does not fail");
    found
}

/// What every reader of lines owes: numbers that rise, words for what is refused, no more lines than there are.
fn facts_of(bytes: &[u8], found: Vec<InputLine>) -> Vec<Fact> {
    let newlines = bytes.iter().filter(|b| matches!(**b, b'\n' | b'\r')).count() as u64;
    assert!(
        found.len() as u64 <= newlines + 1,
        "{} lines of {newlines}",
        found.len()
    );
    let mut before = 0;
    let mut facts = Vec::new();
    for line in found {
        assert!(
            line.number > before || line.number == 0,
            "line {} after {before}",
            line.number
        );
        assert!(line.number <= newlines + 1, "line {} of {newlines}", line.number);
        assert!(line.text.len() < 20_000, "{} bytes to show", line.text.len());
        before = line.number;
        match line.object {
            Err(reason) => assert!(!reason.trim().is_empty() && reason.len() < 10_000, "{reason}"),
            Ok(map) => match Fact::from_map(&DEVICE, map) {
                Err(e) => assert!(!e.to_string().is_empty()),
                Ok(fact) => facts.push(fact),
            },
        }
    }
    facts.iter().for_each(keeps_its_meaning);
    facts
}

/// Written and read again it is the same fact, under the same name.
fn keeps_its_meaning(fact: &Fact) {
    let stored = fact.stored();
    let again = Fact::from_stored(&DEVICE, &stored).unwrap_or_else(|e| panic!("{e}: {stored}"));
    assert_eq!((again.id(), again.stored()), (fact.id(), stored));
    let shown = serde_json::Value::Object(fact.shown()).to_string();
    assert!(serde_json::from_str::<serde_json::Value>(&shown).is_ok(), "{shown}");
    assert!(fact.answers().count() <= shown.len());
    for (key, _) in fact.fields() {
        let _ = (fact.text(key), fact.flag(key), fact.moment(key), fact.measure(key));
    }
    let name = fact.text("check").unwrap_or_default();
    let standard = judged::standard();
    if let Some(check) = standard.check(&name) {
        let _ = verdict(check, fact);
    }
}

const GOOD: &str = r#"{"kind":"note","text":"the good rest"}"#;

#[test]
fn json_lines() {
    let target = Target {
        name: "json-lines",
        kind: Kind::Text,
        inputs: 60,
        generator: &|| {
            let demo = |name: &str| std::fs::read(demo_data().join(name)).unwrap();
            let some: Vec<u8> = demo("02-mara-afternoon.jsonl")
                .split_inclusive(|b| *b == b'\n')
                .take(30)
                .flatten()
                .copied()
                .collect();
            vec![("afternoon.jsonl", some), ("odd.jsonl", ODD_LINES.as_bytes().to_vec())]
        },
    };
    target.run(&mut |bytes| {
        let mut with_rest = bytes.to_vec();
        with_rest.extend_from_slice(format!("\n{GOOD}\n").as_bytes());
        let mut facts = facts_of(&with_rest, lines(&with_rest, Some(Format::JsonLines)));
        let last = facts.pop().expect("the good rest is taken");
        assert_eq!(last.text("text").as_deref(), Some("the good rest"));
        judged::holds(&facts);
        // The beginning tells the format, whatever it is.
        lines(bytes, None);
        !facts.is_empty()
    });
}

const ODD_LINES: &str = r#"{"kind":"job","job":"J1","trailer":"LF 5301","tracker":"LT500411541","fleet":"Larkspur Freight","yard":"Tolland","wall":"plate","load":"loaded","thickness":"1/2 in","at":"2026-03-02T16:00:00-05:00"}
{"kind":"scan","job":"J1","what":"camera","code":"LC-LT91Z9J","symbology":"code39","at":"2026-03-02T16:01:00-05:00"}
{"kind":"check","job":"J1","check":"pilot-hole","ok":true,"at":"2026-03-02T16:02:00-05:00"}
{"kind":"check","job":"J1","check":"pilot-depth","value":"19 mm","at":"2026-03-02T16:03:00-05:00"}
{"kind":"check","job":"J1","check":"placement-top","value":1.75,"unit":"in","at":"2026-03-02T16:04:00-05:00"}
{"kind":"check","job":"J1","check":"primer-wait","value":"5 min","at":"2026-03-02T16:05:00-05:00"}
{"kind":"link","job":"J1","camera":"LC-LT91Z9J","tracker":"LT500411541","at":"2026-03-02T16:20:00-05:00","by":"mara"}
{"kind":"settings","job":"J1","tracker":"LT500411541","camera":"LC-LT91Z9J","state":"live","at":"2026-03-02T21:25:00Z","clock":"reference"}
{"kind":"proof","job":"J1","state":"judged","picture":"blake3:0000000000000000000000000000000000000000000000000000000000000000","taken_at":"2026-03-02T16:26:00-05:00","answers":{"front-wall-seen":true,"lens-clear":true},"ok":true}
{"kind":"proof","job":"J1","state":"asked","at":"2026-03-02T16:25:00-05:00"}
{"kind":"sign-off","job":"J1","at":"2026-03-02T16:30:00-05:00","by":"mara"}
{"kind":"unlink","job":"J1","camera":"LC-LT91Z9J","tracker":"LT500411541","why":"wrong one"}
{"kind":"stock","camera":"LC-LT91Z9K","fleet":"Larkspur Freight"}
{"kind":"stock","tracker":"LT500411541","fleet":"Another Fleet"}
{"kind":"ruling","finding":"0000","ruling":"accepted","why":"seen"}
{"kind":"stand-down","job":"J2","why":"no time"}
{"kind":"weighing","job":"J1","value":"12 kg"}
"#;

#[test]
fn csv() {
    let target = Target {
        name: "csv",
        kind: Kind::Text,
        inputs: 60,
        generator: &|| {
            vec![
                ("comma.csv", COMMA.as_bytes().to_vec()),
                ("semicolon.csv", COMMA.replace(',', ";").into_bytes()),
                ("stock.csv", STOCK.as_bytes().to_vec()),
            ]
        },
    };
    target.run(&mut |bytes| {
        let found = lines(bytes, Some(Format::Csv));
        let facts = facts_of(bytes, found);
        judged::holds(&facts);
        lines(bytes, None);
        !facts.is_empty()
    });
}

const COMMA: &str = "kind,job,trailer,check,value,unit,ok,answers.lens-clear,answers.front-wall-seen,camera,tracker,at\n\
    job,J1,LF 5301,,,,,,,,LT500411541,2026-03-02T16:00:00-05:00\n\
    check,J1,,placement-top,1.5,in,,,,,,2026-03-02T16:01:00-05:00\n\
    check,J1,,hole-diameter,\"1 3/4\",in,true,,,,,\n\
    link,J1,,,,,,,,LC-LT91Z9J,LT500411541,2026-03-02T16:20:00-05:00\n\
    proof,J1,,,,,yes,true,no,,,\n\
    sign-off,J1,,,,,,,,,,2026-03-02T16:30:00-05:00\n";

const STOCK: &str =
    "kind,camera,fleet\r\nstock,LC-LT91Z9J,Larkspur Freight\r\nstock,LC-LT91Z9K,\"Larkspur\r\nFreight\"\r\n";

#[test]
fn work_standard() {
    let target = Target {
        name: "work-standard",
        kind: Kind::Text,
        inputs: 40,
        generator: &|| vec![("built-in.toml", BUILT_IN.as_bytes().to_vec())],
    };
    target.run(&mut |bytes| {
        let Ok(text) = std::str::from_utf8(bytes) else {
            return false;
        };
        match Standard::parse(text) {
            Err(e) => {
                let last = text.matches('\n').count() + 1;
                assert!(e.line().is_none_or(|line| (1..=last).contains(&line)), "{e}");
                assert!(!e.to_string().is_empty() && e.to_string().len() < 100_000);
                false
            }
            Ok(standard) => {
                works(&standard);
                true
            }
        }
    });
}

/// Whatever a standard asks for, it can be asked.
fn works(standard: &Standard) {
    let facts: Vec<Fact> = ODD_LINES
        .lines()
        .map(|l| Fact::from_line(&DEVICE, l).unwrap())
        .collect();
    let borrowed: Vec<&Fact> = facts.iter().collect();
    for (wall, load) in [
        (Some("plate"), Some("loaded")),
        (Some("sheet-and-post"), Some("empty")),
        (None, None),
    ] {
        let situation = Situation::from_facts(wall, load, Measure::parse("1/2 in").ok(), &borrowed);
        let _ = (decide(standard, &situation), situation.has_open_pilot(standard));
        let required = standard.required(wall, load);
        for (check, fact) in required.iter().flat_map(|check| facts.iter().map(move |f| (check, f))) {
            let _ = verdict(check, fact);
        }
        let visit = Visit {
            wall,
            load,
            ..Visit::default()
        };
        let _ = (standard.kit(visit), standard.proof_answers_for(visit));
    }
    let _ = (
        standard.clock(),
        standard.proof_answers(),
        standard.retention(),
        standard.reading_uncertainty(),
    );
}

#[test]
fn config() {
    let target = Target {
        name: "config",
        kind: Kind::Text,
        inputs: 800,
        generator: &|| {
            let mut full = Config::new("harrow-street", Role::Depot, "bram", "127.0.0.1:7401");
            full.depot = "ab".repeat(32);
            full.peers = vec!["127.0.0.1:7401".into(), "depot.example:7401".into()];
            full.yard = "Tolland".into();
            let bare = Config::new("laptop-mara", Role::Laptop, "mara", "");
            vec![
                ("depot.toml", full.render().into_bytes()),
                ("laptop.toml", bare.render().into_bytes()),
            ]
        },
    };
    target.run(&mut |bytes| {
        let Ok(text) = std::str::from_utf8(bytes) else {
            return false;
        };
        match Config::parse(text, "config.toml") {
            Err(e) => {
                let failure = gladhand::failure::Failure::from(e);
                assert!(
                    failure.what.starts_with("config.toml, line ") && failure.hint.is_some(),
                    "{}",
                    failure.what
                );
                false
            }
            Ok(config) => {
                let _ = config.root();
                let again = Config::parse(&config.render(), "config.toml");
                assert_eq!(again.unwrap_or_else(|e| panic!("{e}\n{}", config.render())), config);
                let mut joined = config.clone();
                joined.depot = "cd".repeat(32);
                joined.peers.push("depot.example:7401".into());
                let edited = joined
                    .edit(text, "config.toml")
                    .unwrap_or_else(|e| panic!("{e}\n{text}"));
                let again = Config::parse(&edited, "config.toml");
                assert_eq!(again.unwrap_or_else(|e| panic!("{e}\n{edited}")), joined);
                true
            }
        }
    });
}
