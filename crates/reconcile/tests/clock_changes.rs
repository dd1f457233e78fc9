//! What [`Clocks::changes_since`] does not name is as it was: every interval of every time, and whether a clock ran through.
//!
//! Readings come in any order, as they do when logs are merged, and clocks are set now and then.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use std::sync::Arc;

use gladhand_facts::{DeviceKey, Fact, LogId, Place, Stamp, VersionVector};
use gladhand_reconcile::timed::{ClockName, Timed};
use gladhand_reconcile::{ClockChanges, ClockReading, Clocks, RecordedFact};
use gladhand_trade::Standard;
use proptest::prelude::*;

const DEPOT: u8 = 0;
const DEVICES: u8 = 5;
const HOUR_US: i64 = 3_600_000_000;
/// The days that are looked at.
const HOURS: i64 = 24 * 20;

fn log(device: u8) -> LogId {
    LogId {
        device: DeviceKey([device; 32]),
        incarnation: 1,
    }
}

/// One device reads another's clock, at an hour of its own; its offset is usually small, and jumps now and then.
fn any_reading() -> impl Strategy<Value = ClockReading> {
    let offset = prop_oneof![8 => -60i64..60, 2 => -7_200i64..7_200, 1 => -400_000i64..400_000];
    (1..DEVICES, 0..DEVICES, 0..HOURS, offset, 1i64..200, 1u64..400).prop_map(
        |(device, peer, hour, offset_s, delay_ms, seq)| ClockReading {
            device: DeviceKey([device; 32]),
            peer: DeviceKey([peer; 32]),
            at_us: hour * HOUR_US,
            offset_us: offset_s * 1_000_000,
            delay_us: delay_ms * 1_000,
            place: Place {
                log: log(device),
                seq,
                index: 0,
            },
        },
    )
}

fn clocks(readings: &[ClockReading]) -> Clocks {
    let readings = readings.iter().filter(|r| r.device != r.peer).copied();
    Clocks::measured(DeviceKey([DEPOT; 32]), Standard::built_in().clock(), readings)
}

/// A fact that was timed by its recording.
fn recorded(device: u8, seq: u64, at_us: i64) -> RecordedFact {
    RecordedFact {
        fact: Fact::from_line(&DeviceKey([device; 32]), r#"{"kind":"note","text":"x"}"#).unwrap(),
        place: Place {
            log: log(device),
            seq,
            index: 0,
        },
        stamp: Stamp {
            wall_us: at_us,
            counter: 0,
        },
        seen: Arc::new(VersionVector::new()),
    }
}

fn is_named(changes: &ClockChanges, device: u8, at_us: i64) -> bool {
    let times = changes.times.get(&DeviceKey([device; 32]));
    times.is_some_and(|(from_us, to_us)| (*from_us..=*to_us).contains(&at_us))
}

fn is_named_entry(changes: &ClockChanges, device: u8, seq: u64) -> bool {
    let stretches = changes.entries.get(&log(device)).into_iter().flatten();
    stretches
        .into_iter()
        .any(|(first, last)| (*first..=*last).contains(&seq))
}

fn timed(device: u8, at_us: i64) -> Timed {
    Timed {
        clock: ClockName::Device(log(device)),
        at_us,
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, ..ProptestConfig::default() })]

    #[test]
    fn what_is_not_named_is_as_it_was(
        readings in prop::collection::vec(any_reading(), 1..14),
        known in any::<prop::sample::Index>(),
        steps in prop::collection::vec((1..DEVICES, 0..HOURS, 1u64..400), 40),
    ) {
        let before = clocks(&readings[..known.index(readings.len())]);
        let now = clocks(&readings);
        let changes = now.changes_since(&before);
        prop_assert!(!changes.everything);
        let mut whole = Vec::new();
        for (device, hour, seq) in steps {
            let at_us = hour * HOUR_US + 1_234;
            let is_time_named = is_named(&changes, device, at_us);
            if !is_time_named {
                prop_assert_eq!(now.interval(timed(device, at_us)), before.interval(timed(device, at_us)), "{} {}", device, hour);
                whole.push((device, at_us));
            }
            if !is_time_named && !is_named_entry(&changes, device, seq) {
                let fact = recorded(device, seq, at_us);
                prop_assert_eq!(now.interval_of(&fact), before.interval_of(&fact), "{} {} {}", device, seq, hour);
            }
        }
        for ((a, a_us), (b, b_us)) in whole.iter().zip(whole.iter().skip(1)).filter(|((a, _), (b, _))| a == b) {
            let (a, b) = (timed(*a, *a_us), timed(*b, *b_us));
            prop_assert_eq!(now.one_clock(a, b), before.one_clock(a, b));
        }
    }

    /// Nothing new changes nothing.
    #[test]
    fn the_same_readings_in_another_order_change_nothing(mut readings in prop::collection::vec(any_reading(), 1..14)) {
        let before = clocks(&readings);
        readings.reverse();
        prop_assert_eq!(clocks(&readings).changes_since(&before), ClockChanges::default());
    }
}

/// A new reading of a clock that runs well leaves the days before the last one alone: this is what makes it cheap.
#[test]
fn a_new_reading_names_the_time_since_the_last_one() {
    let reading = |hour: i64, seq| ClockReading {
        device: DeviceKey([1; 32]),
        peer: DeviceKey([DEPOT; 32]),
        at_us: hour * HOUR_US,
        offset_us: 1_000_000,
        delay_us: 1_000,
        place: Place {
            log: log(1),
            seq,
            index: 0,
        },
    };
    let before = clocks(&[reading(10, 5), reading(34, 50)]);
    let now = clocks(&[reading(10, 5), reading(34, 50), reading(58, 90)]);
    let changes = now.changes_since(&before);
    let device = DeviceKey([1; 32]);
    assert_eq!(changes.times.get(&device), Some(&(34 * HOUR_US, i64::MAX)));
    assert_eq!(changes.entries.get(&log(1)), Some(&vec![(51, u64::MAX)]));
    assert!(!changes.times.contains_key(&DeviceKey([2; 32])));
}
