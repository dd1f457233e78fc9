//! The credentials that devices have shown.

use std::collections::BTreeMap;

use gladhand_facts::{DeviceKey, LogId};

use crate::governance::Credential;

/// A credential, and where the device recorded it; `None` while it is known only because a peer sent it.
#[derive(Debug, Clone)]
struct Shown {
    place: Option<(LogId, u64)>,
    credential: Credential,
}

/// By device and invite: a device whose invite was used by another one, or had expired, joins again with a new one.
#[derive(Debug, Clone, Default)]
pub(super) struct Credentials(BTreeMap<DeviceKey, BTreeMap<DeviceKey, Shown>>);

impl Credentials {
    /// Adds a credential that was found to be genuine.
    pub(super) fn learn(&mut self, credential: Credential) {
        let shown = self.0.entry(credential.device).or_default();
        let place = None;
        shown.entry(credential.invite).or_insert(Shown { place, credential });
    }

    /// Adds a genuine credential that its device recorded at `place`.
    pub(super) fn learn_recorded(&mut self, place: (LogId, u64), credential: Credential) {
        let of_device = self.0.entry(credential.device).or_default();
        let shown = of_device.entry(credential.invite).or_insert(Shown {
            place: None,
            credential,
        });
        shown.place = shown.place.max(Some(place));
    }

    /// The credential that counts for a device: among those whose invite `is_free` for it, the one that it recorded last. A
    /// device joins again only because its earlier credential is not accepted, even if the reason is not known here.
    pub(super) fn of(&self, device: &DeviceKey, is_free: impl Fn(&Credential) -> bool) -> Option<&Credential> {
        let rank = |s: &&Shown| {
            let c = &s.credential;
            (is_free(c), s.place, c.expires_s, c.invite)
        };
        self.0.get(device)?.values().max_by_key(rank).map(|s| &s.credential)
    }

    /// Whether a device has shown this invite.
    pub(super) fn has_shown(&self, device: &DeviceKey, invite: &DeviceKey) -> bool {
        self.0.get(device).is_some_and(|shown| shown.contains_key(invite))
    }

    pub(super) fn devices(&self) -> impl Iterator<Item = DeviceKey> + '_ {
        self.0.keys().copied()
    }
}
