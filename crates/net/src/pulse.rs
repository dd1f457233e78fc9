//! The heartbeat of a session, without a clock of its own: when to ask, and when to give up.
//!
//! Any byte from the peer is a sign of life, so a frame that trickles in over a poor link keeps its session alive.
//! While something is under way silence is noticed within seconds; an idle session asks twice a minute, so that a laptop in
//! a yard sleeps. All times are milliseconds of a steady clock.

/// While something is under way: ask after this much silence,
pub const ACTIVE_ASK_MS: u64 = 2_000;
/// and when idle after this much.
pub const IDLE_ASK_MS: u64 = 30_000;
/// Dead when nothing was heard for this long after asking.
pub const ANSWER_MS: u64 = 8_000;
/// A session counts as active for this long after the last thing that was under way.
pub const LINGER_MS: u64 = 5_000;

/// What to do now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Beat {
    /// Nothing before this time.
    WaitUntil(u64),
    /// Ask the peer for a sign of life.
    Ask,
    /// The peer is gone.
    Dead,
}

/// The heartbeat of one session.
#[derive(Debug, Clone)]
pub struct Pulse {
    heard_ms: u64,
    busy_ms: u64,
    asked_ms: Option<u64>,
}

impl Pulse {
    /// A session that begins now.
    pub fn new(now_ms: u64) -> Self {
        Self {
            heard_ms: now_ms,
            busy_ms: now_ms,
            asked_ms: None,
        }
    }

    /// Something came from the peer, if only a byte.
    pub fn heard(&mut self, now_ms: u64) {
        if now_ms > self.heard_ms {
            self.heard_ms = now_ms;
            self.asked_ms = None;
        }
    }

    /// Something is under way that should not wait long.
    pub fn busy(&mut self, now_ms: u64) {
        self.busy_ms = self.busy_ms.max(now_ms);
    }

    /// Somebody doubts that the peer is there: asks at the next look.
    pub fn doubt(&mut self, now_ms: u64) {
        if self.asked_ms.is_none() {
            self.heard_ms = self.heard_ms.min(now_ms.saturating_sub(IDLE_ASK_MS));
        }
    }

    /// What to do now. After [`Beat::Ask`] the question counts as asked.
    pub fn look(&mut self, now_ms: u64) -> Beat {
        if let Some(asked_ms) = self.asked_ms {
            let until = asked_ms + ANSWER_MS;
            return if now_ms >= until {
                Beat::Dead
            } else {
                Beat::WaitUntil(until)
            };
        }
        let active = now_ms < self.busy_ms + LINGER_MS;
        let ask_at = self.heard_ms + if active { ACTIVE_ASK_MS } else { IDLE_ASK_MS };
        if now_ms >= ask_at {
            self.asked_ms = Some(now_ms);
            return Beat::Ask;
        }
        Beat::WaitUntil(ask_at)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Runs the clock to `until_ms`, collecting when it asked and when it gave up.
    fn run(pulse: &mut Pulse, from_ms: u64, until_ms: u64) -> (Vec<u64>, Option<u64>, u32) {
        let (mut now, mut asked, mut looks) = (from_ms, Vec::new(), 0);
        while now <= until_ms {
            looks += 1;
            match pulse.look(now) {
                Beat::WaitUntil(at) => now = at,
                Beat::Ask => asked.push(now),
                Beat::Dead => return (asked, Some(now), looks),
            }
        }
        (asked, None, looks)
    }

    #[test]
    fn a_silent_peer_is_noticed_in_seconds_while_something_is_under_way() {
        let mut pulse = Pulse::new(0);
        assert_eq!(run(&mut pulse, 0, 60_000), (vec![2_000], Some(10_000), 4));
    }

    #[test]
    fn an_idle_session_wakes_twice_a_minute() {
        let mut pulse = Pulse::new(0);
        let (mut now, mut asked) = (10_000, 0);
        pulse.heard(10_000);
        for _ in 0..120 {
            match pulse.look(now) {
                Beat::WaitUntil(at) => now = at,
                Beat::Ask => {
                    asked += 1;
                    now += 5;
                    pulse.heard(now);
                }
                Beat::Dead => panic!("the peer answers"),
            }
        }
        assert!(now > 1_000_000, "{now}");
        assert_eq!(u64::from(asked as u32), now / 30_005, "{asked} in {now} ms");
    }

    #[test]
    fn bytes_that_trickle_in_are_a_sign_of_life() {
        let mut pulse = Pulse::new(0);
        for second in 1..300 {
            pulse.busy(second * 1_000);
            pulse.heard(second * 1_000);
            assert!(matches!(pulse.look(second * 1_000), Beat::WaitUntil(_)));
        }
    }

    #[test]
    fn a_doubted_peer_is_asked_at_once() {
        let mut pulse = Pulse::new(100_000);
        pulse.heard(200_000);
        assert!(matches!(pulse.look(201_000), Beat::WaitUntil(_)));
        pulse.doubt(201_000);
        assert_eq!(pulse.look(201_000), Beat::Ask);
        assert_eq!(pulse.look(201_000 + ANSWER_MS), Beat::Dead);
    }
}
