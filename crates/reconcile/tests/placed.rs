//! Where a fact lies beside a sign-off: the cases of the contract's "Recorded afterwards", each beside one that is nearly the same.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

mod common;

use common::Yard;
use gladhand_reconcile::placed::Placed;

/// A yard at 08:00, in which lap-a and lap-b are measured by the depot.
fn measured() -> Yard {
    let mut yard = Yard::default();
    yard.measure("lap-a", "depot", 200);
    yard.measure("lap-b", "depot", 200);
    yard
}

/// lap-a signs off at 09:00.
fn sign(yard: &mut Yard) -> usize {
    yard.wait(59);
    yard.record("lap-a", r#"{"kind":"sign-off","job":"J1"}"#, false);
    yard.facts.len() - 1
}

fn live(yard: &mut Yard, name: &str, more: &str) -> usize {
    let line = format!(r#"{{"kind":"settings","tracker":"T1","state":"live"{more}}}"#);
    yard.record(name, &line, false);
    yard.facts.len() - 1
}

fn at(time: &str, clock: &str) -> String {
    format!(r#","at":"2026-03-02T{time}:00Z","clock":"{clock}""#)
}

fn placed(yard: &Yard, fact: usize, deed: usize) -> Placed {
    yard.clocks().placed(&yard.facts[fact], &yard.facts[deed])
}

/// What lap-b records half an hour after the sign-off, which it has seen or not.
fn later(seen: bool, more: &str) -> Placed {
    let mut yard = measured();
    let deed = sign(&mut yard);
    if seen {
        yard.saw("lap-b", "lap-a", None);
    }
    yard.wait(30);
    let fact = live(&mut yard, "lap-b", more);
    placed(&yard, fact, deed)
}

#[test]
fn who_had_seen_the_sign_off_cannot_go_before_it_by_a_devices_clock_or_by_word() {
    assert_eq!(later(true, ""), Placed::After, "the moment of recording");
    assert_eq!(later(true, &at("08:30", "device")), Placed::Afterwards);
    assert_eq!(later(true, &at("08:30", "person")), Placed::Afterwards);
    assert_eq!(later(true, &at("09:20", "device")), Placed::After);
    assert_eq!(later(true, &at("09:20", "person")), Placed::After);
}

#[test]
fn a_servers_time_that_is_certain_wins() {
    assert_eq!(later(true, &at("08:30", "reference")), Placed::Before);
    assert_eq!(
        later(true, &at("08:59", "reference")),
        Placed::After,
        "not certain: two minutes either way"
    );
    // Seen before the sign-off, and really after it.
    let before = |more: &str| {
        let mut yard = measured();
        let fact = live(&mut yard, "lap-b", more);
        yard.saw("lap-a", "lap-b", None);
        let deed = sign(&mut yard);
        placed(&yard, fact, deed)
    };
    assert_eq!(before(&at("09:30", "reference")), Placed::After);
    assert_eq!(before(&at("09:02", "reference")), Placed::Before, "not certain");
    assert_eq!(before(&at("09:30", "device")), Placed::Before);
    assert_eq!(before(&at("09:30", "person")), Placed::Before);
}

#[test]
fn against_what_nobody_had_seen_a_device_is_read_as_it_stands_and_a_person_says_no_more_than_when_it_was_recorded() {
    assert_eq!(
        later(false, &at("08:30", "device")),
        Placed::Before,
        "however late it was handed over"
    );
    assert_eq!(later(false, &at("09:20", "device")), Placed::After);
    assert_eq!(later(false, &at("08:30", "person")), Placed::Undecided);
    assert_eq!(later(false, &at("09:20", "person")), Placed::Undecided);
    // Recorded before the sign-off, so it was before it whatever they say.
    for said in ["08:30", "09:20"] {
        let mut yard = measured();
        let fact = live(&mut yard, "lap-b", &at(said, "person"));
        let deed = sign(&mut yard);
        assert_eq!(placed(&yard, fact, deed), Placed::Before, "{said}");
    }
}

/// The clock that an earlier time was read from had been set back: its order wins.
#[test]
fn a_clock_that_is_known_to_have_been_set_makes_no_claim() {
    let claim = |set: bool| {
        let mut yard = measured();
        let deed = sign(&mut yard);
        yard.saw("lap-b", "lap-a", None);
        yard.wait(30);
        yard.record("lap-b", r#"{"kind":"note","text":"the clock is right"}"#, false);
        if set {
            yard.set_clock("lap-b", -60);
            yard.record("lap-b", r#"{"kind":"note","text":"an hour slow"}"#, false);
        }
        let fact = live(&mut yard, "lap-b", &at("08:40", "device"));
        placed(&yard, fact, deed)
    };
    assert_eq!(claim(false), Placed::Afterwards);
    assert_eq!(claim(true), Placed::After);
    // By readings of the depot alone.
    let mut yard = measured();
    let deed = sign(&mut yard);
    yard.saw("lap-b", "lap-a", None);
    yard.set_clock("lap-b", -60);
    let fact = live(&mut yard, "lap-b", &at("08:10", "device"));
    yard.wait(20);
    yard.measure("lap-b", "depot", 200);
    assert_eq!(placed(&yard, fact, deed), Placed::After);
}

/// `before` is what `placed` calls so, and nothing follows itself.
#[test]
fn before_and_follows_agree_with_it() {
    let mut yard = measured();
    let early = live(&mut yard, "lap-b", "");
    let deed = sign(&mut yard);
    yard.saw("lap-b", "lap-a", None);
    let claimed = live(&mut yard, "lap-b", &at("08:30", "device"));
    let clocks = yard.clocks();
    let fact = |i: usize| &yard.facts[i];
    assert!(clocks.before(fact(early), fact(deed)) && clocks.follows(fact(deed), fact(early)));
    assert!(!clocks.before(fact(claimed), fact(deed)) && clocks.follows(fact(claimed), fact(deed)));
    assert!(!clocks.before(fact(deed), fact(deed)) && !clocks.follows(fact(deed), fact(deed)));
}
