//! `DEVICE` or `DEVICE@SEQ`: what a device knew right after one of its entries.

use gladhand_facts::{DeviceKey, LogId};
use gladhand_node::{Node, Past};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::error::{AnswerError, ResolveError};
use crate::resolve;

/// A device, and the entry right after which its knowledge is shown.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct KnownMoment {
    /// The name of the device.
    pub device: String,
    /// The public key of the device.
    #[schemars(with = "String")]
    pub device_key: DeviceKey,
    /// The number of that entry in the log of the device.
    pub entry: u64,
    /// When that entry was written, by the device's own clock (RFC 3339).
    pub at: Option<String>,
    /// Whether that is the newest entry of the device that is held here.
    pub newest: bool,
    /// How many entries the device had then that are not held here: their facts are not shown.
    pub missing: u64,
}

/// A moment of a device, and what it knew then.
pub struct AskedMoment {
    /// Which moment that is.
    pub known: KnownMoment,
    /// What was known then.
    pub past: Past,
}

impl AskedMoment {
    /// Reads what is asked for. Without a number it is the newest entry that is here, on the device itself as well: what it
    /// has taken in since is not written in its log yet, and nodes that hold the same must answer the same.
    ///
    /// # Errors
    /// When there is no such device or entry, or when the store cannot be read.
    pub fn read(node: &Node, given: &str) -> Result<Self, AnswerError> {
        let (name, seq) = split(given)?;
        let device_key = resolve::device(node, name)?;
        let device = node.book().roster().name(&device_key);
        let (log, entry) = place(node, device_key, &device, seq)?;
        let past = node.past(&log, entry)?;
        let known = KnownMoment {
            device,
            device_key,
            entry,
            at: past.at().map(str::to_owned),
            newest: node.book().head(&log).0 == entry,
            missing: past.missing(),
        };
        Ok(Self { known, past })
    }
}

fn split(given: &str) -> Result<(&str, Option<u64>), ResolveError> {
    let Some((name, seq)) = given.rsplit_once('@') else {
        return Ok((given, None));
    };
    let seq = seq
        .parse::<u64>()
        .map_err(|_| ResolveError::NotAnEntry(seq.to_owned()))?;
    Ok((name, Some(seq)))
}

/// The place in the device's newest log; with a number, in the newest of its logs that goes so far.
fn place(node: &Node, device: DeviceKey, name: &str, seq: Option<u64>) -> Result<(LogId, u64), ResolveError> {
    let vector = node.book().vector();
    let logs: Vec<(LogId, u64)> = vector.iter().filter(|(log, _)| log.device == device).collect();
    let Some(longest) = logs.iter().map(|(_, head)| *head).max() else {
        return Err(ResolveError::NothingOf(name.to_owned()));
    };
    let reaches = |(_, head): &&(LogId, u64)| seq.is_none_or(|seq| (1..=*head).contains(&seq));
    let newest = logs.iter().filter(reaches).max_by_key(|(log, _)| log.incarnation);
    let found = newest.map(|(log, head)| (*log, seq.unwrap_or(*head)));
    found.ok_or_else(|| ResolveError::NoEntry {
        device: name.to_owned(),
        seq: seq.unwrap_or_default(),
        held: longest,
    })
}
