//! A device's clock is certainly off by more than the work standard allows, or its log shows what no running clock can show.
//!
//! Judged at each reading that ties the device to the depot, directly or through others. A clock is off only by what the
//! uncertainty of the reading cannot explain. The worst reading gives the reason. When a later reading finds the clock certainly
//! right again, it was set, and the finding is cleared.
//!
//! Where no reading shows it, the entries do ([`crate::oddity`]): its times run backwards, a time that was read is from before there
//! was anything to read or later than its own recording, or the depot had seen an entry before the time that it shows, or the
//! other way round. The worst of them gives the reason, and a later reading that finds the clock right clears it.
//!
//! Standing: `-`. A clock clashes with no fact.

use gladhand_facts::{DeviceKey, Place};

use super::rule::Rule;
use crate::case::Case;
use crate::clock_reading::ClockReading;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::interval::Interval;
use crate::oddity::Oddity;
use crate::reason::Reason;
use crate::reason::device::{ClockProof, WrongClock};
use crate::subject::{Class, Subject};
use crate::world::World;

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
        let mut comparisons: Vec<Comparison> = own.filter_map(|r| Comparison::at(world, *device, r)).collect();
        comparisons.sort_by_key(|c| (c.taken_within.to_us, c.reading));
        by_readings(&comparisons).or_else(|| by_entries(world, *device, &comparisons))
    }
}

fn by_readings(comparisons: &[Comparison]) -> Option<Draft> {
    let off = comparisons.iter().filter(|c| c.is_off);
    let worst = off.max_by_key(|c| (c.ahead_us.saturating_abs(), c.reading))?;
    // A reading that leaves it open neither makes the finding nor clears it.
    let decided = comparisons.iter().rfind(|c| c.is_off || c.is_right);
    let proof = ClockProof::Reading {
        ahead_us: worst.ahead_us,
        taken_within: worst.taken_within,
    };
    Some(draft(worst.reading, proof, decided.is_some_and(|c| c.is_right)))
}

fn by_entries(world: &World<'_>, device: DeviceKey, comparisons: &[Comparison]) -> Option<Draft> {
    let allowed_us = world.standard.clock().off_us;
    let own = world.clocks.oddities().iter().filter(|odd| odd.log.device == device);
    let off: Vec<&Oddity> = own.filter(|odd| odd.shows.off_us() > allowed_us).collect();
    // What the depot's clock shows says which way; the rest only that something is wrong.
    let rank = |odd: &Oddity| (odd.shows.measure_us().is_some(), odd.shows.off_us(), *odd);
    let worst = off.iter().max_by_key(|odd| rank(odd))?;
    let is_later = |c: &Comparison, odd: &Oddity| match odd.shows.measure_us() {
        Some(measure_us) => c.taken_within.from_us >= measure_us,
        None => c.reading.log == odd.log && c.reading.seq >= odd.seq,
    };
    let right_since = |odd: &&Oddity| comparisons.iter().any(|c| c.is_right && is_later(c, odd));
    let proof = ClockProof::Entry(worst.shows);
    Some(draft(worst.place(), proof, off.iter().all(right_since)))
}

fn draft(place: Place, proof: ClockProof, set_since: bool) -> Draft {
    let reason = Reason::ClockOff(WrongClock { place, proof });
    Draft::new(Severity::Note, [], reason)
        .shown_at([place])
        .cleared(set_since)
}

/// The device's clock against the depot's at one reading.
#[derive(Clone, Copy)]
struct Comparison {
    reading: Place,
    /// When it was taken, by the depot's clock.
    taken_within: Interval,
    /// By how much the clock is certainly ahead; negative when it is behind, 0 when it may be right.
    ahead_us: i64,
    /// Certainly off by more than the standard allows.
    is_off: bool,
    /// Certainly not off by more than that.
    is_right: bool,
}

impl Comparison {
    fn at(world: &World<'_>, device: DeviceKey, reading: &ClockReading) -> Option<Self> {
        let taken_within = world.clocks.taken(device, reading)?;
        let at_us = if reading.device == device {
            reading.at_us
        } else {
            reading.there_us()
        };
        let allowed_us = world.standard.clock().off_us;
        let after_us = at_us.saturating_sub(taken_within.to_us);
        let before_us = taken_within.from_us.saturating_sub(at_us);
        let most_us = at_us
            .saturating_sub(taken_within.from_us)
            .max(taken_within.to_us.saturating_sub(at_us));
        let ahead_us = if before_us > 0 { -before_us } else { after_us.max(0) };
        Some(Self {
            reading: reading.place,
            taken_within,
            ahead_us,
            is_off: ahead_us.saturating_abs() > allowed_us,
            is_right: most_us <= allowed_us,
        })
    }
}
