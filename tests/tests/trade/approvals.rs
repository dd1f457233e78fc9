//! Somebody else's word: readings that do not decide, and places outside the default one.

use gladhand_tests::Home;
use serde_json::{Value, json};

use crate::yard::{AtWork, Yard};

/// A loaded plate trailer whose probe stops where nobody can say what it met.
fn undecided(home: &Home, job: &str) {
    home.good(&format!("job {job} --trailer {job} --wall plate --load loaded"));
    for check in ["freight-at-opening no", "pilot-hole --ok", "first-probe 1/2 in"] {
        home.good(&format!("check {job} {check}"));
    }
}

fn steps(answer: &Value) -> Vec<(String, String)> {
    let steps = answer["record"].as_array().unwrap().iter();
    let said = |step: &Value, key: &str| step[key].as_str().unwrap_or_default().to_owned();
    steps.map(|step| (said(step, "step"), said(step, "check"))).collect()
}

#[test]
fn an_undecided_reading_offers_approval_seal_and_stand_down() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    undecided(&mara, "M01");
    let answer = mara.json("clearance M01");
    assert_eq!(answer["answer"], json!("not-decidable"));
    assert_eq!(answer["office"]["name"], json!("the office that sent you"));
    let wanted = [
        ("record-check", "approval"),
        ("record-check", "pilot-sealed"),
        ("stand-down", ""),
    ];
    assert_eq!(
        steps(&answer),
        wanted.map(|(step, check)| (step.to_owned(), check.to_owned()))
    );
    let reasons = answer["record"][2]["choices"].as_array().unwrap();
    assert!(reasons.contains(&json!("freight-too-close")), "{reasons:?}");
    let text = mara.good("clearance M01");
    for words in [
        "The office: the office that sent you; this work standard gives no number",
        "gladhand check M01 approval --ok --of reading --by WHO",
        "gladhand stand-down M01 --reason REASON --why 'WHY'",
    ] {
        assert!(text.reads(words), "{words}: {}", text.out);
    }
}

#[test]
fn somebody_else_s_approval_makes_it_clear_and_is_named() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    undecided(&mara, "M01");
    mara.good("check M01 approval --ok --of reading");
    assert_eq!(mara.clearance("M01"), "not-decidable", "her own word does not count");
    mara.good("check M01 approval --ok --of reading --by ida");
    let answer = mara.json("clearance M01");
    assert_eq!(answer["answer"], json!("clear"));
    assert_eq!(
        (&answer["by_approval"]["by"], &answer["by_approval"]["device"]),
        (&json!("ida"), &json!("lap-mara"))
    );
    assert_eq!(answer["limits"].as_array().unwrap().len(), 3, "{answer}");
    let text = mara.good("clearance M01");
    assert!(
        text.out.starts_with("CLEAR by approval of ida, recorded on lap-mara ("),
        "{}",
        text.out
    );
    let cut = mara.good("check M01 hole-cut --ok");
    assert!(!cut.tells("cut-without-clearance"), "{}", cut.err);
    // Nothing approves away what blocks.
    undecided(&mara, "M02");
    mara.good("check M02 first-probe 1/4 in");
    mara.good("check M02 approval --ok --of reading --by ida");
    assert_eq!(mara.clearance("M02"), "blocked");
}

#[test]
fn a_place_outside_the_zone_is_approved_before_the_cut() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    let open = ["--wall", "plate", "--load", "empty", "--thickness", "1/2 in"];
    for (job, approver) in [("M01", "ida"), ("M02", "mara")] {
        mara.good(&[&["job", job, "--trailer", job][..], &open].concat());
        mara.good(&format!("check {job} placement-top 4 in"));
        mara.good(&format!("check {job} approval --ok --by {approver}"));
        mara.good(&format!("check {job} hole-diameter 1 3/4 in"));
    }
    let placement = |job: &str| {
        let shown = mara.json(&format!("job show {job}"));
        let checks = shown["checks"].as_array().unwrap().clone();
        checks
            .into_iter()
            .find(|c| c["check"] == json!("placement-top"))
            .unwrap()
    };
    assert_eq!(placement("M01")["outcome"], json!("good"));
    assert_eq!(placement("M01")["approved_by"][0]["by"], json!("ida"));
    assert_eq!(placement("M02")["outcome"], json!("failed"));
    let report = mara.json("report");
    let approvals = report["jobs"][0]["approvals"].as_array().unwrap();
    assert_eq!((approvals.len(), &approvals[0]["by"]), (1, &json!("ida")));
    assert_eq!(report["jobs"][1]["approvals"], json!([]), "her own does not count");
    let line = "Job M01: placement-top by approval of ida, recorded on lap-mara.";
    assert!(mara.good("report").reads(line));
    mara.good("sign-off M02");
    let says = mara.finding("check-failed")["says"].as_str().unwrap().to_owned();
    assert!(
        says.contains("the approval of mara, recorded on lap-mara") && says.contains("does not count"),
        "{says}"
    );
}

/// As long as nobody in the fleet has reviewed its values, the work standard is called an example.
#[test]
fn an_example_is_called_one_in_clearance_and_report() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    undecided(&mara, "M01");
    let note = "Work standard Gladhand example 3 is an example: nobody in this fleet has reviewed its values.";
    assert_eq!(mara.json("clearance M01")["example"], json!(note));
    assert_eq!(mara.json("report")["example"], json!(note));
    assert!(mara.good("clearance M01").reads(note));
    assert!(mara.good("report").reads(note));
    assert!(mara.good("report --format html").out.contains(note));
}

#[test]
fn a_reason_that_is_not_listed_is_recorded_and_told() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    undecided(&mara, "M01");
    let told = mara.good("stand-down M01 --reason tired --why late");
    assert!(told.out.starts_with("recorded"), "{}", told.out);
    assert!(
        told.tells("lists no reason tired") && told.tells("freight-too-close"),
        "{}",
        told.err
    );
    undecided(&mara, "M02");
    let quiet = mara.good("stand-down M02 --reason freight-too-close --why close");
    assert!(!quiet.tells("lists no reason"), "{}", quiet.err);
}

/// A take-off wants the hole closed against water; it has no wall to clear and no picture to take.
#[test]
fn a_take_off_waits_for_nothing_that_a_fit_wants() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    let told = mara.good("job M01 --trailer 5312 --purpose take-off");
    assert!(
        told.tells("close the hole against water") && !told.tells("hole saw"),
        "{}",
        told.err
    );
    let shown = mara.json("job show M01");
    let checks: Vec<&str> = shown["checks"]
        .as_array()
        .unwrap()
        .iter()
        .map(|c| c["check"].as_str().unwrap())
        .collect();
    assert_eq!(checks, ["hole-closed"]);
    let waits = shown["waits"].as_array().unwrap().iter();
    let waits: Vec<&str> = waits.map(|wait| wait["for"].as_str().unwrap()).collect();
    assert!(!waits.contains(&"readings") && !waits.contains(&"cut"), "{waits:?}");
}
