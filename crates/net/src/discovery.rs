//! Finding peers on the local link by mDNS/DNS-SD (RFC 6762, RFC 6763).
//!
//! A device publishes a short hash of its key and a port. Devices that know the key recognise the hash; to others it says
//! nothing.
//!
//! Deliberately absent: trust (a found address is only a hint; TLS proves the key), and forgetting an address when its service
//! disappears, because all services seem to disappear when our own link drops.
//!
//! Invariant: only addresses on a network of this machine are reported.

use std::net::{IpAddr, SocketAddr, SocketAddrV6};

use gladhand_facts::DeviceKey;
use mdns_sd::{DaemonEvent, ResolvedService, ScopedIp, ServiceDaemon, ServiceEvent, ServiceInfo};
use tokio::sync::mpsc;

/// The DNS-SD service type.
pub const SERVICE: &str = "_gladhand._tcp.local.";
const HASH_KEY: &str = "k";
const HASH_CONTEXT: &str = "gladhand 2026 name on the local link 1";

/// What discovery reports.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum DiscoveryEvent {
    /// The device with this hash listens at these addresses.
    Found {
        /// The hash.
        hash: String,
        /// Its addresses on the local link.
        at: Vec<SocketAddr>,
    },
    /// This machine has a new address.
    LinkChanged,
}

/// The name of a device on the local link: 10 bytes of a hash of its key, in Base32.
pub fn hash_of(key: &DeviceKey) -> String {
    let hash = blake3::derive_key(HASH_CONTEXT, &key.0);
    let short: Vec<u8> = hash.into_iter().take(10).collect();
    data_encoding::BASE32_NOPAD.encode(&short).to_lowercase()
}

/// Publishes this device and looks for others, until it is dropped.
pub struct Discovery {
    daemon: ServiceDaemon,
    tasks: Vec<tokio::task::JoinHandle<()>>,
}

impl Discovery {
    /// Looks for other devices, and publishes this one if it listens at a `port` that the local link can reach.
    ///
    /// # Errors
    /// When mDNS cannot be started.
    pub fn start(
        own: &DeviceKey,
        port: Option<u16>,
        events: mpsc::Sender<DiscoveryEvent>,
    ) -> Result<Self, mdns_sd::Error> {
        let daemon = ServiceDaemon::new()?;
        let mut discovery = Self {
            daemon,
            tasks: Vec::new(),
        };
        let own = hash_of(own);
        if let Some(port) = port {
            let properties = [(HASH_KEY, own.as_str())];
            let host = format!("{own}.local.");
            let info = ServiceInfo::new(SERVICE, &own, &host, "", port, &properties[..])?;
            discovery.daemon.register(info.enable_addr_auto())?;
        }
        let found = discovery.daemon.browse(SERVICE)?;
        let monitor = discovery.daemon.monitor()?;
        let found_events = events.clone();
        discovery.tasks.push(tokio::spawn(async move {
            while let Ok(event) = found.recv_async().await {
                if let ServiceEvent::ServiceResolved(service) = event
                    && let Some(found) = found_in(&service, &own, &own_networks())
                    && found_events.send(found).await.is_err()
                {
                    return;
                }
            }
        }));
        discovery.tasks.push(tokio::spawn(async move {
            while let Ok(event) = monitor.recv_async().await {
                if matches!(event, DaemonEvent::IpAdd(_)) && events.send(DiscoveryEvent::LinkChanged).await.is_err() {
                    return;
                }
            }
        }));
        Ok(discovery)
    }
}

impl Drop for Discovery {
    fn drop(&mut self) {
        self.tasks.iter().for_each(tokio::task::JoinHandle::abort);
        // Withdraws the service from the link. Nothing depends on it, so it is not waited for.
        self.daemon.shutdown().ok();
    }
}

fn found_in(service: &ResolvedService, own: &str, networks: &[Network]) -> Option<DiscoveryEvent> {
    let hash = service.get_property_val_str(HASH_KEY)?.to_owned();
    let on_link = |ip: &ScopedIp| on_link_address(ip, service.port, networks);
    let mut at: Vec<SocketAddr> = service.addresses.iter().filter_map(on_link).collect();
    // `addresses` is a set, so it is sorted here. IPv4 comes first, because it needs no scope.
    at.sort_by_key(|a| (a.is_ipv6(), *a));
    // The first answer may have no addresses yet; then another follows.
    (hash != own && !at.is_empty()).then_some(DiscoveryEvent::Found { hash, at })
}

fn on_link_address(ip: &ScopedIp, port: u16, networks: &[Network]) -> Option<SocketAddr> {
    let address = ip.to_ip_addr();
    if !is_on_link(&address, networks) {
        return None;
    }
    Some(match (ip, address) {
        (ScopedIp::V6(scoped), IpAddr::V6(v6)) => SocketAddrV6::new(v6, port, 0, scoped.scope_id().index).into(),
        _ => SocketAddr::from((address, port)),
    })
}

/// A network of this machine: its address there and the length of the prefix.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Network {
    /// This machine's address.
    pub address: IpAddr,
    /// The number of leading bits that name the network.
    pub prefix: u8,
}

/// The networks of this machine, without loopback. None when the system does not tell: then no address is on the link.
pub fn own_networks() -> Vec<Network> {
    let interfaces = if_addrs::get_if_addrs().unwrap_or_default();
    let networks = interfaces
        .into_iter()
        .filter(|i| !i.is_loopback())
        .map(|i| match i.addr {
            if_addrs::IfAddr::V4(v4) => Network {
                address: v4.ip.into(),
                prefix: v4.prefixlen,
            },
            if_addrs::IfAddr::V6(v6) => Network {
                address: v6.ip.into(),
                prefix: v6.prefixlen,
            },
        });
    networks.collect()
}

/// Whether an address is within one of `networks`, and is no loopback or multicast address.
pub fn is_on_link(address: &IpAddr, networks: &[Network]) -> bool {
    if address.is_loopback() || address.is_multicast() || address.is_unspecified() {
        return false;
    }
    networks.iter().any(|network| within(address, network))
}

fn within(address: &IpAddr, network: &Network) -> bool {
    let matches = |a: u128, b: u128, bits: u32| {
        let prefix = u32::from(network.prefix).min(bits);
        prefix > 0 && (a ^ b).checked_shr(bits - prefix).unwrap_or(0) == 0
    };
    match (address, network.address) {
        (IpAddr::V4(a), IpAddr::V4(b)) => matches(u32::from(*a).into(), u32::from(b).into(), 32),
        (IpAddr::V6(a), IpAddr::V6(b)) => matches((*a).into(), b.into(), 128),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_local_link_counts() {
        let net = |address: &str, prefix| Network {
            address: address.parse().unwrap(),
            prefix,
        };
        let networks = [net("192.168.7.20", 24), net("fe80::1", 64), net("10.0.0.1", 0)];
        let on = |address: &str| is_on_link(&address.parse().unwrap(), &networks);
        assert!(on("192.168.7.99") && on("fe80::abcd"));
        for elsewhere in [
            "192.168.8.1",
            "8.8.8.8",
            "2001:db8::1",
            "127.0.0.1",
            "::1",
            "224.0.0.251",
            "0.0.0.0",
        ] {
            assert!(!on(elsewhere), "{elsewhere}");
        }
    }

    #[test]
    fn what_is_published_does_not_tell_the_key() {
        let (a, b) = (DeviceKey([1; 32]), DeviceKey([2; 32]));
        let name = hash_of(&a);
        assert_eq!(
            (name.len(), name == hash_of(&a), name == hash_of(&b)),
            (16, true, false)
        );
        assert!(!a.to_string().contains(&name));
    }
}
