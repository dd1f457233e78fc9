//! What became of the value that a job fact gave to a field: whether it still holds, and who set another value before or after
//! having seen it.
//!
//! The values are those of [`crate::register`]: a field holds what no later setter has followed.

use std::collections::BTreeMap;
use std::sync::Arc;

use gladhand_facts::{FactId, Kind};
use serde::{Deserialize, Serialize};

use crate::facts::Facts;
use crate::names::Names;
use crate::recorded_fact::{RecordedFact, earliest};
use crate::register::{self, field_value};
use crate::subject::Subject;

/// Whether a value still holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum EditStanding {
    /// It is the value of the field now.
    Holds,
    /// It holds, and so does another one; neither writer had seen the other's.
    Disputed,
    /// Somebody who had seen it set the field again.
    Replaced,
}

/// Another value of the same field.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Other {
    /// The fact that set it.
    pub id: FactId,
    /// The value.
    pub value: String,
    /// Who wrote it.
    pub by: Option<String>,
    /// On which device.
    pub device: String,
}

/// What a fact did to a field.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Edit {
    /// The value that it set.
    pub value: String,
    /// Whether it still holds.
    pub standing: EditStanding,
    /// Different values set concurrently.
    pub against: Vec<Other>,
    /// The next values set by people who had seen this one.
    pub followed_by: Vec<Other>,
}

type Setters = BTreeMap<String, Vec<Arc<RecordedFact>>>;

/// The edits of the jobs that were asked for; each job is read once.
#[derive(Debug, Default)]
pub struct Edits {
    jobs: BTreeMap<String, Setters>,
}

impl Edits {
    /// What `recorded` did to the fields of its job.
    pub fn of(&mut self, facts: &dyn Facts, names: &dyn Names, recorded: &RecordedFact) -> BTreeMap<String, Edit> {
        let Some(job) = recorded.owned("job").filter(|_| recorded.is(&Kind::Job)) else {
            return BTreeMap::new();
        };
        let read = || register::setters(&facts.about(&Subject::job(&job)));
        let setters = self.jobs.entry(job.clone()).or_insert_with(read);
        let wrote = |set: &&Vec<Arc<RecordedFact>>| set.iter().any(|w| w.place == recorded.place);
        let mine = setters.iter().filter(|(_, set)| wrote(set));
        mine.filter_map(|(field, set)| Some((field.clone(), edit(names, field, set, recorded)?)))
            .collect()
    }
}

fn edit(names: &dyn Names, field: &str, set: &[Arc<RecordedFact>], recorded: &RecordedFact) -> Option<Edit> {
    let value = field_value(&recorded.fact, field)?;
    let other = |w: &Arc<RecordedFact>| {
        Some(Other {
            id: w.fact.id(),
            value: field_value(&w.fact, field)?.shown,
            by: w.owned("by"),
            device: names.device_name(&w.place.log.device),
        })
    };
    let differs = |w: &RecordedFact| field_value(&w.fact, field).is_some_and(|v| v.key != value.key);
    let later: Vec<_> = set.iter().filter(|w| recorded.happens_before(w)).cloned().collect();
    let followed = |w: &RecordedFact| set.iter().any(|l| w.happens_before(l));
    let against: Vec<_> = set.iter().filter(|w| w.concurrent(recorded) && differs(w)).collect();
    let standing = match () {
        () if !later.is_empty() => EditStanding::Replaced,
        () if against.iter().any(|w| !followed(w)) => EditStanding::Disputed,
        () => EditStanding::Holds,
    };
    Some(Edit {
        value: value.shown.clone(),
        standing,
        against: against.into_iter().filter_map(other).collect(),
        followed_by: earliest(&later).iter().filter_map(other).collect(),
    })
}
