//! What this node holds, and what each known device is known to hold and to lack.
//!
//! What only sessions and the daemon know (whom they met, counters) is handed in: this crate knows no network.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use gladhand_facts::{DeviceKey, VersionVector};
use gladhand_node::environment::text_of;
use gladhand_node::{Node, NodeError, Role};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::gap_in_log::{GapInLog, gap_in_log};
use crate::text;

/// When a peer was last met, and what it held when both last held the same.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Met {
    /// When a session with it was last open, in microseconds since 1970; 0: never.
    pub met_us: i64,
    /// What it held then.
    pub held: VersionVector,
}

/// What the network adds.
#[derive(Debug, Clone, Default)]
pub struct FromNetwork {
    /// Peers that sessions met.
    pub met: BTreeMap<DeviceKey, Met>,
    /// Counters since the daemon's start; `None` without a daemon.
    pub counters: Option<BTreeMap<String, u64>>,
    /// Why each file waits in the inbox; `None` without a daemon.
    pub inbox: Option<BTreeMap<String, String>>,
}

/// What this node holds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Status {
    /// What a tired person wants to know first, in a sentence.
    pub summary: String,
    /// What the device is called.
    pub name: String,
    /// What it is for: an installer's laptop, or a depot that enrols others.
    #[schemars(extend("enum" = ["depot", "laptop"]))]
    pub role: String,
    /// The device's public key.
    #[schemars(with = "String")]
    pub device: DeviceKey,
    /// The home folder.
    pub home: PathBuf,
    /// The depot's public key; null before joining one.
    #[schemars(with = "Option<String>")]
    pub depot: Option<DeviceKey>,
    /// The depot's name; null before joining one.
    pub depot_name: Option<String>,
    /// The version of the work standard in force.
    pub standard: String,
    /// How many entries are held, over all logs.
    pub entries: u64,
    /// For each log (`KEY.INCARNATION`) the number of the last entry that is held.
    pub vector: BTreeMap<String, u64>,
    /// `vector` as one word, for `bundle write --since`.
    pub since: String,
    /// Each known device: this one first, then the one that was met longest ago, or never.
    pub devices: Vec<Device>,
    /// How many entries are known to exist that are not here.
    pub entries_missing: u64,
    /// The gaps in logs behind which entries wait.
    pub gaps: Vec<GapInLog>,
    /// How many files wait in the inbox.
    pub inbox_waiting: u64,
    /// These files, each with why it waits.
    pub inbox: Vec<InboxFile>,
    /// The names of the files in `inbox/rejected`, which hold lines that were no facts.
    pub rejected: Vec<String>,
    /// What was set aside, and whose it is.
    pub quarantine: Vec<SetAside>,
    /// The names of the files that are kept as evidence of damage, forks and refusals.
    pub evidence: Vec<String>,
    /// How many pictures facts name that are not here.
    pub pictures_missing: u64,
    /// Counters of the network since the daemon's start; null without a daemon.
    pub network: Option<BTreeMap<String, u64>>,
    /// Entries whose content does not read: where they stand, and why.
    pub unreadable: Vec<String>,
    /// Bytes of the journal on the disk.
    pub disk_bytes: u64,
    /// Free bytes on the disk; null where the system does not tell.
    pub disk_free_bytes: Option<u64>,
    /// Nothing is written that would leave less than this free, in bytes.
    pub disk_floor_bytes: u64,
    /// Whether the disk takes no writes at all.
    pub disk_read_only: bool,
}

/// A file that waits in the inbox.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct InboxFile {
    /// Its name.
    pub file: String,
    /// Why it waits.
    pub why: String,
}

/// A device, as far as it is known here.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Device {
    /// What it is called.
    pub name: String,
    /// Its public key.
    #[schemars(with = "String")]
    pub device: DeviceKey,
    /// Who works with it; empty where that is not known.
    pub person: String,
    /// How it stands with the depot.
    pub standing: DeviceStanding,
    /// Whether it is this device.
    pub this: bool,
    /// How many of its own entries are held here.
    pub entries_here: u64,
    /// How many entries that are held here it may lack, as far as is known.
    pub known_to_lack: u64,
    /// How many of its entries are known to exist and are not here.
    pub lacking_here: u64,
    /// When a session with it was last open (RFC 3339); null when none was.
    pub met: Option<String>,
    /// Its clock beside this device's, as last measured; null when it was never measured.
    pub clock: Option<Clock>,
}

/// How a device stands with the depot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub enum DeviceStanding {
    /// The depot itself.
    #[serde(rename = "depot")]
    Depot,
    /// Taken off the roster.
    #[serde(rename = "retired")]
    Retired,
    /// On the roster.
    #[serde(rename = "enrolled")]
    Enrolled,
    /// It shows a good invite, and the depot has not met it.
    #[serde(rename = "invited")]
    Invited,
    /// None of these.
    #[serde(rename = "not enrolled")]
    NotEnrolled,
}

/// Another device's clock beside this one's.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Clock {
    /// By how much it is ahead, in microseconds.
    pub ahead_us: i64,
    /// How far that may be off either way, in microseconds.
    pub uncertainty_us: i64,
    /// When it was measured (RFC 3339).
    pub at: String,
}

/// Why something was set aside.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum SetAsideWhy {
    /// Its writer, or what it says, is not accepted here.
    Refused,
    /// It is another branch of a forked log.
    Forked,
}

/// Something that was set aside, with the signed original as evidence.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct SetAside {
    /// The public key of the device that wrote it; null where that device is not known.
    #[schemars(with = "Option<String>")]
    pub device: Option<DeviceKey>,
    /// The name of that device; where it is not known, the beginning of its key.
    pub name: String,
    /// Why it was set aside.
    pub why: SetAsideWhy,
    /// The file in which it is kept.
    pub file: PathBuf,
}

/// The status, with what the network adds.
///
/// # Errors
/// When the store cannot be read.
pub fn status(node: &Node, network: &FromNetwork) -> Result<Status, NodeError> {
    let pictures_missing = node.pictures_missing()?;
    let layout = node.home().layout();
    let (roster, vector) = (node.book().roster(), node.book().vector());
    let gaps = node.open_gaps();
    let mut known = known_anywhere(&vector, network);
    gaps.iter().for_each(|open| known.advance(open.gap.log, open.gap.to));
    let device = |key: DeviceKey| device(node, &vector, &known, &key, network.met.get(&key));
    let devices = oldest_meeting_first(devices(node).into_iter().map(device).collect());
    let inbox = inbox(&layout.inbox(), network.inbox.as_ref());
    let evidence = files_in(&layout.evidence());
    let mut status = Status {
        summary: String::new(),
        name: node.config().name.clone(),
        role: if node.config().role == Role::Depot {
            "depot"
        } else {
            "laptop"
        }
        .to_owned(),
        device: node.device(),
        home: layout.path().to_path_buf(),
        depot: roster.root(),
        depot_name: roster.root().map(|root| roster.name(&root)),
        standard: node.standard().version().to_owned(),
        entries: vector.entries(),
        vector: vector.iter().map(|(log, seq)| (log.to_string(), seq)).collect(),
        since: vector.to_string(),
        entries_missing: devices.iter().map(|device| device.lacking_here).sum(),
        devices,
        gaps: gaps.iter().map(gap_in_log).collect(),
        inbox_waiting: inbox.len() as u64,
        inbox,
        rejected: files_in(&layout.inbox_rejected()),
        quarantine: quarantine(node, &evidence),
        evidence,
        pictures_missing,
        network: network.counters.clone(),
        unreadable: node.problems()?,
        disk_bytes: node.journal().disk_bytes(),
        disk_free_bytes: node.journal().free_bytes().ok(),
        disk_floor_bytes: node.config().disk_floor_mib << 20,
        disk_read_only: node.journal().is_read_only(),
    };
    status.summary = text::status::summary(&status);
    Ok(status)
}

impl Status {
    /// This device.
    pub fn this(&self) -> Option<&Device> {
        self.devices.iter().find(|device| device.this)
    }
}

/// What was set aside and whose it is, read from the names of the files that hold it.
fn quarantine(node: &Node, evidence: &[String]) -> Vec<SetAside> {
    let roster = node.book().roster();
    let dir = node.home().layout().evidence();
    let one = |name: &String| {
        let (why, rest) = name.split_once('-')?;
        let why = match why {
            "refused" => SetAsideWhy::Refused,
            "fork" => SetAsideWhy::Forked,
            _ => return None,
        };
        let short = rest.split('-').next()?;
        let device = roster.devices().into_iter().find(|d| d.short() == short);
        Some(SetAside {
            device,
            name: device.map_or_else(|| short.to_owned(), |d| roster.name(&d)),
            why,
            file: dir.join(name),
        })
    };
    evidence.iter().filter_map(one).collect()
}

fn devices(node: &Node) -> Vec<DeviceKey> {
    let mut all = node.book().roster().devices();
    all.push(node.device());
    all.sort_unstable();
    all.dedup();
    all
}

/// What is known to exist: what is here, and what peers held when they were last met.
fn known_anywhere(vector: &VersionVector, network: &FromNetwork) -> VersionVector {
    let mut known = vector.clone();
    network.met.values().for_each(|met| known.merge(&met.held));
    known
}

/// Who was never met, or longest ago, needs a meeting most.
fn oldest_meeting_first(mut devices: Vec<Device>) -> Vec<Device> {
    devices.sort_by(|a, b| (!a.this, &a.met, &a.name).cmp(&(!b.this, &b.met, &b.name)));
    devices
}

fn device(
    node: &Node,
    vector: &VersionVector,
    known_anywhere: &VersionVector,
    device: &DeviceKey,
    met: Option<&Met>,
) -> Device {
    let roster = node.book().roster();
    let this = *device == node.device();
    let mut known = if this {
        vector.clone()
    } else {
        gladhand_logbook::branches::surely_held_by(node.book(), device)
    };
    // A session knows what the home at its other end holds. Of a device with copies that is only one of them.
    let single = vector.iter().filter(|(log, _)| log.device == *device).count() <= 1;
    if let Some(met) = met.filter(|_| single) {
        known.merge(&met.held);
    }
    let held = vector.iter().filter(|(log, _)| log.device == *device);
    let known_here = known.iter().map(|(log, seq)| seq.min(vector.get(&log))).sum();
    Device {
        name: roster.name(device),
        device: *device,
        person: roster.person(device),
        standing: standing(node, device),
        this,
        entries_here: held.map(|(_, seq)| seq).sum(),
        known_to_lack: vector.entries().saturating_sub(known_here),
        lacking_here: known_anywhere
            .iter()
            .filter(|(log, _)| log.device == *device)
            .map(|(log, seq)| seq.saturating_sub(vector.get(&log)))
            .sum(),
        met: met.filter(|m| m.met_us > 0).map(|m| text_of(m.met_us)),
        clock: clock(node, device).filter(|_| !this),
    }
}

fn clock(node: &Node, device: &DeviceKey) -> Option<Clock> {
    let reading = node.clock_against(device)?;
    Some(Clock {
        ahead_us: reading.offset_us,
        uncertainty_us: reading.delay_us / 2,
        at: text_of(reading.at_us),
    })
}

fn standing(node: &Node, device: &DeviceKey) -> DeviceStanding {
    let roster = node.book().roster();
    if roster.root() == Some(*device) {
        DeviceStanding::Depot
    } else if roster.retired(device).is_some() || (*device == node.device() && node.is_retired()) {
        DeviceStanding::Retired
    } else if roster.is_enrolled(device) {
        DeviceStanding::Enrolled
    } else if roster.admits(device).is_ok() {
        DeviceStanding::Invited
    } else {
        DeviceStanding::NotEnrolled
    }
}

/// The files of the inbox, each with why it waits, as the daemon knows it.
fn inbox(dir: &Path, known: Option<&BTreeMap<String, String>>) -> Vec<InboxFile> {
    let listed = std::fs::read_dir(dir).into_iter().flat_map(Iterator::flatten);
    let files = listed.filter(|entry| entry.path().is_file());
    let mut names: Vec<String> = files.map(|e| e.file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    let why = |name: &String| match known {
        None => "no daemon reads it: run `gladhand serve`".to_owned(),
        Some(known) => known
            .get(name)
            .cloned()
            .unwrap_or_else(|| "it has just come".to_owned()),
    };
    names
        .into_iter()
        .map(|file| InboxFile { why: why(&file), file })
        .collect()
}

fn files_in(dir: &Path) -> Vec<String> {
    let listed = std::fs::read_dir(dir).into_iter().flat_map(Iterator::flatten);
    let mut names: Vec<String> = listed.map(|e| e.file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}
