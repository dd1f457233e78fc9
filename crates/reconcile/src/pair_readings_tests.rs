use gladhand_facts::{DeviceKey, LogId, Place};

use super::*;

const S: i64 = 1_000_000;

fn reading(at_s: i64, offset_s: i64, half_us: i64) -> Reading {
    let (device, peer) = (DeviceKey([2; 32]), DeviceKey([1; 32]));
    let log = LogId { device, incarnation: 1 };
    Reading::of(&ClockReading {
        device,
        peer,
        at_us: at_s * S,
        offset_us: offset_s * S,
        delay_us: 2 * (half_us - 1),
        place: Place { log, seq: 1, index: 0 },
    })
}

fn track(readings: &[Reading], ordered: bool) -> PairReadings {
    PairReadings::new(readings.to_vec(), ordered, 100)
}

fn cross(track: &PairReadings, from_s: i64, to_s: i64) -> Interval {
    let time = Interval {
        from_us: from_s * S,
        to_us: to_s * S,
    };
    track.cross(time, Interval::ALWAYS).unwrap()
}

/// 100 ppm is 100 µs a second, by arithmetic.
#[test]
fn the_nearer_reading_says_it_more_narrowly() {
    let between = track(&[reading(0, 0, 1), reading(1_000, 0, 1)], true);
    assert_eq!(cross(&between, 100, 100), Interval::around(100 * S, 10_001));
    assert_eq!(cross(&between, 900, 900), Interval::around(900 * S, 10_001));
    // Of a time that is an interval itself the farther end counts, and the middle says between which readings it lies.
    let wide = Interval {
        from_us: 20 * S - 6_001,
        to_us: 60 * S + 6_001,
    };
    assert_eq!(
        cross(&track(&[reading(0, 0, 1), reading(100, 0, 1)], true), 20, 60),
        wide
    );
}

#[test]
fn readings_agree_as_far_as_drift_and_delay_explain() {
    // A second's reading each, 10,000 s apart: 1 s of drift and twice 0.5 s of delay.
    let half_us = 500_000;
    let agree = |apart_us: i64| {
        let mut second = reading(10_000, 0, half_us);
        second.offset_us = apart_us;
        !track(&[reading(0, 0, half_us), second], true).was_set()
    };
    assert!(agree(2 * S) && agree(-2 * S));
    assert!(!agree(2 * S + 1) && !agree(-2 * S - 1));
}

#[test]
fn a_reading_turned_round_says_the_same_from_the_other_side() {
    let one = reading(100, 7, 5);
    let other = one.turned();
    assert_eq!((other.at_us, other.offset_us, other.half_us), (107 * S, -7 * S, 5));
    assert_eq!(other.turned(), one);
}

/// The clock was set forward by 500 s between the depot's 0 and 1,000: the depot's clock bounds when each setting can have held.
#[test]
fn the_depot_bounds_a_run_by_its_neighbours() {
    let readings = [reading(0, 0, 1), reading(1_500, -500, 1)];
    let ordered = track(&readings, true);
    assert!(ordered.was_set());
    // 1,000 by the first setting is the depot's 1,000, when the second one was read: the last moment for the first.
    assert_eq!(cross(&ordered, 1_000, 1_000).to_us, 1_000 * S + 100_001);
    assert_eq!(
        cross(&ordered, 1_001, 1_001),
        Interval::around(501 * S, 49_901),
        "too late for it"
    );
    // 400 by the second setting is the depot's -100, before the first one was read.
    assert_eq!(cross(&ordered, 400, 400), Interval::around(400 * S, 40_001));
    assert_eq!(
        cross(&ordered, 500, 500).from_us,
        -100_001,
        "the first moment for the second"
    );
    let after = cross(&ordered, 1_200, 1_200);
    assert_eq!(after, Interval::around(700 * S, 30_001));
    assert!(ordered.same_run(1_200 * S, 1_600 * S) && !ordered.same_run(700 * S, 1_600 * S));
    // Against a clock that may itself have been set, both may always have held.
    let free = track(&readings, false);
    let hull = cross(&free, 1_200, 1_200);
    assert!(hull.from_us < 701 * S && hull.to_us > 1_199 * S, "{hull:?}");
    assert!(!free.same_run(1_200 * S, 1_600 * S));
}

#[test]
fn what_is_known_otherwise_leaves_out_a_run() {
    let ordered = track(&[reading(0, 0, 1), reading(1_500, -500, 1)], true);
    let time = Interval::around(700 * S, 0);
    let late = Interval {
        from_us: 600 * S,
        to_us: i64::MAX,
    };
    assert_eq!(ordered.cross(time, late), Some(Interval::around(700 * S, 70_001)));
    let early = Interval {
        from_us: i64::MIN,
        to_us: 600 * S,
    };
    assert_eq!(ordered.cross(time, early), Some(Interval::around(200 * S, 80_001)));
    let never = Interval {
        from_us: 5_000 * S,
        to_us: 6_000 * S,
    };
    let hull = ordered.cross(time, never).unwrap();
    assert!(
        hull.from_us < 200 * S && hull.to_us > 700 * S,
        "what contradicts everything counts for nothing: {hull:?}"
    );
}

#[test]
fn three_settings_stand_in_the_order_of_the_depot() {
    // Ahead by an hour, then right, then ahead by an hour again: by its own times the first and the last would mix.
    let readings = [reading(3_600, -3_600, 1), reading(500, 0, 1), reading(4_600, -3_600, 1)];
    let ordered = track(&readings, true);
    assert_eq!(ordered.runs.len(), 3);
    let bounds: Vec<_> = ordered.runs.iter().map(|run| (run.after_us, run.before_us)).collect();
    assert_eq!(
        bounds,
        [(None, Some(500 * S)), (Some(0), Some(1_000 * S)), (Some(500 * S), None)]
    );
    assert!(
        track(&[], true)
            .cross(Interval::around(0, 0), Interval::ALWAYS)
            .is_none()
    );
}
