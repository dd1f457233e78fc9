//! Real daemons, real sockets: how a daemon lives, what it does for commands, its inbox, and how it meets others.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

mod commands;
mod figures;
mod inbox;
mod inbox_pictures;
mod life;
mod network;
mod other_user;
mod peers;
mod refusing_disk;
mod small_disk;
mod status;

/// A fact line: a note of this text.
fn note_line(text: &str) -> String {
    format!("{{\"kind\":\"note\",\"text\":\"{text}\",\"at\":\"2026-03-02T08:00:00Z\"}}\n")
}
