//! Writing and reading bundles, and admitting frames: the part that bundles and sessions share.
//!
//! Deliberately not here: the files' bytes ([`crate::bundle_file`]), and what the gate admits (`logbook::book`).
//!
//! Invariants: every frame goes through the gate; what was admitted is durable before anything is returned; a fork is recorded
//! and its frame kept as evidence.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use gladhand_facts::{LogId, VersionVector};
use gladhand_logbook::bundle::{self, Header, Kind, Written};
use gladhand_logbook::frame::{Frame, Source};
use gladhand_logbook::governance::Record as Rule;
use gladhand_logbook::plan::{self, Group, Stretch};
use gladhand_logbook::{Entry, GateError, NewRecord, entry};
use gladhand_store::PictureHash;

use crate::bundle_file::{BundleReader, HashingWriter, io_error};
use crate::catch_up::entry_facts;
use crate::error::{NodeError, ReadBundleError};
use crate::node::Node;
use crate::picture::named;
use crate::progress::Progress;

/// What was written into a bundle.
#[derive(Debug, Clone, Default)]
pub struct BundleWritten {
    /// Entries written.
    pub entries: u64,
    /// Pictures written.
    pub pictures: u64,
    /// Size in bytes.
    pub bytes: u64,
}

/// What was read from a bundle.
#[derive(Debug, Default)]
pub struct BundleRead {
    /// New entries, now durable here.
    pub entries: u64,
    /// Entries that this node held already.
    pub known: u64,
    /// New pictures.
    pub pictures: u64,
    /// Devices that this depot has just enrolled.
    pub enrolled: Vec<String>,
    /// What was refused because of who wrote it.
    pub refused: Vec<String>,
    /// What was damaged, or does not continue what is held.
    pub damaged: Vec<String>,
    /// Whether the bundle has its signed end.
    pub complete: bool,
    /// How many of `entries` waited here behind a gap that this has closed.
    pub(crate) waited: u64,
    /// Whether something was refused that may be admitted once the rest of the bundle is known.
    may_pass_later: bool,
}

/// Reads the entries and checkpoints of a frame from the journal.
///
/// The trait gives no errors: what cannot be read is `None`, and gathering the frame fails with the name of what is missing.
pub(crate) struct JournalSource<'n>(pub(crate) &'n Node);

impl Source for JournalSource<'_> {
    fn entries(&self, s: &Stretch) -> Option<Vec<Vec<u8>>> {
        let read: Result<Vec<_>, _> = self
            .0
            .journal
            .entries(&s.log, s.from, s.to)
            .map(|r| r.map(|(_, b)| b))
            .collect();
        read.ok().filter(|entries| entries.len() as u64 == s.to - s.from + 1)
    }

    fn checkpoint(&self, log: &LogId, seq: u64) -> Option<[u8; 64]> {
        self.0.journal.read_checkpoint(log, seq).ok().flatten()?.try_into().ok()
    }
}

impl Node {
    /// What a receiver at `theirs` lacks, in groups.
    pub fn plan_for(&self, theirs: &VersionVector) -> Vec<Group> {
        // An entry that cannot be read counts 0 bytes here; `frame` reports it.
        let size = |log: &LogId, from, to| {
            let lengths = self
                .journal
                .entries(log, from, to)
                .map(|r| r.map_or(0, |(_, b)| b.len() as u64));
            lengths.sum()
        };
        plan::plan(&self.book, theirs, &size, &|_| true)
    }

    /// The bytes of one group's frame.
    ///
    /// # Errors
    /// When an entry cannot be read.
    pub fn frame(&self, group: &Group) -> Result<Frame, NodeError> {
        Ok(Frame::gather(group, &JournalSource(self))?)
    }

    /// Writes what a receiver at `since` lacks into `file`: first into a temporary file, which is then renamed.
    ///
    /// # Errors
    /// [`NodeError`]; `file` is never left half written.
    pub fn write_bundle(
        &self,
        file: &Path,
        since: &VersionVector,
        progress: &dyn Progress,
    ) -> Result<BundleWritten, NodeError> {
        let mut name = file.file_name().unwrap_or_default().to_owned();
        name.push(".part");
        let temporary = file.with_file_name(name);
        let written = self.write_parts(&temporary, since, progress);
        let placed = written.and_then(|done| {
            std::fs::rename(&temporary, file)
                .map(|()| done)
                .map_err(|e| io_error("cannot write", file, e))
        });
        if placed.is_err() {
            std::fs::remove_file(&temporary).ok();
        }
        placed
    }

    fn write_parts(
        &self,
        file: &Path,
        since: &VersionVector,
        progress: &dyn Progress,
    ) -> Result<BundleWritten, NodeError> {
        let groups = self.plan_for(since);
        let mut upto = since.clone();
        groups.iter().for_each(|group| group.advance(&mut upto));
        let total: u64 = groups.iter().map(Group::entries).sum();
        let mut out = HashingWriter::create(file)?;
        out.put(bundle::MAGIC)?;
        out.put(&self.header(since, upto, groups.len() as u64, total).encode()?)?;
        let mut done = BundleWritten {
            entries: total,
            ..BundleWritten::default()
        };
        let mut pictures = BTreeSet::new();
        let mut written = 0;
        for group in &groups {
            let frame = self.frame(group)?;
            out.put(&bundle::part(Kind::Frame, &frame.encode()?)?)?;
            pictures.extend(self.pictures_named(group)?);
            written += group.entries();
            progress.tick("writing the bundle", written, total);
        }
        done.pictures = self.write_pictures(&mut out, pictures)?;
        let (context, message) = bundle::end_message(&out.hash());
        let signature = self.book.sign(context, &message).ok_or(NodeError::WritesNoLog)?;
        out.put(&bundle::part(Kind::End, &signature)?)?;
        done.bytes = out.finish()?;
        Ok(done)
    }

    /// Writes those of the pictures that are here. Returns how many.
    fn write_pictures(&self, out: &mut HashingWriter, wanted: BTreeSet<PictureHash>) -> Result<u64, NodeError> {
        let mut count = 0;
        for hash in wanted {
            // A picture that is missing or damaged here is left out: the facts must travel all the same.
            if let Ok(Some(bytes)) = self.pictures().get(&hash) {
                let mut body = hash.0.to_vec();
                body.extend_from_slice(&bytes);
                out.put(&bundle::part(Kind::Picture, &body)?)?;
                count += 1;
            }
        }
        Ok(count)
    }

    fn header(&self, since: &VersionVector, upto: VersionVector, frames: u64, entries: u64) -> Header {
        let roster = self.book.roster();
        let mut devices: Vec<_> = upto.beyond(since).iter().map(|(log, _)| log.device).collect();
        devices.dedup();
        let credentials = devices.iter().filter_map(|d| roster.credential(d).cloned()).collect();
        Header {
            writer: self.device(),
            root: roster.root(),
            since: since.clone(),
            upto,
            frames,
            entries,
            credentials,
            written: self.book.own_log().map(|log| Written {
                log,
                head: self.book.head(&log).0,
                at_us: self.environment.now_us(),
            }),
        }
    }

    fn pictures_named(&self, group: &Group) -> Result<Vec<PictureHash>, NodeError> {
        let mut found = Vec::new();
        for stretch in &group.stretches {
            for read in self.journal.entries(&stretch.log, stretch.from, stretch.to) {
                let (_, bytes) = read?;
                // An entry that cannot be read names no pictures.
                let facts = Entry::decode(&bytes)
                    .ok()
                    .and_then(|e| entry_facts(&stretch.log, &e.body).ok());
                found.extend(facts.unwrap_or_default().iter().filter_map(named));
            }
        }
        Ok(found)
    }

    /// Reads a bundle. What was admitted is durable on return, also when the rest is damaged or refused.
    ///
    /// # Errors
    /// When the file is no bundle, belongs to another depot, or the disk refuses.
    pub fn read_bundle(&mut self, file: &Path, progress: &dyn Progress) -> Result<BundleRead, ReadBundleError> {
        let mut done = self.read_once(file, progress)?;
        // A record later in the bundle (an enrolment, say) may admit what was refused before it, so the bundle is read again as
        // long as that helps, at most three times.
        for _ in 0..3 {
            let may_help = done.entries > 0 && done.may_pass_later;
            if !may_help {
                break;
            }
            let mut again = self.read_once(file, progress)?;
            let news = again.entries;
            again.entries += done.entries;
            again.known = done.known;
            again.pictures += done.pictures;
            again.enrolled.splice(..0, std::mem::take(&mut done.enrolled));
            done = again;
            if news == 0 {
                break;
            }
        }
        Ok(done)
    }

    fn read_once(&mut self, file: &Path, progress: &dyn Progress) -> Result<BundleRead, ReadBundleError> {
        let mut parts = BundleReader::open(file)?;
        let mut done = BundleRead::default();
        let header = parts.header()?;
        self.check_root(file, &header)?;
        done.refused.extend(self.learn_credentials(header.credentials.clone()));
        loop {
            let part = match parts.next() {
                Ok(Some(part)) => part,
                Ok(None) => break,
                Err(e) => {
                    done.damaged.push(e.to_string());
                    break;
                }
            };
            let offset = part.offset;
            match (part.kind, part.body) {
                (_, Err(why)) => done.damaged.push(format!("at byte {offset}: {why}")),
                (Kind::Frame, Ok(body)) => self.admit_frame(&body, offset, &mut done)?,
                (Kind::Picture, Ok(body)) => self.store_picture(&body, offset, &mut done)?,
                (Kind::End, Ok(body)) => {
                    done.complete = bundle::end_is_genuine(&header.writer, &part.before, &body);
                }
                (Kind::Header, Ok(_)) => done.damaged.push(format!("at byte {offset}: a second header")),
            }
            progress.tick("reading the bundle", done.entries + done.known, header.entries);
        }
        if !done.complete && done.damaged.is_empty() {
            done.damaged
                .push("the bundle is cut off: its signed end is missing or does not fit".into());
        }
        if done.complete {
            self.note_bundle_read(&header);
        }
        self.catch_up(progress)?;
        done.enrolled = self.enrol_newcomers()?;
        Ok(done)
    }

    fn check_root(&self, file: &Path, header: &Header) -> Result<(), ReadBundleError> {
        let (file, writer) = (file.to_path_buf(), header.writer);
        match (self.book.roster().root(), header.root) {
            (None, _) => Err(ReadBundleError::NotJoined { file }),
            (Some(_), None) => Err(ReadBundleError::WriterNotJoined { file, writer }),
            (Some(own), Some(theirs)) if own != theirs => Err(ReadBundleError::OtherDepot {
                file,
                writer,
                theirs,
                own,
            }),
            _ => Ok(()),
        }
    }

    fn admit_frame(&mut self, body: &[u8], offset: u64, done: &mut BundleRead) -> Result<(), NodeError> {
        let frame = match Frame::decode(body) {
            Ok(frame) => frame,
            Err(e) => {
                done.damaged.push(format!("at byte {offset}: {e}"));
                return Ok(());
            }
        };
        for refusal in self.take_in(&frame, done)? {
            self.note_refusal(refusal, body, done)?;
        }
        Ok(())
    }

    /// Passes a frame through the gate and makes what is admitted durable. Returns the refusals.
    ///
    /// What was admitted may enrol the device of what was refused (both may be in one frame), so the rest goes through the gate
    /// again as long as that helps.
    pub(crate) fn take_in(&mut self, frame: &Frame, done: &mut BundleRead) -> Result<Vec<GateError>, NodeError> {
        let own = self.book.own_log();
        let mut first = true;
        loop {
            // `None`: the entry is not held or cannot be read, so the gate has nothing to compare with.
            let hash_of = |log: &LogId, seq: u64| {
                let bytes = self.journal.read_entry(log, seq).ok().flatten()?;
                Some(entry::hash(log, &bytes))
            };
            let incoming = self.book.admit(frame, &hash_of);
            let grows = |log: &LogId| {
                let mut records = incoming.new.records.iter();
                records.any(|r| matches!(r, NewRecord::Entry { log: grown, .. } if grown == log))
            };
            done.entries += incoming.entries;
            if first {
                done.known += incoming.known;
            }
            if let Some(own) = own.filter(grows) {
                let at = self.book.head(&own).0;
                self.must_start_incarnation(at, "a peer held more of this device's log than this home");
            }
            self.commit(incoming.new)?;
            let waited = self.let_in_waiting()?;
            done.waited += waited;
            done.entries += waited;
            if incoming.refused.is_empty() || incoming.entries == 0 {
                return Ok(incoming.refused);
            }
            first = false;
        }
    }

    /// Notes a refusal for the report. A fork is also recorded, and kept as evidence.
    pub(crate) fn note_refusal(
        &mut self,
        refusal: GateError,
        frame: &[u8],
        done: &mut BundleRead,
    ) -> Result<(), NodeError> {
        let words = refusal.to_string();
        done.may_pass_later |= !matches!(refusal, GateError::Forked { .. } | GateError::Entry { .. });
        let list = if matches!(refusal, GateError::Refused(_)) {
            &mut done.refused
        } else {
            &mut done.damaged
        };
        if !list.contains(&words) {
            list.push(words);
        }
        if let GateError::Forked { log, seq, ours, theirs } = refusal {
            self.keep_evidence(&format!("fork-{}-{seq}.frame", log.device.short()), frame)?;
            if Some(log) == self.book.own_log() {
                self.must_start_incarnation(seq.saturating_sub(1), "a clone of this home writes the same log");
            }
            let known = self.book.roster().forks().iter().any(|f| f.log == log && f.seq == seq);
            if !known {
                let mut hashes = [ours, theirs].map(|h| data_encoding::HEXLOWER.encode(&h.0));
                hashes.sort();
                self.govern(vec![Rule::Forked {
                    log: log.to_string(),
                    seq,
                    hashes,
                }])?;
            }
        }
        Ok(())
    }

    /// Keeps bytes of a refused frame in the evidence folder.
    pub(crate) fn keep_evidence(&self, name: &str, bytes: &[u8]) -> Result<PathBuf, NodeError> {
        let file = self.home.layout().evidence().join(name);
        std::fs::write(&file, bytes).map_err(|e| io_error("cannot keep evidence in", &file, e))?;
        Ok(file)
    }
}
