//! What waits to be written on one connection, and how much of it a peer can cause.
//!
//! A peer that asks and never reads makes this side queue answers. Frames and ranges of pictures are bounded where they are made
//! (the exchange's window, [`crate::fetch::SERVED_AT_ONCE`]); everything else is counted here.
//!
//! Deliberately absent: the queue itself, which is a channel of tokio's.
//!
//! Invariants: at most [`ANSWERS_WAITING`] answers to probes wait; the session processes nothing more while [`MAX_BYTES`] of
//! small packets wait. A correct peer comes near neither, so two of them never wait for each other.

use std::sync::atomic::{AtomicUsize, Ordering};

use gladhand_logbook::exchange::Message;
use tokio::sync::{Notify, OwnedSemaphorePermit};

use crate::packet::Packet;

/// How many answers to probes may wait: a hello counts as one, and a heartbeat has one probe under way.
pub const ANSWERS_WAITING: usize = 2;
/// How many bytes of small packets may wait.
pub const MAX_BYTES: usize = 1 << 20;

/// A packet to send.
#[derive(Debug)]
pub enum Outbound {
    /// A packet as it is.
    Packet(Packet),
    /// A large packet, with the permit that is released once it has been written.
    Bulk(Packet, OwnedSemaphorePermit),
    /// A probe; the writer fills in the time of sending.
    Probe,
    /// The answer to a probe; the writer fills in the time of sending.
    Clock {
        /// The time in the probe.
        probe_us: i64,
        /// When the probe was received.
        received_us: i64,
    },
}

/// The counts of one connection.
#[derive(Debug, Default)]
pub struct Backlog {
    answers: AtomicUsize,
    bytes: AtomicUsize,
    written: Notify,
}

impl Backlog {
    /// Takes a place for one more answer to a probe. `false`: enough of them wait, and any byte of theirs will tell the peer that
    /// this side is alive.
    pub fn may_answer(&self) -> bool {
        let add = |waiting| (waiting < ANSWERS_WAITING).then_some(waiting + 1);
        self.answers
            .fetch_update(Ordering::Relaxed, Ordering::Relaxed, add)
            .is_ok()
    }

    /// Counts a packet that is about to be queued.
    pub fn queued(&self, packet: &Packet) {
        self.bytes.fetch_add(weight(packet), Ordering::Relaxed);
    }

    /// Counts a packet that was taken from the queue and written.
    pub fn written(&self, item: &Outbound) {
        let (counter, count) = match item {
            Outbound::Packet(packet) => (&self.bytes, weight(packet)),
            Outbound::Clock { .. } => (&self.answers, 1),
            Outbound::Bulk(..) | Outbound::Probe => return,
        };
        let take = |waiting: usize| Some(waiting.saturating_sub(count));
        counter.fetch_update(Ordering::Relaxed, Ordering::Relaxed, take).ok();
        self.written.notify_one();
    }

    /// How many bytes of small packets wait.
    pub fn bytes(&self) -> usize {
        self.bytes.load(Ordering::Relaxed)
    }

    /// Waits until less than [`MAX_BYTES`] wait. For one waiter.
    pub async fn room(&self) {
        while self.bytes() >= MAX_BYTES {
            self.written.notified().await;
        }
    }
}

/// About how much memory a small packet takes; 0 for those that are bounded elsewhere.
fn weight(packet: &Packet) -> usize {
    const SMALL: usize = 64;
    match packet {
        Packet::Exchange(Message::Frame { .. } | Message::Vector { .. } | Message::Credentials(_)) => 0,
        Packet::Seek(hashes) | Packet::Have { hashes, .. } => SMALL + hashes.len() * 32,
        _ => SMALL,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn who_asks_and_does_not_read_is_not_asked_what_it_wants_next() {
        let backlog = Backlog::default();
        let answer = || Packet::Have {
            answer: true,
            hashes: vec![gladhand_store::PictureHash([1; 32]); crate::packet::MAX_HASHES],
        };
        let mut queued = 0;
        while backlog.bytes() < MAX_BYTES {
            backlog.queued(&answer());
            queued += 1;
            assert!(queued < 1_000);
        }
        let mut room = std::pin::pin!(backlog.room());
        let waits = std::future::poll_fn(|cx| std::task::Poll::Ready(room.as_mut().poll(cx).is_pending())).await;
        assert!(waits);
        backlog.written(&Outbound::Packet(answer()));
        room.await;
        (0..queued).for_each(|_| backlog.written(&Outbound::Packet(answer())));
        assert_eq!(backlog.bytes(), 0);
    }
}
