//! A device's clock is certainly off by more than the work standard allows.
//!
//! Judged at each reading that ties the device to the depot, directly or through others: off is what no uncertainty of the
//! reading can explain. The worst reading speaks. Clocks that nobody measured say nothing.
//! When a later reading finds the clock certainly right again, it was set, and the finding is cleared.
//!
//! Standing: `-`. A clock clashes with no fact.

use gladhand_facts::{DeviceKey, Place};

use super::rule::Rule;
use crate::clock_reading::ClockReading;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::interval::Interval;
use crate::subject::{Class, Subject};
use crate::world::{Case, World};

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
        let own = world.clocks.readings().iter();
        let own = own.filter(|r| r.device == *device || r.peer == *device);
        let mut looks: Vec<Look> = own.filter_map(|r| Look::at(world, *device, r)).collect();
        looks.sort_by_key(|look| (look.truth.to_us, look.place));
        let off = looks.iter().filter(|look| look.is_off);
        let worst = off.max_by_key(|look| (look.off_us.saturating_abs(), look.place))?;
        // A reading that leaves it open changes nothing.
        let set_since = looks
            .iter()
            .rfind(|look| look.is_off || look.is_right)
            .is_some_and(|look| look.is_right);
        let name = world.facts.device_name(device);
        let far = spelled(worst.off_us.unsigned_abs());
        let way = if worst.off_us > 0 { "ahead of" } else { "behind" };
        let draft = Draft {
            beyond: vec![worst.place],
            ..Draft::new(Severity::Note, [])
        };
        Some(if !set_since {
            draft.open(
                format!("The clock of {name} is at least {far} {way} the depot's."),
                format!("Set the clock of {name}. What it recorded is judged by corrected times; nothing needs to be recorded again."),
            )
        } else {
            draft.cleared(format!(
                "The clock of {name} was at least {far} {way} the depot's; it has been set since."
            ))
        })
    }
}

/// What one reading says of the clock.
#[derive(Clone, Copy)]
struct Look {
    place: Place,
    /// When it was taken, by the depot's clock.
    truth: Interval,
    /// By how much the clock is certainly ahead; negative when it is behind, 0 when it may be right.
    off_us: i64,
    /// Certainly off by more than the standard allows.
    is_off: bool,
    /// Certainly not off by more than that.
    is_right: bool,
}

impl Look {
    fn at(world: &World<'_>, device: DeviceKey, reading: &ClockReading) -> Option<Self> {
        let truth = world.clocks.taken(device, reading)?;
        let at_us = if reading.device == device {
            reading.at_us
        } else {
            reading.there_us()
        };
        let allowed_us = world.standard.clock().off_us;
        let (ahead_us, behind_us) = (at_us.saturating_sub(truth.to_us), truth.from_us.saturating_sub(at_us));
        let most_us = at_us
            .saturating_sub(truth.from_us)
            .max(truth.to_us.saturating_sub(at_us));
        let off_us = if behind_us > 0 { -behind_us } else { ahead_us.max(0) };
        Some(Self {
            place: reading.place,
            truth,
            off_us,
            is_off: off_us.saturating_abs() > allowed_us,
            is_right: most_us <= allowed_us,
        })
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

#[cfg(test)]
mod tests {
    use super::spelled;

    #[test]
    fn two_units_are_enough() {
        let s = |n: u64| spelled(n * 1_000_000 + 999_999);
        for (seconds, want) in [
            (0, "0 s"),
            (59, "59 s"),
            (60, "1 min 0 s"),
            (3_599, "59 min 59 s"),
            (3_600, "1 h 0 min"),
            (2 * 3_600 + 5 * 60 + 9, "2 h 5 min"),
            (86_399, "23 h 59 min"),
            (86_400, "1 day 0 h"),
            (86_400 + 4 * 3_600, "1 day 4 h"),
            (10 * 86_400 + 23 * 3_600, "10 days 23 h"),
        ] {
            assert_eq!(s(seconds), want);
        }
    }
}
