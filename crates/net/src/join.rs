//! Joining over the network: a key that nobody knows yet may show its credential, and do nothing else.
//!
//! Over its own ALPN name, both ways `u32 length (little endian), JSON`: a credential of at most 4 KiB, and one reply. Whoever
//! answers is pinned by the invite's (or the home's) depot key, or is a device that this node trusts already.

use std::time::Duration;

use gladhand_logbook::governance::Credential;
use serde::{Deserialize, Serialize};
use tokio::io::{AsyncRead, AsyncReadExt, AsyncWrite, AsyncWriteExt};

use crate::hub::Hub;
use gladhand_node::peer::Judged;

const MAX_BYTES: u32 = 4 << 10;
/// How long one side waits for the other.
const PATIENCE: Duration = Duration::from_secs(10);

/// What the newcomer is told.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "answer", rename_all = "kebab-case")]
pub enum Answer {
    /// It may open sessions.
    Admitted {
        /// Whether it stands on the depot's roster now.
        enrolled: bool,
    },
    /// It may not.
    Refused {
        /// Why.
        why: String,
    },
}

/// Why no answer came.
#[derive(Debug, thiserror::Error)]
pub enum JoinError {
    /// The connection.
    #[error("the other side broke off: {0}")]
    Io(#[from] std::io::Error),
    /// No answer in time.
    #[error("the other side did not answer in time")]
    Slow,
    /// Something that is no credential or no answer.
    #[error("the other side sent something that does not belong here")]
    Words,
}

/// Shows a credential.
///
/// # Errors
/// [`JoinError`].
pub async fn show<S: AsyncRead + AsyncWrite + Unpin>(
    mut stream: S,
    credential: &Credential,
) -> Result<Answer, JoinError> {
    let talk = async {
        write(&mut stream, credential).await?;
        read(&mut stream).await
    };
    tokio::time::timeout(PATIENCE, talk)
        .await
        .map_err(|_| JoinError::Slow)?
}

/// Takes a credential in and answers. Returns the answer.
///
/// # Errors
/// [`JoinError`].
pub async fn answer<S: AsyncRead + AsyncWrite + Unpin>(
    mut stream: S,
    hub: &Hub,
    shower: gladhand_facts::DeviceKey,
) -> Result<Answer, JoinError> {
    let reading = read::<Credential, _>(&mut stream);
    let credential = tokio::time::timeout(PATIENCE, reading)
        .await
        .map_err(|_| JoinError::Slow)??;
    let answer = judge(hub, credential, shower).await;
    match &answer {
        Answer::Admitted { .. } => hub.counters.joined.up(),
        Answer::Refused { .. } => hub.counters.join_refused.up(),
    }
    // Before it is told: it will come back at once.
    hub.refresh_trust().await.ok();
    let telling = async {
        write(&mut stream, &answer).await?;
        stream.shutdown().await.map_err(JoinError::Io)
    };
    tokio::time::timeout(PATIENCE, telling)
        .await
        .map_err(|_| JoinError::Slow)??;
    Ok(answer)
}

async fn judge(hub: &Hub, credential: Credential, shower: gladhand_facts::DeviceKey) -> Answer {
    let refused = |why: &str| Answer::Refused { why: why.to_owned() };
    if credential.device != shower {
        return refused("this is another device's credential");
    }
    let name = credential.name.clone();
    match hub.node.call(move |node| node.judge_credential(credential)).await {
        Ok(Ok(Judged::Admitted { enrolled })) => Answer::Admitted { enrolled },
        Ok(Ok(Judged::Refused(why))) => Answer::Refused { why },
        Ok(Err(error)) => {
            tracing::error!(name, %error, "{name} could not be enrolled: {error}");
            refused("the other side could not write it down; try again later")
        }
        Err(_) => refused("the other side is shutting down"),
    }
}

async fn write<W: AsyncWrite + Unpin>(to: &mut W, what: &impl Serialize) -> Result<(), JoinError> {
    let json = serde_json::to_vec(what).map_err(|_| JoinError::Words)?;
    let length = u32::try_from(json.len()).map_err(|_| JoinError::Words)?;
    to.write_all(&length.to_le_bytes()).await?;
    to.write_all(&json).await?;
    Ok(to.flush().await?)
}

async fn read<T: for<'de> Deserialize<'de>, R: AsyncRead + Unpin>(from: &mut R) -> Result<T, JoinError> {
    let mut head = [0; 4];
    from.read_exact(&mut head).await?;
    let length = u32::from_le_bytes(head);
    if length > MAX_BYTES {
        return Err(JoinError::Words);
    }
    let mut json = vec![0; length as usize];
    from.read_exact(&mut json).await?;
    serde_json::from_slice(&json).map_err(|_| JoinError::Words)
}
