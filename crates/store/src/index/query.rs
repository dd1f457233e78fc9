//! Asking the index.

use std::collections::BTreeMap;

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

    /// The first place of a fact about a subject, of those that were filed first; `None` when there is none.
    pub fn first_about(&self, subject: &[u8]) -> Result<Option<Place>, IndexError> {
        let start = keys::subject_start(subject);
        let row = self.db.call(|db| db.scan_prefix(start).values().next().transpose())?;
        let places = row.map(|row| self.places(&row)).transpose()?;
        Ok(places.and_then(|places| places.into_iter().min()))
    }

    /// Where a fact is.
    pub fn fact(&self, fact: &FactId) -> Result<Option<Place>, IndexError> {
        let row = self.db.call(|db| db.get(keys::fact(fact)))?;
        Ok(row.map(|row| self.place(&row)).transpose()?.flatten())
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
            let mut ids = ids.filter(|row| row.as_ref().map_or(true, |(key, _)| begins(key)));
            // A reader may have to leave out some of them.
            match self.bounds {
                Some(_) => ids.collect::<sled::Result<Vec<_>>>(),
                None => ids.by_ref().take(most).collect(),
            }
        })?;
        let mut found = Vec::new();
        for (key, row) in rows {
            let id = keys::fact_of(&key).ok_or_else(|| self.db.broken("the key of a fact does not decode"))?;
            found.extend(self.place(&row)?.map(|place| (id, place)));
        }
        found.truncate(most);
        Ok(found)
    }

    /// `None` when it is beyond what a reader reads.
    fn place(&self, row: &[u8]) -> Result<Option<Place>, IndexError> {
        match self.places(row)?.as_slice() {
            [place] => Ok(Some(*place)),
            [] if self.bounds.is_some() => Ok(None),
            _ => Err(self.db.broken("the place of a fact does not decode")),
        }
    }

    fn places(&self, row: &[u8]) -> Result<Vec<Place>, IndexError> {
        let places = match &self.bounds {
            None => self.numbers.decode(row),
            Some(bounds) => self.numbers.decode_known(row).map(|mut places| {
                places.retain(|place| bounds.includes(place));
                places
            }),
        };
        places.ok_or_else(|| self.db.broken("places do not decode"))
    }

    /// A value, as it was given.
    pub fn value(&self, key: &[u8]) -> Result<Option<Vec<u8>>, IndexError> {
        let key = keys::value(key);
        let row = self.db.call(|db| db.get(&key))?.map(|row| row.to_vec());
        Ok(match &self.bounds {
            None => row,
            Some(bounds) => bounds.value(&key, row),
        })
    }

    /// The keys that begin with `prefix` and their values, in order.
    pub fn values(&self, prefix: &[u8]) -> Values<'_> {
        let from = keys::value(prefix);
        Values(match &self.bounds {
            None => Rows::Read {
                index: self,
                rows: None,
                from: Some(from),
            },
            Some(_) => Rows::Known(self.values_then(&from)),
        })
    }

    /// The values of a reader, with their keys in the database.
    fn values_then(&self, prefix: &[u8]) -> std::vec::IntoIter<ValueRow> {
        let read = self.db.call(|db| {
            let rows = db.scan_prefix(prefix);
            let rows = rows.map(|row| row.map(|(key, value)| (key.to_vec(), value.to_vec())));
            rows.collect::<sled::Result<BTreeMap<_, _>>>()
        });
        let rows = read.map(|rows| match &self.bounds {
            Some(bounds) => bounds.rows(prefix, rows),
            None => rows,
        });
        let rows: Vec<ValueRow> = match rows {
            Ok(rows) => rows.into_iter().map(Ok).collect(),
            Err(error) => vec![Err(error)],
        };
        rows.into_iter()
    }

    /// Whether a reader finds anything about a subject.
    fn is_within_bounds(&self, subject: &[u8]) -> Result<bool, IndexError> {
        match &self.bounds {
            Some(bounds) if !bounds.is_current() => Ok(!self.about(subject)?.is_empty()),
            _ => Ok(true),
        }
    }

    /// The subjects that begin with `prefix`, in order, each once.
    pub fn subjects(&self, prefix: &[u8]) -> Subjects<'_> {
        self.subjects_from(prefix, prefix)
    }

    /// The same, from the subject `first` on.
    pub fn subjects_from(&self, prefix: &[u8], first: &[u8]) -> Subjects<'_> {
        Subjects {
            index: self,
            next: Some(keys::subjects(first)),
            prefix: keys::subjects(prefix),
        }
    }
}

/// A key of the database and its value.
type ValueRow = Result<(Vec<u8>, Vec<u8>), IndexError>;

/// Keys and values. It ends after an error.
pub struct Values<'i>(Rows<'i>);

enum Rows<'i> {
    /// Read one after the other.
    Read {
        index: &'i Index,
        rows: Option<sled::Iter>,
        /// `None` after an error.
        from: Option<Vec<u8>>,
    },
    /// Read before, for a reader.
    Known(std::vec::IntoIter<ValueRow>),
}

impl Iterator for Values<'_> {
    type Item = Result<(Vec<u8>, Vec<u8>), IndexError>;

    fn next(&mut self) -> Option<Self::Item> {
        let row = match &mut self.0 {
            Rows::Known(rows) => rows.next()?,
            Rows::Read { index, rows, from } => {
                let start = from.as_ref()?;
                let row = index
                    .db
                    .call(|db| rows.get_or_insert_with(|| db.scan_prefix(start)).next().transpose());
                if row.is_err() {
                    *from = None;
                }
                row.transpose()?.map(|(key, value)| (key.to_vec(), value.to_vec()))
            }
        };
        match row {
            Ok((key, value)) => Some(Ok((keys::value_key(&key)?.to_vec(), value))),
            Err(error) => Some(Err(error)),
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
        loop {
            let subject = match self.step()? {
                Ok(subject) => subject,
                Err(error) => return Some(Err(error)),
            };
            match self.index.is_within_bounds(&subject) {
                Ok(true) => return Some(Ok(subject)),
                Ok(false) => {}
                Err(error) => return Some(Err(error)),
            }
        }
    }
}

impl Subjects<'_> {
    fn step(&mut self) -> Option<Result<Vec<u8>, IndexError>> {
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
