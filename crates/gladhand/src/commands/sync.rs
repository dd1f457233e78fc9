//! `sync`: merging over the network, now.

use std::path::Path;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use gladhand_answers::resolve;
use gladhand_answers::synced::{Cause, Met, SessionTally, SyncFailure, Synced, synced};

use super::{Context, context};
use crate::failure::{Exit, Failure, Outcome};
use crate::show;
use gladhand_net::counters::SharedCounters;
use gladhand_net::dial::DialError;
use gladhand_net::hub::Hub;
use gladhand_net::session::Tally;
use gladhand_net::sync::{self, BusyPeer, Merged, Whom};
use gladhand_node::NodeHandle;
use gladhand_node::config::Config;
use gladhand_node::{Node, Progress};

/// How often progress is looked at.
const LOOK: Duration = Duration::from_millis(100);

/// A node that may be asked from async code for the length of a command.
pub(super) struct Asked {
    pub(super) runtime: tokio::runtime::Runtime,
    pub(super) handle: NodeHandle,
    thread: Option<JoinHandle<Option<Node>>>,
}

impl Asked {
    pub(super) fn new(context: &Context) -> Result<Self, Failure> {
        let (handle, thread) = context.handle()?;
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build()?;
        Ok(Self {
            runtime,
            handle,
            thread,
        })
    }

    /// The daemon's network, or one for the occasion.
    pub(super) async fn hub(&self, home: &Path) -> Result<Hub, Failure> {
        match sync::running(home) {
            Some(hub) => Ok(hub),
            None => Ok(Hub::new(self.handle.clone(), SharedCounters::default())
                .await
                .map_err(Failure::failed)?),
        }
    }

    /// A node of our own is flushed and closed.
    pub(super) fn close(self) -> Result<(), Failure> {
        drop((self.runtime, self.handle));
        match self.thread.map(JoinHandle::join) {
            Some(Ok(Some(node))) => Ok(node.close()?),
            Some(_) => Err(Failure::failed(
                "something went wrong inside; what was acknowledged is recorded",
            )),
            None => Ok(()),
        }
    }
}

/// Merges with one peer, or with everyone who can be reached.
pub fn sync(context: &Context, peer: Option<&str>) -> Outcome {
    let asked = Asked::new(context)?;
    let merged = asked.runtime.block_on(async {
        let hub = asked.hub(&context.home).await?;
        let given = peer.map(str::to_owned);
        let (whom, config, knew) = asked
            .handle
            .call(move |node| (whom(node, given.as_deref()), node.config().clone(), node.is_retired()))
            .await?;
        let whom = whom?;
        let met: Vec<Met> = with_progress(&hub, &whom, &config).await.into_iter().map(met).collect();
        let (synced, retired) = asked
            .handle
            .call(move |node| (synced(node, met), node.is_retired()))
            .await?;
        Ok::<_, Failure>((whom, synced, retired && !knew))
    });
    asked.close()?;
    let (whom, synced, was_told) = merged?;
    let exit = exit_of(&whom, &synced);
    show::answer(synced, context.json)?;
    if was_told {
        context::tell_retired();
    }
    exit
}

fn whom(node: &Node, given: Option<&str>) -> Result<Whom, Failure> {
    let Some(given) = given else { return Ok(Whom::Everyone) };
    match resolve::device(node, given) {
        Ok(key) => Ok(Whom::Device(key)),
        Err(_) if given.matches(':').count() == 1 && !given.ends_with(|c: char| c.is_ascii_digit()) => {
            let failure = Failure::bad_input(format!(
                "'{given}' is not an address: after the colon stands a port number"
            ));
            Err(failure.hint("Name an address such as 192.168.1.20:7401."))
        }
        Err(_) if given.contains([':', '.']) || given == "localhost" => Ok(Whom::Place(given.to_owned())),
        Err(error) => {
            let hint = "Name a device of `gladhand status`, or an address such as 192.168.1.20:7401.";
            Err(Failure::from(error).hint(hint))
        }
    }
}

async fn with_progress(hub: &Hub, whom: &Whom, config: &Config) -> Vec<Merged> {
    let bar = show::Bar::new();
    let entries = || hub.counters.entries_in.get() + hub.counters.entries_out.get();
    let picture_kib = || (hub.counters.picture_bytes_in.get() + hub.counters.picture_bytes_out.get()) >> 10;
    let before = (entries(), picture_kib());
    let busy: Mutex<Option<(BusyPeer, Instant)>> = Mutex::default();
    let on_busy = |peer| *lock(&busy) = Some((peer, Instant::now()));
    let dials = (config.peers.as_slice(), config.discover);
    let mut syncing = std::pin::pin!(sync::sync_telling(hub, whom, dials, &on_busy));
    loop {
        tokio::select! {
            biased;
            merged = &mut syncing => return merged,
            () = tokio::time::sleep(LOOK) => match (*lock(&busy), picture_kib() - before.1) {
                (Some((peer, since)), _) if since.elapsed() < peer.again_in => tick_busy(&bar, hub, peer, since),
                (_, 0) => bar.tick("merging", entries() - before.0, 0),
                (_, kib) => bar.tick("fetching pictures, KiB", kib, 0),
            },
        }
    }
}

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Shows that a peer is busy, and how much of the wait has passed.
fn tick_busy(bar: &show::Bar, hub: &Hub, BusyPeer { peer, again_in }: BusyPeer, since: Instant) {
    let whole_s = u64::try_from(again_in.as_millis().div_ceil(1_000)).unwrap_or(u64::MAX);
    let what = format!("{} is busy; trying again in {whole_s} s", hub.name_of(&peer));
    bar.tick(&what, since.elapsed().as_secs(), whole_s);
}

/// What the network tells, as the answer wants it.
fn met(merged: Merged) -> Met {
    Met {
        with: merged.with,
        peer: merged.peer,
        outcome: merged.outcome.map(tally).map_err(failure),
    }
}

fn tally(tally: Tally) -> (bool, SessionTally) {
    let session = SessionTally {
        new: tally.entries_in,
        known: tally.known,
        sent: tally.entries_out,
        pictures: tally.pictures_in,
        picture_bytes_in: tally.picture_bytes_in,
        picture_bytes_out: tally.picture_bytes_out,
        bytes_in: tally.bytes_in,
        bytes_out: tally.bytes_out,
        refused: tally.refused,
        enrolled: tally.enrolled,
    };
    (tally.level, session)
}

fn failure(error: DialError) -> SyncFailure {
    SyncFailure {
        error: error.to_string(),
        cause: match error {
            DialError::Unreachable(_) => Cause::Unreachable,
            DialError::Busy { .. } => Cause::Busy,
            DialError::Refused(_) | DialError::Retired => Cause::Refused,
            DialError::WrongKey(_) => Cause::WrongKey,
        },
    }
}

fn exit_of(whom: &Whom, synced: &Synced) -> Outcome {
    if synced.peers.is_empty() {
        let failure = Failure::unreachable("no peer is known and none was found on the local link");
        return Err(failure.hint("Name an address (`gladhand sync ADDR`), or add one to `peers` in config.toml."));
    }
    if synced.has_refused() {
        return Ok(Exit::SomeRejected);
    }
    if synced.was_turned_away() {
        return Ok(Exit::Refused);
    }
    let sessions = synced.sessions();
    // With everybody, those who are away are no failure.
    let is_enough = sessions == synced.peers.len() || *whom == Whom::Everyone;
    Ok(if sessions > 0 && is_enough {
        Exit::Done
    } else {
        Exit::Unreachable
    })
}
