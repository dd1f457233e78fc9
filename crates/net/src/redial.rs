//! When to dial a peer, and when to dial again: a state machine for one peer.
//!
//! Deliberately without clock, socket and randomness: times and random numbers are arguments, so a test plays hours in no time.
//!
//! ```text
//! Asleep -- an address is known --> Waiting -- time --> Dialling -- first reply --> Up
//! Dialling -- no answer --> Waiting (longer each time, at most a minute)
//! Dialling -- refused ----> Waiting (half a minute to ten minutes: the roster must change first)
//! Dialling -- busy -------> Waiting (for as long as the peer said)
//! Up -- made room --------> Waiting (for as long as the peer said); Waiting -- news for the peer --> Waiting (seconds)
//! Up -- lost --> Waiting (soon);   Waiting -- the link came back, or discovery found it --> Waiting (now)
//! ```
//! Times are milliseconds of a monotonic clock. `random` spreads the dials of many laptops that lost one depot at the same moment.
//!
//! Invariants: a wait after a refusal is not shortened by hearing of the peer again, because only the roster can lift it; a wait
//! that the peer asked for is not shortened either, except after a session that made room, by news for that peer.

/// The first wait after a dial without an answer.
pub const FIRST_WAIT_MS: u64 = 500;
/// The longest wait of that kind.
pub const LONGEST_WAIT_MS: u64 = 60_000;
/// The first wait after a refusal.
pub const FIRST_REFUSED_MS: u64 = 30_000;
/// The longest wait of that kind.
pub const LONGEST_REFUSED_MS: u64 = 600_000;
/// The first wait after a busy peer that said no time.
pub const FIRST_BUSY_MS: u64 = 2_000;
/// The wait after making room when there is news for the peer.
pub const NEWS_MS: u64 = 1_000;
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
        /// What for.
        why: Wait,
    },
    /// A dial is under way.
    Dialling,
    /// A session is open.
    Up {
        /// When it was opened.
        since_ms: u64,
    },
}

/// What a wait is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wait {
    /// The peer to be reachable.
    Reach,
    /// The peer's roster to change.
    Roster,
    /// A free place at the peer.
    Place,
    /// Nothing: both sides hold the same, and others needed the place.
    Rest,
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
    /// The peer has no free place, and named a time to come again.
    Busy {
        /// That time.
        again_ms: Option<u64>,
    },
    /// The session ended because another device needed the place.
    MadeRoom {
        /// How long to stay away.
        rest_ms: u64,
    },
    /// This side has something that the peer does not have.
    News,
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

    /// Whether it waits after a session that made room.
    pub fn is_resting(&self) -> bool {
        matches!(self.phase, Phase::Waiting { why: Wait::Rest, .. })
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
            (Event::Heard, Phase::Asleep) => self.wait(now_ms, Wait::Reach),
            (Event::Heard | Event::LinkChanged, Phase::Waiting { why: Wait::Reach, .. }) => {
                self.failures = 0;
                self.wait(now_ms + random % 200, Wait::Reach);
            }
            (Event::Busy { again_ms }, Phase::Dialling | Phase::Up { .. }) => {
                let unsaid = backoff(FIRST_BUSY_MS, LONGEST_WAIT_MS, self.failures);
                let wait = later(again_ms.unwrap_or(unsaid), random);
                self.fail(now_ms + wait, Wait::Place);
            }
            (Event::MadeRoom { rest_ms }, Phase::Dialling | Phase::Up { .. }) => {
                self.failures = 0;
                self.wait(now_ms + later(rest_ms, random), Wait::Rest);
            }
            (
                Event::News,
                Phase::Waiting {
                    retry_at_ms,
                    why: Wait::Rest,
                },
            ) => {
                let soon = now_ms + later(NEWS_MS, random);
                self.wait(soon.min(retry_at_ms), Wait::Rest);
            }
            (Event::NoAnswer, Phase::Dialling) => {
                let wait = backoff(FIRST_WAIT_MS, LONGEST_WAIT_MS, self.failures);
                self.fail(now_ms + spread(wait, random), Wait::Reach);
            }
            (Event::Refused, Phase::Dialling | Phase::Up { .. }) => {
                let wait = backoff(FIRST_REFUSED_MS, LONGEST_REFUSED_MS, self.failures);
                self.fail(now_ms + spread(wait, random), Wait::Roster);
            }
            (Event::Lost, Phase::Up { since_ms }) => {
                if now_ms >= since_ms + GOOD_SESSION_MS {
                    self.failures = 0;
                }
                let wait = backoff(FIRST_WAIT_MS / 2, LONGEST_WAIT_MS, self.failures);
                self.fail(now_ms + spread(wait, random), Wait::Reach);
            }
            (Event::Tick, Phase::Waiting { retry_at_ms, .. }) if now_ms >= retry_at_ms => {
                self.phase = Phase::Dialling;
                return true;
            }
            _ => {}
        }
        false
    }

    fn wait(&mut self, retry_at_ms: u64, why: Wait) {
        self.phase = Phase::Waiting { retry_at_ms, why };
    }

    fn fail(&mut self, retry_at_ms: u64, why: Wait) {
        self.failures = self.failures.saturating_add(1);
        self.wait(retry_at_ms, why);
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

/// The wait, at random up to a fifth longer: a peer that named a time is not asked before.
fn later(wait_ms: u64, random: u64) -> u64 {
    wait_ms + random % (wait_ms / 5 + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn dialling() -> Redial {
        let mut redial = Redial::default();
        redial.on(Event::Heard, 0, 0);
        assert!(redial.on(Event::Tick, 0, 0));
        redial
    }

    #[test]
    fn a_busy_peer_is_asked_again_when_it_said_and_not_before() {
        for random in [0, 1, 7_919, u64::MAX] {
            let mut redial = dialling();
            let again_ms = Some(12_000);
            redial.on(Event::Busy { again_ms }, 100, random);
            for event in [Event::Heard, Event::LinkChanged, Event::News] {
                redial.on(event, 200, 0);
            }
            let at = redial.wake_at_ms().unwrap();
            assert!((12_100..=14_500).contains(&at), "{at}");
        }
        // One that said nothing is an older version: the waits grow, and stay below those after a refusal.
        let (mut redial, mut now, mut waits) = (dialling(), 0, Vec::new());
        for _ in 0..8 {
            redial.on(Event::Busy { again_ms: None }, now, 0);
            let at = redial.wake_at_ms().unwrap();
            waits.push(at - now);
            now = at;
            assert!(redial.on(Event::Tick, now, 0));
        }
        assert_eq!(waits[..3], [2_000, 4_000, 8_000]);
        assert_eq!(waits[7], LONGEST_WAIT_MS);
    }

    #[test]
    fn who_made_room_comes_back_later_or_with_news() {
        let mut redial = dialling();
        redial.on(Event::Up, 50, 0);
        redial.on(Event::MadeRoom { rest_ms: 90_000 }, 1_000, 0);
        redial.on(Event::Heard, 2_000, 0);
        assert_eq!(redial.wake_at_ms(), Some(91_000));
        redial.on(Event::News, 5_000, 0);
        assert_eq!(redial.wake_at_ms(), Some(5_000 + NEWS_MS));
        // More news does not put it off.
        redial.on(Event::News, 5_500, 0);
        assert_eq!(redial.wake_at_ms(), Some(5_000 + NEWS_MS));
        assert!(redial.on(Event::Tick, 6_000, 0));
    }

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
