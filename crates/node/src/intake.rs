//! Fact lines into the node: what `record` and the inbox have in common.
//!
//! A second thread reads and parses while this one commits, so a slow disk and a slow pipe do not wait for each other, and a
//! person at a pipe gets each receipt as soon as there is nothing more to read. What is read ahead is bounded in bytes. The
//! node is asked for one batch at a time, so that others get their turn in between.
//!
//! Deliberately absent: what is said about it. A [`Listener`] is told of each receipt, after its fact is durable, and of each
//! rejected line.

mod ahead;

use std::io::BufRead;
use std::path::Path;

use gladhand_facts::{DeviceKey, Fact};
use gladhand_store::Pictures;

use crate::access::NodeAccess;
use crate::error::NodeError;
use crate::handle::Closed;
use crate::input::{self, Format, InputLine};
use crate::picture::{file_beside, keep_beside};
use crate::record::{Receipt, Taken};
use ahead::Ahead;

/// How many facts share an fsync at most.
const BATCH_FACTS: usize = 2_048;
/// How many bytes of facts share an fsync at most; also what bounds the unit that a peer must take at once.
const BATCH_BYTES: usize = 4 << 20;

/// Why a source was not read to its end. What has a receipt is recorded.
#[derive(Debug)]
pub enum Stopped<E> {
    /// The source itself failed.
    Source(String),
    /// The node could not record. Nothing of that batch is.
    Node(NodeError),
    /// The node cannot be asked any more.
    Closed,
    /// The listener wanted no more.
    Listener(E),
    /// The source has to be read again later: it has changed, or a picture that it names is not there yet.
    NotYet(String),
}

impl<E> From<Closed> for Stopped<E> {
    fn from(_: Closed) -> Self {
        Self::Closed
    }
}

impl<E> From<NodeError> for Stopped<E> {
    fn from(error: NodeError) -> Self {
        Self::Node(error)
    }
}

/// What to do about a picture that a fact names.
pub enum PictureAnswer {
    /// Keep the file, if there is one.
    Keep,
    /// Come back to this fact, and all that follow it, later.
    NotYet(String),
}

/// Hears what becomes of each line.
pub trait Listener {
    /// Why the listener wants no more.
    type Stop;

    /// These facts are durable now; with the numbers of their lines.
    ///
    /// # Errors
    /// To end the reading.
    fn recorded(&mut self, receipts: &[(u64, Receipt)]) -> Result<(), Self::Stop>;

    /// This line is not taken, because of this.
    ///
    /// # Errors
    /// To end the reading.
    fn rejected(&mut self, line: u64, reason: &str, text: &str) -> Result<(), Self::Stop>;

    /// Something about the fact of this line, which is taken all the same.
    fn warned(&mut self, line: u64, warning: &str);

    /// The fact names the file `picture` beside it.
    fn picture(&mut self, _fact: &Fact, _picture: &str) -> PictureAnswer {
        PictureAnswer::Keep
    }
}

/// How many lines of a source became what.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Tally {
    /// New facts.
    pub recorded: u64,
    /// Facts that this device had recorded before.
    pub already: u64,
    /// Lines that are no facts.
    pub rejected: u64,
}

impl Tally {
    /// Adds another source's.
    pub fn add(&mut self, other: Self) {
        self.recorded += other.recorded;
        self.already += other.already;
        self.rejected += other.rejected;
    }
}

/// Where lines come from.
pub struct Source {
    /// The bytes.
    pub reader: Box<dyn BufRead + Send>,
    /// How they are written, if that is known.
    pub format: Option<Format>,
    /// Asked at the end, before the last line is believed: is it really the end? Only where a line may be half written.
    pub is_whole: Option<Box<dyn FnOnce() -> bool + Send>>,
}

/// From the reading thread. The bytes are about what it takes in memory.
enum Item {
    Fact(u64, Fact),
    Rejected(InputLine, String),
    Failed(String),
    NotWhole,
}

/// Reads `source` to its end. Pictures lie in `folder`. What was counted is in `tally`, also when it ends early.
///
/// # Errors
/// [`Stopped`]; what has a receipt is recorded.
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
    };
    let outcome = intake.take_all(&ahead);
    ahead.close();
    if outcome.is_ok() && reader.join().is_err() {
        return Err(Stopped::Source("reading ended abruptly".into()));
    }
    outcome
}

/// The reading thread: parses, and holds one line back until the next one or a sure end shows that it is whole.
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
        match line.map(|line| hand_on(line, device, ahead)) {
            Some(false) => Err(std::io::Error::from(std::io::ErrorKind::BrokenPipe)),
            _ => Ok(()),
        }
    };
    let outcome = input::read_lines(&mut reader, format, &mut sink);
    let whole = is_whole.is_none_or(|is_whole| is_whole());
    match outcome {
        Err(e) => drop(ahead.push(Item::Failed(e.to_string()), 0)),
        Ok(()) if !whole => drop(ahead.push(Item::NotWhole, 0)),
        Ok(()) => drop(held.map(|line| hand_on(line, device, ahead))),
    }
}

/// `false`: nobody listens any more, because the other side has failed and says so itself.
fn hand_on(mut line: InputLine, device: &DeviceKey, ahead: &Ahead<Item>) -> bool {
    let bytes = line.bytes + line.text.len();
    let object = std::mem::replace(&mut line.object, Err(String::new()));
    let item = match object.and_then(|map| Fact::from_map(device, map).map_err(|e| e.to_string())) {
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
            let Some((item, bytes)) = item else { return Ok(()) };
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
            Item::Rejected(line, reason) => {
                self.tally.rejected += 1;
                let told = self.listener.rejected(line.number, &reason, &line.text);
                told.map_err(Stopped::Listener)
            }
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

    fn keep_picture(&mut self, number: u64, fact: &mut Fact) -> Result<(), Stopped<L::Stop>> {
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

    /// A fact that was recorded before is not recorded again, so there is nothing to warn of.
    fn warn_unless_recorded(&mut self, number: u64, fact: &Fact, warning: &str) -> Result<(), Stopped<L::Stop>> {
        let id = fact.id();
        if self.access.with(|node| node.recorded(&id))??.is_none() {
            self.listener.warned(number, warning);
        }
        Ok(())
    }

    fn commit(&mut self) -> Result<(), Stopped<L::Stop>> {
        if self.batch.is_empty() {
            return Ok(());
        }
        self.bytes = 0;
        let (numbers, facts): (Vec<u64>, Vec<Fact>) = std::mem::take(&mut self.batch).into_iter().unzip();
        let receipts = self.access.with(|node| node.record(facts))??;
        for receipt in &receipts {
            match receipt.taken {
                Taken::Recorded => self.tally.recorded += 1,
                Taken::Already => self.tally.already += 1,
            }
        }
        let numbered: Vec<(u64, Receipt)> = numbers.into_iter().zip(receipts).collect();
        self.listener.recorded(&numbered).map_err(Stopped::Listener)
    }
}
