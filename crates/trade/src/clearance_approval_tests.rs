//! Approvals over a dense grid: every 1/64 in of both walls and both probes, with every change of wall and load.
//!
//! What is expected is said in words about the answer without the approval, and for the single depths in numbers of its own.

use std::sync::LazyLock;

use gladhand_facts::{DeviceKey, Fact, FactId};

use super::tests::{at, first_probe, loaded, reading, second_probe, word};
use super::*;
use crate::situation::WallReading;

static STANDARD: LazyLock<Standard> = LazyLock::new(Standard::built_in);

fn approval() -> Approval {
    let line = r#"{"kind":"check","job":"J1","check":"approval","ok":true,"of":"reading","by":"ida"}"#;
    let fact: FactId = Fact::from_line(&DeviceKey([7; 32]), line).unwrap().id();
    Approval {
        by: "ida".to_owned(),
        fact,
    }
}

fn approved(situation: &Situation) -> Answer {
    decide(
        &STANDARD,
        &Situation {
            approval: Some(approval()),
            ..situation.clone()
        },
    )
}

/// 0 to 3 in.
fn depths() -> impl Iterator<Item = (i64, Observation)> {
    (0..=192).map(|n| (n, at(&format!("{n}/64 in"))))
}

/// Whether the reading, give or take 1/32 in, neither lies in one band nor touches only bands that block (TRADE §2).
fn is_undecided(probe: &str, wall: &str, n: i64) -> bool {
    let (low, high) = (n - 2, n + 2);
    match (wall, probe) {
        // Blocked below 1/2 in, clear from there.
        ("plate", _) => high >= 32 && low < 32,
        // On below 1/2 in; blocked from 5/8 to 1 1/2 in; clear from 2 in.
        (_, "first-probe") => !(high < 32 || (40..=96).contains(&n) || low >= 128),
        // Missed below 5/8 in; stops at 5/8 in; blocked from 3/4 to 1 1/2 in; clear from 2 in.
        _ => high < 40 || !((low <= 40 && 40 <= high) || (48..=96).contains(&n) || low >= 128),
    }
}

#[test]
fn an_approval_clears_what_is_undecided_and_changes_nothing_else() {
    for (n, observed) in depths() {
        let probes = [
            ("plate", "first-probe", first_probe("plate", observed.clone())),
            (
                "sheet-and-post",
                "first-probe",
                first_probe("sheet-and-post", observed.clone()),
            ),
            ("sheet-and-post", "second-probe", second_probe(observed.clone())),
        ];
        for (wall, probe, situation) in probes {
            let (alone, with) = (decide(&STANDARD, &situation), approved(&situation));
            let is_open = matches!(alone, Answer::NotDecidable { may_approve: true, .. });
            assert_eq!(
                is_open,
                is_undecided(probe, wall, n),
                "{wall}, {probe} {n}/64: {alone:?}"
            );
            match with {
                Answer::Clear { limits, by_approval } if is_open => {
                    assert_eq!(by_approval, Some(approval()));
                    let all = limits.join("; ");
                    assert!(
                        all.contains("saw-limited") && all.contains("rivet-drill-limited"),
                        "{all}"
                    );
                }
                other => assert_eq!(other, alone, "{wall}, {probe} {n}/64"),
            }
        }
    }
}

/// Freight, a wall that is too thick, and whatever blocks beside what is undecided.
#[test]
fn nothing_that_blocks_is_approved_away() {
    for wall in WALLS {
        for (n, observed) in depths() {
            let mut freight = first_probe(wall, observed.clone());
            freight.freight_at_opening = Some(true);
            assert_eq!(word(&approved(&freight)), "blocked", "{wall} {n}/64");
            let mut also = first_probe(wall, observed);
            also.readings.push(reading("first-probe", at("3/8 in")));
            also.readings.push(reading("first-probe", at("1 in")));
            assert_eq!(word(&approved(&also)), "blocked", "{wall} {n}/64");
        }
    }
    let mut thick = first_probe("sheet-and-post", at("9/16 in"));
    thick.thickness = Some(Measure::parse("1 in").unwrap());
    assert_eq!(word(&approved(&thick)), "blocked");
    thick.thickness = Some(Measure::parse("3/4 in").unwrap());
    assert_eq!(
        word(&approved(&thick)),
        "clear",
        "a thickness too near its limit is undecided"
    );
}

/// What is missing is recorded, not approved. An undecided reading without an approval goes before it.
#[test]
fn what_is_missing_stays_missing() {
    for wall in WALLS {
        for (n, observed) in depths() {
            let mut unknown = first_probe(wall, observed);
            unknown.freight_at_opening = None;
            unknown.thickness = None;
            let alone = word(&decide(&STANDARD, &unknown));
            let with = word(&approved(&unknown));
            assert_ne!(with, "clear", "{wall} {n}/64");
            if is_undecided("first-probe", wall, n) {
                assert_eq!(
                    (alone.as_str(), with.as_str()),
                    ("not decidable", "unknown freight-at-opening")
                );
            }
        }
    }
    let mut torn = first_probe("plate", at("1/2 in"));
    torn.load = None;
    assert_eq!(word(&approved(&torn)), "unknown load");
}

/// Thicknesses that stand beside each other are settled by measuring.
#[test]
fn a_disputed_thickness_is_not_approved() {
    let mut disputed = first_probe("sheet-and-post", Observation::Free);
    disputed.thickness = None;
    disputed.disputed_thickness = ["1/2 in", "7/8 in"].map(|t| Measure::parse(t).unwrap()).to_vec();
    let Answer::NotDecidable { again, may_approve, .. } = approved(&disputed) else {
        panic!("one of them is too thick");
    };
    assert_eq!((again.as_deref(), may_approve), (Some("thickness"), false));
    disputed.disputed_thickness.pop();
    disputed.disputed_thickness.push(Measure::parse("5/8 in").unwrap());
    assert_eq!(word(&approved(&disputed)), "clear", "either will do");
}

type Now = (&'static str, &'static str);

/// Every wall and load that a trailer can be called now.
fn calls() -> impl Iterator<Item = Now> {
    WALLS.into_iter().flat_map(|wall| LOADS.map(|load| (wall, load)))
}

fn called((wall, load): Now, readings: Vec<WallReading>) -> Situation {
    Situation {
        load: Some(load.to_owned()),
        ..loaded(wall, readings)
    }
}

/// A reading under one wall, then another wall or load: what blocked or did not decide under the first is outweighed by probing
/// again or by looking inside, never by an approval alone.
#[test]
fn an_approval_does_not_outweigh_a_change_of_wall_or_load() {
    for (then, now) in WALLS.into_iter().flat_map(|then| calls().map(move |now| (then, now))) {
        for (n, observed) in depths() {
            let earlier = Situation {
                thickness: None,
                ..first_probe(then, observed)
            };
            let no = decide(&STANDARD, &earlier);
            let since = |readings| Situation {
                earlier: vec![earlier.clone()],
                ..called(now, readings)
            };
            let bare = approved(&since(Vec::new()));
            if no.is_blocked() {
                assert!(!bare.is_clear(), "{then} {n}/64, then {now:?}: {bare:?}");
            } else {
                assert_eq!(
                    bare.is_clear(),
                    now.1 == "empty",
                    "{then} {n}/64, then {now:?}: {bare:?}"
                );
            }
            // Undecided again, and approved: that clears what was undecided before, not what blocked.
            let pilot = reading("pilot-hole", Observation::Seen(true));
            let again = if now.0 == "plate" { "1/2 in" } else { "1 3/4 in" };
            let probed = approved(&since(vec![pilot, reading("first-probe", at(again))]));
            if matches!(no, Answer::Blocked { .. }) {
                assert!(!probed.is_clear(), "{then} {n}/64, then {now:?}: {probed:?}");
            }
        }
    }
}
