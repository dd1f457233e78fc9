//! Codes that differ by one edit: a character wrong, missing or added, or two neighbours swapped.
//!
//! The distance is the unrestricted Damerau-Levenshtein distance (`CA` to `ABC` is 2: swap, then insert between). One
//! edit is a question to a person; two edits are noise. Codes are never merged because they are near.

use std::str::Chars;

/// Whether `a` and `b` differ by at most one edit.
pub fn within_one_edit(a: &str, b: &str) -> bool {
    let (a, b) = differing_middle(a, b);
    let (mut a_rest, mut b_rest) = (a.chars(), b.chars());
    let (first_a, first_b) = (a_rest.next(), b_rest.next());
    match (first_a, first_b) {
        (None, None) => true,
        // What is left of the longer one must be the one character that was added.
        (None, Some(_)) => b_rest.next().is_none(),
        (Some(_), None) => a_rest.next().is_none(),
        (Some(x), Some(y)) => match (a_rest.next(), b_rest.next()) {
            (None, None) => true,
            (Some(x2), Some(y2)) => x == y2 && y == x2 && a_rest.next().is_none() && b_rest.next().is_none(),
            _ => false,
        },
    }
}

/// What remains of both without their common beginning and their common end.
fn differing_middle<'s>(a: &'s str, b: &'s str) -> (&'s str, &'s str) {
    let (mut a, mut b) = (a.trim().chars(), b.trim().chars());
    while let Some((rest_a, rest_b)) = without_common(&a, &b, Iterator::next) {
        (a, b) = (rest_a, rest_b);
    }
    while let Some((rest_a, rest_b)) = without_common(&a, &b, DoubleEndedIterator::next_back) {
        (a, b) = (rest_a, rest_b);
    }
    (a.as_str(), b.as_str())
}

/// Both without the next character, if they have one and it is the same in both.
fn without_common<'s>(
    a: &Chars<'s>,
    b: &Chars<'s>,
    next: impl Fn(&mut Chars<'s>) -> Option<char>,
) -> Option<(Chars<'s>, Chars<'s>)> {
    let (mut a, mut b) = (a.clone(), b.clone());
    (next(&mut a)? == next(&mut b)?).then_some((a, b))
}

/// The codes of `known` that are exactly one edit from `code`, in the order given.
pub fn near_misses<'s>(code: &str, known: impl Iterator<Item = &'s str>) -> Vec<&'s str> {
    let code = code.trim();
    let length = code.chars().count();
    known
        .filter(|other| {
            // Characters are counted, not bytes: outside ASCII one edit may change the length by several bytes.
            let other = other.trim();
            other != code && other.chars().count().abs_diff(length) <= 1 && within_one_edit(code, other)
        })
        .collect()
}

#[cfg(test)]
#[path = "near_tests.rs"]
mod tests;
