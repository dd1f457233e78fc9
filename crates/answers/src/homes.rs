//! Homes as they come and go: set up, invited to a depot, joined, retired; and the daemon that serves one.

use std::collections::BTreeMap;
use std::net::SocketAddr;

use gladhand_facts::{DeviceKey, Moment};
use gladhand_node::error::{MakeInviteError, RetireError};
use gladhand_node::{Node, Role};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A home that was just made.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct SetUp {
    /// The name of the device.
    pub name: String,
    /// What it is for: an installer's laptop, or a depot that enrols others.
    #[schemars(with = "String", extend("enum" = ["laptop", "depot"]))]
    pub role: Role,
    /// The public key of the device, which names it for good.
    #[schemars(with = "String")]
    pub device: DeviceKey,
    /// The folder of the home.
    pub home: String,
}

/// What there is to tell of a home that was just made.
pub fn set_up(node: &Node) -> SetUp {
    SetUp {
        name: node.config().name.clone(),
        role: node.config().role,
        device: node.device(),
        home: node.home().layout().path().display().to_string(),
    }
}

/// A one-time invite.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Invited {
    /// The line to give to `join`. It is a secret: the first device that shows it is enrolled.
    pub invite: String,
    /// The invite's public key, by which the depot knows it again.
    #[schemars(with = "String")]
    pub id: DeviceKey,
    /// Who it is for; empty when it is for anybody.
    pub person: String,
    /// Where the depot listens, as `ADDRESS:PORT`; empty when it listens nowhere.
    pub address: String,
    /// Until when it is good, as an RFC 3339 time.
    pub expires: String,
}

/// Makes an invite for `person` that is good for so many hours. `address` is where the depot listens.
///
/// # Errors
/// On a node that is no depot.
pub fn invite(node: &Node, person: &str, valid_h: u32, address: &str) -> Result<Invited, MakeInviteError> {
    let made = node.invite(person, i64::from(valid_h) * 3600)?.with_address(address);
    let until = Moment::from_unix_us(made.expires_s.saturating_mul(1_000_000), 0);
    Ok(Invited {
        invite: made.to_line(),
        id: made.id(),
        person: made.person.clone(),
        address: made.address.clone(),
        expires: until.text().to_owned(),
    })
}

/// A home that has joined a depot.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Joined {
    /// The public key of the depot.
    #[schemars(with = "String")]
    pub joined: DeviceKey,
    /// The name of this device.
    pub name: String,
    /// Whether the depot has enrolled it already. If not, it does at the first contact.
    pub enrolled: bool,
    /// Whether both sides hold the same now.
    pub merged: bool,
    /// Why the first merge did not work, in words; empty when it did, or when none was tried.
    pub not_merged: Vec<String>,
    /// Why the depot cannot be reached now, in words; null when it was reached, or when the invite does not say where it
    /// is.
    pub unreachable: Option<String>,
}

/// A device that the depot has taken off the roster.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Retired {
    /// The public key of the device.
    #[schemars(with = "String")]
    pub retired: DeviceKey,
    /// The name of the device.
    pub name: String,
    /// For each of its logs the number of the last entry that still counts.
    pub last: BTreeMap<String, u64>,
    /// Why, as it was given.
    pub why: String,
}

/// Takes a device off the roster from a place in its log on (see [`Node::retire`]).
///
/// # Errors
/// On a node that is no depot, or for a device that cannot be retired.
pub fn retire(node: &mut Node, device: DeviceKey, after: Option<u64>, why: &str) -> Result<Retired, RetireError> {
    let name = node.book().roster().name(&device);
    let last = node.retire(&device, after, why)?;
    Ok(Retired {
        retired: device,
        name,
        last,
        why: why.to_owned(),
    })
}

/// A daemon that is ready.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Serving {
    /// The name of the device.
    pub serving: String,
    /// The folder of the home.
    pub home: String,
    /// The control socket.
    pub control: String,
    /// Where it listens for peers, as `ADDRESS:PORT`; null when it listens nowhere.
    #[schemars(with = "Option<String>")]
    pub listen: Option<SocketAddr>,
    /// The id of the daemon's process.
    pub process: u32,
}

#[cfg(test)]
#[path = "homes_tests.rs"]
mod tests;
