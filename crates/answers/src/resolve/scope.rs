//! What a question is about, when it is named: a part, a trailer, a yard or a fleet that somebody has recorded. A name that
//! nobody has recorded is an error with near names: a gate must not pass over nothing because of a slip.

use std::collections::BTreeSet;

use gladhand_facts::{Kind, code_key, name_key};
use gladhand_node::{IndexedFacts, Node};
use gladhand_reconcile::names::spelling;
use gladhand_reconcile::{Class, Facts, JobView, Subject};
use gladhand_trade::near_misses;

use crate::error::{AnswerError, ResolveError};

/// How many near names are told.
const NEAR: usize = 3;

/// The key of the camera, tracker or trailer of that code, when somebody has recorded it.
///
/// # Errors
/// When nobody has, or when the store cannot be read.
pub fn code(node: &Node, class: Class, given: &str) -> Result<String, AnswerError> {
    let indexed = IndexedFacts::new(node);
    let asked = Subject::from_text(class, given).filter(|subject| !indexed.about(subject).is_empty());
    if let Some(subject) = asked {
        return Ok(subject.text().into_owned());
    }
    let subjects = indexed.subjects(class).into_iter();
    let known: BTreeSet<String> = subjects.map(|subject| subject.text().into_owned()).collect();
    indexed.failure()?;
    let spelled = |key: &String| Subject::from_text(class, key).map(|subject| spelling(&indexed, &subject));
    match among(class.name(), given, known, code_key) {
        Err(AnswerError::Resolve(ResolveError::NotRecorded { what, given, near })) => {
            let near = near.iter().filter_map(spelled).collect();
            Err(ResolveError::NotRecorded { what, given, near }.into())
        }
        other => other,
    }
}

/// The yard of that name, as a job names it.
///
/// # Errors
/// As [`code`].
pub fn yard(node: &Node, given: &str) -> Result<String, AnswerError> {
    let known = of_jobs(node, "yard")?;
    among("yard", given, known, name_key)
}

/// The fleet of that name, as a job or a list names it.
///
/// # Errors
/// As [`code`].
pub fn fleet(node: &Node, given: &str) -> Result<String, AnswerError> {
    let mut known = of_jobs(node, "fleet")?;
    let key = name_key(given);
    if !known.iter().any(|fleet| name_key(fleet) == key) {
        known.extend(of_lists(node)?);
    }
    among("fleet", given, known, name_key)
}

/// Whether no job is known here.
///
/// # Errors
/// When the store cannot be read.
pub fn is_without_jobs(node: &Node) -> Result<bool, AnswerError> {
    let indexed = IndexedFacts::new(node);
    let none = indexed.subjects(Class::Job).is_empty();
    indexed.failure()?;
    Ok(none)
}

fn of_jobs(node: &Node, field: &str) -> Result<BTreeSet<String>, AnswerError> {
    let indexed = IndexedFacts::new(node);
    let jobs = indexed.subjects(Class::Job);
    let views = jobs.iter().map(|job| JobView::load(&indexed, &job.text()));
    let known = views.flat_map(|job| job.values(field)).collect();
    indexed.failure()?;
    Ok(known)
}

fn of_lists(node: &Node) -> Result<BTreeSet<String>, AnswerError> {
    let indexed = IndexedFacts::new(node);
    let parts: Vec<Subject> = [Class::Camera, Class::Tracker, Class::Trailer]
        .into_iter()
        .flat_map(|class| indexed.subjects(class))
        .collect();
    let about = parts.iter().flat_map(|part| indexed.about(part));
    let known = about
        .filter(|w| w.is(&Kind::Stock))
        .filter_map(|w| w.owned("fleet"))
        .collect();
    indexed.failure()?;
    Ok(known)
}

fn among(
    what: &'static str,
    given: &str,
    known: BTreeSet<String>,
    key_of: fn(&str) -> String,
) -> Result<String, AnswerError> {
    let key = key_of(given);
    if let Some(name) = known.iter().find(|name| key_of(name) == key) {
        return Ok(name.clone());
    }
    let keys: Vec<(String, &String)> = known.iter().map(|name| (code_key(name), name)).collect();
    let code = code_key(given);
    let misses: BTreeSet<&str> = near_misses(&code, keys.iter().map(|(key, _)| key.as_str()))
        .into_iter()
        .collect();
    let holds = |known: &str| code.chars().count() > 2 && known.contains(&code);
    let near = keys
        .iter()
        .filter(|(key, _)| misses.contains(key.as_str()) || holds(key));
    Err(ResolveError::NotRecorded {
        what,
        given: given.to_owned(),
        near: near.map(|(_, name)| (*name).clone()).take(NEAR).collect(),
    }
    .into())
}
