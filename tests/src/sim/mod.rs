//! A fleet in a box: from one number a world of devices that work, meet, break and heal, on the production node, journal,
//! exchange and reconciler. Only the disk below the journal, the time and the randomness are the simulator's own.
//!
//! Bottom up: [`device`] (a node on a disk that can fail), [`work`] (what people record), [`network`] (lines in bad weather),
//! [`bundles`] (files from hand to hand), [`troubles`] (what happens to devices), [`judges`] (what must hold whatever happens),
//! [`story`] (what happened, in plain words). A failure is a seed: `SEED=… cargo test -p gladhand-tests --test fleet`.
//!
//! Deliberately absent: threads, waiting, and any knowledge of what the findings should be. The index lies on real files;
//! its own damage is the business of `tests/tests/damage` and of the store.

pub mod bundles;
pub mod device;
pub mod judges;
pub mod network;
pub mod story;
pub mod troubles;
pub mod work;
mod world;

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::{Arc, Mutex};

pub use story::Story;
pub use world::World;

/// What was done in a world, or in many.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Tally {
    /// Steps.
    pub steps: u64,
    /// Facts with a receipt.
    pub receipts: u64,
    /// Lines that came up.
    pub sessions: u64,
    /// Messages that were delivered.
    pub messages: u64,
    /// Lines that were cut.
    pub cuts: u64,
    /// Sessions that gave up because of what came.
    pub broken: u64,
    /// Bundles that were read.
    pub bundles: u64,
    /// Of them, those that were mangled.
    pub mangled: u64,
    /// Processes killed and machines without power.
    pub kills: u64,
    /// Calls that failed because a disk refused.
    pub failed_calls: u64,
    /// Bytes and files of journals that were damaged.
    pub damaged: u64,
    /// Copies, restored backups, retirements.
    pub copies: u64,
    /// Backups that were put back.
    pub restored: u64,
    /// Devices taken off the roster.
    pub retired: u64,
    /// Clocks that were set.
    pub clocks: u64,
    /// Times that a node was judged.
    pub judged: u64,
    /// Findings that were open and are not any more.
    pub left: u64,
    /// Facts that were lost with the only disk that held them.
    pub lost_with_a_disk: u64,
    /// Logs that forked.
    pub forks: u64,
    /// Logs of which a part had seen what the whole fleet has lost: its facts were said again.
    pub re_record: u64,
}

impl Tally {
    /// Adds another.
    pub fn add(&mut self, other: &Self) {
        for (mine, theirs) in self.numbers_mut().into_iter().zip(other.clone().numbers_mut()) {
            *mine += *theirs;
        }
    }

    fn numbers_mut(&mut self) -> [&mut u64; 20] {
        [
            &mut self.steps,
            &mut self.receipts,
            &mut self.sessions,
            &mut self.messages,
            &mut self.cuts,
            &mut self.broken,
            &mut self.bundles,
            &mut self.mangled,
            &mut self.kills,
            &mut self.failed_calls,
            &mut self.damaged,
            &mut self.copies,
            &mut self.restored,
            &mut self.retired,
            &mut self.clocks,
            &mut self.judged,
            &mut self.left,
            &mut self.lost_with_a_disk,
            &mut self.forks,
            &mut self.re_record,
        ]
    }
}

/// A world that came to its end as it must.
#[derive(Debug, Clone)]
pub struct Played {
    /// What was done.
    pub tally: Tally,
    /// The hash of its story.
    pub hash: blake3::Hash,
}

/// A world in which a judge objected, or something panicked.
#[derive(Debug, Clone)]
pub struct Failed {
    /// The seed.
    pub seed: u64,
    /// What was wrong.
    pub why: String,
    /// What had happened until then.
    pub story: String,
}

impl std::fmt::Display for Failed {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { seed, why, story } = self;
        write!(
            f,
            "{story}\n--- seed {seed}: {why}\nto play it again: SEED={seed} cargo test -p gladhand-tests --test fleet"
        )
    }
}

/// Plays the world of a seed in a folder of its own below `dir`.
///
/// # Errors
/// [`Failed`], with the story.
pub fn play(seed: u64, dir: &Path) -> Result<Played, Box<Failed>> {
    let story = Arc::new(Mutex::new(Story::default()));
    let told = Arc::clone(&story);
    let played = catch_unwind(AssertUnwindSafe(move || {
        let folder = tempfile::tempdir_in(dir).unwrap();
        let mut world = World::new(seed, folder.path(), told);
        world.run();
        world.tally
    }));
    let story = match story.lock() {
        Ok(story) => story,
        Err(poisoned) => poisoned.into_inner(),
    };
    match played {
        Ok(tally) => Ok(Played {
            tally,
            hash: story.hash(),
        }),
        Err(panic) => Err(Box::new(Failed {
            seed,
            why: words_of(panic.as_ref()),
            story: story.text(),
        })),
    }
}

fn words_of(panic: &(dyn std::any::Any + Send)) -> String {
    let text = panic.downcast_ref::<String>().cloned();
    let text = text.or_else(|| panic.downcast_ref::<&str>().map(|s| (*s).to_owned()));
    text.unwrap_or_else(|| "a panic without words".into())
}

/// Where worlds are fast: in memory where the system has such a folder.
pub fn folder() -> tempfile::TempDir {
    let memory = Path::new("/dev/shm");
    if memory.is_dir() {
        tempfile::tempdir_in(memory).or_else(|_| tempfile::tempdir()).unwrap()
    } else {
        tempfile::tempdir().unwrap()
    }
}
