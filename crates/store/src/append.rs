//! Appending: one batch is one contiguous write and one fsync, and is undone when the disk refuses.

use std::collections::{BTreeMap, BTreeSet};
use std::io;
use std::path::PathBuf;

use gladhand_facts::LogId;

use crate::disk::{self, DiskFile};
use crate::frame::{self, MAX_PAYLOAD};
use crate::journal::{Journal, Pending, SegmentInfo};
use crate::record::{Loc, Position, Record, RecordKind};
use crate::repair;
use crate::segment::{self, HEADER_LEN, Header};

/// Why nothing was written. After any of these the journal is as it was before the call, and the same call
/// succeeds when the cause is gone.
#[derive(Debug, thiserror::Error)]
pub enum AppendError {
    /// An entry does not follow its log.
    #[error("entry {found} of log {log} does not follow: the next is {expected}")]
    OutOfOrder {
        /// The log.
        log: LogId,
        /// The seq that follows.
        expected: u64,
        /// The seq that was given.
        found: u64,
    },
    /// A checkpoint signs an entry that is not here.
    #[error("a checkpoint signs entry {seq} of log {log}, which ends at {head}")]
    CheckpointAhead {
        /// The log.
        log: LogId,
        /// What it signs.
        seq: u64,
        /// The last entry that is here.
        head: u64,
    },
    /// Too much for one batch.
    #[error("a batch of {bytes} bytes is over the limit of {max}: split it")]
    TooLarge {
        /// Its size.
        bytes: usize,
        /// The limit.
        max: usize,
    },
    /// The rest of the disk is kept free for an orderly shutdown.
    #[error("only {free} bytes are free on the disk of {dir}, and {floor} must stay free: make room")]
    DiskLow {
        /// The journal's folder.
        dir: PathBuf,
        /// Free now.
        free: u64,
        /// What must stay free.
        floor: u64,
    },
    /// The disk was full in the middle of the write; the write was undone.
    #[error("the disk of {dir} is full: make room")]
    DiskFull {
        /// The journal's folder.
        dir: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The disk refused; the write was undone.
    #[error("cannot write to {file}: {source}")]
    Io {
        /// The segment.
        file: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// An earlier failed write could not be undone yet, so nothing is written after it.
    #[error("the unfinished end of {file} cannot be removed: {source}")]
    NotHealed {
        /// The segment.
        file: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// There is no number left for the next segment.
    #[error("the journal in {dir} has no number left for another segment")]
    NoNumberLeft {
        /// The journal's folder.
        dir: PathBuf,
    },
}

impl AppendError {
    /// Whether making room on the disk would help.
    pub fn is_disk_full(&self) -> bool {
        match self {
            Self::DiskLow { .. } | Self::DiskFull { .. } => true,
            Self::Io { source, .. } | Self::NotHealed { source, .. } => disk::is_full(source),
            _ => false,
        }
    }
}

impl Journal {
    /// Makes `records` durable as one batch and returns its end.
    ///
    /// Entries must follow their logs. A checkpoint of an entry that already has one is left out.
    pub fn append(&mut self, records: &[Record<'_>]) -> Result<Position, AppendError> {
        self.heal()
            .map_err(|(file, source)| AppendError::NotHealed { file, source })?;
        let records = self.in_order(records)?;
        if records.is_empty() {
            return Ok(self.end);
        }
        let salt = self.salt()?;
        let bytes = records
            .iter()
            .map(|record| record.bytes.len())
            .fold(0, usize::saturating_add);
        let too_large = AppendError::TooLarge {
            bytes,
            max: MAX_PAYLOAD,
        };
        if bytes > MAX_PAYLOAD {
            return Err(too_large);
        }
        let batch = frame::encode(&records, salt).ok_or(too_large)?;
        self.check_room(batch.bytes.len())?;
        let at = self.write(&batch.bytes, salt)?;
        for (record, start) in records.iter().zip(&batch.starts) {
            self.offsets
                .admit(record, Loc::new(at.segment, at.offset + *start as u32));
        }
        self.end = Position {
            offset: at.offset + batch.bytes.len() as u32,
            ..at
        };
        Ok(self.end)
    }

    /// The records to write, if all of them follow.
    fn in_order<'r>(&self, records: &[Record<'r>]) -> Result<Vec<Record<'r>>, AppendError> {
        let mut heads: BTreeMap<LogId, u64> = BTreeMap::new();
        let mut signed: BTreeSet<(LogId, u64)> = BTreeSet::new();
        let mut kept = Vec::with_capacity(records.len());
        for record in records {
            let Record { kind, log, seq, .. } = *record;
            let head = heads.entry(log).or_insert_with(|| self.offsets.head(&log));
            match kind {
                RecordKind::Entry if seq.checked_sub(1) != Some(*head) => {
                    return Err(AppendError::OutOfOrder {
                        log,
                        expected: *head + 1,
                        found: seq,
                    });
                }
                RecordKind::Entry => *head = seq,
                RecordKind::Checkpoint if seq == 0 || seq > *head => {
                    return Err(AppendError::CheckpointAhead { log, seq, head: *head });
                }
                RecordKind::Checkpoint
                    if self.offsets.checkpoint(&log, seq).is_some() || !signed.insert((log, seq)) =>
                {
                    continue;
                }
                RecordKind::Checkpoint | RecordKind::Other(_) => {}
            }
            kept.push(*record);
        }
        Ok(kept)
    }

    /// The salt of this journal; a new one when it is new.
    fn salt(&self) -> Result<u64, AppendError> {
        match self.segments.last() {
            Some(info) => Ok(info.header.salt),
            None => self
                .disk
                .salt()
                .map_err(|source| self.refused(self.dir.clone(), source)),
        }
    }

    fn check_room(&self, batch_len: usize) -> Result<(), AppendError> {
        let free = self
            .free_bytes()
            .map_err(|source| self.refused(self.dir.clone(), source))?;
        let floor = self.options.floor_bytes;
        if free < floor.saturating_add(batch_len as u64) {
            return Err(AppendError::DiskLow {
                dir: self.dir.clone(),
                free,
                floor,
            });
        }
        Ok(())
    }

    fn refused(&self, file: PathBuf, source: io::Error) -> AppendError {
        if disk::is_full(&source) {
            AppendError::DiskFull {
                dir: self.dir.clone(),
                source,
            }
        } else {
            AppendError::Io { file, source }
        }
    }

    /// Writes a batch at the end and returns where it begins.
    fn write(&mut self, batch: &[u8], salt: u64) -> Result<Position, AppendError> {
        let fits = |info: &SegmentInfo| {
            let empty = info.len as usize <= HEADER_LEN;
            !info.sealed && (empty || info.len as usize + batch.len() <= self.options.segment_bytes as usize)
        };
        match self.segments.last().copied() {
            Some(info) if fits(&info) => self.extend(info, batch),
            Some(info) => {
                if !info.sealed {
                    self.extend(info, &frame::seal(salt))?;
                    self.mark_sealed();
                }
                self.begin_segment(info.header.number, batch, salt)
            }
            None => self.begin_segment(0, batch, salt),
        }
    }

    fn mark_sealed(&mut self) {
        if let Some(info) = self.segments.last_mut() {
            info.sealed = true;
        }
    }

    /// Adds bytes to the last segment, or leaves it as it was.
    fn extend(&mut self, info: SegmentInfo, bytes: &[u8]) -> Result<Position, AppendError> {
        let number = info.header.number;
        let written = self.file(number).and_then(|file| {
            disk::write_all(file.as_ref(), u64::from(info.len), bytes)?;
            file.sync()
        });
        if let Err(source) = written {
            self.pending.push(Pending::Cut {
                number,
                len: info.len,
                keep_evidence: false,
            });
            // If it cannot be undone now, the next write tries again first.
            self.heal().ok();
            return Err(self.refused(self.segment_path(number), source));
        }
        if let Some(last) = self.segments.last_mut() {
            last.len = info.len + bytes.len() as u32;
        }
        Ok(Position {
            segment: number,
            offset: info.len,
        })
    }

    /// Begins the segment after `previous` with one batch, or leaves no trace of it.
    fn begin_segment(&mut self, previous: u32, batch: &[u8], salt: u64) -> Result<Position, AppendError> {
        let Some(number) = previous.checked_add(1) else {
            return Err(AppendError::NoNumberLeft { dir: self.dir.clone() });
        };
        let header = Header {
            number,
            previous,
            edition: 0,
            salt,
        };
        let mut bytes = header.to_bytes();
        bytes.extend(batch);
        let path = self.segment_path(number);
        let written = self.disk.create(&path).and_then(|file| {
            disk::write_all(file.as_ref(), 0, &bytes)?;
            file.sync()?;
            self.disk.sync_dir(&self.dir)
        });
        if let Err(source) = written {
            self.pending.push(Pending::Remove {
                number,
                keep_evidence: false,
            });
            self.heal().ok();
            return Err(self.refused(path, source));
        }
        self.segments.push(SegmentInfo {
            header,
            len: bytes.len() as u32,
            sealed: false,
        });
        Ok(Position {
            segment: number,
            offset: HEADER_LEN as u32,
        })
    }

    /// Removes what an unfinished write left. Returns where evidence of it is kept, if it is to be kept.
    pub(crate) fn heal(&mut self) -> Result<Option<PathBuf>, (PathBuf, io::Error)> {
        let mut evidence = None;
        while let Some(pending) = self.pending.last().cloned() {
            let (Pending::Cut { number, .. } | Pending::Remove { number, .. }) = pending;
            let kept = self
                .clear(&pending)
                .map_err(|source| (self.segment_path(number), source))?;
            evidence = kept.or(evidence);
            self.pending.pop();
        }
        Ok(evidence)
    }

    fn clear(&self, pending: &Pending) -> io::Result<Option<PathBuf>> {
        match *pending {
            Pending::Cut {
                number,
                len,
                keep_evidence,
            } => {
                let file = self.file(number)?;
                let kept = if keep_evidence {
                    Some(self.keep(file.as_ref(), number, len)?)
                } else {
                    None
                };
                file.truncate(u64::from(len))?;
                file.sync()?;
                Ok(kept)
            }
            Pending::Remove { number, keep_evidence } => {
                let path = self.segment_path(number);
                let kept = match self.disk.open(&path) {
                    Err(e) if e.kind() == io::ErrorKind::NotFound => None,
                    Ok(file) if keep_evidence => Some(self.keep(file.as_ref(), number, 0)?),
                    Ok(_) => None,
                    Err(e) => return Err(e),
                };
                self.forget_file(number);
                match self.disk.remove(&path) {
                    Err(e) if e.kind() != io::ErrorKind::NotFound => return Err(e),
                    _ => self.disk.sync_dir(&self.dir)?,
                }
                Ok(kept)
            }
        }
    }

    fn keep(&self, file: &dyn DiskFile, number: u32, from: u32) -> io::Result<PathBuf> {
        let name = format!("{}.tail-{from}", segment::file_name(number));
        repair::keep(self.disk.as_ref(), &self.evidence_dir, &name, file, u64::from(from))
    }
}
