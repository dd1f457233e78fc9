//! The addresses at which peers were reached, in `<home>/peers.json`: a laptop finds its depot again before discovery does.
//!
//! The file is only a hint. If it cannot be read or parsed it counts as empty, and only dialling becomes slower. It grants no
//! trust: a device that is not on the roster is never dialled because it is in this file.
//!
//! Invariant: only addresses that this side dialled with success are kept, the newest first.

use std::collections::BTreeMap;
use std::fs::OpenOptions;
use std::io::Write;
use std::net::SocketAddr;
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};

use gladhand_facts::{DeviceKey, LogId, VersionVector};
use serde::{Deserialize, Serialize};

const FILE: &str = "peers.json";
/// Addresses kept for each peer.
const MAX_ADDRESSES: usize = 4;
/// The longest file that is read.
const MAX_FILE_BYTES: u64 = 1 << 20;

/// What is kept about a peer.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct KnownPeer {
    /// The addresses at which it was reached, the newest first.
    #[serde(default)]
    pub addresses: Vec<SocketAddr>,
    /// When a session with it was last open, in microseconds since 1970.
    #[serde(default)]
    pub met_us: i64,
    /// What it held when both sides were last in sync.
    #[serde(default)]
    pub held: VersionVector,
}

/// The known addresses of all peers.
#[derive(Debug)]
pub struct Addresses {
    file: PathBuf,
    peers: BTreeMap<DeviceKey, KnownPeer>,
}

impl Addresses {
    /// Reads the addresses of the home at `home`.
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

    /// All known peers.
    pub fn peers(&self) -> impl Iterator<Item = (&DeviceKey, &KnownPeer)> {
        self.peers.iter()
    }

    /// The addresses at which `peer` was reached.
    pub fn of(&self, peer: &DeviceKey) -> Vec<SocketAddr> {
        self.peers.get(peer).map(|k| k.addresses.clone()).unwrap_or_default()
    }

    /// The last entry of `log` that `peer` held when both sides were last in sync.
    pub fn held_by(&self, peer: &DeviceKey, log: &LogId) -> u64 {
        self.peers.get(peer).map_or(0, |known| known.held.get(log))
    }

    /// Notes that a session with `peer` was open at `now_us`, and at which `address` it was dialled, if it was.
    pub fn note_session(&mut self, peer: DeviceKey, address: Option<SocketAddr>, now_us: i64) {
        let known = self.peers.entry(peer).or_default();
        known.met_us = known.met_us.max(now_us);
        if let Some(address) = address {
            known.addresses.retain(|a| *a != address);
            known.addresses.insert(0, address);
            known.addresses.truncate(MAX_ADDRESSES);
        }
        self.save();
    }

    /// Notes that both sides are in sync and hold `held`. Saved when the session ends or the next one begins: this is called
    /// after every exchange, and a write each time would cost more than the note is worth.
    pub fn note_in_sync(&mut self, peer: DeviceKey, held: &VersionVector, now_us: i64) {
        let known = self.peers.entry(peer).or_default();
        known.met_us = known.met_us.max(now_us);
        if known.held != *held {
            known.held.clone_from(held);
        }
    }

    /// Writes a temporary file and renames it into place. Losing the file only makes dialling slower, so there is no fsync, and
    /// an error is only logged.
    fn save(&self) {
        let temporary = self.file.with_extension("json.new");
        let written = serde_json::to_vec_pretty(&self.peers)
            .map_err(std::io::Error::from)
            .and_then(|text| write_private(&temporary, &text))
            .and_then(|()| std::fs::rename(&temporary, &self.file));
        if let Err(error) = written {
            tracing::debug!(%error, "the addresses of peers could not be kept: {error}");
        }
    }
}

/// Writes a file that only its owner can read: it says whom this device meets and where. One that an ended process left behind
/// may be readable by others, so it is made anew.
fn write_private(file: &Path, text: &[u8]) -> std::io::Result<()> {
    match std::fs::remove_file(file) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => return Err(error),
        _ => {}
    }
    let mut options = OpenOptions::new();
    options
        .write(true)
        .create_new(true)
        .mode(0o600)
        .open(file)?
        .write_all(text)
}

/// The addresses at which a device was discovered, the newest first. Anybody on the link can claim to be any device, so a new
/// announcement replaces nothing: it is merged, and only the oldest addresses are forgotten.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct FoundAddresses(Vec<SocketAddr>);

impl FoundAddresses {
    /// Addresses taken from one announcement. A liar needs several of them to displace a true one.
    const FROM_ONE: usize = 4;
    /// Addresses kept.
    const MAX: usize = 16;

    /// Merges an announcement.
    pub fn merge(&mut self, announced: &[SocketAddr]) {
        let new: Vec<_> = announced.iter().take(Self::FROM_ONE).copied().collect();
        self.0.retain(|address| !new.contains(address));
        self.0.splice(0..0, new);
        self.0.truncate(Self::MAX);
    }

    /// The addresses.
    pub fn iter(&self) -> impl Iterator<Item = SocketAddr> {
        self.0.iter().copied()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::os::unix::fs::PermissionsExt;

    #[test]
    fn who_claims_to_be_a_device_replaces_none_of_its_addresses() {
        let at = |n: u8| SocketAddr::from(([192, 168, 1, n], 7401));
        let mut found = FoundAddresses::default();
        found.merge(&[at(1), at(2)]);
        found.merge(&(100..200).map(at).collect::<Vec<_>>());
        assert_eq!(
            found.iter().collect::<Vec<_>>(),
            [at(100), at(101), at(102), at(103), at(1), at(2)]
        );
        found.merge(&[at(2)]);
        assert_eq!(
            found.iter().next(),
            Some(at(2)),
            "what is announced again is the newest"
        );
        for n in 10..60 {
            found.merge(&[at(n)]);
        }
        assert_eq!(found.iter().count(), FoundAddresses::MAX);
    }

    #[test]
    fn the_newest_address_comes_first_and_survives() {
        let dir = tempfile::tempdir().unwrap();
        let key = DeviceKey([3; 32]);
        let at = |port| SocketAddr::from(([192, 168, 1, 20], port));
        let mut book = Addresses::load(dir.path());
        for port in 1..=6 {
            book.note_session(key, Some(at(port)), i64::from(port));
        }
        book.note_session(key, None, 99);
        let back = Addresses::load(dir.path());
        assert_eq!(back.of(&key), [at(6), at(5), at(4), at(3)]);
        assert_eq!(back.peers().next().unwrap().1.met_us, 99);
        let file = dir.path().join(FILE);
        let mode = || std::fs::metadata(&file).unwrap().permissions().mode() & 0o777;
        assert_eq!(mode(), 0o600);
        // An older version let everybody read it, and may have left its temporary file.
        for left in [&file, &file.with_extension("json.new")] {
            std::fs::write(left, b"{}").unwrap();
            std::fs::set_permissions(left, std::fs::Permissions::from_mode(0o644)).unwrap();
        }
        book.note_session(key, None, 100);
        assert_eq!(mode(), 0o600);
        std::fs::write(&file, b"{ torn").unwrap();
        assert!(Addresses::load(dir.path()).of(&key).is_empty());
    }
}
