use std::path::Path;

use gladhand_facts::VersionVector;
use gladhand_node::Silent;

use super::*;
use crate::small_home::{SmallHome, keys, shown};

const TRAILER: &str = r#"{"kind":"job","job":"J1","trailer":"4712"}"#;

fn written(home: &SmallHome, at: &Path) -> BundleWritten {
    let file = BundleFile {
        given: Path::new("day.bundle"),
        at,
    };
    write(&home.node, file, &VersionVector::new(), &Silent).unwrap()
}

fn taken(home: &mut SmallHome, at: &Path) -> BundleTaken {
    let file = BundleFile {
        given: Path::new("day.bundle"),
        at,
    };
    read(&mut home.node, file, &Silent).unwrap()
}

/// A laptop that has joined the depot and recorded a fact, with its bundle.
fn joined(depot: &SmallHome) -> SmallHome {
    let mut laptop = SmallHome::laptop();
    let invite = depot.node.invite("mara", 3600).unwrap();
    laptop.node.join(&invite.to_line()).unwrap();
    laptop.record(&[TRAILER]);
    laptop
}

#[test]
fn a_bundle_is_written_looked_through_and_taken() {
    let mut depot = SmallHome::depot();
    let laptop = joined(&depot);
    let at = laptop.file("day.bundle");
    let written = written(&laptop, &at);
    assert_eq!(keys(&written), ["bytes", "entries", "file", "pictures", "upto"]);
    assert_eq!(written.bytes, std::fs::metadata(&at).unwrap().len());
    assert_eq!(
        shown(&written),
        format!("day.bundle: 3 entries, 0 pictures, {} bytes\n", written.bytes)
    );

    let inspected = inspect(BundleFile { given: &at, at: &at }).unwrap();
    let expected = ["depot", "entries", "faults", "file", "since", "upto", "writer"];
    assert_eq!(keys(&inspected), expected);
    assert_eq!((inspected.writer, inspected.entries), (laptop.node.device(), 3));
    assert_eq!(inspected.upto.to_string(), written.upto);
    let text = shown(&inspected);
    assert!(
        text.ends_with("\nwhole: every part, chain and signature fits\n"),
        "{text}"
    );

    let new = taken(&mut depot, &at);
    let expected = [
        "complete", "damaged", "enrolled", "file", "known", "new", "pictures", "refused",
    ];
    assert_eq!(keys(&new), expected);
    assert_eq!((new.extent(), new.complete), (Extent::All, true));
    let text = "day.bundle: 3 entries new, 0 known, 0 new pictures\nenrolled laptop-mara\n";
    assert_eq!(shown(&new), text);
    let again = taken(&mut depot, &at);
    assert_eq!((again.new, again.known, again.enrolled.len()), (0, 3, 0));
}

#[test]
fn a_damaged_bundle_says_what_is_lost_and_how_much_was_taken() {
    let mut depot = SmallHome::depot();
    let laptop = joined(&depot);
    let at = laptop.file("day.bundle");
    written(&laptop, &at);
    let bytes = std::fs::read(&at).unwrap();
    std::fs::write(&at, &bytes[..bytes.len() - 20]).unwrap();

    let inspected = inspect(BundleFile { given: &at, at: &at }).unwrap();
    assert!(!inspected.faults.is_empty());
    let text = shown(&inspected);
    assert!(
        text.contains("\nnot whole\n!gladhand: ") && text.ends_with('\n'),
        "{text}"
    );
    let part = taken(&mut depot, &at);
    assert_eq!((part.extent(), part.new, part.complete), (Extent::Part, 3, false));
    let text = shown(&part);
    assert!(
        text.contains("!gladhand: day.bundle: ") && text.contains("!  The good part is recorded."),
        "{text}"
    );
}

#[test]
fn what_was_taken_decides_between_part_and_nothing() {
    let extent = |new, refused: &[&str], damaged: &[&str]| {
        let texts = |of: &[&str]| of.iter().map(ToString::to_string).collect();
        let taken = BundleTaken {
            file: String::new(),
            new,
            known: 0,
            pictures: 0,
            enrolled: Vec::new(),
            refused: texts(refused),
            damaged: texts(damaged),
            complete: true,
        };
        taken.extent()
    };
    assert_eq!(extent(0, &[], &[]), Extent::All);
    assert_eq!(extent(0, &["a"], &[]), Extent::Refused);
    assert_eq!(extent(0, &["a"], &["b"]), Extent::Unusable);
    assert_eq!(extent(1, &["a"], &[]), Extent::Part);
    assert_eq!(extent(1, &[], &["b"]), Extent::Part);
}
