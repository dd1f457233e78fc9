use super::*;
use crate::error::{AnswerError, ResolveError};
use crate::small_home::{shown as text, through_json};
use crate::small_yard::{SmallYard, record};
use crate::step::StepKind;
use crate::waits::WaitsFor;

/// 2026-03-02T13:00:00Z.
const ONE_O_CLOCK_US: i64 = 1_772_456_400_000_000;

fn asked(node: &mut Node) -> JobShown {
    job_shown(node, "M01", ONE_O_CLOCK_US).unwrap()
}

/// Mara's laptop after she recorded `lines` about job M01.
fn yard(lines: &[&str]) -> SmallYard {
    let mut yard = SmallYard::new();
    record(
        &mut yard.mara,
        &lines.iter().map(|line| line_of_m01(line)).collect::<Vec<_>>(),
    );
    yard
}

fn line_of_m01(line: &str) -> String {
    line.replacen('{', r#"{"job":"M01","by":"mara","#, 1)
}

const OPENED: &str = r#"{"kind":"job","trailer":"5312","fleet":"Larkspur Freight","camera":"LC-1","tracker":"LT-1"}"#;
const WALL: &str = r#"{"kind":"job","wall":"plate","load":"empty"}"#;
const CUT: &str = r#"{"kind":"check","check":"hole-diameter","value":"1 3/4 in"}"#;
const LINKED: &str = r#"{"kind":"link","camera":"LC-1","tracker":"LT-1"}"#;

/// The kinds of the steps that are not about checks, and their command lines.
fn steps(shown: &JobShown) -> Vec<(StepKind, &str)> {
    let others = shown.record.iter().filter(|step| step.step != StepKind::RecordCheck);
    others.map(|step| (step.step, step.command.as_str())).collect()
}

#[test]
fn a_job_that_was_just_opened_tells_its_fields_and_what_is_missing() {
    let mut yard = yard(&[OPENED]);
    let shown = asked(&mut yard.mara);
    let json = through_json(&shown);
    assert_eq!(
        (&json["state"], &json["relied_on"]),
        (&"open".into(), &"not-yet".into())
    );
    assert_eq!(json["fields"]["trailer"], serde_json::json!(["5312"]));
    assert!(json["fields"].get("wall").is_none(), "{json}");
    assert_eq!(json["opened"][0]["at"], "2026-03-02T12:00:00Z");
    assert!(shown.checks.iter().all(|check| check.outcome == CheckOutcome::Missing));
    assert_eq!(
        steps(&shown),
        [
            (StepKind::SetField, "gladhand job M01 --wall WALL"),
            (StepKind::SetField, "gladhand job M01 --load LOAD")
        ]
    );
    let hole = |step: &&Step| step.check.as_deref() == Some("hole-diameter");
    assert!(shown.record.iter().find(hole).is_none(), "the wall is not cleared yet");
    assert!(shown.checks.iter().any(|check| check.check == "hole-diameter"));
}

#[test]
fn a_check_tells_what_was_recorded_and_why_it_fails() {
    let mut yard = yard(&[
        OPENED,
        WALL,
        CUT,
        r#"{"kind":"check","check":"tape-pieces","value":"3"}"#,
    ]);
    let shown = asked(&mut yard.mara);
    let check = |name: &str| shown.checks.iter().find(|check| check.check == name).unwrap();
    let hole = check("hole-diameter");
    assert_eq!((hole.outcome, &hole.why), (CheckOutcome::Good, &None));
    let recorded = &hole.recorded[0];
    assert_eq!(recorded.taken.value.as_deref(), Some("1 3/4 in"));
    assert_eq!(
        (recorded.taken.by.as_deref(), recorded.device.as_str()),
        (Some("mara"), "lap-mara")
    );
    let tape = check("tape-pieces");
    assert_eq!(
        (tape.outcome, tape.range.as_deref()),
        (CheckOutcome::Failed, Some("exactly 4"))
    );
    assert!(tape.why.is_some());
    let missing = check("kit-complete");
    assert!(missing.outcome == CheckOutcome::Missing && missing.recorded.is_empty());
}

#[test]
fn the_text_names_each_check_once_and_shows_few_command_lines() {
    let mut yard = yard(&[OPENED, WALL, CUT]);
    let shown = asked(&mut yard.mara);
    let text = text(&shown);
    assert!(
        text.starts_with("Job M01 on trailer 5312 is open; the trailer cannot be relied on yet.\n  waits for "),
        "{text}"
    );
    assert_eq!(text.matches("gladhand check ").count(), 3, "{text}");
    let checks = shown
        .record
        .iter()
        .filter(|step| step.step == StepKind::RecordCheck)
        .count();
    let others = format!("  and in the same way {} other checks of those below\n", checks - 3);
    assert!(text.contains(&others), "{text}");
    let rows = text.lines().filter(|line| line.starts_with("  missing  ")).count();
    assert_eq!(
        rows,
        shown
            .checks
            .iter()
            .filter(|c| c.outcome == CheckOutcome::Missing)
            .count()
    );
    let good = "  good     hole-diameter      1 3/4 in, by mara on lap-mara (2026-03-02 12:02)\n";
    assert!(text.contains(good), "{text}");
    let trailer = text.find("\ntrailer ").unwrap();
    assert!(
        trailer < text.find("\ncamera ").unwrap(),
        "the trailer stands first:\n{text}"
    );
}

#[test]
fn the_parts_of_a_link_are_named_only_where_one_is_known() {
    let mut known = yard(&[OPENED, WALL, CUT]);
    let link = [(StepKind::Link, "gladhand link LC-1 LT-1 --job M01")];
    assert_eq!(steps(&asked(&mut known.mara)), link);

    let mut unknown = yard(&[r#"{"kind":"job","trailer":"5312"}"#, WALL, CUT]);
    let shown = asked(&mut unknown.mara);
    assert_eq!(
        steps(&shown),
        [(StepKind::Link, "gladhand link CAMERA TRACKER --job M01")]
    );
    let with = shown.record.last().unwrap().with.as_deref().unwrap();
    assert!(with.contains("CAMERA: ") && with.contains("TRACKER: "), "{with}");
}

#[test]
fn settings_are_asked_of_the_tracker_that_is_linked() {
    let other = r#"{"kind":"link","camera":"LC-1","tracker":"LT-9"}"#;
    let mut yard = yard(&[OPENED, WALL, CUT, other]);
    let shown = asked(&mut yard.mara);
    assert_eq!(shown.pairs[0].job.as_deref(), Some("M01"));
    assert_eq!(
        steps(&shown),
        [(StepKind::SettingsAsked, "gladhand settings LT-9 asked --job M01")]
    );
}

#[test]
fn the_judgement_of_a_picture_is_left_to_the_person() {
    let live = r#"{"kind":"settings","tracker":"LT-1","state":"live"}"#;
    let taken = r#"{"kind":"proof","state":"taken"}"#;
    let mut yard = yard(&[OPENED, WALL, CUT, LINKED, live, taken]);
    let shown = asked(&mut yard.mara);
    assert!(shown.waits.iter().any(|wait| wait.what == WaitsFor::ProofJudged));
    let steps = steps(&shown);
    let [(StepKind::ProofJudged, command)] = steps.as_slice() else {
        panic!("{steps:?}");
    };
    assert!(
        command.starts_with("gladhand proof M01 judged JUDGEMENT --answer "),
        "{command}"
    );
    assert!(!command.contains("=yes"), "{command}");
}

#[test]
fn a_job_that_has_ended_waits_for_nothing() {
    let mut signed = yard(&[OPENED, WALL, CUT, LINKED, r#"{"kind":"sign-off"}"#]);
    let shown = asked(&mut signed.mara);
    assert_eq!((shown.state, shown.signed_off.len()), (JobState::SignedOff, 1));
    assert!(shown.waits.is_empty() && shown.record.is_empty());
    assert!(!shown.findings.is_empty());
    assert!(text(&shown).contains("\nFindings\n"));

    let mut down = yard(&[OPENED, r#"{"kind":"stand-down","why":"left"}"#]);
    let shown = asked(&mut down.mara);
    assert_eq!((shown.state, shown.stood_down.len()), (JobState::StoodDown, 1));
    assert!(
        !text(&shown).contains("missing"),
        "what a dropped job lacks says nothing"
    );
}

#[test]
fn only_a_known_job_is_shown() {
    let yard = yard(&[OPENED]);
    let refused = job_shown(&yard.mara, "X1", ONE_O_CLOCK_US).unwrap_err();
    assert!(matches!(refused, AnswerError::Resolve(ResolveError::NoJob(name)) if name == "X1"));
}
