//! What is promised of reasons and of the words made from them: nothing that is stored depends on what devices are called, every
//! reason has a story, and every step that a page can offer fits its sentence.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

mod common;

use std::collections::BTreeSet;

use common::{Yard, key_of, story, world};
use gladhand_facts::DeviceKey;
use gladhand_reconcile::{DeviceNames, Finding, Names, NextStep, Status, Step, ToldFinding, judge_all, rules};
use serde_json::Value;

fn judged(yard: &Yard) -> Vec<Finding> {
    let (facts, clocks) = (yard.memory(yard.facts.clone()), yard.clocks());
    judge_all(&world(&facts, &clocks))
}

/// Every finding of every part of every story.
fn all_findings() -> Vec<Finding> {
    let mut found = Vec::new();
    story::play_all(|chapter| found.extend(judged(chapter.yard)));
    found
}

/// Every finding of every part of every story with its words, which know the spellings.
fn all_told() -> Vec<ToldFinding> {
    let mut found = Vec::new();
    story::play_all(|chapter| found.extend(ToldFinding::all(&judged(chapter.yard), &chapter.yard.names())));
    found
}

/// Calls every device by its old name between two marks.
struct Renamed(DeviceNames);

impl Names for Renamed {
    fn device_name(&self, device: &DeviceKey) -> String {
        format!("«{}»", self.0.device_name(device))
    }
}

#[test]
fn a_rename_or_a_new_device_changes_what_is_read_and_not_what_is_stored() {
    let mut renamed_sentences = 0;
    story::play_all(|chapter| {
        let stored = serde_json::to_string(&judged(chapter.yard)).unwrap();
        let findings: Vec<Finding> = serde_json::from_str(&stored).unwrap();
        let mut names = chapter.yard.names().devices;
        let before = ToldFinding::all(&findings, &names);
        names.set(key_of("lap-new"), "lap-new");
        assert_eq!(ToldFinding::all(&findings, &names), before, "{}", chapter.name);
        let renamed = Renamed(names);
        assert_eq!(
            serde_json::to_string(&judged(chapter.yard)).unwrap(),
            stored,
            "{}",
            chapter.name
        );
        for (old, new) in before.iter().zip(ToldFinding::all(&findings, &renamed)) {
            let unmarked = |text: &str| text.replace(['«', '»'], "");
            assert_eq!(
                (unmarked(&new.says), unmarked(&new.next)),
                (old.says.clone(), old.next.clone())
            );
            renamed_sentences += usize::from(new.says != old.says);
        }
        for name in ["lap-a", "lap-b", "lap-c", "depot"] {
            assert!(!stored.contains(&format!("\"{name}")), "{}: {stored}", chapter.name);
        }
    });
    assert!(
        renamed_sentences > 500,
        "only {renamed_sentences} sentences name a device"
    );
}

#[test]
fn every_reason_is_told_by_some_story() {
    let rules: BTreeSet<&str> = rules::ALL.iter().map(|rule| rule.name()).collect();
    let told: BTreeSet<&str> = all_findings().iter().map(|f| f.reason.rule()).collect();
    assert_eq!(told, rules);
}

#[test]
fn a_reason_belongs_to_the_rule_that_gives_it() {
    for finding in all_findings() {
        assert_eq!(finding.rule, finding.reason.rule());
        let json = serde_json::to_value(&finding.reason).unwrap();
        assert_eq!(json.as_object().unwrap().keys().collect::<Vec<_>>(), [&finding.rule]);
    }
}

/// The alternatives inside the reasons: the key of the reason that holds one, and its names.
const ALTERNATIVES: [(&str, &str, &[&str]); 13] = [
    ("", "knowledge", &["no-clash", "neither", "none-of", "seen"]),
    ("", "resolution", &["signed-again", "stood-down"]),
    (
        "signed-without-link",
        "fault",
        &["never", "taken-off", "not-seen", "still-linked"],
    ),
    (
        "signed-without-proof",
        "fault",
        &["never-judged", "judged-bad", "not-before"],
    ),
    (
        "cut-without-clearance",
        "answer",
        &["blocked", "not-decidable", "next", "unknown"],
    ),
    (
        "pilot-hole-left-open",
        "cause",
        &["stood-down", "blocked", "not-decidable"],
    ),
    ("code-suspect", "suspicion", &["check-character", "near-listed"]),
    ("wrong-fleet", "part", &["camera", "tracker"]),
    ("changed-after-sign-off", "what", &["link", "unlink", "settings"]),
    ("failed-after-sign-off", "what", &["check", "proof", "settings"]),
    ("proof-of-another-pair", "step", &["asked", "taken", "judged"]),
    ("proof-without-picture", "why", &["not-named", "absent", "unreadable"]),
    ("unknown-part", "role", &["camera", "tracker"]),
];

#[test]
fn every_alternative_in_a_reason_is_told_by_some_story() {
    let mut told = BTreeSet::new();
    for finding in all_findings() {
        collect(
            &finding.rule,
            &serde_json::to_value(&finding.reason).unwrap(),
            &mut told,
        );
    }
    for (rule, key, names) in ALTERNATIVES {
        for name in names {
            let is_it = |(r, k, n): &(String, String, String)| (rule.is_empty() || r == rule) && k == key && n == name;
            assert!(told.iter().any(is_it), "no story tells {rule} {key} {name}");
        }
    }
}

/// For each key, the names of the alternatives found under it.
fn collect(rule: &str, value: &Value, told: &mut BTreeSet<(String, String, String)>) {
    match value {
        Value::Object(map) => {
            for (key, inner) in map {
                let names = match inner {
                    Value::Object(inner) => inner.keys().cloned().collect(),
                    Value::String(name) => vec![name.clone()],
                    _ => Vec::new(),
                };
                told.extend(names.into_iter().map(|name| (rule.to_owned(), key.clone(), name)));
                collect(rule, inner, told);
            }
        }
        Value::Array(list) => list.iter().for_each(|inner| collect(rule, inner, told)),
        _ => {}
    }
}

#[test]
fn a_step_fits_its_finding() {
    let mut steps = BTreeSet::new();
    for finding in all_told() {
        let NextStep {
            step,
            job,
            camera,
            tracker,
            device,
            finding: ruling,
            ..
        } = finding.step;
        let is_cleared = finding.status == Status::Cleared;
        assert_eq!(step == Step::Nothing, is_cleared, "{}: {}", finding.rule, finding.says);
        assert!(job.is_none_or(|job| finding.jobs.contains(&job)), "{}", finding.rule);
        assert!(ruling.is_none_or(|id| id == finding.id), "{}", finding.rule);
        let subject = &finding.subject;
        if ["camera-on-two-trackers", "code-suspect"].contains(&finding.rule.as_str()) {
            assert!(camera.is_none_or(|code| code == *subject) && tracker.is_none_or(|code| code == *subject));
        }
        assert!(device.is_none_or(|key| key.to_string() == *subject), "{}", finding.rule);
        steps.insert(step);
    }
    assert_eq!(steps.len(), 24, "some step is offered by no story: {steps:?}");
}

#[test]
fn a_step_is_written_for_a_page() {
    let mut written = BTreeSet::new();
    for finding in all_told() {
        written.insert(serde_json::to_string(&finding.step).unwrap());
    }
    for want in [
        r#"{"step":"nothing"}"#,
        r#"{"step":"unlink","camera":"C1"}"#,
        r#"{"step":"seal-pilot-hole","job":"J1","check":"pilot-sealed"}"#,
        r#"{"step":"record-check","job":"J1","check":"rivet-count"}"#,
    ] {
        assert!(written.contains(want), "{want} is not among {written:#?}");
    }
    for json in &written {
        let back: NextStep = serde_json::from_str(json).unwrap();
        assert_eq!(serde_json::to_string(&back).unwrap(), *json);
    }
}
