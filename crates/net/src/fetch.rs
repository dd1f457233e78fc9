//! Which pictures a session fetches from its peer, and which the peer waits for: the state, without input or output.
//!
//! Pictures follow facts: a side asks only when it has all facts of the peer. It first asks which of the missing pictures the peer
//! has, a few hundred at a time, then fetches them in ranges, one at a time, so that new facts wait behind at most one range. A
//! picture that the peer did not have is fetched when the peer reports that it has arrived.
//!
//! Deliberately absent: files and packets ([`super::pictures`]).
//!
//! Invariants:
//! - one picture is fetched by at most one session at a time ([`Claim`]);
//! - a picture whose bytes do not match its hash is not fetched from that peer again while this process runs. If the part
//!   began with bytes of another peer, it is fetched from the start first, so that no peer is blamed for another's bytes.

use std::collections::BTreeSet;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use gladhand_facts::DeviceKey;
use gladhand_store::PictureHash;
use tokio::sync::{Semaphore, watch};
use tokio::time::{Duration, Instant};

/// How long an answer may take.
pub const PATIENCE: Duration = Duration::from_secs(60);
/// How long fetching pauses when the disk refuses to store.
pub const PAUSE: Duration = Duration::from_secs(5);
/// How many ranges may wait to be sent. A correct peer asks for one at a time.
pub const SERVED_AT_ONCE: usize = 2;
/// How many pictures that the peer asked for and this node lacks are remembered.
pub const MAX_AWAITED: usize = 4_096;
/// After this many faults no further picture is fetched from the peer in this session; after one more the session ends.
const MAX_STRIKES: u32 = 16;
/// How many wrong pictures of all peers are remembered.
const MAX_WRONG: usize = 4_096;

/// Shared by the sessions of a node: which pictures are being fetched, and which turned out wrong.
#[derive(Debug, Clone, Default)]
pub struct PictureClaims {
    inner: Arc<Mutex<Inner>>,
    released: watch::Sender<u64>,
}

#[derive(Debug, Default)]
struct Inner {
    claimed: BTreeSet<PictureHash>,
    wrong: BTreeSet<(DeviceKey, PictureHash)>,
}

/// The exclusive right to fetch a picture. Dropping it gives the right back.
#[derive(Debug)]
pub struct Claim {
    claims: PictureClaims,
    hash: PictureHash,
}

impl PictureClaims {
    fn inner(&self) -> MutexGuard<'_, Inner> {
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The right to fetch a picture, unless another session has it.
    pub fn claim(&self, hash: PictureHash) -> Option<Claim> {
        // `then`, not `then_some`: a Claim that is built and dropped would release the other session's claim.
        let is_free = self.inner().claimed.insert(hash);
        is_free.then(|| Claim {
            claims: self.clone(),
            hash,
        })
    }

    /// Notes that `peer` sent other bytes under this hash.
    pub fn note_wrong(&self, peer: DeviceKey, hash: PictureHash) {
        let mut inner = self.inner();
        if inner.wrong.len() >= MAX_WRONG {
            inner.wrong.pop_first();
        }
        inner.wrong.insert((peer, hash));
    }

    /// Whether `peer` sent other bytes under this hash.
    pub fn is_wrong(&self, peer: DeviceKey, hash: PictureHash) -> bool {
        self.inner().wrong.contains(&(peer, hash))
    }

    /// A receiver that is notified whenever a claim is given back.
    pub fn released(&self) -> watch::Receiver<u64> {
        self.released.subscribe()
    }
}

impl Drop for Claim {
    fn drop(&mut self) {
        self.claims.inner().claimed.remove(&self.hash);
        self.claims.released.send_modify(|count| *count += 1);
    }
}

/// The picture that is being fetched.
#[derive(Debug)]
pub struct Current {
    /// The picture.
    pub hash: PictureHash,
    /// Where the requested range begins.
    pub at: u64,
    /// The length of the whole picture, once the peer has told it.
    pub total: Option<u64>,
    /// Whether all of its bytes come from this peer.
    pub whole: bool,
    /// When the range was requested.
    pub since: Instant,
    /// The right to fetch it.
    pub claim: Claim,
}

/// The state of picture transfer in one session.
#[derive(Debug)]
pub struct PictureFetch {
    /// The pictures that the peer was asked about.
    pub asked: BTreeSet<PictureHash>,
    /// The pictures that it has and that are to be fetched.
    pub todo: BTreeSet<PictureHash>,
    /// The pictures that the peer asked about and that this node lacks.
    pub awaited: BTreeSet<PictureHash>,
    /// The picture that is being fetched.
    pub current: Option<Current>,
    /// When the last seek was sent, if it is not answered yet.
    pub seeking: Option<Instant>,
    /// Whether new facts may have named more pictures, so that another seek is needed.
    pub must_seek: bool,
    /// Nothing is fetched until then, because the disk refused to store.
    pub paused_until: Option<Instant>,
    /// How many exchange messages were received and processed.
    pub received: u64,
    /// How many exchange messages were sent.
    pub sent: u64,
    /// The count in the last `rest` that was sent.
    pub rest_sent: Option<u64>,
    /// The count in the last `rest` that was received.
    pub rest_received: Option<u64>,
    /// Permits for ranges that wait to be sent.
    pub serving: Arc<Semaphore>,
    strikes: u32,
}

impl Default for PictureFetch {
    fn default() -> Self {
        Self {
            asked: BTreeSet::new(),
            todo: BTreeSet::new(),
            awaited: BTreeSet::new(),
            current: None,
            seeking: None,
            must_seek: true,
            paused_until: None,
            received: 0,
            sent: 0,
            rest_sent: None,
            rest_received: None,
            serving: Arc::new(Semaphore::new(SERVED_AT_ONCE)),
            strikes: 0,
        }
    }
}

impl PictureFetch {
    /// Gives up what was not answered in time, and ends a pause.
    pub fn expire(&mut self, now: Instant) {
        let late = |since: Instant| now >= since + PATIENCE;
        self.seeking.take_if(|since| late(*since));
        self.paused_until.take_if(|until| now >= *until);
        self.current.take_if(|current| late(current.since));
    }

    /// The next time at which [`PictureFetch::expire`] has something to do.
    pub fn wake_at(&self) -> Option<Instant> {
        let current = self.current.as_ref().map(|c| c.since + PATIENCE);
        let seeking = self.seeking.map(|since| since + PATIENCE);
        current.into_iter().chain(seeking).chain(self.paused_until).min()
    }

    /// Whether nothing is being fetched or asked, so that the next request may be sent.
    pub fn is_free(&self) -> bool {
        self.current.is_none() && self.seeking.is_none()
    }

    /// The next picture to fetch, with the right to do so.
    pub fn claim_next(&mut self, claims: &PictureClaims) -> Option<(PictureHash, Claim)> {
        if self.paused_until.is_some() {
            return None;
        }
        let next = self.todo.iter().find_map(|hash| Some((*hash, claims.claim(*hash)?)))?;
        self.todo.remove(&next.0);
        Some(next)
    }

    /// Notes that the peer has these pictures. Those that it was not asked about are ignored.
    pub fn note_available(&mut self, hashes: &[PictureHash], peer: DeviceKey, claims: &PictureClaims) {
        if self.strikes < MAX_STRIKES {
            let wanted = hashes.iter().filter(|hash| self.asked.contains(*hash));
            self.todo.extend(wanted.filter(|hash| !claims.is_wrong(peer, **hash)));
        }
    }

    /// Notes that the peer asked about this picture, and that this node lacks it.
    pub fn note_awaited(&mut self, hash: PictureHash) {
        if self.awaited.len() >= MAX_AWAITED {
            self.awaited.pop_first();
        }
        self.awaited.insert(hash);
    }

    /// Counts a fault of the peer. `false`: there were too many, and the session must end.
    pub fn strike(&mut self) -> bool {
        self.strikes += 1;
        if self.strikes >= MAX_STRIKES {
            self.todo.clear();
        }
        self.strikes <= MAX_STRIKES
    }

    /// Whether nothing is left to request now.
    pub fn is_idle(&self) -> bool {
        self.is_free() && (self.todo.is_empty() || self.paused_until.is_some())
    }

    /// Whether both sides are idle. A `rest` carries how many exchange messages its sender had received: only if that is all of
    /// them can no message under way make it ask for more.
    pub fn is_settled(&self) -> bool {
        self.is_idle() && self.rest_sent == Some(self.received) && self.rest_received == Some(self.sent)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PEER: DeviceKey = DeviceKey([7; 32]);
    const HASH: PictureHash = PictureHash([1; 32]);

    #[test]
    fn one_session_at_a_time_fetches_a_picture() {
        let (claims, mut one, mut other) = (
            PictureClaims::default(),
            PictureFetch::default(),
            PictureFetch::default(),
        );
        for fetch in [&mut one, &mut other] {
            fetch.note_available(&[HASH], PEER, &claims);
            assert!(fetch.todo.is_empty(), "nobody asked for it");
            fetch.asked.insert(HASH);
            fetch.note_available(&[HASH], PEER, &claims);
        }
        let released = claims.released();
        let claim = one.claim_next(&claims).unwrap();
        assert!(other.claim_next(&claims).is_none() && !other.is_idle());
        assert!(!released.has_changed().unwrap());
        drop(claim);
        assert!(released.has_changed().unwrap() && other.claim_next(&claims).is_some());
    }

    #[test]
    fn who_sent_something_else_is_not_asked_again() {
        let (claims, mut fetch) = (PictureClaims::default(), PictureFetch::default());
        fetch.asked.insert(HASH);
        claims.note_wrong(PEER, HASH);
        fetch.note_available(&[HASH], PEER, &claims);
        assert!(fetch.todo.is_empty());
        fetch.note_available(&[HASH], DeviceKey([8; 32]), &claims);
        assert!(fetch.todo.contains(&HASH));
        assert!((0..MAX_STRIKES).all(|_| fetch.strike()) && fetch.todo.is_empty());
        assert!(!fetch.strike());
    }

    #[tokio::test(start_paused = true)]
    async fn an_answer_that_does_not_come_is_not_waited_for() {
        let (claims, mut fetch) = (PictureClaims::default(), PictureFetch::default());
        fetch.current = Some(Current {
            hash: HASH,
            at: 0,
            total: None,
            whole: true,
            since: Instant::now(),
            claim: claims.claim(HASH).unwrap(),
        });
        assert_eq!(fetch.wake_at(), Some(Instant::now() + PATIENCE));
        tokio::time::advance(PATIENCE).await;
        fetch.expire(Instant::now());
        assert!(fetch.is_free() && claims.claim(HASH).is_some());
    }

    #[test]
    fn what_a_peer_asks_for_in_vain_is_bounded() {
        let mut fetch = PictureFetch::default();
        for n in 0..10_000u32 {
            let mut hash = [0; 32];
            hash[..4].copy_from_slice(&n.to_be_bytes());
            fetch.note_awaited(PictureHash(hash));
        }
        assert_eq!(fetch.awaited.len(), MAX_AWAITED);
    }
}
