//! Words of a command line that stand in the place of flags.

use crate::failure::Failure;
use crate::usage;

/// What is given by its place on the command line, or by a flag of its own name: each of `names` takes its flag, or else the
/// next of `words`. Returns what is left of these.
pub(super) fn placed<const N: usize>(
    command: &str,
    words: Vec<String>,
    names: [(&str, Option<String>); N],
) -> Result<([String; N], Vec<String>), Failure> {
    let mut words = words.into_iter();
    let mut missing = None;
    let found = names.map(|(name, flag)| {
        let found = flag.or_else(|| words.next());
        found.unwrap_or_else(|| {
            missing.get_or_insert(name);
            String::new()
        })
    });
    match missing {
        None => Ok((found, words.collect())),
        Some(name) => Err(usage::needs(command, name)),
    }
}

/// As [`placed`], where nothing may be left.
pub(super) fn all_placed<const N: usize>(
    command: &str,
    words: Vec<String>,
    names: [(&str, Option<String>); N],
) -> Result<[String; N], Failure> {
    let (found, left) = placed(command, words, names)?;
    match left.first() {
        None => Ok(found),
        Some(word) => Err(usage::too_many(command, word)),
    }
}
