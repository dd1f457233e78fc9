//! Who may try a handshake: a short allowance of refusals for each address.
//!
//! A refusal takes a token; tokens come back one a second. An address without tokens is dropped before the handshake, so a
//! stranger that knocks all day costs an accept and no more. A device that is let in gets its address's tokens back: many may
//! share one address. Times are milliseconds of a steady clock.

use std::collections::BTreeMap;
use std::net::IpAddr;

/// How many refusals an address may have at once.
pub const TOKENS: u64 = 20;
/// How long one token takes to come back.
pub const TOKEN_MS: u64 = 1_000;
/// How many addresses are remembered.
const MAX_ADDRESSES: usize = 1_024;

/// The allowances.
#[derive(Debug, Default)]
pub struct Knocks {
    /// Per address: when all of its tokens will be back.
    whole_at_ms: BTreeMap<IpAddr, u64>,
}

impl Knocks {
    /// Whether this address may try.
    pub fn may_try(&self, from: IpAddr, now_ms: u64) -> bool {
        let whole_at = self.whole_at_ms.get(&from).copied().unwrap_or(0);
        whole_at.saturating_sub(now_ms) <= (TOKENS - 1) * TOKEN_MS
    }

    /// It was refused.
    pub fn refused(&mut self, from: IpAddr, now_ms: u64) {
        if self.whole_at_ms.len() >= MAX_ADDRESSES {
            self.whole_at_ms.retain(|_, at| *at > now_ms);
        }
        if self.whole_at_ms.len() >= MAX_ADDRESSES {
            // So many strangers at once: forget the oldest knocks rather than grow.
            self.whole_at_ms.pop_first();
        }
        let whole_at = self.whole_at_ms.entry(from).or_insert(0);
        *whole_at = (*whole_at).max(now_ms) + TOKEN_MS;
    }

    /// It was let in.
    pub fn let_in(&mut self, from: IpAddr) {
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
    fn a_stranger_that_knocks_all_day_is_tried_once_a_second() {
        let mut knocks = Knocks::default();
        let mut tried = 0;
        for now_ms in (0..60_000).step_by(10) {
            if knocks.may_try(ip(1), now_ms) {
                tried += 1;
                knocks.refused(ip(1), now_ms);
            }
        }
        assert!((TOKENS + 59..=TOKENS + 61).contains(&tried), "{tried}");
        assert!(knocks.may_try(ip(2), 60_000), "others are not meant");
        knocks.let_in(ip(1));
        assert!(knocks.may_try(ip(1), 60_000));
    }

    #[test]
    fn a_crowd_of_addresses_is_bounded() {
        let mut knocks = Knocks::default();
        (0..10_000).for_each(|n| knocks.refused(ip(n), 5));
        assert!(knocks.whole_at_ms.len() <= MAX_ADDRESSES);
    }
}
