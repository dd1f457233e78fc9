//! Dialling one peer: the first of its addresses that answers, TLS, the credential if it has not seen it, and the session.

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
use crate::session::{self, End, Meeting, Tally};
use crate::tls::{self, JOIN, SESSION};
use crate::trust::Accepts;

/// The port that is meant where none is named.
pub const DEFAULT_PORT: u16 = 7401;
/// How long one address may take to answer.
const CONNECT: Duration = Duration::from_secs(3);
/// How long a handshake may take.
const HANDSHAKE: Duration = Duration::from_secs(10);
/// After this long the next address is tried beside the first.
const STAGGER: Duration = Duration::from_millis(250);

/// Whom to dial.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Target {
    /// A device, wherever it is.
    Device(DeviceKey),
    /// Whoever of the roster listens there: `host:port`, from the configuration.
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
    /// Nobody answers.
    #[error("{0}")]
    Unreachable(String),
    /// The other side does not want us.
    #[error("{0}")]
    Refused(String),
    /// Somebody else answers there than was dialled, or nobody of the roster.
    #[error("{0}: its key is not one that is expected there")]
    WrongKey(SocketAddr),
}

/// What came of a dial.
#[derive(Debug)]
pub struct Dialled {
    /// Who answered.
    pub peer: DeviceKey,
    /// What the session did.
    pub tally: Tally,
    /// How it ended.
    pub end: End,
    /// For how long it was open.
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
    let (address, stream) = connect(&*hub.road, addresses).await?;
    let stream = match hub.standing().to_show {
        Some((root, credential)) if accepts.accepts(&root) => {
            // The depot does not know us yet, as far as we know: a session would be refused.
            match present_over(hub, address, stream, root, &credential).await {
                Ok(_) | Err(DialError::WrongKey(_)) => connect(&*hub.road, &[address]).await?.1,
                Err(error) => return Err(error),
            }
        }
        _ => stream,
    };
    let stream = handshake(hub, (address, stream), accepts, SESSION).await?;
    let Some(peer) = tls::peer_key(stream.get_ref().1.peer_certificates()) else {
        return Err(DialError::Unreachable("the other side showed no key".into()));
    };
    let meeting = Meeting {
        peer,
        dialled: Some(address),
        once,
        pictures: stream.get_ref().1.alpn_protocol() == Some(SESSION),
    };
    let began = Instant::now();
    let (tally, end) = session::run(stream, hub, meeting).await;
    match &end {
        End::Connection(crate::connection::ConnectionError::Io(error)) if !tally.up && tls::is_refusal(error) => {
            Err(DialError::Refused(format!("{address} does not know this device")))
        }
        End::Bye {
            why: crate::packet::Why::Refused,
            words,
        } if !tally.level => Err(DialError::Refused(words.clone())),
        End::NotNow(crate::live::NotNow::Untrusted) | End::Ourselves => Err(DialError::Refused(end.to_string())),
        End::Connection(error) if !tally.up => Err(DialError::Unreachable(format!("{address}: {error}"))),
        _ => Ok(Dialled {
            peer,
            tally,
            end,
            lasted: began.elapsed(),
        }),
    }
}

/// Shows a credential to the depot `root` at one of `addresses`. Returns whether it stands on the roster now.
///
/// # Errors
/// [`DialError`].
pub async fn present(
    hub: &Hub,
    addresses: &[SocketAddr],
    root: DeviceKey,
    credential: &Credential,
) -> Result<bool, DialError> {
    let (address, stream) = connect(&*hub.road, addresses).await?;
    present_over(hub, address, stream, root, credential).await
}

async fn present_over(
    hub: &Hub,
    address: SocketAddr,
    stream: AnyStream,
    root: DeviceKey,
    credential: &Credential,
) -> Result<bool, DialError> {
    let stream = handshake(hub, (address, stream), Accepts::One(root), JOIN).await?;
    match join::show(stream, credential).await {
        Ok(Answer::Admitted { enrolled }) => Ok(enrolled),
        Ok(Answer::Refused { why }) => Err(DialError::Refused(why)),
        Err(error) => Err(DialError::Unreachable(format!("{address}: {error}"))),
    }
}

/// The first of the addresses that answers; a slow one does not hold up the next for long.
async fn connect(road: &dyn Connector, addresses: &[SocketAddr]) -> Result<(SocketAddr, AnyStream), DialError> {
    let mut dials = JoinSet::new();
    let mut last = DialError::Unreachable("no address is known".into());
    let mut waiting = addresses.iter().copied();
    loop {
        if let Some(address) = waiting.next() {
            let opening = road.open(address);
            dials.spawn(async move { (address, tokio::time::timeout(CONNECT, opening).await) });
        } else if dials.is_empty() {
            return Err(last);
        }
        let stagger = if waiting.len() == 0 { CONNECT * 2 } else { STAGGER };
        while let Ok(Some(done)) = tokio::time::timeout(stagger, dials.join_next()).await {
            match done {
                Ok((address, Ok(Ok(stream)))) => return Ok((address, stream)),
                Ok((address, Ok(Err(error)))) => last = unreachable(address, &error),
                Ok((address, Err(_))) => last = DialError::Unreachable(format!("{address} does not answer")),
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
    let shaking = connector.connect(tls::server_name(), stream);
    match tokio::time::timeout(HANDSHAKE, shaking).await {
        Ok(Ok(stream)) => Ok(stream),
        Ok(Err(error)) if tls::is_refusal(&error) => Err(DialError::WrongKey(address)),
        Ok(Err(error)) => Err(trouble(&error)),
        Err(_) => Err(trouble(&"the handshake takes too long")),
    }
}

/// The addresses of `host:port`; without a port the usual one is meant.
///
/// # Errors
/// When the name is not known.
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
