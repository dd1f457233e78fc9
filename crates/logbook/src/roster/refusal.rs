//! Why a device may not write here.

use gladhand_facts::DeviceKey;

/// Why a device may not write here.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Refusal {
    /// This node does not belong to any depot yet.
    #[error("this node has not joined a depot, so it can trust nobody else's log")]
    NoRoot,
    /// It has no enrolment and no credential.
    #[error("device {} is not enrolled by our depot", .0.short())]
    Stranger(DeviceKey),
    /// Its invite enrolled another device.
    #[error("device {} used an invite that enrolled another device", .0.short())]
    InviteUsed(DeviceKey),
    /// The entry is after the last one that counts of a retired device.
    #[error("device {} was retired; its entry {seq} comes after the last one that counts ({last})", device.short())]
    Retired {
        /// The device.
        device: DeviceKey,
        /// The entry.
        seq: u64,
        /// The last one that counts.
        last: u64,
    },
}
