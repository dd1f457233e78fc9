//! Log lines of sessions: a peer is in sync for the first time, a session has ended.
//!
//! Invariant: it logs that a peer left only when the peer is gone, not when a session is begun anew, when two dials cross, or
//! when this side ends the session.

use crate::ending::{End, Tally};
use crate::hub::Hub;
use crate::packet::ByeReason;
use crate::session::SessionSetup;

/// Logs that both sides are in sync for the first time in this session.
pub(crate) fn in_sync(hub: &Hub, setup: &SessionSetup, tally: &mut Tally) {
    let (peer, name) = (setup.peer.short(), hub.name_of(&setup.peer));
    let Tally {
        entries_in,
        entries_out,
        ..
    } = *tally;
    tally.logged_in = entries_in;
    let entries = match (entries_in, entries_out) {
        (0, 0) => "nothing new".to_owned(),
        (0, sent) => format!("{} sent", counted(sent)),
        (new, 0) => counted(new),
        (new, sent) => format!("{}, {sent} sent", counted(new)),
    };
    if setup.dialled.is_some() {
        tracing::info!(peer, name, entries_in, entries_out, "reached {name}, {entries}");
    } else {
        tracing::info!(peer, name, entries_in, entries_out, "{name} came, {entries}");
    }
}

/// Logs the end of a session.
pub(crate) fn ended(hub: &Hub, setup: &SessionSetup, tally: &Tally, end: &End) {
    let (peer, name) = (setup.peer.short(), hub.name_of(&setup.peer));
    let is_gone = match end {
        End::Connection(_) => true,
        End::Bye { why, .. } => matches!(why, ByeReason::Closing | ByeReason::Trouble),
        _ => false,
    };
    match end {
        End::Node(error) => tracing::warn!(peer, name, %error, "the session with {name} had to end: {error}"),
        end if is_gone && tally.level && !setup.once => {
            let entries_in = tally.entries_in.saturating_sub(tally.logged_in);
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
