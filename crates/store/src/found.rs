//! One segment as it was found, and what is wrong with it. Nothing is changed here.

use crate::scan::{self, Span, Survey};
use crate::segment::{HEADER_LEN, Header, HeaderState};

/// What is known of a segment before it is looked at.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Expected {
    /// By its name.
    pub(crate) number: u32,
    /// The one before it that is there.
    pub(crate) previous: u32,
    /// Whether none follows.
    pub(crate) is_last: bool,
    pub(crate) salt: JournalSalt,
}

/// What is known of the salt before a segment is looked at.
#[derive(Debug, Clone, Copy)]
pub(crate) enum JournalSalt {
    /// From the header of some segment.
    Known(u64),
    /// No header is whole. A segment's own batches may show its salt; one that has none gets this new one.
    Lost { fresh: u64 },
}

impl JournalSalt {
    fn of_segment(self, bytes: &[u8]) -> u64 {
        match self {
            Self::Known(salt) => salt,
            Self::Lost { fresh } => scan::guess_salt(bytes).unwrap_or(fresh),
        }
    }
}

/// See the module doc.
pub(crate) struct Found<'b> {
    pub(crate) number: u32,
    pub(crate) is_last: bool,
    /// Its header; when that is damaged, as it should be, as far as it is known.
    pub(crate) header: Header,
    pub(crate) header_good: bool,
    pub(crate) bytes: &'b [u8],
    pub(crate) file_len: u64,
    pub(crate) survey: Survey<'b>,
}

impl<'b> Found<'b> {
    /// Judges the bytes of a segment. The error is the version of a layout that is too new.
    pub(crate) fn judge(bytes: &'b [u8], file_len: u64, expected: Expected) -> Result<Self, u32> {
        let Expected {
            number,
            previous,
            is_last,
            salt,
        } = expected;
        let (salt, good) = match Header::read(bytes) {
            HeaderState::Newer(version) => return Err(version),
            HeaderState::Good(header) if header.number == number => (header.salt, Some(header)),
            HeaderState::Good(header) => (header.salt, None),
            HeaderState::Bad => (salt.of_segment(bytes), None),
        };
        let header = good.unwrap_or(Header {
            number,
            previous,
            edition: 0,
            salt,
        });
        // Without a header it is not known where the first batch begins.
        let survey = scan::survey(bytes, if good.is_some() { HEADER_LEN } else { 0 }, salt);
        Ok(Self {
            number,
            is_last,
            header,
            header_good: good.is_some(),
            bytes,
            file_len,
            survey,
        })
    }

    /// Whether segments are gone between `previous`, which is there, and this one.
    pub(crate) fn misses_segments(&self, previous: u32) -> bool {
        self.header_good && (previous + 1..self.number).contains(&self.header.previous)
    }

    /// Whether an unfinished last write is all that is wrong.
    pub(crate) fn only_tail_is_bad(&self) -> bool {
        let only = self.survey.bad.len() == 1 && self.bad_at_end();
        self.is_last && self.header_good && only && !self.is_oversize()
    }

    /// A last file in which nothing was ever finished.
    pub(crate) fn is_unfinished_start(&self) -> bool {
        self.is_last && !self.header_good && self.survey.batches.is_empty()
    }

    /// A finished segment that ends too early, and right after a batch.
    pub(crate) fn is_cut_short(&self) -> bool {
        !self.is_last && !self.survey.sealed && !self.bad_at_end()
    }

    /// A bad stretch without the bytes of a header that is damaged.
    pub(crate) fn without_header(&self, bad: Span<'b>) -> Span<'b> {
        match bad.bytes.split_at_checked(HEADER_LEN) {
            Some((_, bytes)) if !self.header_good && bad.at == 0 => Span { at: HEADER_LEN, bytes },
            _ => bad,
        }
    }

    fn bad_at_end(&self) -> bool {
        self.survey.bad.last().is_some_and(|bad| bad.end() == self.bytes.len())
    }

    pub(crate) fn is_clean(&self) -> bool {
        self.header_good && self.survey.bad.is_empty() && !self.is_cut_short() && !self.is_oversize()
    }

    /// Longer than anything that we write.
    pub(crate) fn is_oversize(&self) -> bool {
        self.file_len > self.bytes.len() as u64
    }

    /// Up to where the file is good, when only its tail is bad.
    pub(crate) fn good_len(&self) -> usize {
        self.survey.bad.first().map_or(self.bytes.len(), |bad| bad.at)
    }
}
