//! What a daemon does when it is not busy: it judges what is new, and makes what was derived durable.
//!
//! It sleeps until the node has been used, then waits until it has not been used for a while, and does nothing when nothing
//! was added: an idle daemon stays idle. Without it the first query after a busy hour would wait until that hour is judged,
//! and after a kill the next start would derive that hour again. While the node stays busy nothing is judged: judging once
//! at the end of a long intake is much less work than judging again and again on the way.

use std::time::Duration;

use gladhand_store::Position;
use tokio::sync::watch;

use super::memory;
use gladhand_node::handle::ViewError;
use gladhand_node::{NodeError, NodeHandle};

/// The node is not busy when nobody has used it for this long.
const QUIET: Duration = Duration::from_secs(2);
/// After being busy for this long, what was derived is made durable all the same.
const BUSY: Duration = Duration::from_secs(30);

/// Runs until `stop` says so.
pub async fn run(node: NodeHandle, mut stop: watch::Receiver<bool>) {
    let mut done = None;
    loop {
        let is_quiet = tokio::select! {
            biased;
            _ = stop.wait_for(|stop| *stop) => return,
            is_quiet = moment(&node) => is_quiet,
        };
        let node = node.clone();
        let tidied = tokio::task::spawn_blocking(move || {
            let done = tidy(&node, is_quiet, done);
            if is_quiet {
                memory::give_back();
            }
            done
        });
        if let Ok(Some(at)) = tidied.await {
            done = Some(at);
        }
    }
}

/// Waits until the node has been used, and then until it is not busy. `false`: it stayed busy.
async fn moment(node: &NodeHandle) -> bool {
    node.used().await;
    let quiet = async { while tokio::time::timeout(QUIET, node.used()).await.is_ok() {} };
    tokio::time::timeout(BUSY, quiet).await.is_ok()
}

/// Returns up to which position everything is judged and durable, if it is.
fn tidy(handle: &NodeHandle, is_quiet: bool, done: Option<Position>) -> Option<Position> {
    let end = handle.lend_quietly().ok()?.journal().end();
    if done == Some(end) {
        return done;
    }
    if !is_quiet {
        tell(handle.lend_quietly().ok()?.flush());
        return None;
    }
    // Others use the node while it judges.
    let judged = match handle.judged() {
        Ok(judged) => judged.journal().end(),
        Err(ViewError::Closed(_)) => return None,
        Err(ViewError::Node(error)) => {
            tell(Err(error));
            return None;
        }
    };
    let mut node = handle.lend_quietly().ok()?;
    node.rest();
    tell(node.flush()).then_some(judged)
}

fn tell(outcome: Result<(), NodeError>) -> bool {
    if let Err(error) = &outcome {
        tracing::warn!(%error, "what is new could not be judged and made durable: {error}; the next command tries again");
    }
    outcome.is_ok()
}
