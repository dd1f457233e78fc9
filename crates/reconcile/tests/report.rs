//! What a reader of findings and of the shift report relies on: names, order, words, and which trailers are good.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

mod common;

use std::collections::BTreeSet;

use common::{Yard, world};
use gladhand_facts::{Moment, VersionVector};
use gladhand_reconcile::finding::finding_id;
use gladhand_reconcile::report::JobLine;
use gladhand_reconcile::{Clocks, Filter, Report, Subject, ToldFinding, judge_all};

/// A whole good visit on an empty plate trailer.
fn good_visit(yard: &mut Yard, lap: &str, job: &str, trailer: &str) {
    yard.fit(lap, [job, trailer, &format!("C-{trailer}"), &format!("T-{trailer}")]);
    yard.record(
        lap,
        &format!(r#"{{"kind":"sign-off","job":"{job}","by":"mara"}}"#),
        false,
    );
}

fn shift() -> Yard {
    let mut yard = Yard::default();
    good_visit(&mut yard, "lap-a", "J1", "5312");
    good_visit(&mut yard, "lap-a", "J2", "5448");
    // Another camera on the tracker of 5448: a stop.
    yard.record(
        "lap-b",
        r#"{"kind":"link","job":"J9","camera":"C-77","tracker":"T-5448"}"#,
        false,
    );
    good_visit(&mut yard, "lap-a", "J3", "5601");
    // Settings sent again after the sign-off: an ask.
    yard.record(
        "lap-a",
        r#"{"kind":"settings","tracker":"T-5601","state":"asked"}"#,
        false,
    );
    yard.record(
        "lap-b",
        r#"{"kind":"job","job":"J4","trailer":"5700","yard":"Harrow Street depot","by":"jonas"}"#,
        false,
    );
    yard.record(
        "lap-a",
        r#"{"kind":"job","job":"J5","trailer":"5800","by":"mara"}"#,
        false,
    );
    yard.record(
        "lap-b",
        r#"{"kind":"job","job":"J5","trailer":"5801","by":"jonas"}"#,
        false,
    );
    yard.record("lap-b", r#"{"kind":"stand-down","job":"J5","why":"left early"}"#, false);
    yard.record("lap-c", r#"{"kind":"weigh-in"}"#, false);
    yard
}

fn report(yard: &Yard, filter: &Filter) -> Report {
    let (facts, clocks) = (yard.memory(yard.facts.clone()), Clocks::unmeasured());
    let world = world(&facts, &clocks);
    Report::make(&world, &yard.names(), &judge_all(&world), filter, &VersionVector::new())
}

fn line<'a>(report: &'a Report, job: &str) -> &'a JobLine {
    report.jobs.iter().find(|j| j.job == job).unwrap()
}

#[test]
fn a_trailer_is_relied_on_only_when_nothing_open_speaks_against_it() {
    let report = report(&shift(), &Filter::default());
    let relied = |job: &str| (line(&report, job).state.name(), line(&report, job).relied_on.name());
    assert_eq!(relied("J1"), ("signed-off", "yes"));
    assert_eq!(relied("J2"), ("signed-off", "no"), "{:#?}", report.findings);
    assert_eq!(relied("J3"), ("signed-off", "ask"));
    assert_eq!(relied("J4"), ("open", "not-yet"));
    assert_eq!(relied("J5"), ("stood-down", "ask"), "its trailer is in dispute");
    assert_eq!(line(&report, "J5").trailer, ["5800", "5801"]);
    assert_eq!(
        BTreeSet::from_iter(&line(&report, "J5").opened_by),
        BTreeSet::from_iter(&["mara".to_owned(), "jonas".to_owned()])
    );
    assert_eq!(line(&report, "J1").camera, ["C-5312"], "told by its link");
    assert_eq!(line(&report, "J4").camera, [] as [&str; 0]);
    assert!(line(&report, "J1").findings.is_empty());
    assert!(report.has_open_stop());
    let totals = serde_json::to_value(&report.totals).unwrap();
    assert_eq!(totals["jobs"], 6);
    assert_eq!(totals["states"]["signed-off"], 3);
    assert_eq!(totals["relied_on"]["yes"], 1);
    assert_eq!(totals["open"]["stop"], 1);
}

#[test]
fn a_trailer_has_one_line_with_its_pair_and_its_proof() {
    let mut yard = Yard::default();
    good_visit(&mut yard, "lap-a", "J1", "5312");
    yard.record(
        "lap-a",
        r#"{"kind":"job","job":"J2","trailer":"53-12","fleet":"larkspur  freight","camera":"C-9","purpose":"prove"}"#,
        false,
    );
    // The same pair once more, in another spelling.
    yard.record(
        "lap-a",
        r#"{"kind":"link","job":"j1","camera":"c5312","tracker":"t_5312"}"#,
        false,
    );
    let report = report(&yard, &Filter::default());
    let [trailer] = report.trailers.as_slice() else {
        panic!("one trailer: {:#?}", report.trailers)
    };
    assert_eq!(
        trailer.trailer, "53-12",
        "of two spellings used equally often the smaller one"
    );
    assert_eq!(trailer.fleet, ["Larkspur Freight"]);
    assert_eq!(
        (&trailer.camera[..], &trailer.tracker[..]),
        (&["C-5312".to_owned()][..], &["T-5312".to_owned()][..])
    );
    assert_eq!(trailer.jobs, ["J1", "J2"]);
    assert_eq!(
        (&trailer.proven_by[..], trailer.proven_at.len()),
        (&["mara".to_owned()][..], 1)
    );
    let picture = common::picture("J1_5312_C-5312");
    assert_eq!(trailer.picture, [picture.trim_start_matches("blake3:")]);
    let planned = line(&report, "J2");
    assert_eq!(
        (&planned.planned_camera[..], &planned.camera[..]),
        (&["C-9".to_owned()][..], &["C-5312".to_owned()][..])
    );
}

#[test]
fn a_filter_keeps_the_findings_of_its_jobs_and_those_of_no_job() {
    let yard = shift();
    let here = |filter: Filter| {
        let report = report(&yard, &filter);
        let jobs: Vec<String> = report.jobs.iter().map(|j| j.job.clone()).collect();
        let rules: Vec<String> = report.findings.iter().map(|f| f.rule.clone()).collect();
        (jobs, rules)
    };
    let depot = Filter {
        yard: Some("Harrow Street depot".into()),
        ..Filter::default()
    };
    assert_eq!(here(depot), (vec!["J4".to_owned()], vec!["not-understood".to_owned()]));
    let fleet = Filter {
        fleet: Some(" Larkspur Freight ".into()),
        ..Filter::default()
    };
    assert_eq!(here(fleet).0, ["J1", "J2", "J3"]);
    let first_us = common::MORNING_US + 60_000_000;
    let up_to = |to_us| Filter {
        from_us: Some(first_us),
        to_us: Some(to_us),
        ..Filter::default()
    };
    assert_eq!(here(up_to(first_us + 1)).0, ["J1"]);
    assert!(
        here(up_to(first_us)).0.is_empty(),
        "the end does not belong to the time asked for"
    );
    let scope = report(&yard, &up_to(first_us + 1)).scope;
    let from = scope.from.unwrap();
    assert_eq!(Moment::parse(&from).unwrap().unix_us(), first_us);
}

/// The keys of the contract's §4, in its order.
#[test]
fn a_finding_is_written_as_the_contract_says() {
    let yard = shift();
    let (facts, clocks) = (yard.memory(yard.facts.clone()), Clocks::unmeasured());
    let findings = ToldFinding::all(&judge_all(&world(&facts, &clocks)), &yard.names());
    let text = serde_json::to_string(&findings[0]).unwrap();
    let keys = [
        "id", "rule", "severity", "subject", "jobs", "facts", "standing", "status", "says", "next",
    ];
    let places: Vec<usize> = keys.iter().map(|k| text.find(&format!("\"{k}\":")).expect(k)).collect();
    assert!(places.is_sorted(), "{text}");
    assert!(!text.contains("\"ruling\""), "{text}");
    let back: Vec<ToldFinding> = serde_json::from_str(&serde_json::to_string(&findings).unwrap()).unwrap();
    assert_eq!(back, findings);
    for finding in &findings {
        assert!(
            finding.says.ends_with('.') && finding.next.ends_with('.'),
            "{finding:#?}"
        );
        assert!(finding.jobs.is_sorted() && finding.facts.is_sorted());
    }
}

/// Ids are kept in rulings for ever: a version that names findings otherwise would open them all again. The value was
/// computed with PyPI `blake3` too: the low five bits of the first twelve bytes.
#[test]
fn ids_do_not_change_between_versions() {
    let id = |rule, subject| finding_id(rule, &subject);
    let camera = id("camera-on-two-trackers", Subject::Camera("LK-C-0412".into()));
    assert_eq!(camera, "f-43phgpxhyks6");
    assert_ne!(
        camera,
        id("camera-on-two-trackers", Subject::Tracker("LK-C-0412".into()))
    );
    assert_ne!(camera, id("code-suspect", Subject::Camera("LK-C-0412".into())));
}
