//! Loaded sheet-and-post: the hole in the liner, and the thickness that a free probe finds.

use super::tests::{answer, at, first_probe, m, reading, second_probe, word};
use super::*;
use crate::situation::WallReading;

/// A probe that ran free has shown that the wall is under 3/4 in: nobody needs to measure it.
#[test]
fn no_thickness_is_asked_for_where_a_probe_ran_free() {
    for mut situation in [
        first_probe("sheet-and-post", Observation::Free),
        second_probe(Observation::Free),
    ] {
        situation.thickness = None;
        let Answer::Clear { limits, .. } = answer(&situation) else {
            panic!("free is clear");
        };
        assert!(!limits.iter().any(|l| l.contains("measure the wall")), "{limits:?}");
        situation.thickness = Some(m("3/4 in"));
        assert_eq!(
            word(&answer(&situation)),
            "not decidable",
            "what was measured still counts"
        );
    }
}

/// TRADE §2: a second probe wholly under 5/8 in missed the hole in the liner; the next one replaces it, and only it.
#[test]
fn a_missed_liner_hole_is_probed_again() {
    let after = |first: &str, more: Vec<WallReading>| {
        let mut situation = second_probe(at(first));
        situation.readings.retain(|r| r.check != "second-hole-entered");
        situation.readings.extend(more);
        answer(&situation)
    };
    let free = || reading("second-probe", Observation::Free);
    let entered = |yes| reading("second-hole-entered", Observation::Seen(yes));
    let Answer::NotDecidable { why, again, .. } = after("1/2 in", vec![]) else {
        panic!("it was missed");
    };
    assert!(why.contains("the hole in the liner was missed"), "{why}");
    assert_eq!(again.as_deref(), Some("second-probe"));
    // That the hole was entered has to be said of the new probe.
    let rows = [
        ("1/2 in", vec![free()], "next second-hole-entered"),
        ("1/2 in", vec![free(), entered(true)], "clear"),
        ("37/64 in", vec![free(), entered(true)], "clear"),
        ("1/2 in", vec![entered(true), free()], "clear"),
        (
            "1/2 in",
            vec![free(), reading("second-probe", at("3/8 in"))],
            "not decidable",
        ),
        (
            "1/2 in",
            vec![reading("second-probe", at("1 in")), free(), entered(true)],
            "blocked",
        ),
        ("38/64 in", vec![free(), entered(true)], "blocked"),
        ("44/64 in", vec![free(), entered(true)], "not decidable"),
        ("1 3/4 in", vec![free(), entered(true)], "not decidable"),
        ("2 1/2 in", vec![entered(false)], "not decidable"),
        ("2 1/2 in", vec![entered(false), entered(true)], "not decidable"),
        ("2 1/2 in", vec![entered(false), free()], "next second-hole-entered"),
        ("2 1/2 in", vec![entered(false), free(), entered(true)], "clear"),
        ("1 3/4 in", vec![entered(false), free(), entered(true)], "not decidable"),
    ];
    for (first, more, wanted) in rows {
        let shown = format!("{first}, then {more:?}");
        assert_eq!(word(&after(first, more)), wanted, "{shown}");
    }
}

/// Two devices probed without knowing of each other: neither reading is the later one.
#[test]
fn a_missed_hole_beside_another_reading_is_not_replaced_by_it() {
    let mut situation = second_probe(at("1/2 in"));
    situation.readings[3].stands = true;
    situation.readings.push(reading("second-probe", Observation::Free));
    situation
        .readings
        .push(reading("second-hole-entered", Observation::Seen(true)));
    assert_eq!(word(&answer(&situation)), "not decidable");
}
