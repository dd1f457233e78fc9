//! Questions and judging beside recording: a snapshot does not change, receipts do not wait for judging, and whoever asks for
//! certainty gets the findings of what was there when it asked.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use gladhand_facts::Fact;
use gladhand_node::config::{Config, Role};
use gladhand_node::{Node, NodeHandle};

fn laptop(dir: &std::path::Path) -> Node {
    Node::create(&dir.join("home"), &Config::new("mara", Role::Laptop, "mara", "")).unwrap()
}

fn record(node: &mut Node, line: &str) -> u64 {
    let fact = Fact::from_line(&node.device(), line).unwrap();
    node.record(vec![fact]).unwrap()[0].place.seq
}

/// A camera on two trackers at once: a finding for each camera.
fn link_twice(node: &mut Node, n: usize) {
    for tracker in 0..2 {
        record(
            node,
            &format!(r#"{{"kind":"link","job":"J{n}-{tracker}","camera":"C{n}","tracker":"T{n}-{tracker}"}}"#),
        );
    }
}

#[test]
fn a_snapshot_stays_as_it_was() {
    let dir = tempfile::tempdir().unwrap();
    let mut node = laptop(dir.path());
    (0..5).for_each(|n| link_twice(&mut node, n));
    node.judge().unwrap();
    let snapshot = node.snapshot();
    let (findings, facts) = (
        snapshot.kept_findings().unwrap(),
        format!("{:?}", snapshot.all_facts().unwrap()),
    );
    assert_eq!(findings.len(), 5);
    (3..9).for_each(|n| link_twice(&mut node, n));
    node.judge().unwrap();
    assert!(node.kept_findings().unwrap().len() > findings.len());
    assert_eq!(snapshot.kept_findings().unwrap(), findings);
    assert_eq!(format!("{:?}", snapshot.all_facts().unwrap()), facts);
    assert_eq!(snapshot.view().unwrap().findings(), findings);
    assert!(snapshot.is_judged().unwrap());
}

#[test]
fn who_asks_for_certainty_gets_the_findings_of_what_it_sees() {
    let dir = tempfile::tempdir().unwrap();
    let mut node = laptop(dir.path());
    (0..20).for_each(|n| link_twice(&mut node, n));
    let (handle, thread) = NodeHandle::start(node);
    let is_over = AtomicBool::new(false);
    std::thread::scope(|scope| {
        scope.spawn(|| {
            for n in 20..60 {
                link_twice(&mut handle.lend().unwrap(), n);
            }
            is_over.store(true, Ordering::SeqCst);
        });
        for _ in 0..2 {
            scope.spawn(|| {
                while !is_over.load(Ordering::SeqCst) {
                    let seen = handle.judged().unwrap();
                    assert_eq!(seen.kept_findings().unwrap(), seen.view().unwrap().findings());
                }
            });
        }
        scope.spawn(|| {
            while !is_over.load(Ordering::SeqCst) {
                let (seen, is_judged) = handle.judged_within(Duration::from_millis(1)).unwrap();
                let kept = seen.kept_findings().unwrap();
                assert!(!is_judged || kept == seen.view().unwrap().findings());
            }
        });
    });
    let seen = handle.judged().unwrap();
    assert_eq!(seen.kept_findings().unwrap().len(), 60);
    drop(seen);
    drop(handle);
    let mut node = thread.join().unwrap().unwrap();
    assert_eq!(node.findings().unwrap(), node.view().unwrap().findings());
}

#[test]
fn an_index_that_is_made_anew_meanwhile_is_judged_anew() {
    let dir = tempfile::tempdir().unwrap();
    let mut node = laptop(dir.path());
    (0..10).for_each(|n| link_twice(&mut node, n));
    let (handle, _thread) = NodeHandle::start(node);
    let is_over = AtomicBool::new(false);
    std::thread::scope(|scope| {
        scope.spawn(|| {
            for _ in 0..10 {
                handle.lend().unwrap().rebuild(&gladhand_node::Silent).unwrap();
            }
            is_over.store(true, Ordering::SeqCst);
        });
        while !is_over.load(Ordering::SeqCst) {
            // The index may go under a question; then it says so, and the next one is answered.
            drop(handle.judged());
        }
    });
    let seen = handle.judged().unwrap();
    assert_eq!(seen.kept_findings().unwrap(), seen.view().unwrap().findings());
    assert_eq!(seen.kept_findings().unwrap().len(), 10);
}
