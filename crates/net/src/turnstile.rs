//! When a peer that finds no free place is to come again: one after the other, not all in the same second.
//!
//! Each peer that is turned away gets the next time of a queue. The queue keeps no names: a peer that does not come costs one
//! empty time, and one that comes too early is turned away again.
//!
//! Deliberately without a clock: times are arguments, in milliseconds of a monotonic clock.
//!
//! Invariant: a wait is at least [`FIRST_MS`] and at most [`LONGEST_MS`], and two waits given in a row never end in the same
//! moment.

/// The shortest wait.
pub const FIRST_MS: u64 = 1_000;
/// The longest wait.
pub const LONGEST_MS: u64 = 60_000;
/// How far apart two peers come again. An attempt costs a handshake, so this bounds what the queue costs.
pub const GAP_MS: u64 = 25;

/// See the module doc.
#[derive(Debug, Clone, Default)]
pub struct Turnstile {
    next_ms: u64,
}

impl Turnstile {
    /// How long the next peer has to wait. With more peers than the longest wait has times for, the times are given twice.
    pub fn wait_ms(&mut self, now_ms: u64) -> u64 {
        let first = now_ms + FIRST_MS;
        if self.next_ms < first || self.next_ms > now_ms + LONGEST_MS {
            self.next_ms = first;
        }
        let wait_ms = self.next_ms - now_ms;
        self.next_ms += GAP_MS;
        wait_ms
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn five_hundred_do_not_come_back_in_the_same_second() {
        let mut turnstile = Turnstile::default();
        let waits: Vec<u64> = (0..500).map(|n| turnstile.wait_ms(10_000 + n / 100)).collect();
        let mut seconds = std::collections::BTreeMap::new();
        for (n, wait) in (0..).zip(&waits) {
            assert!((FIRST_MS..=LONGEST_MS).contains(wait));
            *seconds.entry((10_000 + n / 100 + wait) / 1_000).or_insert(0) += 1;
        }
        assert!(seconds.values().all(|count| *count <= 1_000 / GAP_MS), "{seconds:?}");
        // After a quiet time the queue is short again.
        assert_eq!(turnstile.wait_ms(100_000), FIRST_MS);
    }

    #[test]
    fn a_crowd_waits_no_longer_than_the_longest_wait() {
        let mut turnstile = Turnstile::default();
        assert!((0..100_000).all(|_| (FIRST_MS..=LONGEST_MS).contains(&turnstile.wait_ms(5))));
    }
}
