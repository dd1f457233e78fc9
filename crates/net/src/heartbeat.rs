//! The heartbeat of a session: when to probe a silent peer, and when to give it up.
//!
//! Any byte from the peer is a sign of life, so a frame that arrives slowly over a poor link keeps its session alive. While work
//! is in progress silence is noticed within seconds; an idle session probes twice a minute, so that a laptop can sleep.
//!
//! Deliberately without a clock: times are arguments, in milliseconds of a monotonic clock.
//!
//! Invariant: a probe is outstanding at most [`ANSWER_MS`]; then either a byte was received or the peer counts as dead.

/// Probe after this much silence while work is in progress.
pub const ACTIVE_ASK_MS: u64 = 2_000;
/// Probe after this much silence when idle.
pub const IDLE_ASK_MS: u64 = 30_000;
/// The peer is dead when nothing was received for this long after a probe.
pub const ANSWER_MS: u64 = 8_000;
/// A session counts as active for this long after the last work.
pub const LINGER_MS: u64 = 5_000;

/// What to do now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HeartbeatAction {
    /// Do nothing before this time.
    WaitUntil(u64),
    /// Send a probe.
    Probe,
    /// Give the peer up.
    Dead,
}

/// The heartbeat of one session.
#[derive(Debug, Clone)]
pub struct Heartbeat {
    heard_ms: u64,
    busy_ms: u64,
    probed_ms: Option<u64>,
}

impl Heartbeat {
    /// The heartbeat of a session that begins now.
    pub fn new(now_ms: u64) -> Self {
        Self {
            heard_ms: now_ms,
            busy_ms: now_ms,
            probed_ms: None,
        }
    }

    /// Bytes were received from the peer.
    pub fn heard(&mut self, now_ms: u64) {
        if now_ms > self.heard_ms {
            self.heard_ms = now_ms;
            self.probed_ms = None;
        }
    }

    /// Work is in progress.
    pub fn busy(&mut self, now_ms: u64) {
        self.busy_ms = self.busy_ms.max(now_ms);
    }

    /// There is reason to think that the peer is gone: the next poll sends a probe.
    pub fn doubt(&mut self, now_ms: u64) {
        if self.probed_ms.is_none() {
            self.heard_ms = self.heard_ms.min(now_ms.saturating_sub(IDLE_ASK_MS));
        }
    }

    /// What to do now. Returning [`HeartbeatAction::Probe`] counts as sending the probe.
    pub fn poll(&mut self, now_ms: u64) -> HeartbeatAction {
        if let Some(probed_ms) = self.probed_ms {
            let until = probed_ms + ANSWER_MS;
            return if now_ms >= until {
                HeartbeatAction::Dead
            } else {
                HeartbeatAction::WaitUntil(until)
            };
        }
        let active = now_ms < self.busy_ms + LINGER_MS;
        let ask_at = self.heard_ms + if active { ACTIVE_ASK_MS } else { IDLE_ASK_MS };
        if now_ms >= ask_at {
            self.probed_ms = Some(now_ms);
            return HeartbeatAction::Probe;
        }
        HeartbeatAction::WaitUntil(ask_at)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Runs the clock to `until_ms`, collecting when it asked and when it gave up.
    fn run(heartbeat: &mut Heartbeat, from_ms: u64, until_ms: u64) -> (Vec<u64>, Option<u64>, u32) {
        let (mut now, mut asked, mut looks) = (from_ms, Vec::new(), 0);
        while now <= until_ms {
            looks += 1;
            match heartbeat.poll(now) {
                HeartbeatAction::WaitUntil(at) => now = at,
                HeartbeatAction::Probe => asked.push(now),
                HeartbeatAction::Dead => return (asked, Some(now), looks),
            }
        }
        (asked, None, looks)
    }

    #[test]
    fn a_silent_peer_is_noticed_in_seconds_while_something_is_under_way() {
        let mut heartbeat = Heartbeat::new(0);
        assert_eq!(run(&mut heartbeat, 0, 60_000), (vec![2_000], Some(10_000), 4));
    }

    #[test]
    fn an_idle_session_wakes_twice_a_minute() {
        let mut heartbeat = Heartbeat::new(0);
        let (mut now, mut asked) = (10_000, 0);
        heartbeat.heard(10_000);
        for _ in 0..120 {
            match heartbeat.poll(now) {
                HeartbeatAction::WaitUntil(at) => now = at,
                HeartbeatAction::Probe => {
                    asked += 1;
                    now += 5;
                    heartbeat.heard(now);
                }
                HeartbeatAction::Dead => panic!("the peer answers"),
            }
        }
        assert!(now > 1_000_000, "{now}");
        assert_eq!(u64::from(asked as u32), now / 30_005, "{asked} in {now} ms");
    }

    #[test]
    fn bytes_that_trickle_in_are_a_sign_of_life() {
        let mut heartbeat = Heartbeat::new(0);
        for second in 1..300 {
            heartbeat.busy(second * 1_000);
            heartbeat.heard(second * 1_000);
            assert!(matches!(heartbeat.poll(second * 1_000), HeartbeatAction::WaitUntil(_)));
        }
    }

    #[test]
    fn a_doubted_peer_is_asked_at_once() {
        let mut heartbeat = Heartbeat::new(100_000);
        heartbeat.heard(200_000);
        assert!(matches!(heartbeat.poll(201_000), HeartbeatAction::WaitUntil(_)));
        heartbeat.doubt(201_000);
        assert_eq!(heartbeat.poll(201_000), HeartbeatAction::Probe);
        assert_eq!(heartbeat.poll(201_000 + ANSWER_MS), HeartbeatAction::Dead);
    }
}
