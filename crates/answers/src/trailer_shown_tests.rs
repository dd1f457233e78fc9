use super::*;
use crate::small_home::{shown, through_json};
use crate::small_yard::{SmallYard, record};

/// Job M01 on trailer 5312 is linked, proven and signed off; H01 on the same trailer was stood down; M02 is on another one.
fn yard() -> SmallYard {
    let mut yard = SmallYard::new();
    record(
        &mut yard.mara,
        &[
            r#"{"kind":"job","job":"M01","trailer":"5312","vin":"1LF5312X","fleet":"Larkspur Freight","by":"mara"}"#,
            r#"{"kind":"link","job":"M01","camera":"LC-1","tracker":"LT-1","by":"mara"}"#,
            r#"{"kind":"proof","job":"M01","state":"judged","ok":true,"by":"mara"}"#,
            r#"{"kind":"sign-off","job":"M01","by":"mara"}"#,
            r#"{"kind":"job","job":"M02","trailer":"5313","by":"mara"}"#,
        ],
    );
    yard.carry_to_depot();
    record(
        &mut yard.depot,
        &[
            r#"{"kind":"job","job":"H01","trailer":"5312","by":"jonas"}"#,
            r#"{"kind":"stand-down","job":"H01","why":"done before","by":"jonas"}"#,
        ],
    );
    yard.carry_to_mara();
    yard
}

#[test]
fn a_trailer_tells_its_jobs_in_order_and_what_is_linked() {
    let yard = yard();
    let trailer = trailer_shown(&yard.mara, " 5312 ").unwrap();
    let json = through_json(&trailer);
    assert_eq!(
        (&json["vin"], &json["fleet"]),
        (
            &serde_json::json!(["1LF5312X"]),
            &serde_json::json!(["Larkspur Freight"])
        )
    );
    let jobs: Vec<(&str, JobState)> = trailer.jobs.iter().map(|job| (job.job.as_str(), job.state)).collect();
    assert_eq!(jobs, [("M01", JobState::SignedOff), ("H01", JobState::StoodDown)]);
    assert_eq!(json["jobs"][0]["proven"][0]["at"], "2026-03-02T12:02:00Z");
    assert_eq!(trailer.jobs[1].proven, []);
    let [pair] = trailer.pairs.as_slice() else {
        panic!("{:?}", trailer.pairs);
    };
    assert_eq!(
        (pair.camera.as_str(), pair.tracker.as_str(), pair.job.as_deref()),
        ("LC-1", "LT-1", Some("M01"))
    );
    assert!(trailer.findings.iter().all(ShownFinding::is_open));
    assert!(trailer.findings.iter().any(|f| f.rule == "check-missing"));
}

#[test]
fn the_text_begins_with_what_is_linked_and_has_a_row_for_each_job() {
    let yard = yard();
    let text = shown(&trailer_shown(&yard.mara, "5312").unwrap());
    let wanted = "Trailer 5312 of Larkspur Freight, VIN 1LF5312X: relied on: no (an open stop)\n  linked now: LC-1 to LT-1, in job M01, by mara on lap-mara (2026-03-02 12:01)\n\n\
        job  purpose  state       opened";
    assert!(text.starts_with(wanted), "{text}");
    let row = text.lines().find(|line| line.starts_with("H01")).unwrap();
    assert!(
        row.contains("jonas 2026-03-02 12:00  -  ") && row.ends_with("jonas 2026-03-02 12:01"),
        "{row}"
    );
    assert!(text.contains("\nOpen findings\n"), "{text}");
}

#[test]
fn a_picture_that_was_judged_bad_last_proves_nothing() {
    let mut yard = yard();
    record(
        &mut yard.mara,
        &[r#"{"kind":"proof","job":"M01","state":"judged","ok":false,"by":"mara"}"#],
    );
    let trailer = trailer_shown(&yard.mara, "5312").unwrap();
    assert_eq!(trailer.jobs[0].proven, []);
}

#[test]
fn a_trailer_that_no_job_names_is_refused() {
    let yard = yard();
    let refused = trailer_shown(&yard.mara, "9").unwrap_err();
    assert!(matches!(refused, AnswerError::Resolve(ResolveError::NoTrailer(number)) if number == "9"));
}
