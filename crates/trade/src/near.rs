//! One-edit near misses between codes: a character wrong, missing, doubled in, or two neighbours swapped.
//!
//! The distance is Damerau-Levenshtein in its true form (`CA` to `ABC` is 2: swap, then insert between). One
//! edit is a question to a person; two edits are noise, and nothing is ever merged because of either.

/// Whether `a` and `b` differ by exactly one edit or by none.
pub fn within_one_edit(a: &str, b: &str) -> bool {
    let (a, b) = differing_middle(a, b);
    let (mut a_rest, mut b_rest) = (a.chars(), b.chars());
    let (first_a, first_b) = (a_rest.next(), b_rest.next());
    match (first_a, first_b) {
        (None, None) => true,
        // What is left of the longer one must be the one character that was put in.
        (None, Some(_)) => b_rest.next().is_none(),
        (Some(_), None) => a_rest.next().is_none(),
        (Some(x), Some(y)) => match (a_rest.next(), b_rest.next()) {
            (None, None) => true,
            (Some(x2), Some(y2)) => x == y2 && y == x2 && a_rest.next().is_none() && b_rest.next().is_none(),
            _ => false,
        },
    }
}

/// What remains of both when the common beginning and the common end are taken off.
fn differing_middle<'s>(a: &'s str, b: &'s str) -> (&'s str, &'s str) {
    let (a, b) = (a.trim(), b.trim());
    let head: usize = a
        .chars()
        .zip(b.chars())
        .take_while(|(x, y)| x == y)
        .map(|(x, _)| x.len_utf8())
        .sum();
    let (a, b) = (a.get(head..).unwrap_or(""), b.get(head..).unwrap_or(""));
    let pairs = a.chars().rev().zip(b.chars().rev());
    let tail: usize = pairs.take_while(|(x, y)| x == y).map(|(x, _)| x.len_utf8()).sum();
    let cut = |s: &'s str| s.get(..s.len() - tail).unwrap_or("");
    (cut(a), cut(b))
}

/// The codes of `known` that are exactly one edit from `code`, in the order given. The code itself is none.
pub fn near_misses<'s>(code: &str, known: impl Iterator<Item = &'s str>) -> Vec<&'s str> {
    let code = code.trim();
    let length = code.chars().count();
    known
        .filter(|other| {
            // The byte length bounds nothing for other alphabets, so characters are counted.
            let other = other.trim();
            other != code && other.chars().count().abs_diff(length) <= 1 && within_one_edit(code, other)
        })
        .collect()
}

#[cfg(test)]
#[path = "near_tests.rs"]
mod tests;
