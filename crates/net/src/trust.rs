//! Whom this node talks to, as the TLS layer asks it: a picture of the roster, taken again whenever the history grows.
//!
//! The roster is looked at in the handshake, before a byte of data; what it says later reaches live sessions through
//! [`super::live`]. Deliberately absent: certificates, authorities, names. A peer is its ed25519 key.

use std::collections::BTreeSet;
use std::sync::Arc;

use gladhand_facts::DeviceKey;
use tokio::sync::watch;

/// What comes before the 32 bytes of an ed25519 public key in its SubjectPublicKeyInfo (RFC 8410 §4).
const SPKI_PREFIX: [u8; 12] = [0x30, 0x2a, 0x30, 0x05, 0x06, 0x03, 0x2b, 0x65, 0x70, 0x03, 0x21, 0x00];
/// What comes before the 32 bytes of the seed in PKCS#8 version 1 (RFC 8410 §7).
const PKCS8_PREFIX: [u8; 16] = [
    0x30, 0x2e, 0x02, 0x01, 0x00, 0x30, 0x05, 0x06, 0x03, 0x2b, 0x65, 0x70, 0x04, 0x22, 0x04, 0x20,
];

/// The keys that may connect. Cheap to share and to read.
#[derive(Debug, Clone, Default)]
pub struct Trust(watch::Sender<Arc<BTreeSet<DeviceKey>>>);

impl Trust {
    /// From here on these keys.
    pub fn set(&self, keys: BTreeSet<DeviceKey>) {
        self.0.send_if_modified(|held| {
            let differs = **held != keys;
            if differs {
                *held = Arc::new(keys);
            }
            differs
        });
    }

    /// The keys.
    pub fn keys(&self) -> Arc<BTreeSet<DeviceKey>> {
        Arc::clone(&self.0.borrow())
    }

    /// Told when the keys change.
    pub fn changes(&self) -> watch::Receiver<Arc<BTreeSet<DeviceKey>>> {
        self.0.subscribe()
    }

    /// Whether a key may connect.
    pub fn admits(&self, key: &DeviceKey) -> bool {
        self.0.borrow().contains(key)
    }
}

/// Whose key a verifier accepts.
#[derive(Debug, Clone)]
pub enum Accepts {
    /// Every device on the roster.
    Roster(Trust),
    /// The one that was dialled.
    One(DeviceKey),
    /// Anybody who can prove its key: only for showing a credential.
    Anybody,
}

impl Accepts {
    /// Whether it accepts `key`.
    pub fn accepts(&self, key: &DeviceKey) -> bool {
        match self {
            Self::Roster(trust) => trust.admits(key),
            Self::One(one) => one == key,
            Self::Anybody => true,
        }
    }
}

/// The key in a SubjectPublicKeyInfo, if it is an ed25519 key.
pub fn key_in_spki(spki: &[u8]) -> Option<DeviceKey> {
    let key = spki.strip_prefix(&SPKI_PREFIX)?;
    Some(DeviceKey(key.try_into().ok()?))
}

/// A seed as PKCS#8, zeroed when dropped.
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
