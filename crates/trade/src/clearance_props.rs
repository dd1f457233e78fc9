//! What must hold for any readings whatever, not only for those of the tables.

use proptest::prelude::*;

use super::tests::{loaded, reading};
use super::*;
use crate::situation::WallReading;
use gladhand_facts::measure::{Exact, Unit};
use std::sync::LazyLock;

static STANDARD: LazyLock<Standard> = LazyLock::new(Standard::built_in);

fn inch(of_1024: i64) -> Measure {
    Measure::ratio(of_1024, 1024, Unit::Inch).unwrap()
}

fn exact_inch(numerator: i128, denominator: i128) -> Exact {
    Exact::new(254, 10) * Exact::new(numerator, denominator)
}

/// A depth from 0 to 3 in, often near an edge of the tables, sometimes with an uncertainty of its own.
fn any_depth() -> impl Strategy<Value = Observation> {
    let edges = prop::sample::select(vec![256i64, 512, 640, 768, 1536, 2048]);
    let near = (edges, -40i64..40).prop_map(|(edge, off)| edge + off);
    let depth = prop_oneof![0i64..3072, near];
    (depth, prop::option::of(0i64..128)).prop_map(|(depth, own)| Observation::At {
        depth: inch(depth),
        uncertainty: own.map(inch),
        doubted: false,
    })
}

fn any_observation() -> impl Strategy<Value = Observation> {
    prop_oneof![
        6 => any_depth(),
        1 => Just(Observation::Free),
        1 => any::<bool>().prop_map(Observation::Seen),
        1 => Just(Observation::Unreadable("is a smudge".into())),
    ]
}

/// A reading of a probe that can be read, or of anything else.
fn any_reading() -> impl Strategy<Value = WallReading> {
    let probes = prop::sample::select(vec!["first-probe", "second-probe", "pilot-depth"]);
    let readable = prop_oneof![4 => any_depth(), 1 => Just(Observation::Free)];
    let depth = (probes, readable).prop_map(|(check, observed)| reading(check, observed));
    let others = prop::sample::select(vec![
        "pilot-hole",
        "pilot-sealed",
        "second-hole-entered",
        "approval",
        "hole-cut",
    ]);
    prop_oneof![
        3 => depth,
        1 => (others, any::<bool>()).prop_map(|(check, ok)| reading(check, Observation::Seen(ok))),
    ]
}

fn any_wall() -> impl Strategy<Value = &'static str> {
    prop::sample::select(WALLS.to_vec())
}

fn at(depth: i64) -> Observation {
    Observation::At {
        depth: inch(depth),
        uncertainty: None,
        doubted: false,
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    /// Clear means: every probe that decides ran free, or all of its reading lies beyond the limit. Said here in
    /// numbers of its own, 2 in and 1/2 in, not by asking the tables.
    #[test]
    fn clear_is_never_in_a_gap_or_near_an_edge(
        wall in any_wall(),
        readings in prop::collection::vec(any_reading(), 0..6),
    ) {
        let situation = loaded(wall, readings);
        if decide(&STANDARD, &situation).is_clear() {
            let limit = if wall == "plate" { exact_inch(1, 2) } else { exact_inch(2, 1) };
            let beyond = |observed: &Observation| match observed {
                Observation::At { depth, uncertainty, .. } => {
                    depth.base() - uncertainty.map_or(exact_inch(1, 32), |u| u.base()) >= limit
                }
                other => *other == Observation::Free,
            };
            let deepened = wall != "plate" && !situation.observations("first-probe").all(beyond);
            let decides = if deepened { "second-probe" } else { "first-probe" };
            // Only a second probe wholly under 5/8 in may stand before the one that decides.
            let missed = |observed: &Observation| match observed {
                Observation::At { depth, uncertainty, .. } if deepened => {
                    depth.base() + uncertainty.map_or(exact_inch(1, 32), |u| u.base()) < exact_inch(5, 8)
                }
                _ => false,
            };
            prop_assert!(situation.observations(decides).all(|s| beyond(s) || missed(s)));
            prop_assert!(situation.last(decides).is_some_and(beyond));
            if deepened {
                prop_assert_eq!(situation.last("second-hole-entered"), Some(&Observation::Seen(true)));
            }
            let half = exact_inch(1, 2);
            let short = |observed: &Observation| matches!(observed, Observation::At { depth, .. } if depth.base() < half);
            prop_assert!(situation.observations("first-probe").all(|s| beyond(s) || (deepened && short(s))));
        }
    }

    /// More contact never turns a no into a yes: the probe that decides met something earlier.
    #[test]
    fn more_contact_is_never_better(
        wall in any_wall(),
        deep in 0i64..3072,
        less in 0i64..3072,
        second in any::<bool>(),
    ) {
        let with = |observed| if second {
            let before = [("pilot-hole", Observation::Seen(true)), ("first-probe", at(256)), ("pilot-depth", at(640))];
            let mut readings: Vec<WallReading> = before.into_iter().map(|(c, s)| reading(c, s)).collect();
            readings.push(reading("second-probe", observed));
            loaded("sheet-and-post", readings)
        } else {
            loaded(wall, vec![reading("pilot-hole", Observation::Seen(true)), reading("first-probe", observed)])
        };
        let shallow = (deep - less).max(0);
        if !decide(&STANDARD, &with(at(deep))).is_clear() {
            prop_assert!(!decide(&STANDARD, &with(at(shallow))).is_clear(), "{deep} -> {shallow}");
        }
    }

    /// Whatever is read afterwards, a blocked wall stays blocked and an undecided one is never clear.
    #[test]
    fn no_later_reading_takes_a_no_back(
        wall in any_wall(),
        readings in prop::collection::vec(any_reading(), 1..6),
        later in any_reading(),
    ) {
        let before = decide(&STANDARD, &loaded(wall, readings.clone()));
        let spoiled = readings.iter().any(|r| r.check == "pilot-hole" && r.observed == Observation::Seen(false));
        let again = matches!(&before, Answer::NotDecidable { again: Some(_), .. });
        let after = decide(&STANDARD, &loaded(wall, readings.into_iter().chain([later]).collect()));
        match before {
            Answer::Blocked { .. } => {
                let stays = matches!(after, Answer::Blocked { .. });
                prop_assert!(stays, "{after:?}");
            }
            // A pilot that was not as it should be may be drilled again, and a missed hole probed again.
            Answer::NotDecidable { .. } => prop_assert!(spoiled || again || !after.is_clear(), "{after:?}"),
            _ => {}
        }
    }

    /// Two devices that merge the same readings in different orders get the same answer.
    #[test]
    fn the_order_of_readings_does_not_matter(
        wall in any_wall(),
        (readings, shuffled) in prop::collection::vec(any_reading(), 0..6)
            .prop_flat_map(|r| (Just(r.clone()), Just(r).prop_shuffle())),
    ) {
        // Whether a hole is open, drilled or probed anew is a matter of order; the depths are not.
        let is_short = |r: &WallReading| matches!(&r.observed, Observation::At { depth, .. } if depth.base() < exact_inch(5, 8));
        let depths = |list: Vec<WallReading>| -> Vec<WallReading> {
            let kept = list.into_iter().filter(|r| !matches!(r.observed, Observation::Seen(_)));
            kept.filter(|r| r.check != "second-probe" || !is_short(r)).collect()
        };
        let words = |list| std::mem::discriminant(&decide(&STANDARD, &loaded(wall, depths(list))));
        prop_assert_eq!(words(readings), words(shuffled));
    }

    /// What is not known is never clear, whatever the probes say; and nothing panics on any reading.
    #[test]
    fn the_unknown_is_never_clear(wall in any_wall(), observed in any_observation(), gone in 0..4) {
        let mut situation = loaded(wall, vec![reading("first-probe", observed)]);
        match gone {
            0 => situation.wall = None,
            1 => situation.load = None,
            2 => situation.freight_at_opening = None,
            _ => {
                situation.wall = Some("sheet-and-post".into());
                (situation.thickness, situation.disputed_thickness) = (None, vec![inch(512), inch(1024)]);
            }
        }
        prop_assert!(!decide(&STANDARD, &situation).is_clear());
    }
}
