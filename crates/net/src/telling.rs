//! What the log says of sessions: who came, who left, and what that brought.
//!
//! It says that a peer left only when the peer is gone: not when a session is begun anew, when two cross, or when this side
//! ends one.

use crate::ending::{End, Tally};
use crate::hub::Hub;
use crate::packet::Why;
use crate::session::Meeting;

/// Both sides hold the same for the first time in this session.
pub(crate) fn came(hub: &Hub, meeting: &Meeting, tally: &mut Tally) {
    let (peer, name) = (meeting.peer.short(), hub.name_of(&meeting.peer));
    let Tally {
        entries_in,
        entries_out,
        ..
    } = *tally;
    tally.told_in = entries_in;
    let entries = match (entries_in, entries_out) {
        (0, 0) => "nothing new".to_owned(),
        (0, sent) => format!("{} sent", counted(sent)),
        (new, 0) => counted(new),
        (new, sent) => format!("{}, {sent} sent", counted(new)),
    };
    if meeting.dialled.is_some() {
        tracing::info!(peer, name, entries_in, entries_out, "reached {name}, {entries}");
    } else {
        tracing::info!(peer, name, entries_in, entries_out, "{name} came, {entries}");
    }
}

/// The session has ended.
pub(crate) fn left(hub: &Hub, meeting: &Meeting, tally: &Tally, end: &End) {
    let (peer, name) = (meeting.peer.short(), hub.name_of(&meeting.peer));
    let is_gone = match end {
        End::Connection(_) => true,
        End::Bye { why, .. } => matches!(why, Why::Closing | Why::Trouble),
        _ => false,
    };
    match end {
        End::Node(error) => tracing::warn!(peer, name, %error, "the session with {name} had to end: {error}"),
        end if is_gone && tally.level && !meeting.once => {
            let entries_in = tally.entries_in.saturating_sub(tally.told_in);
            let since = match entries_in {
                0 => String::new(),
                new => format!(", {} since it came", counted(new)),
            };
            tracing::info!(peer, name, entries_in, %end, "{name} left{since}");
        }
        end => tracing::debug!(peer, name, %end, "the session with {name} is over: {end}"),
    }
}

fn counted(entries: u64) -> String {
    format!("{entries} {}", if entries == 1 { "entry" } else { "entries" })
}
