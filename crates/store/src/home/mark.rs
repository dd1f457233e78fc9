//! Where a home stands: the machine, the file system, and the inode of the mark file itself; and which log it writes there.
//!
//! The log is named here because the journal cannot tell: once two copies of a home have met, each holds the logs of both.
//! Its number has a checksum of its own, for every number is some log. A mark of before has no such line.
//!
//! A rename keeps all three. A copy, a restored backup or another machine changes at least one. Of the
//! machine only a hash is written. The file system is compared by its own identity where it has one, and
//! by the number of its device otherwise: device numbers may change over a restart.
//!
//! What a mark cannot notice: a disk copied block by block and put in place of the old one on the same
//! machine, or a whole machine cloned with its machine id. The peers notice: two entries at one place.

use std::io;
use std::path::Path;

use super::read_small;
use crate::disk::{self, Disk, FilePlace};

/// Hash of what names the machine.
pub(super) type MachineHash = [u8; 8];

#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Mark {
    machine: MachineHash,
    /// `None` when the mark file is not there.
    place: Option<FilePlace>,
    /// The incarnation of the log that the home writes.
    writes: Option<u64>,
}

impl Mark {
    /// The place where the mark file is now.
    pub(super) fn of(disk: &dyn Disk, path: &Path, machine_id: &str) -> Self {
        Self::of_hashed(disk, path, hash_machine(machine_id))
    }

    pub(super) fn of_hashed(disk: &dyn Disk, path: &Path, machine: MachineHash) -> Self {
        Self {
            machine,
            place: disk.place(path).ok(),
            writes: None,
        }
    }

    pub(super) fn writes(&self) -> Option<u64> {
        self.writes
    }

    pub(super) fn machine(&self) -> MachineHash {
        self.machine
    }

    pub(super) fn is_same_place(&self, other: &Self) -> bool {
        let (Some(a), Some(b)) = (self.place, other.place) else {
            return false;
        };
        let same_filesystem = match (a.filesystem, b.filesystem) {
            (0, _) | (_, 0) => a.device == b.device,
            (a, b) => a == b,
        };
        self.machine == other.machine && a.inode == b.inode && same_filesystem
    }

    /// Reads a mark; `None` when there is none or it is damaged.
    pub(super) fn read(path: &Path) -> Option<Self> {
        let text = read_small(path).ok()?;
        let mut fields = text.lines().map(|line| line.split_once(' '));
        let mut field = |name: &str| match fields.next()?? {
            (found, value) if found == name => u64::from_str_radix(value, 16).ok(),
            _ => None,
        };
        let machine = field("machine")?.to_be_bytes();
        let place = FilePlace {
            device: field("device")?,
            filesystem: field("filesystem")?,
            inode: field("inode")?,
        };
        let writes = match fields.next() {
            None => None,
            Some(line) => Some(line.and_then(read_writes)?),
        };
        Some(Self {
            machine,
            place: Some(place),
            writes,
        })
    }

    /// Writes a mark that names its own place.
    pub(super) fn write(disk: &dyn Disk, path: &Path, machine: MachineHash, writes: Option<u64>) -> io::Result<()> {
        let temporary = path.with_extension("new");
        match disk.remove(&temporary) {
            Err(e) if e.kind() != io::ErrorKind::NotFound => return Err(e),
            _ => {}
        }
        // The inode is known only once the file is there, and stays when it is renamed.
        let file = disk.create(&temporary)?;
        let FilePlace {
            device,
            filesystem,
            inode,
        } = disk.place(&temporary)?;
        let machine = u64::from_be_bytes(machine);
        let mut text =
            format!("machine {machine:016x}\ndevice {device:x}\nfilesystem {filesystem:x}\ninode {inode:x}\n");
        if let Some(incarnation) = writes {
            let sum = crc32fast::hash(&incarnation.to_be_bytes());
            text.push_str(&format!("writes {incarnation:x}-{sum:08x}\n"));
        }
        disk::write_all(file.as_ref(), 0, text.as_bytes())?;
        file.sync()?;
        disk.rename(&temporary, path)?;
        disk::sync_parent(disk, path)
    }
}

fn read_writes(field: (&str, &str)) -> Option<u64> {
    let (number, sum) = field.1.split_once('-')?;
    let incarnation = u64::from_str_radix(number, 16).ok()?;
    let good = format!("{:08x}", crc32fast::hash(&incarnation.to_be_bytes())) == sum;
    (field.0 == "writes" && good).then_some(incarnation)
}

/// A machine id is meant to stay on its machine, so only a hash of it is stored.
pub(super) fn hash_machine(machine_id: &str) -> MachineHash {
    let hash = blake3::derive_key("gladhand 2026 mark of a home", machine_id.as_bytes());
    let [a, b, c, d, e, f, g, h, ..] = hash;
    [a, b, c, d, e, f, g, h]
}
