//! Which logs share a clock.
//!
//! A device has one clock, whatever logs it has begun over the years. Of a home that was copied, two machines write as one
//! device: then each of its logs counts as a clock of its own, and nothing tells which of them a peer had met.
//!
//! Deliberately never split: the depot. Its clock is the measure of all others.

use std::collections::BTreeSet;

use gladhand_facts::{DeviceKey, LogId};

use crate::facts::Fork;

/// See the module doc.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct ClockNames {
    copied: BTreeSet<DeviceKey>,
}

impl ClockNames {
    /// The devices of which `forks` show more than one copy, except the depot.
    pub(crate) fn new(depot: Option<DeviceKey>, forks: &[Fork]) -> Self {
        let copied = forks.iter().map(|fork| fork.log.device);
        Self {
            copied: copied.filter(|device| Some(*device) != depot).collect(),
        }
    }

    /// The clock of the device that writes `log`.
    pub(crate) fn of_log(&self, log: LogId) -> LogId {
        if self.copied.contains(&log.device) {
            log
        } else {
            whole(log.device)
        }
    }

    /// The clock of a device; `None` when copies of it are at work.
    pub(crate) fn of_device(&self, device: DeviceKey) -> Option<LogId> {
        (!self.copied.contains(&device)).then(|| whole(device))
    }
}

/// The name of a clock that all logs of a device share. No log has this incarnation.
fn whole(device: DeviceKey) -> LogId {
    LogId { device, incarnation: 0 }
}
