use super::*;
use gladhand_facts::{DeviceKey, Place};
use proptest::prelude::*;

use crate::clock_names::ClockNames;

const S: i64 = 1_000_000;

fn device(n: u8) -> DeviceKey {
    DeviceKey([n; 32])
}

fn clock(n: u8) -> LogId {
    LogId {
        device: device(n),
        incarnation: 0,
    }
}

fn measured(graph: &ClockGraph, n: u8, at_us: i64) -> Option<Interval> {
    graph.measured(clock(n), at_us, Interval::ALWAYS)
}

fn reading(from: u8, to: u8, at_s: i64, offset_s: i64, delay_us: i64) -> ClockReading {
    let place = Place {
        log: LogId {
            device: device(from),
            incarnation: 1,
        },
        seq: 1,
        index: 0,
    };
    let (device, peer) = (device(from), device(to));
    ClockReading {
        device,
        peer,
        at_us: at_s * S,
        offset_us: offset_s * S,
        delay_us,
        place,
    }
}

fn limits() -> ClockLimits {
    ClockLimits {
        off_us: 120 * S,
        drift_ppm: 100,
        unmeasured_us: 86_400 * S,
    }
}

fn graph(readings: &[ClockReading]) -> ClockGraph {
    ClockGraph::new(clock(1), limits(), &ClockNames::default(), readings)
}

/// Drift: 100 ppm is 8.64 s a day, by arithmetic.
#[test]
fn a_day_away_from_its_reading_a_time_is_as_uncertain_as_the_drift_allows() {
    let graph = graph(&[reading(2, 1, 0, 3600, 200_000)]);
    let got = measured(&graph, 2, 86_400 * S).unwrap();
    let middle_us = (86_400 + 3600) * S;
    assert_eq!(got.width_us(), 2 * (8_640_000 + 100_001));
    assert_eq!(got.from_us + got.width_us() / 2, middle_us);
}

#[test]
fn a_chain_adds_up_and_the_narrowest_way_counts() {
    let long = [reading(3, 2, 0, -60, 1_000_000), reading(2, 1, 0, 10, 1_000_000)];
    let chained = measured(&graph(&long), 3, 0).unwrap();
    assert!(chained.from_us <= -50 * S && chained.to_us >= -50 * S);
    assert!(chained.width_us() > 2 * S);
    let mut both = long.to_vec();
    both.push(reading(1, 3, -50, 50, 10_000));
    let direct = measured(&graph(&both), 3, 0).unwrap();
    assert!(direct.width_us() < chained.width_us() && direct.from_us <= -50 * S && direct.to_us >= -50 * S);
    assert_eq!(
        measured(&graph(&[reading(3, 2, 0, 1, 1)]), 3, 0),
        None,
        "no way leads to the depot"
    );
}

#[test]
fn between_contradicting_readings_the_hull_counts() {
    let graph = graph(&[reading(2, 1, 0, 0, 1_000), reading(2, 1, 1_000, 500, 1_000)]);
    let got = measured(&graph, 2, 400 * S).unwrap();
    assert!(got.from_us <= 400 * S && got.to_us >= 900 * S, "{got:?}");
    // Set back by 500 s at some moment after the first reading: the clock showed 1,100 twice, unless it was set before that.
    let twice = measured(&graph, 2, 1_100 * S).unwrap();
    assert!(twice.from_us <= 1_100 * S && twice.to_us >= 1_600 * S, "{twice:?}");
    // 1,600 by the depot's clock is the latest at which the old setting can have held: the second reading is from 1,500.
    let after = measured(&graph, 2, 1_501 * S).unwrap();
    assert!(after.from_us > 2_000 * S && after.to_us < 2_002 * S, "{after:?}");
}

#[test]
fn a_clock_set_forward_shows_no_time_twice() {
    let graph = graph(&[reading(2, 1, 0, 0, 1_000), reading(2, 1, 1_500, -500, 1_000)]);
    let before = measured(&graph, 2, -100 * S).unwrap();
    assert!(before.from_us > -101 * S && before.to_us < -99 * S, "{before:?}");
    let between = measured(&graph, 2, 700 * S).unwrap();
    assert!(between.from_us <= 200 * S && between.to_us >= 700 * S, "{between:?}");
    let after = measured(&graph, 2, 1_600 * S).unwrap();
    assert!(after.from_us > 1_099 * S && after.to_us < 1_101 * S, "{after:?}");
    assert!(graph.ran_through(clock(2), -200 * S, -100 * S) && graph.ran_through(clock(2), 1_600 * S, 1_700 * S));
    assert!(
        !graph.ran_through(clock(2), -100 * S, 1_600 * S),
        "it was set between these two"
    );
    assert!(!graph.ran_through(clock(2), 600 * S, 700 * S), "nobody knows when");
}

#[test]
fn whose_clock_was_set_is_told_by_the_depot() {
    // Devices 2 and 3 contradict each other; the depot saw that it was 3.
    let apart = [reading(2, 3, 0, 0, 1_000), reading(2, 3, 1_000, 500, 1_000)];
    let seen = [reading(3, 1, 0, 0, 1_000), reading(3, 1, 1_500, -500, 1_000)];
    assert!(
        !graph(&apart).ran_through(clock(2), 100 * S, 200 * S),
        "it may have been its own"
    );
    let both = graph(&[apart.as_slice(), &seen].concat());
    assert!(both.ran_through(clock(2), 100 * S, 200 * S));
    assert!(!both.ran_through(clock(3), 100 * S, 200 * S));
    assert!(
        both.ran_through(clock(1), 100 * S, 200 * S),
        "the depot's clock is the measure"
    );
    assert!(
        graph(&[]).ran_through(clock(2), 100 * S, 200 * S),
        "nothing speaks against it"
    );
}

#[test]
fn a_worse_way_to_a_clock_does_not_hide_a_better_one() {
    let ways = [
        reading(4, 3, 0, 0, 10),
        reading(4, 2, 0, 0, 1_000),
        reading(3, 2, 0, 0, 9_000_000),
        reading(2, 1, 0, 0, 10),
    ];
    let got = measured(&graph(&ways), 4, 0).unwrap();
    assert_eq!(got, Interval::around(0, 501 + 6));
    // Nor does the worse one that is found first.
    let ways = [
        reading(4, 2, 0, 0, 9_000_000),
        reading(4, 3, 0, 0, 10),
        reading(3, 2, 0, 0, 10),
        reading(2, 1, 0, 0, 10),
    ];
    assert_eq!(measured(&graph(&ways), 4, 0), Some(Interval::around(0, 3 * 6)));
}

#[test]
fn what_two_intervals_have_in_common() {
    let i = |from_us, to_us| Interval { from_us, to_us };
    assert_eq!(i(0, 10).and(i(5, 20)), i(5, 10));
    assert_eq!(i(5, 20).and(i(0, 10)), i(5, 10));
    assert_eq!(i(0, 10).and(i(10, 20)), i(10, 10));
    assert_eq!(i(0, 10).and(i(11, 20)), i(0, 20), "they contradict each other");
    assert_eq!(i(0, 10).and(Interval::ALWAYS), i(0, 10));
    assert!(i(0, 10).touches(&i(10, 20)) && i(10, 20).touches(&i(0, 10)));
    assert!(!i(0, 10).touches(&i(11, 20)) && !i(11, 20).touches(&i(0, 10)));
}

#[test]
fn a_chain_ends_after_four_clocks() {
    let chain = |n: u8| (2..=n).map(|i| reading(i, i - 1, 0, 1, 1_000)).collect::<Vec<_>>();
    // Half of each delay, and the drift of 1, 2 and 3 s at 100 ppm: each clock is a second ahead of the one before.
    let width_us = 2 * (4 * 501 + 100 + 200 + 300);
    assert_eq!(measured(&graph(&chain(5)), 5, 0).map(|i| i.width_us()), Some(width_us));
    assert_eq!(measured(&graph(&chain(6)), 6, 0), None);
}

#[test]
fn a_reading_speaks_for_the_moment_at_which_it_was_taken() {
    // Set back by an hour between the readings: each of them still says exactly how the clock stood then.
    let readings = [reading(2, 1, 0, 0, 1_000), reading(1, 2, 5_000, -3_600, 1_000)];
    let graph = graph(&readings);
    let taken = |r: &ClockReading| graph.taken(&ClockNames::default(), clock(2), r).unwrap();
    assert_eq!(taken(&readings[0]), Interval::around(0, 501));
    assert_eq!(taken(&readings[1]), Interval::around(5_000 * S, 501));
    assert!(measured(&graph, 2, 1_400 * S).unwrap().width_us() >= 3_600 * S);
}

proptest! {
    /// A clock that is set once, by any amount in either direction, somewhere between two readings; the truth is still inside, and two
    /// times that compare as they stand were read from one setting of it.
    #[test]
    fn the_truth_is_inside_of_a_clock_that_was_set(
        offset_s in -1_000_000i64..1_000_000, by_s in prop_oneof![-100_000i64..-10, 10i64..100_000], set_s in 1_000i64..9_000,
        reads in prop::collection::btree_set(0i64..10_000, 2..6), events in (0i64..10_000, 0i64..10_000),
    ) {
        let own = |true_s: i64| true_s + offset_s + if true_s >= set_s { by_s } else { 0 };
        prop_assume!(reads.iter().any(|r| *r < set_s) && reads.iter().any(|r| *r >= set_s));
        let readings: Vec<_> = reads.iter().map(|t| reading(2, 1, own(*t), t - own(*t), 1_000)).collect();
        let graph = graph(&readings);
        for event_s in [events.0, events.1] {
            let got = measured(&graph, 2, own(event_s) * S).unwrap();
            prop_assert!(got.from_us <= event_s * S && event_s * S <= got.to_us, "{got:?} misses {event_s}");
        }
        if graph.ran_through(clock(2), own(events.0) * S, own(events.1) * S) {
            prop_assert_eq!(events.0 < set_s, events.1 < set_s);
        }
    }

    /// The true time by the depot's clock is always inside: clocks of any offset that drift within the allowance, readings with
    /// any split of their delay, chains through a peer.
    #[test]
    fn the_truth_is_inside(
        offset_s in -4_000_000_000i64..4_000_000_000, peer_offset_s in -1_000_000i64..1_000_000,
        drift_ppm in -45i64..45, delay_us in 0i64..5_000_000, split in 0.0f64..1.0, read_s in 0i64..200_000, event_s in 0i64..200_000,
    ) {
        // Device 3 drifts and is read against device 2, which is steady; device 2 is read against the depot.
        let own = |true_us: i64| true_us + offset_s * S + true_us / 1_000_000 * drift_ppm;
        let skew_us = ((split - 0.5) * delay_us as f64) as i64;
        let t = read_s * S;
        let mut a = reading(3, 2, 0, 0, delay_us);
        (a.at_us, a.offset_us) = (own(t), t + peer_offset_s * S - own(t) + skew_us);
        let b = reading(2, 1, read_s + peer_offset_s, -peer_offset_s, 0);
        let got = measured(&graph(&[a, b]), 3, own(event_s * S)).unwrap();
        prop_assert!(got.from_us <= event_s * S && event_s * S <= got.to_us, "{got:?} misses {}", event_s * S);
    }
}
