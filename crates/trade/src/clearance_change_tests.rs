//! Wall or load changed after readings: what was read belongs to the wall and load under which it was read.

use super::tests::{at, loaded, reading, word};
use super::*;
use crate::situation::WallReading;

fn m(text: &str) -> Measure {
    Measure::parse(text).unwrap()
}

fn probed(wall: &str, depth: Observation) -> Situation {
    let readings = vec![
        reading("pilot-hole", Observation::Seen(true)),
        reading("first-probe", depth),
    ];
    loaded(wall, readings)
}

/// The trailer as it is called now, with what was read before that.
fn since(mut now: Situation, earlier: Situation) -> Answer {
    now.earlier = vec![Situation {
        thickness: None,
        ..earlier
    }];
    decide(&Standard::built_in(), &now)
}

fn empty(wall: &str) -> Situation {
    Situation {
        load: Some("empty".into()),
        freight_at_opening: None,
        ..loaded(wall, Vec::new())
    }
}

#[test]
fn a_change_after_a_no_decides_nothing_until_everything_is_probed_again() {
    for depth in ["1/4 in", "1/2 in"] {
        let before = || probed("plate", at(depth));
        let changed = |readings| since(loaded("sheet-and-post", readings), before());
        let pilot = || reading("pilot-hole", Observation::Seen(true));
        let probe = |depth| reading("first-probe", depth);
        let Answer::NotDecidable { why, again, .. } = changed(vec![]) else {
            panic!("{depth}: nothing was probed yet");
        };
        assert!(
            why.contains("plate, loaded") && why.contains("sheet-and-post, loaded"),
            "{why}"
        );
        assert_eq!(again.as_deref(), Some("pilot-hole"));
        assert_eq!(word(&changed(vec![pilot()])), "not decidable");
        assert_eq!(word(&changed(vec![pilot(), probe(at("1/4 in"))])), "not decidable");
        assert_eq!(word(&changed(vec![pilot(), probe(at("1 in"))])), "blocked");
        assert_eq!(word(&changed(vec![pilot(), probe(Observation::Free)])), "clear");
    }
    let good = since(loaded("sheet-and-post", Vec::new()), probed("plate", Observation::Free));
    assert_eq!(
        word(&good),
        "next pilot-hole",
        "what was clear for another wall is forgotten"
    );
}

/// Set to another wall and back, or torn between two: what blocked goes on blocking, whatever is read after it.
#[test]
fn what_blocked_this_wall_goes_on_blocking_it() {
    let free = || probed("plate", Observation::Free);
    assert_eq!(word(&since(free(), probed("plate", at("1/4 in")))), "blocked");
    assert_eq!(word(&since(free(), probed("plate", at("1/2 in")))), "not decidable");
    let mut torn = free();
    torn.wall = None;
    assert_eq!(word(&since(torn, probed("plate", at("1/4 in")))), "blocked");
}

#[test]
fn a_trailer_called_empty_after_a_no_has_to_be_looked_into() {
    let mut freight = probed("plate", Observation::Free);
    freight.freight_at_opening = Some(true);
    for wall in WALLS {
        for before in [
            probed("plate", at("1/4 in")),
            probed("sheet-and-post", at("1 3/4 in")),
            freight.clone(),
        ] {
            let Answer::NotDecidable { again, .. } = since(empty(wall), before) else {
                panic!("{wall}");
            };
            assert_eq!(again.as_deref(), Some("seen-empty"));
        }
        assert_eq!(word(&since(empty(wall), probed("plate", Observation::Free))), "clear");
        // Read on a trailer that was called empty already: somebody is wrong.
        let own = |readings| {
            decide(
                &Standard::built_in(),
                &Situation {
                    readings,
                    ..empty(wall)
                },
            )
        };
        assert_eq!(
            word(&own(vec![reading("first-probe", at("1 in"))])),
            if wall == "plate" { "clear" } else { "not decidable" }
        );
        assert_eq!(
            word(&own(vec![reading("seen-empty", Observation::Seen(false))])),
            "not decidable"
        );
        assert_eq!(
            word(&own(vec![reading("seen-empty", Observation::Seen(true))])),
            "clear"
        );
        let seen = Situation {
            freight_at_opening: Some(true),
            ..empty(wall)
        };
        assert_eq!(word(&decide(&Standard::built_in(), &seen)), "not decidable");
    }
}

fn sixty_fourths(depth: i64) -> Observation {
    at(&format!("{depth}/64 in"))
}

/// What the trade says of a first probe and of a second one, in 64ths of an inch; said here anew, not asked of the tables.
fn may_be_clear(wall: &str, first: i64, second: Option<i64>) -> bool {
    match (wall, second) {
        ("plate", _) => first - 2 >= 32,
        (_, None) => first - 2 >= 128,
        (_, Some(second)) => first + 2 < 32 && second - 2 >= 128,
    }
}

fn readings(first: i64, second: Option<i64>) -> Vec<WallReading> {
    let mut list = vec![
        reading("pilot-hole", Observation::Seen(true)),
        reading("first-probe", sixty_fourths(first)),
    ];
    if let Some(second) = second {
        list.push(reading("pilot-depth", at("5/8 in")));
        list.push(reading("second-probe", sixty_fourths(second)));
        list.push(reading("second-hole-entered", Observation::Seen(true)));
    }
    list
}

/// Every depth from 0 to 2 1/4 in, on both walls, first and second probe, followed by every change of wall and load.
#[test]
fn no_depth_that_does_not_clear_is_ever_clear_whatever_is_changed_afterwards() {
    let standard = Standard::built_in();
    let depths = (0..=144).flat_map(|d| [(d, None), (16, Some(d)), (d, Some(140))]);
    for ((first, second), wall) in depths.flat_map(|d| WALLS.map(|wall| (d, wall))) {
        let second = second.filter(|_| wall != "plate");
        let read = || loaded(wall, readings(first, second));
        let answer = decide(&standard, &read());
        let shown = format!("{wall} {first}/64 {second:?}: {answer:?}");
        // A free first probe needs no second one; a second one beside it changes nothing.
        let wanted = may_be_clear(wall, first, second) || (second == Some(140) && first - 2 >= 128);
        assert_eq!(answer.is_clear(), wanted, "{shown}");
        for other in WALLS {
            assert!(
                !since(loaded(other, Vec::new()), read()).is_clear(),
                "{other} after {shown}"
            );
            let back = since(
                loaded(
                    other,
                    vec![
                        reading("pilot-hole", Observation::Seen(true)),
                        reading("first-probe", Observation::Free),
                    ],
                ),
                read(),
            );
            assert!(
                !(other == wall && answer.is_blocked() && back.is_clear()),
                "free after {shown}"
            );
            let called_empty = since(empty(other), read());
            assert_eq!(
                called_empty.is_clear(),
                !answer.is_blocked(),
                "empty {other} after {shown}"
            );
            let mut unknown = empty(other);
            unknown.thickness = None;
            assert!(!since(unknown, read()).is_clear());
        }
        for freight in [None, Some(true)] {
            let mut seen = read();
            seen.freight_at_opening = freight;
            assert!(!decide(&standard, &seen).is_clear(), "freight {freight:?}: {shown}");
        }
    }
}

/// Every thickness: over 3/4 in, and within 1/32 in of it, a loaded sheet-and-post wall is never clear.
#[test]
fn no_thickness_from_23_32_up_is_clear() {
    for thick in 1..=96 {
        let mut situation = probed("sheet-and-post", Observation::Free);
        situation.thickness = Some(m(&format!("{thick}/64 in")));
        let answer = decide(&Standard::built_in(), &situation);
        assert_eq!(answer.is_clear(), thick + 2 < 48, "{thick}/64: {answer:?}");
    }
}
