//! Findings that are kept beside the facts are those that judging everything gives: after every step of a day, after a
//! bundle, after a rebuild, and on a node that is opened anew.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use std::path::{Path, PathBuf};

use gladhand_facts::{Fact, VersionVector};
use gladhand_node::config::{Config, Role};
use gladhand_node::input::{self, Format};
use gladhand_node::{Node, Silent};
use gladhand_reconcile::names::Spelled;
use gladhand_reconcile::{DeviceNames, ToldFinding};

fn demo_data(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-data").join(name)
}

fn facts(node: &Node, file: &str) -> Vec<Fact> {
    let mut facts = Vec::new();
    let source = std::fs::File::open(demo_data(file)).unwrap();
    let mut sink = |line: input::InputLine| {
        facts.push(Fact::from_map(&node.device(), line.object.unwrap()).unwrap());
        Ok::<(), std::io::Error>(())
    };
    input::read_lines(&mut std::io::BufReader::new(source), Format::of_name(file), &mut sink).unwrap();
    facts
}

fn assert_kept_is_judged(node: &mut Node, when: &str) -> usize {
    let kept = serde_json::to_string(&node.findings().unwrap()).unwrap();
    let judged = node.view().unwrap().findings();
    assert_eq!(kept, serde_json::to_string(&judged).unwrap(), "{when}");
    judged.len()
}

#[test]
fn kept_findings_are_judged_findings() {
    let dir = tempfile::tempdir().unwrap();
    let home = |name: &str| dir.path().join(name);
    let mut depot = Node::create(&home("depot"), &Config::new("depot", Role::Depot, "bram", "")).unwrap();
    let invite = depot.invite("", 3600).unwrap().to_line();
    let mut laptop = Node::create(&home("laptop"), &Config::new("laptop", Role::Laptop, "ilse", "")).unwrap();
    laptop.join(&invite).unwrap();

    let files = [
        "03-ilse-afternoon.jsonl",
        "06-ilse-evening.csv",
        "09-ilse-night.jsonl",
        "11-ilse-correction.jsonl",
    ];
    for file in files {
        for (n, some) in facts(&laptop, file).chunks(23).enumerate() {
            laptop.record(some.to_vec()).unwrap();
            if n % 3 == 0 {
                assert_kept_is_judged(&mut laptop, &format!("{file}, part {n}"));
            }
        }
    }
    // Another device's facts about the same parts, recorded without awareness of the first.
    depot.record(facts(&depot, "01-stock.jsonl")).unwrap();
    depot.record(facts(&depot, "02-mara-afternoon.jsonl")).unwrap();
    assert_kept_is_judged(&mut depot, "the depot alone");
    let bundle = home("b");
    laptop.write_bundle(&bundle, &VersionVector::new(), &Silent).unwrap();
    depot.read_bundle(&bundle, &Silent).unwrap();
    let found = assert_kept_is_judged(&mut depot, "merged");
    assert!(found >= 5, "only {found} findings");

    depot.rebuild(&Silent).unwrap();
    assert_eq!(assert_kept_is_judged(&mut depot, "rebuilt"), found);
    depot.close().unwrap();
    let mut depot = Node::open(&home("depot"), &Silent).unwrap();
    assert_eq!(assert_kept_is_judged(&mut depot, "opened anew"), found);
}

/// Findings are stored without names: the same bytes read differently by a device's name, and a device that becomes known
/// changes none of them.
#[test]
fn no_name_is_stored_with_a_finding() {
    let dir = tempfile::tempdir().unwrap();
    let home = |name: &str| dir.path().join(name);
    let mut depot = Node::create(&home("depot"), &Config::new("depot", Role::Depot, "bram", "")).unwrap();
    let mut laptops = ["lap-one", "lap-two"].map(|name| {
        let invite = depot.invite("", 3600).unwrap().to_line();
        let mut laptop = Node::create(&home(name), &Config::new(name, Role::Laptop, "ilse", "")).unwrap();
        laptop.join(&invite).unwrap();
        laptop
    });
    let [one, two] = &mut laptops;
    let link = |tracker: &str| {
        format!(r#"{{"kind":"link","job":"J1","camera":"LK-C-0412","tracker":"{tracker}","by":"ilse"}}"#)
    };
    let links = ["LK-T-1001", "LK-T-1002"].map(|tracker| Fact::from_line(&two.device(), &link(tracker)).unwrap());
    two.record(links.to_vec()).unwrap();
    let bundle = home("b");
    two.write_bundle(&bundle, &VersionVector::new(), &Silent).unwrap();
    depot.read_bundle(&bundle, &Silent).unwrap();
    let stored = |node: &mut Node| serde_json::to_string(&node.findings().unwrap()).unwrap();
    let kept = stored(&mut depot);
    let findings = depot.findings().unwrap();
    assert!(!findings.is_empty());
    let told = depot.told(&findings, None);
    assert!(
        told.iter().any(|f| f.says.contains("lap-two")) && !kept.contains("lap-two"),
        "{kept}"
    );
    // The same findings where that device has no name: read from what is stored, with nothing but its key.
    let view = depot.view().unwrap();
    let nameless = Spelled {
        names: &DeviceNames::default(),
        facts: view.facts(),
    };
    let nameless = ToldFinding::all(&findings, &nameless);
    assert!(nameless.iter().any(|f| f.says.contains(&two.device().short())));
    assert!(
        nameless
            .iter()
            .zip(&told)
            .all(|(n, t)| n.says.replace(&two.device().short(), "lap-two") == t.says)
    );
    // A third device joins and is heard of.
    one.write_bundle(&bundle, &VersionVector::new(), &Silent).unwrap();
    depot.read_bundle(&bundle, &Silent).unwrap();
    assert!(depot.book().roster().devices().contains(&one.device()));
    assert_eq!(stored(&mut depot), kept);
    assert_kept_is_judged(&mut depot, "with a new device");
}
