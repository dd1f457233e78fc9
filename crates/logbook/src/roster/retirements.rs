//! Which devices were retired, and from where on their entries do not count.

use std::collections::BTreeMap;

use gladhand_facts::{DeviceKey, LogId, VersionVector};

/// The retirements of a device, added up.
#[derive(Debug, Clone)]
struct Retired {
    /// The last entries that count.
    last: VersionVector,
    /// Where the newest retirement is recorded.
    newest: (LogId, u64),
}

/// All retirements.
#[derive(Debug, Clone, Default)]
pub(super) struct Retirements(BTreeMap<DeviceKey, Retired>);

impl Retirements {
    /// Adds a retirement that is recorded at `place`. A log whose name does not read is treated as not named: none of its
    /// entries counts.
    pub(super) fn learn(&mut self, place: (LogId, u64), device: DeviceKey, last: &BTreeMap<String, u64>) {
        let named = last.iter().filter_map(|(log, seq)| Some((log.parse().ok()?, *seq)));
        let last: VersionVector = named.collect();
        let known = self.0.entry(device).or_insert_with(|| Retired {
            last: last.clone(),
            newest: place,
        });
        // The earlier place counts, so that no order of arrival can give anything back.
        known.last = known
            .last
            .iter()
            .map(|(log, seq)| (log, seq.min(last.get(&log))))
            .collect();
        let order = |(log, seq): (LogId, u64)| (log.incarnation, seq);
        if order(known.newest) < order(place) {
            known.newest = place;
        }
    }

    /// The last entries of a retired device that count.
    pub(super) fn last_of(&self, device: &DeviceKey) -> Option<&VersionVector> {
        self.0.get(device).map(|retired| &retired.last)
    }

    /// Whether a device was retired, and `vector` includes all retirements of it.
    pub(super) fn are_in(&self, vector: &VersionVector, device: &DeviceKey) -> bool {
        let retired = self.0.get(device);
        retired.is_some_and(|retired| vector.includes(&retired.newest.0, retired.newest.1))
    }
}
