use std::io::{Seek, SeekFrom, Write};

use gladhand_node::Silent;

use super::*;
use crate::small_home::{SmallHome, keys, shown};

#[test]
fn a_whole_store_reads_back_and_damage_is_told() {
    let mut home = SmallHome::laptop();
    home.record(&[r#"{"kind":"note","text":"the yard is closed"}"#]);
    let whole = verified(&home.node, &Silent).unwrap();
    assert_eq!(keys(&whole), ["entries", "pictures", "signatures", "wrong"]);
    assert!(whole.entries == 2 && whole.signatures > 0 && whole.wrong.is_empty());
    let text = shown(&whole);
    assert!(
        text.starts_with("2 entries chained, ") && text.ends_with("read\neverything fits\n"),
        "{text}"
    );

    let journal = home.node.home().layout().log();
    let segment = std::fs::read_dir(journal).unwrap().next().unwrap().unwrap().path();
    let middle = std::fs::metadata(&segment).unwrap().len() / 2;
    let mut file = std::fs::OpenOptions::new().write(true).open(&segment).unwrap();
    file.seek(SeekFrom::Start(middle)).unwrap();
    file.write_all(b"not what was written").unwrap();
    let damaged = verified(&home.node, &Silent).unwrap();
    let wrong = &damaged.wrong[0];
    assert!(!wrong.place.is_empty() && !wrong.what.is_empty());
    let text = shown(&damaged);
    assert!(
        text.contains(&format!("wrong: {}: {}\n", wrong.place, wrong.what)) && !text.contains("fits"),
        "{text}"
    );
}
