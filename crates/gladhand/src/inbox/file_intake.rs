//! One facts file of the inbox, from its first byte to the word about it in the log.

use std::ffi::{OsStr, OsString};
use std::fs::File;
use std::io::BufReader;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use gladhand_facts::Fact;
use gladhand_store::Layout;

use super::files::{self, Files, Stamp};
use super::place::Rejects;
use crate::show;
use gladhand_node::NodeAccess;
use gladhand_node::NodeHandle;
use gladhand_node::Receipt;
use gladhand_node::intake::{self, Listener, PictureAnswer, Source, Stopped, Tally};

/// How many warnings about one file go into the log.
const WARNINGS: u32 = 20;

/// Why a file is not read on, although it could be.
#[derive(Debug, thiserror::Error)]
pub enum Interrupted {
    /// The daemon is told to end.
    #[error("the daemon is shutting down")]
    ShuttingDown,
    /// What is rejected must be durable elsewhere before the file moves.
    #[error("its rejected lines cannot be written: {0}")]
    Rejects(std::io::Error),
}

/// A facts file being read.
pub struct FileIntake<'f> {
    dir: PathBuf,
    file: OsString,
    source: Option<Source>,
    hears: Hears<'f>,
}

impl<'f> FileIntake<'f> {
    /// Opens the file, as it was seen.
    ///
    /// # Errors
    /// When it cannot be read, or is not as it was seen.
    pub fn new(
        layout: &Layout,
        file: &OsStr,
        files: &'f Files,
        node: NodeHandle,
        stop: Arc<AtomicBool>,
    ) -> Result<Self, Stopped<Interrupted>> {
        let dir = layout.inbox();
        let path = dir.join(file);
        let failed = |e: std::io::Error| Stopped::Source(e.to_string());
        let opened = File::open(&path).map_err(failed)?;
        let stamp = Stamp::of(&opened.metadata().map_err(failed)?);
        if stamp.is_none() || stamp != files.stamp(file) {
            return Err(Stopped::NotYet("it is not as it was seen".into()));
        }
        let again = opened.try_clone().map_err(failed)?;
        let as_seen = move || Stamp::at(&path) == stamp && again.metadata().is_ok_and(|meta| Stamp::of(&meta) == stamp);
        let source = Source {
            reader: Box::new(BufReader::with_capacity(256 << 10, opened)),
            format: files::format(file),
            is_whole: Some(Box::new(as_seen)),
        };
        let hears = Hears {
            shown: file.to_string_lossy().into_owned(),
            file: file.to_owned(),
            rejects: Rejects::new(layout, file),
            warnings: 0,
            files,
            node,
            stop,
        };
        Ok(Self {
            dir,
            file: file.to_owned(),
            source: Some(source),
            hears,
        })
    }

    /// Reads it to the end. On return its facts are durable.
    ///
    /// # Errors
    /// [`Stopped`].
    pub fn run(&mut self, access: &mut NodeAccess, tally: &mut Tally) -> Result<(), Stopped<Interrupted>> {
        let Some(source) = self.source.take() else {
            return Err(Stopped::Source(format!(
                "{} was read already",
                self.file.to_string_lossy()
            )));
        };
        let folder = self.dir.clone();
        intake::take_in(access, source, &folder, &mut self.hears, tally)
    }

    /// Makes the rejected lines durable and says where they are.
    ///
    /// # Errors
    /// When the disk refuses.
    pub fn rejected(&mut self) -> Result<Option<PathBuf>, Stopped<Interrupted>> {
        let finished = self.hears.rejects.finish();
        finished.map_err(|e| Stopped::Listener(Interrupted::Rejects(e)))
    }
}

/// Says what came of a file.
pub fn tell(file: &OsStr, tally: &Tally, rejected: Option<&Path>) {
    let file = file.to_string_lossy();
    let Tally {
        recorded,
        already,
        rejected: bad,
        ..
    } = *tally;
    let facts = show::counted(recorded, "fact recorded", "facts recorded");
    match rejected {
        Some(place) => {
            let lines = show::counted(bad, "line rejected", "lines rejected");
            tracing::warn!(
                %file, recorded, already, rejected = bad,
                "inbox: {file}: {facts}, {already} recorded before, {lines}: see {}", place.display()
            );
        }
        None => tracing::info!(%file, recorded, already, "inbox: {file}: {facts}, {already} recorded before"),
    }
}

struct Hears<'f> {
    shown: String,
    file: OsString,
    rejects: Rejects,
    warnings: u32,
    files: &'f Files,
    node: NodeHandle,
    stop: Arc<AtomicBool>,
}

impl Listener for Hears<'_> {
    type Stop = Interrupted;

    fn recorded(&mut self, _: &[(u64, Receipt)]) -> Result<(), Interrupted> {
        self.go_on()
    }

    fn rejected(&mut self, line: u64, reason: &str, text: &str) -> Result<(), Interrupted> {
        self.go_on()?;
        let added = self.rejects.add(line, reason, text);
        added.map_err(Interrupted::Rejects)
    }

    fn warned(&mut self, line: u64, warning: &str) {
        self.warnings += 1;
        match self.warnings {
            1..=WARNINGS => tracing::warn!(file = %self.shown, line, "inbox: {}, line {line}: {warning}", self.shown),
            more if more == WARNINGS + 1 => {
                tracing::warn!(file = %self.shown, "inbox: {}: there are more such lines", self.shown);
            }
            _ => {}
        }
    }

    fn picture(&mut self, fact: &Fact, picture: &str) -> PictureAnswer {
        match self.files.is_finished(OsStr::new(picture)) {
            Some(true) => PictureAnswer::Keep,
            Some(false) => PictureAnswer::NotYet(format!("picture {picture} is still being written")),
            None if !self.files.may_wait_for_pictures(&self.file) || self.is_recorded(fact) => PictureAnswer::Keep,
            None => PictureAnswer::NotYet(format!("picture {picture} is not there yet")),
        }
    }
}

impl Hears<'_> {
    fn go_on(&self) -> Result<(), Interrupted> {
        if self.stop.load(Ordering::SeqCst) {
            return Err(Interrupted::ShuttingDown);
        }
        Ok(())
    }

    fn is_recorded(&mut self, fact: &Fact) -> bool {
        let id = fact.id();
        let place = self.node.lend().map(|node| node.recorded(&id));
        matches!(place, Ok(Ok(Some(_))))
    }
}
