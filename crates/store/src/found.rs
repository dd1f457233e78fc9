//! One segment as it was found, and what is wrong with it. Bytes in, judgement out: nothing is changed here.

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
    /// By another segment of the journal.
    pub(crate) salt: Option<u64>,
}

pub(crate) struct Found {
    pub(crate) number: u32,
    pub(crate) is_last: bool,
    /// Its header; when that is damaged, as it should be, as far as it is known.
    pub(crate) header: Header,
    pub(crate) header_good: bool,
    pub(crate) bytes: Vec<u8>,
    pub(crate) file_len: u64,
    pub(crate) survey: Survey,
}

impl Found {
    /// Looks at the bytes of a segment. The error is the version of a layout that is too new.
    pub(crate) fn judge(bytes: Vec<u8>, file_len: u64, expected: Expected) -> Result<Self, u32> {
        let Expected {
            number,
            previous,
            is_last,
            salt,
        } = expected;
        let (salt, good) = match Header::read(&bytes) {
            HeaderState::Newer(version) => return Err(version),
            HeaderState::Good(header) if header.number == number => (header.salt, Some(header)),
            HeaderState::Good(header) => (header.salt, None),
            HeaderState::Bad => (salt.or_else(|| scan::guess_salt(&bytes)).unwrap_or_default(), None),
        };
        let header = good.unwrap_or(Header {
            number,
            previous,
            edition: 0,
            salt,
        });
        // Without a header there is no awareness where the first batch begins.
        let survey = scan::survey(&bytes, if good.is_some() { HEADER_LEN } else { 0 }, salt);
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

    /// Whether nothing is wrong but an unfinished last write.
    pub(crate) fn only_tail_is_bad(&self) -> bool {
        let only = self.survey.bad.len() == 1 && self.survey.bad.first().map(Span::end) == Some(self.bytes.len());
        self.is_last && self.header_good && only && !self.is_oversize()
    }

    /// A last file in which nothing was ever finished.
    pub(crate) fn is_unborn(&self) -> bool {
        self.is_last && !self.header_good && self.survey.batches.is_empty()
    }

    /// A finished segment that ends too early, and right after a batch.
    pub(crate) fn is_cut_short(&self) -> bool {
        let bad_at_end = self.survey.bad.last().is_some_and(|bad| bad.end() == self.bytes.len());
        !self.is_last && !self.survey.sealed && !bad_at_end
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
