//! The clearance, step by step, as an installer with cold hands walks through it.

use gladhand_tests::Home;
use serde_json::json;

use crate::yard::{AtWork, Yard};

/// A loaded sheet-and-post trailer whose pilot hole is drilled: the first probe comes next.
fn at_the_first_probe(home: &Home, job: &str) {
    let open = [
        "job",
        job,
        "--trailer",
        job,
        "--wall",
        "sheet-and-post",
        "--load",
        "loaded",
        "--thickness",
        "5/8 in",
    ];
    home.good(&open);
    home.good(&format!("check {job} freight-at-opening no"));
    home.good(&format!("check {job} pilot-hole --ok"));
}

/// Each step asks for the next one by its exact command line, with the cautions that guard it.
fn walk(thickness: Option<&str>, first: &str, depth: &str, cut: &str) {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    mara.good("job M01 --trailer 5312");
    let missing = mara.json("clearance M01")["missing"].clone();
    assert_eq!(missing, json!(["wall", "load"]));
    mara.good("job M01 --wall sheet-and-post --load loaded");
    let asked = mara.good("clearance M01");
    assert!(
        asked.out.starts_with("NOT ENOUGH RECORDED: freight-at-opening\n"),
        "{}",
        asked.out
    );
    assert!(asked.reads("gladhand check M01 freight-at-opening ANSWER"));

    if let Some(thickness) = thickness {
        mara.good(&["job", "M01", "--thickness", thickness]);
    }
    mara.good("check M01 freight-at-opening no");
    let steps = [
        (
            "pilot-hole",
            "gladhand check M01 pilot-hole --ok",
            "check M01 pilot-hole --ok".to_owned(),
        ),
        (
            "first-probe",
            "gladhand check M01 first-probe DEPTH",
            format!("check M01 first-probe {first}"),
        ),
        (
            "pilot-depth",
            "gladhand check M01 pilot-depth DEPTH",
            format!("check M01 pilot-depth {depth}"),
        ),
        (
            "second-probe",
            "gladhand check M01 second-probe DEPTH",
            "check M01 second-probe free".to_owned(),
        ),
        (
            "second-hole-entered",
            "gladhand check M01 second-hole-entered --ok",
            "check M01 second-hole-entered --ok".to_owned(),
        ),
    ];
    for (check, line, step) in steps {
        let text = mara.good("clearance M01");
        assert_eq!(text.out.lines().next(), Some(format!("NEXT: {check}").as_str()));
        assert!(text.reads(line), "{}", text.out);
        assert!(text.reads("Wear eye protection (29 CFR 1910.133)"), "{}", text.out);
        let object = mara.json("clearance M01");
        assert_eq!((&object["job"], &object["check"]), (&json!("M01"), &json!(check)));
        assert!(object["cautions"].as_array().unwrap().len() > 1);
        mara.good(&step);
    }
    assert_eq!(mara.clearance("M01"), "clear");
    let clear = mara.good("clearance M01");
    assert!(
        clear.reads("The wall may be cut, within these limits:") && clear.reads("gladhand check M01 hole-cut --ok"),
        "{}",
        clear.out
    );
    assert!(clear.reads("sharp: deburr them"), "{}", clear.out);

    let told = mara.good("check M01 hole-cut --ok");
    assert!(!told.tells("not cleared"), "{}", told.err);
    mara.good(&format!("check M01 hole-diameter {cut}"));
    assert_eq!(mara.open_findings(), [] as [&str; 0]);
    assert!(
        mara.good("clearance M01")
            .reads("The hole was recorded as cut by mara on lap-mara")
    );
}

#[test]
fn a_loaded_sheet_and_post_trailer_in_inches() {
    walk(Some("5/8 in"), "3/8 in", "5/8 in", "1 3/4 in");
}

#[test]
fn a_loaded_sheet_and_post_trailer_in_millimetres() {
    walk(None, "9.5 mm", "16 mm", "44.45 mm");
}

#[test]
fn a_loaded_plate_trailer_is_cleared_within_a_limit() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    for (job, close, far) in [("P1", "3/8 in", "3/4 in"), ("P2", "9 mm", "19 mm")] {
        mara.good(&format!("job {job} --trailer 61{job} --wall plate --load loaded"));
        mara.good(&format!("check {job} freight-at-opening no"));
        mara.good(&format!("check {job} pilot-hole --ok"));
        let told = mara.good(&format!("check {job} first-probe {far}"));
        assert!(
            told.tells("Clearance: CLEAR") && told.tells("no deeper than 3/4 in; record saw-limited"),
            "{}",
            told.err
        );
        assert_eq!(mara.clearance(job), "clear");

        mara.good(&format!("check {job} first-probe {close}"));
        assert_eq!(mara.clearance(job), "blocked", "a second, nearer contact takes it back");
    }
}

#[test]
fn an_empty_trailer_is_clear_once_its_wall_is_measured_and_a_thick_one_asks_for_the_inner_cut() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    mara.good("job E1 --trailer 700 --wall plate --load empty");
    let asked = mara.good("clearance E1");
    assert!(
        asked.out.starts_with("NOT ENOUGH RECORDED: thickness\n"),
        "{}",
        asked.out
    );
    mara.good(&["job", "E1", "--thickness", "7/8 in"]);
    assert_eq!(mara.clearance("E1"), "clear");
    assert!(mara.good("clearance E1").reads("record inner-cut-offset"));
}

/// Calling a blocked trailer empty, or its wall another one, clears nothing by itself; looking inside does.
#[test]
fn a_blocked_trailer_that_is_called_empty_has_to_be_looked_into() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    at_the_first_probe(&mara, "M01");
    mara.good("check M01 first-probe 1 in");
    let told = mara.good("job M01 --wall plate");
    assert_eq!(mara.clearance("M01"), "not-decidable", "{}", told.err);
    mara.good("job M01 --load empty");
    let asked = mara.good("clearance M01");
    assert!(
        asked.out.starts_with("NOT DECIDABLE\n") && asked.reads("gladhand check M01 seen-empty --ok"),
        "{}",
        asked.out
    );
    mara.good("check M01 seen-empty --ok");
    assert_eq!(mara.clearance("M01"), "clear");
}

#[test]
fn blocked_then_sealed_then_stood_down() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    at_the_first_probe(&mara, "M01");
    let told = mara.good("check M01 first-probe 1 in");
    assert!(
        told.tells("Clearance: BLOCKED Do not cut: first-probe is 1 in"),
        "{}",
        told.err
    );
    assert!(
        told.tells("gladhand check M01 pilot-sealed --ok") && told.tells("gladhand stand-down M01"),
        "{}",
        told.err
    );
    assert_eq!(mara.clearance("M01"), "blocked");
    let blocked = mara.json("clearance M01");
    assert_eq!(blocked["open_pilot_hole"], json!(true));
    assert_eq!(blocked["make_good"].as_array().unwrap().len(), 2);
    assert_eq!(mara.open_findings(), ["pilot-hole-left-open M01"]);

    mara.good("check M01 pilot-sealed --ok");
    assert_eq!(mara.open_findings(), [] as [&str; 0]);
    let sealed = mara.good("clearance M01");
    assert!(
        !sealed.reads("pilot-sealed --ok") && sealed.reads("gladhand stand-down M01"),
        "{}",
        sealed.out
    );

    mara.good(&["stand-down", "M01", "--why", "freight close to the wall"]);
    let down = mara.good("clearance M01");
    assert!(
        down.out.starts_with("BLOCKED\n") && down.reads("The job was stood down by mara"),
        "{}",
        down.out
    );
    assert_eq!(mara.json("clearance M01")["record"], json!([]));
    assert_eq!(mara.json("job next")["jobs"], json!([]));
}

#[test]
fn a_stand_down_with_an_open_pilot_hole_is_told_at_once() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    at_the_first_probe(&mara, "M01");
    let told = mara.good(&["stand-down", "M01", "--why", "end of shift"]);
    assert!(
        told.tells("pilot-hole-left-open") && told.tells("seal the pilot hole"),
        "{}",
        told.err
    );
}

/// Depths between two bands, and depths too near to an edge for a reading of 1/32 in: never clear, whoever reads them.
#[test]
fn readings_in_a_gap_are_never_clear() {
    let first = [
        "1/2 in", "9/16 in", "14 mm", "1 3/4 in", "44 mm", "1.99 in", "2 in", "50.8 mm", "deep", "2",
    ];
    let second = ["11/16 in", "17.5 mm", "1 3/4 in", "45 mm", "2 in", "51 mm"];
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    let jobs: Vec<(String, &str, &str)> = (0..)
        .zip(
            first
                .iter()
                .map(|d| ("first-probe", *d))
                .chain(second.iter().map(|d| ("second-probe", *d))),
        )
        .map(|(i, (probe, depth))| (format!("G{i:02}"), probe, depth))
        .collect();
    let lines: String = jobs.iter().map(|(job, probe, _)| up_to(job, probe)).collect();
    let file = yard.file("readings.jsonl");
    std::fs::write(&file, lines).unwrap();
    mara.good(&["record", file.to_str().unwrap()]);

    for (job, probe, depth) in &jobs {
        let told = mara.good(&format!("check {job} {probe} {depth}"));
        assert!(told.tells("Clearance: NOT DECIDABLE"), "{depth}: {}", told.err);
        assert_eq!(mara.clearance(job), "not-decidable", "{depth}");
        assert!(told.tells("ask the office"), "{depth}: {}", told.err);
        // Probing again does not make it better, unless the reading was none at all.
        if depth.contains("in") || depth.contains("mm") {
            let again = mara.good(&format!("check {job} {probe} free"));
            assert!(again.tells("Clearance: NOT DECIDABLE"), "{depth}: {}", again.err);
        }
    }
}

/// The facts of a loaded sheet-and-post trailer up to, and without, `probe`.
fn up_to(job: &str, probe: &str) -> String {
    let mut facts = vec![
        json!({"kind": "job", "job": job, "wall": "sheet-and-post", "load": "loaded", "thickness": "5/8 in"}),
        json!({"kind": "check", "job": job, "check": "freight-at-opening", "value": "no"}),
        json!({"kind": "check", "job": job, "check": "pilot-hole", "ok": true}),
    ];
    if probe == "second-probe" {
        facts.push(json!({"kind": "check", "job": job, "check": "first-probe", "value": "3/8 in"}));
        facts.push(json!({"kind": "check", "job": job, "check": "pilot-depth", "value": "5/8 in"}));
    }
    facts.iter().map(|f| format!("{f}\n")).collect()
}

#[test]
fn people_who_disagree_on_the_wall_get_no_answer_but_both_values_and_names() {
    let yard = Yard::new();
    let depot = yard.depot();
    let (mara, ilse) = (yard.laptop("lap-mara", "mara"), yard.laptop("lap-ilse", "ilse"));
    yard.enrol(&depot, &mara);
    yard.enrol(&depot, &ilse);
    for (home, wall) in [(&mara, "sheet-and-post"), (&ilse, "plate")] {
        home.good(&format!("job M01 --trailer 5312 --wall {wall} --load empty"));
        home.good(&["job", "M01", "--thickness", "1/2 in"]);
    }
    assert_eq!(mara.clearance("M01"), "clear", "as far as she knows");
    yard.carry(&ilse, &mara);

    assert_eq!(mara.clearance("M01"), "not-decidable");
    let text = mara.good("clearance M01");
    for words in [
        "sheet-and-post by mara on lap-mara",
        "plate by ilse on lap-ilse",
        "gladhand job M01 --wall",
    ] {
        assert!(text.reads(words), "{words}: {}", text.out);
    }
    let torn = mara.json("clearance M01")["torn"].clone();
    assert_eq!(
        (&torn[0]["field"], torn[0]["values"].as_array().unwrap().len()),
        (&json!("wall"), 2)
    );
    assert_eq!(mara.json("job next")["jobs"][0]["waits"][0]["for"], json!("fields"));
    let told = mara.good("check M01 hole-cut --ok");
    assert!(told.tells("The wall was not cleared for a cut"), "{}", told.err);

    mara.good("job M01 --wall plate");
    assert_eq!(mara.clearance("M01"), "clear", "who has seen both has written again");
}

/// 5/8 in and 15.875 mm are one thickness.
#[test]
fn two_spellings_of_one_thickness_do_not_disagree() {
    let yard = Yard::new();
    let depot = yard.depot();
    let (mara, ilse) = (yard.laptop("lap-mara", "mara"), yard.laptop("lap-ilse", "ilse"));
    yard.enrol(&depot, &mara);
    yard.enrol(&depot, &ilse);
    for (home, thickness) in [(&mara, "5/8 in"), (&ilse, "15.875 mm")] {
        let open = [
            "job",
            "M01",
            "--trailer",
            "5312",
            "--wall",
            "sheet-and-post",
            "--load",
            "loaded",
            "--thickness",
            thickness,
        ];
        home.good(&open);
    }
    yard.carry(&ilse, &mara);
    assert_eq!(mara.json("clearance M01")["torn"], json!([]));
    assert_eq!(mara.json("clearance M01")["missing"], json!(["freight-at-opening"]));
}

#[test]
fn a_job_is_named_by_its_beginning_or_as_the_last_one() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    let nothing = mara.run(&["clearance", "."]);
    assert!(
        nothing.code == Some(2) && nothing.tells("recorded nothing on any job yet"),
        "{}",
        nothing.err
    );

    mara.good("job T-101 --trailer 101 --wall plate --load empty");
    mara.good("job T-102 --trailer 102 --wall plate --load empty");
    assert_eq!(mara.json("clearance .")["job"], json!("T-102"));
    assert_eq!(mara.json("clearance T-101")["job"], json!("T-101"));
    let torn = mara.run(&["clearance", "T-"]);
    assert!(
        torn.code == Some(2) && torn.tells("could be job T-101 (trailer 101) or T-102 (trailer 102)"),
        "{}",
        torn.err
    );
    let unknown = mara.run(&["clearance", "X"]);
    assert!(
        unknown.code == Some(2) && unknown.tells("no job 'X' is known here"),
        "{}",
        unknown.err
    );
    // A stock list or a note on nothing is no job; the last job stays the last.
    mara.good(&["note", "rain"]);
    mara.good("check T-101 kit-complete --ok");
    mara.good(&["note", "more rain"]);
    assert_eq!(mara.json("clearance .")["job"], json!("T-101"));
}
