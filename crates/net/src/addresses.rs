//! Where peers were reached: `<home>/peers.json`, so that a laptop finds the depot again before anything is discovered.
//!
//! Only addresses that this side dialled with success are kept, the newest first. The file is only a hint: one that does not
//! read is begun anew, and a device that is not on the roster is never dialled because it is in this file.

use std::collections::BTreeMap;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};

use gladhand_facts::{DeviceKey, VersionVector};
use serde::{Deserialize, Serialize};

const FILE: &str = "peers.json";
/// Addresses kept for each peer.
const MAX_ADDRESSES: usize = 4;
/// The longest file that is read.
const MAX_FILE_BYTES: u64 = 1 << 20;

/// What is known of a peer.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Known {
    /// Where it was reached, the newest first.
    #[serde(default)]
    pub addresses: Vec<SocketAddr>,
    /// When a session with it was last open, in microseconds since 1970.
    #[serde(default)]
    pub met_us: i64,
    /// What it held when both last held the same.
    #[serde(default)]
    pub held: VersionVector,
}

/// Where peers were reached.
#[derive(Debug)]
pub struct Addresses {
    file: PathBuf,
    peers: BTreeMap<DeviceKey, Known>,
}

impl Addresses {
    /// What the home at `home` knows.
    pub fn load(home: &Path) -> Self {
        let file = home.join(FILE);
        let small = std::fs::metadata(&file).is_ok_and(|m| m.len() <= MAX_FILE_BYTES);
        let text = if small {
            std::fs::read(&file).unwrap_or_default()
        } else {
            Vec::new()
        };
        Self {
            file,
            peers: serde_json::from_slice(&text).unwrap_or_default(),
        }
    }

    /// The peers.
    pub fn peers(&self) -> impl Iterator<Item = (&DeviceKey, &Known)> {
        self.peers.iter()
    }

    /// Where `peer` was reached.
    pub fn of(&self, peer: &DeviceKey) -> Vec<SocketAddr> {
        self.peers.get(peer).map(|k| k.addresses.clone()).unwrap_or_default()
    }

    /// A session with `peer` was open at `now_us`; `address` is where it was dialled, if it was.
    pub fn met(&mut self, peer: DeviceKey, address: Option<SocketAddr>, now_us: i64) {
        let known = self.peers.entry(peer).or_default();
        known.met_us = known.met_us.max(now_us);
        if let Some(address) = address {
            known.addresses.retain(|a| *a != address);
            known.addresses.insert(0, address);
            known.addresses.truncate(MAX_ADDRESSES);
        }
        self.save();
    }

    /// Both hold the same now: `held`. Written down when the session ends, or the next one begins.
    pub fn level(&mut self, peer: DeviceKey, held: &VersionVector, now_us: i64) {
        let known = self.peers.entry(peer).or_default();
        known.met_us = known.met_us.max(now_us);
        if known.held != *held {
            known.held.clone_from(held);
        }
    }

    /// Written beside it first, then renamed into place. Losing it only makes dialling slower, so it is not synced, and an
    /// error is only logged.
    fn save(&self) {
        let temporary = self.file.with_extension("json.new");
        let text = serde_json::to_vec_pretty(&self.peers).unwrap_or_default();
        let written = std::fs::write(&temporary, text).and_then(|()| std::fs::rename(&temporary, &self.file));
        if let Err(error) = written {
            tracing::debug!(%error, "the addresses of peers could not be kept: {error}");
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_newest_address_comes_first_and_survives() {
        let dir = tempfile::tempdir().unwrap();
        let key = DeviceKey([3; 32]);
        let at = |port| SocketAddr::from(([192, 168, 1, 20], port));
        let mut book = Addresses::load(dir.path());
        for port in 1..=6 {
            book.met(key, Some(at(port)), i64::from(port));
        }
        book.met(key, None, 99);
        let back = Addresses::load(dir.path());
        assert_eq!(back.of(&key), [at(6), at(5), at(4), at(3)]);
        assert_eq!(back.peers().next().unwrap().1.met_us, 99);
        std::fs::write(dir.path().join(FILE), b"{ torn").unwrap();
        assert!(Addresses::load(dir.path()).of(&key).is_empty());
    }
}
