//! Opening a home: replay the journal into the book, determine the own log, bring the index up to date.
//!
//! A home that was copied or restored, or whose own log is damaged, must not write where a clone may be writing too: its next write
//! starts a new incarnation (see `due_incarnation`).
//!
//! Deliberately absent: repairing. What is damaged is set aside as evidence, and peers bring it back.
//!
//! Invariants: no place in a log is written twice; nothing that was held is thrown away.

use std::path::Path;
use std::sync::Arc;

use gladhand_facts::{DeviceKey, LogId};
use gladhand_logbook::governance::Record as Rule;
use gladhand_logbook::roster::Roster;
use gladhand_logbook::{Body, Book, DeviceSecret, WriteError};
use gladhand_store::{
    Damage, DamageKind, FreshWhy, Home, Index, IndexError, IndexState, Journal, Layout, Options, Position, Record,
    RecordKind, Unsettled,
};

use crate::config::{Config, Role};
use crate::elsewhere::{BegunElsewhere, INDEX_SCHEMA, begin_elsewhere};
use crate::environment::Environment;
use crate::error::{NodeError, OpenNodeError};
use crate::node::Node;
use crate::progress::{Progress, Silent};
use crate::wanted_pictures::WantedPictures;

impl Node {
    /// Creates a home and opens it.
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
    /// [`OpenNodeError`]. Nothing but the index was changed then, except that damage was set aside.
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
        let config = read_config(&layout)?;
        let secret = DeviceSecret::from_seed(home.key_seed());
        let device = secret.public();
        let root = root_of(&config, device)?;
        let Replayed {
            mut journal,
            mut book,
            mut damage,
            unread,
        } = replay(&environment, &layout, root)?;
        agrees_with_log(&config, &layout.config(), book.roster(), &device)?;
        journal.set_floor_bytes(config.disk_floor_mib << 20);
        let mut notes = opening_notes(&home, unread);
        let opened = Index::open(&layout.index(), &layout.evidence(), &journal, INDEX_SCHEMA);
        let (index, elsewhere, state) = match opened {
            Ok((index, state)) => (index, None, state),
            Err(error) => {
                let begun = begin_if_refused(&environment, &journal, error)?;
                notes.push(begun.note);
                (begun.index, Some(begun.elsewhere), IndexState::Fresh(FreshWhy::New))
            }
        };
        notes.extend(index_note(&state));
        if !may_lose(&damage) && state == IndexState::Fresh(FreshWhy::OtherJournal) {
            damage.push(end_is_missing(&layout.log(), journal.end()));
        }
        let due_incarnation = choose_own_log(&mut home, &mut book, secret, &damage);
        let mut node = Self {
            home,
            device,
            config,
            journal,
            book,
            index,
            elsewhere,
            docs: std::collections::BTreeMap::new(),
            damage,
            notes,
            due_incarnation,
            environment,
            wanted: WantedPictures::default(),
            clock_notes: None,
            grown: tokio::sync::watch::Sender::new(0),
        };
        // A home on a full disk must open too: what waits goes on waiting then.
        if let Err(error) = node.let_in_waiting() {
            tracing::warn!(%error, "what waits behind a closed gap cannot be let in: {error}");
        }
        node.catch_up(progress)?;
        Ok(node)
    }

    /// Writes governance records into the own log.
    pub(crate) fn govern(&mut self, records: Vec<Rule>) -> Result<(), NodeError> {
        self.start_incarnation()?;
        let mut bodies = self.waiting_bodies()?;
        for record in &records {
            bodies.push(governance(record)?);
        }
        let new = self.book.write(bodies, self.environment.now_us())?;
        self.commit(new)?;
        self.forget_waiting();
        self.catch_up(&Silent)
    }

    /// Starts the new incarnation, if one is due. To be called before every write into the own log.
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
            // The next attempt must start from the same old log.
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

    /// Begins the own log `incarnation` with its introduction and the record that explains it.
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

    /// Notes that the own log must not be continued. With `at`: a clone may be writing it, and only the entries up to `at` are
    /// certainly ours. Without: other nodes cannot admit what would be written there.
    pub(crate) fn must_start_incarnation(&mut self, at: impl Into<Option<u64>>, why: &str) {
        if let (None, Some(own)) = (&self.due_incarnation, self.book.own_log()) {
            let unsettled = Unsettled {
                at: at.into(),
                why: why.to_owned(),
            };
            write_mark(&mut self.home, &own, Some(&unsettled));
            self.due_incarnation = Some(unsettled);
        }
    }
}

/// An index somewhere else, when it was the home's disk that refused.
fn begin_if_refused(
    environment: &Environment,
    journal: &Journal,
    error: IndexError,
) -> Result<BegunElsewhere, OpenNodeError> {
    let begun = match error {
        IndexError::Io { .. } => begin_elsewhere(environment, journal, &error)?,
        _ => None,
    };
    begun.ok_or_else(|| error.into())
}

fn read_config(layout: &Layout) -> Result<Config, OpenNodeError> {
    let file = layout.config();
    let text = layout.config_text().map_err(|source| OpenNodeError::ConfigFile {
        file: file.clone(),
        source,
    })?;
    Ok(Config::parse(&text, &file.display().to_string())?)
}

/// The root of trust: a depot's own key, or the depot that a laptop has joined.
fn root_of(config: &Config, device: DeviceKey) -> Result<Option<DeviceKey>, OpenNodeError> {
    match config.role {
        Role::Depot => Ok(Some(device)),
        Role::Laptop => Ok(config.root()?),
    }
}

/// The journal, and the book that was replayed from it.
struct Replayed {
    journal: Journal,
    book: Book,
    damage: Vec<Damage>,
    /// How many entries have a format that this version does not know.
    unread: u64,
}

fn replay(environment: &Environment, layout: &Layout, root: Option<DeviceKey>) -> Result<Replayed, OpenNodeError> {
    let mut book = Book::new(root);
    let mut unread = 0u64;
    let (disk, options) = (Arc::clone(&environment.disk), Options::default());
    let mut visit = |record: &Record<'_>, _| match record.kind {
        RecordKind::Entry => unread += u64::from(book.replay_entry(record.log, record.seq, record.bytes).is_err()),
        RecordKind::Checkpoint => book.replay_checkpoint(record.log, record.seq),
        RecordKind::Other(_) => {}
    };
    let (journal, damage) = Journal::open_on(disk, &layout.log(), &layout.evidence(), options, &mut visit)?;
    book.find_causal_gaps();
    Ok(Replayed {
        journal,
        book,
        damage,
        unread,
    })
}

/// What the user should be told about the home's files.
fn opening_notes(home: &Home, unread: u64) -> Vec<String> {
    let layout = home.layout();
    let mut notes = Vec::new();
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
    notes
}

pub(crate) fn governance(record: &Rule) -> Result<Body, WriteError> {
    Ok(Body::Governance(record.encode()?))
}

/// Checks the configuration against the own log. Without this check a home whose configuration has lost a line would trust no
/// device and show no facts.
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

/// Chooses the log that the book writes, and notes it in the home's mark. Returns why a new one is due, if one is.
fn choose_own_log(home: &mut Home, book: &mut Book, secret: DeviceSecret, damage: &[Damage]) -> Option<Unsettled> {
    let (own, is_certain) = own_log(home, book, secret.public());
    let due_incarnation = why_new_incarnation(home, damage, book.head(&own).0, is_certain);
    write_mark(home, &own, due_incarnation.as_ref());
    book.write_as(secret, own);
    due_incarnation
}

/// The log that this home writes: by its mark, or else the newest own log that is held, or the first one; and whether that is
/// certain. The newest one may be a clone's, because a copy that has merged with its clone holds the clone's log as well.
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

/// The damage of a journal that lost whole batches at its end. The journal itself looks intact then; only the index, which was
/// made from it, shows that there was more.
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

/// Why a new incarnation is due, if one is. `head` is the last own entry that is held.
///
/// Any damage that may have lost something counts: even a torn tail may have been an entry with a receipt that a peer holds, and writing its place again would
/// fork the log. An earlier reason is kept with its place, because peers may have sent back more of the old log since.
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
    noted.or_else(|| may_lose(damage).then(damaged))
}

fn may_lose(damage: &[Damage]) -> bool {
    damage.iter().any(|damage| damage.kind.may_lose())
}

/// Writes into the home's mark which log it writes, or that it must start a new one, so that both outlive this process.
///
/// A failure is only logged, because a home on a full or read-only disk must still open for reading. Within this process nothing is
/// lost: `due_incarnation` is kept, and the next write starts the new log. If the process ends without a write, a copy is found
/// again by the next open; damage is not, because the damaged part has been set aside.
fn write_mark(home: &mut Home, own: &LogId, due_incarnation: Option<&Unsettled>) {
    let written = match due_incarnation {
        Some(due) if home.is_copy() || home.unsettled() != Some(due) => home.unsettle(own.incarnation, due.clone()),
        None if home.writes().is_none() => home.settle_as(own.incarnation),
        _ => Ok(()),
    };
    if let Err(error) = written {
        tracing::warn!(%error, "the mark of the home cannot be written: {error}");
    }
}

/// The library's own error is left out: it means nothing to a user. The broken index is kept for a closer look.
fn index_note(state: &IndexState) -> Option<String> {
    let IndexState::Fresh(FreshWhy::Broken { aside, .. }) = state else {
        return None;
    };
    let kept = aside.as_ref().map_or(String::new(), |aside| {
        format!("; the broken one is kept in {}", aside.display())
    });
    Some(format!("the index was broken and was made anew from the journal{kept}"))
}
