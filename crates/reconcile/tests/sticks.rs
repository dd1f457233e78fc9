//! Fleets without a network: the depot and its laptops meet by stick in the morning and in the evening. Their clocks are off, drift and
//! are set. Whatever happens, the true time of a fact lies in its interval.
//!
//! What is assumed is what the program says: clocks drift by at most 100 ppm, nobody's clock is off by more than a day, and a clock that
//! is set forward is set forward by more than the sticks leave open. A clock that is set back may be set back by anything.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

mod common;

use common::{Dice, Yard, standard};
use gladhand_facts::{Moment, Place};
use gladhand_reconcile::Interval;

const MINUTE_US: i64 = 60_000_000;
const DAY: i64 = 24 * 60;
const LAPTOPS: [&str; 3] = ["lap-a", "lap-b", "lap-c"];

/// How a laptop's clock runs.
#[derive(Debug, Clone, Copy)]
struct Run {
    off_us: i64,
    drift_ppm: i64,
    /// Set at that minute, by so much.
    step: Option<(i64, i64)>,
}

impl Run {
    fn any(dice: &mut Dice) -> Self {
        let off_us = (dice.roll(40 * 60) as i64 - 20 * 60) * MINUTE_US + dice.roll(60_000_000) as i64;
        let minute = dice.roll(3 * DAY as usize) as i64;
        let step = match dice.roll(3) {
            0 => None,
            1 => Some((minute, -(1 + dice.roll(180) as i64) * MINUTE_US)),
            _ => Some((minute, (240 + dice.roll(120) as i64) * MINUTE_US)),
        };
        let drift_ppm = dice.roll(181) as i64 - 90;
        let off_us = if step.is_some() { off_us / 2 } else { off_us };
        Self {
            off_us,
            drift_ppm,
            step,
        }
    }

    fn off_at(&self, minute: i64) -> i64 {
        let stepped = self.step.filter(|(at, _)| *at <= minute).map_or(0, |(_, by_us)| by_us);
        self.off_us + minute * 60 * self.drift_ppm + stepped
    }
}

/// A few days of a fleet.
struct Fleet {
    yard: Yard,
    runs: [Run; 3],
    minute: i64,
    /// Each fact with the true time at which it happened.
    truths: Vec<(Place, i64)>,
}

impl Fleet {
    fn new(runs: [Run; 3]) -> Self {
        let mut yard = Yard::default();
        yard.depot_is_known = true;
        let mut fleet = Self {
            yard,
            runs,
            minute: 0,
            truths: Vec::new(),
        };
        fleet.set_clocks();
        fleet
    }

    fn set_clocks(&mut self) {
        for (name, run) in LAPTOPS.into_iter().zip(self.runs) {
            self.yard.set_clock_us(name, run.off_at(self.minute));
        }
    }

    fn wait_until(&mut self, minute: i64) {
        while self.minute < minute {
            self.yard.wait(1);
            self.minute += 1;
            self.set_clocks();
        }
    }

    /// Records something, either as a time that the device fills in or as one that a program read just before.
    fn record(&mut self, name: &str, read: bool) {
        self.wait_until(self.minute + 1);
        // The yard's record takes a minute of its own.
        self.yard.wait(-1);
        let shown_us = self.yard.shows_us(name) + MINUTE_US;
        let at = Moment::from_unix_us(shown_us - 5_000_000, 0);
        let at = if read {
            format!(r#","at":"{}""#, at.text())
        } else {
            String::new()
        };
        let count = self.truths.len();
        let line = format!(r#"{{"kind":"note","text":"{count}"{at}}}"#);
        self.yard.record(name, &line, false);
        let truth_us = self.yard.now_us() - if read { 5_000_000 } else { 0 };
        self.truths.push((self.yard.facts.last().unwrap().place, truth_us));
    }

    fn carry(&mut self, writer: &str, reader: &str, minutes: i64) {
        let due = self.minute + minutes;
        // The reader's clock runs while the stick is carried.
        if let Some(i) = LAPTOPS.iter().position(|name| *name == reader) {
            self.yard.set_clock_us(reader, self.runs[i].off_at(due));
        }
        self.yard.carry(writer, reader, minutes);
        self.minute = due;
        self.set_clocks();
    }

    fn day(&mut self, dice: &mut Dice, day: i64) {
        let morning = day * DAY + dice.roll(60) as i64;
        self.wait_until(morning.max(self.minute));
        self.record("depot", false);
        for name in LAPTOPS {
            self.carry("depot", name, 1 + dice.roll(20) as i64);
            self.record(name, false);
        }
        for _ in 0..12 {
            let next = self.minute + dice.roll(60) as i64;
            self.wait_until(next);
            let name = LAPTOPS[dice.roll(3)];
            self.record(name, dice.roll(2) == 0);
        }
        for name in LAPTOPS {
            self.carry(name, "depot", 1 + dice.roll(20) as i64);
        }
        self.record("depot", false);
        self.record(LAPTOPS[dice.roll(3)], false);
    }

    fn intervals(&self) -> Vec<(Place, i64, Interval)> {
        let clocks = self.yard.clocks();
        let of = |(place, truth_us): &(Place, i64)| {
            let recorded = self.yard.facts.iter().find(|w| w.place == *place).unwrap();
            (*place, *truth_us, clocks.interval_of(recorded).unwrap())
        };
        self.truths.iter().map(of).collect()
    }
}

fn play(seed: u64, days: i64, runs: impl FnOnce(&mut Dice) -> [Run; 3]) -> Fleet {
    let mut dice = Dice(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1);
    let runs = runs(&mut dice);
    let mut fleet = Fleet::new(runs);
    (0..days).for_each(|day| fleet.day(&mut dice, day));
    fleet
}

#[test]
fn the_truth_is_always_inside() {
    for seed in 1..=300 {
        let fleet = play(seed, 3, |dice| [Run::any(dice), Run::any(dice), Run::any(dice)]);
        for (place, truth_us, interval) in fleet.intervals() {
            assert!(
                interval.from_us <= truth_us && truth_us <= interval.to_us,
                "seed {seed}: {place:?} happened at {truth_us}, not in {interval:?}; {:?}",
                fleet.runs
            );
        }
    }
}

/// With `--nocapture` it prints the widths that are reached in three days of a fleet without a network.
#[test]
fn a_day_of_sticks_leaves_minutes_and_not_a_day() {
    let steady = |off_min: i64, drift_ppm| Run {
        off_us: off_min * MINUTE_US,
        drift_ppm,
        step: None,
    };
    let back = Run {
        step: Some((DAY + 200, -60 * MINUTE_US)),
        ..steady(0, 0)
    };
    let fleet = play(7, 3, |_| [steady(0, 20), steady(-180, 90), back]);
    let bare_us = 2 * standard().clock().unmeasured_us;
    let mut rows: Vec<(&str, Vec<i64>)> = Vec::new();
    for name in LAPTOPS {
        let log = common::key_of(name);
        let of_log = fleet
            .intervals()
            .into_iter()
            .filter(|(place, ..)| place.log.device == log);
        let mut widths: Vec<i64> = of_log
            .map(|(_, truth_us, interval)| {
                assert!(interval.from_us <= truth_us && truth_us <= interval.to_us);
                interval.width_us()
            })
            .collect();
        widths.sort_unstable();
        rows.push((name, widths));
    }
    println!("| laptop | facts | narrowest | median | widest |");
    for (name, widths) in &rows {
        let minutes = |us: i64| format!("{:.1} min", us as f64 / MINUTE_US as f64);
        let (least, middle, most) = (widths[0], widths[widths.len() / 2], widths[widths.len() - 1]);
        println!(
            "| {name} | {} | {} | {} | {} |",
            widths.len(),
            minutes(least),
            minutes(middle),
            minutes(most)
        );
    }
    for (name, widths) in &rows {
        let median_us = widths[widths.len() / 2];
        assert!(median_us < 45 * MINUTE_US, "{name}: {median_us}");
        assert!(widths[0] < bare_us / 48);
    }
}
