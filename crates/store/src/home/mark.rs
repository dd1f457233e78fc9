//! The mark: where a home is, and which log it writes.
//!
//! The log is named here because the journal does not show it: once two copies of a home have met, each has the logs of both.
//!
//! The place is the machine, the file system, and the inode and birth time of the mark file itself. A rename keeps them. A
//! copy, a restored backup or another machine changes at least one: inodes are used again as soon as their file is gone, but no
//! copying tool can set a birth time. Of the machine only a hash is written. The file system is compared by its own identity
//! where it has one, and otherwise by the number of its device, which may change over a restart.
//!
//! ```text
//! mark 2 CRC            CRC32 of all that follows, as hex
//! machine HASH
//! device N
//! filesystem N
//! inode N
//! born N                when the mark file was made, in nanoseconds since 1970; 0 where the file system does not record it
//! log N                 the incarnation that this home writes
//! unsettled AT WHY      only while a new incarnation is due: the last entry of that log that this home certainly wrote
//!                       (`-`: no other copy is thought to write it), and why
//! ```
//!
//! All numbers are hex. A mark of the first kind has neither the first line nor the last three.
//!
//! A mark does not change when a disk is copied block by block and put in the place of the old one, or when a whole machine is
//! cloned with its machine id. Peers notice that: two entries claim one place.

use std::io;
use std::path::Path;

use super::small::read_small;
use crate::disk::{self, Disk, FilePlace};

/// Hash of what names the machine.
pub(super) type MachineHash = [u8; 8];

/// A new incarnation is due, and not begun yet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unsettled {
    /// The last entry of the log that this home had certainly written when the need was noticed. `None`: no other copy is
    /// thought to write the log.
    pub at: Option<u64>,
    /// Why, in plain words.
    pub why: String,
}

/// The log that a home writes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct WrittenLog {
    pub(super) incarnation: u64,
    pub(super) unsettled: Option<Unsettled>,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Mark {
    machine: MachineHash,
    /// `None` when the mark file is not there.
    place: Option<FilePlace>,
    /// `None` in a mark of the first kind.
    pub(super) written_log: Option<WrittenLog>,
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
            written_log: None,
        }
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
        let same_file = a.inode == b.inode && (a.born_ns == b.born_ns || a.born_ns == 0 || b.born_ns == 0);
        self.machine == other.machine && same_file && same_filesystem
    }

    /// Reads a mark; `None` when there is none or it is damaged.
    pub(super) fn read(path: &Path) -> Option<Self> {
        let text = read_small(path).ok()?;
        let Some(rest) = text.strip_prefix("mark 2 ") else {
            return Self::parse(&text);
        };
        let (crc, rest) = rest.split_once('\n')?;
        let good = u32::from_str_radix(crc, 16) == Ok(crc32fast::hash(rest.as_bytes()));
        let mark = Self::parse(rest).filter(|_| good)?;
        mark.written_log.is_some().then_some(mark)
    }

    fn parse(text: &str) -> Option<Self> {
        let mut fields = text.lines().map(|line| line.split_once(' '));
        let mut field = |name: &str| match fields.next()?? {
            (found, value) if found == name => u64::from_str_radix(value, 16).ok(),
            _ => None,
        };
        let machine = field("machine")?.to_be_bytes();
        let mut place = FilePlace {
            device: field("device")?,
            filesystem: field("filesystem")?,
            inode: field("inode")?,
            born_ns: 0,
        };
        let born_ns = field("born");
        place.born_ns = born_ns.unwrap_or(0);
        let incarnation = born_ns.and_then(|_| field("log"));
        let written_log = incarnation.map(|incarnation| WrittenLog {
            incarnation,
            unsettled: fields.next().flatten().and_then(Unsettled::parse),
        });
        Some(Self {
            machine,
            place: Some(place),
            written_log,
        })
    }

    /// Writes a mark that names its own place.
    pub(super) fn write(
        disk: &dyn Disk,
        path: &Path,
        machine: MachineHash,
        written_log: &WrittenLog,
    ) -> io::Result<()> {
        let temporary = path.with_extension("new");
        match disk.remove(&temporary) {
            Err(e) if e.kind() != io::ErrorKind::NotFound => return Err(e),
            _ => {}
        }
        // The inode is known only when the file exists, and a rename keeps it.
        let file = disk.create(&temporary)?;
        let FilePlace {
            device,
            filesystem,
            inode,
            born_ns,
        } = disk.place(&temporary)?;
        let machine = u64::from_be_bytes(machine);
        let mut text =
            format!("machine {machine:016x}\ndevice {device:x}\nfilesystem {filesystem:x}\ninode {inode:x}\n");
        text.push_str(&format!("born {born_ns:x}\nlog {:x}\n", written_log.incarnation));
        text.extend(written_log.unsettled.as_ref().map(Unsettled::line));
        let text = format!("mark 2 {:08x}\n{text}", crc32fast::hash(text.as_bytes()));
        disk::write_all(file.as_ref(), 0, text.as_bytes())?;
        file.sync()?;
        disk.rename(&temporary, path)?;
        disk::sync_parent(disk, path)
    }
}

impl Unsettled {
    fn line(&self) -> String {
        let at = self.at.map_or_else(|| "-".to_owned(), |at| format!("{at:x}"));
        format!("unsettled {at} {}\n", self.why.replace(['\n', '\r'], " "))
    }

    fn parse((name, rest): (&str, &str)) -> Option<Self> {
        let (at, why) = rest.split_once(' ').filter(|_| name == "unsettled")?;
        let why = why.to_owned();
        let at = match at {
            "-" => None,
            hex => Some(u64::from_str_radix(hex, 16).ok()?),
        };
        Some(Self { at, why })
    }
}

/// Machine ids should not leave their machine, so only a hash is stored.
pub(super) fn hash_machine(machine_id: &str) -> MachineHash {
    let hash = blake3::derive_key("gladhand 2026 mark of a home", machine_id.as_bytes());
    let [a, b, c, d, e, f, g, h, ..] = hash;
    [a, b, c, d, e, f, g, h]
}
