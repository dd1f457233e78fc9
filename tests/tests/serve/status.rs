//! `status` knows what sessions have found out, also when the daemon is gone.

use gladhand_tests::process::{TempHome, until};

#[test]
fn after_a_merge_the_depot_is_known_to_hold_everything() {
    let depot = TempHome::depot("127.0.0.1:0");
    let depot_daemon = depot.serve();
    let mara = TempHome::laptop();
    mara.feed("join -", depot.good("invite").out).done();
    mara.good(&["note", "trailer TL-118 stands at gate 4"]);
    let proof = serde_json::json!({
        "kind": "proof", "job": "J-4", "state": "taken", "picture": format!("blake3:{}", "ab".repeat(32)),
    });
    mara.record(&[proof.to_string()]);
    let daemon = mara.serve();
    let merged = mara.json(&["sync", &depot_daemon.listens_at().to_string()]);
    assert_eq!(merged["peers"][0]["level"], true, "{merged}");
    daemon.stop();

    let depot_key = depot.status()["device"].clone();
    let seen = mara.status();
    let rows = seen["devices"].as_array().unwrap();
    let row = rows.iter().find(|d| d["device"] == depot_key).unwrap();
    assert_eq!(row["known_to_lack"], 0, "{row}");
    assert!(
        row["met"].is_string() && row["clock"]["uncertainty_us"].is_u64(),
        "{row}"
    );
    assert_eq!(seen["pictures_missing"], 1);
    let text = mara.good("status").out;
    let first = text.lines().next().unwrap();
    assert!(
        first
            == "Missing here: 1 picture. Missing elsewhere: nothing, 1 other device is known to hold all that is here.",
        "{first}"
    );
    assert!(text.contains("nothing waits in the inbox"), "{text}");
}

#[test]
fn files_that_wait_are_named_with_why() {
    let mara = TempHome::laptop();
    let inbox = mara.file("inbox");
    std::fs::create_dir_all(&inbox).unwrap();
    std::fs::write(inbox.join("holiday.txt"), "not a fact").unwrap();
    let why = || {
        let status = mara.status();
        let files = status["inbox"].as_array().unwrap().clone();
        assert_eq!(status["inbox_waiting"], files.len(), "{status}");
        files.into_iter().find(|f| f["file"] == "holiday.txt").unwrap()["why"]
            .as_str()
            .unwrap()
            .to_owned()
    };
    assert!(why().contains("gladhand serve"), "{}", why());
    let daemon = mara.serve();
    until("the daemon leaves it alone", || why().contains("no fact has named it"));
    let text = mara.good("status").out;
    assert!(text.contains("inbox/holiday.txt: it holds no facts"), "{text}");
    daemon.stop();
}
