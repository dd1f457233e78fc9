//! `check`: one or several checks of a job, read from the words of a command line.
//!
//! After the job come names and values in turn: `hole-diameter 1 3/4 in tape-pieces 4`. A name may be shortened, as a whole or in
//! each of its parts (`r-c` for `rivet-count`), as long as only one check of the work standard can be meant. Where it is not clear what a word is, nothing is recorded: no check lands in
//! a job by accident.

use std::path::Path;

use gladhand_answers::error::ResolveError;
use gladhand_answers::resolve;
use gladhand_facts::Measure;
use gladhand_node::Node;
use gladhand_trade::{Standard, near_misses};

use super::draft::{FactDraft, record_all};
use super::placed::placed;
use crate::cli::CheckArgs;
use crate::commands::Context;
use crate::failure::{Exit, Failure, Outcome};
use crate::usage;

/// What a value is that is no measure, in full.
const ANSWERS: [&str; 7] = ["yes", "no", "ok", "not-ok", "free", "cannot-be-seen", "none"];
/// How many letters a shortened name has at least.
const LEAST: usize = 2;

/// A check as it was given.
#[derive(Debug, PartialEq, Eq)]
struct Given {
    check: String,
    value: String,
}

/// `check`
pub fn check(context: &Context, mut args: CheckArgs) -> Outcome {
    let is_flagged = args.check.is_some() || args.value.is_some();
    let ([job], words) = placed("check", std::mem::take(&mut args.words), [("job", args.job.take())])?;
    if words.is_empty() && args.check.is_none() {
        return Err(usage::needs("check", "check"));
    }
    let mut node = context.open()?;
    let job = resolve::handle(&node, &job)?;
    let standard = node.standard();
    let given = if is_flagged {
        vec![by_flags(&standard, &mut args, words)?]
    } else {
        split(&standard, words)?
    };
    if let [_, _, ..] = given.as_slice() {
        check_several(&args, &given)?;
    }
    let of = args.of.as_deref().map(|of| approved(&node, of)).transpose()?;
    let is_one = given.len() == 1;
    let mut drafts = Vec::new();
    for one in given {
        let mut draft = FactDraft::new("check", args.common.clone());
        draft.put_job(job.clone());
        draft.put("check", Some(one.check));
        let (value, ok) = meaning(&one.value);
        draft.put("unit", args.unit.clone());
        draft.put("of", of.clone());
        if is_one || value.is_none() {
            draft.put_ok(args.ok, args.not_ok);
        }
        draft.put_ok(ok, false);
        draft.put("value", value);
        draft.put_answers(&args.answers)?;
        drafts.push(draft);
    }
    record_all(context, &mut node, drafts, Path::new("."))?;
    node.close()?;
    Ok(Exit::Done)
}

/// What an approval is about, with the whole id of a fact.
fn approved(node: &Node, of: &str) -> Result<String, Failure> {
    match of.trim() {
        word @ ("place" | "reading") => Ok(word.to_owned()),
        id => Ok(resolve::fact(node, id)?.to_string()),
    }
}

/// `ok` and `not-ok` as a value say whether the check is as it should be.
fn meaning(value: &str) -> (Option<String>, Option<bool>) {
    match value.trim() {
        "" => (None, None),
        "ok" => (None, Some(true)),
        "not-ok" | "not ok" => (None, Some(false)),
        value => (Some(value.to_owned()), None),
    }
}

fn by_flags(standard: &Standard, args: &mut CheckArgs, words: Vec<String>) -> Result<Given, Failure> {
    let ([check], seen) = placed("check", words, [("check", args.check.take())])?;
    let value: Vec<String> = args.value.take().into_iter().chain(seen).collect();
    Ok(Given {
        check: named(standard, &check)?.unwrap_or(check),
        value: value.join(" "),
    })
}

/// What belongs to one check alone cannot stand beside several, and each must say something.
fn check_several(args: &CheckArgs, given: &[Given]) -> Result<(), Failure> {
    let alone = [
        ("--unit", args.unit.is_some()),
        ("--answer", !args.answers.is_empty()),
        ("--of", args.of.is_some()),
    ];
    if let Some((flag, _)) = alone.iter().find(|(_, is_given)| *is_given) {
        return Err(
            Failure::bad_input(format!("{flag} is for one check, and {} are given", given.len()))
                .hint("Nothing was recorded. Record that check with a command of its own."),
        );
    }
    let says_ok = args.ok.is_some() || args.not_ok;
    match given.iter().find(|one| one.value.is_empty() && !says_ok) {
        Some(silent) => Err(Failure::bad_input(format!("{} has no value", silent.check)).hint(
            "Nothing was recorded. After each name stands its value, such as ok; or --ok for all that have none.",
        )),
        None => Ok(()),
    }
}

/// What the words after the job say.
fn split(standard: &Standard, words: Vec<String>) -> Result<Vec<Given>, Failure> {
    let mut words = words.into_iter();
    let first = words.next().ok_or_else(|| usage::needs("check", "check"))?;
    let mut found = Vec::new();
    let mut check = named(standard, &first)?.unwrap_or(first);
    let mut value = String::new();
    for word in words {
        match begins_check(standard, &word, &value)? {
            Some(next) => {
                let check = std::mem::replace(&mut check, next);
                let value = std::mem::take(&mut value);
                found.push(Given { check, value });
            }
            None if is_complete(&value) && !is_value(&word) => return Err(unclear(standard, &check, &value, &word)),
            None if value.is_empty() => value = word,
            None => value = format!("{value} {word}"),
        }
    }
    found.push(Given { check, value });
    Ok(found)
}

/// The check that a word names, which stands after what has been said of another one.
fn begins_check(standard: &Standard, word: &str, value: &str) -> Result<Option<String>, Failure> {
    if standard.check(word).is_some() {
        return Ok(Some(word.to_owned()));
    }
    // In a text of several words any of them may look like the beginning of a name.
    let is_text = !value.is_empty() && !is_complete(value);
    if is_value(word) || is_text {
        return Ok(None);
    }
    named(standard, word)
}

/// The check of that name, or the only one that begins like that.
fn named(standard: &Standard, given: &str) -> Result<Option<String>, Failure> {
    let lower = given.trim().to_lowercase();
    if standard.check(&lower).is_some() {
        return Ok(Some(lower));
    }
    let mut names: Vec<String> = standard.checks().iter().map(|c| c.name().to_owned()).collect();
    names.dedup();
    names.retain(|name| lower.len() >= LEAST && is_shortened(name, &lower));
    match names.as_slice() {
        [] => Ok(None),
        [one] => Ok(Some(one.clone())),
        _ => Err(ResolveError::Ambiguous {
            what: "check",
            given: given.to_owned(),
            found: names,
        }
        .into()),
    }
}

/// Whether `given` is the beginning of `name`, or of each of its parts in turn: `r-c` for `rivet-count`.
fn is_shortened(name: &str, given: &str) -> bool {
    let mut parts = name.split('-');
    given
        .split('-')
        .all(|short| parts.next().is_some_and(|part| part.starts_with(short)))
}

/// Whether a word is part of a value and no name: a number, a unit, an answer, or several words in quotes.
fn is_value(word: &str) -> bool {
    let is_number = word.starts_with(|c: char| c.is_numeric() || matches!(c, '-' | '+' | '.' | '±'));
    let is_unit = || Measure::parse(&format!("1 {word}")).is_ok();
    word.contains(char::is_whitespace) || is_number || ANSWERS.contains(&word) || is_unit()
}

fn is_complete(value: &str) -> bool {
    ANSWERS.contains(&value) || Measure::parse(value).is_ok()
}

fn unclear(standard: &Standard, check: &str, value: &str, word: &str) -> Failure {
    let near = near_misses(word, standard.checks().iter().map(|c| c.name()));
    let near = near
        .first()
        .map_or(String::new(), |name| format!("Did you mean {name}? "));
    Failure::bad_input(format!("`{word}` is neither a check nor part of the value {value} of {check}")).hint(format!(
        "{near}Nothing was recorded. A value of several words stands in quotes; `gladhand standard show` names the checks."
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(words: &str) -> Result<Vec<(String, String)>, String> {
        let standard = Standard::built_in();
        let words = words.split(' ').map(str::to_owned).collect();
        split(&standard, words)
            .map(|found| found.into_iter().map(|g| (g.check, g.value)).collect())
            .map_err(|failure| failure.to_string())
    }

    #[track_caller]
    fn is(words: &str, expected: &[(&str, &str)]) {
        let expected = expected
            .iter()
            .map(|(c, v)| ((*c).to_owned(), (*v).to_owned()))
            .collect();
        assert_eq!(read(words), Ok(expected), "{words}");
    }

    #[test]
    fn names_and_values_are_told_apart() {
        is("hole-diameter 1 3/4 in", &[("hole-diameter", "1 3/4 in")]);
        is(
            "hole-d 1 3/4 in tape 4 rivet-c 8",
            &[
                ("hole-diameter", "1 3/4 in"),
                ("tape-pieces", "4"),
                ("rivet-count", "8"),
            ],
        );
        // `in` is a unit and `free` an answer, although checks begin like that.
        is(
            "first-p 3/8 in freight no",
            &[("first-probe", "3/8 in"), ("freight-at-opening", "no")],
        );
        is(
            "first-probe free saw ok",
            &[("first-probe", "free"), ("saw-limited", "ok")],
        );
        is(
            "tracker kit clear",
            &[
                ("tracker-reporting", ""),
                ("kit-complete", ""),
                ("clear-of-markings", ""),
            ],
        );
        is("p-t 1 in r-c 8", &[("placement-top", "1 in"), ("rivet-count", "8")]);
        is("LENS-UNTOUCHED ok", &[("lens-untouched", "ok")]);
    }

    #[test]
    fn a_text_stays_a_text() {
        let said = "close to the hinge camera is fine";
        is(
            &format!("lock-rods-would-strike {said}"),
            &[("lock-rods-would-strike", said)],
        );
        is("weather cold and wet", &[("weather", "cold and wet")]);
    }

    #[test]
    fn what_could_be_several_or_nothing_is_refused() {
        let refused = read("placement 1 in").unwrap_err();
        assert!(refused.contains("placement-top or placement-rear"), "{refused}");
        let refused = read("hole-diameter 1 3/4 in tape-peices 4").unwrap_err();
        assert!(refused.contains("Did you mean tape-pieces?"), "{refused}");
        assert!(read("tape 4 p ok").unwrap_err().contains("is neither a check nor"));
    }
}
