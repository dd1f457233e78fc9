//! A device's clock is certainly off by more than the work standard allows.
//!
//! Judged at each reading that ties the device to the depot, directly or through others: off is what no uncertainty of the
//! reading can explain. The worst reading speaks. Clocks that nobody measured say nothing.

use super::Rule;
use crate::finding::{Draft, Severity};
use crate::intervals::Reading;
use crate::judge::{Case, World};
use crate::subject::{Class, Subject};

pub(super) struct ClockOff;

impl Rule for ClockOff {
    fn name(&self) -> &'static str {
        "clock-off"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Device]
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let Subject::Device(device) = &case.subject else {
            return None;
        };
        let own = world
            .clocks
            .readings()
            .iter()
            .filter(|r| r.device == *device || r.peer == *device);
        let (reading, off_us) = own
            .filter_map(|r| Some((r, off_us(world, case, r)?)))
            .max_by_key(|(r, off)| (off.abs(), r.place))?;
        let name = world.facts.device_name(device);
        let way = if off_us > 0 { "ahead of" } else { "behind" };
        let draft = Draft {
            beyond: vec![reading.place],
            ..Draft::new(Severity::Note, [])
        };
        Some(draft.open(
            format!("The clock of {name} is at least {} {way} the depot's.", spelled(off_us.unsigned_abs())),
            format!("Set the clock of {name}. What it recorded is judged by corrected times; nothing needs to be recorded again."),
        ))
    }
}

/// How far the clock is certainly off at a reading; `None` when that is within what the standard allows.
fn off_us(world: &World<'_>, case: &Case, reading: &Reading) -> Option<i64> {
    let Subject::Device(device) = &case.subject else {
        return None;
    };
    let there_us = reading.at_us.saturating_add(reading.offset_us);
    let at_us = if reading.device == *device {
        reading.at_us
    } else {
        there_us
    };
    let truth = world.clocks.measured_interval(*device, at_us)?;
    let (ahead_us, behind_us) = (at_us.saturating_sub(truth.to_us), truth.from_us.saturating_sub(at_us));
    let allowed_us = world.standard.clock().off_us;
    if ahead_us > allowed_us {
        Some(ahead_us)
    } else if behind_us > allowed_us {
        Some(-behind_us)
    } else {
        None
    }
}

/// `3 min 20 s`, `2 h 5 min`, `1 day 4 h`: two units are enough.
fn spelled(us: u64) -> String {
    let s = us / 1_000_000;
    match (s / 86_400, s / 3_600 % 24, s / 60 % 60, s % 60) {
        (0, 0, 0, s) => format!("{s} s"),
        (0, 0, min, s) => format!("{min} min {s} s"),
        (0, h, min, _) => format!("{h} h {min} min"),
        (1, h, _, _) => format!("1 day {h} h"),
        (days, h, _, _) => format!("{days} days {h} h"),
    }
}
