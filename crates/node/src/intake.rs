//! Intake: recording the fact lines of a source, for `record` and the inbox.
//!
//! A second thread reads and parses while this one commits, so a slow disk and a slow pipe do not wait for each other. A batch is
//! committed when it is full or when nothing more can be read at once, so a person at a pipe gets each receipt immediately. The
//! node is taken for one batch at a time, so that others can use it in between.
//!
//! Deliberately absent: output. A [`Listener`] gets each receipt and each rejected line.
//!
//! Invariants: the listener gets a receipt only after its fact is durable; facts are recorded in the order of their lines; what
//! is read ahead is bounded in bytes.

mod ahead;
mod named_jobs;

use std::io::BufRead;
use std::path::Path;

use gladhand_facts::{DeviceKey, Fact, Kind};
use gladhand_store::Pictures;

use crate::access::NodeAccess;
use crate::error::{NodeError, RecordError};
use crate::handle::Closed;
use crate::input::{self, Format, InputLine};
use crate::picture::{file_beside, keep_beside};
use crate::record::{Receipt, RecordOutcome};
use ahead::Ahead;
use named_jobs::NamedJobs;

/// How many facts share an fsync at most.
const BATCH_FACTS: usize = 2_048;
/// How many bytes of facts share an fsync at most. It also bounds the group of entries that a peer must receive at once.
const BATCH_BYTES: usize = 4 << 20;

/// Why a source was not read to its end. Facts with a receipt are recorded.
#[derive(Debug)]
pub enum Stopped<E> {
    /// The source cannot be read.
    Source(String),
    /// The node could not record the batch. None of it is recorded.
    Node(RecordError),
    /// The node is shutting down.
    Closed,
    /// The listener stopped the intake.
    Listener(E),
    /// The source must be read again later: it is incomplete, or a picture that it names is missing.
    NotYet(String),
}

impl<E> From<Closed> for Stopped<E> {
    fn from(_: Closed) -> Self {
        Self::Closed
    }
}

impl<E> From<NodeError> for Stopped<E> {
    fn from(error: NodeError) -> Self {
        Self::Node(error.into())
    }
}

impl<E> From<RecordError> for Stopped<E> {
    fn from(error: RecordError) -> Self {
        Self::Node(error)
    }
}

/// What to do with a picture that a fact names.
pub enum PictureAnswer {
    /// Keep the file, if there is one.
    Keep,
    /// Stop before this fact, and read it and those after it later.
    NotYet(String),
}

/// Gets the outcome of each line.
pub trait Listener {
    /// Why the listener stops the intake.
    type Stop;

    /// These facts are durable now; with the numbers of their lines.
    ///
    /// # Errors
    /// Stops the intake.
    fn recorded(&mut self, receipts: &[(u64, Receipt)]) -> Result<(), Self::Stop>;

    /// This line is not recorded, for this reason.
    ///
    /// # Errors
    /// Stops the intake.
    fn rejected(&mut self, line: u64, reason: &str, text: &str) -> Result<(), Self::Stop>;

    /// A warning about the fact of this line, which is recorded.
    fn warned(&mut self, line: u64, warning: &str);

    /// The fact names the file `picture` beside it.
    fn picture(&mut self, _fact: &Fact, _picture: &str) -> PictureAnswer {
        PictureAnswer::Keep
    }
}

/// Counts of a source's lines.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Tally {
    /// New facts.
    pub recorded: u64,
    /// Facts that this device had recorded before.
    pub already: u64,
    /// Lines that are not facts.
    pub rejected: u64,
}

impl Tally {
    /// Adds the counts of another source.
    pub fn add(&mut self, other: Self) {
        self.recorded += other.recorded;
        self.already += other.already;
        self.rejected += other.rejected;
    }
}

/// A source of lines.
pub struct Source {
    /// The bytes.
    pub reader: Box<dyn BufRead + Send>,
    /// Their format, if known.
    pub format: Option<Format>,
    /// Called at the end, before the last line is used: whether the source is complete. Only where a line may be half written.
    pub is_whole: Option<Box<dyn FnOnce() -> bool + Send>>,
}

/// What the reading thread passes on.
enum Item {
    Fact(u64, Fact),
    /// Whether it is recorded depends on the fact that it takes back.
    Withdrawal(InputLine, Fact),
    Rejected(InputLine, String),
    Failed(String),
    NotWhole,
}

/// Reads `source` to its end. Its pictures are in `folder`. The counts are in `tally`, also when it stops early.
///
/// # Errors
/// [`Stopped`]; facts with a receipt are recorded.
pub fn take_in<L: Listener>(
    access: &mut NodeAccess,
    source: Source,
    folder: &Path,
    listener: &mut L,
    tally: &mut Tally,
) -> Result<(), Stopped<L::Stop>> {
    let (device, pictures) = access.with(|node| (node.device(), node.pictures()))?;
    let ahead = Ahead::new();
    let filled = ahead.clone();
    let reader = std::thread::spawn(move || read(source, &device, &filled));
    let mut intake = Intake {
        access,
        folder,
        pictures,
        listener,
        tally,
        batch: Vec::new(),
        bytes: 0,
        jobs: NamedJobs::default(),
    };
    let outcome = intake.take_all(&ahead);
    ahead.close();
    if outcome.is_ok() && reader.join().is_err() {
        return Err(Stopped::Source("reading ended abruptly".into()));
    }
    outcome
}

/// The reading thread. Where a line may be half written it holds each line back until the next line or a certain end shows that
/// it is complete.
fn read(source: Source, device: &DeviceKey, ahead: &Ahead<Item>) {
    let Source {
        mut reader,
        format,
        is_whole,
    } = source;
    let _finish = ahead.finish_at_the_end();
    let mut held: Option<InputLine> = None;
    let hold = is_whole.is_some();
    let mut sink = |line: InputLine| {
        let line = if hold { held.replace(line) } else { Some(line) };
        match line.map(|line| pass_on(line, device, ahead)) {
            Some(false) => Err(std::io::Error::from(std::io::ErrorKind::BrokenPipe)),
            _ => Ok(()),
        }
    };
    let outcome = input::read_lines(&mut reader, format, &mut sink);
    let whole = is_whole.is_none_or(|is_whole| is_whole());
    match outcome {
        Err(e) => drop(ahead.push(Item::Failed(e.to_string()), 0)),
        Ok(()) if !whole => drop(ahead.push(Item::NotWhole, 0)),
        Ok(()) => drop(held.map(|line| pass_on(line, device, ahead))),
    }
}

/// Parses a line and queues it. `false`: the queue is closed, because the committing side has failed; it reports its error itself.
fn pass_on(mut line: InputLine, device: &DeviceKey, ahead: &Ahead<Item>) -> bool {
    let bytes = line.bytes + line.text.len();
    let object = std::mem::replace(&mut line.object, Err(String::new()));
    let item = match object.and_then(|map| Fact::from_map(device, map).map_err(|e| e.to_string())) {
        Ok(fact) if *fact.kind() == Kind::Withdraw => Item::Withdrawal(line, fact),
        Ok(fact) => Item::Fact(line.number, fact),
        Err(reason) => Item::Rejected(line, reason),
    };
    ahead.push(item, bytes)
}

struct Intake<'a, L> {
    access: &'a mut NodeAccess,
    folder: &'a Path,
    pictures: Pictures,
    listener: &'a mut L,
    tally: &'a mut Tally,
    batch: Vec<(u64, Fact)>,
    bytes: usize,
    jobs: NamedJobs,
}

impl<L: Listener> Intake<'_, L> {
    fn take_all(&mut self, ahead: &Ahead<Item>) -> Result<(), Stopped<L::Stop>> {
        loop {
            let item = match ahead.try_next() {
                Some(item) => Some(item),
                None => {
                    self.commit()?;
                    ahead.next()
                }
            };
            let Some((item, bytes)) = item else {
                self.warn_of_unknown_jobs();
                return Ok(());
            };
            self.take(item, bytes)?;
            if self.batch.len() >= BATCH_FACTS || self.bytes >= BATCH_BYTES {
                self.commit()?;
            }
        }
    }

    fn take(&mut self, item: Item, bytes: usize) -> Result<(), Stopped<L::Stop>> {
        match item {
            Item::Fact(number, mut fact) => {
                self.keep_picture(number, &mut fact)?;
                self.bytes += bytes;
                self.batch.push((number, fact));
                Ok(())
            }
            Item::Withdrawal(line, fact) => {
                // It may take back a fact that stands in the lines before it.
                self.commit()?;
                match self.access.with(|node| node.may_record(&fact))? {
                    Ok(()) => self.take(Item::Fact(line.number, fact), bytes),
                    Err(RecordError::Withdrawal(why)) => self.reject(&line, &why.to_string()),
                    Err(RecordError::Node(error)) => Err(error.into()),
                }
            }
            Item::Rejected(line, reason) => self.reject(&line, &reason),
            Item::Failed(why) => {
                self.commit()?;
                Err(Stopped::Source(why))
            }
            Item::NotWhole => {
                self.commit()?;
                Err(Stopped::NotYet("it is still being written".into()))
            }
        }
    }

    fn reject(&mut self, line: &InputLine, reason: &str) -> Result<(), Stopped<L::Stop>> {
        self.tally.rejected += 1;
        let told = self.listener.rejected(line.number, reason, &line.text);
        told.map_err(Stopped::Listener)
    }

    fn keep_picture(&mut self, number: u64, fact: &mut Fact) -> Result<(), Stopped<L::Stop>> {
        // A name that is no plain file name is an error here; `keep_beside` turns it into a warning below.
        let picture = file_beside(fact).ok().flatten();
        if let Some(picture) = &picture
            && let PictureAnswer::NotYet(why) = self.listener.picture(fact, picture)
        {
            self.commit()?;
            return Err(Stopped::NotYet(why));
        }
        match keep_beside(&self.pictures, fact, self.folder)? {
            Some(warning) => self.warn_unless_recorded(number, fact, &warning),
            None => Ok(()),
        }
    }

    /// No warning for a fact that was recorded before: it is not recorded again.
    fn warn_unless_recorded(&mut self, number: u64, fact: &Fact, warning: &str) -> Result<(), Stopped<L::Stop>> {
        let id = fact.id();
        if self.access.with(|node| node.recorded(&id))??.is_none() {
            self.listener.warned(number, warning);
        }
        Ok(())
    }

    /// A job may be opened by a later line, so this waits for the end of the source.
    fn warn_of_unknown_jobs(&mut self) {
        for (line, job) in self.jobs.take_unknown() {
            let warning = format!(
                "no job {job} was known here: what names it is recorded under that name; if it was a slip, record it again under the \
                 right one"
            );
            self.listener.warned(line, &warning);
        }
    }

    /// An unlink of what nobody is known to have linked is taken: somebody else may have.
    fn warn_of_unlinks(&mut self, numbers: &[u64], receipts: &[Receipt]) -> Result<(), Stopped<L::Stop>> {
        for (line, receipt) in numbers.iter().zip(receipts) {
            let fact = &receipt.fact;
            let (Kind::Unlink, Some(camera), Some(tracker)) = (fact.kind(), fact.text("camera"), fact.text("tracker"))
            else {
                continue;
            };
            if receipt.taken == RecordOutcome::Recorded
                && !self
                    .access
                    .with(|node| named_jobs::was_linked(node, &camera, &tracker))??
            {
                let warning =
                    format!("camera {camera} was never linked with tracker {tracker}, as far as is known here");
                self.listener.warned(*line, &warning);
            }
        }
        Ok(())
    }

    fn commit(&mut self) -> Result<(), Stopped<L::Stop>> {
        if self.batch.is_empty() {
            return Ok(());
        }
        self.bytes = 0;
        let (numbers, facts): (Vec<u64>, Vec<Fact>) = std::mem::take(&mut self.batch).into_iter().unzip();
        let jobs = &mut self.jobs;
        let named = numbers.iter().copied().zip(&facts);
        self.access.with(|node| jobs.note(node, named))??;
        let receipts = self.access.with(|node| node.record(facts))??;
        for receipt in &receipts {
            match receipt.taken {
                RecordOutcome::Recorded => self.tally.recorded += 1,
                RecordOutcome::Already => self.tally.already += 1,
            }
        }
        self.warn_of_unlinks(&numbers, &receipts)?;
        let numbered: Vec<(u64, Receipt)> = numbers.into_iter().zip(receipts).collect();
        self.listener.recorded(&numbered).map_err(Stopped::Listener)
    }
}
