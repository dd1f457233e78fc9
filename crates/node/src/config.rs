//! A home's configuration: `config.toml`, made by `setup`, edited by people.
//!
//! Deliberately absent: watching the file. A change by hand takes effect when the home is opened next.
//!
//! Invariants: every key has a comment in the template; an unknown key is an error with its line, so that a misspelt one is not
//! silently ignored; when the program changes a value, the rest of the file stays as people wrote it (see [`Config::edit`]).

mod edit;

use std::ops::Range;

use gladhand_facts::DeviceKey;
use gladhand_facts::ids::IdError;
use serde::de::Error;
use serde::{Deserialize, Deserializer, Serialize};
use toml_edit::DocumentMut;

/// A configuration cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum ConfigError {
    /// The file is no TOML, or has an unknown key or a bad value.
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

fn syntax(text: &str, file: &str, span: Option<Range<usize>>, message: &str) -> ConfigError {
    ConfigError::Syntax {
        file: file.to_owned(),
        line: span.map_or(0, |span| line_at(text, span.start)),
        message: message.to_owned(),
    }
}

/// The line, counted from 1, of the byte at `offset`.
fn line_at(text: &str, offset: usize) -> usize {
    let before = text.as_bytes().iter().take(offset);
    before.filter(|byte| **byte == b'\n').count() + 1
}

/// The configuration of a home.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct Config {
    /// The device's name, as others see it.
    pub name: String,
    /// Whether it is a depot.
    #[serde(default)]
    pub role: Role,
    /// The person who usually works with it: the `by` of facts that name no person.
    #[serde(default)]
    pub person: String,
    /// The yard of new jobs that name none.
    #[serde(default)]
    pub yard: String,
    /// The fleet of new jobs that name none.
    #[serde(default)]
    pub fleet: String,
    /// The depot's key: the root of trust. Set by `join`.
    #[serde(default)]
    pub depot: String,
    /// The address that `serve` listens at; see [`Config::listening`] for what it means when it is empty.
    #[serde(default)]
    pub listen: String,
    /// Addresses of peers to dial, besides those that are found on the local link.
    #[serde(default)]
    pub peers: Vec<String>,
    /// Whether `serve` publishes this device on the local link and looks for peers there.
    #[serde(default = "default_discover")]
    pub discover: bool,
    /// The free disk space that recording must leave, in mebibytes.
    #[serde(default = "default_floor_mib", deserialize_with = "mebibytes")]
    pub disk_floor_mib: u64,
    /// The largest picture that is kept or fetched, in mebibytes.
    #[serde(default = "default_picture_limit_mib", deserialize_with = "mebibytes")]
    pub picture_limit_mib: u64,
    /// The free disk space that fetching pictures must leave, in mebibytes.
    #[serde(default = "default_picture_floor_mib", deserialize_with = "mebibytes")]
    pub picture_floor_mib: u64,
}

/// The value of `listen` that keeps a device from listening anywhere.
pub const LISTEN_NONE: &str = "none";

/// Where `serve` listens.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Listening {
    /// Nowhere.
    Nowhere,
    /// At this address.
    At(String),
    /// On every network of this machine, at a port that the system chooses and discovery makes known.
    OnTheLink,
}

/// More than any disk has. The bound also keeps the count of bytes within 64 bits, and the number within TOML's integers.
const MAX_MIB: u64 = 1 << 40;

fn mebibytes<'de, D: Deserializer<'de>>(deserializer: D) -> Result<u64, D::Error> {
    let count = u64::deserialize(deserializer)?;
    if count > MAX_MIB {
        return Err(Error::custom(format!(
            "{count} mebibytes are more than the {MAX_MIB} that can be set"
        )));
    }
    Ok(count)
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
        toml::from_str(text).map_err(|e| syntax(text, file, e.span(), e.message()))
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

    /// Where `serve` listens. A laptop that has joined a depot can be found by others on the local link unless its
    /// configuration says otherwise: two laptops would never meet if both only dialled.
    pub fn listening(&self) -> Listening {
        match self.listen.trim() {
            LISTEN_NONE => Listening::Nowhere,
            "" if self.role == Role::Laptop && self.discover && !self.depot.is_empty() => Listening::OnTheLink,
            "" => Listening::Nowhere,
            address => Listening::At(address.to_owned()),
        }
    }

    /// The text of a new file, with a comment for each key.
    pub fn render(&self) -> String {
        // A test holds that the template reads, and that it holds what an empty configuration is.
        let mut document: DocumentMut = TEMPLATE.parse().unwrap_or_default();
        self.write_into(&mut document, &Self::new("", Role::Laptop, "", ""));
        document.to_string()
    }

    /// The text of an existing file with this configuration's values. Only values that differ are changed.
    ///
    /// # Errors
    /// When the text is not a configuration. `file` names it.
    pub fn edit(&self, text: &str, file: &str) -> Result<String, ConfigError> {
        let old = Self::parse(text, file)?;
        let parsed: Result<DocumentMut, _> = text.parse();
        let mut document = parsed.map_err(|e| syntax(text, file, e.span(), e.message()))?;
        self.write_into(&mut document, &old);
        Ok(document.to_string())
    }

    /// Writes the values that differ from `old`, the document's own.
    fn write_into(&self, document: &mut DocumentMut, old: &Self) {
        let texts = [
            ("name", &self.name, &old.name),
            ("person", &self.person, &old.person),
            ("yard", &self.yard, &old.yard),
            ("fleet", &self.fleet, &old.fleet),
            ("depot", &self.depot, &old.depot),
            ("listen", &self.listen, &old.listen),
        ];
        for (key, new, _) in texts.into_iter().filter(|(_, new, old)| new != old) {
            edit::set(document, key, new);
        }
        if self.role != old.role {
            let role = if self.role == Role::Depot { "depot" } else { "laptop" };
            edit::set(document, "role", role);
        }
        if self.peers != old.peers {
            edit::set_list(document, "peers", &self.peers);
        }
        if self.discover != old.discover {
            edit::set(document, "discover", self.discover);
        }
        let counts = [
            ("disk-floor-mib", self.disk_floor_mib, old.disk_floor_mib),
            ("picture-limit-mib", self.picture_limit_mib, old.picture_limit_mib),
            ("picture-floor-mib", self.picture_floor_mib, old.picture_floor_mib),
        ];
        for (key, new, _) in counts.into_iter().filter(|(_, new, old)| new != old) {
            edit::set(document, key, integer(new));
        }
    }
}

/// TOML's integers are signed; [`MAX_MIB`] keeps the values far below the limit.
fn integer(count: u64) -> i64 {
    i64::try_from(count).unwrap_or(i64::MAX)
}

/// The text of a new file before its values are set.
const TEMPLATE: &str = r#"# Gladhand: what this device is. Made by `gladhand setup`. Edit it by hand; `gladhand serve` reads it when it starts.

# The device's name, as others see it.
name = ""

# "laptop" or "depot". A role, not another program.
role = "laptop"

# Who usually works with it: stands as `by` where a fact names nobody.
person = ""

# Yard and fleet of new jobs that name none.
yard = ""
fleet = ""

# The depot's key, the root of trust. `gladhand join` sets it; a depot is its own.
depot = ""

# Where `gladhand serve` listens, such as "127.0.0.1:7401". Empty: once it has joined, a laptop with `discover` listens for the
# devices on its networks, at a port that the system chooses; everybody else listens nowhere. "none": nowhere.
listen = ""

# Peers to meet wherever they are, such as ["depot.example:7401"]. With no listen, peers and discover: no network.
peers = []

# Make this device known on the local link, and look for peers there.
discover = true

# Nothing is written that would leave less than this free on the disk, in mebibytes.
disk-floor-mib = 64

# The largest picture that is kept, in mebibytes.
picture-limit-mib = 32

# Pictures are fetched from peers only while this stays free on the disk, in mebibytes; facts come first.
picture-floor-mib = 256
"#;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_rendered_reads_back() {
        let mut config = Config::new("laptop \"mara\"", Role::Laptop, "mara", "");
        config.depot = "ab".repeat(32);
        config.peers = vec!["127.0.0.1:7401".into(), "depot.example:7401".into()];
        config.discover = false;
        config.disk_floor_mib = MAX_MIB;
        assert_eq!(Config::parse(&config.render(), "config.toml").unwrap(), config);
        assert!(config.root().unwrap().is_some());
    }

    #[test]
    fn a_laptop_that_has_joined_can_be_found_unless_it_is_told_to_keep_quiet() {
        let mut config = Config::new("laptop-mara", Role::Laptop, "mara", "");
        assert_eq!(config.listening(), Listening::Nowhere, "it has joined nobody");
        config.depot = "ab".repeat(32);
        assert_eq!(config.listening(), Listening::OnTheLink);
        let quiet = [("none", true), ("", false)];
        for (listen, discover) in quiet {
            (config.listen, config.discover) = (listen.into(), discover);
            assert_eq!(config.listening(), Listening::Nowhere);
        }
        config.listen = " 127.0.0.1:0 ".into();
        assert_eq!(config.listening(), Listening::At("127.0.0.1:0".into()));
        let depot = Config::new("harrow-street", Role::Depot, "", "");
        assert_eq!(
            depot.listening(),
            Listening::Nowhere,
            "its address stands in invites: somebody chooses it"
        );
    }

    #[test]
    fn a_misspelt_key_is_named_with_its_line() {
        let failure = Config::parse("name = \"a\"\n\npreson = \"mara\"\n", "config.toml")
            .unwrap_err()
            .to_string();
        assert!(failure.contains("line 3") && failure.contains("preson"), "{failure}");
    }

    #[test]
    fn more_than_any_disk_has_is_refused_with_its_line() {
        for key in ["disk-floor-mib", "picture-limit-mib", "picture-floor-mib"] {
            let text = |mib: u64| format!("name = 'a'\n{key} = {mib}\n");
            assert!(Config::parse(&text(MAX_MIB), "config.toml").is_ok());
            for too_many in [MAX_MIB + 1, u64::MAX] {
                let error = Config::parse(&text(too_many), "config.toml").unwrap_err().to_string();
                assert!(error.contains("line 2"), "{error}");
            }
        }
    }

    #[test]
    fn the_template_has_every_key_and_its_defaults_are_those_of_the_program() {
        let document: DocumentMut = TEMPLATE.parse().unwrap();
        let plain = Config::new("", Role::Laptop, "", "");
        assert_eq!(Config::parse(TEMPLATE, "config.toml").unwrap(), plain);
        assert_eq!((document.len(), plain.render().as_str()), (12, TEMPLATE));
    }

    #[test]
    fn a_change_keeps_what_people_wrote() {
        let file = "# Mara's laptop\n\
                    fleet = 'Larkspur Freight' # since March\n\n\
                    depot   = \"\"   # join sets it\n\
                    name = \"laptop-mara\"\n\
                    peers = [ # by wire first\n\
                    \x20   '10.0.0.7:7401', # the depot's desk\n\
                    ]\n\
                    \n\
                    discover=false\n\
                    # the end\n";
        let mut config = Config::parse(file, "config.toml").unwrap();
        assert_eq!(config.edit(file, "config.toml").unwrap(), file, "nothing to change");
        config.depot = "ab".repeat(32);
        config.peers.push("depot.example:7401".into());
        config.person = "mara".into();
        let edited = config.edit(file, "config.toml").unwrap();
        let expected = file
            .replace("depot   = \"\"", &format!("depot   = \"{}\"", config.depot))
            .replace("desk\n]", "desk\n    \"depot.example:7401\",\n]")
            .replace("discover=false\n", "discover=false\nperson = \"mara\"\n");
        assert_eq!(edited, expected);
        assert_eq!(Config::parse(&edited, "config.toml").unwrap(), config);
    }

    #[test]
    fn a_file_that_is_no_configuration_is_not_edited() {
        let config = Config::new("a", Role::Laptop, "", "");
        for text in ["name = \"a\"\npreson = 1\n", "name = \"a", "peers = []\n"] {
            assert!(config.edit(text, "config.toml").is_err(), "{text}");
        }
    }
}
