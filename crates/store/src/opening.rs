//! Opening a journal: reads every segment, repairs what is damaged, hands out what is good.

use std::collections::{BTreeMap, BTreeSet};
use std::io;
use std::path::PathBuf;

use gladhand_facts::LogId;

use crate::damage::{Damage, DamageKind, Lost};
use crate::disk;
use crate::found::{Expected, Found};
use crate::frame::{HEAD_LEN, Records};
use crate::heads::Admission;
use crate::journal::{Journal, OpenError, Pending, SegmentInfo};
use crate::record::{Loc, Position, Record};
use crate::repair::{self, Rewritten};
use crate::scan::{self, Span};
use crate::segment::{self, HEADER_LEN, Header, HeaderState, READ_CAP, VERSION};

type Visitor<'v> = &'v mut dyn FnMut(&Record<'_>, Position);

pub(crate) fn open(journal: Journal, visit: Visitor<'_>) -> Result<(Journal, Vec<Damage>), OpenError> {
    let dir = journal.dir.clone();
    let io = |source| OpenError::Io {
        file: dir.clone(),
        source,
    };
    journal.disk.create_dir(&journal.dir).map_err(io)?;
    let numbers = segment_numbers(&journal).map_err(io)?;
    let mut opening = Opening {
        journal,
        visit,
        damage: Vec::new(),
        missed: BTreeMap::new(),
        buffer: Vec::new(),
    };
    let salt = opening.any_salt(&numbers);
    for (i, number) in numbers.iter().enumerate() {
        opening.take_in(*number, i + 1 == numbers.len(), salt)?;
    }
    opening.heal_tail();
    opening.name_losses();
    Ok((opening.journal, opening.damage))
}

/// The numbers of the segment files, rising. Clears away what a repair left half-done.
fn segment_numbers(journal: &Journal) -> io::Result<Vec<u32>> {
    let names = journal.disk.names(&journal.dir)?;
    for name in names.iter().filter(|name| name.ends_with(".seg.new")) {
        // Its source is still in place. If it cannot go now, the next repair takes it away.
        journal.disk.remove(&journal.dir.join(name)).ok();
    }
    let numbers: BTreeSet<u32> = names.iter().filter_map(|name| segment::number_of(name)).collect();
    Ok(numbers.into_iter().collect())
}

/// What was seen of a log beyond its head, and which damage it is put down to.
struct Missed {
    damage: usize,
    last: u64,
    certain: bool,
}

struct Opening<'v> {
    journal: Journal,
    visit: Visitor<'v>,
    damage: Vec<Damage>,
    missed: BTreeMap<LogId, Missed>,
    /// One for all segments: a freed buffer of this size need not go back to the system.
    buffer: Vec<u8>,
}

impl Opening<'_> {
    /// The salt of this journal by the first header that is whole.
    fn any_salt(&self, numbers: &[u32]) -> Option<u64> {
        numbers.iter().find_map(|number| {
            let file = self.journal.file(*number).ok()?;
            let bytes = disk::read_up_to(file.as_ref(), 0, HEADER_LEN).ok()?;
            match Header::read(&bytes) {
                HeaderState::Good(header) => Some(header.salt),
                _ => None,
            }
        })
    }

    fn take_in(&mut self, number: u32, is_last: bool, salt: Option<u64>) -> Result<(), OpenError> {
        let previous = self.journal.segments.last().map_or(0, |info| info.header.number);
        let found = self.read(Expected {
            number,
            previous,
            is_last,
            salt,
        })?;
        let taken = self.take_found(&found, previous);
        self.buffer = found.bytes;
        taken
    }

    fn take_found(&mut self, found: &Found, previous: u32) -> Result<(), OpenError> {
        if found.misses_segments(previous) {
            self.stand_in(&found.header, previous)?;
        }
        if found.is_unborn() {
            self.set_aside_unborn(found);
            return Ok(());
        }
        if found.is_clean() {
            let len = found.bytes.len();
            self.walk(
                found.header,
                &found.bytes,
                &found.survey.batches,
                found.survey.sealed,
                len,
            );
        } else if found.only_tail_is_bad() {
            self.cut_tail(found);
        } else {
            self.rewrite(found)?;
        }
        Ok(())
    }

    fn read(&mut self, expected: Expected) -> Result<Found, OpenError> {
        let path = self.journal.segment_path(expected.number);
        let mut bytes = std::mem::take(&mut self.buffer);
        let file_len = self
            .read_into(expected.number, &mut bytes)
            .map_err(|source| OpenError::Io {
                file: path.clone(),
                source,
            })?;
        Found::judge(bytes, file_len, expected).map_err(|found| OpenError::TooNew {
            file: path,
            found,
            known: VERSION,
        })
    }

    /// Reads a segment and returns the length of its file, which may be more than is read.
    fn read_into(&self, number: u32, bytes: &mut Vec<u8>) -> io::Result<u64> {
        let file = self.journal.file(number)?;
        let file_len = file.len()?;
        let wanted = usize::try_from(file_len.min(READ_CAP)).unwrap_or(usize::MAX);
        disk::read_around_into(file.as_ref(), 0, wanted, bytes)?;
        Ok(file_len)
    }

    /// Puts an empty segment where others are gone, and names the loss.
    fn stand_in(&mut self, next: &Header, previous: u32) -> Result<(), OpenError> {
        let stub = repair::stub(next.previous, previous, next.salt);
        let file = self.journal.segment_path(next.previous);
        repair::install(self.journal.disk.as_ref(), &self.journal.dir, &stub)
            .map_err(|source| OpenError::Repair { file, source })?;
        for gone in previous + 1..=next.previous {
            // A number far ahead is one loss, not millions.
            if gone == previous + 1 || gone == next.previous {
                self.report(gone, DamageKind::Missing, Span { at: 0, len: 0 });
            }
        }
        self.walk(stub.header, &stub.bytes, &[], true, stub.bytes.len());
        Ok(())
    }

    /// Remembers damage; losses are named at the end, when it is known what came later.
    fn report(&mut self, number: u32, kind: DamageKind, span: Span) -> usize {
        self.damage.push(Damage {
            kind,
            file: self.journal.segment_path(number),
            segment: number,
            offset: span.at as u64,
            bytes: span.len as u64,
            evidence: None,
            lost: Vec::new(),
        });
        self.damage.len() - 1
    }

    fn report_bad(&mut self, found: &Found, kind: DamageKind, span: Span) {
        let damage = self.report(found.number, kind, span);
        let hints = scan::hints(span.of(&found.bytes));
        for (log, seq) in hints.records {
            self.miss(damage, log, seq, hints.complete);
        }
    }

    fn miss(&mut self, damage: usize, log: LogId, seq: u64, certain: bool) {
        let missed = self.missed.entry(log).or_insert(Missed {
            damage,
            last: 0,
            certain,
        });
        if seq >= missed.last {
            *missed = Missed {
                damage: missed.damage,
                last: seq,
                certain,
            };
        }
    }

    /// A file that was begun and holds nothing whole. Empty, it is no damage: nothing was in it.
    fn set_aside_unborn(&mut self, found: &Found) {
        let keep_evidence = !found.bytes.is_empty();
        if keep_evidence {
            self.report_bad(
                found,
                DamageKind::TornTail,
                Span {
                    at: 0,
                    len: found.bytes.len(),
                },
            );
        }
        self.journal.pending.push(Pending::Remove {
            number: found.number,
            keep_evidence,
        });
    }

    fn cut_tail(&mut self, found: &Found) {
        let len = found.good_len();
        let tail = Span {
            at: len,
            len: found.bytes.len() - len,
        };
        self.report_bad(found, DamageKind::TornTail, tail);
        self.walk(
            found.header,
            &found.bytes,
            &found.survey.batches,
            found.survey.sealed,
            len,
        );
        let len = self.journal.segments.last().map_or(0, |info| info.len);
        self.journal.pending.push(Pending::Cut {
            number: found.number,
            len,
            keep_evidence: true,
        });
    }

    fn rewrite(&mut self, found: &Found) -> Result<(), OpenError> {
        let first = self.damage.len();
        self.report_found(found);
        let repaired = repair::rewrite(&found.bytes, &found.survey.batches, found.header, !found.is_last);
        let evidence = self.replace(found, &repaired).map_err(|source| {
            let file = self.journal.segment_path(found.number);
            OpenError::Repair { file, source }
        })?;
        for damage in self.damage.iter_mut().skip(first) {
            damage.evidence = Some(evidence.clone());
        }
        self.walk(
            repaired.header,
            &repaired.bytes,
            &repaired.batches,
            !found.is_last,
            repaired.bytes.len(),
        );
        Ok(())
    }

    fn report_found(&mut self, found: &Found) {
        let in_header = |span: &Span| !found.header_good && span.at == 0;
        if !found.header_good && !found.survey.bad.iter().any(in_header) {
            self.report(found.number, DamageKind::Header, Span { at: 0, len: 0 });
        }
        for span in &found.survey.bad {
            let kind = if in_header(span) {
                DamageKind::Header
            } else {
                DamageKind::Unreadable
            };
            self.report_bad(found, kind, *span);
        }
        let end = Span {
            at: found.bytes.len(),
            len: 0,
        };
        if found.is_cut_short() {
            self.report(found.number, DamageKind::CutShort, end);
        }
        if found.is_oversize() {
            let beyond = usize::try_from(found.file_len).unwrap_or(usize::MAX) - end.at;
            self.report(found.number, DamageKind::Unreadable, Span { len: beyond, ..end });
        }
    }

    fn replace(&self, found: &Found, repaired: &Rewritten) -> io::Result<PathBuf> {
        let journal = &self.journal;
        let file = journal.file(found.number)?;
        let name = segment::file_name(found.number);
        let evidence = repair::keep(journal.disk.as_ref(), &journal.evidence_dir, &name, file.as_ref(), 0)?;
        repair::install(journal.disk.as_ref(), &journal.dir, repaired)?;
        journal.forget_file(found.number);
        Ok(evidence)
    }

    /// Counts and hands out the records of a segment that is good up to `len`.
    fn walk(&mut self, header: Header, bytes: &[u8], batches: &[Span], sealed: bool, len: usize) {
        for span in batches {
            let payload = bytes.get(span.at + HEAD_LEN..span.end() - crate::frame::TAIL_LEN);
            let end = Position {
                segment: header.number,
                offset: span.end() as u32,
            };
            for (start, record) in Records::of(payload.unwrap_or_default()) {
                let loc = Loc::new(header.number, (span.at + HEAD_LEN + start) as u32);
                self.take(&record, loc, end);
            }
            self.journal.end = end;
        }
        // A segment is never longer than READ_CAP, far below 4 GiB.
        self.journal.segments.push(SegmentInfo {
            header,
            len: len as u32,
            sealed,
        });
    }

    fn take(&mut self, record: &Record<'_>, loc: Loc, end: Position) {
        match self.journal.heads.admit(record, loc) {
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

    fn name_losses(&mut self) {
        for (log, missed) in &self.missed {
            let from = self.journal.heads.head(log) + 1;
            if let Some(damage) = self.damage.get_mut(missed.damage).filter(|_| missed.last >= from) {
                damage.lost.push(Lost {
                    log: *log,
                    from,
                    to: missed.certain.then_some(missed.last),
                });
            }
        }
    }
}
