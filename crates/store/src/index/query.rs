//! Asking the index.

use gladhand_facts::{FactId, Place};

use super::error::IndexError;
use super::{Index, keys};

impl Index {
    /// The places of the facts about a subject, in order.
    pub fn about(&self, subject: &[u8]) -> Result<Vec<Place>, IndexError> {
        let start = keys::subject_start(subject);
        let rows = self
            .db
            .call(|db| db.scan_prefix(start).values().collect::<sled::Result<Vec<_>>>())?;
        let mut places = Vec::new();
        for row in rows {
            places.extend(self.places(&row)?);
        }
        places.sort_unstable();
        places.dedup();
        Ok(places)
    }

    /// Where a fact is.
    pub fn fact(&self, fact: &FactId) -> Result<Option<Place>, IndexError> {
        let row = self.db.call(|db| db.get(keys::fact(fact)))?;
        row.map(|row| self.place(&row)).transpose()
    }

    /// The facts whose ids begin with `start` when written in lower-case hexadecimal digits, in order; at most `most` of them.
    pub fn facts_beginning(&self, start: &str, most: usize) -> Result<Vec<(FactId, Place)>, IndexError> {
        let digits: Option<Vec<u8>> = start.chars().map(|c| c.to_digit(16).map(|d| d as u8)).collect();
        let Some(digits) = digits else {
            return Ok(Vec::new());
        };
        // An odd last digit is half a byte, so it is looked at in each id.
        let whole: Vec<u8> = digits
            .chunks_exact(2)
            .map(|pair| pair.iter().fold(0, |byte, digit| byte << 4 | digit))
            .collect();
        let rows = self.db.call(|db| {
            let ids = db.scan_prefix(keys::facts(&whole));
            let begins = |key: &[u8]| keys::fact_of(key).is_none_or(|id| id.to_string().starts_with(start));
            ids.filter(|row| row.as_ref().map_or(true, |(key, _)| begins(key)))
                .take(most)
                .collect::<sled::Result<Vec<_>>>()
        })?;
        let broken = || self.db.broken("the key of a fact does not decode");
        let read =
            |(key, row): (sled::IVec, sled::IVec)| Ok((keys::fact_of(&key).ok_or_else(broken)?, self.place(&row)?));
        rows.into_iter().map(read).collect()
    }

    fn place(&self, row: &[u8]) -> Result<Place, IndexError> {
        match self.places(row)?.as_slice() {
            [place] => Ok(*place),
            _ => Err(self.db.broken("the place of a fact does not decode")),
        }
    }

    fn places(&self, row: &[u8]) -> Result<Vec<Place>, IndexError> {
        self.numbers
            .decode(row)
            .ok_or_else(|| self.db.broken("places do not decode"))
    }

    /// A value, as it was given.
    pub fn value(&self, key: &[u8]) -> Result<Option<Vec<u8>>, IndexError> {
        let row = self.db.call(|db| db.get(keys::value(key)))?;
        Ok(row.map(|row| row.to_vec()))
    }

    /// The keys that begin with `prefix` and their values, in order.
    pub fn values(&self, prefix: &[u8]) -> Values<'_> {
        Values {
            index: self,
            rows: None,
            from: Some(keys::value(prefix)),
        }
    }

    /// The subjects that begin with `prefix`, in order, each once.
    pub fn subjects(&self, prefix: &[u8]) -> Subjects<'_> {
        let prefix = keys::subjects(prefix);
        Subjects {
            index: self,
            next: Some(prefix.clone()),
            prefix,
        }
    }
}

/// Keys and values. It ends after an error.
pub struct Values<'i> {
    index: &'i Index,
    rows: Option<sled::Iter>,
    /// `None` after an error.
    from: Option<Vec<u8>>,
}

impl Iterator for Values<'_> {
    type Item = Result<(Vec<u8>, Vec<u8>), IndexError>;

    fn next(&mut self) -> Option<Self::Item> {
        let (rows, from) = (&mut self.rows, self.from.as_ref()?);
        let row = self
            .index
            .db
            .call(|db| rows.get_or_insert_with(|| db.scan_prefix(from)).next().transpose());
        match row {
            Ok(row) => row.and_then(|(key, value)| Some(Ok((keys::value_key(&key)?.to_vec(), value.to_vec())))),
            Err(error) => {
                self.from = None;
                Some(Err(error))
            }
        }
    }
}

/// Subjects. It ends after an error.
pub struct Subjects<'i> {
    index: &'i Index,
    prefix: Vec<u8>,
    next: Option<Vec<u8>>,
}

impl Iterator for Subjects<'_> {
    type Item = Result<Vec<u8>, IndexError>;

    fn next(&mut self) -> Option<Self::Item> {
        let from = self.next.take()?;
        // One seek for each subject, however many postings it has.
        let key = match self.index.db.call(|db| db.range(from..).keys().next().transpose()) {
            Ok(key) => key.filter(|key| key.starts_with(&self.prefix))?,
            Err(error) => return Some(Err(error)),
        };
        let Some(subject) = keys::subject_of(&key) else {
            return Some(Err(self.index.db.broken("the key of a posting does not decode")));
        };
        self.next = Some(keys::subject_end(&subject));
        Some(Ok(subject))
    }
}
