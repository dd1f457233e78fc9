//! How long judging takes: 10,000 jobs of 40 facts, all of them at once and then one new fact.
//!
//! `cargo run --release -p gladhand-reconcile --example figures`

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

#[path = "../tests/common/mod.rs"]
mod common;

use std::sync::Arc;
use std::time::Instant;

use common::{Dice, Yard, world};
use gladhand_facts::VersionVector;
use gladhand_reconcile::{Clocks, Filter, Ledger, RecordedFact, Report, Status, Subject, judge_all, judge_subject};

const JOBS: usize = 10_000;
const DEVICES: usize = 20;

fn main() {
    let mut yard = Yard::default();
    let mut dice = Dice(7);
    stock_list(&mut yard);
    (0..JOBS).for_each(|job| visit(&mut yard, &mut dice, job));
    let last = yard.facts.pop().unwrap();
    let recorded = std::mem::take(&mut yard.facts);
    let facts = yard.memory(recorded);
    println!("{} facts, {JOBS} jobs, {DEVICES} laptops", facts.all().count());
    let clocks = Clocks::unmeasured();

    let start = Instant::now();
    let findings = judge_all(&world(&facts, &clocks));
    println!("judge everything: {:?}, {} findings", start.elapsed(), findings.len());
    let mut by_rule = std::collections::BTreeMap::new();
    for finding in &findings {
        let open = usize::from(finding.status == Status::Open);
        *by_rule.entry(finding.rule.clone()).or_insert(0) += open;
    }
    println!("  open: {by_rule:?}");

    let start = Instant::now();
    let report = Report::make(
        &world(&facts, &clocks),
        &yard.names(),
        &findings,
        &Filter::default(),
        &VersionVector::new(),
    );
    println!("report: {:?}, {} jobs", start.elapsed(), report.jobs.len());

    let mut facts = facts;
    let mut ledger = Ledger::rebuild(&world(&facts, &clocks));
    let start = Instant::now();
    let last = Arc::new(last);
    facts.insert(last.clone());
    let subjects = ledger.absorb(&world(&facts, &clocks), std::slice::from_ref(&last));
    println!(
        "one new {}: {:?}, {} subjects",
        last.fact.kind(),
        start.elapsed(),
        subjects.len()
    );
    each_kind(&facts, &mut ledger, &clocks);
    everything_the_same(&clocks);
}

/// A label that was put on everything: one camera, one job, one trailer and thousands of facts on each.
fn everything_the_same(clocks: &Clocks) {
    const FACTS: usize = 5_000;
    let mut yard = Yard::default();
    let mut dice = Dice(9);
    for n in 0..FACTS {
        let lap = format!("lap-{}", dice.roll(DEVICES));
        let lines = [
            format!(r#"{{"kind":"link","camera":"TEST","tracker":"T-{n}"}}"#),
            format!(
                r#"{{"kind":"unlink","camera":"TEST","tracker":"T-{}","why":"{n}"}}"#,
                n / 2
            ),
            format!(
                r#"{{"kind":"job","job":"J","trailer":"{}","camera":"TEST","note":"{n}"}}"#,
                n % 3
            ),
            format!(r#"{{"kind":"check","job":"J","check":"rivet-count","value":{n}}}"#),
            format!(r#"{{"kind":"job","job":"J{n}","trailer":"0"}}"#),
        ];
        lines.iter().for_each(|line| yard.record(&lap, line, false));
    }
    yard.record("lap-0", r#"{"kind":"sign-off","job":"J"}"#, false);
    let recorded = std::mem::take(&mut yard.facts);
    let facts = yard.memory(recorded);
    for subject in [
        Subject::Camera("TEST".into()),
        Subject::Code("TEST".into()),
        Subject::Job("J".into()),
        Subject::Trailer("0".into()),
    ] {
        let start = Instant::now();
        let found = judge_subject(&world(&facts, clocks), &subject).len();
        println!(
            "{subject} with {FACTS} facts of a kind: {:?}, {found} findings",
            start.elapsed()
        );
    }
}

/// How long it takes to judge again after one fact of each kind, the worst of a thousand.
fn each_kind(facts: &gladhand_reconcile::MemoryFacts, ledger: &mut Ledger, clocks: &Clocks) {
    let mut worst = std::collections::BTreeMap::new();
    let all: Vec<Arc<RecordedFact>> = facts.all().cloned().collect();
    for recorded in all.iter().step_by(397) {
        let start = Instant::now();
        ledger.absorb(&world(facts, clocks), std::slice::from_ref(recorded));
        let entry = worst.entry(recorded.fact.kind().name().to_owned()).or_insert((0, 0, 0));
        let us = start.elapsed().as_micros();
        *entry = (entry.0 + us, entry.1.max(us), entry.2 + 1);
    }
    for (kind, (sum, most, count)) in worst {
        println!(
            "  a fact of kind {kind}: {} µs, at most {most} µs ({count} tried)",
            sum / count
        );
    }
}

/// The depot lists all cameras and trackers; serial numbers follow each other, so most are one edit apart.
fn stock_list(yard: &mut Yard) {
    for n in 0..JOBS {
        yard.record(
            "depot",
            &format!(r#"{{"kind":"stock","camera":"LK-C-{n:05}","fleet":"Larkspur Freight"}}"#),
            n % 100 > 0,
        );
        yard.record(
            "depot",
            &format!(r#"{{"kind":"stock","tracker":"LK-T-{n:05}","fleet":"Larkspur Freight"}}"#),
            true,
        );
    }
}

/// One visit, nearly always a good one.
fn visit(yard: &mut Yard, dice: &mut Dice, job: usize) {
    let lap = format!("lap-{}", dice.roll(DEVICES));
    let meets = format!("lap-{}", dice.roll(DEVICES));
    if meets != lap && dice.roll(10) == 0 {
        yard.sync(&lap, &meets);
    }
    if dice.roll(100) == 0 {
        yard.sync(&lap, "depot");
    }
    let camera = if dice.roll(200) == 0 { job / 2 } else { job };
    let digit = if dice.roll(500) == 0 { "O" } else { "" };
    let (camera, tracker) = (format!("LK-C-{camera:05}{digit}"), format!("LK-T-{job:05}"));
    let trailer = if dice.roll(200) == 0 { job / 2 } else { job };
    let mut say = |line: String| yard.record(&lap, &line, false);
    say(format!(
        r#"{{"kind":"job","job":"J{job}","trailer":"{trailer}","fleet":"Larkspur Freight","yard":"Tolland yard","tracker":"{tracker}","camera":"{camera}","wall":"plate","load":"loaded","by":"mara"}}"#
    ));
    for (what, code) in [("tracker", &tracker), ("camera", &camera)] {
        say(format!(
            r#"{{"kind":"scan","job":"J{job}","what":"{what}","code":"{code}"}}"#
        ));
    }
    say(format!(
        r#"{{"kind":"link","job":"J{job}","camera":"{camera}","tracker":"{tracker}"}}"#
    ));
    say(format!(
        r#"{{"kind":"settings","job":"J{job}","tracker":"{tracker}","state":"asked"}}"#
    ));
    if dice.roll(50) > 0 {
        say(format!(
            r#"{{"kind":"settings","job":"J{job}","tracker":"{tracker}","state":"live"}}"#
        ));
    }
    yard.checks(
        &lap,
        &format!("J{job}"),
        Some("plate"),
        Some("loaded"),
        if dice.roll(100) == 0 { &["rivet-count"] } else { &[] },
    );
    let mut say = |line: String| yard.record(&lap, &line, false);
    for note in 0..9 {
        say(format!(
            r#"{{"kind":"check","job":"J{job}","check":"post-covered","ok":true,"note":"{note}"}}"#
        ));
    }
    for state in ["asked", "taken"] {
        say(format!(r#"{{"kind":"proof","job":"J{job}","state":"{state}"}}"#));
    }
    say(format!(
        r#"{{"kind":"proof","job":"J{job}","state":"judged","ok":true,"answers":{{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}}}"#
    ));
    say(format!(r#"{{"kind":"sign-off","job":"J{job}","by":"mara"}}"#));
}
