use super::*;
use crate::small_home::{shown, through_json};
use crate::small_yard::{SmallYard, record};

fn names(returns: &JobReturns) -> Vec<&str> {
    returns.jobs.iter().map(|job| job.job.as_str()).collect()
}

const STOOD_DOWN: [&str; 3] = [
    r#"{"kind":"job","job":"M05","trailer":"5312","fleet":"Larkspur Freight","yard":"Tolland","by":"mara"}"#,
    r#"{"kind":"stand-down","job":"M05","reason":"weather","why":"rain came","by":"mara"}"#,
    r#"{"kind":"job","job":"M09","trailer":"5313","by":"mara"}"#,
];

#[test]
fn a_stood_down_job_is_come_back_to_until_a_later_one_takes_over() {
    let mut yard = SmallYard::new();
    record(&mut yard.mara, &STOOD_DOWN);
    let returns = job_returns(&yard.mara).unwrap();
    through_json(&returns);
    assert_eq!(names(&returns), ["M05"], "the open job is none");
    assert_eq!(returns.jobs[0].why, [WhyReturn::StoodDown]);
    assert_eq!(
        shown(&returns),
        "5312 of Larkspur Freight, job M05, stood down by mara on lap-mara (2026-03-02 12:01)\n  \
         last at Tolland: mara on lap-mara (2026-03-02 12:01)\n  \
         - stood down (weather: rain came), and no later job took over\n"
    );
    record(
        &mut yard.mara,
        &[r#"{"kind":"job","job":"M06","trailer":"5312","planned":"2026-03-04","by":"mara"}"#],
    );
    let planned = job_returns(&yard.mara).unwrap();
    assert_eq!(names(&planned), ["M05"], "a plan takes nothing over");
    assert_eq!(planned.jobs[0].under_way, ["M06"]);
    record(
        &mut yard.mara,
        &[r#"{"kind":"job","job":"M07","trailer":"5312","by":"mara"}"#],
    );
    assert_eq!(names(&job_returns(&yard.mara).unwrap()), [""; 0]);
}

#[test]
fn a_signed_job_is_come_back_to_while_findings_are_open_and_the_oldest_comes_first() {
    let mut yard = SmallYard::new();
    record(
        &mut yard.mara,
        &[
            r#"{"kind":"job","job":"M02","trailer":"5313","by":"mara"}"#,
            r#"{"kind":"sign-off","job":"M02","by":"mara"}"#,
            r#"{"kind":"job","job":"M01","trailer":"5312","yard":"Tolland","by":"mara"}"#,
            r#"{"kind":"sign-off","job":"M01","by":"mara"}"#,
            r#"{"kind":"handover","trailer":"5312","to":"the gate","by":"mara"}"#,
        ],
    );
    let returns = job_returns(&yard.mara).unwrap();
    assert_eq!(names(&returns), ["M02", "M01"]);
    let job = &returns.jobs[1];
    assert_eq!(
        (job.relied_on, job.why.as_slice()),
        (Reliance::No, &[WhyReturn::OpenFindings][..])
    );
    assert!(job.findings.iter().any(|f| f.rule == "signed-without-link"));
    assert_eq!(job.last.handed_over_to.as_deref(), Some("the gate"));
    let text = shown(&returns);
    assert!(
        text.contains("  last at Tolland, handed over to the gate: mara on lap-mara (2026-03-02 12:04)\n  - stop f-"),
        "{text}"
    );
}

#[test]
fn where_there_is_none_it_says_so() {
    let yard = SmallYard::new();
    let returns = job_returns(&yard.mara).unwrap();
    assert_eq!(shown(&returns), "~no job to come back to\n");
}
