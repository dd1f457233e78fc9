//! An invite that was used in time, and reaches the depot too late, enrols nobody. Only the depot's clock judges that.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    missing_docs
)]

mod common;

use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

use common::{laptop, note, start};
use gladhand_facts::VersionVector;
use gladhand_net::dial::DialError;
use gladhand_net::sync::{self, Whom};
use gladhand_node::config::{Config, Role};
use gladhand_node::peer::CredentialVerdict;
use gladhand_node::{Environment, Node, Silent};

const VALID_S: i64 = 3_600;

/// A depot whose clock the test moves.
struct Depot {
    node: Node,
    late_us: Arc<AtomicI64>,
}

impl Depot {
    fn new(dir: &Path) -> Self {
        let late_us = Arc::new(AtomicI64::new(0));
        let machine = Environment::machine();
        let (real, shift) = (Arc::clone(&machine.now_us), Arc::clone(&late_us));
        let environment = Environment {
            now_us: Arc::new(move || real() + shift.load(Ordering::Relaxed)),
            ..machine
        };
        let config = Config::new("harrow-street", Role::Depot, "", "");
        let node = Node::create_with(&dir.join("depot"), &config, environment).unwrap();
        Self { node, late_us }
    }

    fn pass(&self, seconds: i64) {
        self.late_us.fetch_add(seconds * 1_000_000, Ordering::Relaxed);
    }

    fn has_enrolled(&self, node: &Node) -> bool {
        self.node.book().roster().is_enrolled(&node.device())
    }
}

/// Theo joined within the hour that his invite was good for, and wrote a note.
fn theo(dir: &Path, depot: &Depot) -> Node {
    let mut theo = laptop(dir, "theo", &depot.node);
    note(&mut theo, "trailer TL-118 stands at gate 4");
    theo
}

#[test]
fn a_depot_that_reads_the_bundle_too_late_enrols_nobody() {
    let dir = tempfile::tempdir().unwrap();
    let mut depot = Depot::new(dir.path());
    let theo = theo(dir.path(), &depot);
    let bundle = dir.path().join("bundle");
    theo.write_bundle(&bundle, &VersionVector::new(), &Silent).unwrap();
    depot.pass(VALID_S + 1);
    let before = depot.node.book().vector();
    let read = depot.node.read_bundle(&bundle, &Silent).unwrap();
    assert_eq!((read.entries, read.enrolled.len()), (0, 0), "{read:?}");
    assert!(read.refused.iter().any(|why| why.contains("expired")), "{read:?}");
    assert!(!depot.has_enrolled(&theo));
    assert_eq!(depot.node.book().vector(), before);
}

#[test]
fn a_depot_that_is_shown_the_credential_too_late_enrols_nobody() {
    let dir = tempfile::tempdir().unwrap();
    let mut depot = Depot::new(dir.path());
    let theo = theo(dir.path(), &depot);
    let credential = theo.book().roster().credential(&theo.device()).unwrap().clone();
    depot.pass(VALID_S + 1);
    let judged = depot.node.judge_credential(credential.clone()).unwrap();
    assert!(
        matches!(&judged, CredentialVerdict::Refused(why) if why.contains("expired")),
        "{judged:?}"
    );
    assert!(!depot.has_enrolled(&theo));
    // The same credential, some seconds before its time is over.
    depot.pass(-60);
    let judged = depot.node.judge_credential(credential).unwrap();
    assert_eq!(judged, CredentialVerdict::Admitted { enrolled: true });
    assert!(depot.has_enrolled(&theo));
    // Time that passes afterwards takes nothing back.
    depot.pass(VALID_S);
    let bundle = dir.path().join("bundle");
    theo.write_bundle(&bundle, &VersionVector::new(), &Silent).unwrap();
    let read = depot.node.read_bundle(&bundle, &Silent).unwrap();
    assert!(read.refused.is_empty() && read.entries > 0, "{read:?}");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_depot_that_is_called_too_late_enrols_nobody() {
    let dir = tempfile::tempdir().unwrap();
    let depot = Depot::new(dir.path());
    let theo = theo(dir.path(), &depot);
    depot.pass(VALID_S + 1);
    let harrow = start(depot.node, true, &[]).await;
    let theo = start(theo, false, &[]).await;
    let merged = sync::sync(&theo.hub, &Whom::Place(harrow.at().to_string()), &[], false).await;
    let why = merged[0].outcome.as_ref().unwrap_err();
    assert!(
        matches!(why, DialError::Refused(words) if words.contains("expired")),
        "{why:?}"
    );
    let key = theo.key;
    assert!(!harrow.ask(move |node| node.book().roster().is_enrolled(&key)).await);
    let counters = &harrow.hub.counters;
    assert_eq!((counters.joined.get(), counters.join_refused.get()), (0, 1));
}
