//! A home's configuration: `config.toml`, made by `setup`, edited by people.
//!
//! Every key has a comment in the file. A key that does not exist is an error with its line, so that a misspelt one is not
//! silently ignored.

use gladhand_facts::DeviceKey;
use gladhand_facts::ids::IdError;
use serde::{Deserialize, Serialize};

/// A configuration does not make sense.
#[derive(Debug, thiserror::Error)]
pub enum ConfigError {
    /// The file does not read, or holds a key or value that is unknown.
    #[error("{file}, line {line}: {message}")]
    Syntax {
        /// The file, as it was named.
        file: String,
        /// Counted from 1.
        line: usize,
        /// What is wrong there.
        message: String,
    },
    /// `depot` is not a device key.
    #[error("config.toml: `depot`: {0}")]
    DepotKey(IdError),
}

/// The line, counted from 1, of the byte at `offset`.
fn line_at(text: &str, offset: usize) -> usize {
    let before = text.as_bytes().iter().take(offset);
    before.filter(|byte| **byte == b'\n').count() + 1
}

/// What a home is and how it behaves.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct Config {
    /// The device's name, as others see it.
    pub name: String,
    /// Whether it is a depot.
    #[serde(default)]
    pub role: Role,
    /// Who usually works with it; stands as `by` where a fact names nobody.
    #[serde(default)]
    pub person: String,
    /// The yard, where a job names none.
    #[serde(default)]
    pub yard: String,
    /// The fleet, where a job names none.
    #[serde(default)]
    pub fleet: String,
    /// The depot's key: the root of trust. Set by `join`.
    #[serde(default)]
    pub depot: String,
    /// Where to listen, for `serve`.
    #[serde(default)]
    pub listen: String,
    /// Addresses of peers to meet, besides those that are found on the local link.
    #[serde(default)]
    pub peers: Vec<String>,
    /// Whether `serve` makes itself known on the local link and looks for peers there.
    #[serde(default = "default_discover")]
    pub discover: bool,
    /// Nothing is written that would leave less than this free on the disk, in mebibytes.
    #[serde(default = "default_floor_mib")]
    pub disk_floor_mib: u64,
    /// The largest picture that is kept or fetched, in mebibytes.
    #[serde(default = "default_picture_limit_mib")]
    pub picture_limit_mib: u64,
    /// No picture is fetched from a peer that would leave less than this free on the disk, in mebibytes.
    #[serde(default = "default_picture_floor_mib")]
    pub picture_floor_mib: u64,
}

fn default_floor_mib() -> u64 {
    64
}

fn default_picture_limit_mib() -> u64 {
    32
}

fn default_picture_floor_mib() -> u64 {
    256
}

fn default_discover() -> bool {
    true
}

/// What a node is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Role {
    /// An installer's device.
    #[default]
    Laptop,
    /// Collects, enrols devices, publishes the work standard and the stock list.
    Depot,
}

impl Config {
    /// A configuration for a new home.
    pub fn new(name: &str, role: Role, person: &str, listen: &str) -> Self {
        let text = |t: &str| t.to_owned();
        Self {
            name: text(name),
            role,
            person: text(person),
            yard: String::new(),
            fleet: String::new(),
            depot: String::new(),
            listen: text(listen),
            peers: Vec::new(),
            discover: default_discover(),
            disk_floor_mib: default_floor_mib(),
            picture_limit_mib: default_picture_limit_mib(),
            picture_floor_mib: default_picture_floor_mib(),
        }
    }

    /// Reads the file's text; `file` names it in errors.
    ///
    /// # Errors
    /// With line, key and cause.
    pub fn parse(text: &str, file: &str) -> Result<Self, ConfigError> {
        toml::from_str(text).map_err(|e| ConfigError::Syntax {
            file: file.to_owned(),
            line: e.span().map_or(0, |span| line_at(text, span.start)),
            message: e.message().to_owned(),
        })
    }

    /// The depot's key, if one is set.
    ///
    /// # Errors
    /// When it is not a key.
    pub fn root(&self) -> Result<Option<DeviceKey>, ConfigError> {
        if self.depot.is_empty() {
            return Ok(None);
        }
        let parsed = self.depot.parse();
        parsed.map(Some).map_err(ConfigError::DepotKey)
    }

    /// The file's text, with a comment for each key.
    pub fn render(&self) -> String {
        let role = if self.role == Role::Depot { "depot" } else { "laptop" };
        let quoted = quoted_for_toml;
        format!(
            "# Gladhand: what this device is. Made by `gladhand setup`; edit by hand, one process at a time.\n\
             \n# The device's name, as others see it.\nname = {}\n\
             \n# \"laptop\" or \"depot\". A role, not another program.\nrole = \"{role}\"\n\
             \n# Who usually works with it: stands as `by` where a fact names nobody.\nperson = {}\n\
             \n# Yard and fleet of new jobs that name none.\nyard = {}\nfleet = {}\n\
             \n# The depot's key, the root of trust. `gladhand join` sets it; a depot is its own.\ndepot = {}\n\
             \n# Where `gladhand serve` listens, such as \"127.0.0.1:7401\". Empty: nowhere.\nlisten = {}\n\
             \n# Peers to meet wherever they are, such as [\"depot.example:7401\"]. With no listen, peers and discover: no network.\n\
             peers = [{}]\n\
             \n# Make this device known on the local link, and look for peers there.\ndiscover = {}\n\
             \n# Nothing is written that would leave less than this free on the disk, in mebibytes.\ndisk-floor-mib = {}\n\
             \n# The largest picture that is kept, in mebibytes.\npicture-limit-mib = {}\n\
             \n# Pictures are fetched from peers only while this stays free on the disk, in mebibytes; facts come first.\n\
             picture-floor-mib = {}\n",
            quoted(&self.name),
            quoted(&self.person),
            quoted(&self.yard),
            quoted(&self.fleet),
            quoted(&self.depot),
            quoted(&self.listen),
            self.peers
                .iter()
                .map(|peer| quoted(peer))
                .collect::<Vec<_>>()
                .join(", "),
            self.discover,
            self.disk_floor_mib,
            self.picture_limit_mib,
            self.picture_floor_mib,
        )
    }
}

/// A TOML basic string. What TOML escapes, JSON escapes alike, apart from the delete character.
fn quoted_for_toml(text: &str) -> String {
    serde_json::Value::from(text).to_string().replace('\u{7f}', "\\u007f")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_rendered_reads_back() {
        let mut config = Config::new("laptop \"mara\"", Role::Laptop, "mara", "");
        config.depot = "ab".repeat(32);
        config.peers = vec!["127.0.0.1:7401".into(), "depot.example:7401".into()];
        config.discover = false;
        assert_eq!(Config::parse(&config.render(), "config.toml").unwrap(), config);
        assert!(config.root().unwrap().is_some());
    }

    #[test]
    fn a_misspelt_key_is_named_with_its_line() {
        let failure = Config::parse("name = \"a\"\n\npreson = \"mara\"\n", "config.toml")
            .unwrap_err()
            .to_string();
        assert!(failure.contains("line 3") && failure.contains("preson"), "{failure}");
    }
}
