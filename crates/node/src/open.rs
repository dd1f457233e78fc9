//! Opening a home: journal into the book, the right own log, the index brought up to date.
//!
//! A home that finds itself copied, restored or damaged in its own log must not go on writing where a clone may be
//! writing too: it takes a new incarnation with its next write (see `due_incarnation`). Nothing it held is thrown away.

use std::path::Path;
use std::sync::Arc;

use gladhand_facts::{DeviceKey, LogId};
use gladhand_logbook::governance::Record as Rule;
use gladhand_logbook::roster::Roster;
use gladhand_logbook::{Body, Book, DeviceSecret, WriteError};
use gladhand_store::{
    Damage, DamageKind, FreshWhy, Home, Index, IndexState, Journal, Options, Position, Record, RecordKind, Unsettled,
};

use crate::config::{Config, Role};
use crate::environment::Environment;
use crate::error::{NodeError, OpenNodeError};
use crate::node::Node;
use crate::progress::{Progress, Silent};
use crate::wanted_pictures::WantedPictures;

/// Meaning and layout of what we keep in the index. Another number: made anew.
const INDEX_SCHEMA: u32 = 5;

impl Node {
    /// Makes a home and opens it.
    ///
    /// # Errors
    /// [`OpenNodeError`]; a home that is already there is refused.
    pub fn create(path: &Path, config: &Config) -> Result<Self, OpenNodeError> {
        Self::create_with(path, config, Environment::machine())
    }

    /// The same with another environment.
    ///
    /// # Errors
    /// As [`Node::create`].
    pub fn create_with(path: &Path, config: &Config, environment: Environment) -> Result<Self, OpenNodeError> {
        let seed = zeroize::Zeroizing::new(environment.random::<32>()?);
        let home = Home::create(path, &seed, &config.render(), &environment.machine_id)?;
        drop(home);
        let mut node = Self::open_with(path, &Silent, environment)?;
        let Config { name, person, role, .. } = config.clone();
        node.govern(vec![Rule::Introduce {
            name,
            person,
            depot: role == Role::Depot,
        }])?;
        Ok(node)
    }

    /// Opens the home at `path`.
    ///
    /// # Errors
    /// [`OpenNodeError`]; nothing that is not derived has changed then, except that damage found on the way is set aside.
    pub fn open(path: &Path, progress: &dyn Progress) -> Result<Self, OpenNodeError> {
        Self::open_with(path, progress, Environment::machine())
    }

    /// The same with another environment.
    ///
    /// # Errors
    /// As [`Node::open`].
    pub fn open_with(path: &Path, progress: &dyn Progress, environment: Environment) -> Result<Self, OpenNodeError> {
        let mut home = Home::open(path, &environment.machine_id)?;
        let layout = home.layout().clone();
        let config_file = layout.config();
        let text = layout.config_text().map_err(|source| OpenNodeError::ConfigFile {
            file: config_file.clone(),
            source,
        })?;
        let config = Config::parse(&text, &config_file.display().to_string())?;
        let secret = DeviceSecret::from_seed(home.key_seed());
        let root = if config.role == Role::Depot {
            Some(secret.public())
        } else {
            config.root()?
        };
        let mut book = Book::new(root);
        let mut notes = Vec::new();
        let mut unread = 0u64;
        let (disk, options) = (Arc::clone(&environment.disk), Options::default());
        let mut visit = |record: &Record<'_>, _| match record.kind {
            RecordKind::Entry => unread += u64::from(book.replay_entry(record.log, record.seq, record.bytes).is_err()),
            RecordKind::Checkpoint => book.replay_checkpoint(record.log, record.seq),
            RecordKind::Other(_) => {}
        };
        let (mut journal, mut damage) = Journal::open_on(disk, &layout.log(), &layout.evidence(), options, &mut visit)?;
        book.find_causal_gaps();
        agrees_with_log(&config, &config_file, book.roster(), &secret.public())?;
        journal.set_floor_bytes(config.disk_floor_mib << 20);
        if unread > 0 {
            notes.push(format!(
                "{unread} entries are of a format that this version does not know; they are kept as they are"
            ));
        }
        if home.key_is_exposed() {
            notes.push(format!(
                "others can read {}: make it yours alone (chmod 600)",
                layout.path().join("key").display()
            ));
        }
        if home.mark_was_damaged() {
            notes.push(format!(
                "{} was damaged; this device goes on in a new log, and nothing is lost",
                layout.mark().display()
            ));
        }
        let (index, state) = Index::open(&layout.index(), &layout.evidence(), &journal, INDEX_SCHEMA)?;
        notes.extend(index_note(&state));
        if damage.is_empty() && state == IndexState::Fresh(FreshWhy::OtherJournal) {
            damage.push(end_is_missing(&layout.log(), journal.end()));
        }
        let (own, is_certain) = own_log(&home, &book, secret.public());
        let due_incarnation = why_new_incarnation(&home, &damage, book.head(&own).0, is_certain);
        settle_or_not(&mut home, &own, due_incarnation.as_ref());
        book.write_as(secret, own);
        let docs = std::collections::BTreeMap::new();
        let mut node = Self {
            home,
            config,
            journal,
            book,
            index,
            docs,
            damage,
            notes,
            due_incarnation,
            environment,
            wanted: WantedPictures::default(),
            grown: tokio::sync::watch::Sender::new(0),
        };
        node.catch_up(progress)?;
        Ok(node)
    }

    /// Writes governance records into the own log.
    pub(crate) fn govern(&mut self, records: Vec<Rule>) -> Result<(), NodeError> {
        self.start_incarnation()?;
        let bodies = records.iter().map(governance).collect::<Result<_, _>>()?;
        let new = self.book.write(bodies, self.environment.now_us())?;
        self.commit(new)?;
        self.catch_up(&Silent)
    }

    /// Starts the new incarnation that opening or a peer found to be necessary, before anything else is written.
    pub(crate) fn start_incarnation(&mut self) -> Result<(), NodeError> {
        let Some(Unsettled { at, why }) = self.due_incarnation.clone() else {
            return Ok(());
        };
        let old = self.book.own_log().unwrap_or_else(|| first_log(self.device()));
        let chance = u32::from_le_bytes(self.environment.random::<4>()?);
        let incarnation = ((old.incarnation >> 32) + 1) << 32 | u64::from(chance);
        let born = self.begin_log(
            incarnation,
            Rule::Incarnation {
                after: old.to_string(),
                at,
                why,
            },
        );
        if let Err(e) = born {
            // Whoever tries again must go on from the same log.
            self.book.write_as(DeviceSecret::from_seed(self.home.key_seed()), old);
            return Err(e);
        }
        self.docs.clear();
        let io = |source| NodeError::Io {
            what: "cannot mark the home as settled".into(),
            source,
        };
        self.home.settle_as(incarnation).map_err(io)?;
        self.due_incarnation = None;
        Ok(())
    }

    fn begin_log(&mut self, incarnation: u64, born: Rule) -> Result<(), NodeError> {
        let log = LogId {
            device: self.device(),
            incarnation,
        };
        self.book.write_as(DeviceSecret::from_seed(self.home.key_seed()), log);
        let Config { name, person, role, .. } = self.config.clone();
        let depot = role == Role::Depot;
        let introduce = Rule::Introduce { name, person, depot };
        let bodies = vec![governance(&introduce)?, governance(&born)?];
        let new = self.book.write(bodies, self.environment.now_us())?;
        self.commit(new)
    }

    /// Notes that a clone may be writing our own log, of which entries up to `at` are ours for certain; or, without `at`, that
    /// nobody else can take in what would be written there.
    pub(crate) fn must_start_incarnation(&mut self, at: impl Into<Option<u64>>, why: &str) {
        if let (None, Some(own)) = (&self.due_incarnation, self.book.own_log()) {
            let unsettled = Unsettled {
                at: at.into(),
                why: why.to_owned(),
            };
            settle_or_not(&mut self.home, &own, Some(&unsettled));
            self.due_incarnation = Some(unsettled);
        }
    }
}

fn governance(record: &Rule) -> Result<Body, WriteError> {
    Ok(Body::Governance(record.encode()?))
}

/// The own log says what this home is as well. Without this a lost line of the configuration would make it a home
/// that trusts nobody, and shows nothing.
fn agrees_with_log(config: &Config, file: &Path, roster: &Roster, own: &DeviceKey) -> Result<(), OpenNodeError> {
    let file = file.to_path_buf();
    if config.role == Role::Laptop && roster.is_depot(own) {
        Err(OpenNodeError::RoleMissing { file })
    } else if roster.joined_elsewhere(own) {
        let depot = roster.other_depot(own);
        Err(OpenNodeError::DepotMissing { file, depot })
    } else {
        Ok(())
    }
}

/// The log that this home has written so far: as its mark says, or else the newest own log that is here, or the first one; and
/// whether that is certain. The newest one may be a clone's: a copy that has met its clone holds the clone's log as well.
fn own_log(home: &Home, book: &Book, device: DeviceKey) -> (LogId, bool) {
    let vector = book.vector();
    let mut held: Vec<LogId> = vector
        .iter()
        .map(|(log, _)| log)
        .filter(|log| log.device == device)
        .collect();
    held.sort_by_key(|log| log.incarnation);
    let marked = home.writes().map(|incarnation| LogId { device, incarnation });
    match (marked, held.last()) {
        (Some(own), newest) => (own, newest.is_none() || held.contains(&own)),
        (None, Some(newest)) => (*newest, held.len() == 1),
        (None, None) => (first_log(device), true),
    }
}

fn first_log(device: DeviceKey) -> LogId {
    LogId { device, incarnation: 1 }
}

/// A journal that ends at the end of a batch looks whole. Only the index, which follows it, may have seen more.
fn end_is_missing(log: &Path, end: Position) -> Damage {
    Damage {
        kind: DamageKind::CutShort,
        file: log.to_path_buf(),
        segment: end.segment,
        offset: u64::from(end.offset),
        bytes: 0,
        evidence: None,
        lost: Vec::new(),
    }
}

/// Why a new incarnation is due, if one is. `head` is the last own entry that is here.
///
/// Any damage counts: even a torn tail may be an entry that was acknowledged and passed on, and writing its place again would
/// fork the log. What was noted earlier stays, because since then the home may have been given more of its old log by peers.
fn why_new_incarnation(home: &Home, damage: &[Damage], head: u64, is_certain: bool) -> Option<Unsettled> {
    let noted = home.unsettled().cloned();
    if home.is_copy() || !is_certain {
        let at = noted.and_then(|noted| noted.at).or(Some(head));
        let why = if home.is_copy() {
            "this home was copied, moved to another machine or restored"
        } else {
            "this home cannot tell which of its device's logs it wrote"
        };
        let why = why.to_owned();
        return Some(Unsettled { at, why });
    }
    let damaged = || Unsettled {
        at: None,
        why: "the journal was damaged".into(),
    };
    noted.or_else(|| (!damage.is_empty()).then(damaged))
}

/// Writes down which log the home writes, or that it must begin another one, so that both outlive this process.
fn settle_or_not(home: &mut Home, own: &LogId, due_incarnation: Option<&Unsettled>) {
    // Where this fails nothing can be written either, so no place can be written twice.
    match due_incarnation {
        Some(due) if home.is_copy() || home.unsettled() != Some(due) => {
            home.unsettle(own.incarnation, due.clone()).ok();
        }
        None if home.writes().is_none() => {
            home.settle_as(own.incarnation).ok();
        }
        _ => {}
    }
}

/// What broke it is in the words of a library that no user knows; whoever wants to know has the broken one itself.
fn index_note(state: &IndexState) -> Option<String> {
    let IndexState::Fresh(FreshWhy::Broken { aside, .. }) = state else {
        return None;
    };
    let kept = aside.as_ref().map_or(String::new(), |aside| {
        format!("; the broken one is kept in {}", aside.display())
    });
    Some(format!("the index was broken and was made anew from the journal{kept}"))
}
