//! What a person is told at the moment of recording. The fact is recorded in every case, and the exit code is 0.

use gladhand_tests::Home;
use serde_json::{Value, json};

use crate::yard::{AtWork, Yard};

fn open(home: &Home, job: &str) {
    home.good(&format!(
        "job {job} --trailer 5312 --wall plate --load empty --camera LC-{job} --tracker LT-{job}"
    ));
}

#[test]
fn opening_a_job_shows_fleet_kit_and_cautions_and_prints_only_the_receipt() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    let told = mara.good("job M01 --trailer 5312 --wall sheet-and-post --load loaded");
    assert_eq!(told.out.lines().count(), 1, "{}", told.out);
    for words in [
        "Job M01 is open: trailer 5312, fleet Larkspur Freight, yard Tolland.",
        "4 x mounting tape, pieces",
        "1/8 in probe",
        "Secure the trailer against rolling",
        "Inspect the ladder",
        "Freight may stand behind the wall",
        "Site rules, local codes and licensed practice come first",
    ] {
        assert!(told.tells(words), "{words}: {}", told.err);
    }
    assert!(!told.tells("1/4 in probe"), "that one is for plate: {}", told.err);
    let fact = &mara.json("history --job M01")["rows"][0]["fact"];
    assert_eq!(
        (&fact["by"], &fact["yard"], &fact["fleet"]),
        (&json!("mara"), &json!("Tolland"), &json!("Larkspur Freight"))
    );

    let empty = mara.good("job M02 --trailer 5313 --load empty");
    assert!(
        empty.tells("(the wall and thickness are not recorded: there may be more)"),
        "{}",
        empty.err
    );
    assert!(!empty.tells("Freight may stand behind the wall"), "{}", empty.err);
    let made_up = mara.good("job --trailer 5314 --json");
    let receipt: Value = serde_json::from_str(&made_up.out).unwrap();
    assert_eq!(
        (&receipt["receipt"], &receipt["kind"]),
        (&json!("recorded"), &json!("job"))
    );
    assert_eq!(receipt["job"].as_str().unwrap().len(), 9);
}

#[test]
fn cautions_and_hints_come_before_the_first_fact_of_their_step() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    open(&mara, "M01");
    mara.good(&["job", "M01", "--thickness", "5/16 in"]);
    let place = "side ok lock-rods-checked ok placement-top 1 in placement-rear 12 in post-distance 12 in clear-of-markings ok thickness 5/16 in";
    let cases: [(&str, &[&str]); 10] = [
        (
            "tracker-reporting ok kit-complete ok",
            &["Mind: Inspect the ladder before its first use"],
        ),
        (place, &["Mind: Wear eye protection;", "Cut edges are sharp;"]),
        (
            "hole-diameter 1 3/4 in",
            &["Next: deburred", "Mind: Wear eye protection;"],
        ),
        ("deburred ok", &["Mind: Cleaner and primer are flammable;"]),
        ("primed ok", &["primer-wait: wait at least 3 min, then record pressed."]),
        ("surface-prepared ok", &["Next: primer-wait"]),
        (
            "primer-wait 4 min",
            &["tape-strength: ", "(secondary sources, which agree)"],
        ),
        (
            "bracket-aligned ok tape-pieces 4",
            &[
                "for the wall alone, 5/16 in: 66 (Army TM 10-5410-223-24, table 2-3)",
                "drill no. 11",
                "Use only tools that are in safe condition",
            ],
        ),
        ("rivet-count 8", &["20 to 25 in·lbf", "(FAA AC 43.13-1B, table 7-1)"]),
        ("camera-screws 4", &["Next: lens-untouched"]),
    ];
    for (checks, wanted) in cases {
        let told = mara.good(&format!("check M01 {checks}"));
        for words in wanted {
            assert!(told.tells(words), "{checks}, {words}: {}", told.err);
        }
        assert!(!told.tells("Freight may stand"), "the trailer is empty: {}", told.err);
        let again = mara.good(&format!("check M01 {checks}"));
        let deference = "Mind: Site rules, local codes";
        assert!(!again.tells("Mind:") || again.tells(deference), "once: {}", again.err);
    }
    let quiet = mara.good("check M01 lens-untouched --ok");
    assert!(!quiet.tells("Mind:"), "no caution guards what is next: {quiet}");
}

#[test]
fn the_tape_s_strength_is_shown_by_the_time_since_it_was_pressed() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    open(&mara, "M01");
    mara.good("check M01 pressed --ok --at 2026-03-02T10:00:00Z");
    let told = mara.good("sign-off M01");
    assert!(
        told.tells("since pressed: 100 % (secondary sources, which agree)"),
        "{}",
        told.err
    );
}

#[test]
fn a_check_out_of_tolerance_or_misspelt_or_too_early_is_told_at_once() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    open(&mara, "M01");
    let cases = [
        (
            "hole-diameter 2 in",
            "hole-diameter is 2 in; the work standard wants 1 11/16 in to 1 13/16 in.",
        ),
        ("hole-diameter 1 3/4", "a length with its unit is wanted"),
        (
            "hole-diametr 1 3/4 in",
            "has no check hole-diametr; did you mean hole-diameter?",
        ),
        (
            "placement-top 3 in",
            "Ask the office (the office that sent you; this work standard gives no number): an approval before the cut",
        ),
        ("kit-complete", "says neither ok true nor ok false"),
        (
            "tracker-reporting --not-ok",
            "tracker-reporting was recorded as not ok.",
        ),
        ("freight-at-opening --ok", "needs a value of yes or no"),
    ];
    for (check, words) in cases {
        let told = mara.good(&format!("check M01 {check}"));
        assert!(told.out.starts_with("recorded"), "{}", told.out);
        assert!(told.tells(words), "{check}: {}", told.err);
    }
    // Only a wall over 3/4 in may have its post nearer, covered.
    let thin = mara.good("check M01 post-distance 10 in");
    assert!(
        thin.tells("post-distance is 10 in") && !thin.tells("Made good by"),
        "{}",
        thin.err
    );
    mara.good(&[
        "job",
        "M03",
        "--trailer",
        "5399",
        "--wall",
        "sheet-and-post",
        "--load",
        "empty",
        "--thickness",
        "7/8 in",
    ]);
    let near = mara.good("check M03 post-distance 10 in");
    assert!(near.tells("Made good by: post-covered."), "{}", near.err);
    mara.good("check M03 post-covered --ok");
    let covered = mara.good("check M03 post-distance 10 in --note again");
    assert!(!covered.tells("post-distance is"), "{}", covered.err);

    mara.good("check M01 primed --ok --at 2026-03-02T10:00:00Z");
    let early = mara.good("check M01 pressed --ok --at 2026-03-02T10:01:00Z");
    assert!(
        early.tells("primer-wait is 60 s; the work standard wants at least 3 min"),
        "{}",
        early.err
    );
    let late = mara.good("check M01 pressed --ok --at 2026-03-02T10:04:00Z");
    assert!(!late.tells("primer-wait is"), "{}", late.err);
}

#[test]
fn a_cut_without_clearance_is_told_at_once_and_recorded_all_the_same() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    mara.good("job M01 --trailer 5312 --wall plate --load loaded");
    let told = mara.good("check M01 hole-cut --ok");
    assert!(
        told.tells("stop f-") && told.tells("cut-without-clearance"),
        "{}",
        told.err
    );
    assert_eq!(mara.open_findings(), ["cut-without-clearance M01"]);

    mara.good("job M02 --trailer 5313");
    let told = mara.good(&["check", "M02", "hole-diameter", "1 3/4 in"]);
    assert!(
        told.tells("The wall was not cleared for a cut. NOT ENOUGH RECORDED: wall, load."),
        "{}",
        told.err
    );
    let denied = mara.good("check M02 hole-cut --not-ok");
    assert!(!denied.tells("not cleared"), "{}", denied.err);
}

#[test]
fn a_camera_that_is_linked_elsewhere_is_told_at_once() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    open(&mara, "M01");
    open(&mara, "M02");
    let first = mara.good("link LC-M01 LT-M01 --job M01");
    assert!(first.err.starts_with("Next: "), "nothing speaks against it: {first}");
    let told = mara.good("link LC-M01 LT-M02 --job M02");
    assert!(
        told.tells("camera-on-two-trackers") && told.tells("LT-M01") && told.tells("LT-M02"),
        "{}",
        told.err
    );
    // The stop stays with whatever is recorded on the job next.
    let again = mara.good("check M02 kit-complete --ok");
    assert!(again.tells("camera-on-two-trackers"), "{}", again.err);
    let other = mara.good("unlink LC-M01 LT-M01 --job M01");
    assert!(!other.tells("camera-on-two-trackers"), "{}", other.err);
}

#[test]
fn a_near_miss_of_the_stock_list_is_told_at_once() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    let stock = yard.file("stock.jsonl");
    std::fs::write(
        &stock,
        "{\"kind\":\"stock\",\"camera\":\"LC-40117\",\"fleet\":\"Larkspur Freight\"}\n{\"kind\":\"stock\",\"tracker\":\"LT-9\",\"fleet\":\"Harrow Haulage\"}\n",
    )
    .unwrap();
    mara.good(&["record", stock.to_str().unwrap()]);
    let told = mara.good("scan LC-40171 --what camera");
    assert!(told.tells("code-suspect") && told.tells("LC-40117"), "{}", told.err);
    mara.good("job M01 --trailer 5312 --camera LC-40117 --tracker LT-9");
    let told = mara.good("link LC-40117 LT-9 --job M01");
    assert!(
        told.tells("wrong-fleet") && told.tells("Harrow Haulage"),
        "{}",
        told.err
    );
}

#[test]
fn a_proof_or_sign_off_before_live_settings_is_told_at_once() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    open(&mara, "M01");
    let told = mara.good("settings LT-M01 live --job M01");
    assert!(told.tells("settings count only after the link"), "{}", told.err);
    let told = mara.good("proof M01 asked");
    assert!(told.tells("Job M01 has no linked camera"), "{}", told.err);
    mara.good("link LC-M01 LT-M01 --job M01");
    let told = mara.good("proof M01 asked");
    assert!(told.tells("no live settings after its link"), "{}", told.err);
    let told = mara.good("sign-off M01");
    for rule in ["signed-before-live", "signed-without-proof", "check-missing"] {
        assert!(told.tells(rule), "{rule}: {}", told.err);
    }
    mara.good("settings LT-M01 live --job M01");
    let told = mara.good("proof M01 asked");
    assert!(!told.tells("no live settings"), "{}", told.err);
    let judged = mara.good("proof M01 judged --ok --answer lens-clear=yes --answer front-wall-seen=no");
    assert!(judged.tells("proof-answers-disagree"), "{}", judged.err);
}

#[test]
fn a_link_that_belongs_nowhere_is_told() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    let told = mara.good("link LC-1 LT-1");
    assert!(told.tells("record the link again with --job JOB"), "{}", told.err);
    assert_eq!(mara.json("history")["rows"].as_array().unwrap().len(), 1);
}

#[test]
fn slips_on_the_command_line_are_refused_before_anything_is_recorded() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    mara.good("job mara-0101 --trailer 5312");
    let before = mara.json("history")["rows"].as_array().unwrap().len();
    let refused: [(&[&str], &str); 6] = [
        (&["job"], "nothing to record"),
        (&["job", "mara-0101"], "nothing to set on job mara-0101"),
        (&["job", "mara", "--trailer", "5399"], "which is on another trailer"),
        (&["job", "next", "--trailer", "5399"], "A job cannot be called 'next'"),
        (
            &["job", "mara-0101", "--new", "--trailer", "5399"],
            "is open here already",
        ),
        (&["job", ".", "--new", "--trailer", "5399"], "cannot be called '.'"),
    ];
    for (args, words) in refused {
        let ran = mara.run(args);
        assert!(ran.code == Some(2) && ran.tells(words), "{args:?}: {ran}");
    }
    assert_eq!(mara.json("history")["rows"].as_array().unwrap().len(), before);
    mara.good("job mara --new --trailer 5399");
    assert_eq!(mara.json("clearance mara")["trailer"], json!(["5399"]));
    mara.good("job mara- --wall plate");
    assert_eq!(mara.json("clearance mara-0101")["wall"], json!(["plate"]));
    // Another number is no beginning: whoever writes M1 does not mean M10.
    mara.good("job M10 --trailer 5310");
    mara.good("job M1 --trailer 5301");
    assert_eq!(mara.json("clearance M10")["trailer"], json!(["5310"]));
    assert_eq!(mara.json("clearance M1")["trailer"], json!(["5301"]));
}

#[test]
fn what_stands_in_its_place_may_be_a_flag_as_well() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    mara.good("job --job M1 --trailer 5301 --wall plate --load empty");
    mara.good("check --job M1 --check hole-diameter --value 1.75 --unit in");
    mara.good("link --camera LC-1 --tracker LT-1 --job M1");
    mara.good("settings --tracker LT-1 --state live --job M1");
    mara.good("check --job M1 --check kit-complete --ok false");
    mara.good("proof --job M1 --state judged --ok --answers {\"lens-clear\":true}");
    mara.good("sign-off --job M1");
    mara.good("note --text done --job M1");
    let history = mara.json("history --job M1");
    let facts: Vec<&Value> = history["rows"]
        .as_array()
        .unwrap()
        .iter()
        .map(|line| &line["fact"])
        .collect();
    assert_eq!(facts.len(), 8, "{history}");
    assert_eq!(
        (&facts[2]["camera"], &facts[2]["tracker"]),
        (&json!("LC-1"), &json!("LT-1"))
    );
    assert_eq!(
        (&facts[4]["ok"], &facts[5]["answers"]),
        (&json!(false), &json!({"lens-clear": true}))
    );
    for (args, words) in [
        (&["link", "LC-1"][..], "needs a tracker"),
        (
            &["link", "LC-1", "LT-1", "--camera", "LC-2"],
            "one word too many for `link`",
        ),
        (&["settings"], "needs a tracker"),
    ] {
        let ran = mara.run(args);
        assert!(ran.code == Some(2) && ran.tells(words), "{args:?}: {ran}");
    }
}
