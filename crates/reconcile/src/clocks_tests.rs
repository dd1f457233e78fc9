use gladhand_trade::Standard;

use super::*;
use crate::placed::Placed;
use gladhand_facts::Place;

const HOUR_US: i64 = 3_600_000_000;

/// Two times that look three minutes apart; one was read from a clock that is an hour slow.
#[test]
fn a_wrong_clock_makes_a_difference_uncertain_however_well_it_was_measured() {
    let (depot, lap) = (DeviceKey([1; 32]), DeviceKey([2; 32]));
    let standard = Standard::built_in();
    let reading = ClockReading {
        device: lap,
        peer: depot,
        offset_us: HOUR_US,
        delay_us: 200_000,
        at_us: 0,
        place: Place {
            log: LogId {
                device: lap,
                incarnation: 1,
            },
            seq: 1,
            index: 0,
        },
    };
    let clocks = Clocks::measured(depot, standard.clock(), [reading]);
    let at = |device, at_us| Timed {
        clock: ClockName::Device(LogId { device, incarnation: 1 }),
        at_us,
    };
    let uncertainty_us = clocks.difference_uncertainty_us(at(lap, 0), at(depot, 180_000_000), &standard);
    assert!(uncertainty_us >= HOUR_US, "{uncertainty_us}");
    assert_eq!(
        clocks.difference_uncertainty_us(at(lap, 0), at(lap, 180_000_000), &standard),
        0
    );
}

fn recorded(device: u8, seq: u64, line: &str, seen: &[(u8, u64)]) -> RecordedFact {
    let log = |n: u8| LogId {
        device: DeviceKey([n; 32]),
        incarnation: 1,
    };
    RecordedFact {
        fact: gladhand_facts::Fact::from_line(&DeviceKey([device; 32]), line).unwrap(),
        place: Place {
            log: log(device),
            seq,
            index: 0,
        },
        stamp: gladhand_facts::Stamp::default(),
        seen: Arc::new(seen.iter().map(|(n, seq)| (log(*n), *seq)).collect()),
    }
}

fn note(device: u8, seq: u64, at: Option<&str>, filled: Option<&str>, seen: &[(u8, u64)]) -> RecordedFact {
    let at = at.map(|at| format!(r#","at":"{at}""#)).unwrap_or_default();
    let mut made = recorded(
        device,
        seq,
        &format!(r#"{{"kind":"note","text":"{device} {seq}"{at}}}"#),
        seen,
    );
    if let Some(filled) = filled {
        made.fact.fill("at", filled);
    }
    made
}

/// The clock goes back in mid-shift: what was recorded later shows an earlier time.
#[test]
fn a_filled_in_time_never_comes_before_what_was_seen() {
    let clocks = Clocks::unmeasured();
    let early = note(1, 1, None, Some("2026-03-02T10:00:00Z"), &[]);
    let late = note(1, 2, None, Some("2026-03-02T08:30:00Z"), &[]);
    assert_eq!(clocks.order(&early, &late), Order::CertainlyBefore);
    assert_eq!(clocks.order(&late, &early), Order::CertainlyAfter);
    assert!(clocks.before(&early, &late) && !clocks.before(&late, &early));
    assert!(clocks.follows(&late, &early) && !clocks.follows(&early, &late));
    // Read early, by the same clock, and recorded late: what was in view came first, and the earlier time is a claim.
    let told = note(1, 2, Some("2026-03-02T08:30:00Z"), None, &[]);
    assert_eq!(clocks.order(&told, &early), Order::CertainlyAfter);
    assert!(!clocks.before(&told, &early) && clocks.follows(&told, &early));
    assert_eq!(clocks.placed(&told, &early), Placed::Afterwards);
    let later = note(1, 2, Some("2026-03-02T10:00:01Z"), None, &[]);
    assert_eq!(clocks.placed(&later, &early), Placed::After);
    // A person gave the earlier one's time, and it lies in the future.
    let future = note(1, 1, Some("2026-03-02T23:00:00Z"), None, &[]);
    assert_eq!(clocks.order(&future, &late), Order::CertainlyBefore);
}

#[test]
fn equal_times_and_one_place_decide_nothing() {
    let clocks = Clocks::unmeasured();
    let a = note(1, 1, Some("2026-03-02T10:00:00Z"), None, &[]);
    assert!(!clocks.before(&a, &a));
    let b = note(1, 2, Some("2026-03-02T10:00:00Z"), None, &[]);
    assert_eq!(clocks.order(&a, &a), Order::Undecided);
    assert_eq!(clocks.order(&a, &b), Order::CertainlyBefore, "by what was seen");
    assert!(clocks.before(&a, &b) && !clocks.before(&b, &a));
    let elsewhere = note(2, 1, Some("2026-03-02T19:00:00Z"), None, &[]);
    assert_eq!(
        clocks.order(&a, &elsewhere),
        Order::Undecided,
        "two clocks that nobody measured"
    );
}

/// Intervals that touch in one point leave it open; one microsecond further apart they decide.
#[test]
fn certain_means_that_the_intervals_do_not_touch() {
    let (depot, lap) = (DeviceKey([1; 32]), DeviceKey([2; 32]));
    let limits = Standard::built_in().clock();
    let clocks = Clocks::measured(depot, limits, []);
    let at = |device, at_us| Timed {
        clock: ClockName::Device(LogId { device, incarnation: 1 }),
        at_us,
    };
    let (edge, depots) = (limits.unmeasured_us, at(depot, 0));
    assert_eq!(clocks.order_times(at(lap, edge), depots), Order::Undecided);
    assert_eq!(clocks.order_times(at(lap, edge + 1), depots), Order::CertainlyAfter);
    assert_eq!(clocks.order_times(depots, at(lap, edge)), Order::Undecided);
    assert_eq!(clocks.order_times(depots, at(lap, edge + 1)), Order::CertainlyBefore);
    let server = |at_us| Timed {
        clock: ClockName::Reference,
        at_us,
    };
    assert_eq!(clocks.order_times(server(limits.off_us), depots), Order::Undecided);
    assert_eq!(
        clocks.order_times(server(limits.off_us + 1), depots),
        Order::CertainlyAfter
    );
    assert_eq!(
        clocks.order_times(server(0), server(1)),
        Order::CertainlyBefore,
        "one clock"
    );
}

/// What was recorded with a reading of the depot in view is later than that reading.
#[test]
fn a_recorded_time_lies_after_the_readings_in_view() {
    const MORNING_US: i64 = 1_772_438_400_000_000;
    let (depot, lap) = (DeviceKey([1; 32]), DeviceKey([2; 32]));
    let limits = Standard::built_in().clock();
    let log = |device| LogId { device, incarnation: 1 };
    let reading = |device, peer, seq, at_us, offset_us| ClockReading {
        device,
        peer,
        at_us,
        offset_us,
        delay_us: 0,
        place: Place {
            log: log(device),
            seq,
            index: 0,
        },
    };
    let noted = |device: u8, seq, filled: &str, seen: &[(u8, u64)]| note(device, seq, None, Some(filled), seen);

    // Device 3 was never measured; its clock is ten hours slow. It had seen what the depot wrote at 08:00.
    let by_depot = Clocks::measured(depot, limits, [reading(depot, lap, 5, MORNING_US, 0)]);
    let width_us = limits.unmeasured_us;
    let early_us = MORNING_US - 10 * HOUR_US;
    let whole = Interval {
        from_us: early_us - width_us,
        to_us: early_us + width_us,
    };
    let after = |seen: &[(u8, u64)]| {
        by_depot
            .interval_of(&noted(3, 1, "2026-03-01T22:00:00Z", seen))
            .unwrap()
    };
    assert_eq!(after(&[]), whole);
    assert_eq!(after(&[(1, 4)]), whole, "the reading came later");
    let late = Interval {
        from_us: MORNING_US,
        ..whole
    };
    assert_eq!(after(&[(1, 5)]), late);
    assert_eq!(after(&[(1, 9)]), late);
    let typed = note(3, 1, Some("2026-03-01T22:00:00Z"), None, &[(1, 9)]);
    assert_eq!(
        by_depot.interval_of(&typed),
        Some(whole),
        "a typed time may lie before all that was in view"
    );
    // A clock that is wrong by more than is believed of it contradicts the reading: all of it is possible.
    let absurd = by_depot
        .interval_of(&noted(3, 1, "2026-01-01T00:00:00Z", &[(1, 9)]))
        .unwrap();
    assert!(
        absurd.from_us < MORNING_US - 50 * 24 * HOUR_US && absurd.to_us == i64::MAX,
        "{absurd:?}"
    );

    // Device 2 was set back by three hours between its readings. What it recorded after the second shows a time at which
    // the first setting may have held as well, but was recorded later.
    let readings = [
        reading(lap, depot, 3, MORNING_US, 0),
        reading(lap, depot, 7, MORNING_US - 2 * HOUR_US, 3 * HOUR_US),
    ];
    let set_back = Clocks::measured(depot, limits, readings);
    let at = |seq| {
        set_back
            .interval_of(&noted(2, seq, "2026-03-02T06:10:00Z", &[]))
            .unwrap()
    };
    let true_us = MORNING_US + HOUR_US + 600_000_000;
    let after = at(8);
    assert!(
        after.from_us <= true_us && true_us <= after.to_us && after.width_us() < 1_000_000,
        "{after:?}"
    );
    // Before the reading at 09:00 the new setting can have held only until then, give or take the time in which it is written.
    let between = at(4);
    let latest_us = MORNING_US + HOUR_US + crate::clock_reading::WRITTEN_WITHIN_US + 1;
    assert!(
        between.from_us >= MORNING_US - 1 && between.to_us <= latest_us,
        "{between:?}"
    );
    // Before the reading at 08:00 only the first setting fits.
    let before = at(2);
    let first_us = MORNING_US - 2 * HOUR_US + 600_000_000;
    assert!(
        before.from_us <= first_us && first_us <= before.to_us && before.width_us() < 2_000_000,
        "{before:?}"
    );
    let other = set_back
        .interval_of(&noted(3, 9, "2026-03-02T06:10:00Z", &[(2, 9)]))
        .unwrap();
    assert_eq!(other.width_us(), 2 * width_us, "only the depot's log and its own speak");
}
