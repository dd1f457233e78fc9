//! The names that people know devices by.
//!
//! Names take no part in judging: they are looked up when something is put into words, so a rename changes what is read and
//! not what is stored.

use std::collections::BTreeMap;

use gladhand_facts::DeviceKey;

/// Knows what devices are called.
pub trait Names {
    /// The name that people know a device by.
    fn device_name(&self, device: &DeviceKey) -> String;
}

/// Names held in memory. A device without one is called by the first digits of its key.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct DeviceNames(BTreeMap<DeviceKey, String>);

impl DeviceNames {
    /// Gives a device its name.
    pub fn set(&mut self, device: DeviceKey, name: impl Into<String>) {
        self.0.insert(device, name.into());
    }
}

impl FromIterator<(DeviceKey, String)> for DeviceNames {
    fn from_iter<I: IntoIterator<Item = (DeviceKey, String)>>(names: I) -> Self {
        Self(names.into_iter().collect())
    }
}

impl Names for DeviceNames {
    fn device_name(&self, device: &DeviceKey) -> String {
        self.0.get(device).cloned().unwrap_or_else(|| device.short())
    }
}
