//! What a daemon does when it has a moment: judges what is new, and makes what was derived durable.
//!
//! It sleeps until somebody has had the node in hand, then waits for a quiet moment, and does nothing when nothing was
//! added: an idle daemon stays idle. Without it the first question after a busy hour would wait for the judging, and a kill
//! would make the next start derive that hour again.

use std::time::Duration;

use gladhand_store::Position;
use tokio::sync::watch;

use super::NodeHandle;
use crate::node::Node;

/// How long after the first use of the node.
const LATER: Duration = Duration::from_secs(2);

/// Tidies up until `stop` says so.
pub async fn run(node: NodeHandle, mut stop: watch::Receiver<bool>) {
    let mut done = None;
    loop {
        tokio::select! {
            biased;
            _ = stop.wait_for(|stop| *stop) => return,
            () = node.used() => {}
        }
        tokio::select! {
            biased;
            _ = stop.wait_for(|stop| *stop) => return,
            () = tokio::time::sleep(LATER) => {}
        }
        let node = node.clone();
        let tidied = tokio::task::spawn_blocking(move || node.lend_quietly().map(|mut node| tidy(&mut node, done)));
        match tidied.await {
            Ok(Ok(at)) => done = Some(at),
            Ok(Err(_)) | Err(_) => tracing::debug!("no tidying up this time"),
        }
    }
}

fn tidy(node: &mut Node, done: Option<Position>) -> Position {
    let end = node.journal().end();
    if done == Some(end) {
        return end;
    }
    node.rest();
    let outcome = node.judge().and_then(|()| node.flush());
    if let Err(error) = outcome {
        tracing::warn!(%error, "what is new could not be judged or flushed; the next question tries again");
    }
    end
}
