use super::*;

const S: i64 = 1_000_000;
const HOUR_US: i64 = 3_600 * S;

fn log(n: u8) -> LogId {
    LogId {
        device: DeviceKey([n; 32]),
        incarnation: 1,
    }
}

fn limits() -> ClockLimits {
    ClockLimits {
        off_us: 120 * S,
        drift_ppm: 100,
        unmeasured_us: 24 * HOUR_US,
    }
}

/// A trip from `writer` to `reader`; device 1 is the depot.
fn trip((writer, written_us): (u8, i64), (reader, read_us): (u8, i64)) -> Trip {
    Trip {
        place: Place {
            log: log(reader),
            seq: 1,
            index: 0,
        },
        read_us,
        writer: log(writer),
        head: 1,
        written_us,
    }
}

fn of(trips: &[Trip], by_hand: &[HandReading]) -> Visits {
    Visits::new(log(1).device, &limits(), &ClockNames::default(), trips, by_hand)
}

fn at(visits: &Visits, shown_us: i64) -> Interval {
    visits.interval(ClockNames::default().of_log(log(2)), shown_us, None)
}

/// The laptop's clock is an hour slow. In the morning the stick took five minutes, in the evening two.
#[test]
fn two_visits_bound_the_times_between_them_by_what_the_sticks_took() {
    let minutes = |m: i64| m * 60 * S;
    let morning = trip((1, minutes(480)), (2, minutes(485 - 60)));
    let evening = trip((2, minutes(1020 - 60)), (1, minutes(1022)));
    let visits = of(&[morning, evening], &[]);
    let noon = at(&visits, minutes(720 - 60));
    assert!(noon.from_us <= minutes(720) && minutes(720) <= noon.to_us, "{noon:?}");
    // Seven minutes, and the drift of 3 h 55 min and of 5 h at 100 ppm.
    let drift_us = (235 + 300) * 60 * 100 + 2;
    assert_eq!(noon.width_us(), minutes(7) + drift_us);
    // One visit alone says nothing: the clock may have been set forward since, or before.
    assert_eq!(at(&of(&[morning], &[]), minutes(660)), Interval::ALWAYS);
    assert_eq!(at(&of(&[evening], &[]), minutes(660)), Interval::ALWAYS);
    assert_eq!(at(&visits, minutes(424)), Interval::ALWAYS);
    assert_eq!(at(&visits, minutes(961)), Interval::ALWAYS);
    // Nor do visits of two laptops, of which neither is the depot.
    assert_eq!(
        at(&of(&[trip((3, 0), (2, 0)), trip((2, 9), (3, 9))], &[]), 5),
        Interval::ALWAYS
    );
}

#[test]
fn a_clock_that_was_set_forward_is_bounded_by_nothing() {
    let visits = of(&[trip((1, 0), (2, 0)), trip((2, 9 * HOUR_US), (1, 7 * HOUR_US))], &[]);
    assert_eq!(at(&visits, HOUR_US), Interval::ALWAYS);
    // An earlier day that does not agree is left out.
    let days = [
        trip((1, 0), (2, 0)),
        trip((1, 24 * HOUR_US), (2, 26 * HOUR_US)),
        trip((2, 36 * HOUR_US), (1, 34 * HOUR_US)),
    ];
    let noon = at(&of(&days, &[]), 30 * HOUR_US);
    assert!(noon.from_us < 28 * HOUR_US && 28 * HOUR_US < noon.to_us, "{noon:?}");
    assert!(noon.width_us() < 10 * S, "{noon:?}");
}

#[test]
fn a_clock_read_off_by_hand_is_as_good_as_the_server_s() {
    let reading = |uncertainty_us| HandReading {
        place: trip((2, 0), (2, 0)).place,
        shown_us: 10 * S,
        reference_us: HOUR_US,
        uncertainty_us,
    };
    let exactly = |uncertainty_us| at(&of(&[], &[reading(uncertainty_us)]), 10 * S);
    let drift_us = 1;
    assert_eq!(exactly(Some(2 * S)), Interval::around(HOUR_US, 122 * S + drift_us));
    assert_eq!(exactly(None), Interval::around(HOUR_US, 240 * S + drift_us));
}
