//! Which keys may connect, for the TLS handshake: a copy of the roster's keys, refreshed after every commit.
//!
//! The keys are checked in the handshake, before any data. A key that is removed later ends its session through
//! [`super::open_sessions`].
//!
//! Deliberately absent: certificates, authorities, names. A peer is its ed25519 key.

use std::collections::BTreeSet;
use std::sync::Arc;

use gladhand_facts::DeviceKey;
use tokio::sync::watch;

/// The bytes before the 32 bytes of an ed25519 public key in a SubjectPublicKeyInfo (RFC 8410 §4).
const SPKI_PREFIX: [u8; 12] = [0x30, 0x2a, 0x30, 0x05, 0x06, 0x03, 0x2b, 0x65, 0x70, 0x03, 0x21, 0x00];
/// The bytes before the 32 bytes of the seed in PKCS#8 version 1 (RFC 8410 §7).
const PKCS8_PREFIX: [u8; 16] = [
    0x30, 0x2e, 0x02, 0x01, 0x00, 0x30, 0x05, 0x06, 0x03, 0x2b, 0x65, 0x70, 0x04, 0x22, 0x04, 0x20,
];

/// The keys that may connect. Clones share one set.
#[derive(Debug, Clone, Default)]
pub struct Trust(watch::Sender<Arc<BTreeSet<DeviceKey>>>);

impl Trust {
    /// Replaces the keys. Receivers are notified only if they differ.
    pub fn set(&self, keys: BTreeSet<DeviceKey>) {
        self.0.send_if_modified(|held| {
            let differs = **held != keys;
            if differs {
                *held = Arc::new(keys);
            }
            differs
        });
    }

    /// The current keys.
    pub fn keys(&self) -> Arc<BTreeSet<DeviceKey>> {
        Arc::clone(&self.0.borrow())
    }

    /// A receiver that is notified when the keys change.
    pub fn changes(&self) -> watch::Receiver<Arc<BTreeSet<DeviceKey>>> {
        self.0.subscribe()
    }

    /// Whether a key may connect.
    pub fn admits(&self, key: &DeviceKey) -> bool {
        self.0.borrow().contains(key)
    }
}

/// Which keys a handshake accepts.
#[derive(Debug, Clone)]
pub enum Accepts {
    /// Every device on the roster.
    Roster(Trust),
    /// The dialled device only.
    One(DeviceKey),
    /// Any key whose possession is proved. Only for presenting a credential.
    Any,
}

impl Accepts {
    /// Whether `key` is accepted.
    pub fn accepts(&self, key: &DeviceKey) -> bool {
        match self {
            Self::Roster(trust) => trust.admits(key),
            Self::One(one) => one == key,
            Self::Any => true,
        }
    }
}

/// The key in a SubjectPublicKeyInfo, if it is an ed25519 key.
pub fn key_in_spki(spki: &[u8]) -> Option<DeviceKey> {
    let key = spki.strip_prefix(&SPKI_PREFIX)?;
    Some(DeviceKey(key.try_into().ok()?))
}

/// A seed in PKCS#8, zeroed when dropped.
pub fn pkcs8_of(seed: &[u8; 32]) -> zeroize::Zeroizing<Vec<u8>> {
    let mut out = zeroize::Zeroizing::new(Vec::with_capacity(PKCS8_PREFIX.len() + seed.len()));
    out.extend_from_slice(&PKCS8_PREFIX);
    out.extend_from_slice(seed);
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_is_found_in_its_spki_only() {
        let mut spki = SPKI_PREFIX.to_vec();
        spki.extend_from_slice(&[7; 32]);
        assert_eq!(key_in_spki(&spki), Some(DeviceKey([7; 32])));
        spki.push(0);
        assert_eq!(key_in_spki(&spki), None);
        assert_eq!(key_in_spki(&[0; 44]), None);
    }

    #[test]
    fn trust_is_what_was_set_last() {
        let trust = Trust::default();
        let accepts = Accepts::Roster(trust.clone());
        assert!(!accepts.accepts(&DeviceKey([1; 32])));
        trust.set(BTreeSet::from([DeviceKey([1; 32])]));
        assert!(accepts.accepts(&DeviceKey([1; 32])) && !accepts.accepts(&DeviceKey([2; 32])));
    }
}
