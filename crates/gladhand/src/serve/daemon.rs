//! The daemon from start to end.
//!
//! ```text
//! open the home -> node thread -> control socket, inbox, network -> "serving" on stdout -> … -> a signal
//! -> no new commands, the inbox ends its batch, sessions close -> the node comes back, is flushed and closed
//! ```
//! Whatever was acknowledged is in the journal, so a kill loses nothing. An orderly end takes a few seconds at most: what has
//! not ended by then is abandoned, with a line in the log. A second signal ends the process at once.

use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use clap::Parser;
use tokio::signal::unix::{Signal, SignalKind, signal};
use tokio::sync::watch;
use tokio::task::JoinSet;

use super::network::Network;
use super::{log, tidy};
use crate::cli::{Cli, Command, LogFormat};
use crate::commands::{self, Context};
use crate::control::client;
use crate::control::server::{Server, Typed, Understand, Work};
use crate::failure::{Exit, Failure, Outcome};
use crate::inbox;
use crate::show;
use gladhand_answers::homes::Serving;
use gladhand_node::NodeHandle;
use gladhand_node::config::Config;
use gladhand_node::{Node, OpenNodeError};
use gladhand_store::OpenHomeError;

/// How long a command that has the home open is waited for.
const HOME_PATIENCE: Duration = Duration::from_secs(600);
/// How long the parts may take to end by themselves.
const PARTS_GRACE: Duration = Duration::from_secs(4);
/// How long the node is waited for after that.
const NODE_GRACE: Duration = Duration::from_secs(2);

/// Does what a command asks for, and tells why if it cannot.
pub type CarryOut = fn(&Context, Command) -> Exit;

/// Serves until a signal. What clients ask for is done by `carry_out`.
///
/// # Errors
/// When the home cannot be opened, or its daemon is running already.
pub fn serve(context: &Context, format: LogFormat, carry_out: CarryOut) -> Outcome {
    let home = &context.home;
    if client::is_served(home) {
        return Err(
            Failure::failed(format!("a daemon serves the home at {} already", home.display()))
                .hint("Nothing was changed. Stop the other one first."),
        );
    }
    let node = open_when_free(home)?;
    log::start(home, format);
    tell_what_was_found(&node);
    let config = node.config().clone();
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .map_err(|e| Failure::failed(format!("cannot start: {e}")))?;
    let (handle, thread) = NodeHandle::start(node);
    let understand = understanding(home.clone(), handle.clone(), carry_out);
    let ended = runtime.block_on(run(context, &config, handle, understand));
    // The runtime's tasks hold handles; the node comes back when the last one is gone.
    runtime.shutdown_timeout(Duration::from_millis(100));
    close(thread);
    ended
}

/// Opens the home once the command that has it open is done. Whoever starts a daemon, such as the system at its start, wants it to
/// run, not to hear that a report was being written.
fn open_when_free(home: &Path) -> Result<Node, Failure> {
    let until = Instant::now() + HOME_PATIENCE;
    let mut told = false;
    loop {
        match commands::open_patiently(home) {
            Err(OpenNodeError::Home(OpenHomeError::Locked { .. }))
                if Instant::now() < until && !client::is_served(home) =>
            {
                if !told {
                    show::aside("gladhand: a command has the home open; serving begins when it is done");
                    told = true;
                }
            }
            other => return Ok(other?),
        }
    }
}

fn tell_what_was_found(node: &Node) {
    for damage in node.damage() {
        tracing::warn!("damage found and set aside: {damage}");
    }
    node.notes().iter().for_each(|note| tracing::warn!("{note}"));
}

/// Understands a client's command line as that of a command that runs here, with the daemon's node.
fn understanding(home: PathBuf, node: NodeHandle, carry_out: CarryOut) -> Understand {
    Box::new(move |Typed { args, cwd }| {
        let cli = Cli::try_parse_from(args).ok()?;
        if !cli.command.needs_the_node() {
            return None;
        }
        let context = Context::lent(home.clone(), cli.json, cwd, node.clone());
        let work: Work = Box::new(move || carry_out(&context, cli.command));
        Some(work)
    })
}

async fn run(context: &Context, config: &Config, node: NodeHandle, understand: Understand) -> Outcome {
    let mut signals = Signals::new()?;
    let server = Server::open(&context.home, understand)?;
    let (stop, stopped) = watch::channel(false);
    let mut parts = JoinSet::new();
    let control = server.path().to_path_buf();
    parts.spawn(server.run(stopped.clone()));
    parts.spawn(tidy::run(node.clone(), stopped.clone()));
    let network = Network::prepare(node.clone(), config).await.map_err(Failure::failed)?;
    let listen = network.as_ref().and_then(Network::local_addr);
    if let Some(network) = network {
        parts.spawn(network.run(stopped.clone()));
    }
    let inbox = inbox::start(&context.home, node.clone())?;
    ready(context, &config.name, &control, listen)?;
    let dead = node.clone();
    let exit = tokio::select! {
        word = signals.next() => {
            tracing::info!(word, "shutting down ({word})");
            Exit::Done
        }
        () = dead.died() => Exit::Failed,
    };
    drop((dead, node));
    stop.send_replace(true);
    tokio::spawn(async move {
        signals.next().await;
        std::process::exit(Exit::Failed as i32);
    });
    parts.spawn(inbox.stop());
    let all = async { while parts.join_next().await.is_some() {} };
    if tokio::time::timeout(PARTS_GRACE, all).await.is_err() {
        tracing::warn!("not everything ended in time; what has a receipt is recorded");
    }
    Ok(exit)
}

/// One line on stdout tells the process that started the daemon that it is ready.
fn ready(context: &Context, name: &str, control: &Path, listen: Option<SocketAddr>) -> Result<(), Failure> {
    let home = &context.home;
    let (version, shown) = (env!("CARGO_PKG_VERSION"), home.display());
    tracing::info!(home = %shown, control = %control.display(), version, "serving {name} in {shown}, version {version}");
    let serving = Serving {
        serving: name.to_owned(),
        home: home.display().to_string(),
        control: control.display().to_string(),
        listen,
        process: std::process::id(),
    };
    show::answer_in_one_line(serving, context.json)
}

/// Waits for the node, flushes and closes it. Otherwise the next open would derive again what was not flushed.
fn close(thread: JoinHandle<Option<Node>>) {
    let (sender, closed) = std::sync::mpsc::channel();
    let waiter = std::thread::spawn(move || {
        let node = thread.join().ok().flatten();
        sender.send(node.map(Node::close)).ok();
    });
    match closed.recv_timeout(NODE_GRACE) {
        Ok(Some(Ok(()))) => tracing::info!("shut down"),
        Ok(Some(Err(error))) => tracing::warn!(%error, "shut down, but the index could not be flushed: {error}"),
        Ok(None) => tracing::error!("shut down; the store had been given up before"),
        Err(_) => tracing::warn!("shut down while a command was running; what has a receipt is recorded"),
    }
    drop(waiter);
}

/// What ends a daemon.
struct Signals {
    kinds: Vec<(Signal, &'static str)>,
}

impl Signals {
    fn new() -> Result<Self, Failure> {
        let one = |kind, word| signal(kind).map(|signal| (signal, word));
        let kinds = [
            one(SignalKind::terminate(), "SIGTERM"),
            one(SignalKind::interrupt(), "Ctrl-C"),
            one(SignalKind::hangup(), "the terminal was closed"),
        ];
        let kinds = kinds.into_iter().collect::<Result<_, _>>();
        Ok(Self {
            kinds: kinds.map_err(|e| Failure::failed(format!("cannot watch for signals: {e}")))?,
        })
    }

    async fn next(&mut self) -> &'static str {
        std::future::poll_fn(|cx| {
            for (signal, word) in &mut self.kinds {
                if signal.poll_recv(cx).is_ready() {
                    return std::task::Poll::Ready(*word);
                }
            }
            std::task::Poll::Pending
        })
        .await
    }
}
