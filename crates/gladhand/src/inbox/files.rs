//! What lies in the inbox, and which of it is finished.

use std::collections::BTreeMap;
use std::ffi::{OsStr, OsString};
use std::io;
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use gladhand_node::input::Format;
use gladhand_node::intake::Tally;

/// A file that has not changed for so long is finished.
pub const SETTLED: Duration = Duration::from_secs(2);
/// A picture that a fact names is waited for until nothing has come for so long.
const PICTURE_PATIENCE: Duration = Duration::from_secs(10);
/// However much comes, no facts file waits longer for its pictures.
const PICTURE_PATIENCE_IN_ALL: Duration = Duration::from_secs(60);
/// How long other files are held for facts that may still name them.
pub const HELD_AT_MOST: Duration = Duration::from_secs(60);

/// What tells one state of a file from another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stamp {
    device: u64,
    number: u64,
    pub bytes: u64,
    modified_s: i64,
    modified_ns: i64,
}

impl Stamp {
    /// Of a regular file; of nothing else.
    pub fn of(meta: &std::fs::Metadata) -> Option<Self> {
        meta.is_file().then(|| Self {
            device: meta.dev(),
            number: meta.ino(),
            bytes: meta.len(),
            modified_s: meta.mtime(),
            modified_ns: meta.mtime_nsec(),
        })
    }

    /// Of the regular file at `path`, not through links.
    pub fn at(path: &Path) -> Option<Self> {
        Self::of(&std::fs::symlink_metadata(path).ok()?)
    }
}

/// How it stands with a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FileState {
    /// To be dealt with when it is finished.
    New,
    /// To be dealt with then.
    Waits(Instant),
    /// As [`FileState::Waits`], after so many tries that failed for this reason.
    Failed { until: Instant, tries: u32, why: String },
    /// Nothing is to be done unless it changes.
    LeftAlone,
}

#[derive(Debug, Clone)]
struct Seen {
    stamp: Stamp,
    /// Unchanged since.
    since: Instant,
    /// Came as it is now, so in this form.
    first: Instant,
    arrived: bool,
    state: FileState,
    tally: Tally,
}

impl Seen {
    fn new(stamp: Stamp, now: Instant, arrived: bool) -> Self {
        Self {
            stamp,
            since: now,
            first: now,
            arrived,
            state: FileState::New,
            tally: Tally::default(),
        }
    }

    fn finished_at(&self) -> Instant {
        if self.arrived { self.since } else { self.since + SETTLED }
    }

    fn due_at(&self) -> Option<Instant> {
        match &self.state {
            FileState::New => Some(self.finished_at()),
            FileState::Waits(until) | FileState::Failed { until, .. } => Some(self.finished_at().max(*until)),
            FileState::LeftAlone => None,
        }
    }
}

/// The files of the inbox.
pub struct Files {
    dir: PathBuf,
    seen: BTreeMap<OsString, Seen>,
    /// When anything came or changed last.
    stirred: Instant,
}

/// Whether a name is one of facts.
pub fn holds_facts(name: &OsStr) -> bool {
    let name = name.to_string_lossy().to_ascii_lowercase();
    let ending = name.rsplit_once('.').map(|(_, ending)| ending);
    matches!(ending, Some("jsonl" | "ndjson" | "csv"))
}

/// How a file of that name is written.
pub fn format(name: &OsStr) -> Option<Format> {
    Format::of_name(&name.to_string_lossy())
}

fn is_looked_at(name: &OsStr) -> bool {
    !name.as_encoded_bytes().starts_with(b".")
}

impl Files {
    pub fn new(dir: &Path) -> Self {
        Self {
            dir: dir.to_path_buf(),
            seen: BTreeMap::new(),
            stirred: Instant::now(),
        }
    }

    /// The watch says that a file has changed, or was renamed into place.
    pub fn note(&mut self, name: &OsStr, arrived: bool) {
        if let Some(stamp) = Stamp::at(&self.dir.join(name)).filter(|_| is_looked_at(name)) {
            let now = Instant::now();
            let known = self.seen.get(name);
            // Renaming makes several events, and some changes are none of the content.
            if known.is_some_and(|seen| seen.stamp == stamp && (seen.arrived || !arrived)) {
                return;
            }
            self.stirred = now;
            self.seen.insert(name.to_owned(), Seen::new(stamp, now, arrived));
        }
    }

    /// Looks at the folder.
    ///
    /// # Errors
    /// When it cannot be listed.
    pub fn look(&mut self) -> io::Result<()> {
        let now = Instant::now();
        let mut here = BTreeMap::new();
        for entry in std::fs::read_dir(&self.dir)? {
            let name = entry?.file_name();
            if let Some(stamp) = Stamp::at(&self.dir.join(&name)).filter(|_| is_looked_at(&name)) {
                here.insert(name, stamp);
            }
        }
        self.seen.retain(|name, seen| here.get(name) == Some(&seen.stamp));
        for (name, stamp) in here {
            if !self.seen.contains_key(&name) {
                self.stirred = now;
                self.seen.insert(name, Seen::new(stamp, now, false));
            }
        }
        Ok(())
    }

    /// When something is due next.
    pub fn next_due(&self) -> Option<Instant> {
        self.seen.values().filter_map(Seen::due_at).min()
    }

    /// Whether something is due.
    pub fn is_due(&self, now: Instant) -> bool {
        self.next_due().is_some_and(|due| due <= now)
    }

    /// The facts files that are due, the oldest first: what happened first is recorded first.
    pub fn due_facts(&self, now: Instant) -> Vec<OsString> {
        let due = |seen: &Seen| seen.due_at().is_some_and(|due| due <= now);
        let mut names: Vec<_> = self
            .seen
            .iter()
            .filter(|(name, seen)| holds_facts(name) && due(seen))
            .map(|(name, seen)| (seen.stamp.modified_s, seen.stamp.modified_ns, name.clone()))
            .collect();
        names.sort();
        names.into_iter().map(|(_, _, name)| name).collect()
    }

    /// The files that are here, each with why it waits.
    pub fn waiting(&self) -> BTreeMap<String, String> {
        let now = Instant::now();
        let why = |name: &OsStr, seen: &Seen| match &seen.state {
            FileState::Failed { tries, why, .. } => format!("{why} (tried {tries} times, goes on)"),
            FileState::LeftAlone => "it holds no facts, and no fact has named it so far".to_owned(),
            _ if seen.finished_at() > now => "it may still be being written".to_owned(),
            _ if holds_facts(name) => "a picture that it names may still come".to_owned(),
            _ => "facts that wait may still name it".to_owned(),
        };
        let each = self.seen.iter();
        each.map(|(name, seen)| (name.to_string_lossy().into_owned(), why(name, seen)))
            .collect()
    }

    /// Whether facts files are here, due or not.
    pub fn any_facts(&self) -> bool {
        self.seen.keys().any(|name| holds_facts(name))
    }

    /// The other files that are due. While facts wait that may name them, they are held a while.
    pub fn due_others(&mut self, now: Instant, facts_wait: bool) -> Vec<OsString> {
        let mut names = Vec::new();
        for (name, seen) in self.seen.iter_mut().filter(|(name, _)| !holds_facts(name)) {
            if seen.state == FileState::LeftAlone || seen.finished_at() > now {
                continue;
            }
            let held_enough = now >= seen.first + HELD_AT_MOST;
            let is_due = seen.due_at().is_some_and(|due| due <= now);
            match (&seen.state, facts_wait && !held_enough) {
                (_, true) => seen.state = FileState::Waits(seen.first + HELD_AT_MOST),
                // Held for facts that are gone now.
                (FileState::Waits(_), false) => names.push(name.clone()),
                (_, false) if is_due => names.push(name.clone()),
                (_, false) => {}
            }
            if facts_wait && held_enough {
                // Once more when the facts are gone, or after the same time again.
                seen.first = now;
                seen.state = FileState::Waits(now + HELD_AT_MOST);
            }
        }
        names
    }

    /// Whether the file is there and finished.
    pub fn is_finished(&self, name: &OsStr) -> Option<bool> {
        let seen = self.seen.get(name)?;
        Some(seen.finished_at() <= Instant::now())
    }

    /// Whether facts file `name` should still wait for pictures that are not there.
    pub fn may_wait_for_pictures(&self, name: &OsStr) -> bool {
        let now = Instant::now();
        let first = self.seen.get(name).map_or(now, |seen| seen.first);
        now < self.stirred + PICTURE_PATIENCE && now < first + PICTURE_PATIENCE_IN_ALL
    }

    /// The state in which a file was seen.
    pub fn stamp(&self, name: &OsStr) -> Option<Stamp> {
        self.seen.get(name).map(|seen| seen.stamp)
    }

    /// What was counted of a file so far.
    pub fn tally(&self, name: &OsStr) -> Tally {
        let recorded = self.seen.get(name).map_or(0, |seen| seen.tally.recorded);
        Tally {
            recorded,
            ..Tally::default()
        }
    }

    /// Keeps what was counted, for when the file is read again.
    pub fn set_tally(&mut self, name: &OsStr, tally: Tally) {
        if let Some(seen) = self.seen.get_mut(name) {
            seen.tally = tally;
        }
    }

    /// Sets how it stands.
    pub fn set(&mut self, name: &OsStr, state: FileState) {
        if let Some(seen) = self.seen.get_mut(name) {
            seen.state = state;
        }
    }

    /// The file is to be tried again then.
    pub fn wait(&mut self, name: &OsStr, until: Instant) {
        self.set(name, FileState::Waits(until));
    }

    /// The file could not be dealt with. Returns how often that was so for this reason.
    pub fn retry(&mut self, name: &OsStr, why: &str, now: Instant, wait: Duration) -> u32 {
        let before = self.seen.get(name).map(|seen| seen.state.clone());
        let tries = match before {
            Some(FileState::Failed { tries, why: same, .. }) if same_cause(&same, why) => tries + 1,
            _ => 1,
        };
        let until = now + wait * (1 << (tries - 1).min(3));
        let why = why.to_owned();
        self.set(name, FileState::Failed { until, tries, why });
        tries
    }

    /// The folder has gone, or cannot be seen.
    pub fn forget_all(&mut self) {
        self.seen.clear();
    }

    /// The file has gone.
    pub fn forget(&mut self, name: &OsStr) {
        self.seen.remove(name);
    }
}

/// Numbers in a reason change (bytes free), the reason does not.
fn same_cause(one: &str, other: &str) -> bool {
    let letters = |text: &str| text.chars().filter(|c| !c.is_ascii_digit()).collect::<String>();
    letters(one) == letters(other)
}
