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
        if !self.whole_at_ms.contains_key(&from) {
            self.make_room(now_ms);
        }
        let whole_at = self.whole_at_ms.entry(from).or_insert(0);
        *whole_at = (*whole_at).max(now_ms) + TOKEN_MS;
    }

    /// Room for one more address. Where everybody's tokens are still out, the address whose tokens come back first is
    /// forgotten rather than memory taken: a crowd that knocks once each cannot win back the tokens of one that used them up.
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

    /// A crowd takes bounded memory. It locks out no device that was let in, and brings back no tokens to a stranger that has
    /// used its own up, wherever the addresses of either lie among the crowd's.
    #[test]
    fn a_crowd_of_addresses_is_bounded() {
        let mut knocks = Knocks::default();
        let (known, strangers) = (ip(2_000), [ip(0), ip(1_500), ip(20_000)]);
        for from in strangers.into_iter().chain([known]) {
            (0..TOKENS).for_each(|_| knocks.refused(from, 5));
            assert!(!knocks.may_try(from, 5));
        }
        knocks.let_in(known);
        for n in (1..3_000).filter(|n| ip(*n) != known && !strangers.contains(&ip(*n))) {
            knocks.refused(ip(n), 5);
            assert!(knocks.whole_at_ms.len() <= MAX_ADDRESSES);
        }
        assert_eq!(knocks.whole_at_ms.len(), MAX_ADDRESSES, "the crowd was remembered");
        assert!(knocks.may_try(known, 5), "a device that was let in may come again");
        for from in strangers {
            assert!(!knocks.may_try(from, 5), "{from} got its tokens back");
        }
        // When the crowd's tokens are back, its addresses are forgotten all at once.
        knocks.refused(ip(30_000), 5 + TOKEN_MS);
        assert_eq!(knocks.whole_at_ms.len(), strangers.len() + 1);
    }
}
