//! Reads everything back from disk and says what is not as it was. Changes nothing.

use std::collections::BTreeMap;
use std::io;

use gladhand_facts::LogId;

use crate::damage::{Damage, DamageKind, Lost};
use crate::disk;
use crate::frame::{HEAD_LEN, Records};
use crate::journal::{Journal, SegmentInfo};
use crate::read::ReadError;
use crate::record::{Loc, Position, Record};
use crate::scan::{self, PlacedBatch};
use crate::segment::{HEADER_LEN, Header, HeaderState};

/// A damaged stretch of a segment: where, and how many bytes.
#[derive(Debug, Clone, Copy)]
struct Stretch {
    at: usize,
    len: usize,
}

type Visitor<'v> = &'v mut dyn FnMut(&Record<'_>, Position);

impl Journal {
    /// Reads every segment again, passes each good record to `visit`, and returns what is damaged.
    ///
    /// Nothing is repaired: opening the journal again does that.
    pub fn verify(&self, visit: Visitor<'_>) -> Result<Vec<Damage>, ReadError> {
        let mut damage = Vec::new();
        for info in &self.segments {
            let found = self.verify_segment(*info, visit)?;
            damage.extend(
                found
                    .into_iter()
                    .map(|(kind, stretch)| self.damage_in(info.header.number, kind, stretch)),
            );
        }
        Ok(damage)
    }

    fn verify_segment(&self, info: SegmentInfo, visit: Visitor<'_>) -> Result<Vec<(DamageKind, Stretch)>, ReadError> {
        let Some(bytes) = self.read_again(info)? else {
            return Ok(vec![(DamageKind::Missing, Stretch { at: 0, len: 0 })]);
        };
        let mut found = Vec::new();
        if Header::read(&bytes) != HeaderState::Good(info.header) {
            found.push((DamageKind::Header, Stretch { at: 0, len: HEADER_LEN }));
        }
        let survey = scan::survey(&bytes, HEADER_LEN, info.header.salt);
        let stretch = |at, bytes: &[u8]| (DamageKind::Unreadable, Stretch { at, len: bytes.len() });
        for placed in &survey.batches {
            if !self.visit_batch(info.header.number, placed, visit) {
                found.push(stretch(placed.at, placed.batch.bytes));
            }
        }
        found.extend(survey.bad.iter().map(|bad| stretch(bad.at, bad.bytes)));
        let gone = (info.len as usize).saturating_sub(bytes.len());
        if gone > 0 {
            found.push((
                DamageKind::CutShort,
                Stretch {
                    at: bytes.len(),
                    len: gone,
                },
            ));
        }
        found.sort_by_key(|(_, stretch)| stretch.at);
        Ok(found)
    }

    /// The segment up to its durable length, by its name as it is now.
    fn read_again(&self, info: SegmentInfo) -> Result<Option<Vec<u8>>, ReadError> {
        let file = self.segment_path(info.header.number);
        let opened = self.disk.open(&file);
        match opened.and_then(|opened| disk::read_around(opened.as_ref(), 0, info.len as usize)) {
            Ok(bytes) => Ok(Some(bytes)),
            Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(source) => Err(ReadError::Io { file, source }),
        }
    }

    /// Passes the records of a batch to `visit`; returns whether each record's own CRC is good too.
    fn visit_batch(&self, number: u32, placed: &PlacedBatch<'_>, visit: Visitor<'_>) -> bool {
        let end = Position {
            segment: number,
            offset: placed.end() as u32,
        };
        let mut records = Records::of(placed.batch.payload);
        let mut all_good = true;
        while let Some((start, record, good)) = records.next_checked() {
            all_good &= good;
            let loc = Loc::new(number, (placed.at + HEAD_LEN + start) as u32);
            if good && self.offsets.holds(&record, loc) {
                visit(&record, end);
            }
        }
        all_good
    }

    fn damage_in(&self, number: u32, kind: DamageKind, stretch: Stretch) -> Damage {
        let whole_file = kind == DamageKind::Missing;
        let hit = |loc: Loc| {
            let at = loc.offset() as usize;
            loc.segment() == number && (whole_file || (stretch.at..stretch.at + stretch.len).contains(&at))
        };
        let mut lost: BTreeMap<LogId, Lost> = BTreeMap::new();
        for (log, seq, _) in self.offsets.places().filter(|(_, _, loc)| hit(*loc)) {
            let lost = lost.entry(log).or_insert(Lost {
                log,
                from: seq,
                to: Some(seq),
            });
            lost.from = lost.from.min(seq);
            lost.to = lost.to.max(Some(seq));
        }
        let bytes = if kind == DamageKind::CutShort {
            0
        } else {
            stretch.len as u64
        };
        Damage {
            kind,
            file: self.segment_path(number),
            segment: number,
            offset: stretch.at as u64,
            bytes,
            evidence: None,
            lost: lost.into_values().collect(),
        }
    }
}
