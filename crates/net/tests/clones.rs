//! A home is copied and both go on, with the same key, over real sockets: each is served, each gets what the other wrote, and
//! everybody is told.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    missing_docs
)]

mod common;

use std::path::Path;

use common::{Running, acquainted, note, start};
use gladhand_net::sync::{self, Whom};
use gladhand_node::{Node, Silent};

fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap().map(Result::unwrap) {
        let (path, place) = (entry.path(), to.join(entry.file_name()));
        if path.is_dir() {
            copy(&path, &place);
        } else {
            std::fs::copy(&path, &place).unwrap();
        }
    }
}

async fn level(from: &Running, to: &Running) -> bool {
    let merged = sync::sync(&from.hub, &Whom::Place(to.at().to_string()), &[], false).await;
    merged[0].outcome.as_ref().is_ok_and(|tally| tally.level)
}

fn texts(node: &mut Node) -> Vec<String> {
    let facts = node.all_facts().unwrap();
    let mut found: Vec<String> = facts.all().map(|w| w.fact.text("text").unwrap().into_owned()).collect();
    found.sort();
    found
}

#[tokio::test(flavor = "multi_thread")]
async fn a_copied_home_and_its_original_merge_over_the_network_and_everybody_is_told() {
    let dir = tempfile::tempdir().unwrap();
    let (harrow, [mara]) = acquainted(dir.path(), ["mara"]);
    mara.close().unwrap();
    copy(&dir.path().join("mara"), &dir.path().join("clone"));
    let open = |name: &str| Node::open(&dir.path().join(name), &Silent).unwrap();
    let (mut mara, mut clone) = (open("mara"), open("clone"));
    note(&mut mara, "by the original");
    note(&mut clone, "by the copy");
    let harrow = start(harrow, true, &[]).await;
    let (mara, clone) = (start(mara, true, &[]).await, start(clone, false, &[]).await);
    assert!(level(&mara, &harrow).await);
    assert!(level(&clone, &harrow).await);
    // With each other as well, without the depot.
    clone.ask(|node| note(node, "by the copy, later")).await;
    assert!(level(&clone, &mara).await);
    assert!(level(&mara, &harrow).await);
    let told = harrow.ask(|node| node.findings().unwrap()).await;
    let rules: Vec<_> = told.iter().map(|f| (f.rule.as_str(), f.is_open())).collect();
    assert_eq!(rules, [("log-forked", true)]);
    assert_eq!(told[0].subject.text(), mara.key.to_string());
    for node in [&harrow, &mara, &clone] {
        assert_eq!(node.ask(|node| node.findings().unwrap()).await, told);
        let wanted = ["by the copy", "by the copy, later", "by the original"];
        assert_eq!(node.ask(texts).await, wanted);
    }
}
