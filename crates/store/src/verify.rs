//! Reads everything back from disk and says what is not as it was. Changes nothing.

use std::collections::BTreeMap;
use std::io;

use gladhand_facts::LogId;

use crate::damage::{Damage, DamageKind, Lost};
use crate::disk;
use crate::frame::{HEAD_LEN, Records, TAIL_LEN};
use crate::journal::{Journal, SegmentInfo};
use crate::read::ReadError;
use crate::record::{Loc, Position, Record};
use crate::scan::{self, Span};
use crate::segment::{HEADER_LEN, Header, HeaderState};

type Visitor<'v> = &'v mut dyn FnMut(&Record<'_>, Position);

impl Journal {
    /// Reads every segment again, hands each good record to `visit`, and returns what is damaged.
    ///
    /// Nothing is repaired: opening the journal again does that.
    pub fn verify(&self, visit: Visitor<'_>) -> Result<Vec<Damage>, ReadError> {
        let mut damage = Vec::new();
        for info in &self.segments {
            let found = self.verify_segment(*info, visit)?;
            damage.extend(
                found
                    .into_iter()
                    .map(|(kind, span)| self.damage_in(info.header.number, kind, span)),
            );
        }
        Ok(damage)
    }

    fn verify_segment(&self, info: SegmentInfo, visit: Visitor<'_>) -> Result<Vec<(DamageKind, Span)>, ReadError> {
        let Some(bytes) = self.read_again(info)? else {
            return Ok(vec![(DamageKind::Missing, Span { at: 0, len: 0 })]);
        };
        let mut found = Vec::new();
        if Header::read(&bytes) != HeaderState::Good(info.header) {
            found.push((DamageKind::Header, Span { at: 0, len: HEADER_LEN }));
        }
        let survey = scan::survey(&bytes, HEADER_LEN, info.header.salt);
        for span in &survey.batches {
            if !self.visit_batch(info.header.number, *span, &bytes, visit) {
                found.push((DamageKind::Unreadable, *span));
            }
        }
        found.extend(survey.bad.iter().map(|span| (DamageKind::Unreadable, *span)));
        let gone = (info.len as usize).saturating_sub(bytes.len());
        if gone > 0 {
            found.push((
                DamageKind::CutShort,
                Span {
                    at: bytes.len(),
                    len: gone,
                },
            ));
        }
        found.sort_by_key(|(_, span)| span.at);
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

    /// Hands out a batch; says whether each record's own CRC holds too.
    fn visit_batch(&self, number: u32, span: Span, bytes: &[u8], visit: Visitor<'_>) -> bool {
        let end = Position {
            segment: number,
            offset: span.end() as u32,
        };
        let payload = bytes.get(span.at + HEAD_LEN..span.end() - TAIL_LEN).unwrap_or_default();
        let mut records = Records::of(payload);
        let mut all_good = true;
        while let Some((start, record, good)) = records.next_checked() {
            all_good &= good;
            let loc = Loc::new(number, (span.at + HEAD_LEN + start) as u32);
            if good && self.heads.holds(&record, loc) {
                visit(&record, end);
            }
        }
        all_good
    }

    fn damage_in(&self, number: u32, kind: DamageKind, span: Span) -> Damage {
        let whole_file = kind == DamageKind::Missing;
        let hit = |loc: Loc| {
            let at = loc.offset() as usize;
            loc.segment() == number && (whole_file || (span.at..span.end()).contains(&at))
        };
        let mut lost: BTreeMap<LogId, Lost> = BTreeMap::new();
        for (log, seq, _) in self.heads.places().filter(|(_, _, loc)| hit(*loc)) {
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
            span.len as u64
        };
        Damage {
            kind,
            file: self.segment_path(number),
            segment: number,
            offset: span.at as u64,
            bytes,
            evidence: None,
            lost: lost.into_values().collect(),
        }
    }
}
