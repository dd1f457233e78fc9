//! Wrong clocks: what causality decides stays as it is, and no certain answer becomes the opposite one.
//!
//! One day is played twice, the second time with the clock of one device shifted: all that it reads off its clock, and its
//! readings of other clocks, move with it. Typed times of a server do not.
//!
//! - A device that readings tie to the depot may be shifted by any amount: nothing at all changes but the times that are shown,
//!   and `clock-off`, which is about that very clock.
//! - A device that nobody measured is taken to be right within what the work standard says (24 h). As long as it is, before and
//!   after, what was certain stays certain or becomes undecided; it never turns round.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

mod common;

use std::collections::BTreeMap;

use common::{Yard, key_of, standard, world};
use gladhand_facts::{FactId, Kind, Moment};
use gladhand_reconcile::{Clocks, Order, RecordedFact, ToldFinding, judge_all};
use proptest::prelude::*;

const DEVICES: [&str; 4] = ["lap-a", "lap-b", "lap-c", "depot"];
const DEPOT: usize = 3;
const DAY_MINUTES: i64 = 24 * 60;

/// How many sorts of facts are recorded: those of [`body`], and what withdraws one.
const KINDS: usize = 18;
const WITHDRAW: usize = KINDS - 1;

/// How a fact says when it happened.
#[derive(Debug, Clone, Copy)]
enum When {
    /// The device fills it in.
    Filled,
    /// Typed, by the device's own clock, some minutes back.
    Typed(i64),
    /// Typed, by the server's clock, some minutes back.
    Server(i64),
}

#[derive(Debug, Clone)]
enum Step {
    Record {
        device: usize,
        kind: usize,
        job: usize,
        pick: usize,
        when: When,
    },
    Meet(usize, usize),
    Read(usize, usize),
    Set(usize, i64),
    Wait(i64),
}

fn any_when() -> impl Strategy<Value = When> {
    prop_oneof![
        2 => Just(When::Filled),
        2 => (0i64..15).prop_map(When::Typed),
        1 => (0i64..15).prop_map(When::Server),
    ]
}

fn any_step(longest_wait: i64, most_set: i64) -> impl Strategy<Value = Step> {
    prop_oneof![
        14 => (0usize..4, 0usize..KINDS, 0usize..2, 0usize..8, any_when())
            .prop_map(|(device, kind, job, pick, when)| Step::Record { device, kind, job, pick, when }),
        2 => (0usize..4, 0usize..4).prop_map(|(a, b)| Step::Meet(a, b)),
        2 => (0usize..3, 0usize..4).prop_map(|(a, b)| Step::Read(a, b)),
        1 => (0usize..3, -most_set..most_set).prop_map(|(a, minutes)| Step::Set(a, minutes)),
        2 => (1..longest_wait).prop_map(Step::Wait),
    ]
}

/// `taken` holds the keys that say when a picture was taken.
fn body(kind: usize, job: usize, pick: usize, taken: &str) -> String {
    let (camera, tracker) = (["C1", "C2"][pick % 2], ["T1", "T2"][pick / 2 % 2]);
    let trailer = ["5312", "5313"][pick / 4 * job];
    let picture = format!("blake3:{:064x}", pick % 2);
    let answers =
        r#""answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}"#;
    match kind {
        0 => format!(
            r#""kind":"job","job":"J{job}","trailer":"{trailer}","fleet":"Larkspur Freight","camera":"{camera}","tracker":"{tracker}""#
        ),
        1 | 2 => format!(r#""kind":"link","job":"J{job}","camera":"{camera}","tracker":"{tracker}""#),
        3 => format!(r#""kind":"unlink","camera":"{camera}","tracker":"{tracker}""#),
        4 | 5 => format!(r#""kind":"settings","tracker":"{tracker}","state":"live""#),
        6 | 7 => format!(r#""kind":"sign-off","job":"J{job}""#),
        8 => format!(r#""kind":"proof","job":"J{job}","state":"asked""#),
        9 => format!(r#""kind":"proof","job":"J{job}","state":"taken","picture":"{picture}",{taken}"#),
        10 => format!(r#""kind":"proof","job":"J{job}","state":"judged","ok":true,{taken},{answers}"#),
        11 => format!(
            r#""kind":"check","job":"J{job}","check":"{}","ok":{}"#,
            ["doors-closed", "pilot-hole", "pilot-sealed", "hole-cut"][pick % 4],
            pick > 1
        ),
        12 => format!(
            r#""kind":"job","job":"J{job}","load":"{}","wall":"plate""#,
            ["loaded", "empty"][pick % 2]
        ),
        13 => format!(r#""kind":"stand-down","job":"J{job}""#),
        14 => format!(
            r#""kind":"stock","camera":"{}","fleet":"{}""#,
            ["C1", "C2", "LARK-7"][pick % 3],
            ["Larkspur Freight", "Tern Haulage"][job]
        ),
        15 => format!(r#""kind":"stock","trailer":"{trailer}","tracker":"{tracker}","fleet":"Larkspur Freight""#),
        _ => format!(r#""kind":"proof","job":"J{job}","state":"judged","ok":true,"picture":"{picture}",{answers}"#),
    }
}

fn taken_by_device(at: &Moment) -> String {
    format!(r#""taken_at":"{}","taken_clock":"device""#, at.text())
}

/// What does not name the device's clock is a server's time.
fn taken_by_server(at: &Moment) -> String {
    format!(r#""taken_at":"{}""#, at.text())
}

/// One of the last facts of a device that it may take back.
fn slip_of(yard: &Yard, device: &str, back: usize) -> Option<FactId> {
    let own = yard.facts.iter().rev().filter(|w| w.place.log.device == key_of(device));
    let (fixed, only_checks) = ([Kind::Job, Kind::Withdraw], back.is_multiple_of(2));
    let may = |w: &&RecordedFact| !fixed.contains(w.fact.kind()) && (!only_checks || *w.fact.kind() == Kind::Check);
    own.filter(may).nth(back / 2).map(|w| w.fact.id())
}

/// The same day, with the clocks of some devices shifted by so many minutes from its beginning on.
fn play(steps: &[Step], shift: &BTreeMap<usize, i64>) -> Yard {
    let mut yard = Yard::default();
    let shifted = |device: usize| shift.get(&device).copied().unwrap_or(0);
    for (device, name) in DEVICES.into_iter().enumerate() {
        yard.set_clock(name, shifted(device));
    }
    yard.depot_is_known = true;
    for (number, step) in steps.iter().enumerate() {
        match *step {
            Step::Record {
                device,
                kind,
                job,
                pick,
                when,
            } => {
                let own = |back| Moment::from_unix_us(yard.shows_us(DEVICES[device]) - back * 60_000_000, 0);
                let server = |back| Moment::from_unix_us(yard.now_us() - back * 60_000_000, 0);
                let (at, taken) = match when {
                    When::Filled => (String::new(), taken_by_device(&own(3))),
                    When::Typed(back) => (
                        format!(r#","at":"{}""#, own(back).text()),
                        taken_by_device(&own(back + 1)),
                    ),
                    When::Server(back) => (
                        format!(r#","clock":"reference","at":"{}""#, server(back).text()),
                        taken_by_server(&server(back + 1)),
                    ),
                };
                let body = if kind == WITHDRAW {
                    let Some(slip) = slip_of(&yard, DEVICES[device], pick) else {
                        continue;
                    };
                    format!(r#""kind":"withdraw","fact":"{slip}","why":"a slip""#)
                } else {
                    body(kind, job, pick, &taken)
                };
                yard.record(DEVICES[device], &format!(r#"{{{body}{at},"note":"{number}"}}"#), false);
            }
            Step::Meet(a, b) if a != b => yard.sync(DEVICES[a], DEVICES[b]),
            Step::Read(a, b) if a != b => yard.measure(DEVICES[a], DEVICES[b], 200),
            Step::Set(device, minutes) => yard.set_clock(DEVICES[device], minutes + shifted(device)),
            Step::Wait(minutes) => yard.wait(minutes),
            Step::Meet(..) | Step::Read(..) => {}
        }
    }
    yard
}

fn judged(yard: &Yard) -> (Clocks, Vec<ToldFinding>) {
    let (facts, clocks) = (yard.memory(yard.facts.clone()), yard.clocks());
    let found = judge_all(&world(&facts, &clocks));
    (clocks, ToldFinding::all(&found, &yard.names()))
}

/// A finding without the times that it shows. The facts are named by their places: a typed time is part of a fact's name.
fn timeless(yard: &Yard, finding: &ToldFinding) -> String {
    let masked: String = finding
        .says
        .chars()
        .map(|c| if c.is_ascii_digit() { '#' } else { c })
        .collect();
    let places: Vec<_> = yard
        .facts
        .iter()
        .filter(|w| finding.facts.contains(&w.fact.id()))
        .map(|w| w.place)
        .collect();
    format!(
        "{} {} {:?} {:?} {:?} {places:?} {masked}",
        finding.rule, finding.subject, finding.severity, finding.standing, finding.status
    )
}

fn orders(clocks: &Clocks, facts: &[RecordedFact]) -> Vec<Order> {
    let pairs = facts.iter().flat_map(|a| facts.iter().map(move |b| (a, b)));
    pairs.map(|(a, b)| clocks.order(a, b)).collect()
}

/// Rules that ask no clock.
const CAUSAL: [&str; 15] = [
    "camera-on-two-trackers",
    "tracker-with-two-cameras",
    "tracker-on-two-trailers",
    "trailer-with-two-pairs",
    "planned-not-linked",
    "signed-without-link",
    "proof-answers-disagree",
    "proof-without-picture",
    "picture-used-twice",
    "fields-disagree",
    "wrong-fleet",
    "not-the-listed-tracker",
    "unknown-part",
    "code-suspect",
    "reading-withdrawn",
];
/// Rules that say "undecidable" where they cannot tell.
const CAREFUL: [&str; 2] = ["signed-before-live", "proof-older-than-request"];

fn severity_of(found: &[ToldFinding], rule: &str, job: &str) -> &'static str {
    let open = found.iter().find(|f| f.rule == rule && f.subject == job && f.is_open());
    match open.map(|f| f.severity) {
        None => "right",
        Some(gladhand_reconcile::Severity::Stop) => "wrong",
        Some(_) => "undecided",
    }
}

/// Twenty years.
const ANY_MINUTES: i64 = 20 * 365 * DAY_MINUTES;

proptest! {
    #![proptest_config(ProptestConfig { cases: 128, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_measured_clock_may_be_wrong_by_any_amount(
        steps in prop::collection::vec(any_step(300, 400), 0..40), device in 0usize..3, by in -ANY_MINUTES..ANY_MINUTES,
    ) {
        // Everybody is read once, before anything happens.
        let readings = [Step::Read(0, DEPOT), Step::Read(1, 0), Step::Read(2, DEPOT)];
        let steps: Vec<Step> = readings.into_iter().chain(steps).collect();
        let (one, other) = (play(&steps, &BTreeMap::new()), play(&steps, &BTreeMap::from([(device, by)])));
        let ((clocks, found), (other_clocks, other_found)) = (judged(&one), judged(&other));
        prop_assert_eq!(orders(&clocks, &one.facts), orders(&other_clocks, &other.facts));
        let told = |yard: &Yard, found: &[ToldFinding]| -> Vec<String> {
            found.iter().filter(|f| f.rule != "clock-off").map(|f| timeless(yard, f)).collect()
        };
        prop_assert_eq!(told(&one, &found), told(&other, &other_found));
    }

    /// The depot's clock is the measure: where nothing else claims to be right, it may be wrong as well.
    #[test]
    fn even_the_depots_clock_may_be_wrong(steps in prop::collection::vec(any_step(300, 400), 0..40), by in -ANY_MINUTES..ANY_MINUTES) {
        let readings = [Step::Read(0, DEPOT), Step::Read(1, 0), Step::Read(2, DEPOT)];
        let own = |step: Step| match step {
            Step::Record { device, kind, job, pick, when: When::Server(back) } => {
                Step::Record { device, kind, job, pick, when: When::Typed(back) }
            }
            other => other,
        };
        let steps: Vec<Step> = readings.into_iter().chain(steps.into_iter().map(own)).collect();
        let (one, other) = (play(&steps, &BTreeMap::new()), play(&steps, &BTreeMap::from([(DEPOT, by)])));
        let ((clocks, found), (other_clocks, other_found)) = (judged(&one), judged(&other));
        prop_assert_eq!(orders(&clocks, &one.facts), orders(&other_clocks, &other.facts));
        let told = |yard: &Yard, found: &[ToldFinding]| -> Vec<String> {
            found.iter().filter(|f| f.rule != "clock-off").map(|f| timeless(yard, f)).collect()
        };
        prop_assert_eq!(told(&one, &found), told(&other, &other_found));
    }

    #[test]
    fn an_unmeasured_clock_turns_nothing_round(
        steps in prop::collection::vec(any_step(2 * DAY_MINUTES, DAY_MINUTES / 2), 0..40),
        device in 0usize..3, by in -DAY_MINUTES / 2..DAY_MINUTES / 2, read in any::<bool>(),
    ) {
        prop_assert_eq!(standard().clock().unmeasured_us, DAY_MINUTES * 60_000_000);
        // With or without readings of the others, nobody ever reads this one's clock, nor it another's.
        let about_it = |step: &Step| matches!(*step, Step::Read(a, b) if !read || a == device || b == device);
        let steps: Vec<Step> = steps.into_iter().filter(|step| !about_it(step)).collect();
        let (one, other) = (play(&steps, &BTreeMap::new()), play(&steps, &BTreeMap::from([(device, by)])));
        let ((clocks, found), (other_clocks, other_found)) = (judged(&one), judged(&other));
        for (a, b) in orders(&clocks, &one.facts).into_iter().zip(orders(&other_clocks, &other.facts)) {
            let opposite = matches!(
                (a, b),
                (Order::CertainlyBefore, Order::CertainlyAfter) | (Order::CertainlyAfter, Order::CertainlyBefore)
            );
            prop_assert!(!opposite);
        }
        let causal = |yard: &Yard, found: &[ToldFinding]| -> Vec<String> {
            found.iter().filter(|f| CAUSAL.contains(&f.rule.as_str())).map(|f| timeless(yard, f)).collect()
        };
        prop_assert_eq!(causal(&one, &found), causal(&other, &other_found));
        for (rule, job) in CAREFUL.iter().flat_map(|rule| ["J0", "J1"].map(|job| (rule, job))) {
            let answers = [severity_of(&found, rule, job), severity_of(&other_found, rule, job)];
            prop_assert!(answers != ["right", "wrong"] && answers != ["wrong", "right"], "{rule} {job}: {answers:?}");
        }
    }
}
