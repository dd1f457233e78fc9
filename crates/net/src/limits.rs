//! Which addresses may try a handshake: a token bucket of refusals for each address.
//!
//! A refusal takes a token; one token a second comes back. A connection from an address without tokens is dropped before the
//! handshake, so a stranger that connects all day costs one `accept` each time and no more. When a device is admitted its
//! address gets all tokens back, because many devices may share one address (NAT).
//!
//! Deliberately without a clock: times are arguments, in milliseconds of a monotonic clock.
//!
//! Invariant: at most [`MAX_ADDRESSES`] addresses are remembered.

use std::collections::BTreeMap;
use std::net::IpAddr;

/// How many refusals in a row an address may have.
pub const TOKENS: u64 = 20;
/// How long it takes until one token is back.
pub const TOKEN_MS: u64 = 1_000;
/// How many addresses are remembered.
const MAX_ADDRESSES: usize = 1_024;

/// The token buckets of all addresses that were refused lately.
#[derive(Debug, Default)]
pub struct RefusalLimits {
    /// For each address: when all of its tokens will be back.
    whole_at_ms: BTreeMap<IpAddr, u64>,
}

impl RefusalLimits {
    /// Whether this address may try a handshake.
    pub fn may_try(&self, from: IpAddr, now_ms: u64) -> bool {
        let whole_at = self.whole_at_ms.get(&from).copied().unwrap_or(0);
        whole_at.saturating_sub(now_ms) <= (TOKENS - 1) * TOKEN_MS
    }

    /// Takes a token from an address that was refused.
    pub fn refused(&mut self, from: IpAddr, now_ms: u64) {
        if !self.whole_at_ms.contains_key(&from) {
            self.make_room(now_ms);
        }
        let whole_at = self.whole_at_ms.entry(from).or_insert(0);
        *whole_at = (*whole_at).max(now_ms) + TOKEN_MS;
    }

    /// Makes room for one more address. If every address still lacks tokens, the one that has them back first is forgotten.
    /// An address that used up its tokens has them back last, so many addresses with one refusal each cannot displace it.
    fn make_room(&mut self, now_ms: u64) {
        if self.whole_at_ms.len() >= MAX_ADDRESSES {
            self.whole_at_ms.retain(|_, at| *at > now_ms);
        }
        if self.whole_at_ms.len() >= MAX_ADDRESSES {
            let first = self
                .whole_at_ms
                .iter()
                .min_by_key(|(_, at)| **at)
                .map(|(from, _)| *from);
            if let Some(from) = first {
                self.whole_at_ms.remove(&from);
            }
        }
    }

    /// Gives an address all tokens back: a device connected from it and was admitted.
    pub fn admitted(&mut self, from: IpAddr) {
        self.whole_at_ms.remove(&from);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::net::Ipv4Addr;

    fn ip(n: u32) -> IpAddr {
        Ipv4Addr::from(n).into()
    }

    #[test]
    fn a_stranger_that_retries_all_day_is_tried_once_a_second() {
        let mut limits = RefusalLimits::default();
        let mut tried = 0;
        for now_ms in (0..60_000).step_by(10) {
            if limits.may_try(ip(1), now_ms) {
                tried += 1;
                limits.refused(ip(1), now_ms);
            }
        }
        assert!((TOKENS + 59..=TOKENS + 61).contains(&tried), "{tried}");
        assert!(limits.may_try(ip(2), 60_000), "other addresses are not limited");
        limits.admitted(ip(1));
        assert!(limits.may_try(ip(1), 60_000));
    }

    /// A crowd takes bounded memory. It locks out no device that was let in, and brings back no tokens to a stranger that has
    /// used its own up, wherever the addresses of either lie among the crowd's.
    #[test]
    fn a_crowd_of_addresses_is_bounded() {
        let mut limits = RefusalLimits::default();
        let (known, strangers) = (ip(2_000), [ip(0), ip(1_500), ip(20_000)]);
        for from in strangers.into_iter().chain([known]) {
            (0..TOKENS).for_each(|_| limits.refused(from, 5));
            assert!(!limits.may_try(from, 5));
        }
        limits.admitted(known);
        for n in (1..3_000).filter(|n| ip(*n) != known && !strangers.contains(&ip(*n))) {
            limits.refused(ip(n), 5);
            assert!(limits.whole_at_ms.len() <= MAX_ADDRESSES);
        }
        assert_eq!(limits.whole_at_ms.len(), MAX_ADDRESSES, "the crowd was remembered");
        assert!(limits.may_try(known, 5), "a device that was let in may come again");
        for from in strangers {
            assert!(!limits.may_try(from, 5), "{from} got its tokens back");
        }
        // When the crowd's tokens are back, its addresses are forgotten all at once.
        limits.refused(ip(30_000), 5 + TOKEN_MS);
        assert_eq!(limits.whole_at_ms.len(), strangers.len() + 1);
    }
}
