//! Dialling one peer: connect to one of its addresses, TLS handshake, present the credential if needed, run the session.
//!
//! Addresses are tried one after the other with a short head start each ([`STAGGER`]), as in RFC 8305; the first that answers
//! is used.
//!
//! Deliberately not here: when to dial, and when to dial again ([`super::dialler`], [`super::redial`]).

use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use gladhand_facts::DeviceKey;
use gladhand_logbook::governance::Credential;
use tokio::task::JoinSet;
use tokio::time::Instant;
use tokio_rustls::TlsConnector;
use tokio_rustls::client::TlsStream;

use crate::connector::{AnyStream, Connector};
use crate::hub::Hub;
use crate::join::{self, Answer};
use crate::open_sessions::NotAdmitted;
use crate::packet::ByeReason;
use crate::session::{self, End, SessionSetup, Tally};
use crate::tls::{self, Abilities, JOIN, SESSION};
use crate::trust::Accepts;

/// The port of an address without one.
pub const DEFAULT_PORT: u16 = 7401;
/// How long one connection attempt may take.
const CONNECT: Duration = Duration::from_secs(3);
/// How long a handshake may take.
const HANDSHAKE: Duration = Duration::from_secs(10);
/// How long an attempt runs alone before the next address is tried concurrently.
const STAGGER: Duration = Duration::from_millis(250);

/// The peer to dial.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Target {
    /// This device, at any of its addresses.
    Device(DeviceKey),
    /// Any device of the roster that listens at this `host:port` of the configuration.
    Place(String),
}

impl std::fmt::Display for Target {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Device(key) => write!(f, "{}", key.short()),
            Self::Place(place) => f.write_str(place),
        }
    }
}

/// Why a dial led to no session.
#[derive(Debug, thiserror::Error)]
pub enum DialError {
    /// No address answered.
    #[error("{0}")]
    Unreachable(String),
    /// The peer refused this device.
    #[error("{0}")]
    Refused(String),
    /// The depot has retired this device.
    #[error("{}", join::RETIRED)]
    Retired,
    /// All places are taken, at the peer or on this side.
    #[error("busy: {words}")]
    Busy {
        /// The device that is busy.
        peer: DeviceKey,
        /// When to try again, in milliseconds, if the peer said so.
        again_ms: Option<u64>,
        /// What the peer said.
        words: String,
    },
    /// The key that answered is not the dialled one, or not on the roster.
    #[error("{0}: its key is not one that is expected there")]
    WrongKey(SocketAddr),
}

/// A session that was dialled and has ended.
#[derive(Debug)]
pub struct Dialled {
    /// The device that answered.
    pub peer: DeviceKey,
    /// What the session did.
    pub tally: Tally,
    /// How it ended.
    pub end: End,
    /// How long it was open.
    pub lasted: Duration,
}

/// Dials, and runs the session to its end.
///
/// # Errors
/// [`DialError`] when there was no session.
pub async fn dial(hub: &Hub, target: &Target, addresses: &[SocketAddr], once: bool) -> Result<Dialled, DialError> {
    hub.counters.dialled.up();
    let accepts = match target {
        Target::Device(key) => Accepts::One(*key),
        Target::Place(_) => Accepts::Roster(hub.trust.clone()),
    };
    let mut left = addresses.to_vec();
    loop {
        let (address, stream) = connect(&*hub.connector, &left).await?;
        match prepare(hub, (address, stream), &accepts).await {
            Ok(stream) => {
                let ended = run_session(hub, address, stream, once).await;
                return match ended {
                    Err(DialError::Refused(words)) => Err(why_refused(hub, address, &accepts, words).await),
                    ended => ended,
                };
            }
            // Somebody else answers there, or nobody who speaks TLS: one of the other addresses may be the right one.
            Err(DialError::WrongKey(_) | DialError::Unreachable(_)) if left.len() > 1 => left.retain(|a| *a != address),
            Err(error) => return Err(error),
        }
    }
}

/// A device that is refused in the handshake is not told why. It shows its credential, to which there is an answer in words.
async fn why_refused(hub: &Hub, address: SocketAddr, accepts: &Accepts, words: String) -> DialError {
    let Some(credential) = hub.trusted().own_credential else {
        return DialError::Refused(words);
    };
    let asking = async {
        let (address, stream) = connect(&*hub.connector, &[address]).await?;
        present_over(hub, address, stream, accepts.clone(), &credential).await
    };
    match asking.await {
        Err(error @ (DialError::Retired | DialError::Refused(_))) => error,
        _ => DialError::Refused(words),
    }
}

/// Everything before the session: presents the credential if needed, and does the handshake.
async fn prepare(
    hub: &Hub,
    (address, stream): (SocketAddr, AnyStream),
    accepts: &Accepts,
) -> Result<TlsStream<AnyStream>, DialError> {
    let stream = match hub.trusted().credential_to_show {
        Some((root, credential)) if accepts.accepts(&root) => {
            // As far as this node knows the depot has not enrolled it yet, so a session would be refused.
            match present_over(hub, address, stream, Accepts::One(root), &credential).await {
                Ok(_) | Err(DialError::WrongKey(_)) => connect(&*hub.connector, &[address]).await?.1,
                Err(error) => return Err(error),
            }
        }
        _ => stream,
    };
    handshake(hub, (address, stream), accepts.clone(), SESSION).await
}

async fn run_session(
    hub: &Hub,
    address: SocketAddr,
    stream: TlsStream<AnyStream>,
    once: bool,
) -> Result<Dialled, DialError> {
    let Some(peer) = tls::peer_key(stream.get_ref().1.peer_certificates()) else {
        return Err(DialError::Unreachable("the other side showed no key".into()));
    };
    let setup = SessionSetup {
        peer,
        dialled: Some(address),
        once,
        abilities: Abilities::of(stream.get_ref().1.alpn_protocol()),
    };
    let began = Instant::now();
    let (tally, end) = session::run(stream, hub, setup).await;
    outcome((address, peer), &tally, &end)?;
    Ok(Dialled {
        peer,
        tally,
        end,
        lasted: began.elapsed(),
    })
}

/// Tells a session that was refused, or never began, from one that did its work. In TLS 1.3 the dialling side learns only after
/// the handshake that its key was refused, so a refusal may look like a connection error.
fn outcome((address, peer): (SocketAddr, DeviceKey), tally: &Tally, end: &End) -> Result<(), DialError> {
    match end {
        End::Bye {
            why: ByeReason::Retired,
            ..
        } => Err(DialError::Retired),
        End::Bye {
            why: ByeReason::Busy,
            words,
        } => Err(DialError::Busy {
            peer,
            again_ms: tally.again_ms,
            words: words.clone(),
        }),
        End::NotAdmitted(NotAdmitted::Busy { again_ms }) => Err(DialError::Busy {
            peer,
            again_ms: Some(*again_ms),
            words: end.to_string(),
        }),
        End::Connection(crate::connection::ConnectionError::Io(error)) if !tally.up && tls::is_refusal(error) => {
            Err(DialError::Refused(format!("{address} does not know this device")))
        }
        End::Bye {
            why: ByeReason::Refused,
            words,
        } if !tally.level => Err(DialError::Refused(words.clone())),
        End::NotAdmitted(NotAdmitted::Untrusted) | End::Ourselves => Err(DialError::Refused(end.to_string())),
        End::Connection(error) if !tally.up => Err(DialError::Unreachable(format!("{address}: {error}"))),
        _ => Ok(()),
    }
}

/// Presents a credential to the depot `root` at one of `addresses`. Returns whether this device is on the roster now.
///
/// # Errors
/// [`DialError`].
pub async fn present(
    hub: &Hub,
    addresses: &[SocketAddr],
    root: DeviceKey,
    credential: &Credential,
) -> Result<bool, DialError> {
    let (address, stream) = connect(&*hub.connector, addresses).await?;
    present_over(hub, address, stream, Accepts::One(root), credential).await
}

async fn present_over(
    hub: &Hub,
    address: SocketAddr,
    stream: AnyStream,
    accepts: Accepts,
    credential: &Credential,
) -> Result<bool, DialError> {
    let stream = handshake(hub, (address, stream), accepts, JOIN).await?;
    match join::present(stream, credential).await {
        Ok(Answer::Admitted { enrolled }) => Ok(enrolled),
        Ok(Answer::Refused { retired: true, .. }) => {
            // Without a node nobody asks any more.
            hub.node.call(|node| node.note_retired()).await.ok();
            Err(DialError::Retired)
        }
        Ok(Answer::Refused { why, .. }) => Err(DialError::Refused(why)),
        Err(error) => Err(DialError::Unreachable(format!("{address}: {error}"))),
    }
}

/// Connects to the first of the addresses that answers.
async fn connect(connector: &dyn Connector, addresses: &[SocketAddr]) -> Result<(SocketAddr, AnyStream), DialError> {
    let mut dials = JoinSet::new();
    let mut last = DialError::Unreachable("no address is known".into());
    let mut waiting = addresses.iter().copied();
    loop {
        if let Some(address) = waiting.next() {
            let opening = connector.open(address);
            dials.spawn(async move { (address, tokio::time::timeout(CONNECT, opening).await) });
        } else if dials.is_empty() {
            return Err(last);
        }
        // With no further address there is nothing to start meanwhile: wait until all attempts have timed out.
        let stagger = if waiting.len() == 0 { CONNECT * 2 } else { STAGGER };
        while let Ok(Some(done)) = tokio::time::timeout(stagger, dials.join_next()).await {
            match done {
                Ok((address, Ok(Ok(stream)))) => return Ok((address, stream)),
                Ok((address, Ok(Err(error)))) => last = unreachable(address, &error),
                Ok((address, Err(_))) => last = DialError::Unreachable(format!("{address} does not answer")),
                // The attempt panicked: the same as no answer. `last` has the reason of another attempt, if there was one.
                Err(_) => {}
            }
            if waiting.len() > 0 {
                break;
            }
        }
    }
}

fn unreachable(address: SocketAddr, error: &std::io::Error) -> DialError {
    DialError::Unreachable(format!("{address}: {error}"))
}

async fn handshake(
    hub: &Hub,
    (address, stream): (SocketAddr, AnyStream),
    accepts: Accepts,
    protocol: &[u8],
) -> Result<TlsStream<AnyStream>, DialError> {
    let trouble = |error: &dyn std::fmt::Display| DialError::Unreachable(format!("{address}: {error}"));
    let config = hub.identity.client(accepts, protocol).map_err(|e| trouble(&e))?;
    let connector = TlsConnector::from(Arc::new(config));
    let shake = connector.connect(tls::server_name(), stream);
    match tokio::time::timeout(HANDSHAKE, shake).await {
        Ok(Ok(stream)) => Ok(stream),
        Ok(Err(error)) if tls::is_refusal(&error) => Err(DialError::WrongKey(address)),
        Ok(Err(error)) => Err(trouble(&error)),
        Err(_) => Err(trouble(&"the handshake takes too long")),
    }
}

/// The addresses of `host:port`; without a port [`DEFAULT_PORT`] is used.
///
/// # Errors
/// When the name cannot be resolved.
pub async fn resolve(place: &str) -> Result<Vec<SocketAddr>, DialError> {
    let bare = place.trim().trim_start_matches('[').trim_end_matches(']');
    if let Ok(address) = place.trim().parse::<SocketAddr>() {
        return Ok(vec![address]);
    }
    if let Ok(ip) = bare.parse::<std::net::IpAddr>() {
        return Ok(vec![SocketAddr::from((ip, DEFAULT_PORT))]);
    }
    let named = if place.contains(':') {
        place.trim().to_owned()
    } else {
        format!("{}:{DEFAULT_PORT}", place.trim())
    };
    let wrong = |error| DialError::Unreachable(format!("{place}: {error}"));
    Ok(tokio::net::lookup_host(named).await.map_err(wrong)?.collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::connector::Tcp;

    #[tokio::test]
    async fn a_port_may_be_left_out() {
        let at = |text: &str| text.parse::<SocketAddr>().unwrap();
        assert_eq!(resolve("192.168.1.20").await.unwrap(), [at("192.168.1.20:7401")]);
        assert_eq!(resolve(" 192.168.1.20:9 ").await.unwrap(), [at("192.168.1.20:9")]);
        assert_eq!(resolve("[::1]").await.unwrap(), [at("[::1]:7401")]);
        assert_eq!(resolve("[::1]:9").await.unwrap(), [at("[::1]:9")]);
    }

    #[tokio::test]
    async fn the_address_that_answers_is_taken_and_nobody_is_named() {
        let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
        let good = listener.local_addr().unwrap();
        let gone = tokio::net::TcpListener::bind("127.0.0.1:0")
            .await
            .unwrap()
            .local_addr()
            .unwrap();
        assert_eq!(connect(&Tcp, &[gone, good]).await.unwrap().0, good);
        let error = connect(&Tcp, &[gone]).await.err().unwrap();
        assert!(error.to_string().contains(&gone.to_string()), "{error}");
        assert!(matches!(connect(&Tcp, &[]).await, Err(DialError::Unreachable(_))));
    }
}
