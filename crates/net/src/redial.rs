//! When to dial a peer, and when to dial again: a state machine without a clock, a socket or randomness of its own.
//!
//! ```text
//! Asleep -- an address is known --> Waiting -- time --> Dialling -- first reply --> Up
//! Dialling -- no answer --> Waiting (longer each time, at most a minute)
//! Dialling -- refused ----> Waiting (half a minute to ten minutes: the roster must change first)
//! Up -- lost --> Waiting (soon);   Waiting -- the link came back, or it was heard --> Waiting (now)
//! ```
//! All times are milliseconds of a steady clock; `chance` spreads the dials of many laptops that lost one depot.

/// The first wait after a dial that nobody answered.
pub const FIRST_WAIT_MS: u64 = 500;
/// The longest wait of that kind.
pub const LONGEST_WAIT_MS: u64 = 60_000;
/// The first wait after a refusal.
pub const FIRST_REFUSED_MS: u64 = 30_000;
/// The longest wait of that kind.
pub const LONGEST_REFUSED_MS: u64 = 600_000;
/// A session that lasted this long was a good one.
pub const GOOD_SESSION_MS: u64 = 10_000;

/// Where a peer stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Phase {
    /// No address is known.
    Asleep,
    /// Dial at this time.
    Waiting {
        /// When.
        retry_at_ms: u64,
        /// Whether the wait is for a refusal to be lifted.
        refused: bool,
    },
    /// A dial is under way.
    Dialling,
    /// A session is open.
    Up {
        /// Since when.
        since_ms: u64,
    },
}

/// What happened.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Event {
    /// An address became known, or the peer was heard of again.
    Heard,
    /// An interface came up: what was out of reach may not be any more.
    LinkChanged,
    /// The peer answered: a session is open, whoever dialled.
    Up,
    /// The dial led nowhere.
    NoAnswer,
    /// The peer, or this side, refused.
    Refused,
    /// The session ended.
    Lost,
    /// Look at the clock.
    Tick,
}

/// The dialling of one peer.
#[derive(Debug, Clone)]
pub struct Redial {
    phase: Phase,
    failures: u32,
}

impl Default for Redial {
    fn default() -> Self {
        Self {
            phase: Phase::Asleep,
            failures: 0,
        }
    }
}

impl Redial {
    /// Where the peer stands.
    pub fn phase(&self) -> Phase {
        self.phase
    }

    /// When to look again, if nothing happens.
    pub fn wake_at_ms(&self) -> Option<u64> {
        match self.phase {
            Phase::Waiting { retry_at_ms, .. } => Some(retry_at_ms),
            _ => None,
        }
    }

    /// Takes in what happened. `true`: dial now.
    pub fn on(&mut self, event: Event, now_ms: u64, chance: u64) -> bool {
        match (event, self.phase) {
            (Event::Up, Phase::Up { .. }) => {}
            (Event::Up, _) => self.phase = Phase::Up { since_ms: now_ms },
            (Event::Heard, Phase::Asleep) => self.wait(now_ms, false),
            (Event::Heard | Event::LinkChanged, Phase::Waiting { refused: false, .. }) => {
                self.failures = 0;
                self.wait(now_ms + chance % 200, false);
            }
            (Event::NoAnswer, Phase::Dialling) => {
                let wait = backoff(FIRST_WAIT_MS, LONGEST_WAIT_MS, self.failures);
                self.fail(now_ms + spread(wait, chance), false);
            }
            (Event::Refused, Phase::Dialling | Phase::Up { .. }) => {
                let wait = backoff(FIRST_REFUSED_MS, LONGEST_REFUSED_MS, self.failures);
                self.fail(now_ms + spread(wait, chance), true);
            }
            (Event::Lost, Phase::Up { since_ms }) => {
                if now_ms >= since_ms + GOOD_SESSION_MS {
                    self.failures = 0;
                }
                let wait = backoff(FIRST_WAIT_MS / 2, LONGEST_WAIT_MS, self.failures);
                self.fail(now_ms + spread(wait, chance), false);
            }
            (Event::Tick, Phase::Waiting { retry_at_ms, .. }) if now_ms >= retry_at_ms => {
                self.phase = Phase::Dialling;
                return true;
            }
            _ => {}
        }
        false
    }

    fn wait(&mut self, retry_at_ms: u64, refused: bool) {
        self.phase = Phase::Waiting { retry_at_ms, refused };
    }

    fn fail(&mut self, retry_at_ms: u64, refused: bool) {
        self.failures = self.failures.saturating_add(1);
        self.wait(retry_at_ms, refused);
    }
}

/// Doubles with each failure.
fn backoff(first_ms: u64, longest_ms: u64, failures: u32) -> u64 {
    first_ms
        .checked_shl(failures.min(20))
        .unwrap_or(longest_ms)
        .min(longest_ms)
}

/// A fifth more or less.
fn spread(wait_ms: u64, chance: u64) -> u64 {
    let fifth = wait_ms / 5;
    wait_ms - fifth + chance % (2 * fifth + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Dials that nobody answers until `until_ms`: the times of the dials.
    fn unanswered(redial: &mut Redial, mut now: u64, until_ms: u64) -> Vec<u64> {
        let mut dials = Vec::new();
        while let Some(at) = redial.wake_at_ms().filter(|at| *at <= until_ms) {
            now = now.max(at);
            if redial.on(Event::Tick, now, 0) {
                dials.push(now);
                redial.on(Event::NoAnswer, now + 100, dials.len() as u64 * 7_919);
                now += 100;
            }
        }
        dials
    }

    #[test]
    fn nobody_is_dialled_without_an_address() {
        let mut redial = Redial::default();
        assert!(!redial.on(Event::Tick, 1_000_000, 0) && redial.wake_at_ms().is_none());
        redial.on(Event::LinkChanged, 1_000_000, 0);
        assert_eq!(redial.phase(), Phase::Asleep);
    }

    #[test]
    fn waits_grow_to_a_minute_and_no_further() {
        let mut redial = Redial::default();
        redial.on(Event::Heard, 0, 0);
        let dials = unanswered(&mut redial, 0, 3_600_000);
        assert_eq!(dials[0], 0);
        let waits: Vec<u64> = dials.windows(2).map(|w| w[1] - w[0] - 100).collect();
        assert!((400..=600).contains(&waits[0]), "{waits:?}");
        assert!(
            waits.iter().all(|w| *w <= 72_000) && waits.iter().skip(8).all(|w| *w >= 48_000),
            "{waits:?}"
        );
        assert!(dials.len() < 90, "{} dials an hour", dials.len());
    }

    #[test]
    fn a_link_that_comes_back_cuts_the_wait_short() {
        let mut redial = Redial::default();
        redial.on(Event::Heard, 0, 0);
        unanswered(&mut redial, 0, 600_000);
        redial.on(Event::LinkChanged, 600_500, 199);
        assert_eq!(redial.wake_at_ms(), Some(600_699));
        assert!(!redial.on(Event::Tick, 600_698, 0) && redial.on(Event::Tick, 600_699, 0));
    }

    #[test]
    fn a_refusal_is_not_hurried_by_hearing_the_peer_again() {
        let mut redial = Redial::default();
        redial.on(Event::Heard, 0, 0);
        assert!(redial.on(Event::Tick, 0, 0));
        redial.on(Event::Refused, 50, 0);
        for at in (100..20_000).step_by(1_000) {
            redial.on(Event::Heard, at, 0);
            redial.on(Event::LinkChanged, at, 0);
            assert!(!redial.on(Event::Tick, at, 0), "dialled at {at}");
        }
        assert!(redial.on(Event::Tick, 40_000, 0));
    }

    #[test]
    fn a_session_that_is_lost_is_dialled_soon_but_one_that_flaps_is_not() {
        let mut redial = Redial::default();
        redial.on(Event::Heard, 0, 0);
        redial.on(Event::Tick, 0, 0);
        redial.on(Event::Up, 20, 0);
        assert!(redial.wake_at_ms().is_none(), "nothing to wake up for while it is up");
        redial.on(Event::Lost, 900_000, 0);
        assert_eq!(redial.wake_at_ms(), Some(900_200));
        let mut now = 900_200;
        for _ in 0..12 {
            assert!(redial.on(Event::Tick, now, 0));
            redial.on(Event::Up, now + 1, 0);
            redial.on(Event::Lost, now + 2, 0);
            now = redial.wake_at_ms().unwrap();
        }
        assert!(now - 900_200 > 60_000, "a session that ends at once is no good session");
    }

    #[test]
    fn a_peer_that_dialled_us_is_up() {
        let mut redial = Redial::default();
        redial.on(Event::Up, 5, 0);
        redial.on(Event::Heard, 6, 0);
        assert_eq!(redial.phase(), Phase::Up { since_ms: 5 });
    }
}
