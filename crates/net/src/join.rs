//! Joining over the network: a device whose key is not on the roster presents its credential, and can do nothing else.
//!
//! Under its own ALPN name, each way one message `u32 length (little endian), JSON` of at most 4 KiB: the credential, then the
//! answer. The answering side is the depot whose key the invite (or the home) names, or a device that this node trusts already.
//!
//! Deliberately not here: whether the credential is good ([`gladhand_node::Node::judge_credential`]).

use std::time::Duration;

use gladhand_logbook::governance::Credential;
use serde::{Deserialize, Serialize};
use tokio::io::{AsyncRead, AsyncReadExt, AsyncWrite, AsyncWriteExt};

use crate::hub::Hub;
use gladhand_node::peer::CredentialVerdict;

const MAX_BYTES: u32 = 4 << 10;
/// How long one side waits for each step of the other.
const PATIENCE: Duration = Duration::from_secs(10);

/// The answer to a credential.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "answer", rename_all = "kebab-case")]
pub enum Answer {
    /// The device may open sessions.
    Admitted {
        /// Whether it is on the depot's roster now.
        enrolled: bool,
    },
    /// The device may not open sessions.
    Refused {
        /// Why.
        why: String,
        /// Whether it is because the depot has retired it. Older versions say so only in words.
        #[serde(default)]
        retired: bool,
    },
}

/// Why a retired device is refused.
pub const RETIRED: &str = "this device was retired by the depot";

/// Why there is no answer.
#[derive(Debug, thiserror::Error)]
pub enum JoinError {
    /// The connection failed.
    #[error("the other side broke off: {0}")]
    Io(#[from] std::io::Error),
    /// No answer in time.
    #[error("the other side did not answer in time")]
    Slow,
    /// A message that is no credential or no answer, or too long.
    #[error("the other side sent something that does not belong here")]
    Malformed,
}

/// Presents a credential and waits for the answer.
///
/// # Errors
/// [`JoinError`].
pub async fn present<S: AsyncRead + AsyncWrite + Unpin>(
    mut stream: S,
    credential: &Credential,
) -> Result<Answer, JoinError> {
    let exchange = async {
        write(&mut stream, credential).await?;
        read(&mut stream).await
    };
    tokio::time::timeout(PATIENCE, exchange)
        .await
        .map_err(|_| JoinError::Slow)?
}

/// Reads a credential, judges it, and sends the answer, which it returns.
///
/// # Errors
/// [`JoinError`].
pub async fn serve<S: AsyncRead + AsyncWrite + Unpin>(
    mut stream: S,
    hub: &Hub,
    presenter: gladhand_facts::DeviceKey,
) -> Result<Answer, JoinError> {
    let reading = read::<Credential, _>(&mut stream);
    let credential = tokio::time::timeout(PATIENCE, reading)
        .await
        .map_err(|_| JoinError::Slow)??;
    let answer = judge(hub, credential, presenter).await;
    match &answer {
        Answer::Admitted { .. } => hub.counters.joined.up(),
        Answer::Refused { .. } => hub.counters.join_refused.up(),
    }
    // Before the answer: the device opens a session as soon as it has it, and must be trusted by then. Without a node
    // (the only error) no session can open anyway.
    hub.refresh_trust().await.ok();
    let sending = async {
        write(&mut stream, &answer).await?;
        stream.shutdown().await.map_err(JoinError::Io)
    };
    tokio::time::timeout(PATIENCE, sending)
        .await
        .map_err(|_| JoinError::Slow)??;
    Ok(answer)
}

async fn judge(hub: &Hub, credential: Credential, presenter: gladhand_facts::DeviceKey) -> Answer {
    let refused = |why: &str| Answer::Refused {
        why: why.to_owned(),
        retired: why == RETIRED,
    };
    if credential.device != presenter {
        return refused("this is another device's credential");
    }
    let name = credential.name.clone();
    match hub.node.call(move |node| node.judge_credential(credential)).await {
        Ok(Ok(CredentialVerdict::Admitted { enrolled })) => Answer::Admitted { enrolled },
        Ok(Ok(CredentialVerdict::Refused(why))) => refused(&why),
        Ok(Ok(CredentialVerdict::Retired)) => refused(RETIRED),
        Ok(Err(error)) => {
            tracing::error!(name, %error, "{name} could not be enrolled: {error}");
            refused("the other side could not write it down; try again later")
        }
        Err(_) => refused("the other side is shutting down"),
    }
}

async fn write<W: AsyncWrite + Unpin>(to: &mut W, what: &impl Serialize) -> Result<(), JoinError> {
    let json = serde_json::to_vec(what).map_err(|_| JoinError::Malformed)?;
    let length = u32::try_from(json.len()).map_err(|_| JoinError::Malformed)?;
    to.write_all(&length.to_le_bytes()).await?;
    to.write_all(&json).await?;
    Ok(to.flush().await?)
}

async fn read<T: for<'de> Deserialize<'de>, R: AsyncRead + Unpin>(from: &mut R) -> Result<T, JoinError> {
    let mut head = [0; 4];
    from.read_exact(&mut head).await?;
    let length = u32::from_le_bytes(head);
    if length > MAX_BYTES {
        return Err(JoinError::Malformed);
    }
    let mut json = vec![0; length as usize];
    from.read_exact(&mut json).await?;
    serde_json::from_slice(&json).map_err(|_| JoinError::Malformed)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_answer_of_an_older_version_reads() {
        let older: Answer = serde_json::from_str(r#"{"answer":"refused","why":"no"}"#).unwrap();
        assert_eq!(
            older,
            Answer::Refused {
                why: "no".into(),
                retired: false
            }
        );
    }
}
