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
/// An index that was not asked for this long is closed until it is.
const IDLE: Duration = Duration::from_secs(20);
/// After being busy for this long, what was derived is made durable all the same.
const BUSY: Duration = Duration::from_secs(30);

/// Runs until `stop` says so.
pub async fn run(node: NodeHandle, mut stop: watch::Receiver<bool>) {
    let mut done = None;
    let mut is_resting = false;
    loop {
        let moment = tokio::select! {
            biased;
            _ = stop.wait_for(|stop| *stop) => return,
            moment = moment(&node, is_resting) => moment,
        };
        is_resting = moment == Moment::Idle;
        let node = node.clone();
        let tidied = tokio::task::spawn_blocking(move || {
            let done = tidy(&node, moment, done);
            if moment != Moment::Busy {
                memory::give_back();
            }
            done
        });
        if let Ok(Some(at)) = tidied.await {
            done = Some(at);
        }
    }
}

/// When to do something.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Moment {
    /// The node was used, and is used no longer.
    Quiet,
    /// It stayed busy.
    Busy,
    /// It has not been used for a long while.
    Idle,
}

/// Waits until the node has been used, and then until it is not busy; or, unless the index rests, until it has long been idle.
async fn moment(node: &NodeHandle, is_resting: bool) -> Moment {
    if is_resting {
        node.used().await;
    } else if tokio::time::timeout(IDLE, node.used()).await.is_err() {
        return Moment::Idle;
    }
    let quiet = async { while tokio::time::timeout(QUIET, node.used()).await.is_ok() {} };
    match tokio::time::timeout(BUSY, quiet).await {
        Ok(()) => Moment::Quiet,
        Err(_) => Moment::Busy,
    }
}

/// Returns up to which position everything is judged and durable, if it is.
fn tidy(handle: &NodeHandle, moment: Moment, done: Option<Position>) -> Option<Position> {
    if moment == Moment::Idle {
        tell(handle.lend_quietly().ok()?.rest_index());
        return done;
    }
    let end = handle.lend_quietly().ok()?.journal().end();
    if done == Some(end) {
        return done;
    }
    if moment == Moment::Busy {
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
