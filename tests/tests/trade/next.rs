//! `job next`: where an installer with several trailers open has to go.

use gladhand_tests::Home;
use serde_json::{Value, json};

use crate::yard::{AtWork, Yard};

/// The row of a job.
fn row(home: &Home, job: &str) -> Value {
    let rows = home.json("job next")["jobs"].clone();
    let found = rows.as_array().unwrap().iter().find(|r| r["job"] == json!(job));
    found.unwrap_or_else(|| panic!("{job} is not in {rows}")).clone()
}

/// What a job waits for, without the checks.
fn waits(home: &Home, job: &str) -> Vec<String> {
    let row = row(home, job);
    let each = row["waits"]
        .as_array()
        .unwrap()
        .iter()
        .map(|w| w["for"].as_str().unwrap().to_owned());
    each.filter(|w| w != "checks").collect()
}

fn checks(home: &Home, job: &str) -> Vec<String> {
    let row = row(home, job);
    let waits = row["waits"].as_array().unwrap();
    let Some(wait) = waits.iter().find(|w| w["for"] == json!("checks")) else {
        return Vec::new();
    };
    let names = wait["checks"].as_array().unwrap().iter();
    names.map(|c| c["check"].as_str().unwrap().to_owned()).collect()
}

#[test]
fn one_job_from_its_opening_to_its_sign_off() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    mara.good("job M01 --trailer 5312 --camera LC-1 --tracker LT-1");
    assert_eq!(waits(&mara, "M01"), ["readings"]);
    assert_eq!(row(&mara, "M01")["waits"][0]["says"], json!("wall, load"));
    mara.good("job M01 --wall plate --load loaded");
    mara.good("check M01 freight-at-opening no");
    assert_eq!(row(&mara, "M01")["waits"][0]["says"], json!("pilot-hole"));
    assert!(
        !checks(&mara, "M01").contains(&"pilot-hole".to_owned()),
        "named once is enough"
    );
    mara.good("check M01 pilot-hole --ok");
    mara.good("check M01 first-probe free");
    assert_eq!(waits(&mara, "M01"), ["cut"]);

    mara.good("check M01 hole-diameter 1 3/4 in");
    assert_eq!(waits(&mara, "M01"), ["link"]);
    mara.good("settings LT-1 asked --job M01");
    mara.good("link LC-1 LT-1 --job M01");
    assert_eq!(
        waits(&mara, "M01"),
        ["settings-asked"],
        "what was asked before the link does not count"
    );
    mara.good("settings LT-1 asked --job M01");
    assert_eq!(waits(&mara, "M01"), ["settings-live"]);
    mara.good("settings LT-1 failed --job M01");
    assert_eq!(waits(&mara, "M01"), ["settings-asked"]);
    mara.good("settings LT-1 live --job M01");
    assert_eq!(waits(&mara, "M01"), [""; 0], "the doors are not closed yet");
    mara.good("check M01 doors-closed --ok");
    assert_eq!(waits(&mara, "M01"), ["proof-asked"]);
    mara.good("proof M01 asked");
    assert_eq!(waits(&mara, "M01"), ["proof-taken"]);
    mara.good("proof M01 taken");
    assert_eq!(waits(&mara, "M01"), ["proof-judged"]);
    mara.good("proof M01 judged --not-ok --answer lens-clear=no");
    assert_eq!(waits(&mara, "M01"), ["proof-asked"]);
    mara.good("proof M01 asked");
    let picture = gladhand_tests::demo_data().join("proof-0302-I01.png");
    mara.good(&["proof", "M01", "taken", "--picture", picture.to_str().unwrap()]);
    let yes =
        "--answer front-wall-seen=yes --answer door-frame-seen=yes --answer no-jagged-edge=yes --answer lens-clear=yes";
    mara.good(&format!("proof M01 judged --ok {yes}"));
    assert_eq!(waits(&mara, "M01"), [] as [&str; 0]);

    for check in checks(&mara, "M01") {
        let value = match check.as_str() {
            "placement-top" => "1 in",
            "placement-rear" => "12 in",
            "primer-wait" => "4 min",
            "tape-pieces" | "camera-screws" => "4",
            "rivet-count" => "8",
            _ => "--ok",
        };
        mara.good(&format!("check M01 {check} {value}"));
    }
    assert_eq!(waits(&mara, "M01"), ["sign-off"]);
    let signed = mara.good("sign-off M01");
    assert!(
        signed.err.starts_with("Nothing is missing: job ") && signed.err.contains(" is signed off, "),
        "{signed}"
    );
    assert_eq!(mara.json("job next")["jobs"], json!([]));
    assert_eq!(mara.open_findings(), [] as [&str; 0]);
}

/// What `job next` calls outstanding is what the reconciler would say of a sign-off.
#[test]
fn the_checks_it_names_are_those_that_a_sign_off_would_miss() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    mara.good(&[
        "job",
        "M01",
        "--trailer",
        "1",
        "--wall",
        "plate",
        "--load",
        "empty",
        "--thickness",
        "1 in",
    ]);
    for check in [
        "kit-complete --ok",
        "placement-top 5 in",
        "approval --ok --by ida",
        "hole-diameter 2 in",
        "post-distance 3 in",
        "primed --ok --at 2026-03-02T10:00:00Z",
        "pressed --ok --at 2026-03-02T10:02:00Z",
        "tape-pieces four",
    ] {
        mara.good(&format!("check M01 {check}"));
    }
    let row = row(&mara, "M01");
    let outstanding = row["waits"][0]["checks"].as_array().unwrap().clone();
    let of = |failed: bool| -> Vec<String> {
        let found = outstanding.iter().filter(|c| c["failed"] == json!(failed));
        found.map(|c| c["check"].as_str().unwrap().to_owned()).collect()
    };
    assert_eq!(of(true), ["post-distance", "hole-diameter", "primer-wait"]);
    mara.good("sign-off M01");
    let missing = mara.finding("check-missing")["next"].as_str().unwrap().to_owned();
    let list = missing.rsplit(": ").next().unwrap().trim_end_matches('.').to_owned();
    let named: Vec<&str> = names_in(&list);
    assert_eq!(of(false), named);
    let failed = mara.finding("check-failed")["says"].as_str().unwrap().to_owned();
    for check in of(true) {
        assert!(failed.contains(&check), "{check}: {failed}");
    }
    assert!(!failed.contains("placement-top"), "made good by the approval: {failed}");
}

/// `a, b (recorded, but …), c`: the names.
fn names_in(list: &str) -> Vec<&str> {
    let mut depth = 0;
    let items = list.split(|c| {
        match c {
            '(' => depth += 1,
            ')' => depth -= 1,
            _ => {}
        }
        c == ',' && depth == 0
    });
    items.map(|item| item.trim().split(' ').next().unwrap()).collect()
}

#[test]
fn own_jobs_come_first_and_the_longest_wait_leads() {
    let yard = Yard::new();
    let depot = yard.depot();
    let (mara, ilse) = (yard.laptop("lap-mara", "mara"), yard.laptop("lap-ilse", "ilse"));
    yard.enrol(&depot, &mara);
    yard.enrol(&depot, &ilse);
    mara.good("job M-new --trailer 1");
    mara.good("job M-old --trailer 2 --at 2026-03-02T10:00:00Z");
    mara.good("job M-away --trailer 3 --assigned ilse --at 2026-03-01T10:00:00Z");
    mara.good("job M-done --trailer 4");
    mara.good(&["stand-down", "M-done", "--why", "trailer left"]);
    ilse.good("job I-older --trailer 5 --at 2026-03-01T10:00:00Z");
    ilse.good("job I-hers --trailer 6 --assigned mara");
    yard.carry(&ilse, &mara);

    let rows = mara.json("job next")["jobs"].clone();
    let order: Vec<(&str, bool)> = rows
        .as_array()
        .unwrap()
        .iter()
        .map(|r| (r["job"].as_str().unwrap(), r["own"].as_bool().unwrap()))
        .collect();
    let own = [("M-old", true), ("I-hers", true), ("M-new", true)];
    assert_eq!(order[0], own[0]);
    assert_eq!(order[3..], [("I-older", false), ("M-away", false)]);
    assert!(rows[0]["minutes"].as_i64().unwrap() > 60 * 24 && rows[2]["minutes"] == json!(0));

    let table = mara.good("job next").out;
    let lines: Vec<&str> = table.lines().collect();
    assert!(
        lines[0].contains("trailer") && lines[0].contains("waits for"),
        "{table}"
    );
    assert!(
        lines[1].starts_with("*  M-old") && lines[1].contains("wall, load"),
        "{table}"
    );
    let named = "checks: tracker-reporting, kit-complete, side, lock-rods-checked and ";
    assert!(lines[1].contains(named) && lines[1].ends_with(" more"), "{table}");
}

#[test]
fn a_blocked_trailer_waits_to_be_made_good_and_an_unclear_one_for_the_office() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    for (job, depth) in [("B1", "1/4 in"), ("U1", "1/2 in")] {
        mara.good(&format!("job {job} --trailer {job} --wall plate --load loaded"));
        mara.good(&format!("check {job} freight-at-opening no"));
        mara.good(&format!("check {job} pilot-hole --ok"));
        mara.good(&format!("check {job} first-probe {depth}"));
    }
    assert_eq!(waits(&mara, "B1"), ["make-good"]);
    assert!(checks(&mara, "B1").is_empty(), "nobody goes on there");
    assert_eq!(waits(&mara, "U1"), ["office"]);
    let table = mara.good("job next").out;
    assert!(
        table.contains("the pilot hole to be sealed, and the stand-down: blocked"),
        "{table}"
    );
    mara.good("check B1 pilot-sealed --ok");
    let table = mara.good("job next").out;
    assert!(!table.contains("to be sealed"), "{table}");
}

#[test]
fn without_open_jobs_there_is_nothing_to_list() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    let ran = mara.good("job next");
    assert_eq!((ran.out.as_str(), ran.err.trim()), ("", "no open jobs"));
}
