//! What waits on disk behind the gaps of logs: named as long as it waits, and let in when what was missing is there.
//!
//! Deliberately absent: any other gate than that for peers. What waits may have lain beside damage, so its chain and its signatures
//! are checked as if a peer had sent it.
//!
//! Invariant: what waited is appended again before it counts, so that the journal's order stays the order of arrival.

use std::collections::BTreeMap;

use gladhand_facts::LogId;
use gladhand_logbook::checkpoint::ENTRIES_PER_CHECKPOINT;
use gladhand_logbook::frame::{Frame, Source};
use gladhand_logbook::plan::{GROUP_ENTRIES, Group, Stretch};
use gladhand_store::{Gap, Journal};

use crate::error::NodeError;
use crate::node::Node;

/// Entries that are missing in a log, and those that wait behind them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OpenGap {
    /// Where.
    pub gap: Gap,
    /// The name of the device that wrote the log.
    pub name: String,
}

impl OpenGap {
    /// What is wrong, and what to do, in words.
    pub fn words(&self) -> String {
        let Gap { from, to, waiting, .. } = self.gap;
        let entries = |count: u64| if count == 1 { "entry" } else { "entries" };
        let wait = if waiting == 1 { "waits" } else { "wait" };
        if self.gap.missing() == 0 {
            return format!(
                "{waiting} {} from {from} on {wait} on disk and cannot be let in: a bundle or a meeting with any device that has \
                 them brings them back",
                entries(waiting)
            );
        }
        let missing = self.gap.missing();
        let which = if missing == 1 {
            format!("entry {from} is")
        } else {
            format!("{missing} entries ({from} to {to}) are")
        };
        let them = if missing == 1 {
            "it brings it"
        } else {
            "them brings them"
        };
        format!(
            "{which} missing, and {waiting} {} behind {wait} on disk: a bundle or a meeting with any device that has {them} back",
            entries(waiting)
        )
    }
}

struct WaitingSource<'j>(&'j Journal);

impl Source for WaitingSource<'_> {
    fn entries(&self, s: &Stretch) -> Option<Vec<Vec<u8>>> {
        let read = |seq| self.0.read_waiting(&s.log, seq).ok().flatten();
        (s.from..=s.to).map(read).collect()
    }

    fn checkpoint(&self, log: &LogId, seq: u64) -> Option<[u8; 64]> {
        let read = self.0.read_waiting_checkpoint(log, seq).ok().flatten()?;
        read.try_into().ok()
    }
}

impl Node {
    /// The gaps in logs behind which something waits.
    pub fn open_gaps(&self) -> Vec<OpenGap> {
        let name = |gap: Gap| OpenGap {
            gap,
            name: self.book.roster().name(&gap.log.device),
        };
        self.journal.gaps().into_iter().map(name).collect()
    }

    /// Lets in what waits though nothing before it is missing any more. Returns how many entries.
    ///
    /// What the gate refuses keeps waiting, and is named as long as it does.
    pub(crate) fn let_in_waiting(&mut self) -> Result<u64, NodeError> {
        let mut entries = 0;
        for group in groups(&self.journal) {
            let Ok(frame) = Frame::gather(&group, &WaitingSource(&self.journal)) else {
                // It cannot be read any more; the next open repairs or sets aside what is damaged.
                break;
            };
            let incoming = self.book.admit(&frame, &|_, _| None);
            if incoming.entries == 0 {
                break;
            }
            entries += incoming.entries;
            self.commit(incoming.new)?;
        }
        Ok(entries)
    }
}

/// What is ready, in groups in the order of arrival: so each comes after what it had seen.
fn groups(journal: &Journal) -> Vec<Group> {
    let mut groups = Vec::new();
    let mut open: BTreeMap<LogId, Stretch> = BTreeMap::new();
    let mut count = 0;
    for (log, seq) in journal.ready() {
        let stretch = open.entry(log).or_insert(Stretch {
            log,
            from: seq,
            to: seq,
            checkpoints: Vec::new(),
        });
        stretch.to = seq;
        count += 1;
        if journal.checkpoint_waits(&log, seq) {
            stretch.checkpoints.push(seq);
        }
        let is_signed = |stretch: &Stretch| stretch.checkpoints.last() == Some(&stretch.to);
        if count >= GROUP_ENTRIES && open.values().all(is_signed) {
            groups.push(close(std::mem::take(&mut open)));
            count = 0;
        }
    }
    groups.push(close(open));
    groups.retain(|group| !group.stretches.is_empty());
    groups
}

/// Each stretch ends with its last signature; of the others only the regular ones are checked, as in a frame from a peer.
fn close(open: BTreeMap<LogId, Stretch>) -> Group {
    let signed = |mut stretch: Stretch| {
        stretch.to = *stretch.checkpoints.last()?;
        let to = stretch.to;
        stretch
            .checkpoints
            .retain(|seq| *seq == to || seq.is_multiple_of(ENTRIES_PER_CHECKPOINT));
        Some(stretch)
    };
    Group {
        stretches: open.into_values().filter_map(signed).collect(),
    }
}
