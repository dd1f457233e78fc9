//! Codes that are one edit apart, found without comparing everything with everything.
//!
//! Two codes are at most one edit apart (a character wrong, missing, put in, or two neighbours swapped) only if
//! they share themselves or a spelling with one character left out. The index keeps a 64-bit hash of each such
//! spelling; what it finds is compared in full, so a collision costs time and never a wrong answer.
//!
//! Codes longer than any label are not compared. The work for one code grows with the square of its length, and a fact line may
//! hold a code of a mebibyte, which would keep every node of the fleet busy for minutes.

use std::collections::{BTreeMap, BTreeSet};

use gladhand_trade::within_one_edit;

/// The longest code that is compared, in bytes: several times what labels carry.
const MAX_CODE_BYTES: usize = 256;

/// An index of codes by their spellings with one character left out.
#[derive(Debug, Clone, Default)]
pub struct NearIndex {
    numbers: BTreeMap<String, u32>,
    codes: Vec<String>,
    spellings: BTreeSet<(u64, u32)>,
}

impl NearIndex {
    /// Adds a code.
    pub fn insert(&mut self, code: &str) {
        let next = u32::try_from(self.codes.len()).unwrap_or(u32::MAX);
        // With more than 2^32 codes further ones are not indexed.
        if next == u32::MAX || code.len() > MAX_CODE_BYTES || self.numbers.contains_key(code) {
            return;
        }
        self.numbers.insert(code.to_owned(), next);
        self.codes.push(code.to_owned());
        self.spellings.extend(spellings(code).into_iter().map(|s| (s, next)));
    }

    /// An index of these codes.
    pub fn of(codes: impl IntoIterator<Item = String>) -> Self {
        let mut index = Self::default();
        codes.into_iter().for_each(|code| index.insert(&code));
        index
    }

    /// The codes exactly one edit from `code`, sorted. The code itself is none.
    pub fn near(&self, code: &str) -> Vec<String> {
        if code.len() > MAX_CODE_BYTES {
            return Vec::new();
        }
        let numbers: BTreeSet<u32> = spellings(code)
            .into_iter()
            .flat_map(|s| self.spellings.range((s, 0)..=(s, u32::MAX)).map(|(_, number)| *number))
            .collect();
        let codes = numbers.into_iter().filter_map(|n| self.codes.get(n as usize));
        let mut found: Vec<String> = codes.filter(|other| is_near(code, other)).cloned().collect();
        found.sort();
        found
    }
}

/// Whether two codes are different and one edit apart.
pub fn is_near(a: &str, b: &str) -> bool {
    a != b && a.len().max(b.len()) <= MAX_CODE_BYTES && within_one_edit(a, b)
}

/// Hashes of the code and of each spelling that leaves out one of its characters.
fn spellings(code: &str) -> Vec<u64> {
    let without = code.char_indices().map(|(at, c)| {
        let (head, tail) = (code.get(..at), code.get(at + c.len_utf8()..));
        hash(head.into_iter().chain(tail))
    });
    without.chain([hash([code].into_iter())]).collect()
}

/// FNV-1a, 64 bits. The index is never stored, and every hit is compared in full.
fn hash<'a>(parts: impl Iterator<Item = &'a str>) -> u64 {
    let bytes = parts.flat_map(str::bytes);
    bytes.fold(0xcbf2_9ce4_8422_2325, |h, b| {
        (h ^ u64::from(b)).wrapping_mul(0x0100_0000_01b3)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Found by the target `json-lines` of `tests/tests/fuzz`: 70 kB took more than four minutes.
    #[test]
    fn a_code_of_a_mebibyte_is_near_nothing_at_once() {
        let (long, longer) = ("x".repeat(1 << 20), "x".repeat((1 << 20) + 1));
        let mut index = NearIndex::default();
        index.insert(&long);
        index.insert("LC-LT91Z9J");
        assert!(index.near(&longer).is_empty() && !is_near(&long, &longer));
        assert_eq!(index.near("LC-LT91Z9K"), ["LC-LT91Z9J"]);
    }

    proptest! {
        #[test]
        fn finds_what_comparing_all_finds(codes in proptest::collection::vec("[abé]{0,4}", 0..20), code in "[abé]{0,4}") {
            let mut index = NearIndex::default();
            codes.iter().for_each(|c| index.insert(c));
            let mut slow: Vec<String> = codes.into_iter().filter(|c| is_near(&code, c)).collect();
            slow.sort();
            slow.dedup();
            prop_assert_eq!(index.near(&code), slow);
        }
    }
}
