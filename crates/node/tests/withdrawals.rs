//! What may be taken back, and what is noted with it: for facts that are recorded, for lines of a source, and between devices.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use std::path::Path;

use gladhand_facts::{Fact, FactId, VersionVector};
use gladhand_node::config::{Config, Role};
use gladhand_node::intake::{self, Listener, Source, Tally};
use gladhand_node::{Node, NodeAccess, Receipt, RecordError, RecordOutcome, Silent, WithdrawalError};

fn home(dir: &Path, name: &str, role: Role, person: &str) -> Node {
    Node::create(&dir.join(name), &Config::new(name, role, person, "")).unwrap()
}

fn fact(node: &Node, line: &str) -> Fact {
    Fact::from_line(&node.device(), line).unwrap()
}

fn record(node: &mut Node, line: &str) -> Receipt {
    let fact = fact(node, line);
    node.record(vec![fact]).unwrap().pop().unwrap()
}

fn withdrawal(node: &Node, of: &FactId) -> Fact {
    fact(
        node,
        &format!(r#"{{"kind":"withdraw","fact":"{of}","why":"a slip of the pen"}}"#),
    )
}

fn withdraw(node: &mut Node, of: &FactId) -> Result<Receipt, WithdrawalError> {
    let fact = withdrawal(node, of);
    match node.record(vec![fact]) {
        Ok(mut receipts) => Ok(receipts.pop().unwrap()),
        Err(RecordError::Withdrawal(error)) => Err(error),
        Err(RecordError::Node(error)) => panic!("{error}"),
    }
}

/// A home of the depot's.
fn joined(dir: &Path, depot: &mut Node, name: &str, person: &str) -> Node {
    let invite = depot.invite("", 3600).unwrap().to_line();
    let mut node = home(dir, name, Role::Laptop, person);
    node.join(&invite).unwrap();
    node
}

fn carry(dir: &Path, from: &mut Node, to: &mut Node) {
    let bundle = dir.join("bundle");
    from.write_bundle(&bundle, &VersionVector::new(), &Silent).unwrap();
    to.read_bundle(&bundle, &Silent).unwrap();
    std::fs::remove_file(&bundle).unwrap();
}

#[test]
fn a_withdrawal_notes_what_the_fact_was_about() {
    let dir = tempfile::tempdir().unwrap();
    let mut node = home(dir.path(), "mara", Role::Laptop, "mara");
    record(&mut node, r#"{"kind":"job","job":"J1","trailer":"LF 5396"}"#);
    let check = record(
        &mut node,
        r#"{"kind":"check","job":"J1","check":"side","value":"kerb"}"#,
    );
    let loose = record(
        &mut node,
        r#"{"kind":"stock","camera":"LK-C-0412","fleet":"Larkspur Freight"}"#,
    );

    let receipt = withdraw(&mut node, &check.fact.id()).unwrap();
    assert_eq!(receipt.fact.text("job").as_deref(), Some("J1"));
    let withdrawn = receipt.fact.get("withdrawn").unwrap();
    for (key, value) in [("kind", "check"), ("check", "side"), ("job", "J1"), ("by", "mara")] {
        assert_eq!(withdrawn.get(key).and_then(|v| v.as_str()), Some(value), "{withdrawn}");
    }
    // What the device notes takes no part in the identity: the same line is the same fact.
    let given = withdrawal(&node, &check.fact.id());
    assert_eq!(given.id(), receipt.fact.id());
    assert_eq!(
        withdraw(&mut node, &check.fact.id()).unwrap().taken,
        RecordOutcome::Already
    );
    // It is durable with what was noted, also where the withdrawn fact has no job.
    let receipt = withdraw(&mut node, &loose.fact.id()).unwrap();
    assert!(receipt.fact.get("job").is_none());
    let kept = node.fact(&receipt.fact.id()).unwrap().unwrap();
    assert_eq!(kept.fact.get("withdrawn").unwrap()["camera"], "LK-C-0412");
}

#[test]
fn a_fact_is_found_by_the_beginning_of_its_id() {
    let dir = tempfile::tempdir().unwrap();
    let mut node = home(dir.path(), "mara", Role::Laptop, "mara");
    let notes: Vec<FactId> = (0..20)
        .map(|n| {
            record(&mut node, &format!(r#"{{"kind":"note","text":"{n}"}}"#))
                .fact
                .id()
        })
        .collect();
    for id in &notes {
        let found = node.facts_beginning(&id.to_string()[..12].to_uppercase(), 2).unwrap();
        assert_eq!(found.iter().map(|w| w.fact.id()).collect::<Vec<_>>(), [*id]);
    }
    assert_eq!(node.facts_beginning("", 5).unwrap().len(), 5);
    node.rebuild(&Silent).unwrap();
    assert!(node.fact(&notes[7]).unwrap().is_some());
}

#[test]
fn what_cannot_be_taken_back_is_refused_and_nothing_is_recorded() {
    let dir = tempfile::tempdir().unwrap();
    let mut node = home(dir.path(), "mara", Role::Laptop, "mara");
    let opening = record(&mut node, r#"{"kind":"job","job":"J1","trailer":"LF 5396"}"#)
        .fact
        .id();
    let field = record(&mut node, r#"{"kind":"job","job":"J1","trailer":"LF 5397"}"#)
        .fact
        .id();
    let before = node.book().vector();

    let unknown = FactId([7; 32]);
    assert_eq!(
        withdraw(&mut node, &unknown).unwrap_err(),
        WithdrawalError::Unknown(unknown)
    );
    let refused = withdraw(&mut node, &opening).unwrap_err();
    assert_eq!(
        refused,
        WithdrawalError::OfAnOpening {
            fact: opening,
            job: "J1".into()
        }
    );
    for line in [
        r#"{"kind":"withdraw","fact":"0f6e","why":"x"}"#.to_owned(),
        format!(r#"{{"kind":"withdraw","fact":"{field}","why":"x","job":"J2"}}"#),
        format!(r#"{{"kind":"withdraw","fact":"{field}","why":"x","withdrawn":{{"kind":"note"}}}}"#),
    ] {
        let fact = fact(&node, &line);
        let refused = node.record(vec![fact]);
        assert!(
            matches!(refused, Err(RecordError::Withdrawal(_))),
            "{line}: {refused:?}"
        );
    }
    assert_eq!(node.book().vector(), before);

    // A later field of the same job may be taken back, its withdrawal may not.
    let taken_back = withdraw(&mut node, &field).unwrap().fact.id();
    assert_eq!(
        withdraw(&mut node, &taken_back).unwrap_err(),
        WithdrawalError::OfAWithdrawal(taken_back)
    );
}

#[test]
fn only_who_recorded_it_or_the_depot_takes_a_fact_back() {
    let dir = tempfile::tempdir().unwrap();
    let mut depot = home(dir.path(), "depot", Role::Depot, "bram");
    let mut mara = joined(dir.path(), &mut depot, "mara", "mara");
    let mut other = joined(dir.path(), &mut depot, "tablet", "MARA");
    let mut ilse = joined(dir.path(), &mut depot, "ilse", "ilse");
    let line = |n: u8| format!(r#"{{"kind":"check","job":"J1","check":"side","value":"{n}"}}"#);
    let ids: Vec<FactId> = (0..3).map(|n| record(&mut mara, &line(n)).fact.id()).collect();
    carry(dir.path(), &mut mara, &mut depot);
    carry(dir.path(), &mut depot, &mut ilse);
    carry(dir.path(), &mut depot, &mut other);

    let refused = withdraw(&mut ilse, &ids[0]).unwrap_err();
    assert_eq!(
        refused,
        WithdrawalError::OfSomebodyElse {
            fact: ids[0],
            device: mara.device(),
            by: Some("mara".into())
        }
    );
    // The same person on another device, the depot, and the device itself for another person.
    withdraw(&mut other, &ids[0]).unwrap();
    withdraw(&mut depot, &ids[1]).unwrap();
    let line = format!(r#"{{"kind":"withdraw","fact":"{}","why":"x","by":"jonas"}}"#, ids[2]);
    record(&mut mara, &line);
}

/// What happened to each line of a source.
#[derive(Default)]
struct Lines {
    recorded: Vec<u64>,
    rejected: Vec<(u64, String, String)>,
}

impl Listener for Lines {
    type Stop = ();
    fn recorded(&mut self, receipts: &[(u64, Receipt)]) -> Result<(), ()> {
        self.recorded.extend(receipts.iter().map(|(line, _)| *line));
        Ok(())
    }
    fn rejected(&mut self, line: u64, reason: &str, text: &str) -> Result<(), ()> {
        self.rejected.push((line, reason.to_owned(), text.to_owned()));
        Ok(())
    }
    fn warned(&mut self, _line: u64, _warning: &str) {}
}

#[test]
fn a_line_may_take_back_one_before_it_and_a_bad_one_is_rejected_alone() {
    let dir = tempfile::tempdir().unwrap();
    let node = home(dir.path(), "mara", Role::Laptop, "mara");
    let check = r#"{"kind":"check","job":"J1","check":"side","value":"kerb"}"#;
    let slip = fact(&node, check).id();
    let unknown = FactId([7; 32]);
    let bad = format!(r#"{{"why": "x", "kind": "withdraw", "fact": "{unknown}"}}"#);
    let lines = [
        check.to_owned(),
        bad.clone(),
        format!(r#"{{"kind":"withdraw","fact":"{slip}","why":"the other side"}}"#),
        r#"{"kind":"note","text":"after"}"#.to_owned(),
    ]
    .join("\n");
    let mut access = NodeAccess::own(node);
    let (mut heard, mut tally) = (Lines::default(), Tally::default());
    let source = Source {
        reader: Box::new(std::io::Cursor::new(lines.into_bytes())),
        format: None,
        is_whole: None,
    };
    intake::take_in(&mut access, source, dir.path(), &mut heard, &mut tally).unwrap();
    assert_eq!(heard.recorded, [1, 3, 4]);
    assert_eq!(heard.rejected.len(), 1);
    let (line, reason, text) = &heard.rejected[0];
    assert_eq!((*line, text), (2, &bad));
    assert!(reason.contains("no fact 07070707 is known here"), "{reason}");
    assert_eq!((tally.recorded, tally.rejected), (3, 1));
}
