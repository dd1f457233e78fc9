//! Which pictures a session asks its peer for, and which it owes: the state, without input or output.
//!
//! Pictures follow facts: only when both sides hold the same does a side ask. First which of the missing pictures the peer has, a few
//! hundred at a time; then range by range, one range under way at a time, so that new facts never wait behind more than that. What
//! the peer did not have is asked for again when it says that it has come in. Several sessions never fetch one picture at once.
//!
//! A picture that turns out not to be what its name says is not asked of that peer again while this process runs; a part that began
//! with somebody else's bytes is begun anew first, so that nobody is blamed for another's.

use std::collections::BTreeSet;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use gladhand_facts::DeviceKey;
use gladhand_store::PictureHash;
use tokio::sync::{Semaphore, watch};
use tokio::time::{Duration, Instant};

/// How long an answer may take.
pub const PATIENCE: Duration = Duration::from_secs(60);
/// How long until a disk without room is looked at again.
pub const PAUSE: Duration = Duration::from_secs(5);
/// How many ranges may wait to leave: a peer asks for one at a time.
pub const SERVED_AT_ONCE: usize = 2;
/// How many pictures that a peer asked for in vain are remembered.
pub const MAX_OWED: usize = 4_096;
/// After so much that is wrong no picture is asked of a peer in this session.
const MAX_STRIKES: u32 = 16;
/// How many wrong pictures are remembered, of all peers.
const MAX_WRONG: usize = 4_096;

/// What the sessions of a node share: who fetches what.
#[derive(Debug, Clone, Default)]
pub struct Fetching {
    inner: Arc<Mutex<Inner>>,
    released: watch::Sender<u64>,
}

#[derive(Debug, Default)]
struct Inner {
    claimed: BTreeSet<PictureHash>,
    wrong: BTreeSet<(DeviceKey, PictureHash)>,
}

/// One session fetches this picture, until it is dropped.
#[derive(Debug)]
pub struct Claim {
    fetching: Fetching,
    hash: PictureHash,
}

impl Fetching {
    fn inner(&self) -> MutexGuard<'_, Inner> {
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The right to fetch a picture, unless somebody has it.
    pub fn claim(&self, hash: PictureHash) -> Option<Claim> {
        // A claim that is dropped gives its picture back, so none may be made for a picture that is somebody else's.
        let is_free = self.inner().claimed.insert(hash);
        is_free.then(|| Claim {
            fetching: self.clone(),
            hash,
        })
    }

    /// `peer` has sent something else under this name.
    pub fn was_wrong(&self, peer: DeviceKey, hash: PictureHash) {
        let mut inner = self.inner();
        if inner.wrong.len() >= MAX_WRONG {
            inner.wrong.pop_first();
        }
        inner.wrong.insert((peer, hash));
    }

    /// Whether `peer` has.
    pub fn is_wrong(&self, peer: DeviceKey, hash: PictureHash) -> bool {
        self.inner().wrong.contains(&(peer, hash))
    }

    /// Told whenever a claim is given back.
    pub fn released(&self) -> watch::Receiver<u64> {
        self.released.subscribe()
    }
}

impl Drop for Claim {
    fn drop(&mut self) {
        self.fetching.inner().claimed.remove(&self.hash);
        self.fetching.released.send_modify(|count| *count += 1);
    }
}

/// The picture that is under way.
#[derive(Debug)]
pub struct Current {
    /// Which.
    pub hash: PictureHash,
    /// What was asked for begins here.
    pub at: u64,
    /// How long the whole is, once the peer has said it.
    pub total: Option<u64>,
    /// Whether all of it comes from this peer.
    pub whole: bool,
    /// When it was asked for.
    pub since: Instant,
    /// The right to fetch it.
    pub claim: Claim,
}

/// The pictures of one session.
#[derive(Debug)]
pub struct Fetch {
    /// What the peer was asked for.
    pub asked: BTreeSet<PictureHash>,
    /// What it has.
    pub todo: BTreeSet<PictureHash>,
    /// What it asked for and was not here.
    pub owed: BTreeSet<PictureHash>,
    /// What is under way.
    pub current: Option<Current>,
    /// When the peer was asked what it has, if it has not answered.
    pub seeking: Option<Instant>,
    /// Facts may have named more.
    pub look: bool,
    /// The disk has no room until then, as far as is known.
    pub paused: Option<Instant>,
    /// Messages of the exchange that were dealt with,
    pub heard: u64,
    /// and that were sent.
    pub said: u64,
    /// What the peer was told last of our rest,
    pub rest_told: Option<u64>,
    /// and what it has told.
    pub rest_heard: Option<u64>,
    /// Places for ranges that wait to leave.
    pub serving: Arc<Semaphore>,
    strikes: u32,
}

impl Default for Fetch {
    fn default() -> Self {
        Self {
            asked: BTreeSet::new(),
            todo: BTreeSet::new(),
            owed: BTreeSet::new(),
            current: None,
            seeking: None,
            look: true,
            paused: None,
            heard: 0,
            said: 0,
            rest_told: None,
            rest_heard: None,
            serving: Arc::new(Semaphore::new(SERVED_AT_ONCE)),
            strikes: 0,
        }
    }
}

impl Fetch {
    /// Forgets what has waited too long.
    pub fn expire(&mut self, now: Instant) {
        let late = |since: Instant| now >= since + PATIENCE;
        self.seeking.take_if(|since| late(*since));
        self.paused.take_if(|until| now >= *until);
        self.current.take_if(|current| late(current.since));
    }

    /// When [`Fetch::expire`] has something to do.
    pub fn wake_at(&self) -> Option<Instant> {
        let current = self.current.as_ref().map(|c| c.since + PATIENCE);
        let seeking = self.seeking.map(|since| since + PATIENCE);
        current.into_iter().chain(seeking).chain(self.paused).min()
    }

    /// Whether something more may be asked for.
    pub fn is_free(&self) -> bool {
        self.current.is_none() && self.seeking.is_none()
    }

    /// The next picture to fetch.
    pub fn claim_next(&mut self, fetching: &Fetching) -> Option<(PictureHash, Claim)> {
        if self.paused.is_some() {
            return None;
        }
        let next = self
            .todo
            .iter()
            .find_map(|hash| Some((*hash, fetching.claim(*hash)?)))?;
        self.todo.remove(&next.0);
        Some(next)
    }

    /// The peer has these. Only what was asked for is of interest.
    pub fn learn(&mut self, hashes: &[PictureHash], peer: DeviceKey, fetching: &Fetching) {
        if self.strikes < MAX_STRIKES {
            let wanted = hashes.iter().filter(|hash| self.asked.contains(*hash));
            self.todo.extend(wanted.filter(|hash| !fetching.is_wrong(peer, **hash)));
        }
    }

    /// The peer asked for this, and it is not here.
    pub fn owe(&mut self, hash: PictureHash) {
        if self.owed.len() >= MAX_OWED {
            self.owed.pop_first();
        }
        self.owed.insert(hash);
    }

    /// Something came that should not have. `false`: that was once too often.
    pub fn strike(&mut self) -> bool {
        self.strikes += 1;
        if self.strikes >= MAX_STRIKES {
            self.todo.clear();
        }
        self.strikes <= MAX_STRIKES
    }

    /// Nothing is left to ask for now.
    pub fn rests(&self) -> bool {
        self.is_free() && (self.todo.is_empty() || self.paused.is_some())
    }

    /// Neither side has anything to ask for, and each has heard everything that the other said.
    pub fn is_settled(&self) -> bool {
        self.rests() && self.rest_told == Some(self.heard) && self.rest_heard == Some(self.said)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PEER: DeviceKey = DeviceKey([7; 32]);
    const HASH: PictureHash = PictureHash([1; 32]);

    #[test]
    fn one_session_at_a_time_fetches_a_picture() {
        let (fetching, mut one, mut other) = (Fetching::default(), Fetch::default(), Fetch::default());
        for fetch in [&mut one, &mut other] {
            fetch.learn(&[HASH], PEER, &fetching);
            assert!(fetch.todo.is_empty(), "nobody asked for it");
            fetch.asked.insert(HASH);
            fetch.learn(&[HASH], PEER, &fetching);
        }
        let released = fetching.released();
        let claim = one.claim_next(&fetching).unwrap();
        assert!(other.claim_next(&fetching).is_none() && !other.rests());
        assert!(!released.has_changed().unwrap());
        drop(claim);
        assert!(released.has_changed().unwrap() && other.claim_next(&fetching).is_some());
    }

    #[test]
    fn who_sent_something_else_is_not_asked_again() {
        let (fetching, mut fetch) = (Fetching::default(), Fetch::default());
        fetch.asked.insert(HASH);
        fetching.was_wrong(PEER, HASH);
        fetch.learn(&[HASH], PEER, &fetching);
        assert!(fetch.todo.is_empty());
        fetch.learn(&[HASH], DeviceKey([8; 32]), &fetching);
        assert!(fetch.todo.contains(&HASH));
        assert!((0..MAX_STRIKES).all(|_| fetch.strike()) && fetch.todo.is_empty());
        assert!(!fetch.strike());
    }

    #[tokio::test(start_paused = true)]
    async fn an_answer_that_does_not_come_is_not_waited_for() {
        let (fetching, mut fetch) = (Fetching::default(), Fetch::default());
        fetch.current = Some(Current {
            hash: HASH,
            at: 0,
            total: None,
            whole: true,
            since: Instant::now(),
            claim: fetching.claim(HASH).unwrap(),
        });
        assert_eq!(fetch.wake_at(), Some(Instant::now() + PATIENCE));
        tokio::time::advance(PATIENCE).await;
        fetch.expire(Instant::now());
        assert!(fetch.is_free() && fetching.claim(HASH).is_some());
    }

    #[test]
    fn what_a_peer_asks_for_in_vain_is_bounded() {
        let mut fetch = Fetch::default();
        for n in 0..10_000u32 {
            let mut hash = [0; 32];
            hash[..4].copy_from_slice(&n.to_be_bytes());
            fetch.owe(PictureHash(hash));
        }
        assert_eq!(fetch.owed.len(), MAX_OWED);
    }
}
