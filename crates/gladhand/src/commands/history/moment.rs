//! `DEVICE` or `DEVICE@SEQ`: whose knowledge, and after which of its entries.

use super::super::resolve;
use super::words::in_brackets;
use crate::failure::Failure;
use gladhand_facts::{DeviceKey, LogId};
use gladhand_node::{Node, Past};

/// A moment of a device.
pub struct AskedMoment {
    /// What the device is called.
    device: String,
    /// The entry after which it was.
    entry: u64,
    /// Whether that is the newest entry of the device that is here.
    is_newest: bool,
    /// What was known then.
    pub past: Past,
}

impl AskedMoment {
    /// Reads what the flag says. Without a number it is the newest entry that is here, on the device itself as well: what it
    /// has taken in since is not written in its log yet, and nodes that hold the same must answer the same.
    ///
    /// # Errors
    /// When there is no such device or entry.
    pub fn read(node: &Node, given: &str) -> Result<Self, Failure> {
        let (name, seq) = split(given)?;
        let device = resolve::device(node, name)?;
        let title = node.book().roster().name(&device);
        let (log, entry) = place(node, device, &title, seq)?;
        Ok(Self {
            device: title,
            entry,
            is_newest: node.book().head(&log).0 == entry,
            past: node.past(&log, entry)?,
        })
    }

    /// What this is, in a sentence.
    pub fn words(&self) -> String {
        let at = in_brackets(self.past.at());
        let newest = if self.is_newest {
            ", the newest that is here"
        } else {
            ""
        };
        let missing = match self.past.missing() {
            0 => String::new(),
            missing => format!(" {missing} of the entries that it had are not here."),
        };
        format!(
            "As {} knew it right after its entry {}{at}{newest}. What it took in later stands in its next entry.{missing}",
            self.device, self.entry
        )
    }
}

fn split(given: &str) -> Result<(&str, Option<u64>), Failure> {
    let Some((name, seq)) = given.rsplit_once('@') else {
        return Ok((given, None));
    };
    let seq = seq.parse::<u64>().map_err(|_| {
        Failure::bad_input(format!("--as-known-by: '{seq}' is not an entry number"))
            .hint("Write DEVICE@SEQ; `gladhand history --device DEVICE` shows the entry numbers.")
    })?;
    Ok((name, Some(seq)))
}

/// The place in the device's newest log; with a number, in the newest of its logs that goes so far.
fn place(node: &Node, device: DeviceKey, name: &str, seq: Option<u64>) -> Result<(LogId, u64), Failure> {
    let vector = node.book().vector();
    let logs: Vec<(LogId, u64)> = vector.iter().filter(|(log, _)| log.device == device).collect();
    let Some(longest) = logs.iter().map(|(_, head)| *head).max() else {
        return Err(
            Failure::bad_input(format!("--as-known-by: nothing that {name} wrote is here"))
                .hint("Merge with it first, or with somebody who has."),
        );
    };
    let reaches = |(_, head): &&(LogId, u64)| seq.is_none_or(|seq| (1..=*head).contains(&seq));
    let newest = logs.iter().filter(reaches).max_by_key(|(log, _)| log.incarnation);
    let found = newest.map(|(log, head)| (*log, seq.unwrap_or(*head)));
    found.ok_or_else(|| {
        let seq = seq.unwrap_or_default();
        Failure::bad_input(format!("--as-known-by: {name} has no entry {seq} here"))
            .hint(format!("Its entries 1 to {longest} are here."))
    })
}
