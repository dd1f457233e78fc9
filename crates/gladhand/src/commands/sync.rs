//! `sync`: merging over the network, now.

use std::path::Path;
use std::thread::JoinHandle;
use std::time::Duration;

use gladhand_facts::DeviceKey;
use serde_json::{Value, json};

use super::{Context, resolve};
use crate::failure::{Exit, Failure, Outcome};
use crate::show;
use gladhand_net::counters::SharedCounters;
use gladhand_net::dial::DialError;
use gladhand_net::hub::Hub;
use gladhand_net::session::Tally;
use gladhand_net::sync::{self, Merged, Whom};
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
        let (whom, config) = asked
            .handle
            .call(move |node| (whom(node, given.as_deref()), node.config().clone()))
            .await?;
        let whom = whom?;
        let merged = with_progress(&hub, &whom, &config).await;
        let named = name_all(&asked.handle, merged).await?;
        Ok::<_, Failure>((whom, named))
    });
    asked.close()?;
    let (whom, merged) = merged?;
    tell(context, &whom, &merged)
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
        Err(failure) => {
            Err(failure.hint("Name a device of `gladhand status`, or an address such as 192.168.1.20:7401."))
        }
    }
}

async fn with_progress(hub: &Hub, whom: &Whom, config: &Config) -> Vec<Merged> {
    let bar = show::Bar::new();
    let entries = || hub.counters.entries_in.get() + hub.counters.entries_out.get();
    let picture_kib = || (hub.counters.picture_bytes_in.get() + hub.counters.picture_bytes_out.get()) >> 10;
    let before = (entries(), picture_kib());
    let mut syncing = std::pin::pin!(sync::sync(hub, whom, &config.peers, config.discover));
    loop {
        tokio::select! {
            biased;
            merged = &mut syncing => return merged,
            () = tokio::time::sleep(LOOK) => match picture_kib() - before.1 {
                0 => bar.tick("merging", entries() - before.0, 0),
                kib => bar.tick("fetching pictures, KiB", kib, 0),
            },
        }
    }
}

struct Named {
    name: String,
    peer: Option<DeviceKey>,
    outcome: Result<Tally, DialError>,
}

async fn name_all(handle: &NodeHandle, merged: Vec<Merged>) -> Result<Vec<Named>, Failure> {
    let peers: Vec<Option<DeviceKey>> = merged.iter().map(|m| m.peer).collect();
    let names = move |node: &mut Node| -> Vec<Option<String>> {
        let name = |peer: Option<DeviceKey>| peer.map(|p| node.book().roster().name(&p));
        peers.into_iter().map(name).collect()
    };
    let names = handle.call(names).await?;
    let named = merged.into_iter().zip(names).map(|(m, name)| Named {
        name: name.unwrap_or(m.with),
        peer: m.peer,
        outcome: m.outcome,
    });
    Ok(named.collect())
}

fn tell(context: &Context, whom: &Whom, merged: &[Named]) -> Outcome {
    if context.json {
        show::json(&merged.iter().map(as_json).collect::<Vec<_>>())?;
    }
    for one in merged {
        match &one.outcome {
            Ok(tally) => {
                if !context.json {
                    show::line(&format!("{}: {}", one.name, in_words(tally)))?;
                }
                for why in &tally.refused {
                    show::aside(&format!("gladhand: {}: refused: {why}", one.name));
                }
            }
            Err(error) => {
                // The address stands in most of these words already.
                let words = error.to_string();
                let name = if words.starts_with(&one.name) {
                    String::new()
                } else {
                    format!("{}: ", one.name)
                };
                show::aside(&format!("gladhand: {name}{words}"));
            }
        }
    }
    if merged.is_empty() {
        let failure = Failure::unreachable("no peer is known and none was found on the local link");
        return Err(failure.hint("Name an address (`gladhand sync ADDR`), or add one to `peers` in config.toml."));
    }
    Ok(exit_of(whom, merged))
}

fn exit_of(whom: &Whom, merged: &[Named]) -> Exit {
    let refused = merged
        .iter()
        .any(|m| matches!(m.outcome, Err(DialError::Refused(_) | DialError::WrongKey(_))));
    let level = merged.iter().filter_map(|m| m.outcome.as_ref().ok());
    if level.clone().any(|tally| !tally.refused.is_empty()) {
        show::aside("  The good part is recorded; the refused originals are kept in the home's evidence.");
        return Exit::SomeRejected;
    }
    match (level.count(), refused) {
        (0, true) => {
            show::aside("  A device joins with an invite of the depot: `gladhand join INVITE`.");
            Exit::Refused
        }
        (0, false) => Exit::Unreachable,
        // With everybody, those who are away are no failure.
        (count, _) if count == merged.len() || *whom == Whom::Everyone => Exit::Done,
        _ => Exit::Unreachable,
    }
}

fn in_words(tally: &Tally) -> String {
    let pictures = match (tally.pictures_in, tally.picture_bytes_out) {
        (0, 0) => String::new(),
        (came, 0) => format!(", {} came in", show::counted(came, "picture", "pictures")),
        (0, out) => format!(", {} KiB of pictures went out", out.div_ceil(1024)),
        (came, out) => format!(
            ", {} came in, {} KiB of pictures went out",
            show::counted(came, "picture", "pictures"),
            out.div_ceil(1024)
        ),
    };
    if tally.entries_in + tally.entries_out == 0 && pictures.is_empty() {
        return "level, nothing new".to_owned();
    }
    format!(
        "level, {} came in, {} went out{pictures}, {} bytes",
        show::counted(tally.entries_in, "new entry", "new entries"),
        show::counted(tally.entries_out, "entry", "entries"),
        tally.bytes_in + tally.bytes_out
    )
}

fn as_json(one: &Named) -> Value {
    match &one.outcome {
        Ok(tally) => json!({
            "name": one.name, "device": one.peer, "level": tally.level, "new": tally.entries_in, "known": tally.known,
            "sent": tally.entries_out, "pictures": tally.pictures_in, "picture_bytes_in": tally.picture_bytes_in,
            "picture_bytes_out": tally.picture_bytes_out, "bytes_in": tally.bytes_in, "bytes_out": tally.bytes_out,
            "refused": tally.refused, "enrolled": tally.enrolled,
        }),
        Err(error) => json!({"name": one.name, "device": one.peer, "level": false, "error": error.to_string()}),
    }
}
