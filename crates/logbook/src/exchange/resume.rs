//! Where a session resumes: what each side says it holds, and what is therefore not sent.

use std::collections::BTreeMap;

use gladhand_facts::{LogId, VersionVector};

use super::message::{HeadMark, Held, vector_of};
use crate::book::Book;

/// What is held, with the logs of retired devices counted as held to their end where their last entry that counts is held.
pub(super) fn held_or_unwanted(book: &Book) -> BTreeMap<LogId, Held> {
    let held = |(log, seq): (LogId, u64)| {
        let cut = book.roster().retired(&log.device);
        let wants_no_more = cut.is_some_and(|cut| cut.get(&log) <= seq);
        let seq = if wants_no_more { u64::MAX } else { seq };
        let head = mark_of(book, &log);
        (log, Held { seq, head })
    };
    book.vector().iter().map(held).collect()
}

fn mark_of(book: &Book, log: &LogId) -> HeadMark {
    let [a, b, c, d, e, f, g, h, ..] = book.head(log).1.0;
    [a, b, c, d, e, f, g, h]
}

/// The vector of what the peer holds. A log whose head differs from ours at the same place is cut back before its last signed
/// stretch: so the peer is sent our signed end, which is the evidence of the fork.
pub(super) fn without_forks(book: &Book, held: &BTreeMap<LogId, Held>) -> VersionVector {
    let mut theirs = vector_of(held);
    for (log, head) in book.vector().iter() {
        let is_other_branch = |held: &Held| held.seq == head && held.head != mark_of(book, &log);
        if held.get(&log).is_some_and(is_other_branch) {
            let before = book.checkpoints(&log, 0, head.saturating_sub(1)).last();
            // Without an earlier checkpoint the whole log is sent.
            theirs.cut(&log, before.unwrap_or(0));
        }
    }
    theirs
}
