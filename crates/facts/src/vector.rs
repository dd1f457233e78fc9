//! Version vectors: how far into each log a device has seen.
//!
//! A vector names, for each log, the last entry that is included; everything before it is included too. Each entry has a
//! vector, so happens-before can be decided between any two facts.

use std::collections::BTreeMap;
use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::ids::{IdError, LogId};

/// Which entries are included: per log, the highest `seq`. A log that is absent counts as 0.
#[derive(Clone, PartialEq, Eq, Default, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct VersionVector(BTreeMap<LogId, u64>);

impl VersionVector {
    /// The vector that includes nothing.
    pub fn new() -> Self {
        Self::default()
    }

    /// The last included entry of `log`, or 0.
    pub fn get(&self, log: &LogId) -> u64 {
        self.0.get(log).copied().unwrap_or(0)
    }

    /// Whether entry `seq` of `log` is included.
    pub fn includes(&self, log: &LogId, seq: u64) -> bool {
        seq <= self.get(log)
    }

    /// Includes everything up to `seq` of `log`. Never goes back.
    pub fn advance(&mut self, log: LogId, seq: u64) {
        if seq > 0 {
            let slot = self.0.entry(log).or_insert(0);
            *slot = (*slot).max(seq);
        }
    }

    /// Takes `log` back to `seq`, for a log that lost its tail. Zero removes it.
    pub fn cut(&mut self, log: &LogId, seq: u64) {
        if seq == 0 {
            self.0.remove(log);
        } else if let Some(slot) = self.0.get_mut(log) {
            *slot = (*slot).min(seq);
        }
    }

    /// Includes everything that `other` includes.
    pub fn merge(&mut self, other: &Self) {
        other.iter().for_each(|(log, seq)| self.advance(log, seq));
    }

    /// Whether everything in `other` is included here.
    pub fn covers(&self, other: &Self) -> bool {
        other.iter().all(|(log, seq)| self.includes(&log, seq))
    }

    /// What is included here and not in `other`: for each such log, the highest `seq` here.
    pub fn beyond(&self, other: &Self) -> Self {
        Self(
            self.0
                .iter()
                .filter(|(log, seq)| !other.includes(log, **seq))
                .map(|(l, s)| (*l, *s))
                .collect(),
        )
    }

    /// The logs and their last included entries, in the order of the logs.
    pub fn iter(&self) -> impl Iterator<Item = (LogId, u64)> + '_ {
        self.0.iter().map(|(log, seq)| (*log, *seq))
    }

    /// How many logs have something included.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Whether nothing is included.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// How many entries are included, over all logs.
    pub fn entries(&self) -> u64 {
        self.0.values().sum()
    }
}

impl fmt::Debug for VersionVector {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_map().entries(self.0.iter()).finish()
    }
}

/// `KEY.INCARNATION:SEQ`, joined by commas: what `bundle write --since` takes.
impl fmt::Display for VersionVector {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, (log, seq)) in self.iter().enumerate() {
            let comma = if i > 0 { "," } else { "" };
            write!(f, "{comma}{log}:{seq}")?;
        }
        Ok(())
    }
}

impl FromStr for VersionVector {
    type Err = IdError;
    fn from_str(text: &str) -> Result<Self, IdError> {
        let mut vector = Self::new();
        for part in text.split(',').map(str::trim).filter(|p| !p.is_empty()) {
            let bad = || IdError::NotALog(part.chars().take(100).collect());
            let (log, seq) = part.split_once(':').ok_or_else(bad)?;
            vector.advance(log.parse()?, seq.parse().map_err(|_| bad())?);
        }
        Ok(vector)
    }
}

impl FromIterator<(LogId, u64)> for VersionVector {
    fn from_iter<T: IntoIterator<Item = (LogId, u64)>>(iter: T) -> Self {
        let mut vector = Self::new();
        iter.into_iter().for_each(|(log, seq)| vector.advance(log, seq));
        vector
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ids::DeviceKey;
    use proptest::prelude::*;

    fn log(n: u8) -> LogId {
        LogId {
            device: DeviceKey([n; 32]),
            incarnation: 1,
        }
    }

    fn any_vector() -> impl Strategy<Value = VersionVector> {
        proptest::collection::vec((0u8..5, 0u64..9), 0..6)
            .prop_map(|pairs| pairs.into_iter().map(|(l, s)| (log(l), s)).collect())
    }

    proptest! {
        #[test]
        fn merge_is_a_join(a in any_vector(), b in any_vector(), c in any_vector()) {
            let join = |x: &VersionVector, y: &VersionVector| { let mut z = x.clone(); z.merge(y); z };
            prop_assert_eq!(join(&a, &b), join(&b, &a));
            prop_assert_eq!(join(&join(&a, &b), &c), join(&a, &join(&b, &c)));
            prop_assert_eq!(join(&a, &a), a.clone());
            prop_assert!(join(&a, &b).covers(&a));
            let mut again = b.clone();
            again.merge(&a.beyond(&b));
            prop_assert_eq!(again, join(&a, &b), "what a has beyond b completes b");
        }

        #[test]
        fn text_round_trip(a in any_vector()) {
            prop_assert_eq!(a.to_string().parse::<VersionVector>().unwrap(), a);
        }
    }
}
