//! When to dial a peer, and when to dial again: a state machine for one peer.
//!
//! Deliberately without clock, socket and randomness: times and random numbers are arguments, so a test plays hours in no time.
//!
//! ```text
//! Asleep -- an address is known --> Waiting -- time --> Dialling -- first reply --> Up
//! Dialling -- no answer --> Waiting (longer each time, at most a minute)
//! Dialling -- refused ----> Waiting (half a minute to ten minutes: the roster must change first)
//! Up -- lost --> Waiting (soon);   Waiting -- the link came back, or discovery found it --> Waiting (now)
//! ```
//! Times are milliseconds of a monotonic clock. `random` spreads the dials of many laptops that lost one depot at the same moment.
//!
//! Invariant: a wait after a refusal is not shortened by hearing of the peer again, because only the roster can lift it.

/// The first wait after a dial without an answer.
pub const FIRST_WAIT_MS: u64 = 500;
/// The longest wait of that kind.
pub const LONGEST_WAIT_MS: u64 = 60_000;
/// The first wait after a refusal.
pub const FIRST_REFUSED_MS: u64 = 30_000;
/// The longest wait of that kind.
pub const LONGEST_REFUSED_MS: u64 = 600_000;
/// After a session of at least this length the waits start from the shortest again.
pub const GOOD_SESSION_MS: u64 = 10_000;

/// The state of a peer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Phase {
    /// No address is known.
    Asleep,
    /// The next dial is due at a time.
    Waiting {
        /// That time.
        retry_at_ms: u64,
        /// Whether the wait is for a refusal to be lifted.
        refused: bool,
    },
    /// A dial is under way.
    Dialling,
    /// A session is open.
    Up {
        /// When it was opened.
        since_ms: u64,
    },
}

/// What happened.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Event {
    /// An address became known, or discovery found the peer again.
    Heard,
    /// A network interface came up, so the peer may be reachable now.
    LinkChanged,
    /// A session is open, no matter which side dialled.
    Up,
    /// The dial got no answer.
    NoAnswer,
    /// The peer or this side refused.
    Refused,
    /// The session ended.
    Lost,
    /// Time has passed.
    Tick,
}

/// The dial state of one peer.
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
    /// The state.
    pub fn phase(&self) -> Phase {
        self.phase
    }

    /// When to send [`Event::Tick`], if nothing else happens before.
    pub fn wake_at_ms(&self) -> Option<u64> {
        match self.phase {
            Phase::Waiting { retry_at_ms, .. } => Some(retry_at_ms),
            _ => None,
        }
    }

    /// Applies an event. `true`: dial now.
    pub fn on(&mut self, event: Event, now_ms: u64, random: u64) -> bool {
        match (event, self.phase) {
            (Event::Up, Phase::Up { .. }) => {}
            (Event::Up, _) => self.phase = Phase::Up { since_ms: now_ms },
            (Event::Heard, Phase::Asleep) => self.wait(now_ms, false),
            (Event::Heard | Event::LinkChanged, Phase::Waiting { refused: false, .. }) => {
                self.failures = 0;
                self.wait(now_ms + random % 200, false);
            }
            (Event::NoAnswer, Phase::Dialling) => {
                let wait = backoff(FIRST_WAIT_MS, LONGEST_WAIT_MS, self.failures);
                self.fail(now_ms + spread(wait, random), false);
            }
            (Event::Refused, Phase::Dialling | Phase::Up { .. }) => {
                let wait = backoff(FIRST_REFUSED_MS, LONGEST_REFUSED_MS, self.failures);
                self.fail(now_ms + spread(wait, random), true);
            }
            (Event::Lost, Phase::Up { since_ms }) => {
                if now_ms >= since_ms + GOOD_SESSION_MS {
                    self.failures = 0;
                }
                let wait = backoff(FIRST_WAIT_MS / 2, LONGEST_WAIT_MS, self.failures);
                self.fail(now_ms + spread(wait, random), false);
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

/// The wait doubles with each failure.
fn backoff(first_ms: u64, longest_ms: u64, failures: u32) -> u64 {
    first_ms
        .checked_shl(failures.min(20))
        .unwrap_or(longest_ms)
        .min(longest_ms)
}

/// The wait, at random up to a fifth shorter or longer.
fn spread(wait_ms: u64, random: u64) -> u64 {
    let fifth = wait_ms / 5;
    wait_ms - fifth + random % (2 * fifth + 1)
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
