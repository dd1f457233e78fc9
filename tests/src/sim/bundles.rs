//! Bundles from hand to hand: written for anybody, read by anybody, in any order, whole or mangled.

use std::path::PathBuf;

use gladhand_facts::VersionVector;
use gladhand_logbook::bundle::{MAGIC, PART_HEAD_BYTES, PartHead};
use gladhand_node::Silent;

use super::World;

/// A file that lies around.
pub struct Stick {
    path: PathBuf,
    name: String,
    whole: bool,
}

impl World {
    /// Somebody writes a bundle.
    pub(super) fn write_stick(&mut self) {
        let at = self.any();
        let troubled = self.devices[at].is_troubled();
        let since = if self.rng.percent(60) {
            VersionVector::new()
        } else {
            let other = self.any();
            self.devices[other].held.clone()
        };
        let number = self.sticks.len() + 1;
        let path = self.dir.join(format!("{number}.bundle"));
        let Some(node) = self.devices[at].node.as_mut() else {
            return;
        };
        let written = node.write_bundle(&path, &since, &Silent);
        let name = format!("bundle {number} of {}", self.devices[at].name);
        match written {
            Ok(done) => {
                self.tell(format!("{name} is written: {} entries", done.entries));
                self.sticks.push(Stick {
                    path,
                    name,
                    whole: true,
                });
                if self.rng.percent(25) {
                    self.mangle();
                }
            }
            Err(error) => {
                assert!(troubled, "{name} cannot be written from a healthy disk: {error}");
                self.tally.failed_calls += 1;
                self.tell(format!("{name} cannot be written: {error}"));
            }
        }
    }

    /// The newest bundle is cut, flipped, shuffled or sewn together from two.
    fn mangle(&mut self) {
        let Some(Stick { path, name, .. }) = self.sticks.last() else {
            return;
        };
        let (path, mut name) = (path.clone(), name.clone());
        let mut bytes = std::fs::read(&path).unwrap();
        let how = match self.rng.below(4) {
            0 => {
                bytes.truncate(self.rng.below(bytes.len()));
                "cut"
            }
            1 => {
                let at = self.rng.below(bytes.len());
                bytes[at] ^= 1 << self.rng.below(8);
                "flipped in one bit"
            }
            2 => {
                let mut parts = parts(&bytes);
                if let Some(rest) = parts.get_mut(1..) {
                    self.rng.shuffle(rest);
                }
                bytes = [MAGIC.to_vec(), parts.concat()].concat();
                "in another order"
            }
            _ => {
                let other = self.rng.below(self.sticks.len());
                let other = std::fs::read(&self.sticks[other].path).unwrap();
                bytes.truncate(self.rng.below(bytes.len()));
                bytes.extend_from_slice(&other[self.rng.below(other.len().max(1)).min(other.len())..]);
                "sewn together with another"
            }
        };
        std::fs::write(&path, bytes).unwrap();
        name = format!("{name}, {how}");
        self.tell(format!("    it is {how}"));
        if let Some(stick) = self.sticks.last_mut() {
            (stick.name, stick.whole) = (name, false);
        }
    }

    /// Somebody reads one of the bundles.
    pub(super) fn read_stick(&mut self) {
        if self.sticks.is_empty() {
            return;
        }
        let at = self.any();
        let stick = self.rng.below(self.sticks.len());
        let Stick { path, name, whole } = &self.sticks[stick];
        let (path, name, whole) = (path.clone(), name.clone(), *whole);
        let troubled = self.devices[at].is_troubled();
        let Some(node) = self.devices[at].node.as_mut() else {
            return;
        };
        let read = node.read_bundle(&path, &Silent);
        self.tally.bundles += 1;
        self.tally.mangled += u64::from(!whole);
        let told = match read {
            Ok(done) => format!("brought {} entries, refused {}", done.entries, done.refused.len()),
            Err(error) => {
                assert!(troubled || !whole, "{name} cannot be read on a healthy disk: {error}");
                self.tally.failed_calls += u64::from(troubled);
                // The message names the folder, which is another one each time.
                "is refused".into()
            }
        };
        self.tell(format!("{} reads {name}: {told}", self.devices[at].name));
        self.devices[at].look();
        self.grown(at, None);
    }
}

/// The parts of a bundle, heads included.
fn parts(bytes: &[u8]) -> Vec<Vec<u8>> {
    let mut found = Vec::new();
    let mut at = MAGIC.len();
    while let Some(head) = bytes.get(at..).and_then(|rest| rest.first_chunk::<PART_HEAD_BYTES>()) {
        let Ok(head) = PartHead::parse(head, at as u64) else {
            break;
        };
        let end = at + PART_HEAD_BYTES + head.length as usize;
        let Some(part) = bytes.get(at..end) else { break };
        found.push(part.to_vec());
        at = end;
    }
    found
}
