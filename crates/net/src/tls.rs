//! TLS 1.3 with raw ed25519 device keys (RFC 7250) on both sides.
//!
//! ALPN selects one of two protocols: sessions, for keys on the roster, and joining, for any key, which may only present a
//! credential ([`super::join`]).
//!
//! Deliberately absent: certificates, authorities, and session resumption, because a resumed handshake would not check the
//! roster again.
//!
//! Invariant: after a session handshake the peer has proved possession of a key that the roster had at that time.

use std::sync::Arc;

use gladhand_facts::DeviceKey;
use rustls::client::danger::{HandshakeSignatureValid, ServerCertVerified, ServerCertVerifier};
use rustls::crypto::{CryptoProvider, ring};
use rustls::pki_types::{CertificateDer, PrivatePkcs8KeyDer, ServerName, SubjectPublicKeyInfoDer, UnixTime};
use rustls::server::danger::{ClientCertVerified, ClientCertVerifier};
use rustls::sign::CertifiedKey;
use rustls::{
    CertificateError, ClientConfig, DigitallySignedStruct, DistinguishedName, Error, PeerIncompatible, ServerConfig,
    SignatureScheme,
};

use crate::trust::{Accepts, Trust, key_in_spki, pkcs8_of};

/// The ALPN name of sessions.
pub const SESSION: &[u8] = b"gladhand/3";
/// The ALPN name of sessions without the packet that says when to come again, as older versions have it.
pub const SESSION_WITHOUT_WAITS: &[u8] = b"gladhand/2";
/// The ALPN name of sessions without picture transfer, as still older versions have it. All three are offered and accepted.
pub const SESSION_WITHOUT_PICTURES: &[u8] = b"gladhand/1";
/// The ALPN name of joining.
pub const JOIN: &[u8] = b"gladhand-join/1";

/// What the peer of a session understands besides the exchange.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Abilities {
    /// Pictures.
    pub pictures: bool,
    /// When to come again.
    pub waits: bool,
}

impl Abilities {
    /// What the protocol of this ALPN name has.
    pub fn of(protocol: Option<&[u8]>) -> Self {
        let waits = protocol == Some(SESSION);
        let pictures = waits || protocol == Some(SESSION_WITHOUT_WAITS);
        Self { pictures, waits }
    }
}

/// This device's key as TLS uses it.
#[derive(Clone)]
pub struct Identity {
    provider: Arc<CryptoProvider>,
    certified: Arc<CertifiedKey>,
}

impl Identity {
    /// The identity of the device with this seed.
    ///
    /// # Errors
    /// When the provider refuses the key. It accepts every 32-byte seed.
    pub fn from_seed(seed: &[u8; 32]) -> Result<Self, Error> {
        let key = ring::sign::any_eddsa_type(&PrivatePkcs8KeyDer::from(pkcs8_of(seed).as_slice()))?;
        let spki = key
            .public_key()
            .ok_or(Error::General("the key has no public half".into()))?;
        let certified = Arc::new(CertifiedKey::new(vec![CertificateDer::from(spki.to_vec())], key));
        Ok(Self {
            provider: Arc::new(ring::default_provider()),
            certified,
        })
    }

    /// The configuration for dialling.
    ///
    /// # Errors
    /// When the provider lacks TLS 1.3. The built-in one has it.
    pub fn client(&self, accepts: Accepts, protocol: &[u8]) -> Result<ClientConfig, Error> {
        let resolver = rustls::client::AlwaysResolvesClientRawPublicKeys::new(Arc::clone(&self.certified));
        let mut config = ClientConfig::builder_with_provider(Arc::clone(&self.provider))
            .with_protocol_versions(&[&rustls::version::TLS13])?
            .dangerous()
            .with_custom_certificate_verifier(self.verifier(accepts))
            .with_client_cert_resolver(Arc::new(resolver));
        config.resumption = rustls::client::Resumption::disabled();
        config.alpn_protocols = offered(protocol);
        Ok(config)
    }

    /// The configuration for listening.
    ///
    /// # Errors
    /// As [`Identity::client`].
    pub fn server(&self, accepts: Accepts, protocol: &[u8]) -> Result<ServerConfig, Error> {
        let resolver = rustls::server::AlwaysResolvesServerRawPublicKeys::new(Arc::clone(&self.certified));
        let mut config = ServerConfig::builder_with_provider(Arc::clone(&self.provider))
            .with_protocol_versions(&[&rustls::version::TLS13])?
            .with_client_cert_verifier(self.verifier(accepts))
            .with_cert_resolver(Arc::new(resolver));
        config.send_tls13_tickets = 0;
        config.alpn_protocols = offered(protocol);
        Ok(config)
    }

    fn verifier(&self, accepts: Accepts) -> Arc<KeyVerifier> {
        let schemes = self.provider.signature_verification_algorithms;
        Arc::new(KeyVerifier { accepts, schemes })
    }
}

impl std::fmt::Debug for Identity {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Identity(…)")
    }
}

/// The ALPN names to offer, the preferred one first.
fn offered(protocol: &[u8]) -> Vec<Vec<u8>> {
    let mut names = vec![protocol.to_vec()];
    if protocol == SESSION {
        names.extend([SESSION_WITHOUT_WAITS.to_vec(), SESSION_WITHOUT_PICTURES.to_vec()]);
    }
    names
}

/// The configurations of a listener.
#[derive(Debug, Clone)]
pub struct ServerConfigs {
    /// For keys on the roster.
    pub session: Arc<ServerConfig>,
    /// For keys that ask to join.
    pub join: Arc<ServerConfig>,
}

impl ServerConfigs {
    /// Makes both configurations.
    ///
    /// # Errors
    /// As [`Identity::server`].
    pub fn new(identity: &Identity, trust: &Trust) -> Result<Self, Error> {
        Ok(Self {
            session: Arc::new(identity.server(Accepts::Roster(trust.clone()), SESSION)?),
            join: Arc::new(identity.server(Accepts::Any, JOIN)?),
        })
    }
}

/// TLS requires a server name. It is not used: only the key is checked.
pub fn server_name() -> ServerName<'static> {
    ServerName::IpAddress(std::net::Ipv4Addr::LOCALHOST.into())
}

/// The peer's key, after the handshake. `None`: it has sent none, or one that is no ed25519 key.
pub fn peer_key(certificates: Option<&[CertificateDer<'_>]>) -> Option<DeviceKey> {
    key_in_spki(certificates?.first()?)
}

/// Whether a handshake failed because one side did not accept the other's key.
pub fn is_refusal(error: &std::io::Error) -> bool {
    let inner = error.get_ref().and_then(|e| e.downcast_ref::<Error>());
    matches!(
        inner,
        Some(
            Error::InvalidCertificate(CertificateError::ApplicationVerificationFailure)
                | Error::AlertReceived(rustls::AlertDescription::AccessDenied)
        )
    )
}

/// Accepts a peer by its raw public key. TLS itself proves possession of the key.
#[derive(Debug)]
struct KeyVerifier {
    accepts: Accepts,
    schemes: rustls::crypto::WebPkiSupportedAlgorithms,
}

impl KeyVerifier {
    fn check_key(&self, spki: &CertificateDer<'_>) -> Result<(), Error> {
        match key_in_spki(spki) {
            Some(key) if self.accepts.accepts(&key) => Ok(()),
            Some(_) => Err(CertificateError::ApplicationVerificationFailure.into()),
            None => Err(CertificateError::BadEncoding.into()),
        }
    }

    fn check_signature(
        &self,
        message: &[u8],
        spki: &CertificateDer<'_>,
        signed: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, Error> {
        let spki = SubjectPublicKeyInfoDer::from(spki.as_ref());
        rustls::crypto::verify_tls13_signature_with_raw_key(message, &spki, signed, &self.schemes)
    }
}

impl ServerCertVerifier for KeyVerifier {
    fn verify_server_cert(
        &self,
        end_entity: &CertificateDer<'_>,
        _: &[CertificateDer<'_>],
        _: &ServerName<'_>,
        _: &[u8],
        _: UnixTime,
    ) -> Result<ServerCertVerified, Error> {
        self.check_key(end_entity).map(|()| ServerCertVerified::assertion())
    }

    fn verify_tls12_signature(
        &self,
        _: &[u8],
        _: &CertificateDer<'_>,
        _: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, Error> {
        Err(Error::PeerIncompatible(PeerIncompatible::Tls12NotOffered))
    }

    fn verify_tls13_signature(
        &self,
        message: &[u8],
        cert: &CertificateDer<'_>,
        dss: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, Error> {
        self.check_signature(message, cert, dss)
    }

    fn supported_verify_schemes(&self) -> Vec<SignatureScheme> {
        vec![SignatureScheme::ED25519]
    }

    fn requires_raw_public_keys(&self) -> bool {
        true
    }
}

impl ClientCertVerifier for KeyVerifier {
    fn root_hint_subjects(&self) -> &[DistinguishedName] {
        &[]
    }

    fn verify_client_cert(
        &self,
        end_entity: &CertificateDer<'_>,
        _: &[CertificateDer<'_>],
        _: UnixTime,
    ) -> Result<ClientCertVerified, Error> {
        self.check_key(end_entity).map(|()| ClientCertVerified::assertion())
    }

    fn verify_tls12_signature(
        &self,
        _: &[u8],
        _: &CertificateDer<'_>,
        _: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, Error> {
        Err(Error::PeerIncompatible(PeerIncompatible::Tls12NotOffered))
    }

    fn verify_tls13_signature(
        &self,
        message: &[u8],
        cert: &CertificateDer<'_>,
        dss: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, Error> {
        self.check_signature(message, cert, dss)
    }

    fn supported_verify_schemes(&self) -> Vec<SignatureScheme> {
        vec![SignatureScheme::ED25519]
    }

    fn requires_raw_public_keys(&self) -> bool {
        true
    }
}
