//! The index of times: which facts of a device have a time on which day, by whatever clock.
//!
//! A fact is filed under the days of its moment, of the picture's, and of its recording, so that it is found by each of them.
//!
//! Deliberately coarse, and in UTC: whoever looks something up compares the times themselves.

use std::collections::BTreeSet;

use gladhand_facts::{DeviceKey, Fact, LogId, Stamp};

use crate::error::NodeError;
use crate::node::Node;

/// Before a device and a day: the facts that the device recorded and that have a time on that day.
const DAY: u8 = b'A';
const DAY_US: i64 = 24 * 3_600_000_000;

/// The day of a time, counted so that days sort as their bytes do.
fn day_of(at_us: i64) -> [u8; 4] {
    let days = at_us.div_euclid(DAY_US).clamp(i64::from(i32::MIN), i64::from(i32::MAX));
    // In range after the clamp; the offset makes negative days sort first.
    (days - i64::from(i32::MIN)).to_be_bytes()[4..]
        .try_into()
        .unwrap_or_default()
}

/// What the keys of all days of a device begin with.
fn days_of(device: &DeviceKey) -> Vec<u8> {
    [&[DAY], device.0.as_slice()].concat()
}

/// The key under which the facts of a device are filed that have a time on the day of this one.
fn day_key(device: &DeviceKey, at_us: i64) -> Vec<u8> {
    [days_of(device).as_slice(), &day_of(at_us)].concat()
}

/// The keys of a fact's times.
pub(crate) fn keys_of_times(device: &DeviceKey, fact: &Fact, stamp: Stamp) -> BTreeSet<Vec<u8>> {
    let given = [fact.at(), fact.moment("taken_at")].into_iter().flatten();
    let times = given.map(|moment| moment.unix_us()).chain([stamp.wall_us]);
    times.map(|at_us| day_key(device, at_us)).collect()
}

impl Node {
    /// The entries of a device with facts that may have a time between these two, both included, in microseconds since 1970.
    pub(crate) fn entries_between(
        &self,
        device: &DeviceKey,
        from_us: i64,
        to_us: i64,
    ) -> Result<BTreeSet<(LogId, u64)>, NodeError> {
        let (first, last) = (day_key(device, from_us), day_key(device, to_us));
        let mut found = BTreeSet::new();
        for key in self.index.subjects_from(&days_of(device), &first) {
            let key = key?;
            if key > last {
                break;
            }
            found.extend(self.index.about(&key)?.into_iter().map(|place| (place.log, place.seq)));
        }
        Ok(found)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_sort_as_times_do() {
        let days = [
            i64::MIN,
            -DAY_US - 1,
            -1,
            0,
            DAY_US - 1,
            DAY_US,
            20_000 * DAY_US,
            i64::MAX,
        ]
        .map(day_of);
        assert!(days.is_sorted());
        assert_eq!(day_of(0), day_of(DAY_US - 1));
        assert!(day_of(-1) < day_of(0));
    }
}
