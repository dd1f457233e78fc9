//! Opening a journal: reads every segment, repairs what is damaged, and passes on what is good.

use std::collections::{BTreeMap, BTreeSet};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use gladhand_facts::LogId;

use crate::damage::{Damage, DamageKind};
use crate::disk::{self, Disk, RealDisk};
use crate::found::{Expected, Found, JournalSalt};
use crate::frame::{HEAD_LEN, Records, WholeBatch};
use crate::journal::{Journal, Options, Pending, SegmentInfo};
use crate::mend::{self, Bit};
use crate::offsets::Admission;
use crate::record::{Loc, Position, Record};
use crate::repair::{self, Rewritten};
use crate::scan::{self, Span};
use crate::segment::{self, HEADER_LEN, Header, HeaderState, READ_CAP, VERSION};

mod error;
mod losses;

pub use error::OpenError;
use losses::Missed;

type Visitor<'v> = &'v mut dyn FnMut(&Record<'_>, Position);

impl Journal {
    /// Opens the journal in `dir` on the machine's disk, or begins one there.
    ///
    /// `visit` is called once for each good record in the order of arrival, with the end of its batch.
    ///
    /// # Errors
    /// [`OpenError`].
    pub fn open(dir: &Path, evidence_dir: &Path, visit: Visitor<'_>) -> Result<(Self, Vec<Damage>), OpenError> {
        Self::open_on(Arc::new(RealDisk), dir, evidence_dir, Options::default(), visit)
    }

    /// As [`Journal::open`], on any disk and with any options.
    ///
    /// # Errors
    /// [`OpenError`].
    pub fn open_on(
        disk: Arc<dyn Disk>,
        dir: &Path,
        evidence_dir: &Path,
        options: Options,
        visit: Visitor<'_>,
    ) -> Result<(Self, Vec<Damage>), OpenError> {
        let journal = Self::nothing_yet(disk, dir, evidence_dir, options);
        let io = |source| OpenError::Io {
            file: dir.to_path_buf(),
            source,
        };
        journal.disk.create_dir(dir).map_err(io)?;
        let numbers = segment_numbers(&journal).map_err(io)?;
        let mut opening = Opening {
            journal,
            visit,
            damage: Vec::new(),
            missed: BTreeMap::new(),
            buffer: Vec::new(),
        };
        if let Some((last, finished)) = numbers.split_last() {
            let salt = opening.journal_salt(&numbers).map_err(io)?;
            for number in finished {
                opening.take_in(*number, false, salt)?;
            }
            opening.take_in(*last, true, salt)?;
        }
        opening.heal_tail();
        opening.name_losses();
        Ok((opening.journal, opening.damage))
    }
}

/// The numbers of the segment files, rising. Removes what an interrupted repair left.
fn segment_numbers(journal: &Journal) -> io::Result<Vec<u32>> {
    let names = journal.disk.names(&journal.dir)?;
    for name in names.iter().filter(|name| name.ends_with(".seg.new")) {
        // The segment that it was to replace is still there. If it cannot be removed now, the next repair removes it.
        journal.disk.remove(&journal.dir.join(name)).ok();
    }
    let numbers: BTreeSet<u32> = names.iter().filter_map(|name| segment::number_of(name)).collect();
    Ok(numbers.into_iter().collect())
}

struct Opening<'v> {
    journal: Journal,
    visit: Visitor<'v>,
    damage: Vec<Damage>,
    missed: BTreeMap<LogId, Missed>,
    /// Reused for all segments: the allocator may keep freed buffers of this size.
    buffer: Vec<u8>,
}

impl Opening<'_> {
    /// The salt of this journal by the first header that is whole.
    fn journal_salt(&self, numbers: &[u32]) -> io::Result<JournalSalt> {
        let known = numbers.iter().find_map(|number| {
            // One that cannot be read is reported when it is taken in.
            let file = self.journal.file(*number).ok()?;
            let bytes = disk::read_up_to(file.as_ref(), 0, HEADER_LEN).ok()?;
            match Header::read(&bytes) {
                HeaderState::Good(header) => Some(header.salt),
                _ => None,
            }
        });
        Ok(match known {
            Some(salt) => JournalSalt::Known(salt),
            None => JournalSalt::Lost {
                fresh: self.journal.disk.salt()?,
            },
        })
    }

    fn take_in(&mut self, number: u32, is_last: bool, salt: JournalSalt) -> Result<(), OpenError> {
        let previous = self.journal.segments.last().map_or(0, |info| info.header.number);
        let expected = Expected {
            number,
            previous,
            is_last,
            salt,
        };
        let path = self.journal.segment_path(number);
        let mut bytes = std::mem::take(&mut self.buffer);
        let taken = match self.read_into(number, &mut bytes) {
            Ok(file_len) => self.take_bytes(&mut bytes, file_len, expected),
            Err(source) => Err(OpenError::Io { file: path, source }),
        };
        self.buffer = bytes;
        taken
    }

    /// Takes in what was read of a segment, with single wrong bits put right.
    fn take_bytes(&mut self, bytes: &mut [u8], file_len: u64, expected: Expected) -> Result<(), OpenError> {
        let too_new = |found| OpenError::TooNew {
            file: self.journal.segment_path(expected.number),
            found,
            known: VERSION,
        };
        let found = Found::judge(bytes, file_len, expected).map_err(too_new)?;
        if found.is_clean() {
            return self.take_found(&found, expected.previous, &[]);
        }
        let mended = mend::segment(bytes, file_len, expected);
        let found = Found::judge(bytes, file_len, expected).map_err(too_new)?;
        self.take_found(&found, expected.previous, &mended)
    }

    /// `mended` are the bits that are otherwise in the file.
    fn take_found(&mut self, found: &Found<'_>, previous: u32, mended: &[Bit]) -> Result<(), OpenError> {
        if found.misses_segments(previous) {
            self.put_stub(&found.header, previous)?;
        }
        if !mended.is_empty() {
            return self.rewrite(found, mended);
        }
        if found.is_unfinished_start() {
            self.set_aside_unfinished_start(found);
            return Ok(());
        }
        if found.is_clean() {
            self.walk_in_place(found, found.bytes.len());
        } else if found.only_tail_is_bad() {
            self.cut_tail(found);
        } else {
            self.rewrite(found, &[])?;
        }
        Ok(())
    }

    /// Reads a segment and returns the length of its file, which may be more than is read.
    fn read_into(&self, number: u32, bytes: &mut Vec<u8>) -> io::Result<u64> {
        let file = self.journal.file(number)?;
        let file_len = file.len()?;
        let wanted = usize::try_from(file_len).map_or(READ_CAP, |len| len.min(READ_CAP));
        disk::read_around_into(file.as_ref(), 0, wanted, bytes)?;
        Ok(file_len)
    }

    /// Puts an empty segment where others are gone, and names the loss.
    fn put_stub(&mut self, next: &Header, previous: u32) -> Result<(), OpenError> {
        let stub = repair::stub(next.previous, previous, next.salt);
        let file = self.journal.segment_path(next.previous);
        repair::install(self.journal.disk.as_ref(), &self.journal.dir, &stub)
            .map_err(|source| OpenError::Repair { file, source })?;
        for gone in previous + 1..=next.previous {
            // A number far ahead is one loss, not millions.
            if gone == previous + 1 || gone == next.previous {
                self.report(gone, DamageKind::Missing, 0, 0);
            }
        }
        self.walk(stub.header, [], true, stub.bytes.len());
        Ok(())
    }

    /// Remembers damage; losses are named at the end, when it is known what came later.
    fn report(&mut self, number: u32, kind: DamageKind, offset: u64, bytes: u64) -> usize {
        self.damage.push(Damage {
            kind,
            file: self.journal.segment_path(number),
            segment: number,
            offset,
            bytes,
            evidence: None,
            lost: Vec::new(),
        });
        self.damage.len() - 1
    }

    fn report_bad(&mut self, number: u32, kind: DamageKind, bad: Span<'_>) {
        let damage = self.report(number, kind, bad.at as u64, bad.bytes.len() as u64);
        let hints = scan::hints(bad.bytes);
        for (log, seq) in hints.records {
            self.miss(damage, log, seq, hints.complete);
        }
    }

    /// A file that was begun and holds nothing whole. Empty, it is no damage: nothing was in it.
    fn set_aside_unfinished_start(&mut self, found: &Found<'_>) {
        let keep_evidence = !found.bytes.is_empty();
        if keep_evidence {
            let all = Span {
                at: 0,
                bytes: found.bytes,
            };
            self.report_bad(found.number, DamageKind::TornTail, all);
        }
        self.journal.pending.push(Pending::Remove {
            number: found.number,
            keep_evidence,
        });
    }

    fn cut_tail(&mut self, found: &Found<'_>) {
        for tail in &found.survey.bad {
            self.report_bad(found.number, DamageKind::TornTail, *tail);
        }
        let len = self.walk_in_place(found, found.good_len());
        self.journal.pending.push(Pending::Cut {
            number: found.number,
            len,
            keep_evidence: true,
        });
    }

    fn rewrite(&mut self, found: &Found<'_>, mended: &[Bit]) -> Result<(), OpenError> {
        let first = self.damage.len();
        self.report_found(found);
        for bit in mended {
            self.report(found.number, DamageKind::Repaired, bit.at as u64, 1);
        }
        let repaired = if found.is_clean() {
            repair::as_it_was(found)
        } else {
            repair::rewrite(found.bytes, &found.survey.batches, found.header, !found.is_last)
        };
        let evidence = self.replace(found, &repaired).map_err(|source| {
            let file = self.journal.segment_path(found.number);
            OpenError::Repair { file, source }
        })?;
        for damage in self.damage.iter_mut().skip(first) {
            damage.evidence = Some(evidence.clone());
        }
        let batches = found.survey.batches.iter().map(|placed| placed.batch);
        let sealed = !found.is_last || found.is_clean() && found.survey.sealed;
        let moved = repaired.starts.iter().copied().zip(batches);
        self.walk(repaired.header, moved, sealed, repaired.bytes.len());
        Ok(())
    }

    /// Names what is wrong with a segment besides single bits.
    fn report_found(&mut self, found: &Found<'_>) {
        let in_header = |span: &Span<'_>| !found.header_good && span.at == 0;
        if !found.header_good && !found.survey.bad.iter().any(in_header) {
            self.report(found.number, DamageKind::Header, 0, 0);
        }
        for span in &found.survey.bad {
            let kind = if in_header(span) {
                DamageKind::Header
            } else {
                DamageKind::Unreadable
            };
            self.report_bad(found.number, kind, *span);
        }
        let end = found.bytes.len() as u64;
        if found.is_cut_short() {
            self.report(found.number, DamageKind::CutShort, end, 0);
        }
        if found.is_oversize() {
            self.report(found.number, DamageKind::Unreadable, end, found.file_len - end);
        }
    }

    fn replace(&self, found: &Found<'_>, repaired: &Rewritten) -> io::Result<PathBuf> {
        let journal = &self.journal;
        let file = journal.file(found.number)?;
        let name = segment::file_name(found.number);
        let evidence = repair::keep(journal.disk.as_ref(), &journal.evidence_dir, &name, file.as_ref(), 0)?;
        repair::install(journal.disk.as_ref(), &journal.dir, repaired)?;
        journal.forget_file(found.number);
        Ok(evidence)
    }

    /// Walks through a segment that stays as it is up to `len`.
    fn walk_in_place(&mut self, found: &Found<'_>, len: usize) -> u32 {
        let batches = found.survey.batches.iter().map(|placed| (placed.at, placed.batch));
        self.walk(found.header, batches, found.survey.sealed, len)
    }

    /// Counts the records of a segment, and passes them to the visitor. Each batch comes with the place where it begins.
    /// Returns the length of the segment.
    fn walk<'b>(
        &mut self,
        header: Header,
        batches: impl IntoIterator<Item = (usize, WholeBatch<'b>)>,
        sealed: bool,
        len: usize,
    ) -> u32 {
        for (at, batch) in batches {
            let end = Position {
                segment: header.number,
                offset: (at + batch.bytes.len()) as u32,
            };
            for (start, record) in Records::of(batch.payload) {
                let loc = Loc::new(header.number, (at + HEAD_LEN + start) as u32);
                self.take(&record, loc, end);
            }
            self.journal.end = end;
        }
        // A segment is never longer than READ_CAP, far below 4 GiB.
        let len = len as u32;
        self.journal.segments.push(SegmentInfo { header, len, sealed });
        len
    }

    fn take(&mut self, record: &Record<'_>, loc: Loc, end: Position) {
        match self.journal.offsets.admit(record, loc) {
            Admission::Follows => (self.visit)(record, end),
            Admission::Known => {}
            // Without damage in this open the gap is an old one, and was reported when it came about.
            Admission::Gap => {
                if let Some(damage) = self.damage.len().checked_sub(1) {
                    self.miss(damage, record.log, record.seq, true);
                }
            }
        }
    }

    /// Tries to clear the tail away now. A full disk must not keep a home from being read, so a failure is
    /// left for the next append to try again.
    fn heal_tail(&mut self) {
        if let Ok(Some(evidence)) = self.journal.heal()
            && let Some(damage) = self
                .damage
                .last_mut()
                .filter(|damage| damage.kind == DamageKind::TornTail)
        {
            damage.evidence = Some(evidence);
        }
    }
}
