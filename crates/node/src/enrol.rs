//! Joining a depot, enrolling devices, publishing the work standard.
//!
//! Invariants: only a depot enrols and publishes; an invite enrols at most one device; a home belongs to at most one depot.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::os::unix::fs::OpenOptionsExt;
use std::path::Path;

use gladhand_facts::DeviceKey;
use gladhand_logbook::governance::{Credential, Invite, Record as Rule};
use gladhand_trade::Standard;
use gladhand_trade::standard::BUILT_IN;

use crate::config::{Config, Role};
use crate::error::{JoinError, MakeInviteError, NodeError, PublishError};
use crate::node::Node;

impl Node {
    /// Publishes a work standard for this depot and all nodes that merge with it. `false`: it was in force already.
    ///
    /// # Errors
    /// On a node that is no depot; when the text cannot be parsed; when another text has the same version.
    pub fn publish_standard(&mut self, text: &str) -> Result<bool, PublishError> {
        if self.config.role != Role::Depot {
            return Err(PublishError::NotADepot);
        }
        let standard = Standard::parse(text)?;
        let version = standard.version().to_owned();
        let built_in = Standard::built_in();
        let in_force = self.book.roster().standard();
        if in_force.is_some_and(|(_, published)| published == text) {
            return Ok(false);
        }
        let known = [in_force, Some((built_in.version(), BUILT_IN))];
        let taken = |(name, other): &(&str, &str)| *name == version && *other != text;
        if known.iter().flatten().any(taken) {
            return Err(PublishError::VersionTaken { version });
        }
        let record = Rule::Standard {
            version,
            text: text.to_owned(),
        };
        self.govern(vec![record])?;
        Ok(true)
    }

    /// Makes a one-time invite.
    ///
    /// # Errors
    /// On a node that is no depot.
    pub fn invite(&self, person: &str, valid_s: i64) -> Result<Invite, MakeInviteError> {
        if self.config.role != Role::Depot {
            return Err(MakeInviteError::NotADepot);
        }
        let secret = gladhand_logbook::DeviceSecret::from_seed(self.home.key_seed());
        let expires_s = self.environment.now_us().div_euclid(1_000_000).saturating_add(valid_s);
        Ok(Invite::make(
            &secret,
            self.environment.random::<32>()?,
            person,
            expires_s,
        ))
    }

    /// Makes this node's credential from an invite, without joining yet.
    ///
    /// # Errors
    /// When the invite cannot be used, or this home belongs to another depot.
    pub fn try_invite(&self, line: &str) -> Result<(Invite, Credential), JoinError> {
        let invite = Invite::parse(line)?;
        if self.config.role == Role::Depot {
            return Err(JoinError::IsADepot);
        }
        match self.book.roster().root() {
            Some(root) if root != invite.root => {
                return Err(JoinError::OtherDepot {
                    own: root,
                    theirs: invite.root,
                });
            }
            Some(_) if self.has_used(&invite) => {
                return Err(JoinError::Joined);
            }
            _ => {}
        }
        let person = if self.config.person.is_empty() {
            invite.person.clone()
        } else {
            self.config.person.clone()
        };
        let now_s = self.environment.now_us().div_euclid(1_000_000);
        let credential = invite.accept(self.device(), &self.config.name, &person, now_s)?;
        Ok((invite, credential))
    }

    /// Whether the invite can change nothing: the depot has enrolled this device, or the same invite was used here before.
    /// Otherwise another invite may be tried, because the first may have expired or have been used by another device.
    fn has_used(&self, invite: &Invite) -> bool {
        let (roster, own) = (self.book.roster(), self.device());
        roster.is_enrolled(&own) || roster.has_shown(&own, &invite.id())
    }

    /// Joins the depot of an invite: keeps its key and address, and writes the credential into the own log, which brings it to
    /// every node with the next merges.
    ///
    /// # Errors
    /// As [`Node::try_invite`], or when it cannot be written.
    pub fn join(&mut self, line: &str) -> Result<DeviceKey, JoinError> {
        let (invite, credential) = self.try_invite(line)?;
        let mut config = Config {
            depot: invite.root.to_string(),
            person: credential.person.clone(),
            ..self.config.clone()
        };
        if !invite.address.is_empty() && !config.peers.contains(&invite.address) {
            config.peers.push(invite.address.clone());
        }
        self.write_config(config)?;
        self.book.roster_mut().set_root(invite.root);
        self.govern(vec![Rule::Join { credential }])?;
        Ok(invite.root)
    }

    /// Writes only the values that differ into the configuration file, because people edit the file too.
    fn write_config(&mut self, config: Config) -> Result<(), JoinError> {
        let layout = self.home.layout();
        let file = layout.config();
        let io = |source| NodeError::Io {
            what: format!("cannot write {}", file.display()),
            source,
        };
        let text = config.edit(&layout.config_text().map_err(io)?, &file.display().to_string())?;
        replace(&file, text.as_bytes()).map_err(io)?;
        self.config = config;
        Ok(())
    }

    /// Adds the credentials that a peer presents to the roster. Only a depot checks whether an invite has expired. Returns why some
    /// were not accepted.
    pub(crate) fn learn_credentials(&mut self, shown: Vec<Credential>) -> Vec<String> {
        let is_depot = self.config.role == Role::Depot;
        let now_s = self.environment.now_us().div_euclid(1_000_000);
        let mut doubts = Vec::new();
        for credential in shown {
            let known = self.book.roster().is_enrolled(&credential.device);
            if is_depot && !known && now_s > credential.expires_s {
                doubts.push(format!("{}: its invite has expired; make a new one", credential.name));
                continue;
            }
            let name = credential.name.clone();
            if !known && !self.book.roster_mut().learn_credential(credential) {
                doubts.push(format!("{name}: its credential is not from our depot"));
            }
        }
        doubts
    }

    /// On a depot: enrols each device that has a good credential and is not enrolled yet. Returns their names.
    ///
    /// # Errors
    /// When the record cannot be written.
    pub(crate) fn enrol_newcomers(&mut self) -> Result<Vec<String>, NodeError> {
        if self.config.role != Role::Depot {
            return Ok(Vec::new());
        }
        let roster = self.book.roster();
        let mut records = Vec::new();
        let mut names = Vec::new();
        let mut used = std::collections::BTreeSet::new();
        for device in roster
            .devices()
            .into_iter()
            .filter(|d| !roster.is_enrolled(d) && roster.admits(d).is_ok())
        {
            let Some(c) = roster.credential(&device).filter(|c| used.insert(c.invite)) else {
                continue;
            };
            names.push(c.name.clone());
            let (name, person) = (c.name.clone(), c.person.clone());
            records.push(Rule::Enrol {
                device,
                name,
                person,
                invite: c.invite,
            });
        }
        if !records.is_empty() {
            self.govern(records)?;
        }
        Ok(names)
    }
}

/// Replaces a file atomically and durably; only its owner may read it. After a power cut either the old or the new one is there.
fn replace(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let temporary = path.with_extension("toml.new");
    // An interrupted earlier run may have left the temporary file, with another mode.
    match fs::remove_file(&temporary) {
        Err(e) if e.kind() != io::ErrorKind::NotFound => return Err(e),
        _ => {}
    }
    let mut options = OpenOptions::new();
    let mut file = options.write(true).create_new(true).mode(0o600).open(&temporary)?;
    file.write_all(bytes)?;
    file.sync_all()?;
    fs::rename(&temporary, path)?;
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    File::open(folder.unwrap_or(Path::new(".")))?.sync_all()
}
