//! `status` knows what sessions have found out, also when the daemon is gone.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    missing_docs
)]

#[path = "../../net/tests/common/mod.rs"]
mod common;

use std::process::Command;

use common::{acquaint, depot, laptop, note, start};
use gladhand_facts::Fact;
use gladhand_net::sync::{self, Whom};

fn status(home: &std::path::Path, json: bool) -> String {
    let mut command = Command::new(env!("CARGO_BIN_EXE_gladhand"));
    command.arg("--home").arg(home).arg("status");
    if json {
        command.arg("--json");
    }
    let output = command.output().unwrap();
    assert!(output.status.success(), "{output:?}");
    String::from_utf8(output.stdout).unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn after_a_merge_the_depot_is_known_to_hold_everything() {
    let dir = tempfile::tempdir().unwrap();
    let mut harrow = depot(dir.path());
    let mut mara = laptop(dir.path(), "mara", &harrow);
    acquaint(&mut [&mut harrow, &mut mara]);
    note(&mut mara, "trailer TL-118 stands at gate 4");
    let line = serde_json::json!({
        "kind": "proof", "job": "J-4", "state": "taken", "picture": format!("blake3:{}", "ab".repeat(32)),
    });
    let fact = Fact::from_line(&mara.device(), &line.to_string()).unwrap();
    mara.record(vec![fact]).unwrap();
    let harrow = start(harrow, true, &[]).await;
    let mara = start(mara, false, &[]).await;
    let merged = sync::sync(&mara.hub, &Whom::Place(harrow.at().to_string()), &[], false).await;
    assert!(merged[0].outcome.as_ref().unwrap().level, "{merged:?}");
    let home = dir.path().join("mara");
    let depot_key = harrow.key.to_string();
    mara.stop().await.close().unwrap();
    let seen: serde_json::Value = serde_json::from_str(&status(&home, true)).unwrap();
    let rows = seen["devices"].as_array().unwrap();
    let row = rows.iter().find(|d| d["device"] == depot_key.as_str()).unwrap();
    assert_eq!(row["known_to_lack"], 0, "{row}");
    assert!(
        row["met"].is_string() && row["clock"]["uncertainty_us"].is_u64(),
        "{row}"
    );
    assert_eq!(seen["pictures_missing"], 1);
    let text = status(&home, false);
    let first = text.lines().next().unwrap();
    assert!(
        first.starts_with("synced: 1 other device is known") && first.contains("1 picture is missing here"),
        "{first}"
    );
    assert!(text.contains("nothing waits in the inbox"), "{text}");
}
